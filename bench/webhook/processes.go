package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
)

// process is a running program.
type process struct {
	cmd  *exec.Cmd
	addr string
}

func (p *process) stop() {
	_ = p.cmd.Process.Signal(syscall.SIGTERM) //nolint:errcheck // it may have ended already
	_ = p.cmd.Wait()                          //nolint:errcheck // the measurement is over
}

var listens = regexp.MustCompile(`listens on http://(\S+)`)

// start runs a command until it says where it listens.
func start(cmd *exec.Cmd) (*process, error) {
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if m := listens.FindStringSubmatch(lines.Text()); m != nil {
			return &process{cmd, m[1]}, nil
		}
	}
	return nil, fmt.Errorf("%s ended before it listened: %w", cmd.Path, cmd.Wait())
}

func startReceiver() (*process, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	return start(exec.Command(self, "receive"))
}

// startTiedown builds the program from the tree, adds an organization and serves. It gives a token of its administrator.
func startTiedown(ctx context.Context, dir, url string) (*process, string, error) {
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
	env := append(os.Environ(), "TIEDOWN_DATABASE_URL="+url, "TIEDOWN_ADDR=127.0.0.1:0", "TIEDOWN_STATE_DIR="+dir, "TIEDOWN_WEBHOOK_ALLOW=127.0.0.1")
	add := exec.CommandContext(ctx, program, "organization", "Measured Club")
	add.Env = env
	out, err := add.CombinedOutput()
	if err != nil {
		return nil, "", fmt.Errorf("add an organization: %w\n%s", err, out)
	}
	serve := exec.Command(program, "serve")
	serve.Env = env
	p, err := start(serve)
	return p, string(out[strings.Index(string(out), "td_") : len(out)-1]), err
}

// client asks the server.
type client struct{ addr, token string }

// post sends JSON, and gives the identifier of what was made.
func (c client) post(ctx context.Context, path string, body any) (string, error) {
	raw, err := json.Marshal(body)
	if err != nil {
		return "", err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+c.addr+path, bytes.NewReader(raw))
	if err != nil {
		return "", err
	}
	request.Header.Set("Authorization", "Bearer "+c.token)
	request.Header.Set("Content-Type", "application/json")
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return "", err
	}
	defer response.Body.Close() //nolint:errcheck // read to the end
	got, err := io.ReadAll(response.Body)
	if err != nil {
		return "", err
	}
	var made struct {
		ID     string `json:"id"`
		Squawk struct {
			ID string `json:"id"`
		} `json:"squawk"`
	}
	if response.StatusCode != http.StatusCreated {
		return "", fmt.Errorf("POST %s: %s: %s", path, response.Status, got)
	}
	err = json.Unmarshal(got, &made)
	return made.ID + made.Squawk.ID, err
}
