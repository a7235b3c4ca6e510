package daylight_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/daylight"
)

// The two limits as this test understands them: U.S. Naval Observatory, Rise, Set, and Twilight Definitions.
const (
	sunriseAltitude = -50.0 / 60
	civilAltitude   = -6.0
)

func drawPlace(t *rapid.T, maxLat float64) daylight.Place {
	return daylight.Place{
		Lat: rapid.Float64Range(-maxLat, maxLat).Draw(t, "lat"),
		Lon: rapid.Float64Range(-180, 180).Draw(t, "lon"),
	}
}

func drawInstant(t *rapid.T) time.Time {
	first := time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	last := time.Date(2060, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	return time.Unix(rapid.Int64Range(first, last).Draw(t, "instant"), 0).UTC()
}

func TestPlaceValid(t *testing.T) {
	t.Parallel()
	for p, want := range map[daylight.Place]bool{
		{}:                                 true,
		{Lat: 90, Lon: 180}:                true,
		{Lat: -90, Lon: -180}:              true,
		{Lat: 90.001}:                      false,
		{Lat: -90.001}:                     false,
		{Lon: 180.001}:                     false,
		{Lon: -180.001}:                    false,
		{Lat: math.Inf(1)}:                 false,
		{Lon: math.Inf(-1)}:                false,
		{Lat: math.NaN()}:                  false,
		{Lat: 10, Lon: math.NaN()}:         false,
		{Lat: 51.477, Lon: -0.001}:         true,
		{Lat: 1e308, Lon: 1e308}:           false,
		{Lat: math.SmallestNonzeroFloat64}: true,
	} {
		if got := p.Valid(); got != want {
			t.Errorf("%v: %v, want %v", p, got, want)
		}
	}
}

func TestUnknownPlaceHasNoAnswer(t *testing.T) {
	t.Parallel()
	nowhere := daylight.Place{Lat: 91}
	if got := daylight.Altitude(nowhere, time.Unix(0, 0)); !math.IsNaN(got) {
		t.Errorf("altitude %v, want NaN", got)
	}
	if got := daylight.Of(nowhere, 2024, 6, 21, time.UTC); got != (daylight.Day{}) || got.Sun != daylight.Unknown {
		t.Errorf("day %+v, want the zero day, unknown", got)
	}
}

func TestStateNames(t *testing.T) {
	t.Parallel()
	for state, want := range map[daylight.State]string{
		daylight.Unknown: "unknown", daylight.Crosses: "crosses",
		daylight.UpAllDay: "up all day", daylight.DownAllDay: "down all day", 99: "unknown",
	} {
		if got := state.String(); got != want {
			t.Errorf("%d: %q, want %q", int(state), got, want)
		}
	}
}

// What clocks did on these dates is in the tz database (files northamerica, southamerica, australasia).
func TestDateBounds(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, zone  string
		date, start string // the date's first instant, in UTC
		hours       float64
	}{
		{"ordinary", "America/New_York", "2024-06-01", "2024-06-01T04:00:00Z", 24},
		{"spring forward at 02:00", "America/New_York", "2024-03-10", "2024-03-10T05:00:00Z", 23},
		{"fall back at 02:00", "America/New_York", "2024-11-03", "2024-11-03T04:00:00Z", 25},
		{"midnight skipped", "America/Sao_Paulo", "2018-11-04", "2018-11-04T03:00:00Z", 23},
		{"midnight twice", "America/Havana", "2024-11-03", "2024-11-03T04:00:00Z", 25},
		{"half an hour back", "Australia/Lord_Howe", "2024-04-07", "2024-04-06T13:00:00Z", 24.5},
		{"fourteen hours east", "Pacific/Kiritimati", "2024-06-01", "2024-05-31T10:00:00Z", 24},
		{"day before the skipped date", "Pacific/Apia", "2011-12-29", "2011-12-29T10:00:00Z", 24},
		{"day after the skipped date", "Pacific/Apia", "2011-12-31", "2011-12-30T10:00:00Z", 24},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			date, err := time.Parse(time.DateOnly, c.date)
			if err != nil {
				t.Fatal(err)
			}
			wantStart, err := time.Parse(time.RFC3339, c.start)
			if err != nil {
				t.Fatal(err)
			}
			start, end := daylight.DateBounds(date.Year(), date.Month(), date.Day(), zone(c.zone))
			if !start.Equal(wantStart) || end.Sub(start).Hours() != c.hours {
				t.Errorf("from %v for %v hours, want %v for %v", start.UTC(), end.Sub(start).Hours(), wantStart, c.hours)
			}
		})
	}
}

func TestSkippedDateIsUnknown(t *testing.T) {
	t.Parallel()
	apia := daylight.Place{Lat: -13.8, Lon: -171.8}
	if got := daylight.Of(apia, 2011, 12, 30, zone("Pacific/Apia")); got != (daylight.Day{}) {
		t.Errorf("%+v, want the zero day", got)
	}
	if got := daylight.Of(apia, 2011, 12, 31, zone("Pacific/Apia")); got.Sun != daylight.Crosses {
		t.Errorf("the day after is %v, want crosses", got.Sun)
	}
}

// A date with a change of clocks keeps its sunrise: the same instants as in a zone without the change.
func TestClockChangeDoesNotMoveTheSun(t *testing.T) {
	t.Parallel()
	atlanta := daylight.Place{Lat: 33.8, Lon: -84.4}
	for _, day := range []int{9, 10, 11} {
		got := daylight.Of(atlanta, 2024, time.March, day, zone("America/New_York"))
		want := daylight.Of(atlanta, 2024, time.March, day, hoursEast(-5))
		for _, pair := range [][2]time.Time{
			{got.CivilDawn, want.CivilDawn},
			{got.Sunrise, want.Sunrise},
			{got.Sunset, want.Sunset},
			{got.CivilDusk, want.CivilDusk},
		} {
			if off := pair[0].Sub(pair[1]); off.Abs() > time.Second {
				t.Errorf("March %d: %v, want %v", day, pair[0], pair[1])
			}
			if pair[0].Location().String() != "America/New_York" {
				t.Errorf("March %d: %v isn't in the zone of the date", day, pair[0])
			}
		}
	}
}

func TestNoZoneIsUTC(t *testing.T) {
	t.Parallel()
	p := daylight.Place{Lat: 40, Lon: -100}
	if got, want := daylight.Of(p, 2024, 5, 5, nil), daylight.Of(p, 2024, 5, 5, time.UTC); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// Below 55 degrees, on a date kept by the sun, the four events come in order and civil twilight is never all night.
func TestEventsInOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p, at := drawPlace(t, 55), drawInstant(t)
		solar := time.FixedZone("", int(p.Lon*240)) // 240 seconds a degree
		day := daylight.Of(p, at.Year(), at.Month(), at.Day(), solar)
		if day.Sun != daylight.Crosses || day.Civil != daylight.Crosses {
			t.Fatalf("%+v, want all four events", day)
		}
		if !day.CivilDawn.Before(day.Sunrise) || !day.Sunrise.Before(day.Sunset) || !day.Sunset.Before(day.CivilDusk) {
			t.Fatalf("out of order: %+v", day)
		}
	})
}

// Anywhere, on any date, each event lies within the date, at the limit, and goes the right way; and a look at the sun
// every minute finds nothing that the day leaves out.
func TestEventsAreWhereTheSunCrosses(t *testing.T) {
	t.Parallel()
	zones := []*time.Location{time.UTC, zone("America/New_York"), zone("Pacific/Apia"), zone("Pacific/Kiritimati")}
	rapid.Check(t, func(t *rapid.T) {
		p, at := drawPlace(t, 90), drawInstant(t)
		in := rapid.SampledFrom(zones).Draw(t, "zone")
		day := daylight.Of(p, at.Year(), at.Month(), at.Day(), in)
		start, end := daylight.DateBounds(at.Year(), at.Month(), at.Day(), in)
		if start.Equal(end) {
			return
		}
		sun := crossing{p, sunriseAltitude, start, end}
		sun.check(t, day.Sun, day.Sunrise, day.Sunset)
		civil := crossing{p, civilAltitude, start, end}
		civil.check(t, day.Civil, day.CivilDawn, day.CivilDusk)
	})
}

// crossing is the plain way to look for the sun at a limit: once a minute.
type crossing struct {
	place      daylight.Place
	limit      float64
	start, end time.Time
}

func (c crossing) below(at time.Time) bool { return daylight.Altitude(c.place, at) < c.limit }

func (c crossing) check(t *rapid.T, state daylight.State, rise, set time.Time) {
	c.checkEvent(t, "rise", rise, true)
	c.checkEvent(t, "set", set, false)
	if crosses := !rise.IsZero() || !set.IsZero(); crosses != (state == daylight.Crosses) {
		t.Fatalf("%v with rise %v, set %v", state, rise, set)
	}
	for at := c.start; at.Before(c.end); at = at.Add(time.Minute) {
		if below := c.below(at); below && state == daylight.UpAllDay || !below && state == daylight.DownAllDay {
			t.Fatalf("%v, but below is %v at %v", state, below, at)
		}
		next := at.Add(time.Minute)
		if next.After(c.end) || c.below(at) == c.below(next) {
			continue
		}
		first := set
		if c.below(at) {
			first = rise
		}
		if first.IsZero() || first.After(next) {
			t.Fatalf("first event %v, but the sun crosses %v after %v", first, c.limit, at)
		}
	}
}

func (c crossing) checkEvent(t *rapid.T, name string, at time.Time, up bool) {
	if at.IsZero() {
		return
	}
	if at.Before(c.start) || at.After(c.end) {
		t.Fatalf("%s at %v, outside the date from %v to %v", name, at, c.start, c.end)
	}
	if height := daylight.Altitude(c.place, at) - c.limit; math.Abs(height) > 1e-5 {
		t.Fatalf("%s at %v, %.6f degrees from the limit", name, at, height)
	}
	if c.below(at.Add(-time.Second)) != up || c.below(at.Add(time.Second)) == up {
		t.Fatalf("%s at %v goes the wrong way", name, at)
	}
}

// The two names of the date line are one meridian, and at a pole every meridian is one place.
func TestOnePlaceTwoNames(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		at := drawInstant(t)
		lat := rapid.Float64Range(-90, 90).Draw(t, "lat")
		east, west := daylight.Place{Lat: lat, Lon: 180}, daylight.Place{Lat: lat, Lon: -180}
		if a, b := daylight.Altitude(east, at), daylight.Altitude(west, at); math.Abs(a-b) > 1e-6 {
			t.Fatalf("date line: %v and %v", a, b)
		}
		pole := daylight.Place{Lat: 90, Lon: rapid.Float64Range(-180, 180).Draw(t, "lon")}
		if a, b := daylight.Altitude(pole, at), daylight.Altitude(daylight.Place{Lat: 90}, at); math.Abs(a-b) > 1e-6 {
			t.Fatalf("pole: %v and %v", a, b)
		}
	})
}
