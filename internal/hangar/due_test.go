package hangar_test

import (
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestDueGoesThroughEveryFlight holds that no planned flight is left out, however many there are, and that one which was
// cancelled is.
func TestDueGoesThroughEveryFlight(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	const flights = 43 // more than are read at a time
	var last techlog.Flight
	for n := range flights {
		last = c.plan(float64(24*n+1), func(p *hangar.FlightPlan) {
			p.Facts.Hours = new(1.5)
			p.Facts.InstructionProvidedAircraft = new(true)
		}).Flight
	}
	due := func() casefile.DueList {
		t.Helper()
		l, err := c.service.Due(t.Context(), c.who, c.aircraft)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	since := func(l casefile.DueList) (casefile.DueItem, bool) {
		for _, i := range l.Items {
			if i.ID == "hundred-hour" {
				return i, true
			}
		}
		return casefile.DueItem{}, false
	}
	l := due()
	i, ok := since(l)
	if l.Flights != flights || !ok || i.Left.Hours == nil {
		t.Fatalf("%d flights, %+v", l.Flights, i)
	}
	if serves := int(*i.Left.Hours / 1.5); len(i.Holds) != flights-serves || len(i.Holds) == 0 {
		t.Errorf("of %d flights of an hour and a half, %d are held where %v h are left", flights, len(i.Holds), *i.Left.Hours)
	}
	c.must(c.service.CancelFlight(t.Context(), c.who, last.ID, last.Version, nil, keep(&last)))
	if l := due(); l.Flights != flights-1 {
		t.Errorf("%d flights after one was cancelled", l.Flights)
	}
	c.wait(48 * time.Hour)
	if l := due(); l.Flights != flights-1 {
		t.Errorf("%d flights, as though the meters had been read since", l.Flights)
	}
	_, err := c.service.Due(t.Context(), c.join("The second club"), c.aircraft)
	c.kind(err, techlog.KindNotFound)
}
