package postgres_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

// TestHeedComesBack breaks the connection on which a program listens: it listens again, and says that it may have missed
// something.
func TestHeedComesBack(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	store := open(t, url)
	ctx, cancel := context.WithCancel(t.Context())
	told := make(chan techlog.ID, 100)
	var listening sync.WaitGroup
	listening.Go(func() { store.Heed(ctx, func(org techlog.ID) { told <- org }) })
	next := func() {
		t.Helper()
		select {
		case org := <-told:
			if !org.IsZero() {
				t.Errorf("told of %s", org)
			}
		case <-time.After(30 * time.Second):
			t.Fatal("nothing was told")
		}
	}
	next()
	const breakIt = `SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND query = 'LISTEN tiedown_event'`
	if tag, err := connect(t, url).Exec(t.Context(), breakIt); err != nil || tag.RowsAffected() != 1 {
		t.Fatalf("%v, broke %d connections", err, tag.RowsAffected())
	}
	next()
	cancel()
	listening.Wait()
}

// TestTheBellRingsOnceForMany: as long as a note is under way, further ones wait together, and none is forgotten.
func TestTheBellRingsOnceForMany(t *testing.T) {
	t.Parallel()
	org, other := techlog.ID{1}, techlog.ID{2}
	sent, held := make(chan []techlog.ID, 10), make(chan struct{})
	bell := postgres.NewBell(func(_ context.Context, orgs []techlog.ID) error {
		sent <- orgs
		<-held
		return nil
	})
	bell.Ring(org)
	if first := <-sent; len(first) != 1 || first[0] != org {
		t.Errorf("the first note is about %v", first)
	}
	for range 100 {
		bell.Ring(org)
		bell.Ring(other)
	}
	close(held)
	bell.Wait()
	if second := <-sent; len(second) != 2 || len(sent) != 0 {
		t.Errorf("then came a note about %v and %d more", second, len(sent))
	}
}

// TestEventsFromBeforeGetPlaces takes a database whose events have no places yet through the step that gives them some.
func TestEventsFromBeforeGetPlaces(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	m := migrator(t, url)
	if err := m.Migrate(12); err != nil {
		t.Fatal(err)
	}
	conn := connect(t, url)
	for _, org := range []techlog.ID{{1}, {2}} {
		var batch pgx.Batch
		batch.Queue(`SELECT set_config('tiedown.keeper', 'on', true), set_config('tiedown.organization', $1, true)`, org.String())
		batch.Queue(`INSERT INTO organization (id, name) VALUES ($1, 'Club')`, [16]byte(org))
		batch.Queue(`
			INSERT INTO event (organization, id, kind, subject, at, changes)
			SELECT $1, gen_random_uuid(), 'event.' || n, gen_random_uuid(), '2031-05-04'::timestamptz - n * interval '1 hour', '[]'
			FROM generate_series(1, 4) n`, [16]byte(org))
		if err := conn.SendBatch(t.Context(), &batch).Close(); err != nil {
			t.Fatal(err)
		}
	}
	if err := m.Up(); err != nil {
		t.Fatal(err)
	}
	for _, org := range []techlog.ID{{1}, {2}} {
		var placed string
		if _, err := conn.Exec(t.Context(), `SELECT set_config('tiedown.organization', $1, false)`, org.String()); err != nil {
			t.Fatal(err)
		}
		const after = `SELECT string_agg(kind || '@' || place, ' ' ORDER BY place) FROM event WHERE organization = $1`
		if err := conn.QueryRow(t.Context(), after, [16]byte(org)).Scan(&placed); err != nil {
			t.Fatal(err)
		}
		if want := "event.4@1 event.3@2 event.2@3 event.1@4"; placed != want {
			t.Errorf("got  %s\nwant %s", placed, want)
		}
	}
	if _, err := conn.Exec(t.Context(), `UPDATE event SET kind = 'other'`); err == nil {
		t.Error("after it events can be changed")
	}
}
