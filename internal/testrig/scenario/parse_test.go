package scenario_test

import (
	"reflect"
	"strings"
	"testing"
	"testing/fstest"

	"tiedown/internal/casefile"
	"tiedown/internal/testrig/scenario"
)

// whole is a story with nothing wrong, in parts that the tests put something beside or in place of.
const whole = `story: The landing light is out
source: 14 CFR 91.205(c)(4)
aircraft: trainer
given: landing-light inoperative
flight: night vfr, for-hire
then: grounded
because: 91.205-c-4 breached
`

func TestParseRefuses(t *testing.T) {
	t.Parallel()
	with := func(line string) string { return whole + line + "\n" }
	without := func(line string) string { return strings.Replace(whole, line+"\n", "", 1) }
	swap := func(old, line string) string { return strings.Replace(whole, old, line, 1) }
	for _, c := range []struct{ name, text, says string }{
		{"nothing", "", "f: no story"},
		{"only comments", "# nothing\n\n", "f: no story"},
		{"a line before the first story", "source: x\n" + whole, "f:1: source stands before the first story"},
		{"no keyword", with("grounded"), `f:8: want KEYWORD: VALUE, have "grounded"`},
		{"no value", with("missing:"), `f:8: want KEYWORD: VALUE, have "missing:"`},
		{"an unknown keyword", with("when: it rains"), `f:8: no such keyword "when"`},
		{"a stray space", with(" missing: x"), "f:8: a space before or after the text"},
		{"a trailing space", with("missing: x "), "f:8: a space before or after the text"},
		{"two spaces", with("missing:  x"), `f:8: want KEYWORD: VALUE, have "missing:  x"`},
		{"a keyword twice", with("then: clear"), "f:8: then stands twice in one story"},
		{"two flights", with("flight: day vfr"), "f:8: flight stands twice in one story"},
		{"a story twice", whole + whole, `f:8: the story "The landing light is out" stands twice`},
		{"no source", without("source: 14 CFR 91.205(c)(4)"), "f:1: The landing light is out: the story names no source"},
		{"no aircraft", without("aircraft: trainer"), "f:1: The landing light is out: the story names no aircraft"},
		{"no verdict", without("then: grounded"), "f:1: The landing light is out: the story has no outcome: want then or refused"},
		{"no reason", without("because: 91.205-c-4 breached"), "f:1: The landing light is out: the verdict is grounded: want a because or a missing"},
		{"limited to nothing", swap("then: grounded", "then: limited"), "f:1: The landing light is out: the verdict is limited: want limited-to"},
		{"a verdict and refused", with("refused: x"), "f:1: The landing light is out: a story is refused, or has a verdict, not both"},
		{"a catalog story with an aircraft", with("nature: tire condition"), "f:1: The landing light is out: a story about the catalog has no aircraft and no verdict"},
		{"an unknown verdict", swap("then: grounded", "then: forbidden"), `f:6: no such verdict "forbidden"`},
		{"an unknown outcome", with("because: x broken"), `f:8: no such outcome "broken"`},
		{"no outcome", with("because: x"), `f:8: want ROW OUTCOME, have "x"`},
		{"too much", with("because: x breached in earnest"), `f:8: want ROW OUTCOME [by RELIEF] [for SUBJECT], have "x breached in earnest"`},
		{"by nothing", with("because: x relieved by"), `f:8: want ROW OUTCOME [by RELIEF] [for SUBJECT], have "x relieved by"`},
		{"nature without item", with("nature: tire"), `f:8: want ITEM NATURE, have "tire"`},
		{"an unknown fact", with("fact: wings = 2"), `f:8: "wings" is no fact of an aircraft`},
		{"a fact without value", with("fact: seats"), `f:8: want NAME = VALUE, have "seats"`},
		{"a fact of the wrong kind", with("fact: seats = many"), `f:8: fact seats: want a whole number, have "many"`},
		{"a number of the wrong kind", with("fact: max_takeoff_weight_lb = heavy"), `f:8: fact max_takeoff_weight_lb: want a number, have "heavy"`},
		{"neither true nor false", with("fact: cowl_flaps = 1"), `f:8: fact cowl_flaps: want true, false or unknown, have "1"`},
		{"a unit with something else", with("add: x = dme weighs 4"), `f:8: a unit has no "weighs": want also, serves or needs`},
		{"a unit serving a word", with("add: x = dme serves all"), `f:8: want whole numbers, have "all"`},
		{"a unit with a word left", with("add: x = dme serves"), `f:8: nothing after "serves"`},
		{"units of no sort", with("units: many"), `f:8: units are complete, incomplete or unknown, not "many"`},
		{"a document that there is not", with("document: logbook = none"), `f:8: no such document "logbook"`},
		{"a document of no sort", with("document: koel = lost"), `f:8: a document is on-record, none or unknown, or the type certification list unconfirmed, not "lost"`},
		{"a list row without number", with("on-list: koel = dme"), `f:8: want NAME = ITEM N [for KIND/KIND], have "koel = dme"`},
		{"a list row of none", with("on-list: koel = dme 0"), `f:8: want a number from 1, have "0"`},
		{"another document unconfirmed", with("document: koel = unconfirmed"), `f:8: a document is on-record, none or unknown, or the type certification list unconfirmed, not "unconfirmed"`},
		{"an inspection of no sort", with("inspections: oil 2027-01-01"), `f:8: inspections: "oil 2027-01-01" is none of annual, condition, hours, altimeter, transponder, elt, elt-battery, elt-battery-hours with its value`},
		{"an inspection without a date", with("inspections: annual"), `f:8: inspections: "annual" is none of annual, condition, hours, altimeter, transponder, elt, elt-battery, elt-battery-hours with its value`},
		{"inspections twice", with("inspections: hours 1\ninspections: hours 2"), "f:9: inspections stands twice in one story"},
		{"hours of no number", with("inspections: hours many"), `f:8: fact hours_since_inspection: want a number, have "many"`},
		{"a squawk of no kind", with("given: dme"), `f:8: want SUBJECT inoperative, condition or unstated, have "dme"`},
		{"something that defers nothing", with("given: dme inoperative, prayed over"), `f:8: given: "prayed over" is nothing that is done to defer an item`},
		{"until no date", with("given: dme inoperative, until spring"), `f:8: given: "until spring" is nothing that is done to defer an item`},
		{"considered, and not what", with("considered: dme"), `f:8: want all, or SUBJECT = OTHER/OTHER, have "dme"`},
		{"a company rule without quantity", with("company: company-a = dme"), `f:8: want ID = ITEM QUANTITY, ID = must CONDITION or ID = note, have "company-a = dme"`},
		{"a company rule with something else", with("company: company-a = dme 1 on Sundays"), `f:8: company: nothing is meant by "on Sundays"`},
		{"no rules", swap("night vfr", "night"), `f:5: want LIGHT RULES first, have "night"`},
		{"no light", swap("night vfr", "noon vfr"), `f:5: no such light "noon": want day, dusk, night, day-and-night or unlit`},
		{"no such rules", swap("night vfr", "night svfr"), `f:5: no such rules "svfr": want vfr, ifr or unruled`},
		{"an unknown word", swap("for-hire", "for-fun"), `f:5: flight, "for-fun": no such word of a flight`},
		{"a word twice", swap("for-hire", "for-hire, not for-hire"), `f:5: flight, "not for-hire": it stands twice`},
		{"a fact with a value", swap("for-hire", "for-hire yes"), `f:5: flight, "for-hire yes": it is so, is not so, or is unknown`},
		{"a claim unmade", swap("for-hire", "not to-place-of-repair"), `f:5: flight, "not to-place-of-repair": a claim that is not made is left out`},
		{"a claim unknown", swap("for-hire", "to-place-of-repair unknown"), `f:5: flight, "to-place-of-repair unknown": a claim has no value`},
		{"a number that is missing", swap("for-hire", "occupants"), `f:5: flight, "occupants": it wants a value`},
		{"a number that is none", swap("for-hire", "occupants few"), `f:5: flight, "occupants few": want a whole number, have "few"`},
		{"a date that is none", swap("for-hire", "date 2027-02-30"), `f:5: flight, "date 2027-02-30": want a date YYYY-MM-DD, have "2027-02-30"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if _, err := scenario.Parse("f", c.text); err == nil || err.Error() != c.says {
				t.Errorf("want %s\nhave %v", c.says, err)
			}
		})
	}
}

func TestParseReadsStories(t *testing.T) {
	t.Parallel()
	stories, err := scenario.Parse("f", "# a comment\n\n"+whole+"\nstory: Another # not of the title\nsource: x\nnature: tire condition\n")
	if err != nil {
		t.Fatal(err)
	}
	if len(stories) != 2 {
		t.Fatalf("want 2 stories, have %d", len(stories))
	}
	s := stories[0]
	if s.Title != "The landing light is out" || s.Line != 3 || s.Aircraft != "trainer" || s.Source != "14 CFR 91.205(c)(4)" {
		t.Errorf("have %+v", s)
	}
	if rows := s.Rows(); !reflect.DeepEqual(rows, []string{"91.205-c-4"}) {
		t.Errorf("have rows %v", rows)
	}
	if stories[1].Title != "Another" || stories[1].Line != 11 {
		t.Errorf("have %+v", stories[1])
	}
}

func TestLoadNamesTheFileOfAFault(t *testing.T) {
	t.Parallel()
	folder := fstest.MapFS{
		"good.scenario": {Data: []byte(whole)},
		"ugly.scenario": {Data: []byte(whole + "then: clear\n")},
		"readme.txt":    {Data: []byte("no story")},
	}
	if _, err := scenario.Load(folder); err == nil || err.Error() != "ugly.scenario:8: then stands twice in one story" {
		t.Errorf("have %v", err)
	}
	delete(folder, "ugly.scenario")
	stories, err := scenario.Load(folder)
	if err != nil || len(stories) != 1 || stories[0].File != "good.scenario" {
		t.Errorf("have %v, %v", stories, err)
	}
}

// plain is a plain aircraft for the tests of this package.
func plain(string) (casefile.Aircraft, error) {
	return casefile.Aircraft{
		Facts: casefile.Facts{Basis: "car-3"},
		Configuration: casefile.Configuration{
			Units: []casefile.Unit{{ID: "light", Item: "landing-light"}, {ID: "dme-1", Item: "dme"}},
			KOEL:  casefile.OwnList{OnRecord: ptr(true), Rows: []casefile.OwnRow{{Item: "dme", Quantity: 1}}},
		},
	}, nil
}

func ptr[T any](v T) *T { return &v }

// tell makes the case of a story about the plain aircraft.
func tell(t *testing.T, lines ...string) casefile.Case {
	t.Helper()
	c, err := try(lines...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func try(lines ...string) (casefile.Case, error) {
	text := "story: x\nsource: x\naircraft: plain\nthen: clear\n" + strings.Join(lines, "\n")
	stories, err := scenario.Parse("f", text)
	if err != nil {
		return casefile.Case{}, err
	}
	return stories[0].Case(plain)
}
