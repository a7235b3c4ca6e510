package hangar_test

import (
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestWhatWasCalledOffIsPutBack holds that a flight that was called off is put back as it was intended and judged as things
// stand then, by whoever has seen its newest version, and only while it is off and still to come.
func TestWhatWasCalledOffIsPutBack(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	plan := c.flightPlan(21)
	var held hangar.HeldFlight
	c.must(c.service.PlanFlight(t.Context(), c.who, plan, nil, keep(&held)))
	before := held.Flight
	put := func(who techlog.Principal, version int) error {
		_, err := c.service.RestoreFlight(t.Context(), who, before.ID, version, nil, keep(&held))
		return err
	}
	if kind := techlog.KindOf(put(c.who, 1)); kind != techlog.KindConflict {
		t.Errorf("a flight that is on the plan is put back: %s", kind)
	}
	c.must(c.service.CancelFlight(t.Context(), c.who, before.ID, 1, nil, keep(new(techlog.Flight))))
	c.squawk("inoperative", "position-left", "")
	stranger := c.who
	stranger.Roles = techlog.As(techlog.Mechanic)
	for _, refused := range []struct {
		who     techlog.Principal
		version int
		kind    techlog.Kind
	}{{stranger, 2, techlog.KindForbidden}, {c.who, 1, techlog.KindStale}} {
		if kind := techlog.KindOf(put(refused.who, refused.version)); kind != refused.kind {
			t.Errorf("put back: %s, want %s", kind, refused.kind)
		}
	}
	if err := put(c.who, 2); err != nil {
		t.Fatal(err)
	}
	after := c.flight(before.ID)
	if after.State != techlog.Planned || after.Version != 3 || after.Hold.Verdict != "defer-first" || !after.Departs.Equal(before.Departs) ||
		after.Legs[0].From != before.Legs[0].From || after.Purpose != before.Purpose || *after.Facts.Occupants != *before.Facts.Occupants {
		t.Errorf("it is %+v", after)
	}
	c.must(c.service.CancelFlight(t.Context(), c.who, before.ID, 3, nil, keep(new(techlog.Flight))))
	c.wait(48 * time.Hour)
	refused(t, put(c.who, 4), "legs[0].arrives", "future")
}

// TestASeriesIsPutBack holds that those flights of a series are put back that were called off together, on whichever aircraft
// they were, and no other: not what was called off before, nor what has departed.
func TestASeriesIsPutBack(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	asked, err := c.service.AskSeries(t.Context(), c.who, hangar.SeriesPlan{Flight: c.flightPlan(21), Repeat: hangar.Repeat{Every: "days", Interval: 1, Until: "2027-01-15"}})
	if err != nil || len(asked.Flights) != 5 {
		t.Fatalf("%d flights, %v", len(asked.Flights), err)
	}
	if all, err := c.service.Flights(t.Context(), c.who, hangar.FlightFilter{}, hangar.Page{Limit: 9}); err != nil || len(all) != 0 {
		t.Fatalf("asking wrote %d flights, %v", len(all), err)
	}
	made, err := c.series(func(p *hangar.SeriesPlan) { p.Repeat = hangar.Repeat{Every: "days", Interval: 1, Until: "2027-01-15"} })
	if err != nil || len(made.Flights) != 5 {
		t.Fatalf("%d flights, %v", len(made.Flights), err)
	}
	for i := range made.Flights {
		if a, m := asked.Flights[i], made.Flights[i]; !a.Departs.Equal(m.Departs) || !a.Hold.Same(m.Hold) {
			t.Errorf("asked, flight %d is %+v; planned, %+v", i, a, m)
		}
	}
	moved := hangar.PlanOf(&made.Flights[3])
	moved.Aircraft = c.enter("retractable", "N014TW")
	c.must(c.service.ChangeFlight(t.Context(), c.who, made.Flights[3].ID, 1, moved, nil, keep(new(hangar.HeldFlight))))
	c.must(c.service.CancelFlight(t.Context(), c.who, made.Flights[1].ID, 1, nil, keep(new(techlog.Flight))))
	c.wait(time.Minute)
	var off, on []techlog.Flight
	c.must(c.service.CancelSeries(t.Context(), c.who, made.Series, "", nil, keep(&off)))
	if len(off) != 4 {
		t.Fatalf("%d are called off", len(off))
	}
	at := c.flight(off[0].ID).ChangedAt
	c.wait(24 * time.Hour) // the first has departed
	put := func(series techlog.ID, at time.Time) error {
		_, err := c.service.RestoreSeries(t.Context(), c.who, series, at, nil, keep(&on))
		return err
	}
	if kind := techlog.KindOf(put(newID(), at)); kind != techlog.KindNotFound {
		t.Errorf("nobody's series: %s", kind)
	}
	if kind := techlog.KindOf(put(made.Series, at.Add(time.Second))); kind != techlog.KindConflict {
		t.Errorf("nothing was called off then: %s", kind)
	}
	if err := put(made.Series, at); err != nil {
		t.Fatal(err)
	}
	for i, want := range []techlog.FlightState{techlog.Cancelled, techlog.Cancelled, techlog.Planned, techlog.Planned, techlog.Planned} {
		if f := c.flight(made.Flights[i].ID); f.State != want || f.Series != made.Series || i == 3 && f.Aircraft != moved.Aircraft {
			t.Errorf("flight %d is %s", i, f.State)
		}
	}
	if kind := techlog.KindOf(put(made.Series, at)); kind != techlog.KindConflict || len(on) != 3 {
		t.Errorf("put back again: %s, after %d", kind, len(on))
	}
}

// TestPlacesComeBackAsTheyWereMeant holds that what was intended is told by base, airport or coordinates, as the record has it.
func TestPlacesComeBackAsTheyWereMeant(t *testing.T) {
	t.Parallel()
	base := newID()
	f := techlog.Flight{Rules: "vfr", Purpose: "Around"}
	f.Over([]techlog.Leg{
		{From: techlog.Spot{Base: base, Ident: "WILLOW"}, To: techlog.Spot{Ident: "N0AA"}},
		{From: techlog.Spot{Ident: "N0AA"}, To: techlog.Spot{Name: "Meadow", Lat: 41.5, Lon: -95}},
	})
	p := hangar.PlanOf(&f)
	if len(p.Legs) != 2 || *p.Legs[0].From.Base != base || p.Legs[0].From.Airport != nil || *p.Legs[0].To.Airport != "N0AA" || *p.Legs[1].From.Airport != "N0AA" ||
		p.Legs[1].To.Name != "Meadow" || *p.Legs[1].To.Lat != 41.5 || *p.Legs[1].To.Lon != -95 || p.Legs[1].To.Airport != nil {
		t.Errorf("%+v", p.Legs)
	}
}

// TestTheScheduleOfAFleet holds that it has every aircraft, with the flights and blocks that overlap what was asked for, and
// none that was called off.
func TestTheScheduleOfAFleet(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	other := c.enter("retractable", "N010TW")
	plan := func(hours float64) techlog.ID {
		var held hangar.HeldFlight
		c.must(c.service.PlanFlight(t.Context(), c.who, c.flightPlan(hours), nil, keep(&held)))
		return held.Flight.ID
	}
	off, within, late := plan(5), plan(4), plan(30)
	c.must(c.service.CancelFlight(t.Context(), c.who, off, 1, nil, keep(new(techlog.Flight))))
	block := func(from, until time.Duration) techlog.ID {
		var b hangar.BlockedAircraft
		c.must(c.service.BlockAircraft(t.Context(), c.who, other, hangar.BlockPlan{
			From: noon.Add(from), Until: noon.Add(until), Kind: techlog.BlockedAway, Words: "Away.",
		}, nil, keep(&b)))
		return b.Block.ID
	}
	before := block(-2*time.Hour, time.Hour)
	block(40*time.Hour, 50*time.Hour)
	s, err := c.service.Schedule(t.Context(), c.who, noon, noon.Add(24*time.Hour))
	if err != nil || len(s.Aircraft) != 2 || s.More || s.Bases[c.base].ID != c.base {
		t.Fatalf("%+v, %v", s, err)
	}
	first, second := s.Aircraft[0], s.Aircraft[1]
	if first.Aircraft.ID != other || len(first.Flights) != 0 || len(first.Blocks) != 1 || first.Blocks[0].ID != before {
		t.Errorf("%+v", first)
	}
	if second.Aircraft.Registration != "N012TW" || len(second.Flights) != 1 || second.Flights[0].ID != within || len(second.Blocks) != 0 {
		t.Errorf("%+v, without %s", second, late)
	}
	stranger := c.join("The second club")
	if s, err := c.service.Schedule(t.Context(), stranger, noon, noon.Add(24*time.Hour)); err != nil || len(s.Aircraft) != 0 {
		t.Errorf("of another organization: %+v, %v", s, err)
	}
}
