package scenario

import (
	"fmt"
	"strings"
	"time"

	"tiedown/internal/casefile"
)

// inspectionWords are the words for inspections and tests, and what the written form of facts calls them.
var inspectionWords = map[string]string{
	"annual": "annual_inspected", "condition": "condition_inspected", "hours": "hours_since_inspection",
	"altimeter": "altimeter_tested", "transponder": "transponder_tested", "elt": "elt_inspected",
	"elt-battery": "elt_battery_due", "elt-battery-hours": "elt_battery_hours",
}

// readInspections reads "WORD VALUE, WORD VALUE".
func (s *Story) readInspections(value string) error {
	for _, part := range strings.Split(value, ", ") {
		word, right, ok := strings.Cut(part, " ")
		name, known := inspectionWords[word]
		if !ok || !known {
			return fmt.Errorf("inspections: %q is none of annual, condition, hours, altimeter, transponder, elt, elt-battery, elt-battery-hours with its value", part)
		}
		if err := setFact(&casefile.Facts{}, name, right); err != nil {
			return err
		}
		s.changes = append(s.changes, func(a *casefile.Aircraft) error { return setFact(&a.Facts, name, right) })
	}
	return nil
}

// inspect gives an aircraft that keeps inspection records good ones, as of the day of the flight: every story is about
// something else unless it says so.
func inspect(f *casefile.Facts, departs time.Time) {
	if f.AnnualInspected == "" && f.ConditionInspected == "" {
		return
	}
	ago := func(days int) string { return departs.AddDate(0, 0, -days).Format(time.DateOnly) }
	hours, use := 41.5, 0.2
	f.AnnualInspected, f.ConditionInspected, f.HoursSinceInspection = ago(90), ago(90), &hours
	f.AltimeterTested, f.TransponderTested = ago(300), ago(300)
	f.ELTInspected, f.ELTBatteryDue, f.ELTBatteryHours = ago(90), ago(-400), &use
}

// readPolicy reads how the operator reads the rules where they leave a choice.
func (s *Story) readPolicy(value string) error {
	s.policy.Deactivation = value
	return nil
}
