package daylight_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/daylight"
)

var atlanta = daylight.Place{Lat: 33.8, Lon: -84.4}

func utc(s string) time.Time {
	at, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return at
}

func TestAlongWithNothingToReportOn(t *testing.T) {
	t.Parallel()
	noon := utc("2024-06-21 17:00")
	for name, got := range map[string]daylight.Light{
		"no place":           daylight.Along(nil, noon, noon.Add(time.Hour)),
		"no time":            daylight.Along([]daylight.Place{atlanta}, noon, noon),
		"ends before begins": daylight.Along([]daylight.Place{atlanta}, noon, noon.Add(-time.Hour)),
	} {
		if got.Night != nil || got.SunDown != nil || got.AnyNight() || got.AnySunDown() {
			t.Errorf("%s: %+v, want the zero light", name, got)
		}
	}
}

// What isn't known counts as dark.
func TestAlongTheUnknownIsDark(t *testing.T) {
	t.Parallel()
	noon := utc("2024-06-21 17:00")
	farOff := noon.Add(daylight.LongestWindow + 1)
	for _, c := range []struct {
		name  string
		route []daylight.Place
		to    time.Time
	}{
		{"place out of range", []daylight.Place{atlanta, {Lat: 91}}, noon.Add(time.Hour)},
		{"place not a number", []daylight.Place{{Lon: math.NaN()}}, noon.Add(time.Hour)},
		{"window too long", []daylight.Place{atlanta}, farOff},
		{"window of centuries", []daylight.Place{atlanta}, noon.AddDate(2000, 0, 0)},
	} {
		got := daylight.Along(c.route, noon, c.to)
		whole := []daylight.Span{{From: noon, To: c.to}}
		if !slices.Equal(got.Night, whole) || !slices.Equal(got.SunDown, whole) {
			t.Errorf("%s: %+v, want all of it dark", c.name, got)
		}
	}
}

func TestAlongByDay(t *testing.T) {
	t.Parallel()
	got := daylight.Along([]daylight.Place{atlanta, {Lat: 36.1, Lon: -86.7}}, utc("2024-06-21 16:00"), utc("2024-06-21 18:00"))
	if got.AnyNight() || got.AnySunDown() || got.NightTotal() != 0 || got.SunDownTotal() != 0 {
		t.Errorf("noon in June: %+v, want no dark", got)
	}
}

// The dark parts of windows at one place, against the same tables as TestAlmanac: see there for their sources.
func TestAlongAlmanac(t *testing.T) {
	t.Parallel()
	longyearbyen2020 := daylight.Place{Lat: dm(78, 13), Lon: dm(15, 38)}
	longyearbyen2023 := daylight.Place{Lat: dm(78, 13), Lon: dm(15, 39)}
	mcmurdo := daylight.Place{Lat: -dm(77, 51), Lon: dm(166, 40)}
	fredonia := daylight.Place{Lat: dm(36, 57), Lon: -dm(112, 31)}
	for _, c := range []struct {
		name           string
		place          daylight.Place
		from, to       string
		night, sunDown [][2]string // an empty entry is the start or end of the window; nil is not in that table
	}{
		{
			"evening: lights before night", atlanta, "2009-09-06 21:00", "2009-09-07 02:00",
			[][2]string{{"2009-09-07 00:21", ""}},
			[][2]string{{"2009-09-06 23:56", ""}},
		},
		{
			"morning: lights after night", atlanta, "2009-09-06 08:00", "2009-09-06 13:00",
			[][2]string{{"", "2009-09-06 10:50"}},
			[][2]string{{"", "2009-09-06 11:15"}},
		},
		{
			"two nights", fredonia, "2023-01-01 12:00", "2023-01-03 19:00",
			nil,
			[][2]string{
				{"", "2023-01-01 14:43"},
				{"2023-01-02 00:24", "2023-01-02 14:43"},
				{"2023-01-03 00:25", "2023-01-03 14:44"},
			},
		},
		{
			"two sunrises on one date", longyearbyen2020, "2020-04-16 00:00", "2020-04-17 12:00",
			[][2]string{},
			[][2]string{{"", "2020-04-16 00:20"}, {"2020-04-16 21:55", "2020-04-16 23:57"}},
		},
		{
			"two dawns on one date", longyearbyen2023, "2023-04-03 00:00", "2023-04-04 12:00",
			[][2]string{{"", "2023-04-03 00:18"}, {"2023-04-03 22:08", "2023-04-03 23:51"}},
			nil,
		},
		{
			"first dawns of the polar night's end", mcmurdo, "2023-08-02 00:00", "2023-08-03 00:00",
			[][2]string{{"", "2023-08-02 00:10"}, {"2023-08-02 01:51", "2023-08-02 23:50"}},
			nil,
		},
		{
			"midnight sun", longyearbyen2020, "2020-06-01 00:00", "2020-07-01 00:00",
			[][2]string{},
			[][2]string{},
		},
		{
			"polar night", mcmurdo, "2023-05-14 00:00", "2023-07-30 00:00",
			[][2]string{{"", ""}},
			[][2]string{{"", ""}},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			from, to := utc(c.from), utc(c.to)
			got := daylight.Along([]daylight.Place{c.place}, from, to)
			checkSpans(t, "night", got.Night, c.night, from, to)
			checkSpans(t, "sun-down", got.SunDown, c.sunDown, from, to)
		})
	}
}

func checkSpans(t *testing.T, name string, got []daylight.Span, want [][2]string, from, to time.Time) {
	t.Helper()
	if want == nil {
		return
	}
	if len(got) != len(want) {
		t.Fatalf("%s: %v, want %v", name, got, want)
	}
	for i, span := range got {
		begin, end := from, to
		if want[i][0] != "" {
			begin = utc(want[i][0])
		}
		if want[i][1] != "" {
			end = utc(want[i][1])
		}
		if span.From.Sub(begin).Abs() > time.Minute || span.To.Sub(end).Abs() > time.Minute {
			t.Errorf("%s: %v, want %v", name, span, want[i])
		}
	}
}

// Over a pole and over the date line, where the season alone settles the answer.
func TestAlongOverThePoleAndTheDateLine(t *testing.T) {
	t.Parallel()
	overThePole := []daylight.Place{{Lat: 84, Lon: -45}, {Lat: 84, Lon: 135}}
	if got := daylight.Along(overThePole, utc("2024-06-21 00:00"), utc("2024-06-21 12:00")); got.AnySunDown() {
		t.Errorf("over the north pole in June: %+v, want light", got)
	}
	from, to := utc("2024-12-21 00:00"), utc("2024-12-21 12:00")
	if got := daylight.Along(overThePole, from, to); got.NightTotal() != 12*time.Hour {
		t.Errorf("over the north pole in December: %+v, want night throughout", got)
	}
	// At 00:00 UTC it is noon at longitude 180: the short way over the date line is by day, the way round isn't.
	overTheLine := []daylight.Place{{Lat: 0, Lon: 170}, {Lat: 0, Lon: -170}}
	if got := daylight.Along(overTheLine, utc("2024-03-19 23:00"), utc("2024-03-20 01:00")); got.AnySunDown() {
		t.Errorf("over the date line at noon: %+v, want light", got)
	}
}

// Twilight at both ends and night between them is found however fast the flight: at the March equinox, with the sun
// near latitude 0 and longitude 0, from one side of the earth's shadow to the other in five minutes.
func TestAlongThroughTheShadow(t *testing.T) {
	t.Parallel()
	route := []daylight.Place{{Lat: 0, Lon: 94}, {Lat: 0, Lon: -94}}
	from := utc("2024-03-20 12:05")
	to := from.Add(5 * time.Minute)
	for _, end := range []struct {
		place daylight.Place
		at    time.Time
	}{{route[0], from}, {route[1], to}} {
		if altitude := daylight.Altitude(end.place, end.at); altitude < civilAltitude || altitude > sunriseAltitude {
			t.Fatalf("the sun stands at %v over %v, want twilight", altitude, end.place)
		}
	}
	got := daylight.Along(route, from, to)
	if len(got.Night) != 1 || got.NightTotal() < 4*time.Minute || got.SunDownTotal() != 5*time.Minute {
		t.Errorf("%+v, want the sun down throughout and night for most of it", got)
	}
}

func drawRoute(t *rapid.T) []daylight.Place {
	n := rapid.IntRange(1, 5).Draw(t, "places")
	route := make([]daylight.Place, n)
	for i := range route {
		route[i] = drawPlace(t, 90)
	}
	return route
}

func drawWindow(t *rapid.T) (time.Time, time.Time) {
	from := drawInstant(t)
	length := rapid.OneOf(
		rapid.Int64Range(1, int64(time.Minute)),
		rapid.Int64Range(int64(time.Minute), int64(12*time.Hour)),
		rapid.Int64Range(int64(12*time.Hour), int64(5*24*time.Hour)),
	).Draw(t, "length")
	return from, from.Add(time.Duration(length))
}

// On any route, the spans agree with a look at the sun from the great circle, found another way, at 500 instants.
func TestAlongAgreesWithLooking(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		route := rapid.Custom(drawRoute).Filter(hasCourse).Draw(t, "route")
		from := drawInstant(t)
		window := time.Duration(rapid.Int64Range(int64(time.Minute), int64(5*24*time.Hour)).Draw(t, "length"))
		light := daylight.Along(route, from, from.Add(window))
		height := func(since time.Duration, limit float64) float64 {
			since = max(0, min(window, since))
			return daylight.Altitude(placeAlong(route, float64(since)/float64(window)), from.Add(since)) - limit
		}
		for i := range 500 {
			since := window / 500 * time.Duration(i)
			for _, c := range []struct {
				name  string
				spans []daylight.Span
				limit float64
			}{
				{"sun-down", light.SunDown, sunriseAltitude},
				{"night", light.Night, civilAltitude},
			} {
				at := height(since, c.limit)
				// Along promises nothing of parts shorter than a second, nor of edges to better than that.
				if at*height(since-time.Second, c.limit) <= 0 || at*height(since+time.Second, c.limit) <= 0 {
					continue
				}
				if dark := covers(c.spans, from.Add(since)); dark != (at < 0) {
					t.Fatalf("%s is %v after %v, with the sun %.6f degrees above the limit", c.name, dark, since, at)
				}
			}
		}
	})
}

func covers(spans []daylight.Span, at time.Time) bool {
	return slices.ContainsFunc(spans, func(s daylight.Span) bool { return !at.Before(s.From) && at.Before(s.To) })
}

// hasCourse leaves out legs between opposite places, where placeAlong loses its figures.
func hasCourse(route []daylight.Place) bool {
	for i := range len(route) - 1 {
		if haversine(route[i], route[i+1]) > math.Pi-1e-3 {
			return false
		}
	}
	return true
}

// placeAlong is the place at a fraction of the route's length, by the law of sines on the sphere.
func placeAlong(route []daylight.Place, fraction float64) daylight.Place {
	var whole float64
	for i := range len(route) - 1 {
		whole += haversine(route[i], route[i+1])
	}
	left := fraction * whole
	for i := range len(route) - 1 {
		leg := haversine(route[i], route[i+1])
		if left > leg || leg == 0 {
			left -= leg
			continue
		}
		a, b := math.Sin(leg-left)/math.Sin(leg), math.Sin(left)/math.Sin(leg)
		p, q := cartesian(route[i]), cartesian(route[i+1])
		x, y, z := a*p[0]+b*q[0], a*p[1]+b*q[1], a*p[2]+b*q[2]
		return daylight.Place{
			Lat: math.Atan2(z, math.Hypot(x, y)) * 180 / math.Pi,
			Lon: math.Atan2(y, x) * 180 / math.Pi,
		}
	}
	return route[len(route)-1]
}

func haversine(p, q daylight.Place) float64 {
	const rad = math.Pi / 180
	sinLat, sinLon := math.Sin((q.Lat-p.Lat)*rad/2), math.Sin((q.Lon-p.Lon)*rad/2)
	h := sinLat*sinLat + math.Cos(p.Lat*rad)*math.Cos(q.Lat*rad)*sinLon*sinLon
	return 2 * math.Asin(math.Sqrt(min(1, h)))
}

func cartesian(p daylight.Place) [3]float64 {
	lat, lon := p.Lat*math.Pi/180, p.Lon*math.Pi/180
	return [3]float64{math.Cos(lat) * math.Cos(lon), math.Cos(lat) * math.Sin(lon), math.Sin(lat)}
}

// On any route: spans in order, apart, not empty, within the window; and it is never night without the sun down.
func TestAlongSpans(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		route := drawRoute(t)
		from, to := drawWindow(t)
		light := daylight.Along(route, from, to)
		for _, spans := range [][]daylight.Span{light.Night, light.SunDown} {
			last := from
			for _, s := range spans {
				if s.From.Before(last) || !s.From.Before(s.To) || s.To.After(to) {
					t.Fatalf("%v in %v to %v", spans, from, to)
				}
				last = s.To
			}
		}
		for _, night := range light.Night {
			if !slices.ContainsFunc(light.SunDown, func(s daylight.Span) bool {
				return !night.From.Before(s.From) && !night.To.After(s.To)
			}) {
				t.Fatalf("night %v outside sun-down %v", night, light.SunDown)
			}
		}
		if light.AnyNight() != (light.NightTotal() > 0) || light.AnySunDown() != (light.SunDownTotal() > 0) {
			t.Fatalf("totals %v and %v of %+v", light.NightTotal(), light.SunDownTotal(), light)
		}
	})
}

// Staying at a place for a date, the light has the day's events.
func TestAlongAgreesWithOf(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p, at := drawPlace(t, 90), drawInstant(t)
		start, end := daylight.DateBounds(at.Year(), at.Month(), at.Day(), time.UTC)
		day := daylight.Of(p, at.Year(), at.Month(), at.Day(), time.UTC)
		light := daylight.Along([]daylight.Place{p, p, p}, start, end)
		agreeWithDay(t, light.SunDown, start, end, day.Sun, day.Sunrise, day.Sunset)
		agreeWithDay(t, light.Night, start, end, day.Civil, day.CivilDawn, day.CivilDusk)
	})
}

func agreeWithDay(t *rapid.T, dark []daylight.Span, start, end time.Time, state daylight.State, rise, set time.Time) {
	var firstRise, firstSet time.Time
	for _, s := range slices.Backward(dark) {
		if s.To.Before(end) {
			firstRise = s.To
		}
		if s.From.After(start) {
			firstSet = s.From
		}
	}
	if !firstRise.Equal(rise) || !firstSet.Equal(set) {
		t.Fatalf("dark %v, day rises %v sets %v", dark, rise, set)
	}
	want := daylight.Crosses
	switch {
	case firstRise.IsZero() && firstSet.IsZero() && len(dark) == 0:
		want = daylight.UpAllDay
	case firstRise.IsZero() && firstSet.IsZero():
		want = daylight.DownAllDay
	}
	if state != want {
		t.Fatalf("dark %v, day %v, want %v", dark, state, want)
	}
}

// What doesn't change the flight doesn't change its light: places named twice, the way there and back turned round,
// or the window cut in two while it stays put.
func TestAlongSameFlight(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p, q := drawPlace(t, 90), drawPlace(t, 90)
		from, to := drawWindow(t)

		once := daylight.Along([]daylight.Place{p, q}, from, to)
		twice := daylight.Along([]daylight.Place{p, p, q, q, q}, from, to)
		sameTotals(t, "places named twice", once, twice.NightTotal(), twice.SunDownTotal())

		there := []daylight.Place{p, q, p}
		back := slices.Clone(there)
		slices.Reverse(back)
		turned := daylight.Along(back, from, to)
		sameTotals(t, "turned round", daylight.Along(there, from, to), turned.NightTotal(), turned.SunDownTotal())

		middle := from.Add(to.Sub(from) / 3)
		if !from.Before(middle) {
			return
		}
		stay := []daylight.Place{p}
		before, after := daylight.Along(stay, from, middle), daylight.Along(stay, middle, to)
		sameTotals(t, "cut in two", daylight.Along(stay, from, to),
			before.NightTotal()+after.NightTotal(), before.SunDownTotal()+after.SunDownTotal())
	})
}

func sameTotals(t *rapid.T, name string, want daylight.Light, night, sunDown time.Duration) {
	// Each of up to a dozen edges may differ by a second.
	const edges = 12 * time.Second
	if (night-want.NightTotal()).Abs() > edges || (sunDown-want.SunDownTotal()).Abs() > edges {
		t.Fatalf("%s: night %v and sun-down %v, want %v and %v", name, night, sunDown, want.NightTotal(), want.SunDownTotal())
	}
}

func BenchmarkAlongTwoHourFlight(b *testing.B) {
	route := []daylight.Place{atlanta, {Lat: 36.1, Lon: -86.7}, {Lat: 38.2, Lon: -85.7}}
	from, to := utc("2009-09-06 23:00"), utc("2009-09-07 01:00")
	for b.Loop() {
		if !daylight.Along(route, from, to).AnyNight() {
			b.Fatal("want night")
		}
	}
}

func BenchmarkAlongLongestWindow(b *testing.B) {
	from := utc("2024-01-01 00:00")
	for b.Loop() {
		if !daylight.Along([]daylight.Place{atlanta}, from, from.Add(daylight.LongestWindow)).AnyNight() {
			b.Fatal("want night")
		}
	}
}

func BenchmarkAlongLongestWindowAtThePole(b *testing.B) {
	from := utc("2024-01-01 00:00")
	for b.Loop() {
		if !daylight.Along([]daylight.Place{{Lat: 90}}, from, from.Add(daylight.LongestWindow)).AnyNight() {
			b.Fatal("want night")
		}
	}
}

func BenchmarkOf(b *testing.B) {
	for b.Loop() {
		if daylight.Of(atlanta, 2009, 9, 6, time.UTC).Sun != daylight.Crosses {
			b.Fatal("want a sunrise")
		}
	}
}
