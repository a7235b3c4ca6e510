package engines

import (
	"slices"

	aw "tiedown/internal/airworthiness"
)

// Judge makes the whole determination for one flight, after Stand. Its findings are valid until the next call.
func (c *CEL) Judge(flight int) {
	c.flight, c.activation = &c.flights[flight], c.prepared[flight]
	c.findings, c.verdict = c.findings[:0], aw.Clear
	c.putUnits()
	c.judgeAircraft()
	for i := range c.defects {
		c.judgeDefect(int16(i))
	}
	c.add(celFinding{step: aw.StepPilot, outcome: aw.OutcomeNoted, verdict: aw.Clear, defect: -1})
}

// Decide is Judge without the findings that ask nothing of anybody.
func (c *CEL) Decide(flight int) {
	c.brief = true
	c.Judge(flight)
	c.brief = false
}

// Answers judges every flight and puts the answers into the common form.
func (c *CEL) Answers() []Answer {
	var answers []Answer
	c.Stand()
	for i := range c.flights {
		c.Judge(i)
		a := Answer{Verdict: c.verdict}
		for _, f := range c.findings {
			finding := Finding{Step: f.step, Outcome: f.outcome, Verdict: f.verdict, Row: f.step.String()}
			switch f.table {
			case celEligibility:
				finding.Row = c.book.eligibility[f.row].id
			case celRows:
				finding.Row = c.equipment.rows[f.row].id
			case celProcedure:
				finding.Row = c.book.procedure[f.row].id
			case celPairs:
				finding.Row = c.book.pairs[f.row].id
			case celSteps:
			}
			if f.defect >= 0 {
				finding.Defect = c.defects[f.defect].ID
			}
			a.Findings = append(a.Findings, finding)
		}
		answers = append(answers, a.sorted())
	}
	return answers
}

func (c *CEL) add(f celFinding) {
	if c.brief && (f.outcome == aw.OutcomePassed || f.outcome == aw.OutcomeNoted) {
		return
	}
	c.findings = append(c.findings, f)
	c.verdict = aw.Worst(c.verdict, f.verdict)
}

func (c *CEL) pass(step aw.Step, defect int16) {
	c.add(celFinding{step: step, outcome: aw.OutcomePassed, verdict: aw.Clear, defect: defect})
}

// putUnits gives the programs what Stand found of the units, and what hangs on the date of the flight.
func (c *CEL) putUnits() {
	for i := range c.unitVars {
		v := &c.unitVars[i]
		t := v.truth
		switch v.name {
		case "installed", "works":
		default:
			t = c.inspected(v)
		case "vor-checked-within":
			if checked := c.aircraft.VORChecked; checked.Known {
				t = aw.TruthOf(c.within(v.days, checked.Value))
			}
		case "removed-within":
			t = c.removedWithin(v)
		}
		c.activation.put(v.slot, t)
	}
}

func (c *CEL) within(days int, day aw.Date) bool {
	return c.flight.On >= day && int(aw.DateOf(c.flight.Ends)-day) <= days
}

func (c *CEL) removedWithin(v *unitVariable) aw.Truth {
	units := c.byItem[v.item]
	if len(units) == 0 {
		return aw.No
	}
	for _, u := range units {
		if !c.removed.has(u) {
			return aw.No
		}
	}
	answer := aw.Yes
	for i := range c.subjects {
		if !slices.Contains(units, c.subjects[i].unit) {
			continue
		}
		d := c.defects[i].Deferral
		t := d.Placarded.And(d.Recorded)
		if d.RemovedOn.Known {
			t = t.And(aw.TruthOf(c.within(v.days, d.RemovedOn.Value)))
		} else {
			t = t.And(aw.Unknown)
		}
		answer = answer.And(t)
	}
	return answer
}

func (c *CEL) judgeAircraft() {
	worse := false
	for _, i := range c.checks {
		worse = c.judgeCheck(i) || worse
	}
	for i := range c.short[:c.bare] {
		_, found := c.judgeRow(&c.short[i], -1)
		worse = worse || found
	}
	if !worse {
		c.pass(aw.StepAircraft, -1)
	}
}

// judgeCheck judges a row without equipment, and says whether anything but a note came of it.
func (c *CEL) judgeCheck(i int32) bool {
	r := &c.equipment.rows[i]
	if !r.inForce(c.flight.On) {
		return false
	}
	answer := c.ask(c.CELBook.rows[r.program])
	if answer == isNo {
		return false
	}
	if r.quantity == "note" {
		c.add(celFinding{aw.StepAircraft, aw.OutcomeNoted, aw.Clear, celRows, -1, i})
		return false
	}
	f := celFinding{aw.StepAircraft, aw.OutcomeBreached, aw.Grounded, celRows, -1, i}
	if answer != isYes {
		f.outcome, f.verdict = aw.OutcomeUnknown, aw.Undetermined
	}
	c.relieve(&f, r)
	if f.outcome == aw.OutcomeUnknown && c.flight.Envelope && (answer == isAvoidable || c.withinBounds(r.must)) {
		f.outcome, f.verdict = aw.OutcomeLimited, aw.Limited
	}
	c.add(f)
	return true
}

// judgeRow judges a row that is short: what is met already is not asked about.
func (c *CEL) judgeRow(s *celShort, defect int16) (aw.Verdict, bool) {
	r := &c.equipment.rows[s.row]
	if !r.inForce(c.flight.On) {
		return 0, false
	}
	met, aboard := s.met, int32(-1)
	if r.persons {
		aboard = c.aboard(r)
		if met = c.met(r, &s.count, aboard); met == aw.Yes {
			return 0, false
		}
	}
	applies := isYes
	switch {
	case r.settled:
	case r.kind >= 0:
		applies = c.ask(c.kinds[r.kind])
	default:
		applies = c.ask(c.CELBook.rows[r.program])
	}
	if applies == isNo {
		return 0, false
	}
	f := celFinding{r.step, aw.OutcomeBreached, aw.Grounded, celRows, defect, s.row}
	if applies != isYes || met == aw.Unknown {
		f.outcome, f.verdict = aw.OutcomeUnknown, aw.Undetermined
	}
	c.relieve(&f, r)
	if f.outcome == aw.OutcomeUnknown && c.flight.Envelope {
		if applies == isAvoidable || r.persons && aboard < 0 && s.have > 0 {
			f.outcome, f.verdict = aw.OutcomeLimited, aw.Limited
		}
	}
	c.add(f)
	return f.verdict, true
}

func (c *CEL) aboard(r *equipmentRow) int32 {
	if !r.persons {
		return -1
	}
	n := c.flight.Occupants
	switch r.quantity {
	case "each-person":
		n = c.flight.Persons
	case "each-required-crew":
		n = c.flight.RequiredCrew
	}
	if !n.Known || n.Value < 0 {
		return -1
	}
	return int32(n.Value)
}

func (c *CEL) relieve(f *celFinding, r *equipmentRow) {
	for _, i := range r.reliefs {
		relief := &c.book.reliefs[i]
		if !relief.inForce(c.flight.On) {
			continue
		}
		switch answer := c.ask(c.CELBook.reliefs[i]); answer {
		case isNo:
		case isYes:
			f.outcome, f.verdict = aw.OutcomeRelieved, aw.Limited
			if !relief.limits {
				f.verdict = aw.Clear
			}
			return
		default:
			if f.outcome != aw.OutcomeLimited {
				f.outcome, f.verdict = aw.OutcomeUnknown, aw.Undetermined
			}
			if c.flight.Envelope && answer == isAvoidable {
				f.outcome, f.verdict = aw.OutcomeLimited, aw.Limited
			}
		}
	}
}

func (c *CEL) judgeDefect(i int16) {
	nature := celFinding{step: aw.StepNature, outcome: aw.OutcomePassed, verdict: aw.Clear, defect: i}
	switch c.subjects[i].equipment {
	case aw.No:
		nature.outcome, nature.verdict = aw.OutcomeBreached, aw.Grounded
	case aw.Unknown:
		nature.outcome, nature.verdict = aw.OutcomeUnknown, aw.Undetermined
	}
	c.add(nature)
	if nature.outcome != aw.OutcomePassed {
		return
	}
	c.add(c.path(i))
	if c.bound == aw.Yes {
		c.judgeUnderMEL(i)
		return
	}
	c.judgeRows(i)
	c.judgeProcedure(i)
}

// path is whether 91.213(d) is open to the aircraft, as a finding about a defect.
func (c *CEL) path(defect int16) celFinding {
	path := celFinding{aw.StepPath, aw.OutcomePassed, aw.Clear, celEligibility, defect, int32(c.opened)}
	switch {
	case c.bound != aw.No || c.eligible == aw.Unknown:
		path.table, path.outcome, path.verdict = celSteps, aw.OutcomeUnknown, aw.Undetermined
	case c.eligible == aw.No:
		path.table, path.outcome, path.verdict = celSteps, aw.OutcomeBreached, aw.Grounded
	}
	return path
}

func (c *CEL) judgeUnderMEL(i int16) {
	short := c.short[c.subjects[i].from:c.subjects[i].to]
	for j := range short {
		if step := c.equipment.rows[short[j].row].step; step == aw.StepRegulation || step == aw.StepDirective {
			c.judgeRow(&short[j], i)
		}
	}
}

func (c *CEL) judgeRows(i int16) {
	var found [aw.StepPilot]bool
	short := c.short[c.subjects[i].from:c.subjects[i].to]
	for j := range short {
		if verdict, ok := c.judgeRow(&short[j], i); ok {
			step := c.equipment.rows[short[j].row].step
			found[step] = found[step] || c.listed[step] || !verdict.Permits()
		}
	}
	for step := aw.StepTypeCertification; step <= aw.StepDirective; step++ {
		switch {
		case found[step], step == aw.StepCompany: // no organization has rules of its own here
		case c.listed[step] && c.subjects[i].unit >= 0:
			c.pass(step, i)
		default:
			c.add(celFinding{step: step, outcome: aw.OutcomeUnknown, verdict: aw.Undetermined, defect: i})
		}
	}
}

// judgeProcedure asks for the steps of (d)(3), (d)(4) and 91.405(c).
func (c *CEL) judgeProcedure(i int16) {
	c.putDeferral(int(i))
	paired := c.putSet(int(i))
	var found, asked [aw.StepPilot]bool
	for row := range c.book.procedure {
		r := &c.book.procedure[row]
		if !r.inForce(c.flight.On) {
			continue
		}
		answer := c.ask(c.CELBook.procedure[row])
		if answer == isNo {
			continue
		}
		asked[r.step] = true
		switch answer {
		case isDone:
			continue
		case isYes:
			c.add(celFinding{r.step, aw.OutcomeUndone, r.otherwise, celProcedure, i, int32(row)})
		default:
			c.add(celFinding{r.step, aw.OutcomeUnknown, aw.Undetermined, celProcedure, i, int32(row)})
		}
		found[r.step] = true
	}
	found[aw.StepHazard] = c.judgePairs(i, paired) || found[aw.StepHazard]
	for step := aw.StepDisposition; step <= aw.StepLapse; step++ {
		if asked[step] && !found[step] {
			c.pass(step, i)
		}
	}
}

// putDeferral gives the programs the conditions on a deferral.
func (c *CEL) putDeferral(defect int) {
	values := c.subjects[defect].deferral
	if d := c.defects[defect].Deferral; d != nil && d.Until.Known {
		values[slices.Index(deferralNames, "not-lapsed")] = aw.TruthOf(!c.flight.Ends.After(d.Until.Value))
	}
	for i, slot := range c.deferral {
		if slot > 0 { // a condition that no row asks for has none
			c.activation.put(slot, values[i])
		}
	}
}
