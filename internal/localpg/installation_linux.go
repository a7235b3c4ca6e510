package localpg

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"runtime"
	"syscall"
)

// installation is PostgreSQL as this process can run it.
type installation struct {
	programs
	as  account
	log io.Writer // what the programs print; nil drops it
}

// locate finds the account and the programs for a cluster of a major version, 0 for one
// that is yet to be made.
func locate(ctx context.Context, home home, o Options, major int) (installation, error) {
	as, err := serverAccount(home.data())
	if err != nil {
		return installation{}, err
	}
	progs, err := findPrograms(ctx, as, o.search, major)
	if err != nil {
		return installation{}, err
	}
	return installation{programs: progs, as: as, log: o.Log}, nil
}

// command prepares one of the programs to run as the server's account.
func (pg installation) command(ctx context.Context, name string, args ...string) *exec.Cmd {
	return pg.as.command(ctx, pg.path(name), args...)
}

// run waits for a program, which dies with this process: that signal is bound to the
// thread that starts it, so the thread is held until the program has ended.
func (pg installation) run(cmd *exec.Cmd) error {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()

	var said bytes.Buffer
	out := io.Writer(&said)
	if pg.log != nil {
		out = io.MultiWriter(&said, pg.log)
	}
	cmd.Stdout, cmd.Stderr = out, out
	cmd.SysProcAttr.Pdeathsig = syscall.SIGKILL
	if err := cmd.Run(); err != nil {
		return fmt.Errorf("%s: %w\n%s", filepath.Base(cmd.Path), err, bytes.TrimSpace(said.Bytes()))
	}
	return nil
}

// canEnter tells whether the server's account may make a folder its working folder. The
// kernel answers, by trying: access lists and security modules count, not mode bits alone.
func (pg installation) canEnter(ctx context.Context, dir string) bool {
	cmd := pg.command(ctx, "postgres", "--version")
	cmd.Dir = dir
	return cmd.Run() == nil
}
