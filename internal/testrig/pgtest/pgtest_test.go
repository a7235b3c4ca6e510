package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"
)

var migrations atomic.Int64

// toy is a schema of one table with one row.
func toy(ctx context.Context, url string) error {
	migrations.Add(1)
	return execute(ctx, url, "CREATE TABLE cleat AS SELECT 1 AS n")
}

func TestMain(m *testing.M) {
	Main(m, toy)
}

func ask[T any](t *testing.T, url, sql string) T {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.Close(context.Background()) }()
	var answer T
	if err := conn.QueryRow(t.Context(), sql).Scan(&answer); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
	return answer
}

// Every test finds the migrated schema and nothing that another test did.
func TestDatabaseIsFresh(t *testing.T) {
	t.Parallel()
	for i := range 4 {
		t.Run(strconv.Itoa(i), func(t *testing.T) {
			t.Parallel()
			url := New(t)
			if n := ask[int](t, url, "SELECT count(*) FROM cleat"); n != 1 {
				t.Errorf("%d rows before this test wrote any, want 1", n)
			}
			if err := execute(t.Context(), url, "INSERT INTO cleat SELECT generate_series(2, 10)"); err != nil {
				t.Error(err)
			}
			if n := ask[int](t, url, "SELECT count(*) FROM cleat"); n != 10 {
				t.Errorf("%d rows afterwards, want 10", n)
			}
		})
	}
}

func TestMigratedOnce(t *testing.T) {
	t.Parallel()
	New(t)
	New(t)
	if n := migrations.Load(); n != 1 {
		t.Errorf("migrated %d times, want once", n)
	}
}

// The login is what the package's documentation says, and owns its database either way.
func TestLogin(t *testing.T) {
	t.Parallel()
	url := New(t)
	want := map[string]bool{"container": true, "private": false}[Server()]
	if got := ask[bool](t, url, "SELECT rolsuper FROM pg_roles WHERE rolname = current_user"); got != want {
		t.Errorf("superuser %v in a %s database, want %v", got, Server(), want)
	}
	if !ask[bool](t, url, "SELECT pg_get_userbyid(datdba) = current_user FROM pg_database WHERE datname = current_database()") {
		t.Error("the login does not own its database")
	}
	if !ask[bool](t, url, "SELECT tableowner = current_user FROM pg_tables WHERE tablename = 'cleat'") {
		t.Error("the login does not own its tables")
	}
}

func TestTemplateIsClosed(t *testing.T) {
	t.Parallel()
	New(t)
	s, err := only.start()
	if err != nil {
		t.Fatal(err)
	}
	if err := execute(t.Context(), s.url(template), "SELECT 1"); err == nil {
		t.Error("a test can connect to the template, and so spoil or block it")
	}
}

// Without a database a test fails, loudly and with the reason: it is not skipped, and
// the run is no success. Each case runs this binary anew where no database can be had.
func TestNoDatabaseIsAFailure(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct{ database, env, says string }{
		// Port 1 refuses at once: no registry is asked.
		"image that does not exist": {"container", "TIEDOWN_TEST_IMAGE=127.0.0.1:1/none:1", "no container of the image 127.0.0.1:1/none:1"},
		"private without a folder":  {"private", "TMPDIR=/nonexistent", "folder for a private PostgreSQL"},
		"unknown kind":              {"elsewhere", "", `TIEDOWN_TEST_DATABASE is "elsewhere"`},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestMigratedOnce$", "-test.v")
			cmd.Env = append(os.Environ(), "TIEDOWN_TEST_DATABASE="+c.database, c.env)
			out, err := cmd.CombinedOutput()
			if err == nil {
				t.Errorf("the run succeeded:\n%s", out)
			}
			for _, want := range []string{"--- FAIL: TestMigratedOnce", "no test database: ", c.says} {
				if !strings.Contains(string(out), want) {
					t.Errorf("the output lacks %q:\n%s", want, out)
				}
			}
		})
	}
}

func TestFailedMigrationIsAFailure(t *testing.T) {
	t.Parallel()
	r := &rig{migrate: func(context.Context, string) error { return errors.New("no such column") }}
	t.Cleanup(func() {
		if err := r.close(); err != nil {
			t.Error(err)
		}
	})
	for range 2 {
		if _, err := r.database(t.Context()); err == nil || !strings.Contains(err.Error(), "migrate the template: no such column") {
			t.Errorf("got %v, want the migration's error", err)
		}
	}
}

func TestMainIsNeeded(t *testing.T) {
	t.Parallel()
	var r rig
	if _, err := r.database(t.Context()); err == nil || !strings.Contains(err.Error(), "pgtest.Main") {
		t.Errorf("got %v", err)
	}
}

// Closing leaves neither server nor files, and later calls get no database.
func TestCloseLeavesNothing(t *testing.T) {
	t.Parallel()
	r := &rig{migrate: toy2}
	url, err := r.database(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	open, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = open.Close(context.Background()) }()
	s := r.server
	if err := r.close(); err != nil {
		t.Fatal(err)
	}
	if err := open.Ping(t.Context()); err == nil {
		t.Error("the server still answers")
	}
	if p, ok := s.(*private); ok {
		if _, err := os.Stat(p.dir); !os.IsNotExist(err) {
			t.Errorf("files were left in %s: %v", p.dir, err)
		}
	}
	if _, err := r.database(t.Context()); err == nil {
		t.Error("a database after the end")
	}
}

func toy2(ctx context.Context, url string) error {
	return execute(ctx, url, "CREATE TABLE cleat AS SELECT 2 AS n")
}

// The folder of a process that is gone is removed, that of a living one is kept.
func TestSweep(t *testing.T) {
	t.Parallel()
	gone := exec.CommandContext(t.Context(), "true")
	if err := gone.Run(); err != nil {
		t.Fatal(err)
	}
	abandoned, inUse := leftFolder(t, gone.Process.Pid), leftFolder(t, os.Getpid())
	sweep()
	if _, err := os.Stat(abandoned); !os.IsNotExist(err) {
		t.Errorf("%s was kept: %v", abandoned, err)
	}
	if _, err := os.Stat(inUse); err != nil {
		t.Errorf("%s was removed", inUse)
	}
}

func leftFolder(t *testing.T, pid int) string {
	t.Helper()
	dir := filepath.Join(os.TempDir(), fmt.Sprintf("%s%d-swept", folderPrefix, pid))
	if err := os.MkdirAll(filepath.Join(dir, "postgres"), 0o700); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}
