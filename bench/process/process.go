// Package process starts the programs that are measured.
package process

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
)

// Process is a running server.
type Process struct {
	Addr string // where it listens, host:port
	cmd  *exec.Cmd
}

// Stop ends it, and waits until it has ended.
func (p *Process) Stop() {
	_ = p.cmd.Process.Signal(syscall.SIGTERM) //nolint:errcheck // it may have ended already
	_ = p.cmd.Wait()                          //nolint:errcheck // the measurement is over
}

var listens = regexp.MustCompile(`listens on http://(\S+)`)

// Start runs a command until it says where it listens, and reads on what it prints.
func Start(cmd *exec.Cmd) (*Process, error) {
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if m := listens.FindStringSubmatch(lines.Text()); m != nil {
			go func() {
				for lines.Scan() {
				}
			}()
			return &Process{m[1], cmd}, nil
		}
	}
	return nil, fmt.Errorf("%s ended before it listened: %w", cmd.Path, cmd.Wait())
}

// Again runs this program again as one of its other parts, such as the server to compare with.
func Again(args ...string) (*Process, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	return Start(exec.Command(self, args...))
}

// Tiedown builds the program from the tree, adds an organization and serves, with settings beside the database and a
// folder. It gives a token of the organization's administrator.
func Tiedown(ctx context.Context, dir, url string, settings ...string) (*Process, string, error) {
	program := filepath.Join(dir, "tiedown")
	tree, err := exec.CommandContext(ctx, "go", "list", "-m", "-f", "{{.Dir}}", "tiedown").Output()
	if err != nil {
		return nil, "", fmt.Errorf("find the tree: run this in the folder bench: %w", err)
	}
	build := exec.CommandContext(ctx, "go", "build", "-o", program, "./cmd/tiedown")
	build.Dir = strings.TrimSpace(string(tree))
	if out, err := build.CombinedOutput(); err != nil {
		return nil, "", fmt.Errorf("build: %w\n%s", err, out)
	}
	env := append(os.Environ(), "TIEDOWN_DATABASE_URL="+url, "TIEDOWN_ADDR=127.0.0.1:0", "TIEDOWN_STATE_DIR="+dir)
	env = append(env, settings...)
	add := exec.CommandContext(ctx, program, "organization", "Measured Club")
	add.Env = env
	out, err := add.CombinedOutput()
	if err != nil {
		return nil, "", fmt.Errorf("add an organization: %w\n%s", err, out)
	}
	serve := exec.Command(program, "serve")
	serve.Env = env
	p, err := Start(serve)
	return p, string(out[strings.Index(string(out), "td_") : len(out)-1]), err
}
