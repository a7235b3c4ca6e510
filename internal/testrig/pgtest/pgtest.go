// Package pgtest gives every test a database of its own on a real PostgreSQL.
//
// It owns one server for each test binary, started when the first test asks: a container
// where a Docker engine answers, else a private cluster of the programs on the machine.
// The schema is built once, in a template database, which is cloned for each test. No
// database is dropped: the server and its files go when the tests are over.
//
// It does not own the schema: the migration is handed in. A test that can get no
// database fails; it is never skipped.
//
// Two environment variables choose:
//
//	TIEDOWN_TEST_DATABASE   container, private, or empty for whichever there is
//	TIEDOWN_TEST_IMAGE      image of the container; postgres:15 when empty
//
// On a private cluster a test connects as an ordinary role that owns its database. In a
// container it connects as the superuser, as the usual images provide for, so that both
// kinds of login that a server may be given are exercised.
package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// Migrate brings the empty database behind a URL to the schema under test, and closes
// every connection it opened.
type Migrate = func(ctx context.Context, url string) error

const (
	// startLimit bounds the start of the server and the migration.
	startLimit = 3 * time.Minute
	// stopLimit bounds its end: it writes out the databases of all the tests, on a disk that others may be using.
	stopLimit = 2 * time.Minute

	template = "tiedown_template"
)

// only is the server of this test binary.
var only rig

// Main runs the tests of a package, takes the server down, and exits: call it from
// TestMain. It also does so on an interrupt.
func Main(m *testing.M, migrate Migrate) {
	quiet()
	only.migrate = migrate
	go func() {
		interrupted := make(chan os.Signal, 1)
		signal.Notify(interrupted, os.Interrupt, syscall.SIGTERM)
		<-interrupted
		exit(1)
	}()
	exit(m.Run())
}

// exit ends the process. A server left running is a failure of its own.
func exit(code int) {
	if err := only.close(); err != nil {
		fmt.Fprintf(os.Stderr, "pgtest: %v\n", err)
		code = max(code, 1)
	}
	os.Exit(code)
}

// New returns the URL of a fresh database with the schema under test. It fails the test
// when there is none to be had.
func New(t testing.TB) string {
	t.Helper()
	url, err := only.database(t.Context())
	if err != nil {
		t.Fatalf("no test database: %v", err)
	}
	return url
}

// Server tells where this binary's databases are: "container" or "private". It starts nothing.
func Server() string {
	return string(kindOf())
}

// server is a running PostgreSQL.
type server interface {
	// url is a database's address for tests, admin its address as superuser.
	url(database string) string
	admin(database string) string
	// owner is the role that owns the tests' databases.
	owner() string
	// stop ends the server and removes its files.
	stop(ctx context.Context) error
}

// rig is one server with its template database.
type rig struct {
	migrate Migrate

	mu     sync.Mutex
	begun  bool
	server server // nil when the start failed
	err    error  // why

	databases atomic.Int64
}

// database makes a database for one test.
func (r *rig) database(ctx context.Context) (string, error) {
	s, err := r.start()
	if err != nil {
		return "", err
	}
	name := fmt.Sprintf("test_%d", r.databases.Add(1))
	if err := execute(ctx, s.admin("postgres"), fmt.Sprintf("CREATE DATABASE %s TEMPLATE %s OWNER %s", name, template, s.owner())); err != nil {
		return "", fmt.Errorf("clone the template: %w", err)
	}
	return s.url(name), nil
}

// start brings the server up at the first call; later ones get the same server, or the
// same error.
func (r *rig) start() (server, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.begun {
		r.begun = true
		r.err = r.open()
	}
	return r.server, r.err
}

func (r *rig) open() error {
	if r.migrate == nil {
		return errors.New("the package has no TestMain that calls pgtest.Main")
	}
	ctx, cancel := context.WithTimeout(context.Background(), startLimit)
	defer cancel()
	s, err := startServer(ctx)
	if err != nil {
		return err
	}
	r.server = s
	return r.buildTemplate(ctx)
}

// buildTemplate migrates the template and closes it to connections, one of which would
// get in the way of cloning.
func (r *rig) buildTemplate(ctx context.Context) error {
	admin := r.server.admin("postgres")
	if err := execute(ctx, admin, fmt.Sprintf("CREATE DATABASE %s OWNER %s", template, r.server.owner())); err != nil {
		return fmt.Errorf("make the template: %w", err)
	}
	if err := r.migrate(ctx, r.server.url(template)); err != nil {
		return fmt.Errorf("migrate the template: %w", err)
	}
	if err := execute(ctx, admin, fmt.Sprintf("ALTER DATABASE %s IS_TEMPLATE true ALLOW_CONNECTIONS false", template)); err != nil {
		return fmt.Errorf("close the template: %w", err)
	}
	return nil
}

// close takes the server down, if there is one; no test gets a database afterwards.
func (r *rig) close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	s := r.server
	r.begun, r.server, r.err = true, nil, errors.New("the tests are over")
	if s == nil {
		return nil
	}
	ctx, cancel := context.WithTimeout(context.Background(), stopLimit)
	defer cancel()
	return s.stop(ctx)
}

// execute runs one statement on a connection of its own.
func execute(ctx context.Context, url, sql string) error {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, sql)
	return errors.Join(err, conn.Close(ctx))
}
