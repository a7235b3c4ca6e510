package postgres

import (
	"context"
	"maps"
	"slices"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/techlog"
)

const (
	// A note in the change itself would have it wait at its commit for every other change of the whole database that has
	// a note as well: notes are put in one queue. So the note follows the commit, and is worth nothing on a disk.
	notify = `
		SELECT set_config('synchronous_commit', 'off', true), pg_notify('tiedown_event', organization::text)
		FROM unnest($1::uuid[]) AS organization`
	listen = `LISTEN tiedown_event`

	ringLimit = 5 * time.Second
	// While the database does not answer, a listener asks again after a tenth of a second, later after five.
	soonestRetry, latestRetry = 100 * time.Millisecond, 5 * time.Second
)

// bell tells the programs on a database which organizations have new events: once for as many changes as there were while
// it rang last. A note that is lost is nobody's loss, since whoever listens looks by itself as well.
type bell struct {
	send func(ctx context.Context, orgs []techlog.ID) error

	lock    sync.Mutex
	waiting map[techlog.ID]struct{}
	ringing bool
	idle    sync.WaitGroup
}

func newBell(send func(context.Context, []techlog.ID) error) *bell {
	return &bell{send: send, waiting: map[techlog.ID]struct{}{}}
}

// ring has it told of an organization, and does not wait for that.
func (b *bell) ring(org techlog.ID) {
	b.lock.Lock()
	defer b.lock.Unlock()
	b.waiting[org] = struct{}{}
	if !b.ringing {
		b.ringing = true
		b.idle.Go(b.ringOut)
	}
}

// ringOut tells of whoever waits until nobody does.
func (b *bell) ringOut() {
	for {
		b.lock.Lock()
		orgs := slices.Collect(maps.Keys(b.waiting))
		clear(b.waiting)
		b.ringing = len(orgs) > 0
		b.lock.Unlock()
		if len(orgs) == 0 {
			return
		}
		ctx, cancel := context.WithTimeout(context.Background(), ringLimit)
		_ = b.send(ctx, orgs) // who listens finds the events later by itself
		cancel()
	}
}

// notify sends a note about each organization.
func (s *Store) notify(ctx context.Context, orgs []techlog.ID) error {
	_, err := s.pool.Exec(ctx, notify, idList(orgs))
	return err
}

// Heed calls back with an organization soon after it has new events: see hangar.Keeper.
func (s *Store) Heed(ctx context.Context, told func(org techlog.ID)) {
	retry := soonestRetry
	for ctx.Err() == nil {
		if s.heedOnce(ctx, told) {
			retry = soonestRetry
		}
		select {
		case <-ctx.Done():
		case <-time.After(retry):
		}
		retry = min(2*retry, latestRetry)
	}
}

// heedOnce listens until the connection breaks. It reports whether there was one.
func (s *Store) heedOnce(ctx context.Context, told func(org techlog.ID)) bool {
	conn, err := pgx.ConnectConfig(ctx, s.pool.Config().ConnConfig)
	if err != nil {
		return false
	}
	defer conn.Close(context.WithoutCancel(ctx)) //nolint:errcheck // nothing is under way on it
	if _, err := conn.Exec(ctx, listen); err != nil {
		return false
	}
	told(techlog.ID{})
	for {
		note, err := conn.WaitForNotification(ctx)
		if err != nil {
			return true
		}
		if org, ok := techlog.ParseID(note.Payload); ok {
			told(org)
		}
	}
}
