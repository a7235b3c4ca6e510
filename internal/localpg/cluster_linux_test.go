package localpg

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

func TestFirstStartMakesACluster(t *testing.T) {
	t.Parallel()
	var log bytes.Buffer
	dir := stateFolder(t)
	c, err := Start(t.Context(), Options{Dir: dir, Log: &log})
	must(t, err)

	url, admin := c.URL(Database), c.AdminURL(Database)
	wantQuery(t, url, "SELECT current_user, rolsuper, rolbypassrls, rolcreatedb, rolcreaterole FROM pg_roles WHERE rolname = current_user", "tiedown|f|f|f|f")
	wantQuery(t, url, "SELECT current_database(), pg_get_userbyid(datdba), datcollate, datctype FROM pg_database WHERE datname = current_database()", "tiedown|tiedown|C|C.UTF-8")
	wantQuery(t, admin, "SELECT current_user, rolsuper FROM pg_roles WHERE rolname = current_user", "postgres|t")
	wantQuery(t, url, "SELECT upper('é')", "É")
	for setting, want := range map[string]string{
		"fsync":              "on",
		"synchronous_commit": "on",
		"data_checksums":     "on",
		"listen_addresses":   "",
		"server_encoding":    "UTF8",
		"timezone":           "UTC",
		"shared_buffers":     "128MB",
	} {
		wantQuery(t, url, "SHOW "+setting, want)
	}

	must(t, c.Stop(t.Context()))
	if !strings.Contains(log.String(), "database system is ready to accept connections") {
		t.Errorf("the log does not show the start:\n%s", &log)
	}
}

func TestSecondStartReusesTheCluster(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	first := startIn(t, dir)
	query(t, first.URL(Database), "CREATE TABLE kept AS SELECT 7 AS n")
	must(t, first.Stop(t.Context()))

	second := startIn(t, dir)
	wantQuery(t, second.URL(Database), "SELECT n FROM kept", "7")
}

func TestSurvivesAKilledServer(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	first := startIn(t, dir)
	query(t, first.URL(Database), "CREATE TABLE kept AS SELECT 7 AS n")
	must(t, syscall.Kill(postmasterOf(t, dir), syscall.SIGKILL))

	<-first.Done()
	if err := first.Stop(t.Context()); err == nil || !strings.Contains(err.Error(), "had already ended: signal: killed") {
		t.Errorf("Stop after the server was killed: %v", err)
	}
	second := startIn(t, dir)
	wantQuery(t, second.URL(Database), "SELECT n FROM kept", "7")
}

func TestSurvivesAKilledOwner(t *testing.T) {
	t.Parallel()
	for name, serverToo := range map[string]bool{"owner": false, "owner and server": true} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := seededFolder(t)
			owner := startHolder(t, dir)
			query(t, owner.url, "CREATE TABLE kept AS SELECT 7 AS n")
			server := postmasterOf(t, dir)
			owner.kill(t)
			if serverToo {
				_ = syscall.Kill(server, syscall.SIGKILL)
			}

			c := startIn(t, dir)
			wantQuery(t, c.URL(Database), "SELECT n FROM kept", "7")
			if now := postmasterOf(t, dir); now == server {
				t.Errorf("the server %d of the killed process was taken over", now)
			}
		})
	}
}

func TestKilledOwnerTakesTheServerDown(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	owner := startHolder(t, dir)
	owner.kill(t)
	left, err := awaitGone(t.Context(), dataOf(dir), orderlyGrace)
	must(t, err)
	if len(left) > 0 {
		t.Errorf("still running after its owner was killed: %v", left.pids())
	}
}

func TestTwoClustersSideBySide(t *testing.T) {
	t.Parallel()
	one, other := startIn(t, seededFolder(t)), startIn(t, seededFolder(t))
	query(t, one.URL(Database), "CREATE TABLE mine AS SELECT 1 AS n")
	wantQuery(t, one.URL(Database), "SELECT to_regclass('mine') IS NULL", "f")
	wantQuery(t, other.URL(Database), "SELECT to_regclass('mine') IS NULL", "t")
}

func TestFolderInUseIsRefused(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	owner := startHolder(t, dir)

	_, err := Start(t.Context(), Options{Dir: dir})
	if err == nil {
		t.Fatal("two processes share one state folder")
	}
	for _, want := range []string{dir, fmt.Sprintf("process %d", owner.cmd.Process.Pid)} {
		if !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("want one line naming %s, got: %v", want, err)
		}
	}
	wantQuery(t, owner.url, "SELECT 1", "1") // the holder was not disturbed

	must(t, owner.stdin.Close())
	must(t, owner.cmd.Wait())
	startIn(t, dir)
}

func TestOneFolderUnderTwoNamesIsOneFolder(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	startIn(t, dir)
	link := filepath.Join(stateFolder(t), "link")
	must(t, os.Symlink(dir, link))
	if _, err := Start(t.Context(), Options{Dir: link}); err == nil || !strings.Contains(err.Error(), "in use") {
		t.Errorf("got %v, want a refusal", err)
	}
}

func TestInterruptDoesNotReachTheServer(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	startIn(t, dir)
	group, err := syscall.Getpgid(postmasterOf(t, dir))
	must(t, err)
	if group == syscall.Getpgrp() {
		t.Error("the server is in this process's group: Ctrl-C would reach it")
	}
}

func TestStop(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	c := startIn(t, dir)
	query(t, c.URL(Database), "CREATE TABLE kept AS SELECT 7 AS n")

	ended, cancel := context.WithCancel(t.Context())
	cancel()
	err := c.Stop(ended)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("Stop with an ended context: %v", err)
	}
	<-c.Done()
	if again := c.Stop(t.Context()); !errors.Is(again, err) {
		t.Errorf("second Stop: %v, want what the first returned", again)
	}

	next := startIn(t, dir)
	wantQuery(t, next.URL(Database), "SELECT n FROM kept", "7")
}

func TestStartGivesUpWithItsContext(t *testing.T) {
	t.Parallel()
	for name, folder := range map[string]func(*testing.T) string{"new": stateFolder, "existing": seededFolder} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := folder(t)
			ended, cancel := context.WithCancel(t.Context())
			cancel()
			if _, err := Start(ended, Options{Dir: dir}); !errors.Is(err, context.Canceled) {
				t.Errorf("got %v, want context.Canceled", err)
			}
			startIn(t, dir) // nothing was left behind: no lock, no server
		})
	}
}

// A server that never becomes ready, here a stand-in that prints its process id and
// sleeps, is ended when the start gives up on it.
func TestStartLeavesNoServerBehind(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	pg := installed(t, dir)
	never := programFolder(t, map[string]string{
		"postgres": `[ "$1" = --version ] && exec ` + pg.path("postgres") + ` "$@"; echo $$; exec sleep 1h`,
		"initdb":   `exec ` + pg.path("initdb") + ` "$@"`,
	})
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var said bytes.Buffer
	_, err := Start(ctx, Options{Dir: dir, search: []string{never}, Log: writerFunc(func(p []byte) {
		said.Write(p)
		cancel()
	})})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want context.Canceled", err)
	}
	pid, err := strconv.Atoi(strings.TrimSpace(said.String()))
	must(t, err)
	if err := syscall.Kill(pid, 0); !errors.Is(err, syscall.ESRCH) {
		t.Errorf("process %d was left running: %v", pid, err)
	}
}

type writerFunc func([]byte)

func (f writerFunc) Write(p []byte) (int, error) {
	f(p)
	return len(p), nil
}

func TestServerThatCannotStartSaysWhy(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	must(t, os.MkdirAll(filepath.Join(dir, "postgres", "conf"), 0o755))
	must(t, os.WriteFile(filepath.Join(dir, "postgres", "conf", "local.conf"), []byte("shared_buffers = 'plenty'\n"), 0o644))
	_, err := Start(t.Context(), Options{Dir: dir})
	if err == nil || !strings.Contains(err.Error(), `invalid value for parameter "shared_buffers"`) {
		t.Errorf("got %v, want the server's own words", err)
	}
}

func TestOperatorsSettings(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	must(t, os.WriteFile(filepath.Join(dir, "postgres", "conf", "local.conf"), []byte("work_mem = 3MB\nlisten_addresses = '*'\n"), 0o644))
	c := startIn(t, dir)
	wantQuery(t, c.URL(Database), "SHOW work_mem", "3MB")
	wantQuery(t, c.URL(Database), "SHOW listen_addresses", "") // not the operator's to open
}

// The account that runs the server is let in by nobody's word but the kernel's: another
// account of the machine, here the server's own, is refused.
func TestOnlyThisAccountGetsIn(t *testing.T) {
	t.Parallel()
	dir := seededFolder(t)
	c := startIn(t, dir)
	wantQuery(t, c.AdminURL("postgres"), "SELECT count(*) FROM pg_hba_file_rules", "1")
	wantQuery(t, c.AdminURL("postgres"), "SELECT type || ' ' || auth_method || ' ' || options[1] FROM pg_hba_file_rules", "local peer map=tiedown")

	pg := installed(t, dir)
	client, err := exec.LookPath("psql")
	must(t, err)
	out, err := pg.as.command(t.Context(), client, "-c", "SELECT 1", c.AdminURL(Database)).CombinedOutput()
	if pg.as.drop && (err == nil || !bytes.Contains(out, []byte("Peer authentication failed"))) {
		t.Errorf("the account %s got in: %v: %s", pg.as.name(), err, out)
	}
	if !pg.as.drop && err != nil {
		t.Errorf("this process's account did not get in: %s", out)
	}
}
