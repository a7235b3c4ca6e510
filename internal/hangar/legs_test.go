package hangar_test

import (
	"slices"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// strip is a place that is no base, some 60 NM south of the club's.
func strip() hangar.PlacePlan {
	return hangar.PlacePlan{Lat: new(40.2), Lon: new(-95.5), Name: "Strip"}
}

// thereAndBack is a flight of two legs, to the strip and back, each of an hour and a half, with so long on the ground.
func (c *club) thereAndBack(hours float64, ground time.Duration) func(*hangar.FlightPlan) {
	departs := noon.Add(time.Duration(hours * float64(time.Hour)))
	lands := departs.Add(90 * time.Minute)
	home := hangar.PlacePlan{Base: &c.base}
	return func(p *hangar.FlightPlan) {
		p.From, p.To, p.Departs, p.Arrives = techlog.ID{}, techlog.ID{}, time.Time{}, time.Time{}
		p.Legs = []hangar.LegPlan{
			{From: home, To: strip(), Departs: departs, Arrives: lands},
			{From: strip(), To: home, Departs: lands.Add(ground), Arrives: lands.Add(ground + 90*time.Minute)},
		}
	}
}

// TestEachLegIsJudgedWithItsOwnDaylight holds that a flight which is legal outbound and illegal on the way home after
// sunset says so of that leg alone, and is held for it.
func TestEachLegIsJudgedWithItsOwnDaylight(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	// Noon at the base is 18 h UTC and the sun sets there at about 23:10 UTC, so the way home at 01:30 UTC is at night.
	flight := c.plan(24, func(p *hangar.FlightPlan) {
		p.Facts.ForHire = yes()
		c.thereAndBack(24, 6*time.Hour)(p)
	}).Flight
	c.holds(flight.ID, "clear")
	out, home := flight.Legs[0], flight.Legs[1]
	if *out.Light.Night || !*out.Light.Day || !*home.Light.Night || *home.Light.Day || !*flight.Light.Day || !*flight.Light.Night {
		t.Fatalf("light out %+v, home %+v, of both %+v", out.Light, home.Light, flight.Light)
	}
	if flight.From != c.base || flight.To != c.base || !flight.Departs.Equal(out.Departs) || !flight.Arrives.Equal(home.Arrives) || flight.Zone != "America/Chicago" {
		t.Errorf("the flight is %+v", flight)
	}

	filed := c.squawk("inoperative", "landing-light", "")
	c.carryOver(filed.Squawk.ID, techlog.StepDefer, deferral(noon.Add(10*24*time.Hour)))
	c.holds(flight.ID, "grounded")
	hold := c.flight(flight.ID).Hold
	if hold.Legs[0].Verdict != "clear" || hold.Legs[1].Verdict != "grounded" || !slices.Equal(hold.Rows, slices.Concat(hold.Legs[0].Rows, hold.Legs[1].Rows)) {
		t.Errorf("the hold is %+v", hold)
	}
	held, err := c.service.Flight(t.Context(), c.who, flight.ID)
	if err != nil || len(held.Answers) != 2 || held.Answers[0].Verdict != "clear" || held.Answers[1].Verdict != "grounded" || held.Answer() != &held.Answers[1] {
		t.Errorf("in words: %+v, %v", held, err)
	}
	if i := slices.IndexFunc(held.Answers[1].Findings, func(f casefile.Finding) bool { return f.Citation == "14 CFR 91.205(c)(4)" }); i < 0 {
		t.Errorf("the landing light is not named: %+v", held.Answers[1].Findings)
	}

	// Each leg by itself is judged the same.
	for leg, want := range []string{"clear", "grounded"} {
		alone := c.plan(24, func(p *hangar.FlightPlan) {
			p.Facts.ForHire = yes()
			c.thereAndBack(24, 6*time.Hour)(p)
			p.Legs = p.Legs[leg : leg+1]
		})
		c.holds(alone.Flight.ID, want)
	}
}

// TestALaterLegStartsAfterTheHoursOfTheOnesBefore: 58.5 hours are left to the 100-hour inspection, and 8.5 to the oil change.
func TestALaterLegStartsAfterTheHoursOfTheOnesBefore(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	plain := a.Facts
	since := func(hours float64, cycles int) {
		t.Helper()
		facts := plain
		u := *facts.Upkeep
		facts.Upkeep = &u
		facts.HoursSinceInspection, u.Cycles = &hours, &cycles
		u.Items = append(slices.Clone(u.Items), casefile.UpkeepItem{
			ID: "gear-legs", Kind: "life-limit", What: "gear legs", Citation: "limitations section (invented)",
			First: &casefile.DueAt{Cycles: new(6122)},
		})
		c.must(c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{Aircraft: c.aircraft, Version: a.Version, Facts: &facts}, nil, keep(&a)))
	}
	flight := c.plan(24, func(p *hangar.FlightPlan) {
		p.Facts.ForHire, p.Facts.Hours = yes(), new(2.5)
		c.thereAndBack(24, time.Hour)(p)
	}).Flight.ID
	legs := func(want ...string) {
		t.Helper()
		if h := c.flight(flight).Hold; h.Legs[0].Verdict != want[0] || h.Legs[1].Verdict != want[1] {
			t.Errorf("the legs are %+v, want %v", h.Legs, want)
		}
	}
	since(97.5, 6120) // exactly as much as both take
	legs("clear", "clear")
	since(97.6, 6120) // the first takes 1.25 h
	legs("clear", "grounded")
	c.holds(flight, "grounded")
	since(98.8, 6120)
	legs("grounded", "grounded")
	since(90, 6121) // one landing is left, and each leg ends with one
	legs("clear", "grounded")
	l, err := c.service.Due(t.Context(), c.who, c.aircraft)
	if err != nil || l.Flights != 1 {
		t.Fatalf("%d flights, %v", l.Flights, err)
	}
	i := slices.IndexFunc(l.Items, func(i casefile.DueItem) bool { return i.ID == "gear-legs" })
	if out := l.Items[i].RunsOut; out == nil || out.Leg != 2 || out.Nth != 1 || len(l.Items[i].Holds) != 1 ||
		out.Says != "The gear legs has fallen due when the second leg of the first flight of Monday 11 January 2027 departs." {
		t.Errorf("the life limit runs out %+v", out)
	}
}

// TestBadLegsAreRefused names what is wrong, and writes nothing.
func TestBadLegsAreRefused(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	for _, tt := range []struct {
		field, rule string
		change      func([]hangar.LegPlan) []hangar.LegPlan
	}{
		{"legs", "required", func([]hangar.LegPlan) []hangar.LegPlan { return []hangar.LegPlan{} }},
		{"legs", "length", func(l []hangar.LegPlan) []hangar.LegPlan { return slices.Repeat(l, 11) }},
		{"legs[1].departs", "in-order", func(l []hangar.LegPlan) []hangar.LegPlan {
			l[1].Departs = l[0].Arrives.Add(-time.Second)
			return l
		}},
		{"legs[1].from", "where-it-is", func(l []hangar.LegPlan) []hangar.LegPlan {
			l[1].From.Lat = new(40.3)
			return l
		}},
		{"legs[0].to", "one-place", func(l []hangar.LegPlan) []hangar.LegPlan {
			l[0].To.Base = &c.base
			return l
		}},
		{"legs[0].to", "place", func(l []hangar.LegPlan) []hangar.LegPlan {
			l[0].To.Lon = nil
			return l
		}},
		{"legs[0].to", "place", func(l []hangar.LegPlan) []hangar.LegPlan {
			l[0].To = hangar.PlacePlan{}
			return l
		}},
		{"legs[0].to.lat", "range", func(l []hangar.LegPlan) []hangar.LegPlan {
			l[0].To.Lat = new(90.1)
			return l
		}},
		{"legs[1].to", "known-base", func(l []hangar.LegPlan) []hangar.LegPlan {
			l[1].To.Base = new(newID())
			return l
		}},
		{"legs[1].arrives", "after-departs", func(l []hangar.LegPlan) []hangar.LegPlan {
			l[1].Arrives = l[1].Departs
			return l
		}},
		{"legs[1].arrives", "window", func(l []hangar.LegPlan) []hangar.LegPlan {
			l[1].Arrives = l[0].Departs.Add(casefile.MaxWindow + time.Second)
			return l
		}},
		{"flight.hours", "at-most-window", nil},
	} {
		_, err := c.service.PlanFlight(t.Context(), c.who, func() hangar.FlightPlan {
			p := c.flightPlan(24)
			c.thereAndBack(24, time.Hour)(&p)
			if tt.change == nil {
				p.Facts.Hours = new(3.1)
			} else {
				p.Legs = tt.change(p.Legs)
			}
			return p
		}(), nil, keep(&hangar.HeldFlight{}))
		if err == nil {
			t.Errorf("%s: %s is accepted", tt.field, tt.rule)
			continue
		}
		refused(t, err, tt.field, tt.rule)
	}
	if all, err := c.service.Flights(t.Context(), c.who, hangar.FlightFilter{}, hangar.Page{Limit: 9}); err != nil || len(all) > 0 {
		t.Errorf("%d flights, %v: something was written", len(all), err)
	}
	whole := c.plan(24, func(p *hangar.FlightPlan) {
		c.thereAndBack(24, 0)(p)
		p.Facts.Hours = new(3.0) // the whole of both windows
	})
	c.holds(whole.Flight.ID, "clear")
}

// TestAnAirportIsCopied holds that a flight keeps the place of an airport as the list had it, and that the import is told.
func TestAnAirportIsCopied(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	var n int
	c.must(c.service.ImportAirports(t.Context(), c.who, []byte("ident,name,latitude_deg,longitude_deg\nN0ST,Strip,40.2,-95.5\n"), nil, keep(&n)))
	flight := c.plan(24, func(p *hangar.FlightPlan) {
		c.thereAndBack(24, time.Hour)(p)
		p.Legs[0].To, p.Legs[1].From = hangar.PlacePlan{Airport: new("N0ST")}, hangar.PlacePlan{Airport: new("N0ST")}
	}).Flight
	c.must(c.service.ImportAirports(t.Context(), c.who, []byte("ident,name,latitude_deg,longitude_deg\nN0ST,Elsewhere,-40,95\n"), nil, keep(&n)))
	want := techlog.Spot{Ident: "N0ST", Name: "Strip", Lat: 40.2, Lon: -95.5}
	if got := c.flight(flight.ID); n != 1 || got.Legs[0].To != want || got.Legs[1].From != want || got.Version != 1 {
		t.Errorf("%d, %+v", n, got.Legs)
	}
}

// TestABaseOnTheWayStays holds that a base where a leg starts or ends cannot be moved, and that a flight between places
// which are no bases has its date in the zone of the aircraft's base.
func TestABaseOnTheWayStays(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	var way techlog.Base
	c.must(c.service.AddBase(t.Context(), c.who, techlog.Base{Code: "WAY", Name: "On the way", Lat: 40.21, Lon: -95.5, Zone: "America/Denver"}, nil, keep(&way)))
	flight := c.plan(24, func(p *hangar.FlightPlan) {
		c.thereAndBack(24, time.Hour)(p)
		p.Legs[0].From, p.Legs[1].To = strip(), strip()
		p.Legs[0].To, p.Legs[1].From = hangar.PlacePlan{Base: &way.ID}, hangar.PlacePlan{Base: &way.ID}
	}).Flight
	if !flight.From.IsZero() || !flight.To.IsZero() || flight.Zone != "America/Chicago" {
		t.Errorf("the flight is %+v", flight)
	}
	moved := way
	moved.Lat++
	_, err := c.service.ChangeBase(t.Context(), c.who, moved, nil, keep(&moved))
	c.kind(err, techlog.KindConflict)
	c.must(c.service.CancelFlight(t.Context(), c.who, flight.ID, flight.Version, nil, keep(&flight)))
	c.must(c.service.ChangeBase(t.Context(), c.who, moved, nil, keep(&moved)))
}
