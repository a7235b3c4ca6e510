package localpg

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// holdEnv makes the test binary start a cluster in the folder it names, print its URL and
// hold it until standard input ends: a process of its own for a test to kill.
const holdEnv = "LOCALPG_TEST_HOLD"

func TestMain(m *testing.M) {
	if dir := os.Getenv(holdEnv); dir != "" {
		os.Exit(hold(dir))
	}
	code := m.Run()
	if dir := seed.dir; dir != "" {
		_ = os.RemoveAll(dir)
	}
	os.Exit(code)
}

func hold(dir string) int {
	syscall.Umask(0o077) // the strictest umask a person may have
	c, err := Start(context.Background(), Options{Dir: dir})
	if err != nil {
		fmt.Println(err)
		return 1
	}
	fmt.Println(c.URL(Database))
	_, _ = io.Copy(io.Discard, os.Stdin)
	if err := c.Stop(context.Background()); err != nil {
		fmt.Println(err)
		return 1
	}
	return 0
}

// holder is a running copy of the test binary that holds a cluster.
type holder struct {
	cmd   *exec.Cmd
	url   string
	stdin io.Closer
}

func startHolder(t *testing.T, dir string) *holder {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), holdEnv+"="+dir)
	stdin, err := cmd.StdinPipe()
	must(t, err)
	stdout, err := cmd.StdoutPipe()
	must(t, err)
	must(t, cmd.Start())
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	line, err := bufio.NewReader(stdout).ReadString('\n')
	must(t, err)
	url := strings.TrimSpace(line)
	if !strings.HasPrefix(url, "postgres://") {
		t.Fatalf("the other process did not start: %s", url)
	}
	return &holder{cmd: cmd, url: url, stdin: stdin}
}

// kill ends the holder as kill -9 does.
func (h *holder) kill(t *testing.T) {
	t.Helper()
	must(t, h.cmd.Process.Kill())
	_ = h.cmd.Wait()
}

// stateFolder returns a new empty state folder with a short path.
func stateFolder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "localpg")
	must(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

// seed is one initialised cluster, made once and copied where a test is not about making
// one.
var seed struct {
	once sync.Once
	dir  string
	err  error
}

// seededFolder returns a state folder with an initialised, cleanly stopped cluster.
func seededFolder(t *testing.T) string {
	t.Helper()
	dir := stateFolder(t)
	plantSeed(t, dir)
	return dir
}

func plantSeed(t *testing.T, dir string) {
	t.Helper()
	seed.once.Do(func() {
		if seed.dir, seed.err = os.MkdirTemp("", "localpg-seed"); seed.err != nil {
			return
		}
		var c *Cluster
		if c, seed.err = Start(context.Background(), Options{Dir: seed.dir}); seed.err == nil {
			seed.err = c.Stop(context.Background())
		}
	})
	must(t, seed.err)
	// Sparse, as most of a new cluster is a write-ahead log full of zeros.
	if out, err := exec.Command("cp", "-a", "--sparse=always", filepath.Join(seed.dir, "postgres"), dir).CombinedOutput(); err != nil {
		t.Fatalf("copy the seed: %v\n%s", err, out)
	}
}

// startIn starts a cluster and stops it when the test ends, if the test has not.
func startIn(t *testing.T, dir string) *Cluster {
	t.Helper()
	c, err := Start(t.Context(), Options{Dir: dir})
	must(t, err)
	t.Cleanup(func() {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		_ = c.Stop(ctx)
	})
	return c
}

// query runs one statement through psql, and returns its rows with columns parted by |.
func query(t *testing.T, url, sql string) string {
	t.Helper()
	out, err := psql(url, sql)
	if err != nil {
		t.Fatalf("%s: %v\n%s", sql, err, out)
	}
	return out
}

func psql(url, sql string) (string, error) {
	out, err := exec.Command("psql", "--no-psqlrc", "--tuples-only", "--no-align", "--quiet", "-v", "ON_ERROR_STOP=1", "-c", sql, url).CombinedOutput()
	return strings.TrimSpace(string(out)), err
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func wantQuery(t *testing.T, url, sql, want string) {
	t.Helper()
	if got := query(t, url, sql); got != want {
		t.Errorf("%s: got %q, want %q", sql, got, want)
	}
}

// postmasterOf returns the process id of a cluster's server.
func postmasterOf(t *testing.T, dir string) int {
	t.Helper()
	state, err := readPostmaster(dataOf(dir))
	must(t, err)
	if state.pid == 0 {
		t.Fatalf("no server runs in %s", dir)
	}
	return state.pid
}

func dataOf(dir string) string {
	return filepath.Join(dir, "postgres", "data")
}

// installed returns the installation that Start would use in a folder.
func installed(t *testing.T, dir string) installation {
	t.Helper()
	pg, err := locate(t.Context(), home(filepath.Join(dir, "postgres")), Options{}, 0)
	must(t, err)
	return pg
}
