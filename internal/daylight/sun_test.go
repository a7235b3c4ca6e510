package daylight

import (
	"math"
	"testing"
	"time"
)

func daysSinceEpoch(t *testing.T, at string) float64 {
	t.Helper()
	instant, err := time.Parse(time.RFC3339, at)
	if err != nil {
		t.Fatal(err)
	}
	return float64(instant.Unix()-j2000) / secondsPerDay
}

// Meeus, Astronomical Algorithms, example 25.a: the sun on 1992 October 13 at 0h has right ascension 13h 13m 31.4s
// and declination -7 degrees 47' 06"; figures as in architest/pymeeus, docs/source/ex-Sun.rst.
func TestSunAmongStarsMeeusExample(t *testing.T) {
	t.Parallel()
	got := sunAmongStars(daysSinceEpoch(t, "1992-10-13T00:00:00Z"))
	const halfSecondOfArc = 0.5 / 3600
	declination := degrees(math.Asin(got.z))
	if want := -(7 + 47.0/60 + 6.0/3600); math.Abs(declination-want) > halfSecondOfArc+1e-9 {
		t.Errorf("declination %.5f, want %.5f", declination, want)
	}
	ascension := math.Mod(degrees(math.Atan2(got.y, got.x))+360, 360)
	if want := 15 * (13 + 13.0/60 + 31.4/3600); math.Abs(ascension-want) > 15*0.05/3600+1e-9 {
		t.Errorf("right ascension %.5f, want %.5f", ascension, want)
	}
}

// Meeus, example 12.a: the apparent sidereal time at Greenwich on 1987 April 10 at 0h UT is 13h 10m 46.135s; figure
// as in Susarro/arqastwb, tests/testthat/test_sidereal_time_greenwich.R. With only the chief term of the nutation we
// may be out by the others, 2 seconds of arc (Meeus, chapter 22).
func TestSiderealTimeMeeusExample(t *testing.T) {
	t.Parallel()
	got := math.Mod(siderealTime(daysSinceEpoch(t, "1987-04-10T00:00:00Z")), 360)
	if got < 0 {
		got += 360
	}
	want := 15 * (13 + 10.0/60 + 46.135/3600)
	if math.Abs(got-want) > 2.0/3600 {
		t.Errorf("%.6f degrees, want %.6f", got, want)
	}
}

// The worked example of NREL's Solar Position Algorithm (NREL/TP-560-34302, appendix A.5): elevation 39.872046
// degrees before refraction; figure as in pvlib/pvlib-python, tests/test_solarposition.py.
func TestAltitudeNRELExample(t *testing.T) {
	t.Parallel()
	got := Altitude(Place{39.742476, -105.1786}, time.Date(2003, 10, 17, 19, 30, 30, 0, time.UTC))
	if math.Abs(got-39.872046) > 0.01 {
		t.Errorf("%.4f degrees, want 39.8720", got)
	}
}

// Rounding must not turn the sun overhead, or straight underfoot, into no answer.
func TestElevationOverheadAndUnderfoot(t *testing.T) {
	t.Parallel()
	for hour := range 1000 {
		at := time.Date(2024, 1, 1, hour, 0, 0, 0, time.UTC)
		overhead := sun(at)
		if got := overhead.elevation(at); !(got > 89.999) {
			t.Fatalf("%v: overhead at %v degrees", at, got)
		}
		if got := overhead.times(-1).elevation(at); !(got < -89.999) {
			t.Fatalf("%v: underfoot at %v degrees", at, got)
		}
	}
}

// The search for crossings rests on the sun never outrunning fastestSun, so look for the fastest.
func TestFastestSun(t *testing.T) {
	t.Parallel()
	const step = time.Minute
	var fastest float64
	at := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	for range 40_000 {
		fastest = max(fastest, degrees(angle(sun(at), sun(at.Add(step))))/step.Seconds())
		at = at.Add(25 * time.Hour)
	}
	if fastest >= fastestSun || fastest < 0.98*fastestSun {
		t.Errorf("fastest %.6f degrees an hour, bound %.6f", fastest*3600, fastestSun*3600)
	}
}

func TestHeadingBetweenOppositePlaces(t *testing.T) {
	t.Parallel()
	for _, p := range []Place{{30, 50}, {0, 0}, {90, 10}, {-90, 10}} {
		opposite := Place{-p.Lat, p.Lon - 180}
		j := newJourney([]Place{p, opposite}, time.Unix(0, 0), time.Hour)
		for since := time.Duration(0); since <= time.Hour; since += time.Minute {
			up := j.legs[0].up(since)
			if math.Abs(up.length()-1) > 1e-9 || math.IsNaN(up.x) {
				t.Fatalf("%v after %v: %v", p, since, up)
			}
		}
		if end := j.legs[0].up(time.Hour); angle(end, opposite.up()) > 1e-6 {
			t.Errorf("from %v ends %v away from the opposite place", p, angle(end, opposite.up()))
		}
	}
}
