package regulation

import (
	"errors"
	"strconv"
	"strings"

	"tiedown/internal/airworthiness"
)

// intervals reads the repair categories of MELs.
func intervals(t table) ([]airworthiness.IntervalRow, error) {
	var (
		rows   []airworthiness.IntervalRow
		faults []error
	)
	for _, r := range t.rows {
		o, err := origin(r)
		days, daysErr := r.days("days")
		extendable, extendableErr := r.yesOrNo("extension")
		faults = append(faults, err, daysErr, extendableErr)
		rows = append(rows, airworthiness.IntervalRow{Origin: o, Category: r.get("category"), Days: days, Extendable: extendable})
	}
	return rows, errors.Join(faults...)
}

// days reads a number of days from 1; nothing is nought.
func (r row) days(column string) (int, error) {
	value := r.get(column)
	if value == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(value)
	if err != nil || n < 1 {
		return 0, r.fault("column %s: want a number of days from 1", column)
	}
	return n, nil
}

// yesOrNo reads a column that says one or the other.
func (r row) yesOrNo(column string) (bool, error) {
	switch r.get(column) {
	case "yes":
		return true, nil
	case "no":
		return false, nil
	default:
		return false, r.fault("column %s: want yes or no", column)
	}
}

// permits reads what a special flight permit lifts, and what must hold for it to serve.
func permits(t table) ([]airworthiness.PermitRow, error) {
	var (
		rows   []airworthiness.PermitRow
		faults []error
	)
	for _, r := range t.rows {
		o, err := origin(r)
		faults = append(faults, err)
		rows = append(rows, airworthiness.PermitRow{Origin: o, Lifts: strings.Fields(r.get("lifts")), Must: r.get("must")})
	}
	return rows, errors.Join(faults...)
}
