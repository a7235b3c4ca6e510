package pages

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// readResults reads what the form of a station says, one result for each check of which it says something. What cannot be
// read comes back as faults, of fields that are named by check and field: "oil-level.value".
func readResults(v *visit, standings []walkaround.Standing, station walkaround.Station, at time.Time) ([]walkaround.Result, casefile.Faults) {
	var results []walkaround.Result
	var bad casefile.Faults
	for i := range standings {
		c := &standings[i].Check
		if c.Station != station {
			continue
		}
		said, says := readAnswer(v, c, &bad)
		if !says {
			continue
		}
		id, valid := techlog.ParseID(v.form.Get(fieldOf(c.ID, "id")))
		if !valid {
			bad.Add(fieldOf(c.ID, "outcome"), "form", "the form does not name the result", "open the page anew")
			continue
		}
		for _, earlier := range strings.Fields(v.form.Get(fieldOf(c.ID, "replaces"))) {
			if e, valid := techlog.ParseID(earlier); valid {
				said.Replaces = append(said.Replaces, e)
			}
		}
		results = append(results, walkaround.Result{ID: id, Check: c.ID, Said: said, MadeAt: at.UTC().Truncate(time.Microsecond)})
	}
	return results, bad
}

// readAnswer reads what the form says of one check, and whether it says anything.
func readAnswer(v *visit, c *walkaround.Check, bad *casefile.Faults) (walkaround.Answer, bool) {
	field := func(name string) string { return strings.TrimSpace(v.form.Get(fieldOf(c.ID, name))) }
	said := walkaround.Answer{Outcome: walkaround.Outcome(field("outcome")), Note: field("note")}
	says := said.Outcome != "" || said.Note != ""
	if said.Outcome == walkaround.Skipped {
		return said, true
	}
	switch c.Way {
	case walkaround.Look, walkaround.Operate:
	case walkaround.Measure, walkaround.Compare:
		if value := strings.ReplaceAll(field("value"), ",", "."); value != "" {
			says = true
			n, err := strconv.ParseFloat(value, 64)
			if err != nil {
				bad.Add(fieldOf(c.ID, "value"), "number", fmt.Sprintf("%q is no number", value), "write it in digits, such as 5.5")
				return said, true
			}
			said.Value = &n
		}
	case walkaround.Sample:
		said.Color, said.Water, said.Sediment = field("color"), answered(field("water")), answered(field("sediment"))
		says = says || said.Color != "" || said.Water != nil || said.Sediment != nil
	case walkaround.Paper:
		said.Present, said.Until = answered(field("present")), field("until")
		says = says || said.Present != nil || said.Until != ""
		if said.Present != nil && !*said.Present {
			said.Until = ""
		}
	}
	return said, says
}

// resultFaults gives the faults of a report the names of the form's fields: results[3].note is that of the fourth check.
func resultFaults(err error, results []walkaround.Result) casefile.Faults {
	faults := faultsOf(err)
	for i := range faults {
		rest, ok := strings.CutPrefix(faults[i].Field, "results[")
		number, field, cut := strings.Cut(rest, "].")
		n, notNumber := strconv.Atoi(number)
		if !ok || !cut || notNumber != nil || n >= len(results) {
			continue
		}
		if strings.HasPrefix(field, "replaces") || field == "id" {
			field = "outcome"
		}
		faults[i].Field = fieldOf(results[n].Check, field)
	}
	return faults
}

// cutField parts the name of a field into that of its check and its own.
func cutField(name string) (check, field string, ok bool) {
	at := strings.LastIndexByte(name, '.')
	if at < 0 {
		return "", name, false
	}
	return name[:at], name[at+1:], true
}
