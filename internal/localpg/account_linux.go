package localpg

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"os/user"
	"strconv"
	"syscall"
)

// account is the operating system account that the server runs as. PostgreSQL refuses
// to run as root, so a root process gives its server another one.
type account struct {
	uid, gid uint32
	drop     bool // this process is root and becomes the account
}

// serverAccount chooses the account: this process's own; for root, the owner of the
// cluster that is there, else postgres, else nobody. The account nobody is a poor
// second, since whatever else runs as nobody could reach the cluster's files.
func serverAccount(data string) (account, error) {
	if os.Geteuid() != 0 {
		return account{uid: uint32(os.Geteuid()), gid: uint32(os.Getegid())}, nil
	}
	info, err := os.Stat(data)
	if err == nil {
		return ownerOf(data, info)
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return account{}, fmt.Errorf("look for a cluster: %w", err)
	}
	for _, name := range []string{"postgres", "nobody"} {
		if u, err := user.Lookup(name); err == nil {
			return parseAccount(u)
		}
	}
	return account{}, errors.New("PostgreSQL refuses to run as root, and there is no account named postgres or nobody to run it as")
}

func ownerOf(data string, info fs.FileInfo) (account, error) {
	stat := info.Sys().(*syscall.Stat_t)
	if stat.Uid == 0 {
		return account{}, fmt.Errorf("%s belongs to root, as which PostgreSQL refuses to run: give it to the account postgres with: chown -R postgres: %s", data, data)
	}
	return account{uid: stat.Uid, gid: stat.Gid, drop: true}, nil
}

func parseAccount(u *user.User) (account, error) {
	uid, err := strconv.ParseUint(u.Uid, 10, 32)
	if err != nil {
		return account{}, fmt.Errorf("account %s: %w", u.Username, err)
	}
	gid, err := strconv.ParseUint(u.Gid, 10, 32)
	if err != nil {
		return account{}, fmt.Errorf("account %s: %w", u.Username, err)
	}
	return account{uid: uint32(uid), gid: uint32(gid), drop: true}, nil
}

// name is the account's name, or its number when it has none.
func (a account) name() string {
	id := strconv.FormatUint(uint64(a.uid), 10)
	if u, err := user.LookupId(id); err == nil {
		return u.Username
	}
	return id
}

// give hands a file or folder to the account.
func (a account) give(path string) error {
	if !a.drop {
		return nil
	}
	if err := os.Lchown(path, int(a.uid), int(a.gid)); err != nil {
		return fmt.Errorf("give %s to %s: %w", path, a.name(), err)
	}
	return nil
}

// command prepares a PostgreSQL program to run as the account. The environment is bare
// so that nobody's PGDATA, PGPORT or LANG has a say. The process group is the program's
// own, so that Ctrl-C at the terminal reaches this process alone, which then ends the
// program in order.
func (a account) command(ctx context.Context, program string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Dir = "/"
	cmd.WaitDelay = quitGrace // a stray child must not hold up the end of its parent
	cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "LC_ALL=C", "TZ=UTC"}
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if a.drop {
		cmd.SysProcAttr.Credential = &syscall.Credential{Uid: a.uid, Gid: a.gid}
	}
	return cmd
}
