package airworthiness

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Permit is a special flight permit (91.213(e), 21.197), as the FAA has issued it.
type Permit struct {
	Number           string
	Issued           Fact[Date]
	ValidFrom        Fact[time.Time] // the time stated in the permit (21.181(a)(2))
	ValidUntil       Fact[time.Time]
	Covers           []string    // the squawks that it speaks of, by their ID
	Kinds            Fact[Kinds] // kinds of operation that it allows
	OnlyRequiredCrew Truth       // nobody but required crewmembers may be aboard; No: others may
	Limitations      []string    // what else it binds the flight to, in words
}

// PermitRow is one row on special flight permits: what one lifts, or what must hold for it to serve.
type PermitRow struct {
	Origin
	Lifts []string // steps of the decision, or requirements by ID; an ID that ends in * stands for all that begin so
	Must  string   // issued, window, kinds, crew or covers
}

type permitRow struct {
	PermitRow
	steps        [steps]bool
	requirements map[string]bool // by ID
	check        permitCheck
}

// permitCheck is one thing that must hold for a permit to serve a flight.
type permitCheck uint8

const (
	permitIssued permitCheck = iota
	permitWindow
	permitKinds
	permitCrew
	permitCovers // asked of each squawk
	permitChecks
	liftsOnly = permitChecks // a row without a check
)

var permitCheckNames = [permitChecks]string{"issued", "window", "kinds", "crew", "covers"}

// permitMark says on a finding what a special flight permit does to it: the facts that are missing for the permit to lift
// it, a bit for each check, or that it is lifted, by the row of permits that the finding has for its relief.
type permitMark uint8

const (
	permitLifts  permitMark = 1 << 7
	permitBarred permitMark = 1 << 6 // it is not known whether the directive allows a permit

	permitKindFlown  permitMark = 1 << 4 // the permit says its kinds of operation, and nobody the flight's
	permitCrewAboard permitMark = 1 << 5 // the permit is for required crewmembers only, and nobody says who is aboard
)

// permitState is what is known of a flight's permit.
type permitState struct {
	checks [permitCovers]Truth
	serves Truth
	open   permitMark // the checks that are unknown
}

// liftable are the steps that a row may lift as a whole. The operating rules are lifted by name alone.
var liftable = []Step{
	StepNature, StepPath, StepMEL, StepTypeCertification, StepEquipmentList, StepDirective, StepDisposition, StepHazard, StepLapse,
}

func (r *Ruleset) compilePermits(rows []PermitRow, collect func(string, error)) {
	var checks [permitChecks + 1]bool
	for _, row := range rows {
		compiled := permitRow{PermitRow: row, requirements: map[string]bool{}, check: liftsOnly}
		if row.Must != "" {
			compiled.check = permitCheck(slices.Index(permitCheckNames[:], row.Must))
		}
		switch {
		case compiled.check > permitChecks:
			collect(row.ID, fmt.Errorf("must: want one of %s, have %q", strings.Join(permitCheckNames[:], ", "), row.Must))
			continue
		case (row.Must == "") == (len(row.Lifts) == 0):
			collect(row.ID, errors.New("want what a permit lifts, or what must hold for it to serve"))
		case row.Must != "" && checks[compiled.check]:
			collect(row.ID, fmt.Errorf("must: %s stands twice", row.Must))
		}
		if len(row.Lifts) > 0 {
			collect(row.ID, row.mayPermit())
		}
		checks[compiled.check] = true
		for _, name := range row.Lifts {
			collect(row.ID, r.permitLifts(&compiled, name))
		}
		r.permits = append(r.permits, compiled)
	}
	for check, name := range permitCheckNames {
		if len(rows) > 0 && !checks[check] {
			collect("permits", fmt.Errorf("no row says that a permit must hold for: %s", name))
		}
	}
}

// permitLifts enters one thing that a row lifts: a step, or requirements by name.
func (r *Ruleset) permitLifts(row *permitRow, name string) error {
	if step, err := parseStep(name); err == nil {
		if !slices.Contains(liftable, step) {
			return fmt.Errorf("the step %q is lifted by no permit", name)
		}
		row.steps[step] = true
		return nil
	}
	prefix, many := strings.CutSuffix(name, "*")
	found := false
	for i := range r.requirements {
		id := r.requirements[i].ID
		if id == name || many && strings.HasPrefix(id, prefix) {
			row.requirements[id] = true
			found = true
		}
	}
	if !found {
		return fmt.Errorf("lifts %q, which is neither a step nor a requirement", name)
	}
	return nil
}

// settlePermit works out whether the flight's permit serves it.
func (r *Ruleset) settlePermit(f *Flight) permitState {
	s := permitState{serves: No}
	if f.Permit == nil {
		return s
	}
	s.checks = [permitCovers]Truth{
		permitIssued: f.Permit.issuedBy(f.On), permitWindow: f.Permit.holdsFor(f),
		permitKinds: f.Permit.allows(f), permitCrew: f.Permit.OnlyRequiredCrew.Not().Or(f.OnlyRequiredCrew),
	}
	s.serves = Yes
	for i := range r.permits {
		row := &r.permits[i]
		if row.check >= permitCovers || !row.inForce(f.On) {
			continue
		}
		s.serves = s.serves.And(s.checks[row.check])
		if s.checks[row.check] == Unknown {
			s.open |= f.Permit.lacks(row.check)
		}
	}
	return s
}

// lacks is the fact without which a check is unknown: one of the permit's, or one of the flight's where the permit has its
// own.
func (p *Permit) lacks(check permitCheck) permitMark {
	switch {
	case check == permitKinds && p.Kinds.Known:
		return permitKindFlown
	case check == permitCrew && p.OnlyRequiredCrew == Yes:
		return permitCrewAboard
	default:
		return 1 << check
	}
}

func (p *Permit) issuedBy(on Date) Truth {
	if !p.Issued.Known || on == 0 {
		return Unknown
	}
	return TruthOf(p.Issued.Value <= on)
}

// holdsFor says whether the whole window of the flight lies within the time stated in the permit.
func (p *Permit) holdsFor(f *Flight) Truth {
	begins, ends := Unknown, Unknown
	if p.ValidFrom.Known && !f.Departs.IsZero() {
		begins = TruthOf(!f.Departs.Before(p.ValidFrom.Value))
	}
	if p.ValidUntil.Known && !f.Ends.IsZero() {
		ends = TruthOf(!f.Ends.After(p.ValidUntil.Value))
	}
	return begins.And(ends)
}

// allows says whether the permit allows every kind of operation that the flight is.
func (p *Permit) allows(f *Flight) Truth {
	if !p.Kinds.Known {
		return Unknown
	}
	answer := Yes
	for i := range kindNames {
		if kind := Kinds(1 << i); p.Kinds.Value&kind == 0 {
			answer = answer.And(kind.of(f).Not())
		}
	}
	return answer
}

// covers says whether the flight's permit, which may yet serve, speaks of a squawk.
func (f *PreparedFlight) covers(s *subject) bool {
	return f.Permit != nil && f.permit.serves != No && slices.Contains(f.Permit.Covers, s.ID)
}

// judgePermit says why the permit that a flight claims does not serve it.
func (p *Plan) judgePermit(d *Determination, f *PreparedFlight) {
	if f.Permit == nil {
		return
	}
	for i := range p.rules.permits {
		row := &p.rules.permits[i]
		if row.check < permitCovers && row.inForce(f.On) && f.permit.checks[row.check] == No {
			d.notePermit(StepAircraft, -1, i)
		}
	}
}

func (d *Determination) notePermit(step Step, defect int16, row int) {
	finding := d.pass(step, defect)
	finding.Outcome, finding.source, finding.row = OutcomeNoted, fromPermit, int32(row)
}

// goesAlong says whether a row is judged with a condition that the flight's permit covers, not with the aircraft.
func (p *Plan) goesAlong(s *Standing, row int32, f *PreparedFlight) bool {
	if f.Permit == nil || p.rows[row].step < StepRegulation {
		return false
	}
	return slices.ContainsFunc(s.subjects, func(about subject) bool {
		return about.equipment == No && !about.cleared && about.unit >= 0 && f.covers(&about) &&
			slices.Contains(p.units[about.unit].rows, row)
	})
}

// judgeCondition asks of a condition that a permit covers what the permit does not lift: whether the operating rules or a
// directive require the unit, or the item, that it is about.
func (p *Plan) judgeCondition(d *Determination, s *subject, short []shortRow, f *PreparedFlight) {
	item, known := p.item(s)
	if s.unit >= 0 || !known || p.rules.items[item].Nature != "condition" {
		p.judgeRows(d, s, short, StepRegulation, f)
		return
	}
	named := slices.ContainsFunc(p.rows, func(row planRow) bool {
		return row.step == StepDirective && slices.Contains(row.items, item)
	})
	switch {
	case !p.listed(StepDirective):
		d.next(StepDirective, s.place)
	case named:
		d.next(StepDirective, s.place).source = fromSubject
	default:
		d.pass(StepDirective, s.place)
	}
}

// lift applies the flight's permit to the findings about one squawk.
func (p *Plan) lift(d *Determination, s *subject, from int, f *PreparedFlight) {
	if f.permit.serves == No {
		return
	}
	if !f.covers(s) {
		p.noteUncovered(d, s, from, f)
		return
	}
	for i := from; i < len(d.Findings); i++ {
		finding := &d.Findings[i]
		if finding.Verdict.Permits() {
			continue
		}
		if row := p.permitRow(finding, f); row >= 0 {
			finding.lift(row, p.permitFor(finding, f))
		}
		if finding.permit&permitLifts != 0 {
			d.Permit = f.Permit
		}
	}
}

// liftInspections applies the flight's permit to the inspections of the aircraft that it stands in for. They are about no
// squawk, so that it need not speak of them (91.409(c)(1)).
func (p *Plan) liftInspections(d *Determination, f *PreparedFlight) {
	if f.Permit == nil || f.permit.serves == No {
		return
	}
	for i := range d.Findings {
		finding := &d.Findings[i]
		if finding.source != fromRow || finding.Verdict.Permits() {
			continue
		}
		row := &p.rows[finding.row]
		if row.must < 0 || p.rules.conditions[row.must].owner != ofRecords {
			continue
		}
		// By name alone: no permit lifts the step.
		if lifts := p.rules.permitLifting(StepAircraft, row.ID, f.On); lifts >= 0 {
			finding.lift(lifts, p.permitFor(finding, f))
		}
		if finding.permit&permitLifts != 0 {
			d.Permit = f.Permit
		}
	}
}

// permitLifting finds the row on permits that lifts a step, or a requirement by name, or -1.
func (r *Ruleset) permitLifting(step Step, requirement string, on Date) int32 {
	for i := range r.permits {
		if row := &r.permits[i]; (row.steps[step] || row.requirements[requirement]) && row.inForce(on) {
			return int32(i)
		}
	}
	return -1
}

func (p *Plan) noteUncovered(d *Determination, s *subject, from int, f *PreparedFlight) {
	for i := range p.rules.permits {
		row := &p.rules.permits[i]
		if row.check == permitCovers && row.inForce(f.On) && worstOf(d.Findings[from:]).WorseThan(Limited) {
			d.notePermit(StepNature, s.place, i)
		}
	}
}

// permitRow finds the row that lifts a finding, or -1. What the squawk is about is lifted only where that is known, and a
// requirement only where the aircraft as it was built meets it: the permit covers squawks, not what is missing anyway.
func (p *Plan) permitRow(finding *Finding, f *PreparedFlight) int32 {
	if finding.Step == StepNature && finding.Outcome == OutcomeUnknown {
		return -1
	}
	if finding.Step == StepDirective && (finding.source != fromRow || !p.listed(StepDirective)) {
		return -1 // whether a directive bars the permit is not known
	}
	requirement := ""
	if finding.source == fromRow {
		row := &p.rows[finding.row]
		if !p.metAsBuilt(row, f) {
			return -1
		}
		requirement = row.ID
	}
	return p.rules.permitLifting(finding.Step, requirement, f.On)
}

// metAsBuilt says whether a row would be met with everything on record at work.
func (p *Plan) metAsBuilt(row *planRow, f *PreparedFlight) bool {
	var t tally
	t.count(p, row, nil, nil)
	return p.met(row, &t, f.aboard(row.quantity)) == Yes
}

// permitFor is what the permit does to a finding that it may lift: the facts that are missing, or that it lifts it. Nought:
// the directive bars it.
func (p *Plan) permitFor(finding *Finding, f *PreparedFlight) permitMark {
	if row := p.rowOf(finding); row != nil && row.part != nil && row.part.item == nil && row.part.whatElse != itemProgram {
		return 0 // whether a directive that is not on record bars the permit is not known
	}
	mark := f.permit.open
	if finding.Step == StepDirective || p.onDirective(finding) {
		switch p.rows[finding.row].barred {
		case Yes:
			return 0
		case Unknown:
			mark |= permitBarred
		case No:
		}
	}
	if mark == 0 {
		return permitLifts
	}
	return mark
}

// lift marks a finding. A permit of which facts are missing may yet lift what grounds the flight, so that it is not known;
// a step that has yet to be done may be done all the same.
func (f *Finding) lift(row int32, mark permitMark) {
	switch {
	case mark == permitLifts:
		f.Outcome, f.Verdict, f.relief, f.open = OutcomeRelieved, Limited, row, mask{}
	case mark != 0 && f.Verdict != DeferFirst:
		f.Outcome, f.Verdict = OutcomeUnknown, Undetermined
	default:
		return
	}
	f.permit = mark
}

// permitAsks has the fact that settles each check, by its bit.
var permitAsks = []MissingFact{
	{"flight.special_flight_permit.issued", "whether the permit has been issued, and on which day"},
	{"flight.special_flight_permit.valid_until", "from when until when the permit holds"},
	{"flight.special_flight_permit.kinds", "whether the permit allows this kind of operation"},
	{"flight.special_flight_permit.only_required_crew", "whether others than required crewmembers may be aboard"},
	{"flight.rules and flight.departs", "of which kinds of operation the flight is"},
	{"flight.only_required_crew", "whether only required crewmembers are aboard"},
	{"aircraft.configuration.directives.rows[].permit_barred", "whether the directive allows a special flight permit"},
}

// explainPermit adds what a permit does to a finding.
func (p *Plan) explainPermit(e *Explanation, f *Finding) {
	if f.permit&permitLifts != 0 {
		row := &p.rules.permits[f.relief]
		e.Relief, e.ReliefCite, e.Limitation = row.ID, row.Citation, WithinPermit
		e.Says = strings.TrimSpace(e.Says + " The special flight permit lifts it.")
		return
	}
	for bit, asks := range permitAsks {
		if f.permit&(1<<bit) != 0 {
			if p.onDirective(f) && 1<<bit == permitBarred {
				asks.Fact = "aircraft.facts.upkeep.items[].permit_barred"
			}
			e.Missing = append(e.Missing, asks)
			e.Says = strings.TrimSpace(e.Says + " The special flight permit may lift it: " + asks.Asks + " is not known.")
		}
	}
}

// WithinPermit is the limitation of whatever a special flight permit lifts.
const WithinPermit = "within the special flight permit"
