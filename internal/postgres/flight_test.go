package postgres_test

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"tiedown/internal/audit"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// TestAFlightFromBeforeIsOneLeg holds that a row from before flights had legs reads as one leg between its bases, over its
// window and in its light, and is vouched for as it was entered.
func TestAFlightFromBeforeIsOneLeg(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	conn := connect(t, l.url)
	do(t, conn, fmt.Sprintf(`SELECT set_config('tiedown.organization', '%s', false)`, l.org))
	id := column[[16]byte](t, conn, `SELECT id FROM flight`)[0]
	read := func() techlog.Flight {
		t.Helper()
		f, err := l.store.Flight(t.Context(), l.org, id)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	now := read()
	do(t, conn, `UPDATE flight SET legs = NULL`)
	before := read()
	b := baseOf(l.base, "N00A")
	at := techlog.Spot{Base: b.ID, Ident: b.Code, Name: b.Name, Lat: b.Lat, Lon: b.Lon}
	want := []techlog.Leg{{
		From: at, To: at, Departs: noon.Add(time.Hour), Arrives: noon.Add(2 * time.Hour), Light: casefile.Light{Day: new(true), Night: new(false)}, InAlaska: new(false),
	}}
	if !reflect.DeepEqual(before.Legs, want) {
		t.Errorf("it has the legs %+v, want %+v", before.Legs, want)
	}
	if before.Legs = now.Legs; !reflect.DeepEqual(before, now) {
		t.Errorf("read %+v, want %+v", before, now)
	}
	var faults int
	if _, err := l.store.VerifyLog(t.Context(), l.org, []audit.PublicKey{l.key.Public()}, nil, func(audit.Fault) { faults++ }); err != nil || faults != 1 {
		t.Errorf("%d faults, %v: that the legs were taken out is one", faults, err)
	}
}
