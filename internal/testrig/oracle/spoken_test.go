package oracle_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"tiedown/internal/casefile"
)

// sound is a written case in which nothing is wrong, with the inspections that it needs, ready to be changed.
func sound(t *testing.T) map[string]any {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(testdata, "cases", "trainer-beacon-by-day.json"))
	if err != nil {
		t.Fatal(err)
	}
	var c map[string]any
	if err := json.Unmarshal(raw, &c); err != nil {
		t.Fatal(err)
	}
	delete(c, "expect")
	c["defects"] = []any{}
	merge(c, parse(t, `{"flight": {"hours": 1.5}, "aircraft": {
		"configuration": {"type_certification": {"confirmed": {"by": "a mechanic", "certificate": "mechanic 1", "on": "2025-01-01", "document": "data sheet"}}},
		"facts": {"annual_inspected": "2025-06-01", "hours_since_inspection": 50, "altimeter_tested": "2024-06-30",
			"transponder_tested": "2024-06-01", "elt_inspected": "2025-06-15", "elt_battery_due": "2026-06-01",
			"elt_battery_hours": 1}}}`))
	return c
}

func parse(t *testing.T, raw string) map[string]any {
	t.Helper()
	var v map[string]any
	if err := json.Unmarshal([]byte(raw), &v); err != nil {
		t.Fatalf("%v: %s", err, raw)
	}
	return v
}

// merge lays changes over a tree; null takes away.
func merge(tree, changes map[string]any) {
	for k, v := range changes {
		below, isTree := tree[k].(map[string]any)
		change, isChange := v.(map[string]any)
		switch {
		case v == nil:
			delete(tree, k)
		case isTree && isChange:
			merge(below, change)
		default:
			tree[k] = v
		}
	}
}

// Squawks that the cases below are about.
const (
	deferred   = `"kind": "inoperative", "deferral": {"method": "deactivated", "method_done": true, "placarded": true, "recorded": true, "hazard_determined": true, "until": "2026-09-01T00:00:00-05:00"`
	heater     = `{"id": "heater", "unit": "cabin-heater", ` + deferred + `}}`
	meter      = `{"id": "meter", "unit": "hour-meter", ` + deferred + `}}`
	altimeter  = `{"id": "altimeter", "unit": "altimeter-1", ` + deferred + `}}, {"id": "other", "unit": "altimeter-2", ` + deferred + `}}`
	permitOf   = `"special_flight_permit": {"number": "1", "issued": "2026-06-01", "only_required_crew": false, "kinds": ["day-vfr"], "valid_from": "2026-06-01T00:00:00-05:00", "valid_until": "2026-06-02T00:00:00-05:00", "covers": `
	underMEL   = `"aircraft": {"facts": {"mel_authorized": true}, "configuration": {"mel": {"on_record": true, "aboard": true, "letter_aboard": true, "authority": "letter", "rows": `
	heaterRow  = `{"item": "cabin-heater", "installed": 1, "required": 0, "category": "C", "operations_procedure": false, "maintenance_procedure": false`
	considered = `, "hazard_considered": `
)

// spoken are cases about what paths and inspections ask: changes to the sound one, the verdict, and a citation
// that must be among those in the way.
var spoken = map[string]struct {
	changes, verdict, blocks string
}{
	"nothing wrong":                       {`{}`, "clear", ""},
	"annual through the month":            {`{"aircraft": {"facts": {"annual_inspected": "2025-06-30"}}}`, "clear", ""},
	"annual of the month before":          {`{"aircraft": {"facts": {"annual_inspected": "2025-05-31"}}}`, "grounded", "14 CFR 91.409(a)"},
	"annual not known":                    {`{"aircraft": {"facts": {"annual_inspected": null}}}`, "undetermined", "14 CFR 91.409(a)"},
	"100 hours for hire":                  {`{"flight": {"for_hire": true}, "aircraft": {"facts": {"hours_since_inspection": 98.5}}}`, "clear", ""},
	"more than 100 hours for hire":        {`{"flight": {"for_hire": true}, "aircraft": {"facts": {"hours_since_inspection": 98.6}}}`, "grounded", "14 CFR 91.409(b)"},
	"100 hours on the way":                {`{"flight": {"for_hire": true, "to_place_of_inspection": true}, "aircraft": {"facts": {"hours_since_inspection": 108}}}`, "limited", ""},
	"instruction, not known":              {`{"flight": {"for_hire": null}, "aircraft": {"facts": {"hours_since_inspection": 108}}}`, "undetermined", "14 CFR 91.409(b)"},
	"light-sport without overfly":         {`{"flight": {"for_hire": true, "to_place_of_inspection": true}, "aircraft": {"facts": {"certificate": "light-sport", "condition_inspected": "2026-01-01", "hours_since_inspection": 100}}}`, "grounded", "14 CFR 91.327(c)"},
	"light-sport condition inspection":    {`{"aircraft": {"facts": {"certificate": "light-sport"}}}`, "undetermined", "14 CFR 91.327(b)"},
	"experimental condition inspection":   {`{"aircraft": {"facts": {"certificate": "experimental", "condition_inspected": "2025-05-31"}}}`, "grounded", "14 CFR 91.319"},
	"altimeter test under IFR":            {`{"flight": {"rules": "ifr"}, "aircraft": {"facts": {"altimeter_tested": "2024-05-31"}}}`, "grounded", "14 CFR 91.411(a)"},
	"altimeter test under VFR":            {`{"aircraft": {"facts": {"altimeter_tested": "2024-05-31"}}}`, "clear", ""},
	"transponder test where it is needed": {`{"flight": {"airspace": ["class-c"]}, "aircraft": {"facts": {"transponder_tested": "2024-05-31"}}}`, "grounded", "14 CFR 91.215(b)(1)"},
	"transponder test where it is not":    {`{"aircraft": {"facts": {"transponder_tested": "2024-05-31"}}}`, "clear", ""},
	"ELT inspection":                      {`{"aircraft": {"facts": {"elt_inspected": "2025-05-31"}}}`, "grounded", "14 CFR 91.207(d)"},
	"ELT inspection in training":          {`{"flight": {"training_within_50nm": true}, "aircraft": {"facts": {"elt_inspected": "2025-05-31"}}}`, "limited", ""},
	"ELT battery due":                     {`{"aircraft": {"facts": {"elt_battery_due": "2026-05-31"}}}`, "grounded", "14 CFR 91.207(c)(2)"},
	"ELT battery used":                    {`{"aircraft": {"facts": {"elt_battery_hours": 1.1}}}`, "grounded", "14 CFR 91.207(c)(1)"},
	"goggles":                             {`{"flight": {"operations": ["nvg"]}}`, "grounded", "14 CFR 91.205(h)"},

	"list not confirmed, item off it": {`{"aircraft": {"configuration": {"type_certification": {"confirmed": null}}}, "defects": [` + heater + `]}`, "undetermined", "14 CFR 91.213(d)(2)(i)"},
	"list confirmed":                  {`{"defects": [` + heater + `]}`, "clear", ""},

	"two deferrals apart":           {`{"defects": [` + heater + `, ` + meter + `]}`, "defer-first", "14 CFR 91.213(d)(4)"},
	"two deferrals considered":      {`{"defects": [{"id": "heater", "unit": "cabin-heater", ` + deferred + considered + `["meter"]}}, {"id": "meter", "unit": "hour-meter", ` + deferred + considered + `["heater"]}}]}`, "clear", ""},
	"a condition is not considered": {`{"defects": [` + heater + `, {"id": "leak", "kind": "condition", "item": "oil-leak", "found": {"result": "repaired", "rated": true, "data": "maintenance manual", "approved": true}}]}`, "clear", ""},
	"cleared by nobody rated":       {`{"defects": [{"id": "leak", "kind": "condition", "item": "oil-leak", "found": {"result": "repaired", "data": "maintenance manual", "approved": true}}]}`, "grounded", "14 CFR 91.213"},
	"cleared equipment":             {`{"defects": [{"id": "heater", "kind": "inoperative", "unit": "cabin-heater", "found": {"result": "repaired", "rated": true, "data": "maintenance manual", "approved": true}}]}`, "defer-first", "14 CFR 91.213(d)(3)"},
	"deactivation without entry":    {`{"policy": {"deactivation": "rule-text"}, "defects": [{"id": "heater", "unit": "cabin-heater", "kind": "inoperative", "deferral": {"method": "deactivated", "method_done": true, "placarded": true, "hazard_determined": true, "involves_maintenance": false, "until": "2026-09-01T00:00:00-05:00"}}]}`, "clear", ""},
	"deactivation, policy strict":   {`{"defects": [{"id": "heater", "unit": "cabin-heater", "kind": "inoperative", "deferral": {"method": "deactivated", "method_done": true, "placarded": true, "hazard_determined": true, "involves_maintenance": false, "until": "2026-09-01T00:00:00-05:00"}}]}`, "defer-first", "14 CFR 91.213(d)(3)(ii)"},

	"permit":                       {`{"flight": {` + permitOf + `["altimeter", "other"]}}, "defects": [` + altimeter + `]}`, "limited", ""},
	"permit for one of two":        {`{"flight": {` + permitOf + `["altimeter"]}}, "defects": [` + altimeter + `]}`, "grounded", "14 CFR 91.205(b)(2)"},
	"permit run out":               {`{"flight": {"special_flight_permit": {"number": "1", "issued": "2026-06-01", "only_required_crew": false, "kinds": ["day-vfr"], "valid_from": "2026-05-01T00:00:00-05:00", "valid_until": "2026-06-01T15:00:00-05:00", "covers": ["altimeter", "other"]}}, "defects": [` + altimeter + `]}`, "grounded", "14 CFR 91.205(b)(2)"},
	"permit of another kind":       {`{"flight": {` + permitOf + `["altimeter", "other"], "kinds": ["day-ifr"]}}, "defects": [` + altimeter + `]}`, "grounded", "14 CFR 91.205(b)(2)"},
	"permit for crew only":         {`{"flight": {` + permitOf + `["altimeter", "other"], "only_required_crew": true}}, "defects": [` + altimeter + `]}`, "grounded", "14 CFR 91.205(b)(2)"},
	"permit and a condition":       {`{"flight": {` + permitOf + `["leak"]}}, "defects": [{"id": "leak", "kind": "condition", "item": "oil-leak"}]}`, "limited", ""},
	"permit and an operating rule": {`{"flight": {` + permitOf + `["beacon"]}}, "defects": [{"id": "beacon", "unit": "beacon", ` + deferred + `}}]}`, "grounded", "14 CFR 91.209(b)"},
	"permit and a directive":       {`{"flight": {` + permitOf + `["heater"]}}, "aircraft": {"configuration": {"directives": {"rows": [{"item": "cabin-heater"}]}}}, "defects": [` + heater + `]}`, "undetermined", "14 CFR 91.213(d)(2)(iv)"},
	"permit that it does not bar":  {`{"flight": {` + permitOf + `["heater"]}}, "aircraft": {"configuration": {"directives": {"rows": [{"item": "cabin-heater", "permit_barred": false}]}}}, "defects": [` + heater + `]}`, "limited", ""},
	"permit that it bars":          {`{"flight": {` + permitOf + `["heater"]}}, "aircraft": {"configuration": {"directives": {"rows": [{"item": "cabin-heater", "permit_barred": true}]}}}, "defects": [` + heater + `]}`, "grounded", "14 CFR 91.213(d)(2)(iv)"},

	"MEL":                                            {`{` + underMEL + `[` + heaterRow + `}]}}}, "defects": [` + heater + `]}`, "clear", ""},
	"MEL without the item":                           {`{` + underMEL + `[]}}}, "defects": [` + heater + `]}`, "grounded", "14 CFR 91.213(a)(3), (5)"},
	"MEL without its letter":                         {`{"aircraft": {"facts": {"mel_authorized": true}, "configuration": {"mel": {"on_record": true, "aboard": true, "letter_aboard": false, "authority": "letter", "rows": [` + heaterRow + `}]}}}, "defects": [` + heater + `]}`, "grounded", "14 CFR 91.213(a)(2)"},
	"MEL not on record":                              {`{"aircraft": {"facts": {"mel_authorized": true}}, "defects": [` + heater + `]}`, "undetermined", "14 CFR 91.213(d)(1)"},
	"MEL with a proviso":                             {`{` + underMEL + `[` + heaterRow + `, "proviso": "above 5 degrees C"}]}}}, "defects": [` + heater + `]}`, "limited", ""},
	"MEL by night only":                              {`{` + underMEL + `[` + heaterRow + `, "only_when": "night"}]}}}, "defects": [` + heater + `]}`, "grounded", "14 CFR 91.213(a)(3), (5)"},
	"MEL not under IFR":                              {`{` + underMEL + `[` + heaterRow + `, "only_when": "!ifr !night"}]}}}, "defects": [` + heater + `]}`, "clear", ""},
	"MEL asks for one":                               {`{` + underMEL + `[{"item": "cabin-heater", "required": 1, "category": "C", "operations_procedure": false, "maintenance_procedure": false}]}}}, "defects": [` + heater + `]}`, "grounded", "14 CFR 91.213(a)(3), (5)"},
	"MEL with (M)":                                   {`{` + underMEL + `[` + heaterRow + `, "maintenance_procedure": true}]}}}, "defects": [` + heater + `]}`, "defer-first", "14 CFR 91.213(a)(5)"},
	"MEL allows nothing of 91.205":                   {`{` + underMEL + `[{"item": "sensitive-altimeter", "required": 0, "category": "C"}]}}}, "defects": [` + altimeter + `]}`, "grounded", "14 CFR 91.205(b)(2)"},
	"MEL without an entry":                           {`{` + underMEL + `[` + heaterRow + `}]}}}, "defects": [{"id": "heater", "unit": "cabin-heater", "kind": "inoperative", "deferral": {"placarded": true, "until": "2026-09-01T00:00:00-05:00"}}]}`, "defer-first", "14 CFR 91.213(a)(4)"},
	"MEL without a placard":                          {`{` + underMEL + `[` + heaterRow + `}]}}}, "defects": [{"id": "heater", "unit": "cabin-heater", "kind": "inoperative", "deferral": {"recorded": true, "until": "2026-09-01T00:00:00-05:00"}}]}`, "defer-first", "14 CFR 91.213(a)(5)"},
	"MEL past the inspection":                        {`{` + underMEL + `[` + heaterRow + `}]}}}, "defects": [{"id": "heater", "unit": "cabin-heater", "kind": "inoperative", "deferral": {"recorded": true, "placarded": true, "until": "2026-06-01T15:00:00-05:00"}}]}`, "grounded", "14 CFR 91.405(c)"},
	"MEL interval on its last day":                   {`{` + byLetter + `, "discovered": "2026-05-22"}}]}`, "clear", ""},
	"MEL interval the day after":                     {`{` + byLetter + `, "discovered": "2026-05-21"}}]}`, "grounded", "14 CFR 91.213(c)"},
	"MEL interval extended":                          {`{` + byLetter + `, "discovered": "2026-05-21", "extended": true, "extended_until": "2026-06-10"}}]}`, "limited", ""},
	"MEL interval extended, nobody knows until when": {`{` + byLetter + `, "discovered": "2026-05-21", "extended": true}}]}`, "undetermined", "14 CFR 91.213(c)"},
	"MEL interval extended to the day before":        {`{` + byLetter + `, "discovered": "2026-05-21", "extended": true, "extended_until": "2026-05-31"}}]}`, "grounded", "14 CFR 91.213(c)"},
	"MEL interval from nobody knows":                 {`{` + byLetter + `}}]}`, "undetermined", "14 CFR 91.213(c)"},

	"company rule met":       {`{"company_rules": [{"id": "company-heater", "citation": "Club rule 4", "words": "The heater works.", "item": "cabin-heater", "quantity": "1"}]}`, "clear", ""},
	"company rule not met":   {`{"company_rules": [{"id": "company-heater", "citation": "Club rule 4", "words": "The heater works.", "item": "cabin-heater", "quantity": "1"}], "defects": [` + heater + `]}`, "grounded", "Club rule 4"},
	"company rule at night":  {`{"company_rules": [{"id": "company-heater", "citation": "Club rule 4", "words": "The heater works.", "item": "cabin-heater", "quantity": "1", "when": "night"}], "defects": [` + heater + `]}`, "clear", ""},
	"company rule of a fact": {`{"company_rules": [{"id": "company-ifr", "citation": "Club rule 5", "words": "Only under IFR.", "must": "ifr", "when": "for-hire"}], "flight": {"for_hire": true}}`, "grounded", "Club rule 5"},
}

// spokenCase is the sound case with changes.
func spokenCase(t *testing.T, changes string) casefile.Case {
	t.Helper()
	tree := sound(t)
	merge(tree, parse(t, changes))
	raw, err := json.Marshal(tree)
	if err != nil {
		t.Fatal(err)
	}
	c, err := casefile.Decode(raw)
	if err != nil {
		t.Fatalf("%v: %s", err, changes)
	}
	return c
}

// TestWhatIsSaidOfThePathsAndInspections holds both to the verdicts that were read from the regulation.
func TestWhatIsSaidOfThePathsAndInspections(t *testing.T) {
	t.Parallel()
	p := load(t)
	for name, test := range spoken {
		c := spokenCase(t, test.changes)
		both, err := p.ask(c)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		have := both.oracle
		if have.Verdict.String() != test.verdict || test.blocks != "" && have.Blocks[test.blocks] != have.Verdict {
			t.Errorf("%s: want %s by %q, have %s", name, test.verdict, test.blocks, told(have))
		}
		if !both.agree() {
			t.Errorf("%s: the oracle says %v, the engine says %v:%s", name, both.oracle.Verdict, both.engine.Verdict, both.differences())
		}
	}
}

const byLetter = `"aircraft": {"facts": {"mel_authorized": true}, "configuration": {"mel": {"on_record": true, "aboard": true, "letter_aboard": true, "authority": "certificate", "rows": [` + heaterRow + `}]}}}, "defects": [{"id": "heater", "unit": "cabin-heater", ` + deferred
