package hangar_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/daylight"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestLightOfADayIsThatOfTheSun holds that the stretches of light leave no gap, and that each moment has the light of the
// sun's height then: night below 6 degrees (14 CFR 1.1, with civil twilight as the almanac of the U.S. Naval Observatory has
// it), twilight to sunrise or from sunset, at 50 minutes of arc (the same almanac).
func TestLightOfADayIsThatOfTheSun(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		at := techlog.Spot{Lat: rapid.Float64Range(-89, 89).Draw(t, "lat"), Lon: rapid.Float64Range(-180, 180).Draw(t, "lon")}
		from := noon.Add(time.Duration(rapid.IntRange(0, 365*24*60).Draw(t, "minutes")) * time.Minute)
		until := from.Add(time.Duration(rapid.IntRange(1, 48*60).Draw(t, "lasts")) * time.Minute)
		lit := hangar.LitBetween(at, from, until)
		if len(lit) == 0 || !lit[0].From.Equal(from) || !lit[len(lit)-1].Until.Equal(until) {
			t.Fatalf("from %s to %s: %v", from, until, lit)
		}
		for i, l := range lit {
			if !l.Until.After(l.From) || i > 0 && (!l.From.Equal(lit[i-1].Until) || l.Light == lit[i-1].Light) {
				t.Fatalf("after %v comes %v", lit[max(i-1, 0)], l)
			}
			middle := l.From.Add(l.Until.Sub(l.From) / 2)
			height := daylight.Altitude(daylight.Place{Lat: at.Lat, Lon: at.Lon}, middle)
			want := hangar.Day
			if height < -6 {
				want = hangar.Night
			} else if height < -50.0/60 {
				want = hangar.Twilight
			}
			const neither = .02 // degrees: where it is neither
			if near := math.Min(math.Abs(height+6), math.Abs(height+50.0/60)); l.Light != want && near > neither {
				t.Fatalf("%v is %s, with the sun at %.3f degrees", middle, l.Light, height)
			}
		}
	})
	if lit := hangar.LitBetween(techlog.Spot{}, noon, noon); lit != nil {
		t.Errorf("of no time: %v", lit)
	}
	if lit := hangar.LitBetween(techlog.Spot{Lat: 91}, noon, noon.Add(time.Hour)); len(lit) != 1 || lit[0].Light != hangar.Night {
		t.Errorf("nowhere it is %v", lit)
	}
}

// TestADayIsSharedOutAsEveryMinuteIs holds that the days of an aircraft follow each other without a gap, and that each use has
// as many hours as there are minutes at which it is the first that counts.
func TestADayIsSharedOutAsEveryMinuteIs(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	stops := func(verdict string) []casefile.Finding { return []casefile.Finding{{Verdict: verdict}} }
	kinds := map[hangar.DayUse]hangar.BusyPeriod{
		hangar.UseBlocked: {Kind: hangar.Unavailable, Block: &techlog.Block{}}, hangar.UseGrounded: {Kind: hangar.Unavailable, Stops: stops("grounded")},
		hangar.UseDefer: {Kind: hangar.Unavailable, Stops: stops("defer-first")}, hangar.UseUndetermined: {Kind: hangar.Unavailable},
		hangar.UseHeld: {Kind: hangar.Held, Flight: &techlog.Flight{}}, hangar.UseBooked: {Kind: hangar.Taken, Flight: &techlog.Flight{}},
	}
	for use, period := range kinds {
		if period.Use() != use {
			t.Errorf("%s is said to be %s", use, period.Use())
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		// In the middle of March the clocks of the zone change.
		from := time.Date(2027, time.March, 12, rapid.IntRange(0, 23).Draw(t, "hour"), 0, 0, 0, time.UTC)
		minutes := rapid.IntRange(1, 4*24*60).Draw(t, "minutes")
		f := hangar.FreeBusy{From: from, Until: from.Add(time.Duration(minutes) * time.Minute)}
		uses := map[hangar.DayUse][]bool{}
		for range rapid.IntRange(0, 6).Draw(t, "periods") {
			use := rapid.SampledFrom(hangar.DayUses()).Draw(t, "use")
			begins, lasts := rapid.IntRange(0, minutes).Draw(t, "begins"), rapid.IntRange(0, minutes).Draw(t, "lasts")
			period := kinds[use]
			period.From = from.Add(time.Duration(begins) * time.Minute)
			period.Until = period.From.Add(time.Duration(min(lasts, minutes-begins)) * time.Minute)
			f.Busy = append(f.Busy, period)
			if uses[use] == nil {
				uses[use] = make([]bool, minutes)
			}
			for m := begins; m < min(begins+lasts, minutes); m++ {
				uses[use][m] = true
			}
		}
		want := map[hangar.DayUse]float64{}
		for m := range minutes {
			for _, use := range hangar.DayUses() {
				if uses[use] != nil && uses[use][m] {
					want[use] += 1.0 / 60
					break
				}
			}
		}
		got, last := map[hangar.DayUse]float64{}, f.From
		for _, d := range f.Days(zone) {
			if !d.From.Equal(last) || !d.Until.After(d.From) || d.From.Format(time.DateOnly) != d.Until.Add(-time.Nanosecond).Format(time.DateOnly) {
				t.Fatalf("after %s comes %+v", last, d)
			}
			last = d.Until
			all := d.Free()
			for use, hours := range d.Hours {
				got[use] += hours
				all += hours
			}
			if math.Abs(all-d.Whole()) > 1e-9 {
				t.Fatalf("%+v comes to %g of %g h", d, all, d.Whole())
			}
		}
		if !last.Equal(f.Until) {
			t.Fatalf("they end at %s", last)
		}
		for _, use := range hangar.DayUses() {
			if math.Abs(got[use]-want[use]) > 1e-6 {
				t.Fatalf("%s: %g h, and %g by the minute", use, got[use], want[use])
			}
		}
	})
}
