package airworthiness_test

import (
	"fmt"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// papers draws papers that are mostly in order.
func (c care) papers(t *rapid.T) airworthiness.Papers {
	if chance(t, 60, "papers in order") {
		return goodPapers()
	}
	aboard := func(label string) airworthiness.Truth { return c.truth(t, 100-c.trouble/8, label) }
	return airworthiness.Papers{
		Airworthiness: aboard("airworthiness"), Displayed: aboard("displayed"), Registration: aboard("registration"),
		Limitations: aboard("limitations"), WeightBalance: aboard("weight"), WeightBalanceFits: aboard("weight fits"),
		RadioLicence:        aboard("radio"),
		RegistrationThrough: drawFact(t, c, "registration through", day("2031-05-31"), day("2026-05-31"), day("2026-06-01")),
		RadioThrough:        drawFact(t, c, "radio through", day("2031-05-31"), day("2026-05-31"), day("2026-06-01")),
	}
}

// upkeep draws what the aircraft's own papers ask for, on both sides of every limit.
func (c care) upkeep(t *rapid.T) airworthiness.Upkeep {
	u := airworthiness.Upkeep{Complete: c.truth(t, 100-c.trouble/8, "upkeep complete")}
	if chance(t, 60, "nothing due") {
		return u
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "items") {
		it := airworthiness.UpkeepItem{
			ID: fmt.Sprintf("item-%d", i), Kind: rapid.SampledFrom([]string{"directive", "life-limit", "program", "own"}).Draw(t, "kind"),
			What: "work", Citation: fmt.Sprintf("paper %d", i), Over: chance(t, 10, "over"),
			InDays: chance(t, 60, "in days"), InHours: chance(t, 50, "in hours"), InCycles: chance(t, 20, "in cycles"),
			Done:       drawFact(t, c, "done", day("2026-02-10"), day("2026-06-02")),
			Through:    drawFact(t, c, "through", day("2027-01-31"), day("2026-05-31"), day("2026-06-01")),
			HoursLeft:  drawFact(t, c, "hours left", 40.0, 2, 1.4, 0, -5, -10, -10.5),
			CyclesLeft: drawFact(t, c, "cycles left", 40.0, 1, 0, -1),
		}
		switch it.Kind {
		case "directive":
			it.Barred = c.truth(t, 30, "barred")
		case "own":
			it.Stops = rapid.SampledFrom([][]string{nil, {"ifr"}, {"night"}, {"for-hire", "over-water"}, {"instruction-provided-aircraft"}}).Draw(t, "stops")
		}
		u.Items = append(u.Items, it)
	}
	return u
}

// oneKeptFactLess is every world in which one fact about papers or upkeep is not known.
func oneKeptFactLess(w world) []lesser {
	var all []lesser
	papers := reflect.TypeFor[airworthiness.Papers]()
	for i := range papers.NumField() {
		less := w
		forget(reflect.ValueOf(&less.aircraft.Papers).Elem().Field(i))
		all = append(all, lesser{"papers " + papers.Field(i).Name, less})
	}
	incomplete := w
	incomplete.aircraft.Upkeep.Complete = airworthiness.Unknown
	all = append(all, lesser{"upkeep Complete", incomplete})
	for n := range w.aircraft.Upkeep.Items {
		for _, name := range []string{"Through", "HoursLeft", "CyclesLeft", "Barred", "Stops"} {
			less := w
			less.aircraft.Upkeep.Items = slices.Clone(w.aircraft.Upkeep.Items)
			forget(reflect.ValueOf(&less.aircraft.Upkeep.Items[n]).Elem().FieldByName(name))
			all = append(all, lesser{fmt.Sprintf("item %d %s", n, name), less})
		}
	}
	return all
}

// TestTheOrderOfItemsIsOfTellingOnly holds that it decides nothing.
func TestTheOrderOfItemsIsOfTellingOnly(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		want := judge(t, r, w)
		w.aircraft.Upkeep.Items = rapid.Permutation(w.aircraft.Upkeep.Items).Draw(t, "items")
		have := judge(t, r, w)
		ours, theirs := want.tell(w.defects), have.tell(w.defects)
		slices.Sort(ours)
		slices.Sort(theirs)
		if have.Verdict != want.Verdict || !slices.Equal(ours, theirs) {
			t.Fatalf("%s, and in another order %s:%s%s", want.Verdict, have.Verdict, tell(ours), tell(theirs))
		}
	})
}

// TestOneItemMoreNeverImprovesTheVerdict holds that what else comes due takes nothing out of the way.
func TestOneItemMoreNeverImprovesTheVerdict(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		before := judge(t, r, w)
		w.aircraft.Upkeep.Items = append(slices.Clone(w.aircraft.Upkeep.Items), messy.upkeep(t).Items...)
		if after := judge(t, r, w); before.Verdict.WorseThan(after.Verdict) {
			t.Fatalf("%s, and with more that comes due %s", before.Verdict, after.Verdict)
		}
	})
}
