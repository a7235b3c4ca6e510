package regulation

import (
	"errors"
	"strconv"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/upkeep"
)

// upkeepTables are the tables on what comes due. They are read apart from those of the determination.
var upkeepTables = []string{"upkeep", "upkeep_stops", "vor_checks"}

// readUpkeep turns the tables on what comes due into rules, collecting every fault.
func readUpkeep(tables map[string]table) (*upkeep.Rules, error) {
	var (
		all    upkeep.Tables
		faults []error
	)
	for _, r := range tables["upkeep"].rows {
		row, err := upkeepRow(r)
		faults = append(faults, err)
		all.Rows = append(all.Rows, row)
	}
	for _, r := range tables["upkeep_stops"].rows {
		o, err := origin(r)
		faults = append(faults, err)
		all.Stops = append(all.Stops, upkeep.StopRow{
			Origin: o, Stops: strings.Fields(r.get("stops")), When: r.get("when"), Unless: r.get("unless"), Flights: r.get("flights"),
		})
	}
	for _, r := range tables["vor_checks"].rows {
		o, err := origin(r)
		degrees, bad := strconv.ParseFloat(r.get("degrees"), 64)
		if bad != nil {
			err = errors.Join(err, r.fault("column degrees: want a number"))
		}
		faults = append(faults, err)
		all.Tolerances = append(all.Tolerances, upkeep.ToleranceRow{Origin: o, Check: r.get("check"), Degrees: degrees})
	}
	if err := errors.Join(append(faults, versions(tables, upkeepTables))...); err != nil {
		return nil, err
	}
	return upkeep.Compile(all)
}

func upkeepRow(r row) (upkeep.Row, error) {
	o, err := origin(r)
	faults := []error{err}
	number := func(column string) float64 {
		if r.get(column) == "" {
			return 0
		}
		n, err := strconv.ParseFloat(r.get(column), 64)
		if err != nil || !(n > 0) || n > 1e6 {
			faults = append(faults, r.fault("column %s: want a number above 0", column))
		}
		return n
	}
	whole := func(column string) int {
		n := number(column)
		if n != float64(int(n)) {
			faults = append(faults, r.fault("column %s: want a whole number", column))
		}
		return int(n)
	}
	row := upkeep.Row{
		Origin: o, Title: r.get("title"), Record: r.get("record"), DoneBy: strings.Fields(r.get("done_by")), When: r.get("when"), Asks: r.get("asks"),
		Every: upkeep.Limit{
			CalendarMonths: whole("calendar_months"), Days: whole("days"), Hours: number("hours"), LifeShare: whole("life_percent"),
		},
		Allowance: number("overfly_hours"),
	}
	return row, errors.Join(faults...)
}

// Origins of the rows of a table, for whoever holds them against one another.
func origins(t table) []airworthiness.Origin {
	all := make([]airworthiness.Origin, len(t.rows))
	for i, r := range t.rows {
		all[i], _ = origin(r) // its own faults have been told
	}
	return all
}
