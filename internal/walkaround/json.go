package walkaround

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"tiedown/internal/casefile"
)

// fields are where the values of a check in JSON go, by name.
func (c *Check) fields() map[string]any {
	return map[string]any{
		"id": &c.ID, "station": &c.Station, "way": &c.Way, "words": &c.Words, "required": &c.Required, "when": &c.When,
		"equipped": &c.Equipped, "serials": &c.Serials, "means": &c.Means, "item": &c.Item, "unit": &c.Unit, "in": &c.In,
		"at_least": &c.AtLeast, "at_most": &c.AtMost, "below": &c.Below, "above": &c.Above, "fuel": &c.Fuel, "color": &c.Color,
		"meter": &c.Meter, "paper": &c.Paper, "dated": &c.Dated, "used_up": &c.UsedUp,
	}
}

// ReadJSON reads a checklist as WriteJSON writes it. It is strict, and the error tells every fault at once, each with its
// line, counted from 1: a field that a check does not have or that stands twice, a value of the wrong type, and what makes
// no checklist.
func ReadJSON(raw []byte, known Catalog) (Checklist, error) {
	lines, err := casefile.Lines(raw)
	if err != nil {
		return Checklist{}, err
	}
	var bad casefile.Faults
	list, broken := readChecks(raw, &bad)
	if list != nil {
		for _, f := range list.Faults(known) {
			check, _, _ := strings.Cut(f.Field, ".")
			if !broken[f.Field] && !broken[check] {
				bad = append(bad, f)
			}
		}
	}
	if err := bad.WithLines(lines).Err(); err != nil {
		return Checklist{}, err
	}
	return *list, nil
}

// readChecks reads check by check and field by field, so that one bad value hides no other. Without a list of checks
// there is nothing to read, and the checklist is nil.
func readChecks(raw []byte, bad *casefile.Faults) (*Checklist, map[string]bool) {
	broken := map[string]bool{}
	fault := func(field, rule, says, remedy string) {
		broken[field] = true
		bad.Add(field, rule, says, remedy)
	}
	var document map[string]json.RawMessage
	var checks []json.RawMessage
	if json.Unmarshal(raw, &document) != nil {
		fault("document", "type", "it is no object", `send {"checks": [...]}`)
		return nil, broken
	}
	for _, name := range slices.Sorted(maps.Keys(document)) {
		if name != "checks" {
			fault(name, "unknown-field", "a checklist has no such field", "take it out")
		}
	}
	if given := document["checks"]; len(given) == 0 || given[0] != '[' || json.Unmarshal(given, &checks) != nil {
		fault("checks", "type", "it is no list", "give a list of checks")
		return nil, broken
	}
	list := &Checklist{}
	for i, one := range checks {
		var c Check
		c.readFields(one, fmt.Sprintf("checks[%d]", i), fault)
		list.Checks = append(list.Checks, c)
	}
	return list, broken
}

func (c *Check) readFields(raw json.RawMessage, at string, fault func(field, rule, says, remedy string)) {
	var given map[string]json.RawMessage
	if raw[0] != '{' || json.Unmarshal(raw, &given) != nil {
		fault(at, "type", "it is no object", "give a check as an object")
		return
	}
	fields := c.fields()
	for _, name := range slices.Sorted(maps.Keys(given)) {
		to, ok := fields[name]
		switch {
		case !ok:
			fault(at+"."+name, "unknown-field", "a check has no such field", "take it out, or correct its name")
		case string(given[name]) == "null":
			fault(at+"."+name, "type", "null is no value", "leave the field out")
		case hasNull(given[name]), json.Unmarshal(given[name], to) != nil:
			fault(at+"."+name, "type", "the value is of another type", "see the contract for what it must be")
		}
	}
	if len(c.When) == 0 {
		c.When = nil // no circumstance is the same as none given
	}
}

// hasNull finds a null in a list: it would be read as an empty word.
func hasNull(raw json.RawMessage) bool {
	var list []json.RawMessage
	return json.Unmarshal(raw, &list) == nil && slices.ContainsFunc(list, func(v json.RawMessage) bool { return string(v) == "null" })
}

// WriteJSON writes what ReadJSON reads, a check a line.
func WriteJSON(list *Checklist) ([]byte, error) {
	var out bytes.Buffer
	out.WriteString("{\"checks\": [")
	for i := range list.Checks {
		one, err := json.Marshal(list.Checks[i])
		if err != nil {
			return nil, err
		}
		if i > 0 {
			out.WriteByte(',')
		}
		out.WriteString("\n  ")
		out.Write(one)
	}
	out.WriteString("\n]}\n")
	return out.Bytes(), nil
}

// Read reads a checklist from one of the two written forms: exactly one is given. at names the fields as they were sent.
func Read(checks []Check, csv string, known Catalog) (Checklist, error) {
	switch {
	case csv != "" && checks != nil:
		return Checklist{}, casefile.Faults{{Field: "csv", Rule: "one-form", Says: "the checks are given twice", Remedy: "give either checks or csv"}}
	case csv == "":
		list := Checklist{checks}
		return list, list.Faults(known).Err()
	}
	list, err := ReadCSV(strings.NewReader(csv), known)
	return list, casefile.Renamed(err, func(field string) string {
		return strings.Replace("csv."+strings.TrimPrefix(field, "checks"), "csv.[", "csv.rows[", 1)
	})
}
