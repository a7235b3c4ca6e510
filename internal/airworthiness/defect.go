package airworthiness

// judgeDefect takes one defect through the steps of 91.213(d), beside all the others.
func (p *Plan) judgeDefect(d *Determination, st *Standing, s *subject, f *PreparedFlight) {
	from := len(d.Findings)
	p.judgeSteps(d, st, s, f)
	if f.Permit != nil {
		p.lift(d, s, from, f)
	}
}

func (p *Plan) judgeSteps(d *Determination, st *Standing, s *subject, f *PreparedFlight) {
	short := st.short[s.from:s.to]
	if !s.judgeNature(d) {
		if s.equipment == No && !s.cleared && f.covers(s) {
			p.judgeCondition(d, s, short, f)
		}
		return
	}
	if p.rules.asks(StepPath) {
		path := p.path
		if p.rules.datedPath {
			path = p.pathOn(f.On)
		}
		d.record(path, s.place)
	}
	if p.bound == Yes {
		p.judgeUnderMEL(d, st, s, f)
		return
	}
	p.judgeRows(d, s, short, StepTypeCertification, f)
	p.judgeProcedure(d, s, f)
}

// judgeNature asks whether the squawk is about an instrument or item of equipment at all. If it is not, 91.213 gives no
// relief and nothing further is asked.
func (s *subject) judgeNature(d *Determination) bool {
	switch s.equipment {
	case Yes:
		d.pass(StepNature, s.place)
		return true
	case No:
		if s.cleared {
			s.judgeCleared(d.pass(StepNature, s.place))
		} else {
			s.judgeCleared(d.next(StepNature, s.place))
		}
	case Unknown:
		d.next(StepNature, s.place)
	}
	return false
}

func (p *Plan) isEquipment(s *subject) Truth {
	if s.Kind == KindCondition {
		return No
	}
	item, ok := p.item(s)
	if !ok {
		return Unknown
	}
	if p.rules.items[item].Nature == "condition" {
		return No
	}
	if s.Kind != KindInoperative {
		return Unknown
	}
	return Yes
}

func (p *Plan) item(s *subject) (int, bool) {
	switch {
	case s.unit >= 0:
		return int(p.units[s.unit].item), true
	case s.Unit != "":
		return 0, false
	}
	i, ok := p.rules.itemIndex[s.Item]
	return i, ok
}

// judgeRows asks the questions of (d)(2), from the step first on. Each leaves a finding: the rows that stand in the way, or a
// pass.
func (p *Plan) judgeRows(d *Determination, s *subject, short []shortRow, first Step, f *PreparedFlight) {
	var found [steps]bool
	for i := range short {
		if step := p.rows[short[i].row].step; step < first || step > StepDirective {
			continue
		}
		if finding := p.judgeRow(d, &short[i], s.place, f); finding != nil {
			// A row that lets the flight go says nothing of what the aircraft's own list may yet hold.
			found[finding.Step] = found[finding.Step] || p.listed(finding.Step) || !finding.Verdict.Permits()
		}
	}
	for step := first; step <= StepDirective; step++ {
		switch {
		case found[step] || step == StepCompany && !p.rules.company:
		case s.unit < 0:
			d.next(step, s.place).source = fromSubject // no unit is on record: the rows cannot be counted
		case p.listed(step):
			d.pass(step, s.place)
		default:
			d.next(step, s.place) // nobody has confirmed the aircraft's own list: silence is not permission
		}
	}
}

// listed says whether all that a step asks about is on record: the rules always are, the aircraft's own lists may not be.
func (p *Plan) listed(step Step) bool { return len(p.unlisted[step]) == 0 }

// judgeProcedure asks for the steps of (d)(3), (d)(4) and 91.405(c), and what the squawk does together with the others.
func (p *Plan) judgeProcedure(d *Determination, s *subject, f *PreparedFlight) {
	state := d.state.or(s.deferred)
	for _, i := range p.rules.byOwner[ofLapse] {
		state.put(i, p.rules.conditions[i].lapse(s.Deferral, &f.Flight))
	}
	together := p.together(d, s, f)
	for _, i := range p.rules.byOwner[ofSet] {
		state.put(i, together.considered)
	}
	var found, asked [steps]bool
	if p.bound == Yes {
		p.putMEL(&state, s)
		found[StepLapse] = p.judgeIntervals(d, s, f)
	}
	for i := range p.rules.procedure {
		row := &p.rules.procedure[i]
		if row.mel != (p.bound == Yes) || !row.inForce(f.On) || row.when.fails(&state) {
			continue
		}
		asked[row.step] = true
		if state.yes.has(row.must) {
			continue
		}
		finding := d.next(row.step, s.place)
		finding.source, finding.row = fromProcedure, int32(i)
		if p.rules.conditions[row.must].owner == ofSet {
			finding.Need, finding.Have = s.set.others, s.set.considered
		}
		finding.open = row.when.open(&state)
		switch undone := state.no.has(row.must); {
		case !undone:
			finding.open.set(row.must)
		case finding.open.empty():
			finding.Outcome, finding.Verdict = OutcomeUndone, row.otherwise
		}
		found[row.step] = true
	}
	if p.bound != Yes { // an MEL closes 91.213(d), and its determination with it
		found[StepHazard] = p.judgeTogether(d, s, together, f) || found[StepHazard]
	}
	for step := StepDisposition; step <= StepLapse; step++ {
		if asked[step] && !found[step] {
			d.pass(step, s.place)
		}
	}
}
