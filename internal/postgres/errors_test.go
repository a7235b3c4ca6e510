package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/localpg"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

var lastID atomic.Uint32

func newID() techlog.ID {
	n := lastID.Add(1)
	return techlog.ID{0xF, 12: byte(n >> 24), 13: byte(n >> 16), 14: byte(n >> 8), 15: byte(n)}
}

// change runs a change that writes nothing and ends in an error, or in nil.
func change(t testing.TB, store *postgres.Store, org techlog.ID, end error) error {
	t.Helper()
	_, err := store.Change(t.Context(), hangar.Scope{Organization: org}, func(context.Context, hangar.Tx) ([]byte, error) { return nil, end })
	return err
}

// TestErrorsOfTheDriverAreTranslated walks what can go wrong below the store.
func TestErrorsOfTheDriverAreTranslated(t *testing.T) {
	t.Parallel()
	pg := func(code string) error { return &pgconn.PgError{Code: code, Message: "it went wrong"} }
	for name, c := range map[string]struct {
		err  error
		kind techlog.Kind
		is   error // that the translated error still is
	}{
		"constraint":            {&pgconn.PgError{Code: "23505", ConstraintName: "base_code_key"}, techlog.KindConflict, nil},
		"fault of a field":      {&pgconn.PgError{Code: "23514", ConstraintName: "base_lat_range"}, techlog.KindInvalid, nil},
		"missing reference":     {&pgconn.PgError{Code: "23503", ConstraintName: "squawk_aircraft_fkey"}, techlog.KindNotFound, nil},
		"constraint of another": {&pgconn.PgError{Code: "23514", ConstraintName: "unheard_of"}, "", nil},
		"twin of a request":     {&pgconn.PgError{Code: "23505", ConstraintName: "idempotency_pkey"}, "", postgres.ErrAgain},
		"stale":                 {pg("TD001"), techlog.KindStale, nil},
		"moved":                 {pg("TD002"), "", postgres.ErrAgain},
		"deadlock":              {pg("40P01"), "", postgres.ErrAgain},
		"serialization":         {pg("40001"), "", postgres.ErrAgain},
		"syntax":                {pg("42601"), "", nil},
		"row-level security":    {pg("42501"), "", nil},
		"not null":              {pg("23502"), "", nil},
		"statement timeout":     {pg("57014"), techlog.KindUnavailable, nil},
		"shutdown":              {pg("57P01"), techlog.KindUnavailable, nil},
		"crash":                 {pg("57P02"), techlog.KindUnavailable, nil},
		"starting up":           {pg("57P03"), techlog.KindUnavailable, nil},
		"too many connections":  {pg("53300"), techlog.KindUnavailable, nil},
		"disk full":             {pg("53100"), techlog.KindUnavailable, nil},
		"connection failure":    {pg("08006"), techlog.KindUnavailable, nil},
		"idle for too long":     {pg("25P03"), techlog.KindUnavailable, nil},
		"network":               {&net.OpError{Op: "read", Err: io.EOF}, techlog.KindUnavailable, nil},
		"end of stream":         {io.ErrUnexpectedEOF, techlog.KindUnavailable, nil},
		"closed connection":     {pgconn.ErrConnClosed, techlog.KindUnavailable, nil},
		"deadline":              {context.DeadlineExceeded, techlog.KindUnavailable, context.DeadlineExceeded},
		"interrupted":           {fmt.Errorf("query: %w", context.Canceled), "", context.Canceled},
		"no rows":               {pgx.ErrNoRows, "", nil},
		"already translated":    {techlog.Errorf(techlog.KindStale, "it was changed"), techlog.KindStale, nil},
		"faults":                {casefile.Faults{{Field: "x"}}, techlog.KindInvalid, nil},
		"anything else":         {errors.New("scan: wrong type"), "", nil},
	} {
		got := postgres.Translate(c.err)
		if got == nil || techlog.KindOf(got) != c.kind || c.is != nil && !errors.Is(got, c.is) {
			t.Errorf("%s: %v of kind %q, want %q", name, got, techlog.KindOf(got), c.kind)
		}
		if isDriver(got) {
			t.Errorf("%s: an error of the driver comes out: %#v", name, got)
		}
		if errors.Is(got, postgres.ErrAgain) && !errors.Is(c.is, postgres.ErrAgain) {
			t.Errorf("%s would be run again", name)
		}
	}
	if err := postgres.Translate(nil); err != nil {
		t.Errorf("no error becomes %v", err)
	}
}

// TestALostConnectionIsUnavailable ends the server's side of a connection in the middle of a change, at each point.
func TestALostConnectionIsUnavailable(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	store, err := postgres.Open(t.Context(), postgres.Config{URL: url, MaxConns: 1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	org := techlog.Organization{ID: newID(), Name: "Windsock Flyers"}
	if err := store.AddOrganization(t.Context(), org); err != nil {
		t.Fatal(err)
	}
	outside := connect(t, url)
	lose := func() {
		column[bool](t, outside, `SELECT pg_terminate_backend(pid, 60000) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()`)
	}
	base := techlog.Base{ID: newID(), Code: "N00A", Name: "Field", Zone: "UTC", Version: 1}
	for what, f := range map[string]func(context.Context, hangar.Tx) ([]byte, error){
		"before a read": func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
			lose()
			_, err := tx.Base(ctx, base.ID)
			return nil, err
		},
		"before the commit": func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			tx.AddBase(base)
			lose()
			return nil, nil
		},
	} {
		_, err := store.Change(t.Context(), hangar.Scope{Organization: org.ID}, f)
		if techlog.KindOf(err) != techlog.KindUnavailable || isDriver(err) {
			t.Errorf("lost %s: %v", what, err)
		}
		if _, err := store.Base(t.Context(), org.ID, base.ID); techlog.KindOf(err) != techlog.KindNotFound {
			t.Errorf("lost %s: afterwards %v, want a new connection and no base", what, err)
		}
	}
}

func TestADatabaseThatIsGone(t *testing.T) {
	t.Parallel()
	c := cluster(t)
	if err := postgres.Migrate(t.Context(), c.URL(localpg.Database)); err != nil {
		t.Fatal(err)
	}
	store := open(t, c.URL(localpg.Database))
	if err := store.Ping(t.Context()); err != nil {
		t.Fatal(err)
	}
	if err := c.Stop(t.Context()); err != nil {
		t.Fatal(err)
	}
	for what, err := range map[string]error{
		"ping":   store.Ping(t.Context()),
		"change": change(t, store, newID(), nil),
		"keeper": store.AddOrganization(t.Context(), techlog.Organization{ID: newID(), Name: "Windsock Flyers"}),
		"read":   func() error { _, err := store.Base(t.Context(), newID(), newID()); return err }(),
	} {
		if techlog.KindOf(err) != techlog.KindUnavailable || isDriver(err) {
			t.Errorf("%s: %v, want unavailable", what, err)
		}
	}
}
