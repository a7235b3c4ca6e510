package casefile

import (
	"fmt"

	"tiedown/internal/airworthiness"
)

// compileInspections reads when the aircraft was last inspected and tested.
func compileInspections(a *airworthiness.Aircraft, f Facts, prefix string, bad *Faults) {
	date := func(field, value string) airworthiness.Fact[airworthiness.Date] {
		return compileDate(prefix+field, value, bad)
	}
	a.AnnualInspected = date("annual_inspected", f.AnnualInspected)
	a.Progressive, a.ProgressiveComplete = truth(f.Progressive), date("progressive_complete", f.ProgressiveComplete)
	if a.Progressive == airworthiness.Yes && f.ProgressiveComplete == "" {
		bad.Add(prefix+"progressive_complete", "required", "it is not said when an inspection of the whole aircraft was last complete under the program",
			"give that day, or the day of the annual inspection with which the program began")
	}
	// Without that day nothing would be asked but the general rule: to know of it must not be worse than not to.
	if f.Progressive == nil && f.ProgressiveComplete != "" {
		bad.Add(prefix+"progressive_inspection", "required", "it is not said whether the aircraft is still inspected progressively",
			"say true or false: once the program has been given up, its last complete inspection serves as the annual")
	}
	a.ConditionInspected = date("condition_inspected", f.ConditionInspected)
	a.AltimeterTested = date("altimeter_tested", f.AltimeterTested)
	a.TransponderTested = date("transponder_tested", f.TransponderTested)
	a.ELTInspected = date("elt_inspected", f.ELTInspected)
	a.ELTBatteryDue = date("elt_battery_due", f.ELTBatteryDue)
	a.HoursSinceInspection, a.ELTBatteryHours = fact(f.HoursSinceInspection), fact(f.ELTBatteryHours)
	for _, h := range []struct {
		field string
		hours *float64
	}{{"hours_since_inspection", f.HoursSinceInspection}, {"elt_battery_hours", f.ELTBatteryHours}} {
		if h.hours != nil && *h.hours < 0 {
			bad.Add(prefix+h.field, "range", "hours are counted from 0", "give the hours as 0 or more")
		}
	}
}

// compileConfirmation says whether a list has been confirmed: by whom, with which certificate, when and from what.
func compileConfirmation(c *Confirmation, prefix string, bad *Faults) airworthiness.Truth {
	if c == nil {
		return airworthiness.Unknown
	}
	compileDate(prefix+"on", c.On, bad)
	if c.By == "" || c.Certificate == "" || c.On == "" || c.Document == "" {
		return airworthiness.Unknown
	}
	return airworthiness.Yes
}

// compileOperation reads what bears on inspections, and which operations with equipment of their own the flight is.
func compileOperation(e *airworthiness.Flight, f Flight) {
	e.InstructionProvidedAircraft = truth(f.InstructionProvidedAircraft)
	e.ToPlaceOfInspection = airworthiness.TruthOf(f.ToPlaceOfInspection)
	e.NewlyAcquiredToInstallation = airworthiness.TruthOf(f.NewlyAcquiredToInstallation)
	e.Operations = airworthiness.Given(f.Operations)
	e.Hours = fact(f.Hours)
	if window := f.WindowHours(); window > 0 {
		e.WindowHours = airworthiness.Given(window)
	}
	if f.Earlier != nil {
		e.EarlierLegs = f.Earlier.Legs
	}
}

// rounding is what hours that add up to a window may be off by: a thousandth of a microsecond.
const rounding = 1e-12 * 1000 / 3.6

// checkHours refuses a flight that takes longer than its window, and earlier legs that are none.
func checkHours(f Flight, bad *Faults) {
	if e := f.Earlier; e != nil && (e.Legs < 1 || !(e.WindowHours > 0)) {
		bad.Add("flight.earlier_legs", "range", "there are no earlier legs, or they take no time", "give how many they are and how long, or leave them out")
	}
	if f.Hours == nil {
		return
	}
	if window := f.WindowHours(); *f.Hours < 0 || window > 0 && *f.Hours > window+rounding {
		bad.Add("flight.hours", "at-most-window", "the flight takes less than no time in service, or more than its window is long",
			"correct hours, or the window")
	}
}

// Apply lets the defects be judged under the policy.
func (p Policy) Apply(defects []airworthiness.Defect) error {
	var bad Faults
	switch p.Deactivation {
	case "", "strict":
	case "rule-text":
		for i := range defects {
			if d := defects[i].Deferral; d != nil {
				d.EntryByRuleText = true
			}
		}
	default:
		bad.Add("policy.deactivation", "known-policy", fmt.Sprintf("%q is no policy", p.Deactivation), "use strict or rule-text")
	}
	return bad.Err()
}
