package contract_test

import (
	"encoding/json"
	"strings"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/contract"
)

// landingLight is a whole case that the contract takes.
const landingLight = `{
	"story": "Landing light out, sightseeing at night",
	"aircraft": {
		"facts": {"category": "airplane", "certificate": "standard", "basis": "part-23-before-64", "engine": "reciprocating",
			"cooling": "air", "max_takeoff_weight_lb": 2400.5, "engines": 1, "tanks": 2, "seats": 4, "front_seats": 2,
			"manufactured": "1999-05-01", "us_registered": true, "approved": ["day-vfr", "night-vfr"]},
		"configuration": {"units_complete": true, "units": [
			{"id": "ldg", "item": "landing-light", "where": "left wing\ttip"},
			{"id": "fq-l", "item": "fuel-quantity-gauge", "serves": [1], "also": ["clock"], "needs": ["ldg"]}],
			"equipment_list": {"on_record": true, "document": "section 6", "rows": [{"item": "clock", "quantity": 1, "kinds": ["day-ifr"]}]},
			"koel": {"on_record": false}}},
	"defects": [{"id": "1", "kind": "inoperative", "unit": "ldg", "words": "dark – \ud83d\udca1 \"out\"",
		"deferral": {"method": "removed", "method_done": true, "removed_on": "2026-11-01", "until": "2026-12-01T00:00:00Z"}}],
	"flight": {"rules": "vfr", "departs": "2026-11-26T20:00:00-05:00", "arrives": "2026-11-26T21:00:00-05:00",
		"route": [{"name": "home", "lat": 40, "lon": -75.5e0}], "for_hire": true, "persons": 3, "altitude_ft": 3000, "airspace": [],
		"navigation": ["vor"], "atc_authorized": ["ads-b"]},
	"expect": {"verdict": "grounded", "findings": [{"row": "r", "outcome": "breached", "defect": "1"}]}}`

func TestAGoodCaseHasNoFault(t *testing.T) {
	t.Parallel()
	if faults := contract.Check("Case", []byte(landingLight)); len(faults) > 0 {
		t.Errorf("faults: %v", faults)
	}
}

// with replaces a piece of the good case.
func with(t *testing.T, piece, by string) []byte {
	t.Helper()
	if strings.Count(landingLight, piece) != 1 {
		t.Fatalf("%q stands %d times in the good case", piece, strings.Count(landingLight, piece))
	}
	return []byte(strings.Replace(landingLight, piece, by, 1))
}

func TestFaultsNameFieldAndRule(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ piece, by, field, rule string }{
		{`"basis": "part-23-before-64", `, ``, "aircraft.facts.basis", "required"},
		{`"basis": "part-23-before-64"`, `"basis": null`, "aircraft.facts.basis", "type"},
		{`"basis": "part-23-before-64"`, `"basis": ""`, "aircraft.facts.basis", "enum"},
		{`"basis": "part-23-before-64"`, `"basis": "Part-23"`, "aircraft.facts.basis", "enum"},
		{`"engines": 1`, `"engines": 65`, "aircraft.facts.engines", "range"},
		{`"engines": 1`, `"engines": -1`, "aircraft.facts.engines", "range"},
		{`"engines": 1`, `"engines": 1.0`, "aircraft.facts.engines", "type"},
		{`"engines": 1`, `"engines": 1e0`, "aircraft.facts.engines", "type"},
		{`"engines": 1`, `"engines": 99999999999999999999999999`, "aircraft.facts.engines", "range"},
		{`"engines": 1`, `"engines": true`, "aircraft.facts.engines", "type"},
		{`2400.5`, `1e309`, "aircraft.facts.max_takeoff_weight_lb", "range"},
		{`2400.5`, `-1e309`, "aircraft.facts.max_takeoff_weight_lb", "range"},
		{`2400.5`, `1e-400`, "aircraft.facts.max_takeoff_weight_lb", "range"},
		{`2400.5`, `"NaN"`, "aircraft.facts.max_takeoff_weight_lb", "type"},
		{`"engines": 1`, `"engine_count": 1`, "aircraft.facts.engine_count", "unknown-field"},
		{`"engines": 1`, `"Engines": 1`, "aircraft.facts.Engines", "unknown-field"},
		{`"engines": 1`, `"": 1`, "aircraft.facts", "unknown-field"},
		{`"manufactured": "1999-05-01"`, `"manufactured": "1999-5-1"`, "aircraft.facts.manufactured", "format"},
		{`"manufactured": "1999-05-01"`, `"manufactured": "2019-02-29"`, "aircraft.facts.manufactured", "format"},
		{`"manufactured": "1999-05-01"`, `"manufactured": "0199-05-01"`, "aircraft.facts.manufactured", "range"},
		{`"approved": ["day-vfr", "night-vfr"]`, `"approved": ["day-vfr", "day"]`, "aircraft.facts.approved[1]", "enum"},
		{`"approved": ["day-vfr", "night-vfr"]`, `"approved": ["day-vfr", "day-vfr", "day-vfr", "day-vfr", "day-vfr"]`, "aircraft.facts.approved", "length"},
		{`"item": "landing-light"`, `"item": ""`, "aircraft.configuration.units[0].item", "length"},
		{`"item": "landing-light", `, ``, "aircraft.configuration.units[0].item", "required"},
		{`"serves": [1]`, `"serves": [0]`, "aircraft.configuration.units[1].serves[0]", "range"},
		{`"serves": [1]`, `"serves": 1`, "aircraft.configuration.units[1].serves", "type"},
		{`"where": "left wing\ttip"`, `"where": "left\u0000"`, "aircraft.configuration.units[0].where", "characters"},
		{`"where": "left wing\ttip"`, `"where": "\ud83d"`, "aircraft.configuration.units[0].where", "characters"},
		{`"where": "left wing\ttip"`, `"where": "\udca1\ud83d"`, "aircraft.configuration.units[0].where", "characters"},
		{`"where": "left wing\ttip"`, `"where": "` + strings.Repeat("ü", 201) + `"`, "aircraft.configuration.units[0].where", "length"},
		{`"lat": 40`, `"lat": 90.0001`, "flight.route[0].lat", "range"},
		{`"lat": 40, `, ``, "flight.route[0].lat", "required"},
		{`"departs": "2026-11-26T20:00:00-05:00"`, `"departs": "2026-11-26T20:00:00"`, "flight.departs", "format"},
		{`"departs": "2026-11-26T20:00:00-05:00"`, `"departs": "2026-11-26 20:00:00Z"`, "flight.departs", "format"},
		{`"departs": "2026-11-26T20:00:00-05:00"`, `"departs": "2026-11-26T20:00:00,5Z"`, "flight.departs", "format"},
		{`"departs": "2026-11-26T20:00:00-05:00"`, `"departs": "2026-11-26T5:00:00Z"`, "flight.departs", "format"},
		{`"departs": "2026-11-26T20:00:00-05:00"`, `"departs": "2026-11-26T20:00:00+24:00"`, "flight.departs", "format"},
		{`"departs": "2026-11-26T20:00:00-05:00"`, `"departs": "2026-11-26T20:00:60Z"`, "flight.departs", "format"},
		{`"departs": "2026-11-26T20:00:00-05:00"`, `"departs": "0000-01-01T00:00:00+14:00"`, "flight.departs", "range"},
		{`"airspace": []`, `"airspace": ["class-f"]`, "flight.airspace[0]", "enum"},
		{`"persons": 3`, `"persons": 0`, "flight.persons", "range"},
		{`"for_hire": true`, `"for_hire": "yes"`, "flight.for_hire", "type"},
		{`"for_hire": true`, `"for_hire": {"a": [1, {"b": null}]}`, "flight.for_hire", "type"},
		{`"expect"`, `"expekt"`, "expekt", "unknown-field"},
		{`"expect"`, `"a b"`, `"a b"`, "unknown-field"},
	} {
		faults := contract.Check("Case", with(t, c.piece, c.by))
		if len(faults) != 1 || faults[0].Field != c.field || faults[0].Rule != c.rule {
			t.Errorf("%s: %v, want one fault %s of %s", c.by, describe(faults), c.rule, c.field)
			continue
		}
		if f := faults[0]; f.Says == "" || f.Remedy == "" {
			t.Errorf("%s: says %q, remedy %q: one is missing", c.by, f.Says, f.Remedy)
		}
		if contract.Unreadable(faults) {
			t.Errorf("%s: counts as unreadable", c.by)
		}
	}
}

func describe(faults casefile.Faults) string {
	var b strings.Builder
	for _, f := range faults {
		b.WriteString("\n\t" + f.Rule + " " + f.Field + ": " + f.Says + " — " + f.Remedy)
	}
	return b.String()
}

func TestUnreadableDocuments(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ raw, rule, says string }{
		{"", "syntax", "line 1, column 1: the document ends"},
		{" \n ", "syntax", "line 2, column 2: the document ends"},
		{"{", "syntax", "line 1, column 2: the document ends"},
		{"{}x", "one-value", "line 1, column 3: something follows"},
		{`{"story": NaN}`, "syntax", "line 1, column 11: a value is expected"},
		{`{"story": Infinity}`, "syntax", "column 11"},
		{`{"story": nul}`, "syntax", "column 11"},
		{`{"story": 01}`, "syntax", "column 12"},
		{`{"story": 1.}`, "syntax", "column 13"},
		{`{"story": 1e}`, "syntax", "column 13"},
		{`{"story": -}`, "syntax", "column 12"},
		{`{"story": +1}`, "syntax", "column 11"},
		{`{"story": .5}`, "syntax", "column 11"},
		{`{"story": 'a'}`, "syntax", "column 11"},
		{`{story: 1}`, "syntax", "the name of a field in quotes"},
		{`{"story" 1}`, "syntax", "`:` is expected"},
		{`{"story": "a",}`, "syntax", "the name of a field"},
		{`{"defects": [1 2]}`, "syntax", "`,` is expected"},
		{`{"defects": [1,]}`, "syntax", "a value is expected"},
		{`{"defects": [`, "syntax", "ends"},
		{`{"story": "a`, "syntax", "closing quote"},
		{`{"story": "a\`, "syntax", "escape"},
		{`{"story": "\q"}`, "syntax", "escape"},
		{`{"story": "\u12g4"}`, "syntax", "escape"},
		{`{"story": "\u12`, "syntax", "escape"},
		{"{\"story\": \"a\nb\"}", "syntax", "control character"},
		{"{\"story\": \"\\t\nb\"}", "syntax", "control character"},
		{"\ufeff{}", "syntax", "column 1"},
		{"{\n\"story\": \"\xff\"}", "utf-8", "line 2, column 11"},
		{"{\n\"story\": \"\xc3\x28\"}", "utf-8", "line 2, column 11"},
		{`{"story": "a", "story": "b"}`, "unique-field", "line 1, column 16: the field stands twice"},
		{`{"story": "a", "stor\u0079": "b"}`, "unique-field", "column 16"},
		{strings.Repeat("[", 100_000), "depth", "too deep"},
		{`{"x":` + strings.Repeat(`{"x":`, 100_000), "depth", "too deep"},
	} {
		faults := contract.Check("Case", []byte(c.raw))
		if !contract.Unreadable(faults) || faults[0].Rule != c.rule || !strings.Contains(faults[0].Says, c.says) {
			t.Errorf("%.60q: %s, want one fault %s saying %q", c.raw, describe(faults), c.rule, c.says)
		}
	}
}

func TestEveryFaultIsNamedAtOnce(t *testing.T) {
	t.Parallel()
	faults := contract.Check("Case", []byte(`{"aircraft": {"facts": {"category": "kite", "engines": 99}, "configuration": []}, "flight": {"departs": 7}}`))
	var got []string
	for _, f := range faults {
		got = append(got, f.Rule+" "+f.Field)
	}
	want := []string{
		"enum aircraft.facts.category", "range aircraft.facts.engines", "required aircraft.facts.certificate",
		"required aircraft.facts.basis", "type aircraft.configuration", "type flight.departs", "required flight.arrives",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestFaultsAreBounded(t *testing.T) {
	t.Parallel()
	raw := `{"defects": [` + strings.Repeat(`{},`, 150) + `{}]}`
	if n := len(contract.Check("Case", []byte(raw))); n != 100 {
		t.Errorf("%d faults, want 100", n)
	}
	// What is too many is one fault, not one each.
	raw = `{"approved": [` + strings.Repeat(`7,`, 50_000) + `7], "category": "glider", "certificate": "standard", "basis": "other"}`
	if n := len(contract.Check("Facts", []byte(raw))); n != 5 {
		t.Errorf("%d faults, want 4 of type and 1 of length", n)
	}
}

func TestRemediesHelp(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ schema, raw, says, remedy string }{
		{"Facts", `{"certificate": "standard", "basis": "other"}`, "category is missing", "Category of aircraft"},
		{"Facts", `{"category": "airplain", "certificate": "standard", "basis": "other"}`, `"airplain" is none`, "write airplane if that is meant"},
		{"Note", `{"word": "x", "words": "y"}`, "no such field", "write words if"},
		{"Note", `{"remark": "x", "words": "y"}`, "no such field", "the fields are words"},
		{"Place", `{"lat": 91, "lon": 0}`, "out of range", "a number from -90 to 90"},
		{"Place", `{"lat": null, "lon": 0}`, "null stands where", "leave the field out"},
		{"AircraftChange", `{}`, "nothing is given", "base, facts, registration, type"},
		{"AircraftChange", `{"registration": "n1"}`, "form", "capital letters"},
		{"AircraftChange", `{"base": "0199"}`, "UUID", "as the server gave it"},
	} {
		faults := contract.Check(c.schema, []byte(c.raw))
		if len(faults) != 1 || !strings.Contains(faults[0].Says, c.says) || !strings.Contains(faults[0].Remedy, c.remedy) {
			t.Errorf("%s: %s\nwant one fault saying %q with the remedy %q", c.raw, describe(faults), c.says, c.remedy)
		}
	}
}

func TestAnUnknownSchemaIsTheProgramsMistake(t *testing.T) {
	t.Parallel()
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	contract.Check("Kite", []byte(`{}`))
}

// FuzzCheck holds that whatever is found without fault decodes, field for field, and that nothing panics.
func FuzzCheck(f *testing.F) {
	f.Add([]byte(landingLight))
	f.Add([]byte(`{"aircraft":{"facts":{"category":"glider","certificate":"standard","basis":"other"},"configuration":{}},"flight":{"departs":"2026-01-01T00:00:00Z","arrives":"2026-01-01T01:00:00Z"}}`))
	f.Add([]byte(`{"story":"\u0000","defects":[[[{}]]]}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		faults := contract.Check("Case", raw)
		if !json.Valid(raw) && !contract.Unreadable(faults) {
			t.Fatalf("no JSON, and yet %v", describe(faults))
		}
		if len(faults) > 0 {
			return
		}
		var c casefile.Case
		d := json.NewDecoder(strings.NewReader(string(raw)))
		d.DisallowUnknownFields()
		if err := d.Decode(&c); err != nil {
			t.Fatalf("no fault, and yet it does not decode: %v", err)
		}
	})
}
