package hangar

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// What an act says, held against what is on record. Each function names every fault that it finds.

// cite is a row's citation, as it stands behind words; empty in a book without that row.
func (d *draft) cite(row string) string {
	citation := d.compiled.book.Rules.Citation(row)
	if citation == "" {
		return ""
	}
	return " (" + citation + ")"
}

// holdAgainstRecords checks what the act shows together with the records.
func (s *Service) holdAgainstRecords(d *draft) error {
	var bad casefile.Faults
	act := &d.record.Act
	notAfter := func(field, day string) {
		if day > d.day {
			bad.Add("act."+field, "not-after-today", day+" has not come yet at the aircraft's base", "give the day on which it was done")
		}
	}
	notAfter("completed", act.Completed)
	notAfter("removed_on", act.RemovedOn)
	notAfter("discovered", act.Discovered)
	switch techlog.SquawkStep(act.Action) {
	case techlog.StepOutOfUse:
		d.checkELT(&bad)
	case techlog.StepDefer:
		d.checkDeferral(&bad)
	case techlog.StepCarryOn:
		d.checkConsidered(&bad)
		d.checkUntil(&bad)
		if act.ExtendedUntil != d.seen.Deferral.ExtendedUntil {
			bad.Add("act.extended_until", "as-on-record", "an extension is neither made nor ended by this", "repeat the extension that is on record, if there is one")
		}
	case techlog.StepExtend:
		d.checkExtension(&bad)
	case techlog.StepReturn:
		d.checkReturn(&bad)
	case actInspect:
		d.checkInspection(&bad)
	default: // the others say nothing that the records could gainsay
	}
	return bad.Err()
}

// checkELT asks for the placard and the entry of 14 CFR 91.207(f)(10) where an emergency locator transmitter is out.
func (d *draft) checkELT(bad *casefile.Faults) {
	act := &d.record.Act
	out := d.item() == elt && act.Method == "removed"
	switch {
	case out && act.ELT == nil:
		bad.Add("act.elt", "required", "the entry of its removal is missing"+d.cite("elt-entry"), "give make, model, serial number and reason")
	case !out && act.ELT != nil:
		bad.Add("act.elt", "elt-only", "no emergency locator transmitter is removed", "leave it out")
	}
	if out && act.Placard != eltPlacard {
		bad.Add("act.placard", "elt-words", "the placard has other words than the rule sets"+d.cite("elt-placard"), "write: "+eltPlacard)
	}
	if first := d.firstRemoval(); out && first != "" && act.RemovedOn != first {
		bad.Add("act.removed_on", "initial-removal", "the 90 days count from the initial removal, on "+first, "give that day")
	}
}

// eltPlacard is the placard that 14 CFR 91.207(f)(10)(i) sets, and eltDays how long the airplane may fly with it.
const (
	eltPlacard = "ELT not installed."
	eltDays    = 90
)

// firstRemoval is the day on which the item was first signed as removed on this squawk; empty if it was not.
func (d *draft) firstRemoval() string {
	for _, s := range d.earlier {
		if act, err := techlog.ActOf(s.Text); err == nil && act.Action == string(techlog.StepOutOfUse) && act.RemovedOn != "" {
			return act.RemovedOn
		}
	}
	return ""
}

func (d *draft) checkDeferral(bad *casefile.Faults) {
	act := &d.record.Act
	authorized := d.compiled.facts.MELAuthorized
	switch {
	case authorized == nil:
		bad.Add("act.basis", "known", "nobody has entered whether an MEL is authorized for the aircraft", "enter that fact of the aircraft first")
	case *authorized != (act.Basis == casefile.ByMEL):
		bad.Add("act.basis", "of-this-aircraft", "it is not the way that is open to this aircraft"+d.cite("mel-record"), "use mel where an MEL is authorized, and without-mel where none is")
	}
	if act.Basis == casefile.ByMEL {
		d.checkMEL(bad)
	} else {
		d.checkConsidered(bad)
	}
	d.checkOut(bad)
	d.checkUntil(bad)
}

// checkOut holds a deferral against how the item was put out of use. Who goes by the text of the rule may do without that
// entry where the deactivation involves no maintenance; the determination then says so.
func (d *draft) checkOut(bad *casefile.Faults) {
	act, out := &d.record.Act, d.seen.Progress.OutOfUse
	if out == nil {
		if act.Method == "deactivated" && d.compiled.policy.Deactivation == "rule-text" && isFalse(act.InvolvesMaintenance) && !d.asksProcedure() {
			return
		}
		bad.Add("act.method", "signed-entry", "nobody has signed yet that the item is out of use", "have the removal or deactivation entered first: sign out-of-use")
		return
	}
	for _, f := range []struct{ field, have, want string }{
		{"method", act.Method, out.Method}, {"placard", act.Placard, out.Placard}, {"removed_on", act.RemovedOn, out.RemovedOn},
	} {
		if f.have != f.want {
			bad.Add("act."+f.field, "as-signed", fmt.Sprintf("the entry that was signed says %q", f.want), "repeat what was signed, or have it signed anew")
		}
	}
	if !sameAnswer(act.InvolvesMaintenance, out.InvolvesMaintenance) {
		bad.Add("act.involves_maintenance", "as-signed", "the entry that was signed says otherwise", "repeat what was signed, or have it signed anew")
	}
	if d.asksProcedure() && !isTrue(out.MaintenanceProcedure) {
		bad.Add("act.method", "maintenance-procedure", "the MEL asks for a maintenance procedure (M), and nobody has signed it", "have out-of-use signed with maintenance_procedure")
	}
}

func isTrue(b *bool) bool  { return b != nil && *b }
func isFalse(b *bool) bool { return b != nil && !*b }

func sameAnswer(a, b *bool) bool { return a == b || a != nil && b != nil && *a == *b }

// melRow is what the aircraft's MEL says of the item.
func (d *draft) melRow() (casefile.MELRow, bool) {
	item := d.item()
	i := slices.IndexFunc(d.compiled.config.MEL.Rows, func(r casefile.MELRow) bool { return r.Item == item })
	if i < 0 || item == "" {
		return casefile.MELRow{}, false
	}
	return d.compiled.config.MEL.Rows[i], true
}

// asksProcedure says whether an MEL asks for a maintenance procedure, or nobody knows that it does not.
func (d *draft) asksProcedure() bool {
	row, ok := d.melRow()
	return ok && isTrue(d.compiled.facts.MELAuthorized) && !isFalse(row.MaintenanceProcedure)
}

func (d *draft) checkMEL(bad *casefile.Faults) {
	if _, ok := d.melRow(); !ok {
		bad.Add("act.basis", "in-the-mel", "the aircraft's MEL has no row for this item", "what an MEL does not list may not be inoperative")
	}
	if len(d.record.Act.Considered) > 0 {
		bad.Add("act.considered", "of-this-basis", "an MEL closes the other way, and its determination with it", "leave it out")
	}
}

// checkConsidered asks that the determination is made in view of everything else that is open, and of nothing else.
func (d *draft) checkConsidered(bad *casefile.Faults) {
	var others []string
	for i := range d.snap.Squawks {
		if o := &d.snap.Squawks[i]; o.ID != d.seen.ID {
			others = append(others, o.Label())
		}
	}
	slices.Sort(others)
	if !slices.Equal(others, d.record.Act.Considered) {
		bad.Add("act.considered", "every-open-squawk", "the determination is good for the set that it is made for; open beside it: "+orNone(others),
			"look at them, and name each of them once")
	}
}

func orNone(words []string) string {
	if len(words) == 0 {
		return "none"
	}
	return strings.Join(words, ", ")
}

// checkUntil bounds a deferral: by the next required inspection as far as its day is known, by the 90 days of a removed
// ELT, and by the interval of an MEL where the letter binds.
func (d *draft) checkUntil(bad *casefile.Faults) {
	until := *d.record.Act.Until
	if !until.After(d.at) {
		bad.Add("act.until", "future", "the deferral would have ended before it begins", "give an instant to come")
	}
	for _, l := range d.limits() {
		if until.After(l.end) {
			bad.Add("act.until", "limit", fmt.Sprintf("%s ends it on %s", l.by, l.end.Format(time.RFC3339)), "give an end not after that")
		}
	}
}

// limit is what ends a deferral at the latest.
type limit struct {
	end time.Time
	by  string
}

func (d *draft) limits() []limit {
	var limits []limit
	if due, ok := d.nextInspection(); ok {
		limits = append(limits, limit{endOf(due, d.zone), "the next required inspection" + d.cite("deferral-lasts")})
	}
	removed, of := d.record.Act.RemovedOn, d.seen.Deferral
	if of != nil {
		removed = of.RemovedOn
	}
	if day, ok := airworthiness.ParseDate(removed); ok && d.item() == elt {
		limits = append(limits, limit{endOf(day+eltDays, d.zone), "the time for which it may be out after the initial removal" + d.cite("elt-remove")})
	}
	if day, ok := d.intervalEnds(); ok {
		limits = append(limits, limit{endOf(day, d.zone), "the repair interval of the MEL"})
	}
	return limits
}

// nextInspection is the last day before the next inspection by the calendar. A deferral that is carried on at an
// inspection counts from that one.
func (d *draft) nextInspection() (airworthiness.Date, bool) {
	last := d.compiled.facts.AnnualInspected
	if last == "" {
		last = d.compiled.facts.ConditionInspected
	}
	if d.compiled.facts.OnProgram() {
		last = d.compiled.facts.ProgressiveComplete
	}
	if i := d.record.Act.Inspection; i == "annual-inspection" || i == "condition-inspection" {
		last = d.day
	}
	day, ok := airworthiness.ParseDate(last)
	return day.ThroughMonths(12), ok
}

// intervalEnds is the last day of an MEL's interval, the day of discovery not counted; false where no letter binds.
func (d *draft) intervalEnds() (airworthiness.Date, bool) {
	row, ok := d.melRow()
	discovered, extended := d.record.Act.Discovered, d.record.Act.ExtendedUntil
	if d.seen.Deferral != nil {
		discovered = d.seen.Deferral.Discovered
	}
	from, dated := airworthiness.ParseDate(discovered)
	if !ok || !dated || d.compiled.config.MEL.Authority == "letter" {
		return 0, false
	}
	if last, ok := airworthiness.ParseDate(extended); ok {
		return last, true
	}
	interval, known := d.compiled.book.Rules.Interval(row.Category)
	days := interval.Days
	if days == 0 && row.Days != nil {
		days = *row.Days
	}
	return from + airworthiness.Date(days), known && days > 0
}

func (d *draft) checkExtension(bad *casefile.Faults) {
	row, _ := d.melRow()
	interval, known := d.compiled.book.Rules.Interval(row.Category)
	if !known || !interval.Extendable {
		bad.Add("act.extended_until", "extendable", fmt.Sprintf("an interval of category %s is not extended", orUnknown(row.Category)), "repair the item within its interval")
	}
	last, _ := airworthiness.ParseDate(d.record.Act.ExtendedUntil)
	if from, ok := airworthiness.ParseDate(d.seen.Deferral.Discovered); ok && known && last <= from+airworthiness.Date(interval.Days) {
		bad.Add("act.extended_until", "after-interval", "it extends nothing", "give the last day that the approved program allows")
	}
	d.checkUntil(bad)
}

func orUnknown(s string) string {
	if s == "" {
		return "unknown"
	}
	return s
}

// checkReturn asks for conclusive tests where work on such an item may have changed how the aircraft flies, and nobody
// is to fly it first (14 CFR 91.407(b), (c)).
func (d *draft) checkReturn(bad *casefile.Faults) {
	act := &d.record.Act
	if isTrue(act.CheckFlightRequired) {
		return
	}
	if d.mayFlyOtherwise() && act.GroundTests == "" {
		bad.Add("act.ground_tests", "check-flight", "work on this may have changed how the aircraft flies"+d.cite("check-flight-after"),
			"ask for a check flight, or say which ground tests or inspection were conclusive")
	}
}

// mayFlyOtherwise says whether work on such an item may have changed how the aircraft flies.
func (d *draft) mayFlyOtherwise() bool {
	aircraft := d.compiled.plan.Aircraft()
	on, _ := airworthiness.ParseDate(d.day)
	todo := d.compiled.book.Rules.Tasks(airworthiness.Asked{
		Step: airworthiness.StepNature.String(), Outcome: airworthiness.OutcomeBreached.String(), Item: d.item(), Aircraft: &aircraft, On: on,
	})
	return slices.ContainsFunc(todo, func(t airworthiness.ToDo) bool { return t.Row == "check-flight-after" })
}

// holdAgainstEntries asks for the contents of the entry that is signed (14 CFR 43.9, 43.11, 91.207(f)(10), 91.407(b)).
func (s *Service) holdAgainstEntries(d *draft) error {
	var bad casefile.Faults
	act := &d.record.Act
	on, _ := airworthiness.ParseDate(d.day)
	for _, kind := range d.entries() {
		lacks, _ := d.compiled.book.Rules.EntryLacks(kind, d.has(), on)
		for _, row := range lacks {
			bad.Add("act", "entry", fmt.Sprintf("the entry lacks: %s (%s)", row.Words, row.Citation), "give it")
		}
	}
	if act.Action == actInspect && isFalse(act.Airworthy) && act.Words == "" {
		bad.Add("act.words", "required", "the list of discrepancies is missing"+d.cite("inspection-list"), "list what stands in the way")
	}
	return bad.Err()
}

// entries are the kinds of record that the act makes.
func (d *draft) entries() []string {
	act := &d.record.Act
	switch techlog.SquawkStep(act.Action) {
	case techlog.StepReturn:
		return append([]string{"work"}, majorForm(d)...)
	case techlog.StepOutOfUse:
		if d.item() == elt && act.Method == "removed" {
			return []string{"work", "elt-removal"}
		}
		return []string{"work"}
	case techlog.StepFlown:
		return []string{"check-flight"}
	case actInspect:
		if act.Inspection == vorCheck {
			return nil // its entry is that of 91.171(d), which the act itself asks for
		}
		if isTest(act.Inspection) {
			return []string{"work"}
		}
		return []string{"inspection"}
	default:
		return nil
	}
}

func majorForm(d *draft) []string {
	if w := d.seen.Progress.Work; w != nil && w.Work == "major-repair" && w.Result == "repaired" {
		return []string{"major-repair"}
	}
	return nil
}

// has names what the entry holds, in the words of the table of records.
func (d *draft) has() []string {
	act := &d.record.Act
	has := []string{"signature", "certificate-number", "certificate-kind", "date"} // of every signature
	for _, h := range []struct {
		name string
		held bool
	}{
		{"description", act.Done != "" || isTest(act.Inspection) && act.Extent != ""},
		{"reference-to-data", act.Data != ""},
		{"completed", act.Completed != ""},
		{"performer-name", act.PerformedBy != "" || !d.record.Rests.IsZero()},
		{"approver-did-it", act.Declared != nil && isTrue(act.Declared.DidWork) || isTest(act.Inspection)},
		{"form", act.Form != ""},
		{"inspection-type", act.Inspection != ""},
		{"extent", act.Extent != ""},
		{"total-time", act.TotalTimeHours != nil},
		{"airworthy-statement", isTrue(act.Airworthy)},
		{"not-approved-statement", isFalse(act.Airworthy)},
		{"operational-check", act.Done != ""},
		{"date-of-initial-removal", act.RemovedOn != ""},
	} {
		if h.held {
			has = append(has, h.name)
		}
	}
	if act.ELT != nil {
		has = append(has, "make", "model", "serial-number", "reason")
	}
	return has
}
