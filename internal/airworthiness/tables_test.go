package airworthiness_test

import (
	"strings"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
)

// small is a book of a few rows, to try one quantity or one fault at a time.
func small() airworthiness.Tables {
	origin := func(id string) airworthiness.Origin {
		return airworthiness.Origin{ID: id, Citation: "rule " + id, Words: "words of " + id, Status: "verified", Source: "this test"}
	}
	t := airworthiness.Tables{
		Items: []airworthiness.ItemRow{
			{Item: "gauge", Name: "Gauge", Nature: "equipment"},
			{Item: "display", Name: "Display", Nature: "equipment", ServesAs: []string{"gauge"}},
			{Item: "lamp", Name: "Lamp", Nature: "equipment"},
			{Item: "belt", Name: "Belt", Nature: "equipment"},
			{Item: "tire", Name: "Tire", Nature: "condition"},
		},
		Conditions: []airworthiness.Words{
			{Key: "kind", Holds: "the flight is {}", NotHolding: "not {}", Holding: "only {}", Fact: "flight.rules"},
			{Key: "mel-authorized", Holds: "an MEL governs", Fact: "aircraft.facts.mel_authorized"},
			{Key: "mel-authority", Holds: "the MEL is used under {key}", Fact: "aircraft.configuration.mel.authority"},
			{Key: "night", Holds: "part is at night", NotHolding: "not at night", Holding: "only at night", Fact: "flight.light"},
			{Key: "for-hire", Holds: "it is for hire", NotHolding: "not for hire", Holding: "only for hire", Fact: "flight.for_hire"},
			{Key: "pressurized", Holds: "the cabin is pressurized", Fact: "aircraft.facts.pressurized"},
			{Key: "installed", Holds: "{} is installed", Fact: "aircraft.configuration.units_complete"},
			{Key: "works", Holds: "{} works", Fact: "aircraft.configuration.units_complete"},
			{Key: "out-of-use", Holds: "it is out of use", Fact: "defects[].deferral.method_done"},
			{Key: "wordless", Holds: "it is", Fact: "nowhere"},
			{Key: "category", Holds: "it is {}", Fact: "aircraft.facts.category"},
			{Key: "removed-within", Holds: "{} was removed", Fact: "defects[].deferral.removed_on"},
			{Key: "vor-checked-within", Holds: "the VOR was checked", Fact: "aircraft.facts.vor_checked"},
			{Key: "manufactured-after", Holds: "it was made after {}", Fact: "aircraft.facts.manufactured"},
			{Key: "cabin-above", Holds: "the cabin is above {}", NotHolding: "not above {}", Holding: "only above {}", Fact: "flight.cabin_ft"},
			{Key: "airspace", Holds: "it enters {}", NotHolding: "not in {}", Holding: "only in {}", Fact: "flight.airspace"},
			{Key: "approved", Holds: "it is approved for {}", Fact: "aircraft.facts.approved"},
			{Key: "annual-within", Holds: "the annual is {} months old", Fact: "aircraft.facts.annual_inspected"},
			{Key: "inspection-hours-within", Holds: "it is within {} hours", Fact: "aircraft.facts.hours_since_inspection"},
			{Key: "elt-battery-in-life", Holds: "the battery is good", Fact: "aircraft.facts.elt_battery_due"},
			{Key: "elt-battery-used-at-most", Holds: "it was used {} hours", Fact: "aircraft.facts.elt_battery_hours"},
		},
		Terms:        []airworthiness.TermRow{{Term: "caution", Words: "Take care."}},
		Eligibility:  []airworthiness.EligibilityRow{{Origin: origin("all"), When: ""}},
		Requirements: []airworthiness.RequirementRow{{Origin: origin("want"), Item: "gauge", Quantity: "1"}},
		Procedure: []airworthiness.ProcedureRow{{
			Origin: origin("put-away"), Step: "disposition", Must: "out-of-use", Otherwise: airworthiness.DeferFirst,
		}},
	}
	for _, step := range airworthiness.StepNames() {
		t.Practice = append(t.Practice, airworthiness.PracticeRow{Step: step, Asked: asked(step), Passed: "passed " + step})
		t.Steps = append(t.Steps, airworthiness.StepRow{Step: step, Citation: "step " + step, Words: "words of " + step})
	}
	return t
}

// asked is how a step is asked where nothing else is said.
func asked(step string) string {
	switch step {
	case "type-certification":
		return "always"
	case "equipment-list", "regulation", "company", "directive":
		return "as-flown"
	default:
		return "yes"
	}
}

// wanting is the small book with one row, "want", that asks for something else.
func wanting(row airworthiness.RequirementRow) airworthiness.Tables {
	t := small()
	row.Origin = t.Requirements[0].Origin
	t.Requirements[0] = row
	return t
}

func compiled(t *testing.T, tables airworthiness.Tables) *airworthiness.Ruleset {
	t.Helper()
	r, err := airworthiness.Compile(tables)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// known is an aircraft of which all is known that is not about its units.
func known(units ...airworthiness.Unit) airworthiness.Aircraft {
	yes := airworthiness.OwnList{OnRecord: airworthiness.Yes, Confirmed: airworthiness.Yes}
	return airworthiness.Aircraft{
		Category: "airplane", MELAuthorized: airworthiness.No, Pressurized: airworthiness.No, Units: units, UnitsComplete: airworthiness.Yes,
		TypeCertification: yes, EquipmentList: yes, KOEL: yes, Directives: yes,
	}
}

func dated() airworthiness.Flight {
	return airworthiness.Flight{On: day("2026-06-01"), Ends: time.Date(2026, 6, 1, 18, 0, 0, 0, time.UTC)}
}

// outcome is how a row came out, and what the whole verdict is. A row that asks nothing has passed.
func outcome(t *testing.T, r *airworthiness.Ruleset, w world, row string) (airworthiness.Outcome, airworthiness.Verdict) {
	t.Helper()
	a := judge(t, r, w)
	for i := range a.Findings {
		if a.plan.RowID(&a.Findings[i]) == row {
			return a.Findings[i].Outcome, a.Verdict
		}
	}
	return airworthiness.OutcomePassed, a.Verdict
}

func TestCompileNamesEveryFaultyRow(t *testing.T) {
	t.Parallel()
	row := func(change func(*airworthiness.RequirementRow)) func(*airworthiness.Tables) {
		return func(t *airworthiness.Tables) { change(&t.Requirements[0]) }
	}
	when := func(s string) func(*airworthiness.Tables) {
		return row(func(r *airworthiness.RequirementRow) { r.When = s })
	}
	relief := func(r airworthiness.ReliefRow) func(*airworthiness.Tables) {
		r.ID = "ease"
		return func(t *airworthiness.Tables) { t.Reliefs = []airworthiness.ReliefRow{r} }
	}
	cases := []struct {
		name   string
		change func(*airworthiness.Tables)
		says   string
	}{
		{"an item twice", func(t *airworthiness.Tables) { t.Items = append(t.Items, t.Items[0]) }, "gauge: the item stands twice"},
		{"serves as nothing known", func(t *airworthiness.Tables) { t.Items[1].ServesAs = []string{"dial"} }, `display: serves as "dial"`},
		{"a condition twice", func(t *airworthiness.Tables) { t.Conditions = append(t.Conditions, t.Conditions[0]) }, "kind: the condition stands twice"},
		{"no such condition", when("sunny"), `want: condition "sunny" is not in the table`},
		{"words without meaning", when("wordless"), `want: condition "wordless" has words but no meaning`},
		{"a contradiction", when("night !night"), `want: no case can meet`},
		{"an argument too many", when("night:late"), `it takes no argument`},
		{"a word outside the vocabulary", when("category:aeroplane"), "want: condition \"category:aeroplane\": want one of airplane"},
		{"no date", when("manufactured-after:1978"), "want a date YYYY-MM-DD"},
		{"no number", when("cabin-above:high"), "want a number"},
		{"no such airspace", when("airspace:b"), "want one of class-a"},
		{"no months", when("annual-within:0"), "want a number of calendar months from 1"},
		{"no hours", when("inspection-hours-within:none"), "want a number of hours above 0"},
		{"a day with an argument", when("elt-battery-in-life:1"), "it takes no argument"},
		{"no hours of use", when("elt-battery-used-at-most:some"), "want a number of hours"},
		{"no such kind", when("approved:day"), "want a kind of operation"},
		{"no such item installed", when("installed:dial"), `item "dial" is not in the catalog`},
		{"no days", when("removed-within:lamp"), "want a number of days from 1"},
		{"no such item", row(func(r *airworthiness.RequirementRow) { r.Item = "gauge|dial" }), `want: item "dial" is not in the catalog`},
		{"none wanted", row(func(r *airworthiness.RequirementRow) { r.Quantity = "0" }), `want: quantity "0"`},
		{"no such quantity", row(func(r *airworthiness.RequirementRow) { r.Quantity = "some" }), `want: quantity "some"`},
		{"a note on an item", row(func(r *airworthiness.RequirementRow) { r.Quantity = "note" }), `want: quantity "note"`},
		{"item and condition", row(func(r *airworthiness.RequirementRow) { r.Must = "night" }), "want: want an item and a quantity, or"},
		{"neither", row(func(r *airworthiness.RequirementRow) { r.Item = "" }), "want: want an item and a quantity, or"},
		{"no such must", row(func(r *airworthiness.RequirementRow) { r.Item, r.Quantity, r.Must = "", "", "sunny" }), `want: condition "sunny"`},
		{"a row twice", func(t *airworthiness.Tables) { t.Requirements = append(t.Requirements, t.Requirements[0]) }, "want: the row stands twice"},
		{"a step missing", func(t *airworthiness.Tables) { t.Steps = t.Steps[1:] }, "aircraft: the step has no row"},
		{"no such step", func(t *airworthiness.Tables) { t.Steps[0].Step = "roll" }, `roll: no such step "roll"`},
		{"relief of nothing", relief(airworthiness.ReliefRow{Relieves: []string{"wish"}}), `ease: relieves "wish"`},
		{"relief read second-hand", relief(airworthiness.ReliefRow{Origin: airworthiness.Origin{Status: "second-hand"}}), "ease: a row read second-hand may forbid, never permit"},
		{"relief that nobody says was read", relief(airworthiness.ReliefRow{}), "ease: what has not been read may forbid, never permit"},
		{"relief from memory", relief(airworthiness.ReliefRow{Origin: airworthiness.Origin{Status: "memory"}}), "ease: a row from memory may forbid, never permit"},
		{"relief that binds to nothing", relief(airworthiness.ReliefRow{When: "night"}), "ease: a relief that hangs on the flight must say"},
		{"relief with a bad clause", relief(airworthiness.ReliefRow{When: "sunny"}), `ease: condition "sunny"`},
		{"no way to keep out", func(t *airworthiness.Tables) {
			t.Conditions[3].NotHolding, t.Requirements[0].When = "", "night"
		}, `want: condition "night" has no words for a limitation`},
		{"no way to keep in", func(t *airworthiness.Tables) {
			t.Conditions[3].Holding, t.Requirements[0].When = "", "!night"
		}, `want: condition "night" has no words for a limitation`},
		{"eligible when", func(t *airworthiness.Tables) { t.Eligibility[0].When = "sunny" }, `all: condition "sunny"`},
		{"no such procedure", func(t *airworthiness.Tables) { t.Procedure[0].Step = "paint" }, `put-away: no such step "paint"`},
		{"procedure when", func(t *airworthiness.Tables) { t.Procedure[0].When = "sunny" }, `put-away: condition "sunny"`},
		{"procedure must", func(t *airworthiness.Tables) { t.Procedure[0].Must = "sunny" }, `put-away: condition "sunny"`},
		{"a step left undone that permits", func(t *airworthiness.Tables) { t.Procedure[0].Otherwise = airworthiness.Limited }, "put-away: a step left undone must defer or ground"},
		{"no MEL condition", func(t *airworthiness.Tables) { t.Conditions[1].Key = "mel" }, "path: condition \"mel-authorized\""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			tables := small()
			c.change(&tables)
			r, err := airworthiness.Compile(tables)
			if err == nil || r != nil {
				t.Fatal("it compiles")
			}
			if !strings.Contains(err.Error(), c.says) {
				t.Errorf("it says %q, want %q", err, c.says)
			}
		})
	}
}

func TestCompileReportsEveryFaultAtOnce(t *testing.T) {
	t.Parallel()
	tables := small()
	tables.Requirements[0].Quantity, tables.Eligibility[0].When, tables.Procedure[0].Must = "some", "sunny", "sunny"
	_, err := airworthiness.Compile(tables)
	for _, id := range []string{"want:", "all:", "put-away:"} {
		if err == nil || !strings.Contains(err.Error(), id) {
			t.Errorf("%v does not name %s", err, id)
		}
	}
}

func TestTooManyConditionsAreRefused(t *testing.T) {
	t.Parallel()
	tables := small()
	var terms []string
	for i := range 200 {
		terms = append(terms, "cabin-above:"+strings.Repeat("1", 1+i%9)+"."+strings.Repeat("5", 1+i/9))
	}
	tables.Requirements[0].When = strings.Join(terms, " ")
	if _, err := airworthiness.Compile(tables); err == nil || !strings.Contains(err.Error(), "more than 192 distinct conditions") {
		t.Errorf("it says %v", err)
	}
}

func TestAPlanRefusesWhatTheCatalogDoesNotHold(t *testing.T) {
	t.Parallel()
	r := compiled(t, small())
	gauge := airworthiness.Unit{ID: "a", Item: "gauge"}
	list := airworthiness.OwnList{OnRecord: airworthiness.Yes, Rows: []airworthiness.OwnRow{{Item: "dial"}}}
	cases := []struct {
		name   string
		change func(*airworthiness.Aircraft)
		says   string
	}{
		{"item", func(a *airworthiness.Aircraft) { a.Units[0].Item = "dial" }, `unit "a": item "dial"`},
		{"also", func(a *airworthiness.Aircraft) { a.Units[0].Also = []string{"dial"} }, `unit "a": serves as "dial"`},
		{"twice", func(a *airworthiness.Aircraft) { a.Units = append(a.Units, gauge) }, `unit "a" stands twice`},
		{"needs", func(a *airworthiness.Aircraft) { a.Units[0].Needs = []string{"b"} }, `unit "a" needs "b"`},
		{"own list", func(a *airworthiness.Aircraft) { a.KOEL = list }, `equipment-list: item "dial"`},
	}
	for _, c := range cases {
		a := known(gauge)
		c.change(&a)
		if plan, err := r.Plan(&a); err == nil || plan != nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: it says %v, want %q", c.name, err, c.says)
		}
	}
}
