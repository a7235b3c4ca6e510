package airworthiness_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// companyRow draws a rule of an organization's: any equipment, any quantity, any conditions of aircraft, flight and units.
func companyRow(t *rapid.T, i int) airworthiness.RequirementRow {
	row := airworthiness.RequirementRow{Origin: airworthiness.Origin{
		ID: fmt.Sprintf("company-%d", i), Citation: "operations manual 3", Words: "The organization asks for it.",
	}}
	condition := func() string {
		item := rapid.SampledFrom(usual).Draw(t, "item")
		return rapid.SampledFrom([]string{
			"ifr", "night", "lights", "for-hire", "over-water", "cabin-above:9000", "altitude-above:6000", "airspace:class-c",
			"category:airplane", "retractable-gear", "small", "approved:night-vfr", "vor-checked-within:20",
			"manufactured-after:1985-01-01", "installed:" + item, "works:" + item,
		}).Draw(t, "condition")
	}
	var when []string
	for range rapid.IntRange(0, 2).Draw(t, "conditions") {
		key := condition()
		if slices.ContainsFunc(when, func(other string) bool { return strings.TrimPrefix(other, "!") == key }) {
			continue
		}
		if avoidable := !strings.HasPrefix(key, "!"); avoidable && chance(t, 30, "negated") {
			key = "!" + key
		}
		when = append(when, key)
	}
	row.When = strings.Join(when, " ")
	switch {
	case chance(t, 20, "must hold"):
		row.Must = condition()
	case chance(t, 10, "a note"):
		row.Quantity = "note"
	default:
		row.Item = rapid.SampledFrom(usual).Draw(t, "wanted")
		row.Quantity = rapid.SampledFrom([]string{"1", "1", "2", "all", "all-installed", "each-seat", "each-occupant", "each-engine"}).Draw(t, "quantity")
	}
	return row
}

// TestCompanyRulesOnlyRestrict holds law 9: with an organization's rules no verdict is better, and no finding of the
// regulation's is lost or changed.
func TestCompanyRulesOnlyRestrict(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		with := withCompany(t, r)
		before, after := judge(t, r, w), judge(t, with, w)
		if before.Verdict.WorseThan(after.Verdict) {
			t.Fatalf("%s, and with the organization's rules %s", before.Verdict, after.Verdict)
		}
		left := after.tell(w.defects)
		for i, line := range before.tell(w.defects) {
			f := &before.Findings[i]
			if f.Step == airworthiness.StepAircraft && f.Outcome == airworthiness.OutcomePassed {
				continue // said where nothing at all is missing
			}
			at := slices.Index(left, line)
			if at < 0 {
				t.Fatalf("with the organization's rules it is no longer said: %s", line)
			}
			left = slices.Delete(left, at, at+1)
		}
	})
}

func withCompany(t *rapid.T, r *airworthiness.Ruleset) *airworthiness.Ruleset {
	var rows []airworthiness.RequirementRow
	for i := range rapid.IntRange(1, 4).Draw(t, "company rules") {
		rows = append(rows, companyRow(t, i))
	}
	with, err := r.WithCompany(rows)
	if err != nil {
		t.Fatal(err)
	}
	return with
}

// TestTheLawsHoldWithCompanyRules holds law 3 with rules of an organization's beside the regulation.
func TestTheLawsHoldWithCompanyRules(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w, with := drawWorld(t, r), withCompany(t, r)
		before := judge(t, with, w)
		more := w
		one := messy.defect(t, &w.aircraft, rapid.SampledFrom(laterIDs).Draw(t, "id"))
		if takesOutTheELT(&w.aircraft, &one) {
			return
		}
		more.defects = append(slices.Clone(w.defects), one)
		if after := judge(t, with, more); before.Verdict.WorseThan(after.Verdict) {
			t.Fatalf("%s, and with one more defect %s:%s%s", before.Verdict, after.Verdict, tell(before.tell(w.defects)), tell(after.tell(more.defects)))
		}
		shuffled := w
		shuffled.defects = rapid.Permutation(w.defects).Draw(t, "defects")
		if got := judge(t, with, shuffled); !slices.Equal(got.tell(shuffled.defects), before.tell(w.defects)) {
			t.Fatal("another order, another answer")
		}
		if before.Verdict.Permits() {
			return
		}
		for _, less := range oneFactLess(w) {
			if putsBack(w, less.world) {
				continue
			}
			if after := judge(t, with, less.world); after.Verdict.Permits() {
				t.Fatalf("%s, and without %s %s:%s%s", before.Verdict, less.fact, after.Verdict,
					tell(before.tell(w.defects)), tell(after.tell(less.world.defects)))
			}
		}
	})
}

// putsBack says that what is forgotten is that a unit was taken out: an act, not a fact about it. An organization that asks
// for the unit to be installed holds the flight without it and not with it, be it inoperative.
func putsBack(w, less world) bool {
	for i := range w.defects {
		was, is := &w.defects[i], &less.defects[i]
		if was.Deferral != nil && was.Deferral.Method == airworthiness.Removed &&
			(is.Deferral == nil || is.Deferral.Method != airworthiness.Removed || is.Unit != was.Unit) {
			return true
		}
	}
	return false
}

func TestCompanyRulesAreRefused(t *testing.T) {
	t.Parallel()
	r := rules(t)
	good := airworthiness.RequirementRow{
		Origin: airworthiness.Origin{ID: "company-a", Citation: "manual 1", Words: "Two radios."}, Item: "com-radio", Quantity: "2",
	}
	if _, err := r.WithCompany([]airworthiness.RequirementRow{good}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name   string
		change func(*airworthiness.RequirementRow)
		says   string
	}{
		{"a row of regulation's name", func(q *airworthiness.RequirementRow) { q.ID = "91.205-b-1" }, `91.205-b-1: the id must be "company-"`},
		{"no name", func(q *airworthiness.RequirementRow) { q.ID = "" }, `row 1: the id must be "company-"`},
		{"a name in capitals", func(q *airworthiness.RequirementRow) { q.ID = "company-A" }, `the id must be "company-"`},
		{"no words", func(q *airworthiness.RequirementRow) { q.Words = "" }, "company-a: the row wants a citation"},
		{"no citation", func(q *airworthiness.RequirementRow) { q.Citation = "" }, "company-a: the row wants a citation"},
		{"no such item", func(q *airworthiness.RequirementRow) { q.Item = "dial" }, `company-a: item "dial" is not in the catalog`},
		{"no such condition", func(q *airworthiness.RequirementRow) { q.When = "sunny" }, `company-a: condition "sunny" is not in the table`},
		{"no such quantity", func(q *airworthiness.RequirementRow) { q.Quantity = "0" }, `company-a: quantity "0"`},
		{"a contradiction", func(q *airworthiness.RequirementRow) { q.When = "night !night" }, "company-a: no case can meet"},
		{"about a deferral", func(q *airworthiness.RequirementRow) { q.When = "placarded" }, `company-a: condition "placarded" is about a deferral`},
		{"about a removal", func(q *airworthiness.RequirementRow) { q.When = "removed-within:elt/9" }, `is about a deferral`},
		{"about the set", func(q *airworthiness.RequirementRow) { q.When = "hazard-considered" }, `is about a deferral`},
		{"must be deferred", func(q *airworthiness.RequirementRow) { q.Item, q.Quantity, q.Must = "", "", "not-lapsed" }, `is about a deferral`},
		{"never in force", func(q *airworthiness.RequirementRow) { q.From, q.To = day("2026-02-01"), day("2026-02-01") }, "ends before it is in force"},
	} {
		bad := good
		c.change(&bad)
		if _, err := r.WithCompany([]airworthiness.RequirementRow{bad}); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: it says %v, want %q", c.name, err, c.says)
		}
	}
	two := []airworthiness.RequirementRow{good, good}
	two[0].Item, two[1].Quantity, two[1].ID = "dial", "none", "company-b"
	if _, err := r.WithCompany(two); err == nil || !strings.Contains(err.Error(), "company-a: ") || !strings.Contains(err.Error(), "company-b: ") {
		t.Errorf("not every fault at once: %v", err)
	}
	if _, err := r.WithCompany([]airworthiness.RequirementRow{good, good}); err == nil || !strings.Contains(err.Error(), "company-a: the row stands twice") {
		t.Errorf("a row twice: %v", err)
	}
}

// TestTheBookStaysAsItIs holds that an organization's rules are nobody else's.
func TestTheBookStaysAsItIs(t *testing.T) {
	t.Parallel()
	r := compiled(t, small())
	before := len(r.Rules())
	row := airworthiness.RequirementRow{
		Origin: airworthiness.Origin{ID: "company-a", Citation: "manual 1", Words: "Two lamps."}, Item: "lamp", Quantity: "2", When: "cabin-above:7000",
	}
	with, err := r.WithCompany([]airworthiness.RequirementRow{row})
	if err != nil {
		t.Fatal(err)
	}
	row.ID, row.When = "company-b", "cabin-above:6000"
	other, err := r.WithCompany([]airworthiness.RequirementRow{row})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Rules()) != before || len(with.Rules()) != before+1 || with.Rules()[before].Table != "company" {
		t.Errorf("%d rules, and %d with the organization's", len(r.Rules()), len(with.Rules()))
	}

	// A flight that one ruleset has prepared is prepared anew for another: the conditions of the two are not the same.
	w := world{aircraft: known(units("gauge", nil)...), flight: dated()}
	w.flight.CabinFt = airworthiness.Given(6500.0)
	for _, prepared := range []*airworthiness.Ruleset{r, with, other} {
		flight := prepared.Prepare(w.flight)
		for _, judging := range []*airworthiness.Ruleset{r, with, other} {
			want := judge(t, judging, w)
			var got airworthiness.Determination
			want.plan.Determine(&got, nil, &flight)
			if got.Verdict != want.Verdict || !slices.Equal(got.Findings, want.Findings) {
				t.Errorf("%s, prepared by another ruleset %s", want.Verdict, got.Verdict)
			}
		}
	}
	if a := judge(t, with, w); a.Verdict != airworthiness.Clear {
		t.Errorf("below 7,000 ft it is %s", a.Verdict)
	}
	if a := judge(t, other, w); a.Verdict != airworthiness.Grounded {
		t.Errorf("above 6,000 ft without two lamps it is %s", a.Verdict)
	}
}
