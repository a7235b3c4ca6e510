package airworthiness_test

import (
	"slices"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
)

// The tests of this file hold what the stories leave to chance: the edge of each limit, what an answer says beside its
// verdict, and which of several reasons counts. Each was written because a change of the engine went unnoticed.

// TestTheCabinIsNeverHigherThanTheAircraft: without the cabin's own altitude the aircraft's bounds it from above, and says
// nothing more (14 CFR 91.211(a) speaks of cabin pressure altitudes).
func TestTheCabinIsNeverHigherThanTheAircraft(t *testing.T) {
	t.Parallel()
	r := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "1", When: "cabin-above:12500"}))
	unknown, given := airworthiness.Fact[float64]{}, airworthiness.Given[float64]
	cases := []struct {
		name            string
		cabin, altitude airworthiness.Fact[float64]
		want            airworthiness.Outcome
	}{
		{"neither is known", unknown, unknown, open},
		{"the aircraft at the limit", unknown, given(12500), passed},
		{"the aircraft below", unknown, given(9000), passed},
		{"the aircraft above", unknown, given(12501), open},
		{"the cabin at the limit", given(12500), given(20000), passed},
		{"the cabin above", given(12501), given(20000), breached},
		{"the cabin above, the aircraft unknown", given(12501), unknown, breached},
	}
	for _, c := range cases {
		w := world{aircraft: known(), flight: dated()}
		w.flight.CabinFt, w.flight.AltitudeFt = c.cabin, c.altitude
		if got, _ := outcome(t, r, w, "want"); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// TestOnlyClassAHangsOnTheAltitude: Class A begins at 18,000 ft (14 CFR 71.33, from memory), the other classes are where
// the flight says.
func TestOnlyClassAHangsOnTheAltitude(t *testing.T) {
	t.Parallel()
	for class, want := range map[string][2]airworthiness.Outcome{"class-a": {passed, breached}, "class-b": {passed, passed}} {
		r := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "1", When: "airspace:" + class}))
		for i, altitude := range []float64{17999, 18000} {
			w := world{aircraft: known(), flight: dated()}
			w.flight.AltitudeFt, w.flight.Airspace = airworthiness.Given(altitude), airworthiness.Given[[]string](nil)
			if got, _ := outcome(t, r, w, "want"); got != want[i] {
				t.Errorf("%s at %.0f ft: %s, want %s", class, altitude, got, want[i])
			}
		}
	}
}

// TestConditionsAreRefused adds what the museum of faulty rows leaves out: a number of days of none, and the words that
// no table has.
func TestConditionsAreRefused(t *testing.T) {
	t.Parallel()
	for when, says := range map[string]string{
		"removed-within:lamp/0":  "want a number of days from 1",
		"removed-within:lamp/-1": "want a number of days from 1",
		"removed-within:lamp/x":  "want a number of days from 1",
		"removed-within:lamp/1":  "",
		"vor-checked-within:0":   "want a number of days from 1",
		"vor-checked-within:1":   "",
		"airspace:class-x":       "want one of",
		"annual-within:1":        "",

		"annual-within:99999999999999999999":       "want a number of calendar months from 1",
		"inspection-hours-within:0":                "want a number of hours above 0",
		"inspection-hours-within:-1":               "want a number of hours above 0",
		"inspection-hours-within:1e999":            "want a number of hours above 0",
		"inspection-hours-within:0.5":              "",
		"removed-within:lamp/99999999999999999999": "want a number of days from 1",
	} {
		_, err := airworthiness.Compile(wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "1", When: when}))
		if (err == nil) != (says == "") || err != nil && !strings.Contains(err.Error(), says) {
			t.Errorf("%s: it says %v, want %q", when, err, says)
		}
	}
	if names := airworthiness.ConditionNames(); !slices.IsSorted(names) || len(slices.Compact(names)) != len(airworthiness.ConditionNames()) {
		t.Error("the names of the conditions are not in order, or one stands twice")
	}
}

// TestACompanyRowIsTheCompanys holds what a row of an organization says of itself, and that two organizations share a book
// without sharing rows.
func TestACompanyRowIsTheCompanys(t *testing.T) {
	t.Parallel()
	tables := small()
	for _, id := range []string{"second", "third"} { // so many rows that a slice has room for one more
		row := tables.Requirements[0]
		row.ID = id
		tables.Requirements = append(tables.Requirements, row)
	}
	r := compiled(t, tables)
	company := func(id, item, when string) *airworthiness.Ruleset {
		with, err := r.WithCompany([]airworthiness.RequirementRow{{
			Origin: airworthiness.Origin{ID: id, Citation: "manual 1", Words: "A lamp.", From: day("2020-01-01"), To: day("2030-01-01")},
			Item:   item, Quantity: "1", When: when,
		}})
		if err != nil {
			t.Fatal(err)
		}
		return with
	}
	first, second := company("company-lamp", "lamp", ""), company("company-belt", "belt", "night")
	for want, with := range map[string]*airworthiness.Ruleset{"company-lamp": first, "company-belt": second} {
		rules := with.Rules()
		last := rules[len(rules)-1]
		if last.ID != want || last.Status != airworthiness.CompanyStatus || last.Source != "manual 1" || last.Table != "company" {
			t.Errorf("the row is %+v, want %s", last, want)
		}
	}
	w := world{aircraft: known(units("gauge", nil)...), flight: dated()}
	w.flight.Night = airworthiness.No
	for with, want := range map[*airworthiness.Ruleset]airworthiness.Verdict{
		r: airworthiness.Clear, first: airworthiness.Grounded, second: airworthiness.Clear,
	} {
		a := judge(t, with, w)
		if a.Verdict != want {
			t.Errorf("%s, want %s:%s", a.Verdict, want, tell(a.tell(nil)))
		}
		for i := range a.Findings {
			if f := &a.Findings[i]; a.plan.RowID(f) == "company-lamp" && f.Step != airworthiness.StepCompany {
				t.Errorf("the organization's row stands at the step %s", f.Step)
			}
		}
	}
}

// TestACompanyConditionIsTheCompanysToo: what must hold, without equipment, is asked at the organization's step.
func TestACompanyConditionIsTheCompanysToo(t *testing.T) {
	t.Parallel()
	r, err := rules(t).WithCompany([]airworthiness.RequirementRow{{
		Origin: airworthiness.Origin{ID: "company-high", Citation: "manual 1", Words: "Never low."}, Must: "altitude-above:100",
	}})
	if err != nil {
		t.Fatal(err)
	}
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	w.flight.AltitudeFt = airworthiness.Given(100.0)
	a := judge(t, r, w)
	for i := range a.Findings {
		if f := &a.Findings[i]; a.plan.RowID(f) == "company-high" {
			if f.Step != airworthiness.StepCompany || f.Verdict != airworthiness.Grounded {
				t.Errorf("%s at the step %s", f.Verdict, f.Step)
			}
			return
		}
	}
	t.Error("the organization's condition is not told")
}

// TestAFailureDoesNotLiftACompanyRow: a row that asks for one item where another is there stands when that other fails.
func TestAFailureDoesNotLiftACompanyRow(t *testing.T) {
	t.Parallel()
	for _, when := range []string{"works:lamp", "installed:lamp"} {
		r, err := compiled(t, small()).WithCompany([]airworthiness.RequirementRow{{
			Origin: airworthiness.Origin{ID: "company-belt", Citation: "manual 1", Words: "A belt beside the lamp."}, Item: "belt", Quantity: "1", When: when,
		}})
		if err != nil {
			t.Fatal(err)
		}
		w := world{aircraft: known(append(units("gauge", nil), airworthiness.Unit{ID: "lamp", Item: "lamp"})...), flight: dated()}
		for range 2 {
			if got, verdict := outcome(t, r, w, "company-belt"); got != breached || verdict != airworthiness.Grounded {
				t.Errorf("%s with %d squawks: %s, %s", when, len(w.defects), got, verdict)
			}
			w.defects = append(w.defects, removed("lamp"))
		}
	}
}
