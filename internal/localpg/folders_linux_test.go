package localpg

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

func TestAwkwardFolders(t *testing.T) {
	t.Parallel()
	for name, below := range map[string]string{
		"longer than a socket path":            strings.Repeat("long/", 30),
		"characters of URLs, lists and shells": "a b,c%d'e\"f?g=h&i$(j)é",
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join(stateFolder(t), below)
			openTop(t, dir)
			plantSeed(t, dir)
			first := startIn(t, dir)
			if len(first.socket) > 60 || !plainPath.MatchString(first.socket) {
				t.Errorf("socket folder %s", first.socket)
			}
			query(t, first.URL(Database), "CREATE TABLE kept AS SELECT 7 AS n")
			must(t, first.Stop(t.Context()))
			if _, err := os.Stat(first.socket); !os.IsNotExist(err) {
				t.Errorf("the socket folder %s was left behind: %v", first.socket, err)
			}

			second := startIn(t, dir)
			if second.socket != first.socket {
				t.Errorf("the socket folder moved from %s to %s", first.socket, second.socket)
			}
			wantQuery(t, second.URL(Database), "SELECT n FROM kept", "7")
		})
	}
}

// openTop makes the folders above a state folder passable, as those of a system are; only
// the topmost, made for the test, is private.
func openTop(t *testing.T, dir string) {
	t.Helper()
	must(t, os.MkdirAll(dir, 0o755))
	for d := dir; d != os.TempDir() && d != "/"; d = filepath.Dir(d) {
		must(t, os.Chmod(d, 0o755))
	}
}

// A socket folder that a kill left behind, or that somebody laid a link in place of, is
// replaced, and what the link points to is left alone.
func TestLeftSocketFolderIsReplaced(t *testing.T) {
	t.Parallel()
	elsewhere := stateFolder(t)
	precious := filepath.Join(elsewhere, "precious")
	must(t, os.WriteFile(precious, nil, 0o600))

	dir := seededFolder(t)
	must(t, os.Symlink(elsewhere, filepath.Join(dir, "postgres", "socket")))
	c := startIn(t, dir)
	wantQuery(t, c.URL(Database), "SELECT 1", "1")
	if _, err := os.Stat(precious); err != nil {
		t.Errorf("a file behind a link was touched: %v", err)
	}
}

// Below a folder that only root may enter, the server could not reach its files: that is
// said before anything is made. Without root the server runs as this process's account
// and gets there.
func TestFolderBelowAClosedOne(t *testing.T) {
	t.Parallel()
	closed := stateFolder(t)
	must(t, os.Chmod(closed, 0o700))
	must(t, os.Mkdir(filepath.Join(closed, "below"), 0o755))
	// By another name, which must not hide which folder is the closed one.
	dir := filepath.Join(stateFolderOpen(t), "link")
	must(t, os.Symlink(filepath.Join(closed, "below"), dir))
	c, err := Start(t.Context(), Options{Dir: dir})
	if os.Geteuid() != 0 {
		must(t, err)
		must(t, c.Stop(t.Context()))
		return
	}
	if err == nil {
		t.Fatal("the server got below a folder that only root may enter")
	}
	if want := "chmod o+x " + closed; !strings.HasSuffix(err.Error(), want) || strings.Contains(err.Error(), "\n") {
		t.Errorf("want one line that ends with %q, got: %v", want, err)
	}
	if made, _ := filepath.Glob(filepath.Join(dir, "postgres", "initdb-*")); len(made) > 0 {
		t.Errorf("began all the same: %v", made)
	}
}

// The process that holds the cluster here has umask 077, which must not lock the server out.
func TestStrictUmask(t *testing.T) {
	t.Parallel()
	owner := startHolder(t, filepath.Join(stateFolderOpen(t), "made"))
	wantQuery(t, owner.url, "SHOW work_mem", "8MB")
}

func stateFolderOpen(t *testing.T) string {
	t.Helper()
	dir := stateFolder(t)
	must(t, os.Chmod(dir, 0o755))
	return dir
}

func TestFolderOfAnotherAccountIsRefused(t *testing.T) {
	t.Parallel()
	foreign := "/" // root's, to anybody else
	if os.Geteuid() == 0 {
		foreign = stateFolder(t)
		must(t, os.Chown(foreign, 65534, 65534))
	}
	if err := ownFolder(foreign); err == nil || !strings.Contains(err.Error(), "belongs to") {
		t.Errorf("got %v, want a refusal", err)
	}
	if err := ownFolder(stateFolder(t)); err != nil {
		t.Errorf("own folder: %v", err)
	}
}

func TestNoFolderNamed(t *testing.T) {
	t.Parallel()
	if _, err := Start(t.Context(), Options{}); err == nil {
		t.Error("started in no folder")
	}
}

// initdb is cut short half-way: by a stand-in that makes some files and fails.
func TestHalfFinishedInitdb(t *testing.T) {
	t.Parallel()
	dir := stateFolder(t)
	pg := installed(t, dir)
	broken := programFolder(t, map[string]string{
		"postgres": `exec ` + pg.path("postgres") + ` "$@"`,
		"initdb":   `[ "$1" = --version ] && exec ` + pg.path("initdb") + ` "$@"; mkdir "${1#--pgdata=}/base"; echo 15 >"${1#--pgdata=}/PG_VERSION"; echo disk full >&2; exit 1`,
	})
	_, err := Start(t.Context(), Options{Dir: dir, search: []string{broken}})
	if err == nil || !strings.Contains(err.Error(), "disk full") {
		t.Fatalf("got %v, want what initdb said", err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "postgres", "initdb-*", "base")); len(left) != 1 {
		t.Fatalf("nothing half-finished was left to recover from: %v", left)
	}

	c := startIn(t, dir)
	wantQuery(t, c.URL(Database), "SELECT 1", "1")
	if left, _ := filepath.Glob(filepath.Join(dir, "postgres", "initdb-*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// programFolder makes a folder of shell scripts that stand in for PostgreSQL's programs.
func programFolder(t *testing.T, scripts map[string]string) string {
	t.Helper()
	dir := stateFolderOpen(t)
	for name, script := range scripts {
		path := filepath.Join(dir, name)
		// Written by another process: a file this one has just written, and a child
		// forked meanwhile still holds open, cannot be run ("text file busy").
		cmd := exec.Command("sh", "-c", `cat >"$0" && chmod 755 "$0"`, path)
		cmd.Stdin = strings.NewReader("#!/bin/sh\n" + script + "\n")
		must(t, cmd.Run())
	}
	return dir
}
