package hangar_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/daylight"
	"tiedown/internal/hangar"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/oracle"
)

// evaluator judges written cases; it has no records.
func evaluator(t *testing.T) *hangar.Service {
	t.Helper()
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	return hangar.New(hangar.Settings{
		Book: hangar.Book{Rules: book.Ruleset, Upkeep: book.Upkeep, Digest: book.Digest}, Now: time.Now, NewID: newID,
	})
}

// lit is a leg with its light.
func lit(from, to daylight.Place, departs, arrives time.Time) techlog.Leg {
	l := techlog.Leg{
		From: techlog.Spot{Lat: from.Lat, Lon: from.Lon}, To: techlog.Spot{Lat: to.Lat, Lon: to.Lon}, Departs: departs, Arrives: arrives,
	}
	l.Light, l.InAlaska = casefile.LightAlong([]daylight.Place{from, to}, departs, arrives)
	return l
}

// onTheWay is the point so far along the great circle from p to q, by spherical interpolation.
func onTheWay(p, q daylight.Place, fraction float64) daylight.Place {
	rad := math.Pi / 180
	whole := techlog.Spot{Lat: p.Lat, Lon: p.Lon}.NMApart(techlog.Spot{Lat: q.Lat, Lon: q.Lon}) / 60 * rad
	if whole < 1e-9 {
		return p
	}
	a, b := math.Sin((1-fraction)*whole)/math.Sin(whole), math.Sin(fraction*whole)/math.Sin(whole)
	x := a*math.Cos(p.Lat*rad)*math.Cos(p.Lon*rad) + b*math.Cos(q.Lat*rad)*math.Cos(q.Lon*rad)
	y := a*math.Cos(p.Lat*rad)*math.Sin(p.Lon*rad) + b*math.Cos(q.Lat*rad)*math.Sin(q.Lon*rad)
	z := a*math.Sin(p.Lat*rad) + b*math.Sin(q.Lat*rad)
	return daylight.Place{Lat: math.Atan2(z, math.Hypot(x, y)) / rad, Lon: math.Atan2(y, x) / rad}
}

// onTheEdge says whether so much dark in a window is too little, or too much, for the boundary of a second to be sure.
func onTheEdge(dark, window time.Duration) bool {
	const edges = 5 * time.Second
	return dark > 0 && dark < edges || dark < window && window-dark < edges
}

// TestALandingOnTheWayMakesNothingWorse holds of random cases that a flight which is cut in two, at a point of its great circle
// and the time at which it passes there, meets the light that it met as a whole, and that neither part is judged worse than
// the whole, nor both of them better. Left out is what each landing counts for, what is said of the first departure, and the one
// operation that is a flight at night as such: a part of it by day is none. An organization's own rule may ask something of
// flights without any daylight, which a part can be while the whole is not: those rules are left out, too.
func TestALandingOnTheWayMakesNothingWorse(t *testing.T) {
	t.Parallel()
	s := evaluator(t)
	rapid.Check(t, func(t *rapid.T) {
		c := oracle.Drawn(t).Case()
		c.Flight.UnderWay, c.Flight.RepairImpossible, c.Flight.Light, c.Flight.Route = false, false, nil, nil
		if e := c.Flight.Earlier; e != nil && c.Flight.Hours != nil {
			c.Flight.Hours = new(max(0, *c.Flight.Hours-e.WindowHours))
		}
		c.CompanyRules = nil
		c.Flight.Operations = slices.DeleteFunc(c.Flight.Operations, func(o string) bool { return o == "nvg" })
		if u := c.Aircraft.Facts.Upkeep; u != nil {
			u.Items = slices.DeleteFunc(u.Items, func(i casefile.UpkeepItem) bool {
				return i.First != nil && i.First.Cycles != nil || i.Every != nil && i.Every.Cycles > 0
			})
		}
		from := daylight.Place{Lat: rapid.Float64Range(-65, 65).Draw(t, "lat"), Lon: rapid.Float64Range(-179, 179).Draw(t, "lon")}
		to := daylight.Place{Lat: from.Lat + rapid.Float64Range(-4, 4).Draw(t, "north"), Lon: from.Lon + rapid.Float64Range(-1, 1).Draw(t, "east")}
		departs, window := c.Flight.Departs, c.Flight.Arrives.Sub(c.Flight.Departs)
		fraction := rapid.Float64Range(0.1, 0.9).Draw(t, "fraction")
		lands := departs.Add(time.Duration(fraction * float64(window)))
		middle := onTheWay(from, to, fraction)
		if lands.Format(time.DateOnly) != departs.Format(time.DateOnly) {
			t.Skip("what has to be so on the day of departure is asked of another day")
		}

		whole := techlog.Flight{Rules: c.Flight.Rules, Facts: c.Flight.FlightFacts}
		cut := whole
		whole.Over([]techlog.Leg{lit(from, to, departs, c.Flight.Arrives)})
		cut.Over([]techlog.Leg{lit(from, middle, departs, lands), lit(middle, to, lands, c.Flight.Arrives)})
		for _, l := range [][]time.Duration{{departs.Sub(departs), window}, {0, lands.Sub(departs)}, {lands.Sub(departs), window}} {
			part := daylight.Along([]daylight.Place{onTheWay(from, to, float64(l[0])/float64(window)), onTheWay(from, to, float64(l[1])/float64(window))},
				departs.Add(l[0]), departs.Add(l[1]))
			if onTheEdge(part.NightTotal(), l[1]-l[0]) || onTheEdge(part.SunDownTotal(), l[1]-l[0]) {
				t.Skip("the sun crosses within a second of an end")
			}
		}
		if a, b := whole.Light, cut.Light; *a.Day != *b.Day || *a.Night != *b.Night || *a.SunsetToSunrise != *b.SunsetToSunrise {
			t.Fatalf("the whole is day %v night %v dark %v, its parts %v %v %v", *a.Day, *a.Night, *a.SunsetToSunrise, *b.Day, *b.Night, *b.SunsetToSunrise)
		}

		judged := func(f *techlog.Flight, leg int) airworthiness.Verdict {
			c.Flight = f.Case(leg, departs.Location())
			answer, err := s.Evaluate(c)
			if err != nil {
				t.Fatal(err)
			}
			verdict, _ := airworthiness.ParseVerdict(answer.Verdict)
			return verdict
		}
		one, first, second := judged(&whole, 0), judged(&cut, 0), judged(&cut, 1)
		if both := airworthiness.Worst(first, second); both != one {
			t.Fatalf("the whole is %v, its parts %v and %v", one, first, second)
		}
	})
}
