package casefile_test

import (
	"encoding/json"
	"errors"
	"maps"
	"strings"
	"testing"

	"tiedown/internal/casefile"
)

func TestLinesSayWhereEachFieldBegins(t *testing.T) {
	t.Parallel()
	raw := "\n{\r\n \"flight\":\n  {\"rules\": \"vfr\",\n \"airspace\": [\n\"class-b\",\n\n \"class-c\"]},\n \"defects\": [{\"id\": \"a\"}, {\n\"id\"\n:\n\"b\\n\"}],\n \"caf\\u00e9\": null}\n"
	got, err := casefile.Lines([]byte(raw))
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]int{
		"": 2, "flight": 3, "flight.rules": 4, "flight.airspace": 5, "flight.airspace[0]": 6, "flight.airspace[1]": 8,
		"defects": 9, "defects[0]": 9, "defects[0].id": 9, "defects[1]": 9, "defects[1].id": 10, "café": 13,
	}
	if !maps.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}

func TestAScalarIsADocumentToo(t *testing.T) {
	t.Parallel()
	for _, raw := range []string{"null", " 3", `"a"`, "[]", "{}"} {
		if lines, err := casefile.Lines([]byte(raw)); err != nil || len(lines) != 1 || lines[""] != 1 {
			t.Errorf("%s: %v, %v", raw, lines, err)
		}
	}
}

// bad is an input and the faults that it must give: field, rule, line, and what is said.
type bad struct {
	name, raw string
	faults    []casefile.Fault
}

func TestLinesRefuseABrokenDocument(t *testing.T) {
	t.Parallel()
	deep := strings.Repeat("[", 65) + strings.Repeat("]", 65)
	cases := []bad{
		{"nothing", "", []casefile.Fault{{Field: "document", Rule: "syntax", Line: 1, Says: "line 1, column 1: the document ends too soon"}}},
		{"too short", "{\n\"a\": [1,\n2", []casefile.Fault{{Field: "document", Rule: "syntax", Line: 3, Says: "line 3, column 2: the document ends"}}},
		{"a stray comma", "{\n \"é\": [1,]}", []casefile.Fault{{Field: "document", Rule: "syntax", Line: 2, Says: "line 2, column 10: invalid character ']'"}}},
		{"no colon", `{"a" 1}`, []casefile.Fault{{Field: "document", Rule: "syntax", Line: 1, Says: "line 1, column 6: invalid character '1'"}}},
		{"not JSON", "flight: yes", []casefile.Fault{{Field: "document", Rule: "syntax", Line: 1, Says: "line 1, column 2: invalid character 'l'"}}},
		{"a line break in text", "{\"a\": \"x\ny\"}", []casefile.Fault{{Field: "document", Rule: "syntax", Line: 1, Says: "line 1, column 9: invalid character"}}},
		{"something follows", "{}\n{}", []casefile.Fault{{Field: "document", Rule: "one-value", Line: 2, Says: "line 2, column 1: something follows"}}},
		{"not UTF-8", "{\n\"é\": \"\xff\"}", []casefile.Fault{{Field: "document", Rule: "utf-8", Line: 2, Says: "line 2, column 7: the text is not UTF-8"}}},
		{"twice", "{\"a\": 1,\n\"b\": {\"c\": 1,\n\"\\u0063\": 2},\n\"a\": 3}", []casefile.Fault{
			{Field: "b.c", Rule: "unique-field", Line: 3, Says: "line 3: the field stands twice, first on line 2"},
			{Field: "a", Rule: "unique-field", Line: 4, Says: "line 4: the field stands twice, first on line 1"},
		}},
		{"too deep", "\n" + deep, []casefile.Fault{{Field: strings.Repeat("[0]", 64), Rule: "depth", Line: 2, Says: "line 2: values nest deeper than 64"}}},
	}
	for _, c := range cases {
		lines, err := casefile.Lines([]byte(c.raw))
		if lines != nil {
			t.Errorf("%s: it has lines all the same", c.name)
		}
		c.hold(t, err)
		_, err = casefile.Decode([]byte(c.raw))
		c.hold(t, err)
	}
	if _, err := casefile.Lines([]byte(deep[1 : len(deep)-1])); err != nil {
		t.Errorf("64 deep: %v", err)
	}
}

func (c bad) hold(t *testing.T, err error) {
	t.Helper()
	var faults casefile.Faults
	if !errors.As(err, &faults) {
		t.Errorf("%s: %v", c.name, err)
		return
	}
	if len(faults) != len(c.faults) {
		t.Errorf("%s: %d faults, want %d: %v", c.name, len(faults), len(c.faults), err)
		return
	}
	for i, want := range c.faults {
		got := faults[i]
		if got.Field != want.Field || got.Rule != want.Rule || got.Line != want.Line || !strings.HasPrefix(got.Says, want.Says) || got.Remedy == "" {
			t.Errorf("%s: got %+v, want %+v", c.name, got, want)
		}
	}
}

func TestDecodeNamesEveryFaultyField(t *testing.T) {
	t.Parallel()
	unknown := func(field string, line int) casefile.Fault {
		return casefile.Fault{Field: field, Rule: "known-field", Line: line, Says: "a case has no such field"}
	}
	mistyped := func(field string, line int, says string) casefile.Fault {
		return casefile.Fault{Field: field, Rule: "type", Line: line, Says: says}
	}
	cases := []bad{
		{"not an object", "\n[]", []casefile.Fault{mistyped("document", 2, "array was given where an object is wanted")}},
		{"text", `"case"`, []casefile.Fault{mistyped("document", 1, "string was given where an object is wanted")}},
		{"unknown at the top", "{\n\"airplane\": {\"facts\": 3}}", []casefile.Fault{unknown("airplane", 2)}},
		{"unknown inside", "{\"aircraft\": {\"facts\": {\n\"color\": \"red\", \"seats\": 2}}}", []casefile.Fault{unknown("aircraft.facts.color", 2)}},
		{"unknown in a list", "{\"defects\": [{\"id\": \"a\"},\n{\"id\": \"b\", \"place\": 1}]}", []casefile.Fault{unknown("defects[1].place", 2)}},
		{"capitals", "{\"Flight\": {}, \"flight\": {\"Rules\": \"vfr\"}}", []casefile.Fault{unknown("Flight", 1), unknown("flight.Rules", 1)}},
		{"a dotted name", `{"flight.rules": "vfr"}`, []casefile.Fault{unknown("flight.rules", 1)}},
		{"an empty name", `{"": 1}`, []casefile.Fault{unknown("document", 1)}},
		{"text for a number", "{\"flight\": {\n\"altitude_ft\": \"high\"}}", []casefile.Fault{mistyped("flight.altitude_ft", 2, "string was given where a number is wanted")}},
		{"a fraction", `{"aircraft": {"facts": {"seats": 1.5}}}`, []casefile.Fault{mistyped("aircraft.facts.seats", 1, "number 1.5 was given where a whole number is wanted")}},
		{"too big", `{"aircraft": {"facts": {"seats": 99999999999999999999}}}`, []casefile.Fault{mistyped("aircraft.facts.seats", 1, "number 99999999999999999999 was given where a whole number")}},
		{"out of bounds", `{"flight": {"cabin_ft": 1e999}}`, []casefile.Fault{mistyped("flight.cabin_ft", 1, "number 1e999 was given where a number is wanted")}},
		{"a number for a truth", `{"flight": {"for_hire": 1}}`, []casefile.Fault{mistyped("flight.for_hire", 1, "number was given where true or false is wanted")}},
		{"an object for text", `{"story": {"a": 1}}`, []casefile.Fault{mistyped("story", 1, "object was given where text is wanted")}},
		{"a list for an object", `{"aircraft": []}`, []casefile.Fault{mistyped("aircraft", 1, "array was given where an object is wanted")}},
		{"an object for a list", `{"defects": {"id": "a"}}`, []casefile.Fault{mistyped("defects", 1, "object was given where a list is wanted")}},
		{"in a list", "{\"aircraft\": {\"configuration\": {\"units\": [{\"serves\": [1,\n\"2\"]}]}}}", []casefile.Fault{mistyped("aircraft.configuration.units[0].serves[1]", 2, "string was given where a whole number is wanted")}},
		{"a time without offset", "{\"flight\": {\n\n\"departs\": \"2026-06-01T14:00:00\"}}", []casefile.Fault{{Field: "flight.departs", Rule: "time", Line: 3, Says: "this is no time with its offset"}}},
		{"a time that is a list", `{"flight": {"departs": []}}`, []casefile.Fault{{Field: "flight.departs", Rule: "time", Line: 1, Says: "this is no time"}}},
		{"all at once", "{\"defects\": 3,\n\"flight\": {\"rules\": 1,\n\"wings\": 2, \"for_hire\": \"no\"},\n\"x\": 1}", []casefile.Fault{
			mistyped("defects", 1, "number was given where a list"), mistyped("flight.rules", 2, "number was given where text"),
			unknown("flight.wings", 3), mistyped("flight.for_hire", 3, "string was given where true or false"), unknown("x", 4),
		}},
	}
	for _, c := range cases {
		_, err := casefile.Decode([]byte(c.raw))
		c.hold(t, err)
	}
}

func TestDecodeTellsAHundredFaultsAndNoMore(t *testing.T) {
	t.Parallel()
	raw := `{"defects": [` + strings.Repeat("1,", 500) + `1]}`
	_, err := casefile.Decode([]byte(raw))
	var faults casefile.Faults
	if !errors.As(err, &faults) || len(faults) != 100 {
		t.Errorf("%d faults", len(faults))
	}
}

func TestDecodeReadsEveryField(t *testing.T) {
	t.Parallel()
	raw := full(t)
	c, err := casefile.Decode(raw)
	if err != nil {
		t.Fatal(err)
	}
	again, err := json.Marshal(c)
	if err != nil {
		t.Fatal(err)
	}
	if string(again) != string(raw) {
		t.Errorf("got  %s\nwant %s", again, raw)
	}
}

func TestWithLinesFallsBackToTheNearestField(t *testing.T) {
	t.Parallel()
	lines := map[string]int{"": 1, "flight": 4, "defects": 7, "defects[0]": 8, "defects[0].unit": 9}
	want := map[string]int{
		"defects[0].unit": 9, "defects[0].item": 8, "defects[0].deferral.method": 8, "defects[3].id": 7, "flight.light.day": 4,
		"aircraft.facts.basis": 1, "document": 1, "": 1,
	}
	for field, line := range want {
		got := casefile.Faults{{Field: field}}.WithLines(lines)
		if got[0].Line != line {
			t.Errorf("%s: line %d, want %d", field, got[0].Line, line)
		}
	}
	placed := casefile.Faults{{Field: "flight", Line: 2}}.WithLines(lines)
	if placed[0].Line != 2 {
		t.Errorf("a fault that has its line is moved to line %d", placed[0].Line)
	}
	if got := (casefile.Faults{{Field: "flight"}}).WithLines(nil); got[0].Line != 0 {
		t.Errorf("without lines, line %d", got[0].Line)
	}
	var none casefile.Faults
	if err := none.WithLines(lines).Err(); err != nil {
		t.Errorf("no fault becomes %v", err)
	}
}

func TestFaultsSayTheirLine(t *testing.T) {
	t.Parallel()
	faults := casefile.Faults{
		{Field: "flight", Says: "it is late", Line: 3}, {Field: "document", Says: "line 4, column 1: it ends", Line: 4}, {Field: "a", Says: "no"},
	}
	if got, want := faults.Error(), "line 3, flight: it is late; document: line 4, column 1: it ends; a: no"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}
