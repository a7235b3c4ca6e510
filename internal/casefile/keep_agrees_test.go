package casefile_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
)

// anyUpkeep draws what an aircraft's own papers ask for, on both sides of every limit.
func anyUpkeep(t *rapid.T) *casefile.Upkeep {
	u := &casefile.Upkeep{
		ReadAt: ptr(time.Date(2026, 11, 27, 12, 0, 0, 0, time.UTC)), Hours: maybe(t, "hours", func() float64 { return 1000 }),
		Cycles: maybe(t, "cycles", func() int { return 1000 }), Complete: flag(t, "complete"),
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "items") {
		it := casefile.UpkeepItem{
			ID: fmt.Sprintf("item-%d", i), What: "work", Ended: rapid.IntRange(0, 9).Draw(t, "ended") == 0,
			Kind: rapid.SampledFrom([]string{"directive", "life-limit", "program", "own"}).Draw(t, "kind"), Citation: "a paper",
		}
		if rapid.Bool().Draw(t, "due first") {
			it.First = &casefile.DueAt{Through: rapid.SampledFrom([]string{"", "2026-11-27", "2026-11-28", "2026-11-29", "2027-01-31"}).Draw(t, "through")}
			it.First.Hours = maybe(t, "first hours", func() float64 { return 1000 + hoursOf(t, "first hours", -11, 4) })
			it.First.Cycles = maybe(t, "first cycles", func() int { return 999 + rapid.IntRange(0, 3).Draw(t, "first cycles") })
			if *it.First == (casefile.DueAt{}) {
				it.First.Through = "2026-11-28"
			}
		}
		if it.First == nil || rapid.Bool().Draw(t, "again") {
			it.Every = &casefile.Every{
				CalendarMonths: rapid.IntRange(0, 2).Draw(t, "calendar months"), Months: rapid.IntRange(0, 2).Draw(t, "months"),
				Days: rapid.SampledFrom([]int{0, 30}).Draw(t, "days"), Hours: rapid.SampledFrom([]float64{0, 0, 50}).Draw(t, "every hours"),
				Cycles: rapid.SampledFrom([]int{0, 0, 20}).Draw(t, "every cycles"),
			}
			if *it.Every == (casefile.Every{}) {
				it.Every.Days = 30
			}
		}
		for range rapid.IntRange(0, 2).Draw(t, "times done") {
			w := casefile.WorkDone{On: dated(t, "done", 3)}
			if w.On == "" {
				w.On = "2026-10-29"
			}
			w.Hours = maybe(t, "done hours", func() float64 { return 950 + hoursOf(t, "done hours", -11, 4) })
			w.Cycles = maybe(t, "done cycles", func() int { return 980 + rapid.IntRange(0, 3).Draw(t, "done cycles") })
			it.Done = append(it.Done, w)
		}
		if it.Kind == "own" {
			it.Stops = rapid.SampledFrom([][]string{nil, {"ifr"}, {"night", "for-hire"}, {"over-water"}, {"instruction-provided-aircraft"}}).Draw(t, "stops")
		}
		u.Items = append(u.Items, it)
	}
	return u
}

// programs counts the items of a schedule.
func programs(items []casefile.UpkeepItem) (n int) {
	for _, it := range items {
		if it.Kind == "program" {
			n++
		}
	}
	return n
}

// sure is how surely something stops a flight, least first.
var sure = []string{"", "perhaps", "surely"}

// TestOwnPapersAgreeWithTheDetermination holds that what the aircraft's own papers ask for stops a flight in the
// determination if, and as surely as, it does in the list of what comes due. The determination goes by the record as it
// stands, and so it is with the first flight of a projection.
func TestOwnPapersAgreeWithTheDetermination(t *testing.T) {
	t.Parallel()
	b := book(t)
	stopping := 0
	rapid.Check(t, func(t *rapid.T) {
		a := anyAircraft(t)
		a.Facts.HoursSinceInspection, a.Facts.Upkeep = nil, anyUpkeep(t)
		f := anyFlight(t, 0, false)
		f.SpecialFlightPermit = nil // whether a permit serves is the determination's to say
		stopped, found := stoppedBy(t, b, a, []casefile.Flight{f}), findings(t, b, a, f)
		for _, it := range a.Facts.Upkeep.Items {
			of := slices.DeleteFunc(slices.Clone(found), func(f casefile.Finding) bool { return f.Item != it.ID })
			theirs := ""
			for _, finding := range of {
				if by := worst([]casefile.Finding{finding}, finding.Row); theirs != "surely" && by != "" {
					theirs = by
				}
			}
			ours := stopped[it.ID+" 0"]
			// On the way to where it can be done the list looks at the item alone, the determination at the whole schedule: it
			// is never the milder of the two.
			onTheWay := it.Kind == "program" && f.ToPlaceOfInspection && programs(a.Facts.Upkeep.Items) > 1
			if onTheWay && slices.Index(sure, theirs) > slices.Index(sure, ours) {
				continue
			}
			if ours != theirs {
				t.Fatalf("%s %s: due says %q, the determination %q: %+v", it.Kind, it.ID, ours, theirs, of)
			}
			if theirs == "surely" {
				stopping++
			}
		}
		for kind, row := range map[string]string{"directive": "39.7-due", "life-limit": "91.403-c-due"} {
			of := slices.DeleteFunc(slices.Clone(found), func(f casefile.Finding) bool { return f.Row != row || f.Item != "" })
			if ours, theirs := stopped[kind+" 0"], worst(of, row); ours != theirs {
				t.Fatalf("all of the kind %s: due says %q, the determination %q", kind, ours, theirs)
			}
		}
	})
	if stopping == 0 {
		t.Error("nothing stopped a flight")
	}
}
