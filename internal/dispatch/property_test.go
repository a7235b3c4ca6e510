package dispatch_test

import (
	"math"
	"math/bits"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/daylight"
	"tiedown/internal/dispatch"
)

// between is the point of a great circle, found by its chord.
func between(p, q casefile.Place, fraction float64) casefile.Place {
	up := func(p casefile.Place) [3]float64 {
		lat, lon := *p.Lat*math.Pi/180, *p.Lon*math.Pi/180
		return [3]float64{math.Cos(lat) * math.Cos(lon), math.Cos(lat) * math.Sin(lon), math.Sin(lat)}
	}
	a, b := up(p), up(q)
	angle := math.Acos(min(1, a[0]*b[0]+a[1]*b[1]+a[2]*b[2]))
	if angle < 1e-9 {
		return p
	}
	from, to := math.Sin((1-fraction)*angle)/math.Sin(angle), math.Sin(fraction*angle)/math.Sin(angle)
	v := [3]float64{from*a[0] + to*b[0], from*a[1] + to*b[1], from*a[2] + to*b[2]}
	return place(math.Asin(v[2])*180/math.Pi, math.Atan2(v[1], v[0])*180/math.Pi)
}

// part is the first part of a leg, as a leg of its own: to the point that it has reached by then.
func part(legs []casefile.Flight, i int, end time.Time) casefile.Flight {
	l := legs[i]
	window := end.Sub(l.Departs)
	l.Route = []casefile.Place{l.Route[0], between(l.Route[0], l.Route[1], float64(window)/float64(l.Arrives.Sub(l.Departs)))}
	l.Arrives = end
	if l.Hours != nil {
		before := 0.0
		if i > 0 {
			before = *legs[i-1].Hours
		}
		l.Hours = new(min(*l.Hours, before+window.Hours()))
	}
	return l
}

// nearEdge says that the light changes within two seconds of an instant, which is as exact as it is worked out.
func nearEdge(l daylight.Light, at time.Time) bool {
	return slices.ContainsFunc(slices.Concat(l.Night, l.SunDown), func(s daylight.Span) bool {
		return s.From.Sub(at).Abs() < 2*time.Second || s.To.Sub(at).Abs() < 2*time.Second
	})
}

// Where a leg ceases to be permitted: each part up to that minute is permitted as a leg of its own, to the point that it
// reaches; the part that goes a minute further is not.
func TestAPartIsPermittedAsALegOfItsOwn(t *testing.T) {
	t.Parallel()
	rules := book(t)
	stops := 0
	rapid.Check(t, func(t *rapid.T) {
		f, _ := drawFlight(t, rules, 2)
		o, err := dispatch.Of(f)
		if err != nil {
			t.Fatal(err)
		}
		for i, l := range o.Legs {
			if whole := permits(t, f, f.Defects, f.Legs[i:i+1]); whole != l.Permits || l.Permits != (l.Stop == nil) {
				t.Fatalf("leg %d is permitted: %v, and is told as %+v", i+1, whole, l)
			}
			if l.Stop == nil {
				continue
			}
			light := dark(&f.Legs[i])
			first := l.Departs.Truncate(time.Minute).Add(time.Minute)
			for end := first; !end.After(l.Stop.At); end = end.Add(time.Minute) {
				if !nearEdge(light, end) && !permits(t, f, f.Defects, []casefile.Flight{part(f.Legs, i, end)}) {
					t.Fatalf("leg %d is told to be permitted until %v, and is not until %v", i+1, l.Stop.At, end)
				}
			}
			next := l.Stop.At.Truncate(time.Minute).Add(time.Minute)
			if next.After(l.Arrives) {
				next = l.Arrives
			}
			if !nearEdge(light, next) && permits(t, f, f.Defects, []casefile.Flight{part(f.Legs, i, next)}) {
				t.Fatalf("leg %d is told to be permitted until %v, and is until %v", i+1, l.Stop.At, next)
			}
			if l.Stop.Part != l.Stop.At.After(l.Departs) || len(l.Stop.Findings) == 0 {
				t.Fatalf("leg %d stops at %+v", i+1, l.Stop)
			}
			if l.Stop.Part {
				stops++
			}
		}
	})
	if stops == 0 {
		t.Error("no leg was permitted in part")
	}
}

// moved is a whole flight that leaves at another time.
func moved(f *dispatch.Flight, to time.Time) []casefile.Flight {
	legs := slices.Clone(f.Legs)
	for i := range legs {
		by := to.Sub(f.Legs[0].Departs)
		legs[i].Departs, legs[i].Arrives = legs[i].Departs.Add(by), legs[i].Arrives.Add(by)
	}
	return legs
}

// When else a flight may leave, against every minute of the day before and the day after.
func TestLeaveByAgreesWithEveryMinute(t *testing.T) {
	t.Parallel()
	rules := book(t)
	seen := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		f, _ := drawFlight(t, rules, 2)
		o, err := dispatch.Of(f)
		if err != nil {
			t.Fatal(err)
		}
		d, planned := o.Departures, f.Legs[0].Departs
		may := func(at time.Time) bool { return permits(t, f, f.Defects, moved(f, at)) }
		if may(planned) != d.Permits || d.Permits != o.Permits || d.Permits != (d.Planned != nil) {
			t.Fatalf("as planned: %+v", d)
		}
		told := func(at time.Time) bool {
			for _, w := range []*dispatch.Window{d.Planned, d.Before, d.After} {
				if w != nil && !at.Before(w.From) && !at.After(w.To) {
					return true
				}
			}
			return false
		}
		// From what is told nearest to the plan outwards: no minute between is permitted that is not told, and none that is told is not.
		var first, last time.Time
		switch {
		case d.Before != nil:
			first = d.Before.From
			seen["before"]++
		case d.Planned == nil:
			first = d.From
		default:
			first = d.Planned.From
			seen["planned"]++
		}
		switch {
		case d.After != nil:
			last = d.After.To
			seen["after"]++
		case d.Planned == nil:
			last = d.ByMinute
		default:
			last = d.Planned.To
		}
		if last.After(d.ByMinute) {
			last = d.ByMinute
		}
		for at := first.Truncate(time.Minute); !at.After(last); at = at.Add(time.Minute) {
			if at.Before(f.Now) || at.Before(d.From) {
				continue
			}
			if may(at) != told(at) {
				t.Fatalf("leaving at %v is permitted: %v, and told to be: %v\n%+v", at, may(at), told(at), d)
			}
		}
		// Just outside of what is told nothing is permitted.
		for _, w := range []*dispatch.Window{d.Planned, d.Before, d.After} {
			if w == nil {
				continue
			}
			if before := w.From.Add(-time.Minute); !w.OpenStart && !before.Before(d.From) && before.Before(planned) && may(before) {
				t.Fatalf("%+v: a minute earlier is permitted, too", w)
			}
			if after := w.To.Truncate(time.Minute).Add(time.Minute); !w.OpenEnd && after.After(planned) && may(after) {
				t.Fatalf("%+v: a minute later is permitted, too", w)
			}
			if w.From.Before(f.Now) && w != d.Planned || w.To.Before(w.From) || !may(w.From) || !may(w.To) {
				t.Fatalf("%+v: now is %v", w, f.Now)
			}
		}
	})
	// Those that have to wait are too rare to be sure of one: the stories have them.
	for _, what := range []string{"before", "planned"} {
		if seen[what] == 0 {
			t.Errorf("no flight may leave %s", what)
		}
	}
}

// Which squawks have to go, against every set of them.
func TestTheSmallestSetsOfSquawks(t *testing.T) {
	t.Parallel()
	rules := book(t)
	sizes := map[int]int{}
	rapid.Check(t, func(t *rapid.T) {
		f, _ := drawFlight(t, rules, 1)
		o, err := dispatch.Of(f)
		if err != nil {
			t.Fatal(err)
		}
		if o.Permits {
			return
		}
		n := len(f.Defects)
		if n > 8 {
			return
		}
		var smallest []uint
		for size := range n + 1 {
			for set := range uint(1) << n {
				if bits.OnesCount(set) != size || slices.ContainsFunc(smallest, func(s uint) bool { return s&set == s }) {
					continue
				}
				if permits(t, f, without(f.Defects, ids(f, set)), f.Legs) {
					smallest = append(smallest, set)
				}
			}
		}
		var want [][]string
		for _, set := range smallest {
			want = append(want, ids(f, set))
		}
		got := slices.Clone(o.Release.Sets)
		slices.SortFunc(want, slices.Compare)
		slices.SortFunc(got, slices.Compare)
		if o.Release.MoreSets == 0 && !slices.EqualFunc(got, want, slices.Equal) || len(got)+o.Release.MoreSets != len(want) {
			t.Fatalf("told %v, want %v", got, want)
		}
		if o.Release.Beside != (len(want) == 0) || len(want) > 0 && o.Release.SearchedTo != n {
			t.Fatalf("%+v", o.Release)
		}
		for _, s := range o.Release.Squawks {
			if alone := permits(t, f, without(f.Defects, []string{s.Squawk}), f.Legs); alone != s.Alone {
				t.Fatalf("without %s alone it is permitted: %v", s.Squawk, alone)
			}
		}
		if o.Release.Earliest != nil && o.Release.Earliest.Before(f.Now) {
			t.Fatalf("released at %v, and now is %v", o.Release.Earliest, f.Now)
		}
		for _, set := range want {
			sizes[len(set)]++
		}
	})
	if sizes[1] == 0 || len(sizes) < 2 { // one squawk at least once, and several
		t.Errorf("the sizes of the sets were %v", sizes)
	}
}

func ids(f *dispatch.Flight, set uint) []string {
	var named []string
	for i := range f.Defects {
		if set&(1<<i) != 0 {
			named = append(named, f.Defects[i].ID)
		}
	}
	slices.Sort(named)
	return named
}

func BenchmarkOutlook(b *testing.B) {
	c := told(b, deferredLight, "flight: day vfr")
	departs := time.Date(2027, 1, 15, 20, 0, 0, 0, time.UTC)
	for _, legs := range []int{1, 2, 8} {
		f, err := flight(&c, book(b), departs.AddDate(0, 0, -3))
		if err != nil {
			b.Fatal(err)
		}
		for i := range legs {
			from := departs.Add(time.Duration(i) * 2 * time.Hour)
			f.Legs = append(f.Legs, leg(&c, from, from.Add(90*time.Minute), place(41, -88), place(42, -87)))
		}
		b.Run(map[int]string{1: "one leg", 2: "two legs", 8: "eight legs"}[legs], func(b *testing.B) {
			judged := 0
			for b.Loop() {
				judged = outlook(b, f).Judged
			}
			b.ReportMetric(float64(judged), "judged/op")
		})
	}
}
