package localpg

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A server that outlived its owner is shut down and replaced.
func TestOrphanedServerIsRetired(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	pg := installed(t, dir)
	h := home(filepath.Join(dir, "postgres"))
	must(t, h.admit(t.Context(), pg))
	must(t, h.configure())
	socket, err := h.makeSocketFolder(t.Context(), pg)
	must(t, err)
	orphan, err := launch(pg, h.serverArgs(socket))
	must(t, err)
	t.Cleanup(orphan.halt)
	must(t, orphan.awaitReady(t.Context(), h.data()))

	var log bytes.Buffer
	c, err := Start(t.Context(), Options{Dir: dir, Log: &log})
	must(t, err)
	<-orphan.done
	wantQuery(t, c.URL(Database), "SELECT 1", "1")
	must(t, c.Stop(t.Context()))
	if !strings.Contains(log.String(), "database system was shut down at") {
		t.Errorf("the orphan was not shut down in order:\n%s", &log)
	}
}

// The number in a stale postmaster.pid has gone to another process, even one of the
// server's own account: it is left alone, and the server starts.
func TestStalePidOfAnotherProcess(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	pg := installed(t, dir)
	stranger := pg.as.command(t.Context(), "sleep", "1h")
	must(t, stranger.Start())
	t.Cleanup(func() { _ = stranger.Process.Kill() })
	writePidFile(t, pg.as, dir, fmt.Sprintf("%d\n%s\n0\n5432\n\n\n\nready   \n", stranger.Process.Pid, dataOf(dir)))

	c := startIn(t, dir)
	wantQuery(t, c.URL(Database), "SELECT 1", "1")
	// Whatever it was sent before, it got first.
	must(t, stranger.Process.Signal(syscall.SIGKILL))
	_ = stranger.Wait()
	if sig := stranger.ProcessState.Sys().(syscall.WaitStatus).Signal(); sig != syscall.SIGKILL {
		t.Errorf("the other process was ended by %v", sig)
	}
}

// A power cut can leave postmaster.pid empty, over which the server itself gives up.
func TestEmptyPidFile(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	pg := installed(t, dir)
	writePidFile(t, pg.as, dir, "")
	c := startIn(t, dir)
	wantQuery(t, c.URL(Database), "SELECT 1", "1")
}

func writePidFile(t *testing.T, acct account, dir, content string) {
	t.Helper()
	path := pidFile(dataOf(dir))
	must(t, os.WriteFile(path, []byte(content), 0o600))
	must(t, acct.give(path))
}

func TestReadPostmaster(t *testing.T) {
	t.Parallel()
	const six = "\n/data\n0\n5432\n/socket\n\n 1 2\n"
	for _, c := range []struct {
		name, content string
		want          postmaster
	}{
		{name: "empty", content: ""},
		{name: "number not yet written", content: "\n"},
		{name: "half written", content: "41\n/data\n", want: postmaster{pid: 41}},
		{name: "starting", content: "41" + six + "starting\n", want: postmaster{pid: 41}},
		{name: "ready", content: "41" + six + "ready   \n", want: postmaster{pid: 41, ready: true}},
		{name: "stopping", content: "41" + six + "stopping\n", want: postmaster{pid: 41}},
	} {
		dir := stateFolder(t)
		must(t, os.WriteFile(pidFile(dir), []byte(c.content), 0o600))
		got, err := readPostmaster(dir)
		if err != nil || got != c.want {
			t.Errorf("%s: got %+v, %v, want %+v", c.name, got, err, c.want)
		}
	}
	if got, err := readPostmaster(stateFolder(t)); err != nil || got != (postmaster{}) {
		t.Errorf("no file: got %+v, %v", got, err)
	}
}
