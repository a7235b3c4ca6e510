package hangar

import (
	"fmt"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// isTest says of the kinds of inspection that it is a test of 14 CFR 91.411 or 91.413.
func isTest(inspection string) bool { return strings.HasSuffix(inspection, "-test") }

// checkInspection asks that an inspection disposes of every item that was left inoperative: repaired, replaced or removed,
// its squawk is closed; or it was inspected, and carried on by a new determination signed since the inspection was
// completed (14 CFR 91.405(c)). Nothing is carried on in silence.
func (d *draft) checkInspection(bad *casefile.Faults) {
	act := &d.record.Act
	if isTest(act.Inspection) {
		return
	}
	for i := range d.snap.Squawks {
		q := &d.snap.Squawks[i]
		if q.State != techlog.Deferred || q.Deferral == nil {
			continue
		}
		signed := !q.Deferral.Signature.IsZero() && q.Deferral.DeterminedAt.In(d.zone).Format(time.DateOnly) >= act.Completed
		if !signed {
			bad.Add("act.inspection", "disposes-of-deferred", fmt.Sprintf("squawk %s was left inoperative, and this inspection says nothing of it", q.Label()),
				"have it repaired, replaced or removed; or inspect it and sign carry-on with a new determination first")
		}
	}
	if act.Airworthy == nil {
		bad.Add("act.airworthy", "required", "it is not said whether the aircraft was found airworthy", "say true, or false with the list of discrepancies")
	}
}

// inspected enters in the aircraft's facts that it was inspected or tested. What was not approved enters nothing.
func inspected(tx Tx, d *draft) techlog.Aircraft {
	act := &d.record.Act
	a := &d.snap.Aircraft
	if act.Action != actInspect || isFalse(act.Airworthy) {
		return *a
	}
	zero := 0.0
	switch act.Inspection {
	case "annual-inspection":
		a.Facts.AnnualInspected, a.Facts.HoursSinceInspection = act.Completed, &zero
	case "hundred-hour-inspection":
		a.Facts.HoursSinceInspection = &zero
	case "condition-inspection":
		a.Facts.ConditionInspected, a.Facts.HoursSinceInspection = act.Completed, &zero
	case "altimeter-and-static-test":
		a.Facts.AltimeterTested = act.Completed
	case "transponder-test":
		a.Facts.TransponderTested = act.Completed
	default:
		return *a // a static system alone completes no test of 91.411
	}
	a.Version++
	a.PlanVersion++
	d.snap.uncommitted = true
	tx.UpdateAircraft(*a)
	return *a
}
