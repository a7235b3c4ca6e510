package engines

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/cel-go/common/types"

	aw "tiedown/internal/airworthiness"
)

// inspectionNames are the conditions on inspections, which are compared with the day of the flight or with its hours.
var inspectionNames = []string{
	"annual-within", "progressive-within", "condition-inspection-within", "altimeter-test-within", "transponder-test-within",
	"elt-inspection-within", "elt-battery-in-life", "inspection-hours-within", "registration-in-force", "radio-licence-in-force",
	"kept-up", "program-hours-within",
}

// inspected says whether an inspection serves for the whole flight.
func (c *CEL) inspected(v *unitVariable) aw.Truth {
	a := c.aircraft
	switch v.name {
	case "inspection-hours-within":
		return c.hoursWithin(float64(v.days))
	case "elt-battery-in-life":
		return c.good(a.ELTBatteryDue, 0, a.ELTBatteryDue.Value)
	case "registration-in-force":
		return c.good(a.Papers.RegistrationThrough, 0, a.Papers.RegistrationThrough.Value)
	case "radio-licence-in-force":
		return c.good(a.Papers.RadioThrough, 0, a.Papers.RadioThrough.Value)
	case "kept-up", "program-hours-within": // no item comes due in these aircraft
		if a.Upkeep.Complete != aw.Yes && (v.arg == "directive" || v.arg == "life-limit") {
			return aw.Unknown
		}
		return aw.Yes
	}
	done := map[string]aw.Fact[aw.Date]{
		"annual-within": a.Annual(), "progressive-within": a.ProgressiveComplete, "condition-inspection-within": a.ConditionInspected,
		"altimeter-test-within": a.AltimeterTested, "transponder-test-within": a.TransponderTested,
		"elt-inspection-within": a.ELTInspected,
	}[v.name]
	return c.good(done, done.Value, endOfMonth(done.Value, v.days))
}

// endOfMonth is the last day of the month so many months later: the day before the first of the one after.
func endOfMonth(d aw.Date, months int) aw.Date {
	t := time.Unix(0, 0).UTC().AddDate(0, 0, int(d))
	first := time.Date(t.Year(), t.Month(), 1, 0, 0, 0, 0, time.UTC).AddDate(0, months+1, 0)
	return aw.DateOf(first) - 1
}

func (c *CEL) good(done aw.Fact[aw.Date], from, through aw.Date) aw.Truth {
	switch {
	case !done.Known:
		return aw.Unknown
	case aw.DateOf(c.flight.Ends) > through:
		return aw.No
	case c.flight.On < from:
		return aw.Unknown
	}
	return aw.Yes
}

func (c *CEL) hoursWithin(limit float64) aw.Truth {
	used, hours, window := c.aircraft.HoursSinceInspection, c.flight.Hours, c.flight.WindowHours
	if hours.Known && window.Known {
		hours.Value = min(hours.Value, window.Value)
	}
	most := hours
	if !hours.Known {
		most = window
	}
	switch {
	case !used.Known:
		return aw.Unknown
	case most.Known && used.Value+most.Value <= limit:
		return aw.Yes
	case hours.Known, used.Value >= limit:
		return aw.No
	}
	return aw.Unknown
}

// withinBounds says that what must hold is a limit in hours that a flight can keep within, and it is open whether it does.
func (c *CEL) withinBounds(must string) bool {
	name, limit, _ := strings.Cut(must, ":")
	if name != "inspection-hours-within" {
		return false
	}
	slot := c.condition(must).slot
	open := c.activation.values[slot] != types.True && c.activation.values[slot+1] != types.True
	hours, err := strconv.ParseFloat(limit, 64)
	used := c.aircraft.HoursSinceInspection
	return err == nil && open && used.Known && used.Value < hours
}

func isInspection(name string) bool { return slices.Contains(inspectionNames, name) }
