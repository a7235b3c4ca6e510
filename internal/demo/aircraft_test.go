package demo_test

import (
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/regulation"
	"tiedown/internal/upkeep"
)

func TestTheClubHasSixAircraft(t *testing.T) {
	t.Parallel()
	want := []string{"electric", "glider", "light-sport", "mel", "retractable", "trainer"}
	if have := demo.AircraftNames(); !slices.Equal(have, want) {
		t.Errorf("want %v, have %v", want, have)
	}
}

func TestAnUnknownAircraftIsRefused(t *testing.T) {
	t.Parallel()
	_, err := demo.Aircraft("balloon")
	const want = `no aircraft "balloon": there are electric, glider, light-sport, mel, retractable, trainer`
	if err == nil || err.Error() != want {
		t.Errorf("want %s, have %v", want, err)
	}
}

// unknowable names the facts that an aircraft has no answer to: an aircraft without an engine is not cooled, and one
// without a VOR receiver has none checked. An aircraft has an annual inspection or a condition inspection, not both;
// gliders have no classes, none of the club's is experimental, and of none has anybody spoken of a progressive inspection.
var unknowable = map[string][]string{
	"glider":      {"Cooling", "VORChecked", "ConditionInspected", "ELTInspected", "ELTBatteryDue", "ELTBatteryHours", "Class", "ExperimentalUnder"},
	"light-sport": {"VORChecked", "AnnualInspected", "ExperimentalUnder"},
	"trainer":     {"ConditionInspected", "ExperimentalUnder"},
	"retractable": {"ConditionInspected", "ExperimentalUnder"},
	"electric":    {"ConditionInspected", "ExperimentalUnder"},
	"mel":         {"ConditionInspected", "ExperimentalUnder"},
}

func TestEveryFactIsFilled(t *testing.T) {
	t.Parallel()
	for name, a := range club(t) {
		facts := reflect.ValueOf(a.Facts)
		for i := range facts.NumField() {
			field := facts.Type().Field(i).Name
			if filled := !facts.Field(i).IsZero(); filled == (slices.Contains(unknowable[name], field) || strings.HasPrefix(field, "Progressive")) {
				t.Errorf("%s, %s: filled %v", name, field, filled)
			}
		}
		for document, list := range documents(a) {
			if list.OnRecord == nil {
				t.Errorf("%s: nobody has looked at the %s", name, document)
			}
			if list.OnRecord != nil && *list.OnRecord && list.Document == "" {
				t.Errorf("%s: the %s does not say where it stands", name, document)
			}
		}
		if a.Configuration.UnitsComplete == nil || !*a.Configuration.UnitsComplete {
			t.Errorf("%s: the list of units is not complete", name)
		}
		for _, u := range a.Configuration.Units {
			if u.Where == "" {
				t.Errorf("%s: the unit %s is nowhere", name, u.ID)
			}
		}
	}
}

func documents(a casefile.Aircraft) map[string]casefile.OwnList {
	c := a.Configuration
	return map[string]casefile.OwnList{
		"type certification list": c.TypeCertification, "equipment list": c.EquipmentList,
		"kinds-of-operation list": c.KOEL, "directives": c.Directives,
	}
}

// TestEveryAircraftMayFlyAsItStands holds that nothing required is missing from any of them, in every kind of operation
// that it is approved for.
func TestEveryAircraftMayFlyAsItStands(t *testing.T) {
	t.Parallel()
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	for name, a := range club(t) {
		for _, kind := range *a.Facts.Approved {
			question, err := casefile.Compile(casefile.Case{Aircraft: a, Flight: localFlight(kind)}, book.Ruleset)
			if err != nil {
				t.Fatal(err)
			}
			if answer := casefile.Judge(question, book.Ruleset, ""); answer.Verdict != "clear" {
				var text strings.Builder
				_ = answer.WithoutPasses().WriteText(&text) // a strings.Builder does not fail
				t.Errorf("%s, %s: %s", name, kind, &text)
			}
		}
	}
}

// TestInspectKeepsTheClubInOrder holds that on any day what was inspected is good on it, and that nothing is invented for
// an aircraft that does not have it.
func TestInspectKeepsTheClubInOrder(t *testing.T) {
	t.Parallel()
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	for _, on := range []time.Time{time.Date(2026, 3, 1, 14, 0, 0, 0, time.UTC), time.Date(2031, 12, 31, 14, 0, 0, 0, time.UTC)} {
		for name, a := range club(t) {
			before := a.Facts
			demo.Inspect(&a.Facts, on)
			if (a.Facts.ELTInspected == "") != (before.ELTInspected == "") || (a.Facts.AnnualInspected == "") != (before.AnnualInspected == "") {
				t.Errorf("%s: %+v", name, a.Facts)
			}
			f := localFlight("day-vfr")
			f.Departs, f.Arrives = on, on.Add(2*time.Hour)
			q, err := casefile.Compile(casefile.Case{Aircraft: a, Flight: f}, book.Ruleset)
			if err != nil {
				t.Fatal(err)
			}
			if answer := casefile.Judge(q, book.Ruleset, ""); answer.Verdict != "clear" {
				t.Errorf("%s on %s: %s, missing %v", name, on.Format(time.DateOnly), answer.Verdict, answer.Missing)
			}
			subject, err := casefile.CompileUpkeep(a, book.Ruleset, "")
			if err != nil {
				t.Fatal(err)
			}
			for _, i := range book.Upkeep.Items(&subject, airworthiness.DateOf(on)) {
				if i.State != upkeep.Serves && (i.ID != "vor-check" || a.Facts.VORChecked != "") {
					t.Errorf("%s on %s, %s: %s", name, on.Format(time.DateOnly), i.ID, i.Says())
				}
			}
		}
	}
}

// localFlight is a flight of that kind near home, with the pilot alone.
func localFlight(kind string) casefile.Flight {
	no, one, altitude := false, 1, 3000.0
	day, rules, _ := strings.Cut(kind, "-")
	night, byDay := day == "night", day == "day"
	f := casefile.Flight{
		Rules:   rules,
		Departs: time.Date(2027, 1, 15, 14, 0, 0, 0, time.UTC),
		Arrives: time.Date(2027, 1, 15, 16, 0, 0, 0, time.UTC),
		Light:   &casefile.Light{Day: &byDay, Night: &night, SunsetToSunrise: &night},
	}
	f.ForHire, f.OverWater, f.Controlled, f.InAlaska = &no, &no, &no, &no
	f.Occupants, f.Persons, f.RequiredCrew = &one, &one, &one
	f.AltitudeFt, f.Airspace, f.Navigation = &altitude, &[]string{}, &[]string{"gnss"}
	return f
}

// TestWhatMakesEachAircraftWorthShowing holds the points that the demonstration and the stories lean on.
func TestWhatMakesEachAircraftWorthShowing(t *testing.T) {
	t.Parallel()
	has := func(a casefile.Aircraft, item string) bool {
		return slices.ContainsFunc(a.Configuration.Units, func(u casefile.Unit) bool { return u.Item == item })
	}
	all := club(t)
	for name, so := range map[string]func(casefile.Aircraft) bool{
		"trainer": func(a casefile.Aircraft) bool {
			return !*a.Facts.RetractableGear && *a.Facts.Seats == 4 && a.Facts.Basis == "part-23-before-64"
		},
		"retractable": func(a casefile.Aircraft) bool {
			return *a.Facts.RetractableGear && *a.Facts.AltitudeEngine && has(a, "oxygen-system") && has(a, "dme")
		},
		"electric": func(a casefile.Aircraft) bool {
			return !has(a, "vacuum-pump") && !has(a, "suction-gauge") && has(a, "vacuum-warning-light")
		},
		"mel":         func(a casefile.Aircraft) bool { return *a.Facts.MELAuthorized },
		"light-sport": func(a casefile.Aircraft) bool { return a.Facts.Certificate == "light-sport" && *a.Facts.Seats == 2 },
		"glider":      func(a casefile.Aircraft) bool { return a.Facts.Category == "glider" && a.Facts.Engine == "none" },
	} {
		if !so(all[name]) {
			t.Errorf("%s is not what it is shown for", name)
		}
	}
}

// TestOneCallerCannotSpoilTheNext holds that every caller has an aircraft of its own.
func TestOneCallerCannotSpoilTheNext(t *testing.T) {
	t.Parallel()
	first, err := demo.Aircraft("trainer")
	if err != nil {
		t.Fatal(err)
	}
	first.Configuration.Units[0].Item = "beacon"
	*first.Facts.Seats = 1
	second, err := demo.Aircraft("trainer")
	if err != nil {
		t.Fatal(err)
	}
	if second.Configuration.Units[0].Item == "beacon" || *second.Facts.Seats == 1 {
		t.Error("a change to one aircraft shows in the next")
	}
}

// club is every aircraft of the club by name.
func club(t *testing.T) map[string]casefile.Aircraft {
	t.Helper()
	all := map[string]casefile.Aircraft{}
	for _, name := range demo.AircraftNames() {
		a, err := demo.Aircraft(name)
		if err != nil {
			t.Fatal(err)
		}
		all[name] = a
	}
	return all
}
