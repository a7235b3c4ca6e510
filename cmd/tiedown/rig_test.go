package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"tiedown/internal/postgres"
	"tiedown/internal/testrig/pgtest"
)

// asProgram makes the test binary behave as the program itself, so that a test can start real processes.
const asProgram = "TIEDOWN_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
		return
	}
	pgtest.Main(m, postgres.Migrate)
}

// startLimit bounds how long a test waits for a program to say something; it is no measurement.
const startLimit = 2 * time.Minute

// process is one running program.
type process struct {
	t         *testing.T
	cmd       *exec.Cmd
	addr      string
	tokens    map[string]string
	passwords map[string]string // of the demo club's people
	stderr    *lockedBuffer
	ended     chan error
}

type lockedBuffer struct {
	mu sync.Mutex
	b  strings.Builder
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

// stateDir is a folder that the account of a private database can reach.
func stateDir(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "tiedown-state-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(dir); err != nil {
			t.Error(err)
		}
	})
	return dir
}

var (
	listens = regexp.MustCompile(`listens on http://(\S+)`)
	token   = regexp.MustCompile(`^  (\S+)\s+(td_\S+)$`)
	person  = regexp.MustCompile(`^  (\S+@\S+)\s+(\S+)  \(`)
)

// start runs the program until it says where it listens.
func start(t *testing.T, command string, settings ...string) *process {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	p := &process{t: t, tokens: map[string]string{}, passwords: map[string]string{}, stderr: &lockedBuffer{}, ended: make(chan error, 1)}
	p.cmd = exec.Command(self, command)
	p.cmd.Env = append(os.Environ(), append(settings, asProgram+"=1", "TIEDOWN_ADDR=127.0.0.1:0")...)
	p.cmd.Stderr = p.stderr
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	listening := make(chan bool, 1)
	go func() {
		for lines := bufio.NewScanner(out); lines.Scan(); {
			if m := token.FindStringSubmatch(lines.Text()); m != nil {
				p.tokens[m[1]] = m[2]
			}
			if m := person.FindStringSubmatch(lines.Text()); m != nil {
				p.passwords[m[1]] = m[2]
			}
			if m := listens.FindStringSubmatch(lines.Text()); m != nil {
				p.addr = m[1]
				listening <- true
			}
		}
		p.ended <- p.cmd.Wait()
	}()
	t.Cleanup(func() {
		if p.cmd.ProcessState == nil {
			p.stop(syscall.SIGKILL)
		}
	})
	select {
	case <-listening:
	case err := <-p.ended:
		p.ended <- err
		t.Fatalf("the program ended before it listened: %v\n%s", err, p.stderr)
	case <-time.After(startLimit):
		t.Fatalf("the program does not listen\n%s", p.stderr)
	}
	return p
}

// stop sends a signal and waits for the end.
func (p *process) stop(signal syscall.Signal) error {
	p.t.Helper()
	if err := p.cmd.Process.Signal(signal); err != nil {
		p.t.Fatal(err)
	}
	select {
	case err := <-p.ended:
		p.ended <- err
		return err
	case <-time.After(startLimit):
		p.t.Fatalf("the program does not end\n%s", p.stderr)
		return nil
	}
}

// get reads a path as somebody of the demo club.
func (p *process) get(role, path string) (int, string) {
	p.t.Helper()
	request, err := http.NewRequestWithContext(context.Background(), http.MethodGet, "http://"+p.addr+path, nil)
	if err != nil {
		p.t.Fatal(err)
	}
	if role != "" {
		request.Header.Set("Authorization", "Bearer "+p.tokens[role])
	}
	return p.do(request)
}

// post sends JSON as somebody of the demo club.
func (p *process) post(role, path, body string) (int, string) {
	p.t.Helper()
	request, err := http.NewRequestWithContext(context.Background(), http.MethodPost, "http://"+p.addr+path, strings.NewReader(body))
	if err != nil {
		p.t.Fatal(err)
	}
	if role != "" {
		request.Header.Set("Authorization", "Bearer "+p.tokens[role])
	}
	request.Header.Set("Content-Type", "application/json")
	return p.do(request)
}

func (p *process) do(request *http.Request) (int, string) {
	p.t.Helper()
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		p.t.Fatalf("%v\n%s", err, p.stderr)
	}
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	if err != nil {
		p.t.Fatal(err)
	}
	return response.StatusCode, string(body)
}
