package oracle

import (
	"fmt"
	"time"

	"tiedown/internal/casefile"
)

// fromCatalog are items that a squawk may name without naming a unit.
var fromCatalog = []string{
	"landing-light", "transponder", "elt", "altimeter", "tachometer", "beacon", "position-light", "autopilot", "com-radio",
	"fuel-quantity-gauge", "safety-belt", "tire", "oil-leak", "wing-spar", "carpet", "sun-visor", "anticollision-light",
	"ads-b-out", "alternator", "oxygen-system", "airspeed-indicator",
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

func (d *Dealer) defect(id string, units []casefile.Unit) casefile.Defect {
	squawk := casefile.Defect{ID: id, Kind: usual(d, "inoperative", "inoperative", "inoperative", "inoperative", "condition", "")}
	switch {
	case len(units) > 0 && usual(d, true, true, true, true, false):
		squawk.Unit = units[d.intN(len(units))].ID
	case d.chance(85):
		squawk.Item = pick(d, fromCatalog...)
	}
	switch {
	case usual(d, false, true, false, false):
		// nothing has been done
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
