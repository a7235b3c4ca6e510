package oracle

import (
	"fmt"
	"slices"
	"time"

	"tiedown/internal/casefile"
)

// fromCatalog are items that a squawk may name without naming a unit.
var fromCatalog = []string{
	"landing-light", "transponder", "elt", "altimeter", "tachometer", "beacon", "position-light", "autopilot", "com-radio",
	"fuel-quantity-gauge", "safety-belt", "tire", "oil-leak", "wing-spar", "carpet", "sun-visor", "anticollision-light",
	"ads-b-out", "alternator", "oxygen-system", "airspeed-indicator", "vor-receiver", "taxi-light", "main-battery",
}

// defects deals up to eight squawks.
func (d *Dealer) defects(a casefile.Aircraft) []casefile.Defect {
	n := pick(d, 0, 1, 1, 1, 2, 2, 3, 5, 8)
	if d.calm {
		n = pick(d, 0, 1, 1, 1, 1, 2, 3)
	}
	defects := make([]casefile.Defect, 0, n)
	for i := range n {
		defects = append(defects, d.defect(fmt.Sprintf("squawk-%d", i+1), a.Configuration.Units))
	}
	return defects
}

// spareable are units that many flights can do without.
var spareable = []string{
	"autopilot", "cabin-heater", "vacuum-pump", "landing-light", "dme", "stall-warning", "spare-fuses", "pyrotechnic-signal",
	"ammeter", "outside-air-temperature-gauge", "main-battery", "quick-don-mask", "turn-coordinator", "attitude-indicator",
	"transponder", "ads-b-out", "elt", "oxygen-system", "flotation-gear", "gear-position-indicator", "clock",
	"com-radio", "vor-receiver", "gps-navigator", "nav-com-radio", "rate-of-turn-indicator", "heading-indicator", "taxi-light",
	"pitot-heat", "alternate-static-source", "standby-battery", "standby-alternator", "alternator",
}

// unitID is the name of some unit; when things are calm, mostly one that many flights can do without.
func (d *Dealer) unitID(units []casefile.Unit) string {
	if d.calm && d.chance(60) {
		item := pick(d, spareable...)
		if i := slices.IndexFunc(units, func(u casefile.Unit) bool { return u.Item == item }); i >= 0 {
			return units[i].ID
		}
	}
	return units[d.intN(len(units))].ID
}

// errand makes the flight one for which a relief was made, and its first squawk what the relief is about.
func (d *Dealer) errand(a casefile.Aircraft, defects []casefile.Defect, f *casefile.Flight) {
	item := pick(d, "transponder", "altitude-encoder", "ads-b-out", "elt", "beacon", "strobe-light", "anticollision-light")
	i := slices.IndexFunc(a.Configuration.Units, func(u casefile.Unit) bool { return u.Item == item })
	if len(defects) == 0 || i < 0 {
		return
	}
	defects[0].Kind, defects[0].Unit, defects[0].Item = "inoperative", a.Configuration.Units[i].ID, ""
	defects[0].Deferral, defects[0].Found = d.deferral(99), nil
	switch item {
	case "transponder", "altitude-encoder", "ads-b-out":
		f.ATCAuthorized = subset(d, 70, "transponder", "altitude-reporting", "ads-b")
		f.Airspace = maybe(d, d.airspace())
	default:
		f.ToPlaceOfRepair, f.RepairImpossible, f.OnlyRequiredCrew = d.chance(85), d.chance(85), d.chance(60)
	}
}

func (d *Dealer) defect(id string, units []casefile.Unit) casefile.Defect {
	squawk := casefile.Defect{ID: id, Kind: usual(d, "inoperative", "inoperative", "inoperative", "inoperative", "condition", "")}
	switch {
	case len(units) > 0 && usual(d, true, true, true, true, false):
		squawk.Unit = d.unitID(units)
	case d.chance(85):
		squawk.Item = pick(d, fromCatalog...)
	}
	if squawk.Kind == "condition" || squawk.Item != "" && d.chance(50) {
		squawk.Found = d.found()
	}
	switch {
	case squawk.Found != nil || usual(d, false, true, false, false):
		// nothing has been done
	case d.calm && d.chance(20):
		squawk.Deferral = d.deferral(85) // some step is still to be done
	case usual(d, false, true, false):
		squawk.Deferral = d.deferral(60)
	default:
		squawk.Deferral = d.deferral(usual(d, 100, 97))
	}
	return squawk
}

// deferral deals what has been done; each step so many times in a hundred.
func (d *Dealer) deferral(percent int) *casefile.Deferral {
	f := &casefile.Deferral{
		MethodDone:       d.chance(percent),
		Placarded:        d.chance(percent),
		Recorded:         d.chance(percent),
		HazardDetermined: d.chance(percent),

		InvolvesMaintenance:      d.fact(60),
		MaintenanceProcedureDone: d.chance(percent),
	}
	if d.chance(percent) {
		f.Discovered = usual(d, "2026-05-31", "2026-05-28", "2026-05-29", "2026-05-22", "2026-05-21", "2026-02-01", "2026-02-02", "2026-06-01", "2026-06-02")
	}
	if d.chance(percent) {
		f.Method = pick(d, "removed", "deactivated")
	}
	if d.chance(percent) {
		f.Until = new(departure.Add(time.Duration(usual(d, 2400, -24, 1, 2, 5, 240, 2400, 2400)) * time.Hour))
	}
	if f.Method == "removed" && d.chance(percent) {
		f.RemovedOn = usual(d, "2026-05-20", "2026-03-02", "2026-03-03", "2026-03-04", "2026-06-01", "2026-06-02")
	}
	return f
}
