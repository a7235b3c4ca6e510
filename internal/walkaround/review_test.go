package walkaround_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

func ids(numbers ...int) []techlog.ID {
	var all []techlog.ID
	for _, n := range numbers {
		all = append(all, id(n))
	}
	return all
}

func said(n int, check string, outcome walkaround.Outcome, replaces ...int) walkaround.Result {
	return walkaround.Result{ID: id(n), Check: check, Outcome: outcome, Said: walkaround.Answer{Replaces: ids(replaces...)}}
}

func TestHowAChecksResultsComeTogether(t *testing.T) {
	t.Parallel()
	const good, finding, skipped = walkaround.Good, walkaround.Finding, walkaround.Skipped
	list := walkaround.Checklist{Checks: []walkaround.Check{look("door", walkaround.Cabin)}}
	list.Checks[0].Required = true
	for _, c := range []struct {
		what     string
		results  []walkaround.Result
		want     walkaround.CheckState
		findings []techlog.ID
		blocks   bool
	}{
		{"nothing", nil, walkaround.Open, nil, true},
		{"good", []walkaround.Result{said(1, "door", good)}, walkaround.Done, nil, false},
		{"good on both phones", []walkaround.Result{said(1, "door", good), said(2, "door", good)}, walkaround.Done, nil, false},
		{"skipped", []walkaround.Result{said(1, "door", skipped)}, walkaround.LeftOut, nil, false},
		{"skipped by one, done by the other", []walkaround.Result{said(1, "door", skipped), said(2, "door", good)}, walkaround.Done, nil, false},
		{"found", []walkaround.Result{said(1, "door", finding)}, walkaround.Found, ids(1), false},
		{"found twice", []walkaround.Result{said(1, "door", finding), said(2, "door", finding)}, walkaround.Found, ids(1, 2), false},
		{"one says good, one does not", []walkaround.Result{said(1, "door", good), said(2, "door", finding)}, walkaround.Contested, ids(2), true},
		{"settled as good", []walkaround.Result{said(1, "door", good), said(2, "door", finding), said(3, "door", good, 1, 2)}, walkaround.Done, nil, false},
		{"settled as found", []walkaround.Result{said(1, "door", good), said(2, "door", finding), said(3, "door", finding, 1)}, walkaround.Found, ids(2, 3), false},
		{"half settled", []walkaround.Result{said(1, "door", good), said(2, "door", finding), said(3, "door", good, 1)}, walkaround.Contested, ids(2), true},
		{"taken back to skipped", []walkaround.Result{said(1, "door", good), said(2, "door", skipped, 1)}, walkaround.LeftOut, nil, false},
	} {
		review := walkaround.NewReview(&list, nil, c.results)
		s := review.Standings[0]
		var findings []techlog.ID
		for _, f := range review.Findings() {
			findings = append(findings, f.ID)
		}
		if s.State != c.want || !slices.Equal(findings, c.findings) || (len(review.Blocking()) > 0) != c.blocks || len(s.Results) != len(c.results) {
			t.Errorf("%s: %s, findings %v, blocking %v, %d results", c.what, s.State, findings, review.Blocking(), len(s.Results))
		}
		if rules := review.CompletionFaults(); (len(rules) > 0) != c.blocks {
			t.Errorf("%s: %v", c.what, rules)
		}
	}
}

// TestChecksOfThisFlight holds which checks appear by themselves.
func TestChecksOfThisFlight(t *testing.T) {
	t.Parallel()
	heat, position, landing, vests := look("heat", walkaround.LeftWing), look("position", walkaround.LeftWing), look("landing", walkaround.LeftWing), look("vests", walkaround.LeftWing)
	heat.When = []walkaround.Circumstance{walkaround.IFR, walkaround.Moisture}
	position.When = []walkaround.Circumstance{walkaround.SunsetToSunrise}
	landing.When = []walkaround.Circumstance{walkaround.Night}
	vests.When = []walkaround.Circumstance{walkaround.OverWater, walkaround.ForHire}
	list := walkaround.Checklist{Checks: []walkaround.Check{look("door", walkaround.Cabin), heat, position, landing, vests}}
	yes, no := true, false
	day := techlog.Flight{
		Rules: "vfr", Light: casefile.Light{Day: &yes, Night: &no, SunsetToSunrise: &no},
		Facts: casefile.FlightFacts{OverWater: &no, ForHire: &no},
	}
	with := func(change func(*techlog.Flight)) *techlog.Flight {
		f := day
		change(&f)
		return &f
	}
	for _, c := range []struct {
		what     string
		flight   *techlog.Flight
		moisture *bool
		want     []string
	}{
		{"a clear day", &day, &no, []string{"door"}},
		{"nobody looked at the weather", &day, nil, []string{"door", "heat"}},
		{"clouds near freezing", &day, &yes, []string{"door", "heat"}},
		{"IFR in the clear", with(func(f *techlog.Flight) { f.Rules = "ifr" }), &no, []string{"door", "heat"}},
		{"rules not said", with(func(f *techlog.Flight) { f.Rules = "" }), &no, []string{"door", "heat"}},
		{"dusk", with(func(f *techlog.Flight) { f.Light.SunsetToSunrise = &yes }), &no, []string{"door", "position"}},
		{"night", with(func(f *techlog.Flight) { f.Light.SunsetToSunrise, f.Light.Night = &yes, &yes }), &no, []string{"door", "position", "landing"}},
		{"light not known", with(func(f *techlog.Flight) { f.Light = casefile.Light{} }), &no, []string{"door", "position", "landing"}},
		{"over water", with(func(f *techlog.Flight) { f.Facts.OverWater = &yes }), &no, []string{"door", "vests"}},
		{"for hire perhaps", with(func(f *techlog.Flight) { f.Facts.ForHire = nil }), &no, []string{"door", "vests"}},
		{"no flight", nil, &no, []string{"door", "heat", "position", "landing", "vests"}},
	} {
		review := walkaround.NewReview(&list, walkaround.CircumstancesOf(c.flight, c.moisture), nil)
		var applies []string
		for _, s := range review.Standings {
			if !s.Applies {
				continue
			}
			applies = append(applies, s.Check.ID)
			if (s.Because == "") != (len(s.Check.When) == 0) {
				t.Errorf("%s: %s applies because %q", c.what, s.Check.ID, s.Because)
			}
		}
		if !slices.Equal(applies, c.want) || len(review.Standings) != 5 {
			t.Errorf("%s: %v, want %v", c.what, applies, c.want)
		}
	}
}

// dealtResults deals results of a list, none of which replaces one that comes later.
func dealtResults(t *rapid.T, list walkaround.Checklist) []walkaround.Result {
	var results []walkaround.Result
	for i := range rapid.IntRange(0, 20).Draw(t, "results") {
		r := walkaround.Result{
			ID: id(i + 1), Check: rapid.SampledFrom(list.Checks).Draw(t, "check").ID, Outcome: rapid.SampledFrom(walkaround.Outcomes()).Draw(t, "outcome"),
			MadeAt: noon.Add(time.Duration(i) * time.Second),
		}
		for _, earlier := range results {
			if earlier.Check == r.Check && rapid.IntRange(0, 2).Draw(t, "replaces") == 0 {
				r.Said.Replaces = append(r.Said.Replaces, earlier.ID)
			}
		}
		results = append(results, r)
	}
	return results
}

// TestPhonesMerge holds that it does not matter in which order results arrive, or how often, or on which phone they were
// made; that no result is lost from the review; and that every check is in it.
func TestPhonesMerge(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		list := checklists().Draw(t, "list")
		results := dealtResults(t, list)
		review := walkaround.NewReview(&list, nil, results)
		shuffled := rapid.Permutation(slices.Concat(results, results)).Draw(t, "order")
		again := walkaround.NewReview(&list, nil, shuffled)
		if a, b := asJSON(t, review), asJSON(t, again); a != b {
			t.Fatalf("%s\nshuffled and doubled: %s", a, b)
		}
		n := 0
		for _, s := range review.Standings {
			n += len(s.Results)
		}
		if n != len(results) || len(review.Standings) != len(list.Checks) {
			t.Fatalf("%d results and %d checks in, %d and %d shown", len(results), len(list.Checks), n, len(review.Standings))
		}
	})
}

// TestTheReviewHidesNothing holds that every check that applies is done, found, or listed as not done; that a finding
// which nobody has settled is listed; and that nothing but a result of its own makes a check done.
func TestTheReviewHidesNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		list := checklists().Draw(t, "list")
		results := dealtResults(t, list)
		review := walkaround.NewReview(&list, nil, results)
		notDone := map[string]bool{}
		for _, s := range review.NotDone() {
			notDone[s.Check.ID] = true
		}
		found := map[techlog.ID]bool{}
		for _, r := range review.Findings() {
			found[r.ID] = true
		}
		for _, c := range list.Checks {
			var standing []walkaround.Result
			for _, r := range results {
				replaced := slices.ContainsFunc(results, func(o walkaround.Result) bool { return slices.Contains(o.Said.Replaces, r.ID) })
				if r.Check == c.ID && !replaced {
					standing = append(standing, r)
					if (r.Outcome == walkaround.Finding) != found[r.ID] {
						t.Fatalf("finding %s: listed %v", r.ID, found[r.ID])
					}
				}
			}
			looked := slices.ContainsFunc(standing, func(r walkaround.Result) bool { return r.Outcome != walkaround.Skipped })
			disagree := slices.ContainsFunc(standing, func(r walkaround.Result) bool { return r.Outcome == walkaround.Good }) &&
				slices.ContainsFunc(standing, func(r walkaround.Result) bool { return r.Outcome == walkaround.Finding })
			if want := !looked || disagree; notDone[c.ID] != want {
				t.Fatalf("%s is listed as not done: %v, want %v", c.ID, notDone[c.ID], want)
			}
		}
	})
}

func asJSON(t *rapid.T, v any) string {
	raw, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}
