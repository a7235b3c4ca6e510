package airworthiness_test

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// TestRandomCasesReachEveryVerdict holds that the laws are tried on cases of every kind.
func TestRandomCasesReachEveryVerdict(t *testing.T) {
	t.Parallel()
	r := rules(t)
	worlds := rapid.Custom(func(t *rapid.T) world { return drawWorld(t, r) })
	verdicts := map[airworthiness.Verdict]int{}
	outcomes := map[airworthiness.Outcome]int{}
	for seed := range 600 {
		a := judge(t, r, worlds.Example(seed))
		verdicts[a.Verdict]++
		for _, f := range a.Findings {
			outcomes[f.Outcome]++
		}
	}
	t.Log(verdicts, outcomes)
	for _, v := range airworthiness.Verdicts() {
		if verdicts[v] < 3 {
			t.Errorf("%d of 600 cases are %s: the laws would hold of them for want of cases", verdicts[v], v)
		}
	}
	for i, name := range airworthiness.OutcomeNames() {
		if outcomes[airworthiness.Outcome(i)] == 0 {
			t.Errorf("no finding is %s", name)
		}
	}
}

// takesOutTheELT says that what is added is no defect more but an act that 14 CFR 91.207(f)(10) provides for: an ELT whose
// inspection or battery is overdue is taken out for it, and the airplane may fly without it for 90 days.
func takesOutTheELT(a *airworthiness.Aircraft, d *airworthiness.Defect) bool {
	at := slices.IndexFunc(a.Units, func(u airworthiness.Unit) bool { return u.ID == d.Unit })
	return at >= 0 && a.Units[at].Item == "elt" && d.Deferral != nil && d.Deferral.Method == airworthiness.Removed
}

// Law 1: the determination is a pure function.
func TestTheSameInputGivesTheSameAnswer(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w, other := drawWorld(t, r), drawWorld(t, r)
		first := judge(t, r, w)
		again := judge(t, r, w)
		if !slices.Equal(first.Findings, again.Findings) || first.Verdict != again.Verdict || !slices.Equal(first.Order, again.Order) {
			t.Fatalf("two plans of one aircraft disagree:\n%v\n%v", first.tell(w.defects), again.tell(w.defects))
		}
		if !slices.Equal(first.tell(w.defects), again.tell(w.defects)) {
			t.Fatal("the same findings, told differently")
		}

		// A determination that has been used for another case is as good as a new one.
		used := judge(t, r, other)
		flight := r.Prepare(w.flight)
		first.plan.Determine(&used.Determination, w.defects, &flight)
		if !slices.Equal(first.Findings, used.Findings) || first.Verdict != used.Verdict {
			t.Fatal("a used determination remembers")
		}
	})
}

// TestDecidingIsJudgingWithoutWhatPassed holds that the short way to an answer leaves out explanation and nothing else.
func TestDecidingIsJudgingWithoutWhatPassed(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		whole := judge(t, r, w)
		flight := r.Prepare(w.flight)
		var standing airworthiness.Standing
		var brief airworthiness.Determination
		whole.plan.Stand(&standing, w.defects)
		whole.plan.Decide(&brief, &standing, &flight)
		asks := slices.DeleteFunc(slices.Clone(whole.Findings), func(f airworthiness.Finding) bool {
			return f.Outcome == airworthiness.OutcomePassed || f.Outcome == airworthiness.OutcomeNoted
		})
		if brief.Verdict != whole.Verdict || !slices.Equal(brief.Findings, asks) {
			t.Fatalf("%s with %v; the whole answer is %s with %v", brief.Verdict, brief.Findings, whole.Verdict, asks)
		}
	})
}

func TestJudgingChangesNothing(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		before := fmt.Sprintf("%+v", tellWorld(w))
		judge(t, r, w)
		if after := fmt.Sprintf("%+v", tellWorld(w)); after != before {
			t.Fatalf("judging changed the case:\n%s\n%s", before, after)
		}
	})
}

func tellWorld(w world) []any {
	all := []any{w.aircraft, w.flight, w.defects}
	for _, d := range w.defects {
		if d.Deferral != nil {
			all = append(all, *d.Deferral)
		}
	}
	return all
}

func TestOnePlanServesManyAtOnce(t *testing.T) {
	t.Parallel()
	r := rules(t)
	worlds := rapid.Custom(func(t *rapid.T) world { return drawWorld(t, r) })
	w := worlds.Example(7)
	plan, err := r.Plan(&w.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	flight := r.Prepare(w.flight)
	defects := make([][]airworthiness.Defect, 16)
	want := make([]airworthiness.Determination, len(defects))
	for i := range defects {
		defects[i] = rapid.Custom(func(t *rapid.T) []airworthiness.Defect {
			return []airworthiness.Defect{messy.defect(t, &w.aircraft, "a"), messy.defect(t, &w.aircraft, "b")}
		}).Example(i)
		plan.Determine(&want[i], defects[i], &flight)
	}
	var wait sync.WaitGroup
	for worker := range 8 {
		wait.Go(func() {
			var d airworthiness.Determination
			for n := range 200 {
				i := (n*7 + worker) % len(defects)
				plan.Determine(&d, defects[i], &flight)
				for j := range d.Findings {
					plan.Explain(&d.Findings[j])
				}
				if d.Verdict != want[i].Verdict || !slices.Equal(d.Findings, want[i].Findings) {
					t.Errorf("case %d came out differently among others", i)
					return
				}
			}
		})
	}
	wait.Wait()
}

// messy draws defects of every sort.
var messy = care{known: 85, trouble: 100}

// Law 3: one more defect never improves a verdict.
func TestOneMoreDefectNeverImprovesTheVerdict(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		before := judge(t, r, w)
		more := w
		one := messy.defect(t, &w.aircraft, rapid.SampledFrom(laterIDs).Draw(t, "id"))
		if one.Deferral != nil && chance(t, 70, "considers the others") {
			for _, d := range w.defects {
				one.Deferral.HazardConsidered = append(one.Deferral.HazardConsidered, d.ID)
			}
		}
		more.defects = append(slices.Clone(w.defects), one)
		if takesOutTheELT(&w.aircraft, &one) {
			return
		}
		after := judge(t, r, more)
		if before.Verdict.WorseThan(after.Verdict) {
			t.Fatalf("%s, and with one more defect %s:\n%v\n%v", before.Verdict, after.Verdict, tell(before.tell(w.defects)), tell(after.tell(more.defects)))
		}
	})
}

// tell lists what did not pass.
func tell(lines []string) string {
	var s strings.Builder
	for _, l := range lines {
		if !strings.Contains(l, "Outcome:passed") && !strings.Contains(l, "Outcome:noted") {
			s.WriteString("\n  " + l)
		}
	}
	return s.String() + "\n"
}

// Law 3: one fact less never turns no into yes.
func TestOneFactLessNeverPermits(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		before := judge(t, r, w)
		if before.Verdict.Permits() {
			return
		}
		for _, less := range oneFactLess(w) {
			after := judge(t, r, less.world)
			if after.Verdict.Permits() {
				t.Fatalf("%s, and without %s %s:%s%s", before.Verdict, less.fact, after.Verdict,
					tell(before.tell(w.defects)), tell(after.tell(less.world.defects)))
			}
		}
	})
}

type lesser struct {
	fact  string
	world world
}

// oneFactLess is every world in which one fact of this one is not known. A kind of operation as such leaves the facts of
// the flight open on purpose: they become limitations, so there only the other facts are taken away.
func oneFactLess(w world) []lesser {
	var all []lesser
	aircraft := reflect.TypeFor[airworthiness.Aircraft]()
	for i := range aircraft.NumField() {
		if name := aircraft.Field(i).Name; name != "Units" {
			less := w
			forget(reflect.ValueOf(&less.aircraft).Elem().Field(i))
			all = append(all, lesser{"aircraft " + name, less})
		}
	}
	unconfirmed := w
	unconfirmed.aircraft.TypeCertification.Confirmed = airworthiness.Unknown
	all = append(all, lesser{"aircraft TypeCertification.Confirmed", unconfirmed})
	flight := reflect.TypeFor[airworthiness.Flight]()
	for i := range flight.NumField() {
		if name := flight.Field(i).Name; name != "Envelope" && !w.flight.Envelope {
			less := w
			forget(reflect.ValueOf(&less.flight).Elem().Field(i))
			all = append(all, lesser{"flight " + name, less})
		}
	}
	for d := range w.defects {
		for _, name := range []string{"Kind", "Unit", "Item", "Deferral", "Found"} {
			less := w.withDefects()
			forget(reflect.ValueOf(&less.defects[d]).Elem().FieldByName(name))
			all = append(all, lesser{w.defects[d].ID + " " + name, less})
		}
		all = append(all, oneFoundLess(w, d)...)
		if w.defects[d].Deferral == nil {
			continue
		}
		deferral := reflect.TypeFor[airworthiness.Deferral]()
		for i := range deferral.NumField() {
			less := w.withDefects()
			without := *w.defects[d].Deferral
			forget(reflect.ValueOf(&without).Elem().Field(i))
			less.defects[d].Deferral = &without
			all = append(all, lesser{w.defects[d].ID + " deferral " + deferral.Field(i).Name, less})
		}
	}
	return slices.Concat(all, oneMELFactLess(w), onePermitFactLess(w), oneKeptFactLess(w))
}

// withDefects is a copy whose defects can be changed.
func (w world) withDefects() world {
	w.defects = slices.Clone(w.defects)
	return w
}

// forget makes a fact unknown. Of an own list and of an MEL it takes away only that somebody has looked.
func forget(v reflect.Value) {
	if v.Type() == reflect.TypeFor[airworthiness.OwnList]() || v.Type() == reflect.TypeFor[airworthiness.MEL]() {
		v = v.FieldByName("OnRecord")
	}
	v.SetZero()
}

// Law 3: order never matters.
func TestOrderNeverMatters(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		want := judge(t, r, w)

		shuffled := w
		shuffled.defects = rapid.Permutation(w.defects).Draw(t, "defects")
		shuffled.aircraft.Units = rapid.Permutation(w.aircraft.Units).Draw(t, "units")
		got := judge(t, r, shuffled)
		if got.Verdict != want.Verdict || !slices.Equal(got.tell(shuffled.defects), want.tell(w.defects)) {
			t.Fatalf("another order of defects and units, another answer:%s%s", tell(want.tell(w.defects)), tell(got.tell(shuffled.defects)))
		}

		// The rows of an own list are findings of their own, so their order is the order of telling, and no more.
		a := &shuffled.aircraft
		for _, l := range []*airworthiness.OwnList{&a.TypeCertification, &a.EquipmentList, &a.KOEL, &a.Directives} {
			l.Rows = rapid.Permutation(l.Rows).Draw(t, "rows")
		}
		got = judge(t, r, shuffled)
		sorted := func(lines []string) []string { slices.Sort(lines); return lines }
		if got.Verdict != want.Verdict || !slices.Equal(sorted(got.tell(shuffled.defects)), sorted(want.tell(w.defects))) {
			t.Fatal("another order of rows, another answer")
		}
	})
}

// Law 4: every finding carries its citation and words, every relief names what it relieves.
func TestEveryFindingSpeaks(t *testing.T) {
	t.Parallel()
	r := rules(t)
	known := map[string]bool{}
	for _, row := range r.Rules() {
		known[row.ID] = true
	}
	liftable := slices.Concat(airworthiness.StepNames(), []string{"own:mel", "own:type-certification", "own:equipment-list", "own:directive"})
	for _, row := range liftable {
		known[row] = true // a special flight permit lifts these too
	}
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		a := judge(t, r, w)
		worst := airworthiness.Clear
		for i := range a.Findings {
			e := a.plan.Explain(&a.Findings[i])
			worst = airworthiness.Worst(worst, e.Verdict)
			switch {
			case e.Citation == "" || e.Words == "" || e.Row == "" || e.Says == "" || e.Status == "":
				t.Fatalf("a finding without citation, words, row, meaning or status: %+v", e)
			case e.Row != a.plan.RowID(&a.Findings[i]):
				t.Fatalf("explained as row %q, named %q", e.Row, a.plan.RowID(&a.Findings[i]))
			case e.Outcome == airworthiness.OutcomeRelieved && (!known[e.Relief] || !known[e.Row] || e.ReliefCite == ""):
				t.Fatalf("a relief that does not name itself and the requirement: %+v", e)
			case e.Outcome == airworthiness.OutcomeUnknown && len(e.Missing) == 0:
				t.Fatalf("an unknown finding that misses nothing: %+v", e)
			case e.Verdict == airworthiness.Limited && e.Limitation == "":
				t.Fatalf("limited to nothing: %+v", e)
			case e.Verdict == airworthiness.Undetermined && e.Outcome != airworthiness.OutcomeUnknown:
				t.Fatalf("undetermined, though nothing is unknown: %+v", e)
			}
			for _, m := range e.Missing {
				if m.Fact == "" || m.Asks == "" {
					t.Fatalf("a missing fact without a place or a question: %+v", e)
				}
			}
		}
		if a.Verdict != worst {
			t.Fatalf("the verdict is %s, the worst finding %s", a.Verdict, worst)
		}
	})
}

// TestNothingKnownIsNoPermission holds that silence never reads as permission.
func TestNothingKnownIsNoPermission(t *testing.T) {
	t.Parallel()
	if v := (&airworthiness.Determination{}).Verdict; v != airworthiness.Undetermined {
		t.Errorf("a determination never made is %s", v)
	}
	r := rules(t)
	dated := airworthiness.Flight{On: day("2026-06-01"), Ends: time.Date(2026, 6, 1, 18, 0, 0, 0, time.UTC)}
	if a := judge(t, r, world{flight: dated}); a.Verdict.Permits() {
		t.Errorf("an aircraft of which nothing is known is %s", a.Verdict)
	}
	var d airworthiness.Determination
	plan, err := r.Plan(&airworthiness.Aircraft{})
	if err != nil {
		t.Fatal(err)
	}
	plan.Determine(&d, nil, &airworthiness.PreparedFlight{})
	if d.Verdict.Permits() {
		t.Errorf("a flight that nobody prepared is %s", d.Verdict)
	}
}
