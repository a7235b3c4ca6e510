package postgres_test

import (
	"context"
	"encoding/json"
	"errors"
	"reflect"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

// TestEventsAreWrittenWithTheirChange reads the outbox, which no port reads yet.
func TestEventsAreWrittenWithTheirChange(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	store := open(t, url)
	org := techlog.Organization{ID: newID(), Name: "Windsock Flyers"}
	if err := store.AddOrganization(t.Context(), org); err != nil {
		t.Fatal(err)
	}
	at := time.Date(2031, time.May, 4, 12, 0, 0, 123456000, time.UTC)
	events := []techlog.Event{
		{
			ID: newID(), Kind: "squawk.filed", Aircraft: newID(), Subject: newID(), At: at,
			Changes: []techlog.HoldChange{{Flight: newID(), Was: "clear", Is: "grounded"}, {Flight: newID(), Is: "limited"}},
		},
		{ID: newID(), Kind: "base.added", Subject: newID(), At: at.Add(time.Microsecond)},
	}
	emit := func(end error) error {
		_, err := store.Change(t.Context(), hangar.Scope{Organization: org.ID, At: at}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			for _, e := range events {
				tx.Emit(e)
			}
			return nil, end
		})
		return err
	}
	if err := emit(errors.New("second thoughts")); err == nil {
		t.Fatal("the change did not fail")
	}
	if err := emit(nil); err != nil {
		t.Fatal(err) // the same identifiers again: nothing was left of the failed one
	}

	conn := connect(t, url)
	if _, err := conn.Exec(t.Context(), `SELECT set_config('tiedown.organization', $1, false)`, org.ID.String()); err != nil {
		t.Fatal(err)
	}
	rows, err := conn.Query(t.Context(), `SELECT id, kind, aircraft, subject, at, changes FROM event WHERE organization = $1 ORDER BY id`, [16]byte(org.ID))
	if err != nil {
		t.Fatal(err)
	}
	got, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (techlog.Event, error) {
		var e techlog.Event
		var id, subject [16]byte
		var aircraft *[16]byte
		var changes []byte
		if err := row.Scan(&id, &e.Kind, &aircraft, &subject, &e.At, &changes); err != nil {
			return e, err
		}
		e.ID, e.Subject, e.At = id, subject, e.At.UTC()
		if aircraft != nil {
			e.Aircraft = *aircraft
		}
		err := json.Unmarshal(changes, &e.Changes)
		if len(e.Changes) == 0 {
			e.Changes = nil
		}
		return e, err
	})
	if err != nil || !reflect.DeepEqual(got, events) {
		t.Errorf("%v\n got %+v\nwant %+v", err, got, events)
	}
}
