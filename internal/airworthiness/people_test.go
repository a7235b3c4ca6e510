package airworthiness_test

import (
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

var truths = rapid.SampledFrom([]airworthiness.Truth{airworthiness.Yes, airworthiness.Yes, airworthiness.No, airworthiness.Unknown})

// fill draws every truth of a struct.
func fill(t *rapid.T, into any) {
	v := reflect.ValueOf(into).Elem()
	for i := range v.NumField() {
		if truth, ok := v.Field(i).Addr().Interface().(*airworthiness.Truth); ok {
			*truth = truths.Draw(t, v.Type().Field(i).Name)
		}
	}
}

func words(t *rapid.T, all []string, label string) airworthiness.Fact[[]string] {
	if chance(t, 20, label+" unknown") {
		return airworthiness.Fact[[]string]{}
	}
	return airworthiness.Given(rapid.SliceOfNDistinct(rapid.SampledFrom(all), 0, 3, rapid.ID[string]).Draw(t, label))
}

// drawOccasion draws a question about a person, most of which is known.
func drawOccasion(t *rapid.T, r *airworthiness.Ruleset) airworthiness.Occasion {
	c := care{known: rapid.SampledFrom([]int{100, 95, 70}).Draw(t, "known")}
	aircraft := c.aircraft(t, r)
	aircraft.Class = rapid.SampledFrom(append(airworthiness.Vocabulary("class"), "", "single-engine-land")).Draw(t, "class")
	aircraft.ExperimentalUnder = rapid.SampledFrom(append(airworthiness.Vocabulary("experimental_under"), "")).Draw(t, "paragraph")
	aircraft.AirCarrierUse = c.truth(t, 10, "air carrier")
	p := drawPerson(t)
	if chance(t, 30, "supervised") {
		p.Supervisor = drawPerson(t)
	}
	o := airworthiness.Occasion{
		Verb: rapid.SampledFrom(airworthiness.Verbs()).Draw(t, "verb"), Action: rapid.SampledFrom(r.Actions()).Draw(t, "action"),
		Person: p, Aircraft: &aircraft, On: civil("2027-01-15"),
	}
	fill(t, &o.Work)
	o.Work.Number = rapid.IntRange(0, 32).Draw(t, "number")
	o.Work.Part = rapid.SampledFrom(append(airworthiness.Vocabulary("part"), "")).Draw(t, "part")
	o.Work.Policy = rapid.SampledFrom([]string{"", "strict", "rule-text"}).Draw(t, "policy")
	return o
}

func civil(s string) airworthiness.Date {
	d, _ := airworthiness.ParseDate(s)
	return d
}

func drawPerson(t *rapid.T) *airworthiness.Person {
	p := &airworthiness.Person{}
	fill(t, p)
	p.Pilot = airworthiness.PilotGrade(rapid.IntRange(0, int(airworthiness.AirlineTransportPilot)).Draw(t, "pilot"))
	p.PilotRatings = words(t, airworthiness.PilotRatings(), "ratings")
	p.Repairman = words(t, airworthiness.Vocabulary("repairman"), "repairman")
	p.RepairStation = words(t, airworthiness.Vocabulary("repair_station"), "station")
	if chance(t, 70, "ends") {
		p.InspectionAuthorizationEnds = airworthiness.Given(rapid.SampledFrom([]airworthiness.Date{civil("2025-03-31"), civil("2027-03-31")}).Draw(t, "end"))
	}
	return p
}

// unlearn takes one fact out of a copy of a struct.
func unlearn[T any](t *rapid.T, v T) T {
	field := reflect.ValueOf(&v).Elem().Field(rapid.IntRange(0, reflect.TypeFor[T]().NumField()-1).Draw(t, "forgotten"))
	field.SetZero()
	return v
}

// TestOneFactLessAboutPeopleNeverPermits is law 3 for people: what is not known of a person, an aircraft or the work never
// permits what the known fact did not.
func TestOneFactLessAboutPeopleNeverPermits(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		o := drawOccasion(t, r)
		less := o
		switch rapid.IntRange(0, 2).Draw(t, "of") {
		case 0:
			p := unlearn(t, *o.Person)
			less.Person = &p
		case 1:
			a := unlearn(t, *o.Aircraft)
			less.Aircraft = &a
		case 2:
			less.Work = unlearn(t, o.Work)
			if less.Work.Policy != o.Work.Policy || less.Work.Part != o.Work.Part {
				t.Skip("the policy has a default, and the list of paragraphs says which part")
			}
		}
		if before, after := r.May(o), r.May(less); after.Answer == airworthiness.Yes && before.Answer != airworthiness.Yes {
			t.Fatalf("to %s %s: %s with the fact, yes without: %+v", o.Verb, o.Action, before.Answer, after.Rows)
		}
	})
}

// TestOneCertificateMoreTakesNothingAway holds that what somebody may do, the same person may do with more.
func TestOneCertificateMoreTakesNothingAway(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		o := drawOccasion(t, r)
		more := *o.Person
		for _, truth := range []*airworthiness.Truth{
			&more.Airframe, &more.Powerplant, &more.InspectionAuthorization, &more.Manufacturer, &more.Program,
		} {
			if chance(t, 30, "more") {
				*truth = airworthiness.Yes
			}
		}
		if more.Repairman.Known {
			more.Repairman.Value = append(slices.Clone(more.Repairman.Value), rapid.SampledFrom(airworthiness.Vocabulary("repairman")).Draw(t, "repairman"))
		}
		with := o
		with.Person = &more
		if before, after := r.May(o), r.May(with); before.Answer == airworthiness.Yes && after.Answer != airworthiness.Yes {
			t.Fatalf("to %s %s: yes, and %s with more: %+v", o.Verb, o.Action, after.Answer, after.Rows)
		}
	})
}

// TestEveryAnswerAboutPeopleNamesItsRows holds that yes and no rest on rows, and that an unknown answer to a question that
// rows speak of names what is missing.
func TestEveryAnswerAboutPeopleNamesItsRows(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		o := drawOccasion(t, r)
		a := r.May(o)
		if a.Answer != airworthiness.Unknown && len(a.Rows) == 0 {
			t.Fatalf("to %s %s: %s, and no row says so", o.Verb, o.Action, a.Answer)
		}
		if a.Answer == airworthiness.Unknown && len(a.Rows) > 0 && len(a.Missing) == 0 {
			t.Fatalf("to %s %s: unknown, and nothing is missing: %+v", o.Verb, o.Action, a.Rows)
		}
	})
}

// TestAFindingBringsSomethingToDoOnlyWhileItStandsInTheWay holds that nothing is to be done about what has passed or is not
// known, and something about every step that has not been taken.
func TestAFindingBringsSomethingToDoOnlyWhileItStandsInTheWay(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		a := judge(t, r, w)
		for i := range a.Findings {
			f := &a.Findings[i]
			todo := a.plan.ToDo(&a.Determination, f, w.defects)
			open := f.Outcome == airworthiness.OutcomeUndone || f.Outcome == airworthiness.OutcomeBreached
			if len(todo) > 0 && !open {
				t.Fatalf("%s %s: %+v", f.Step, f.Outcome, todo)
			}
			if f.Outcome == airworthiness.OutcomeUndone && len(todo) == 0 {
				t.Fatalf("%s: undone, and nothing to do", a.plan.RowID(f))
			}
		}
	})
}

func TestPilotGrades(t *testing.T) {
	t.Parallel()
	for _, name := range airworthiness.PilotGrades() {
		if g, ok := airworthiness.ParsePilotGrade(name); !ok || g.String() != name || g <= airworthiness.NoPilot {
			t.Errorf("%s: have %v %v", name, g, ok)
		}
	}
	if _, ok := airworthiness.ParsePilotGrade("wise"); ok {
		t.Error("a grade that there is not")
	}
	var zero airworthiness.Person
	if zero.Pilot != airworthiness.PilotGradeUnknown {
		t.Error("the zero value of a person is known to hold something")
	}
}

// TestRatingsCoverCategoryAndClass: 14 CFR 61.5(b), read in eCFR title 14 issue 2026-08-24, for classes; that large and
// turbine-powered aircraft may need a type rating is 61.31(a).
func TestRatingsCoverCategoryAndClass(t *testing.T) {
	t.Parallel()
	r := rules(t)
	single := airworthiness.Aircraft{Category: "airplane", Class: "single-engine-land", Engine: "reciprocating", MaxTakeoffWeightLb: airworthiness.Given(2400.0)}
	with := func(change func(*airworthiness.Aircraft)) airworthiness.Aircraft {
		a := single
		change(&a)
		return a
	}
	for _, c := range []struct {
		name     string
		aircraft airworthiness.Aircraft
		ratings  []string
		want     airworthiness.Truth
	}{
		{"the same", single, []string{"airplane single-engine-land"}, airworthiness.Yes},
		{"another class", single, []string{"airplane single-engine-sea"}, airworthiness.No},
		{"another category", single, []string{"glider"}, airworthiness.No},
		{"none", single, nil, airworthiness.No},
		{"class unknown", with(func(a *airworthiness.Aircraft) { a.Class = "" }), []string{"airplane single-engine-land"}, airworthiness.Unknown},
		{"class unknown, other category", with(func(a *airworthiness.Aircraft) { a.Class = "" }), []string{"glider"}, airworthiness.No},
		{"category unknown", with(func(a *airworthiness.Aircraft) { a.Category = "" }), []string{"airplane single-engine-land"}, airworthiness.Unknown},
		{"turbine", with(func(a *airworthiness.Aircraft) { a.Engine = "turbine" }), []string{"airplane single-engine-land"}, airworthiness.Unknown},
		{"large", with(func(a *airworthiness.Aircraft) { a.MaxTakeoffWeightLb.Value = 12501 }), []string{"airplane single-engine-land"}, airworthiness.Unknown},
		{"a category without classes", with(func(a *airworthiness.Aircraft) { a.Category, a.Class, a.Engine = "glider", "", "none" }), []string{"glider"}, airworthiness.Yes},
	} {
		p := &airworthiness.Person{
			Pilot: airworthiness.PrivatePilot, PilotRatings: airworthiness.Given(c.ratings), Airframe: airworthiness.No,
			Powerplant: airworthiness.No, Repairman: airworthiness.Given([]string{}), RepairStation: airworthiness.Given([]string{}),
		}
		have := r.May(airworthiness.Occasion{Verb: "determine", Action: "hazard-determination", Person: p, Aircraft: &c.aircraft})
		if have.Answer != c.want {
			t.Errorf("%s: want %s, have %+v", c.name, c.want, have)
		}
	}
}
