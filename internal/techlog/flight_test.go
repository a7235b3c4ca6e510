package techlog_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// TestTheLightOfAFlightIsThatOfItsLegs: what is so on one leg is so of the flight, and what is not known of one is not
// known unless it is so on another.
func TestTheLightOfAFlightIsThatOfItsLegs(t *testing.T) {
	t.Parallel()
	yes, no := new(true), new(false)
	for _, c := range []struct{ a, b, want *bool }{
		{yes, yes, yes}, {yes, no, yes}, {no, yes, yes}, {no, no, no}, {yes, nil, yes}, {nil, yes, yes}, {no, nil, nil}, {nil, no, nil}, {nil, nil, nil},
	} {
		var f techlog.Flight
		f.Over([]techlog.Leg{
			{Light: casefile.Light{Day: c.a, Night: c.a, SunsetToSunrise: c.a}, InAlaska: c.a},
			{Light: casefile.Light{Day: c.b, Night: c.b, SunsetToSunrise: c.b}, InAlaska: c.b},
		})
		for _, got := range []*bool{f.Light.Day, f.Light.Night, f.Light.SunsetToSunrise, f.InAlaska} {
			if (got == nil) != (c.want == nil) || got != nil && *got != *c.want {
				t.Errorf("of %v and %v it is %v, want %v", c.a, c.b, got, c.want)
			}
		}
	}
}

// TestHoursAreSpreadOverTheLegs holds that the hours which are said of a flight are spread over its legs as long as their
// windows are, that each leg is judged with those before it, and that the last is judged with all of them to the bit.
func TestHoursAreSpreadOverTheLegs(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		at := time.Date(2027, time.January, 10, 18, 0, 0, 0, time.UTC)
		var legs []techlog.Leg
		var windows time.Duration
		for range rapid.IntRange(1, techlog.MaxLegs).Draw(t, "legs") {
			departs := at.Add(time.Duration(rapid.Int64Range(0, int64(10*time.Hour)).Draw(t, "ground")))
			at = departs.Add(time.Duration(rapid.Int64Range(int64(time.Microsecond), int64(20*time.Hour)).Draw(t, "window")))
			legs, windows = append(legs, techlog.Leg{Departs: departs, Arrives: at}), windows+at.Sub(departs)
		}
		said := windows.Hours() * rapid.SampledFrom([]float64{0, 0.3, 0.7, 1}).Draw(t, "part")
		f := techlog.Flight{Rules: "vfr", Facts: casefile.FlightFacts{Hours: &said, UnderWay: true, RepairImpossible: true}}
		f.Over(legs)
		var before, alone float64
		for i := range legs {
			c := f.Case(i, time.UTC)
			by := *f.LegAlone(i, time.UTC).Hours
			if want := said * legs[i].Lasts().Hours() / windows.Hours(); math.Abs(by-want) > 1e-9 || by < 0 || by > legs[i].Lasts().Hours() {
				t.Fatalf("leg %d takes %v h, want %v", i, by, want)
			}
			if alone += by; *c.Hours < before || math.Abs(*c.Hours-alone) > 1e-6 {
				t.Fatalf("by the end of leg %d it is %v h, want %v", i, *c.Hours, alone)
			}
			if _, err := casefile.CompileFlight(c, casefile.Facts{}); err != nil {
				t.Fatalf("leg %d: %v", i, err)
			}
			first := i == 0
			if (c.Earlier == nil) != first || !first && c.Earlier.Legs != i || c.UnderWay != first || c.RepairImpossible != first {
				t.Fatalf("leg %d is %+v", i, c)
			}
			before = *c.Hours
		}
		if before != said {
			t.Fatalf("all legs take %v h, want %v", before, said)
		}
	})
}

// TestUnsaidHoursStayUnsaid: of a flight that says nothing, no leg says anything.
func TestUnsaidHoursStayUnsaid(t *testing.T) {
	t.Parallel()
	var f techlog.Flight
	f.Over(make([]techlog.Leg, 3))
	for i := range 3 {
		if c := f.Case(i, time.UTC); c.Hours != nil || f.LegAlone(i, time.UTC).Hours != nil {
			t.Errorf("leg %d takes %v h", i, c.Hours)
		}
	}
}

// TestNMApart: a minute of latitude is a nautical mile, and of longitude at 60 degrees half of one, on a sphere.
func TestNMApart(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		a, b techlog.Spot
		want float64
	}{
		{techlog.Spot{Lat: 41, Lon: -95}, techlog.Spot{Lat: 41, Lon: -95}, 0},
		{techlog.Spot{Lat: 41, Lon: -95}, techlog.Spot{Lat: 42, Lon: -95}, 60},
		{techlog.Spot{Lat: 60}, techlog.Spot{Lat: 60, Lon: 1.0 / 60}, 0.5},
		{techlog.Spot{Lon: 179.5}, techlog.Spot{Lon: -179.5}, 60},
		{techlog.Spot{Lat: 90}, techlog.Spot{Lat: -90}, 10800},
	} {
		if got := c.a.NMApart(c.b); math.Abs(got-c.want) > 1e-3 {
			t.Errorf("from %v to %v it is %v NM, want %v", c.a, c.b, got, c.want)
		}
	}
}
