package upkeep

import "tiedown/internal/airworthiness"

// batteryUse is the record of the hours for which the battery of the ELT has been in use. No log has them.
const batteryUse = "elt-battery-use"

// fromFacts is the record of a name as the aircraft's facts have it: when something was last done, or for how long it still
// serves. Where nothing is known the record is empty.
func (a *Aircraft) fromFacts(record string) Record {
	on := func(day Fact[Date]) Record {
		if !day.Known {
			return Record{}
		}
		return Record{Work: []Work{{On: day}}}
	}
	switch record {
	case "annual":
		return on(a.Annual())
	case "progressive":
		return on(a.ProgressiveComplete)
	case "condition":
		return on(a.ConditionInspected)
	case "altimeter":
		return on(a.AltimeterTested)
	case "transponder":
		return on(a.TransponderTested)
	case "elt":
		return on(a.ELTInspected)
	case "vor":
		return on(a.VORChecked)
	case "elt-battery-life":
		if !a.ELTBatteryDue.Known {
			return Record{}
		}
		return Record{Work: []Work{{Through: a.ELTBatteryDue}}}
	case batteryUse:
		return since(a.ELTBatteryHours, OfBattery)
	case "inspection-hours":
		return a.sinceInspection()
	default:
		return Record{}
	}
}

// sinceInspection counts on the aircraft's own meter, where its reading is known.
func (a *Aircraft) sinceInspection() Record {
	if !a.HoursSinceInspection.Known || !a.Now.Hours.Known {
		return since(a.HoursSinceInspection, SinceLast)
	}
	at := airworthiness.Given(round(a.Now.Hours.Value - a.HoursSinceInspection.Value))
	return Record{Work: []Work{{At: Reading{Hours: at}}}, Now: a.Now}
}

// since is something done when its meter read nothing.
func since(hours Fact[float64], meter Meter) Record {
	r := Record{Now: Reading{Hours: hours}, Meter: meter}
	if hours.Known {
		r.Work = []Work{{At: Reading{Hours: airworthiness.Given(0.0)}}}
	}
	return r
}
