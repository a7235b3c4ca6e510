package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/labstack/echo/v4"

	"tiedown/bench/process"
)

// server is a running server, and a token for it.
type server struct {
	*process.Process
	token string
}

// startTiedown serves an organization, with so many connections to the database.
func startTiedown(ctx context.Context, dir, url string, connections int) (*server, error) {
	p, token, err := process.Tiedown(ctx, dir, url, fmt.Sprintf("TIEDOWN_DATABASE_CONNECTIONS=%d", connections))
	return &server{p, token}, err
}

func startBare(url string) (*server, error) {
	p, err := process.Again("bare", url)
	return &server{Process: p}, err
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
