package airworthiness

// judgeDefect takes one defect through the steps of 91.213(d), beside all the others.
func (p *Plan) judgeDefect(d *Determination, place int16, defect *Defect, f *PreparedFlight) {
	if !p.judgeNature(d, place, defect) {
		return
	}
	if !p.judgePath(d, place) {
		p.judgeUnderMEL(d, place, defect, f)
		return
	}
	p.judgeRows(d, place, defect, f)
	p.judgeProcedure(d, place, defect, f)
}

// judgeNature asks whether the squawk is about an instrument or item of equipment at all. If it is not, 91.213 gives no
// relief and nothing further is asked.
func (p *Plan) judgeNature(d *Determination, place int16, defect *Defect) bool {
	finding := p.pass(StepNature, place)
	switch p.isEquipment(defect) {
	case Yes:
		d.add(finding)
		return true
	case No:
		finding.Outcome, finding.Verdict = OutcomeBreached, Grounded
	case Unknown:
		finding.Outcome, finding.Verdict = OutcomeUnknown, Undetermined
	}
	d.add(finding)
	return false
}

func (p *Plan) isEquipment(defect *Defect) Truth {
	if defect.Kind == KindCondition {
		return No
	}
	item, ok := p.item(defect)
	if !ok {
		return Unknown
	}
	if p.rules.items[item].Nature == "condition" {
		return No
	}
	if defect.Kind == KindUnstated {
		return Unknown
	}
	return Yes
}

func (p *Plan) item(defect *Defect) (int, bool) {
	if defect.Unit != "" {
		u, ok := p.byID[defect.Unit]
		if !ok {
			return 0, false
		}
		return int(p.units[u].item), true
	}
	i, ok := p.rules.itemIndex[defect.Item]
	return i, ok
}

// judgePath asks whether 91.213(d) is open: not where an MEL governs, and only for the classes of (d)(1).
func (p *Plan) judgePath(d *Determination, place int16) bool {
	finding := p.pass(StepPath, place)
	finding.source, finding.row = fromEligibility, int32(p.eligibility)
	bound := No
	if p.facts.yes.has(p.rules.melBound) {
		bound = Yes
	} else if !p.facts.no.has(p.rules.melBound) {
		bound = Unknown
	}
	switch {
	case p.eligible == No:
		finding.source, finding.Outcome, finding.Verdict = fromStep, OutcomeBreached, Grounded
	case bound != No:
		finding.source, finding.row = fromStep, -1
		finding.Outcome, finding.Verdict = OutcomeUnknown, Undetermined
		finding.open.set(p.rules.melBound)
	case p.eligible == Unknown:
		finding.source, finding.Outcome, finding.Verdict = fromStep, OutcomeUnknown, Undetermined
		finding.open = p.openFacts
	}
	d.add(finding)
	return bound != Yes
}

// judgeUnderMEL reports what no MEL may allow: items required by the operating rules or by a directive (91.213(b)).
func (p *Plan) judgeUnderMEL(d *Determination, place int16, defect *Defect, f *PreparedFlight) {
	unit, ok := p.unit(defect)
	if !ok {
		return
	}
	for _, i := range p.units[unit].rows {
		if step := p.rows[i].step; step != StepRegulation && step != StepDirective {
			continue
		}
		if finding, ok := p.judgeRow(d, i, f); ok {
			finding.Defect = place
			d.add(finding)
		}
	}
}

// judgeRows asks the four questions of (d)(2). Each leaves a finding: the rows that stand in the way, or a pass.
func (p *Plan) judgeRows(d *Determination, place int16, defect *Defect, f *PreparedFlight) {
	var found [steps]bool
	unit, isUnit := p.unit(defect)
	if isUnit {
		for _, i := range p.units[unit].rows {
			if finding, ok := p.judgeRow(d, i, f); ok {
				finding.Defect = place
				found[finding.Step] = true
				d.add(finding)
			}
		}
	}
	for step := StepTypeCertification; step <= StepDirective; step++ {
		if found[step] {
			continue
		}
		finding := p.pass(step, place)
		if step != StepRegulation && p.ownLists[step] != Yes {
			// Nobody has confirmed the aircraft's own list: silence is not permission.
			finding.Outcome, finding.Verdict = OutcomeUnknown, Undetermined
		}
		if !isUnit {
			// An item of which no unit is on record: the rows cannot be counted.
			finding.Outcome, finding.Verdict = OutcomeUnknown, Undetermined
		}
		d.add(finding)
	}
}

// judgeProcedure asks for the steps of (d)(3), (d)(4) and 91.405(c).
func (p *Plan) judgeProcedure(d *Determination, place int16, defect *Defect, f *PreparedFlight) {
	s := d.state
	for _, i := range p.rules.byOwner[ofDeferral] {
		s.put(i, p.rules.conditions[i].deferral(defect.Deferral, &f.Flight))
	}
	var found, asked [steps]bool
	for i := range p.rules.procedure {
		row := &p.rules.procedure[i]
		if !row.inForce(f.On) {
			continue
		}
		applies := row.when.holds(&s)
		if applies == No {
			continue
		}
		asked[row.step] = true
		if s.yes.has(row.must) {
			continue
		}
		finding := p.finding(row.step, int32(i), place)
		finding.source = fromProcedure
		if applies == Yes && s.no.has(row.must) {
			finding.Outcome, finding.Verdict = OutcomeUndone, row.otherwise
		} else {
			finding.Outcome, finding.Verdict = OutcomeUnknown, Undetermined
			finding.open = row.when.open(&s)
			if !s.no.has(row.must) {
				finding.open.set(row.must)
			}
		}
		found[row.step] = true
		d.add(finding)
	}
	for step := StepDisposition; step <= StepLapse; step++ {
		if asked[step] && !found[step] {
			d.add(p.pass(step, place))
		}
	}
}
