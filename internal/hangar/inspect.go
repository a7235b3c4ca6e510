package hangar

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// isTest says of the kinds of inspection that it looks at one installation alone: it is a test of 14 CFR 91.411 or 91.413, or
// the inspection of the emergency locator transmitter (91.207(d)).
func isTest(inspection string) bool {
	return strings.HasSuffix(inspection, "-test") || inspection == "elt-inspection" || inspection == vorCheck
}

// vorCheck is the operational check of the VOR receivers (14 CFR 91.171), which is no maintenance.
const vorCheck = "vor-check"

// signatures is where those about a squawk are read: a transaction, or the store.
type signatures interface {
	Signatures(ctx context.Context, aircraft, squawk techlog.ID) ([]techlog.Signature, error)
}

// readDispositions finds out which deferred squawks were carried on at this inspection: inspected and determined anew, by a
// signature that names it, since it was completed. What was only found at it has been deferred as it should be.
func (d *draft) readDispositions(ctx context.Context, from signatures) error {
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
		signatures, err := from.Signatures(ctx, q.Aircraft, q.ID)
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
	d.enterInspection(bad)
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
// facts that it was inspected or tested, and which items of its upkeep were done with it.
func inspected(tx Tx, d *draft) techlog.Aircraft {
	a := &d.snap.Aircraft
	a.Version++
	if d.facts != nil {
		a.Facts = *d.facts
		a.PlanVersion++
		d.snap.uncommitted = true
	}
	tx.UpdateAircraft(*a)
	return *a
}

// enterInspection works out what an inspection enters in the facts: nothing, where it was not approved or is older than what is
// on record. What counts hours goes on from the newest reading first.
func (d *draft) enterInspection(bad *casefile.Faults) {
	act := &d.record.Act
	if act.Inspection == "progressive-inspection" && !d.compiled.said.OnProgram() {
		bad.Add("act.inspection", "on-a-program", "the aircraft is not on record as inspected progressively",
			"enter its program first: facts.progressive_inspection, and the schedule as items of the kind program")
	}
	if isFalse(act.Airworthy) {
		return
	}
	facts := d.compiled.said
	if !isTest(act.Inspection) || len(act.Items) > 0 {
		var began *walkaround.BookEntry
		if len(d.snap.InService) > 0 {
			began = &d.snap.InService[0]
		}
		facts = readFrom(facts, d.readings(), began).facts
	}
	changed := facts.Inspect(act, act.Completed == d.day) || act.VORCheck != nil && d.checkedVOR(&facts, bad)
	if len(act.Items) > 0 {
		record := casefile.Upkeep{}
		if facts.Upkeep != nil {
			record = *facts.Upkeep
		}
		after, faults := record.Do(act.Items, act.Inspection, d.completed(&record, bad), "act.items")
		*bad = append(*bad, faults...)
		facts.Upkeep, changed = &after, true
	}
	if changed {
		d.facts = &facts
	}
}

// checkedVOR enters a check of the VOR receivers. One that was out of tolerance is none; nor does an earlier one serve any
// longer, once it has been seen that they err.
func (d *draft) checkedVOR(facts *casefile.Facts, bad *casefile.Faults) bool {
	act := &d.record.Act
	rules := d.upkeep
	on, _ := airworthiness.ParseDate(act.Completed)
	switch good := rules.Tolerates(act.VORCheck.Kind, act.VORCheck.ErrorDegrees, on); {
	case good == airworthiness.Unknown:
		bad.Add("act.vor_check.kind", "known-check", fmt.Sprintf("%q is no way to check VOR receivers", act.VORCheck.Kind), "use one of "+strings.Join(rules.Checks(), ", "))
		return false
	case act.Completed < facts.VORChecked:
		return false
	case good == airworthiness.Yes:
		facts.VORChecked = act.Completed
	default:
		facts.VORChecked = ""
	}
	return true
}

// completed is when and at which readings the items of an inspection were done: what the meters read now, if it was today, or
// the total time in service that the entry has.
func (d *draft) completed(record *casefile.Upkeep, bad *casefile.Faults) casefile.Completed {
	act := &d.record.Act
	done := casefile.Completed{On: act.Completed, Today: act.Completed == d.day}
	if done.Today {
		done.Hours, done.Cycles = record.Hours, record.Cycles
		return done
	}
	done.Hours = act.TotalTimeHours
	if done.Hours != nil && record.Hours != nil && *done.Hours > *record.Hours {
		bad.Add("act.total_time_hours", "at-most-meter", "the aircraft has not flown so much yet", "correct it, or the meter's reading")
	}
	return done
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
