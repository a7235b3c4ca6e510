package dispatch_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones of the tests, whatever the machine has

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/daylight"
	"tiedown/internal/demo"
	"tiedown/internal/dispatch"
	"tiedown/internal/regulation"
	"tiedown/internal/testrig/oracle"
	"tiedown/internal/testrig/scenario"
)

func book(tb testing.TB) *airworthiness.Ruleset {
	tb.Helper()
	b, err := regulation.Current()
	if err != nil {
		tb.Fatal(err)
	}
	return b.Ruleset
}

// told is the case of a story about the trainer, with some lines more.
func told(tb interface{ Fatal(...any) }, lines ...string) casefile.Case {
	text := "story: a story\nsource: none\naircraft: trainer\n" + strings.Join(lines, "\n") + "\nthen: clear\n"
	stories, err := scenario.Parse("told", text)
	if err != nil {
		tb.Fatal(err)
	}
	c, err := stories[0].Case(demo.Aircraft)
	if err != nil {
		tb.Fatal(err)
	}
	return c
}

// place is a point of a route.
func place(lat, lon float64) casefile.Place { return casefile.Place{Lat: &lat, Lon: &lon} }

// leg is the flight of a case along a route, in its zone.
func leg(c *casefile.Case, departs, arrives time.Time, route ...casefile.Place) casefile.Flight {
	l := c.Flight
	l.Departs, l.Arrives, l.Route, l.Light = departs, arrives, route, nil
	return l
}

func at(tb testing.TB, zone *time.Location, written string) time.Time {
	tb.Helper()
	t, err := time.ParseInLocation("2006-01-02 15:04", written, zone)
	if err != nil {
		tb.Fatal(err)
	}
	return t
}

func zone(tb testing.TB, name string) *time.Location {
	tb.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		tb.Fatal(err)
	}
	return z
}

// flight makes a flight of a case's aircraft and squawks.
func flight(c *casefile.Case, rules *airworthiness.Ruleset, now time.Time, legs ...casefile.Flight) (*dispatch.Flight, error) {
	with, err := casefile.CompileCompanyRules(c.CompanyRules, rules)
	if err != nil {
		return nil, err
	}
	plan, err := casefile.CompileAircraft(c.Aircraft, with, "")
	if err != nil {
		return nil, err
	}
	defects, err := casefile.CompileDefects(c.Defects, c.Aircraft.Configuration, with)
	if err := casefile.Join(err, c.Policy.Apply(defects)); err != nil {
		return nil, err
	}
	return &dispatch.Flight{
		Plan: plan, Rules: with, Facts: c.Aircraft.Facts, Defects: defects, Legs: legs, Now: now, Base: now.Location(),
	}, nil
}

func outlook(tb testing.TB, f *dispatch.Flight) dispatch.Outlook {
	tb.Helper()
	o, err := dispatch.Of(f)
	if err != nil {
		tb.Fatal(err)
	}
	return o
}

// permits judges legs in the plainest way: each with its own light, and every squawk that is open.
func permits(tb interface{ Fatal(...any) }, f *dispatch.Flight, defects []airworthiness.Defect, legs []casefile.Flight) bool {
	for i := range legs {
		e, err := casefile.CompileFlight(legs[i], f.Facts)
		if err != nil {
			tb.Fatal(err)
		}
		prepared := f.Rules.Prepare(e)
		var d airworthiness.Determination
		f.Plan.Determine(&d, defects, &prepared)
		if !d.Verdict.Permits() {
			return false
		}
	}
	return true
}

// drawCase draws an aircraft with squawks: as anything may be, or in order but for something that runs out about the day.
func drawCase(t *rapid.T) casefile.Case {
	if rapid.Bool().Draw(t, "as anything may be") {
		return oracle.Seeded(rapid.Uint64().Draw(t, "case")).Case()
	}
	lines := []string{
		"considered: all",
		"inspections: hours " + rapid.SampledFrom([]string{"41.5", "97.9", "99.0", "99.6"}).Draw(t, "hours since"),
		"papers: registration-through " + rapid.SampledFrom([]string{"2026-06-01", "2026-06-02", "2028-12-31"}).Draw(t, "registered"),
		"flight: day vfr, date 2026-06-01" + rapid.SampledFrom([]string{"", ", for-hire"}).Draw(t, "for hire"),
	}
	subjects := rapid.SliceOfNDistinct(rapid.SampledFrom([]string{
		"position-left", "landing-light", "com-nav-1", "com-nav-2", "cabin-heater", "turn-coordinator", "vacuum-pump", "strobe-left", "tire",
	}), 0, 4, rapid.ID).Draw(t, "squawks")
	for _, s := range subjects {
		switch {
		case s == "tire":
			lines = append(lines, "given: tire condition")
		case rapid.IntRange(0, 3).Draw(t, "not deferred") == 0:
			lines = append(lines, "given: "+s+" inoperative")
		default:
			lines = append(lines, "given: "+s+" inoperative, deactivated, placarded, recorded, hazard determined, until "+
				rapid.SampledFrom([]string{"2026-06-01", "2026-06-02", "2026-07-31"}).Draw(t, "until"))
		}
	}
	return told(t, lines...)
}

// drawFlight draws an aircraft with squawks and a flight of some legs. Where and when comes from a seed, as rapid's own numbers
// favor the small ones; below 60 degrees of latitude, where the sun does not skim the horizon for long.
func drawFlight(t *rapid.T, rules *airworthiness.Ruleset, most int) (*dispatch.Flight, casefile.Case) {
	c := drawCase(t)
	dice := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "where and when"), 0))
	l := c.Flight
	l.Light = nil
	departs := l.Departs.Truncate(time.Minute).Add(time.Duration(dice.IntN(24*60*60)) * time.Second)
	from := place(float64(dice.IntN(111)-55), float64(dice.IntN(359)-179))
	var legs []casefile.Flight
	hours, window := 0.0, 0.0 // of the legs so far
	for i := range 1 + dice.IntN(most) {
		to := place(*from.Lat+float64(dice.IntN(7)-3), *from.Lon)
		l.Departs = departs
		l.Arrives = departs.Add(time.Duration(5*60+dice.IntN(3*60*60)) * time.Second)
		l.Route = []casefile.Place{from, to}
		l.Earlier = nil
		if i > 0 {
			l.Earlier = &casefile.EarlierLegs{Legs: i, WindowHours: window}
		}
		window += l.Arrives.Sub(l.Departs).Hours()
		if l.Hours != nil {
			hours += 0.8 * l.Arrives.Sub(l.Departs).Hours()
			l.Hours = new(hours)
		}
		legs = append(legs, l)
		departs = l.Arrives.Add(time.Duration(dice.IntN(90)) * time.Minute)
		from = to
	}
	now := legs[0].Departs.Add(-time.Duration(dice.IntN(48*60)-30) * time.Minute)
	f, err := flight(&c, rules, now, legs...)
	if err != nil {
		t.Skip("no flight: ", err)
	}
	for i := range legs {
		if _, err := casefile.CompileFlight(legs[i], f.Facts); err != nil {
			t.Skip("no flight: ", err)
		}
	}
	return f, c
}

// without are the squawks but for those that are named.
func without(defects []airworthiness.Defect, gone []string) []airworthiness.Defect {
	return slices.DeleteFunc(slices.Clone(defects), func(d airworthiness.Defect) bool { return slices.Contains(gone, d.ID) })
}

// dark is what of a leg is dark.
func dark(l *casefile.Flight) daylight.Light {
	var route []daylight.Place
	for _, p := range l.Route {
		route = append(route, daylight.Place{Lat: *p.Lat, Lon: *p.Lon})
	}
	return daylight.Along(route, l.Departs, l.Arrives)
}
