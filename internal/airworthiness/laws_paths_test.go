package airworthiness_test

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// oneMELFactLess forgets one fact of the MEL, or of one of its rows. What a row says in words and in conditions is the
// document itself, not a fact about it; nor is a row: a list that is on record is the whole list.
func oneMELFactLess(w world) []lesser {
	var all []lesser
	add := func(fact string, change func(*airworthiness.MEL)) {
		less := w
		less.aircraft.MEL.Rows = slices.Clone(w.aircraft.MEL.Rows)
		change(&less.aircraft.MEL)
		all = append(all, lesser{"mel " + fact, less})
	}
	add("authority", func(m *airworthiness.MEL) { m.Authority = "" })
	add("letter aboard", func(m *airworthiness.MEL) { m.LetterAboard = airworthiness.Unknown })
	for i := range w.aircraft.MEL.Rows {
		for _, name := range []string{"Installed", "Required", "Category", "Days", "Operations", "Maintenance"} {
			add(w.aircraft.MEL.Rows[i].Item+" "+name, func(m *airworthiness.MEL) {
				reflect.ValueOf(&m.Rows[i]).Elem().FieldByName(name).SetZero()
			})
		}
	}
	for i := range w.aircraft.Directives.Rows {
		less := w
		less.aircraft.Directives.Rows = slices.Clone(w.aircraft.Directives.Rows)
		less.aircraft.Directives.Rows[i].Barred = airworthiness.Unknown
		all = append(all, lesser{"directive barred", less})
	}
	return all
}

// onePermitFactLess forgets one fact of the special flight permit.
func onePermitFactLess(w world) []lesser {
	if w.flight.Permit == nil {
		return nil
	}
	var all []lesser
	permit := reflect.TypeFor[airworthiness.Permit]()
	for i := range permit.NumField() {
		less, without := w, *w.flight.Permit
		reflect.ValueOf(&without).Elem().Field(i).SetZero()
		less.flight.Permit = &without
		all = append(all, lesser{"permit " + permit.Field(i).Name, less})
	}
	for i := range w.flight.Permit.Covers {
		less, without := w, *w.flight.Permit
		without.Covers = slices.Delete(slices.Clone(without.Covers), i, i+1)
		less.flight.Permit = &without
		all = append(all, lesser{"permit covers " + w.flight.Permit.Covers[i], less})
	}
	return all
}

// oneFoundLess forgets one part of what became of a condition.
func oneFoundLess(w world, d int) []lesser {
	if w.defects[d].Found == nil {
		return nil
	}
	var all []lesser
	found := reflect.TypeFor[airworthiness.Found]()
	for i := range found.NumField() {
		less, without := w.withDefects(), *w.defects[d].Found
		reflect.ValueOf(&without).Elem().Field(i).SetZero()
		less.defects[d].Found = &without
		all = append(all, lesser{w.defects[d].ID + " found " + found.Field(i).Name, less})
	}
	return all
}

// TestRandomCasesGoEveryWay holds that the laws are tried on the MEL, on special flight permits and on cleared conditions:
// that each lets flights go that would not go otherwise, and that each stops some.
func TestRandomCasesGoEveryWay(t *testing.T) {
	t.Parallel()
	r := rules(t)
	worlds := rapid.Custom(func(t *rapid.T) world { return drawWorld(t, r) })
	seen := map[string]int{}
	ways := []string{
		"own:mel passed", "own:mel limited", "own:mel breached", "own:mel unknown", "mel breached", "go: own:mel passed", "go: own:mel limited",
		"mel-letter undone", "mel-letter unknown", "mel-record undone", "mel-placard undone", "mel-maintenance undone", "mel-deferral-lasts undone",
		"interval-b passed", "interval-b undone", "interval-b limited", "interval-b unknown", "interval-a passed", "interval-c passed", "interval-d passed",
		"permit-window noted", "permit-issued noted", "permit-kinds noted", "permit-crew noted", "permit-covers noted",
		"by permit-condition", "by permit-equipment", "by permit-lapse", "by permit-standard", "by permit-directive",
		"go: by permit-condition", "go: by permit-equipment", "go: by permit-lapse", "go: by permit-standard",
		"nature passed", "nature relieved", "nature breached",
	}
	for seed := 0; seed < 40000 && slices.ContainsFunc(ways, func(way string) bool { return seen[way] == 0 }); seed++ {
		a := judge(t, r, worlds.Example(seed))
		for i := range a.Findings {
			f := &a.Findings[i]
			e := a.plan.Explain(f)
			seen[e.Row+" "+f.Outcome.String()]++
			if e.Relief != "" {
				seen["by "+e.Relief]++
			}
			if a.Verdict.Permits() {
				seen["go: "+e.Row+" "+f.Outcome.String()]++
				if e.Relief != "" {
					seen["go: by "+e.Relief]++
				}
			}
		}
	}
	for _, way := range ways {
		if seen[way] == 0 {
			t.Errorf("no case has %s", way)
		}
	}
}

// TestAPermitOnlyHelps holds that a special flight permit never makes a verdict worse: what does not serve changes nothing
// for the better or the worse, and what may serve leaves it open at most.
func TestAPermitOnlyHelps(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		with := judge(t, r, w)
		w.flight.Permit = nil
		without := judge(t, r, w)
		if with.Verdict.WorseThan(without.Verdict) {
			t.Fatalf("%s with a permit, %s without:%s%s", with.Verdict, without.Verdict, tell(with.tell(w.defects)), tell(without.tell(w.defects)))
		}
	})
}

// TestAMELRelievesNothingThatPart91Requires holds 91.213(b)(2) and (3): whatever the MEL says, a finding that grounds for
// part 91 or for a directive without it grounds with it.
func TestAMELRelievesNothingThatPart91Requires(t *testing.T) {
	t.Parallel()
	r := rules(t)
	grounds := func(a *answer) []string {
		var rows []string
		for i := range a.Findings {
			f := &a.Findings[i]
			if f.Verdict == airworthiness.Grounded && (f.Step == airworthiness.StepRegulation || f.Step == airworthiness.StepDirective) {
				rows = append(rows, a.plan.RowID(f))
			}
		}
		slices.Sort(rows)
		return slices.Compact(rows)
	}
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		w.flight.Permit = nil
		w.aircraft.MELAuthorized = airworthiness.No
		w.aircraft.MEL = (care{known: 100}).mel(t)
		w.aircraft.MEL.OnRecord = airworthiness.Yes
		without := judge(t, r, w)
		w.aircraft.MELAuthorized = airworthiness.Yes
		with := judge(t, r, w)
		if !slices.Equal(grounds(&with), grounds(&without)) {
			t.Fatalf("under the MEL %v, without %v", grounds(&with), grounds(&without))
		}
	})
}
