package regulation

import (
	"errors"
	"strconv"
	"strings"

	"tiedown/internal/airworthiness"
)

// people reads the tables about people, work and records.
func people(tables map[string]table, all *airworthiness.Tables) error {
	var faults []error
	for _, r := range tables["preventive_maintenance"].rows {
		o, err := origin(r)
		number, bad := strconv.Atoi(r.get("number"))
		if bad != nil {
			err = errors.Join(err, r.fault("column number: want the number of a paragraph, have %q", r.get("number")))
		}
		faults = append(faults, err)
		all.Preventive = append(all.Preventive, airworthiness.PreventiveRow{
			Origin: o, Number: number, Items: strings.Fields(r.get("covers")), Excludes: strings.Fields(r.get("excludes")),
			Part: r.get("part"), When: r.get("when"),
		})
	}
	for _, r := range tables["who"].rows {
		o, err := origin(r)
		faults = append(faults, err)
		all.Who = append(all.Who, airworthiness.WhoRow{
			Origin: o, Actions: strings.Fields(r.get("action")), May: strings.Fields(r.get("may")), Effect: r.get("effect"),
			When: r.get("when"), Who: r.get("who"),
		})
	}
	for _, r := range tables["tasks"].rows {
		o, err := origin(r)
		faults = append(faults, err)
		all.Tasks = append(all.Tasks, airworthiness.TaskRow{
			Origin: o, For: strings.Fields(r.get("for")), Outcome: r.get("outcome"), Items: strings.Fields(r.get("item")),
			When: r.get("when"), By: r.get("by"), Placard: r.get("placard"), Where: r.get("where"), Entry: r.get("entry"),
		})
	}
	for _, r := range tables["records"].rows {
		o, err := origin(r)
		faults = append(faults, err)
		all.Records = append(all.Records, airworthiness.RecordRow{
			Origin: o, Record: r.get("record"), Needs: r.get("needs"), Keep: r.get("keep"),
		})
	}
	return errors.Join(faults...)
}
