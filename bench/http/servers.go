package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/labstack/echo/v4"
)

// server is a running server.
type server struct {
	cmd   *exec.Cmd
	addr  string
	token string
}

func (s *server) stop() {
	_ = s.cmd.Process.Signal(syscall.SIGTERM) //nolint:errcheck // it may have ended already
	_ = s.cmd.Wait()                          //nolint:errcheck // the measurement is over
}

var listens = regexp.MustCompile(`listens on http://(\S+)`)

// start runs a command until it says where it listens.
func start(cmd *exec.Cmd) (*server, error) {
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
			return &server{cmd: cmd, addr: m[1]}, nil
		}
	}
	return nil, fmt.Errorf("%s ended before it listened: %w", cmd.Path, cmd.Wait())
}

// startTiedown builds the program from the tree, adds an organization and serves.
func startTiedown(ctx context.Context, dir, url string, connections int) (*server, error) {
	program := filepath.Join(dir, "tiedown")
	tree, err := exec.CommandContext(ctx, "go", "list", "-m", "-f", "{{.Dir}}", "tiedown").Output()
	if err != nil {
		return nil, fmt.Errorf("find the tree: run this in the folder bench: %w", err)
	}
	build := exec.CommandContext(ctx, "go", "build", "-o", program, "./cmd/tiedown")
	build.Dir = strings.TrimSpace(string(tree))
	if out, err := build.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("build: %w\n%s", err, out)
	}
	env := append(os.Environ(),
		"TIEDOWN_DATABASE_URL="+url, "TIEDOWN_ADDR=127.0.0.1:0", "TIEDOWN_STATE_DIR="+dir,
		fmt.Sprintf("TIEDOWN_DATABASE_CONNECTIONS=%d", connections))
	add := exec.CommandContext(ctx, program, "organization", "Measured Club")
	add.Env = env
	out, err := add.CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("add an organization: %w\n%s", err, out)
	}
	serve := exec.Command(program, "serve")
	serve.Env = env
	s, err := start(serve)
	if err != nil {
		return nil, err
	}
	s.token = string(out[strings.Index(string(out), "td_") : len(out)-1])
	return s, nil
}

func startBare(_ context.Context, url string) (*server, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	return start(exec.Command(self, "bare", url))
}

// serveBare is the server to compare with: the framework, the driver, and one statement a request.
func serveBare(url string) error {
	ctx := context.Background()
	pool, err := pgxpool.New(ctx, url)
	if err != nil {
		return err
	}
	defer pool.Close()
	for _, statement := range []string{
		`CREATE TABLE bare_status (id uuid PRIMARY KEY, body text NOT NULL)`,
		`CREATE TABLE bare_squawk (
			id uuid PRIMARY KEY DEFAULT gen_random_uuid(), aircraft uuid NOT NULL, kind text NOT NULL, unit text NOT NULL,
			words text NOT NULL, reported_at timestamptz NOT NULL DEFAULT now())`,
	} {
		if _, err := pool.Exec(ctx, statement); err != nil {
			return err
		}
	}
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.GET("/status/:id", func(c echo.Context) error {
		var body string
		err := pool.QueryRow(c.Request().Context(), `SELECT body FROM bare_status WHERE id = $1`, c.Param("id")).Scan(&body)
		if err != nil {
			return err
		}
		return c.Blob(http.StatusOK, echo.MIMEApplicationJSON, []byte(body))
	})
	e.POST("/aircraft/:id/squawks", func(c echo.Context) error {
		var squawk struct {
			ID    string `json:"id"`
			Kind  string `json:"kind"`
			Unit  string `json:"unit"`
			Words string `json:"words"`
		}
		if err := c.Bind(&squawk); err != nil {
			return err
		}
		err := pool.QueryRow(c.Request().Context(),
			`INSERT INTO bare_squawk (aircraft, kind, unit, words) VALUES ($1, $2, $3, $4) RETURNING id`,
			c.Param("id"), squawk.Kind, squawk.Unit, squawk.Words).Scan(&squawk.ID)
		if err != nil {
			return err
		}
		return c.JSON(http.StatusCreated, squawk)
	})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return err
	}
	fmt.Printf("listens on http://%s\n", listener.Addr())
	e.Listener = listener
	if err := e.Start(""); !errors.Is(err, http.ErrServerClosed) {
		return err
	}
	return nil
}
