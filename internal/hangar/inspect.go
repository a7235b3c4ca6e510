package hangar

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// isTest says of the kinds of inspection that it is a test of 14 CFR 91.411 or 91.413.
func isTest(inspection string) bool { return strings.HasSuffix(inspection, "-test") }

// readDispositions finds out which deferred squawks were carried on at this inspection: inspected and determined anew, by a
// signature that names it, since it was completed. What was only found at it has been deferred as it should be.
func (d *draft) readDispositions(ctx context.Context, tx Tx) error {
	act := &d.record.Act
	d.disposed = map[techlog.ID]bool{}
	if act.Action != actInspect || isTest(act.Inspection) {
		return nil
	}
	for i := range d.snap.Squawks {
		q := &d.snap.Squawks[i]
		if q.Deferral == nil || q.Deferral.Signature.IsZero() || d.dayOf(q.Deferral.DeterminedAt) < act.Completed {
			continue
		}
		signatures, err := tx.Signatures(ctx, q.Aircraft, q.ID)
		if err != nil {
			return err
		}
		j := slices.IndexFunc(signatures, func(s techlog.Signature) bool { return s.ID == q.Deferral.Signature })
		if j < 0 {
			continue
		}
		by, err := techlog.ActOf(signatures[j].Text)
		if err != nil {
			return err
		}
		d.disposed[q.ID] = by.Inspection == act.Inspection || d.dayOf(q.ReportedAt) >= act.Completed
	}
	return nil
}

// dayOf is the date of an instant at the aircraft's base.
func (d *draft) dayOf(at time.Time) string { return at.In(d.zone).Format(time.DateOnly) }

// checkInspection asks that an inspection disposes of every item that was left inoperative: repaired, replaced or removed,
// its squawk is closed; or it was inspected, and carried on by a new determination. Nothing is carried on in silence.
func (d *draft) checkInspection(bad *casefile.Faults) {
	act := &d.record.Act
	if isTest(act.Inspection) {
		return
	}
	for i := range d.snap.Squawks {
		if q := &d.snap.Squawks[i]; q.State == techlog.Deferred && !d.disposed[q.ID] {
			bad.Add("act.inspection", "disposes-of-deferred", fmt.Sprintf("squawk %s was left inoperative, and this inspection says nothing of it%s", q.Label(), d.cite("deferral-lasts")),
				"have it repaired, replaced or removed; or inspect it and sign carry-on with a new determination, naming this inspection, first")
		}
	}
	if act.Airworthy == nil {
		bad.Add("act.airworthy", "required", "it is not said whether the aircraft was found airworthy", "say true, or false with the list of discrepancies")
	}
}

// inspected follows the aircraft's record with another version, as whatever is signed about it does, and enters in its
// facts that it was inspected or tested.
func inspected(tx Tx, d *draft) techlog.Aircraft {
	a := &d.snap.Aircraft
	a.Version++
	act := &d.record.Act
	facts := a.Facts
	if !isTest(act.Inspection) {
		var began *walkaround.BookEntry
		if len(d.snap.InService) > 0 {
			began = &d.snap.InService[0]
		}
		facts = readFrom(facts, d.readings(), began).facts // hours since it are counted from the newest reading
	}
	if act.Action == actInspect && !isFalse(act.Airworthy) && enterInspection(&facts, act, d.day) {
		a.Facts = facts
		a.PlanVersion++
		d.snap.uncommitted = true
	}
	tx.UpdateAircraft(*a)
	return *a
}

// readings are the last entries of the meters, with the total time in service that an inspection of today has in its entry
// (14 CFR 43.11(a)(2)) in place of the book's, unless it has less.
func (d *draft) readings() []walkaround.BookEntry {
	act := &d.record.Act
	i := slices.IndexFunc(d.book, func(e walkaround.BookEntry) bool { return e.Meter == walkaround.TimeInService })
	if act.TotalTimeHours == nil || act.Completed != d.day || i >= 0 && *act.TotalTimeHours < d.book[i].Hours {
		return d.book
	}
	return []walkaround.BookEntry{{Meter: walkaround.TimeInService, Hours: *act.TotalTimeHours, At: d.at}}
}

// enterInspection says whether the act changes the facts. What was not approved enters nothing; nor does a test of the
// static system alone, which completes none that has to be made, nor anything older than what is on record. Hours count
// from an inspection of today: how much has been flown since an earlier one nobody has said.
func enterInspection(facts *casefile.Facts, act *casefile.Act, today string) bool {
	var hours *float64
	if act.Completed == today {
		hours = new(0.0)
	}
	newer := func(on *string) bool {
		if act.Completed <= *on {
			return false
		}
		*on = act.Completed
		return true
	}
	switch act.Inspection {
	case "annual-inspection":
		if !newer(&facts.AnnualInspected) {
			return false
		}
		facts.HoursSinceInspection = hours
	case "condition-inspection":
		if !newer(&facts.ConditionInspected) {
			return false
		}
		facts.HoursSinceInspection = hours
	case "hundred-hour-inspection":
		facts.HoursSinceInspection = hours
	case "altimeter-and-static-test":
		return newer(&facts.AltimeterTested)
	case "transponder-test":
		return newer(&facts.TransponderTested)
	default:
		return false
	}
	return true
}
