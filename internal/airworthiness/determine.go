package airworthiness

import "slices"

// Determine judges the whole set of open defects together for one flight. It is a pure function of its arguments and
// the plan: the same input gives the same findings in the same order, whatever the order of the defects.
// It follows 14 CFR 91.213(d).
func (p *Plan) Determine(d *Determination, defects []Defect, f *PreparedFlight) {
	p.Stand(&d.standing, defects)
	p.Judge(d, &d.standing, f)
}

// Judge is Determine for one of several flights of an aircraft that has the same defects for all of them. A standing that
// this plan has not made leaves the flight undetermined.
func (p *Plan) Judge(d *Determination, s *Standing, f *PreparedFlight) {
	d.brief = false
	p.judge(d, s, f)
}

// Decide is Judge without the findings that ask nothing of anybody: those that passed, and the notes. The verdict and
// every other finding are the same.
func (p *Plan) Decide(d *Determination, s *Standing, f *PreparedFlight) {
	d.brief = true
	p.judge(d, s, f)
}

func (p *Plan) judge(d *Determination, s *Standing, f *PreparedFlight) {
	d.Verdict, d.Findings, d.Order, d.Permit = Undetermined, d.Findings[:0], d.Order[:0], nil
	d.on = f.On
	if s.plan != p {
		return
	}
	if f.rules != p.rules {
		p.judgeAnew(d, s, f)
		return
	}
	d.Order = append(d.Order, s.order...)
	d.state = s.state.or(f.state)
	p.settleDates(d, s, f)
	p.settleRecords(d, f)
	if !f.dated() {
		d.next(StepAircraft, -1).source = fromDate
	}
	p.judgeAircraft(d, s, f)
	p.liftInspections(d, f)
	p.judgePermit(d, f)
	for i := range s.subjects {
		p.judgeDefect(d, s, &s.subjects[i], f)
	}
	d.pass(StepPilot, -1).Outcome = OutcomeNoted
	d.Verdict = d.worst()
}

// judgeAnew judges a flight that another ruleset has prepared: its conditions are not those of this one.
func (p *Plan) judgeAnew(d *Determination, s *Standing, f *PreparedFlight) {
	prepared := p.rules.Prepare(f.Flight)
	p.Judge(d, s, &prepared)
}

// settleDates evaluates the conditions that speak of units and hang on the date of the flight.
func (p *Plan) settleDates(d *Determination, s *Standing, f *PreparedFlight) {
	for _, i := range p.rules.byOwner[ofUnits] {
		switch c := &p.rules.conditions[i]; c.unit {
		case vorCheckedWithin:
			d.state.put(i, p.vorCheckedWithin(c.days, f))
		case removedWithin:
			d.state.put(i, p.removedWithin(s, c, f))
		case installed, works:
		}
	}
}

// vorCheckedWithin counts days, not calendar months: a check on day D serves through D+30 (91.171).
func (p *Plan) vorCheckedWithin(days int, f *PreparedFlight) Truth {
	if !p.vorChecked.Known {
		return Unknown
	}
	return TruthOf(f.within(days, p.vorChecked.Value))
}

// within reports whether the whole flight falls on a day or at most so many days after it.
func (f *PreparedFlight) within(days int, day Date) bool {
	return f.On >= day && int(f.lastDay-day) <= days
}

func (p *Plan) removedWithin(s *Standing, c *condition, f *PreparedFlight) Truth {
	units := p.byItem[c.item]
	if len(units) == 0 || slices.ContainsFunc(units, func(u int32) bool { return !s.removed.has(u) }) {
		return No
	}
	answer := Yes
	for i := range s.subjects {
		if !s.subjects[i].cleared && slices.Contains(units, s.subjects[i].unit) {
			answer = answer.And(s.subjects[i].Deferral.removedWithin(c.days, f))
		}
	}
	return answer
}

// removedWithin says whether the unit was removed, placarded and recorded, and no more than so many days before.
func (d *Deferral) removedWithin(days int, f *PreparedFlight) Truth {
	t := d.Placarded.And(d.Recorded)
	if !d.RemovedOn.Known {
		return t.And(Unknown)
	}
	return t.And(TruthOf(f.within(days, d.RemovedOn.Value)))
}

// judgeAircraft judges what matters without any defect: conditions that must hold, and equipment that is not there.
func (p *Plan) judgeAircraft(d *Determination, s *Standing, f *PreparedFlight) {
	worse := false
	unmet := p.musts.without(d.state.yes).words()
	for _, c := range p.checks {
		if c.must >= 0 && !unmet.has(c.must) {
			continue // it holds, so that it does not matter whether it must
		}
		if finding := p.judgeCheck(d, c.row, f); finding != nil {
			worse = worse || finding.Outcome != OutcomeNoted
		}
	}
	for i := range s.short[:s.spare] {
		if p.goesAlong(s, s.short[i].row, f) {
			continue
		}
		if p.judgeRow(d, &s.short[i], -1, f) != nil {
			worse = true
		}
	}
	if !worse {
		d.pass(StepAircraft, -1)
	}
}

// judgeCheck judges a row without equipment: a condition that must hold, or a note. It reports nothing when there is
// nothing to say.
func (p *Plan) judgeCheck(d *Determination, i int32, f *PreparedFlight) *Finding {
	row := &p.rows[i]
	if !row.inForce(f.On) || row.open.fails(&d.state) {
		return nil
	}
	open := row.open.open(&d.state)
	if row.quantity == noteOnly {
		if !open.empty() {
			return nil
		}
		finding := d.pass(row.step, -1)
		finding.Outcome, finding.source, finding.row = OutcomeNoted, fromRow, i
		return finding
	}
	met := p.holds(row, &d.state, f)
	if met == Yes {
		return nil
	}
	finding := d.next(row.step, -1)
	finding.source, finding.row, finding.open = fromRow, i, open
	p.weigh(d, finding, met, f)
	return finding
}

// judgeRow judges a row of equipment that is short. It reports nothing when the row is satisfied after all, or asks
// nothing of this flight.
func (p *Plan) judgeRow(d *Determination, s *shortRow, defect int16, f *PreparedFlight) *Finding {
	row := &p.rows[s.row]
	if !row.inForce(f.On) || row.open.fails(&d.state) {
		return nil
	}
	met, need := s.met, s.need
	if row.countsPersons() {
		aboard := f.aboard(row.quantity)
		met, need = p.met(row, &s.tally, aboard), int16(aboard)
	}
	if met == Yes {
		return nil
	}
	finding := d.next(row.step, defect)
	finding.source, finding.row, finding.Need, finding.Have = fromRow, s.row, need, s.have
	finding.open = row.open.open(&d.state)
	p.weigh(d, finding, met, f)
	if finding.Outcome == OutcomeUnknown && f.Envelope && finding.Need < 0 && finding.Have > 0 && row.countsPersons() {
		finding.Outcome, finding.Verdict, finding.open = OutcomeLimited, Limited, mask{} // no more aboard than it serves
	}
	return finding
}

// weigh settles the finding of a row that is not met, or may not be, and whose open conditions decide whether it applies.
func (p *Plan) weigh(d *Determination, finding *Finding, met Truth, f *PreparedFlight) {
	row, open := &p.rows[finding.row], finding.open
	switch {
	case met == No && open.empty() && !p.rules.refers(row.step):
		finding.Outcome, finding.Verdict = OutcomeBreached, Grounded
	case met == Unknown && row.must >= 0:
		finding.open.set(row.must)
	}
	p.relieve(d, finding, row.reliefs, f)
	if finding.Outcome != OutcomeUnknown || !f.Envelope {
		return
	}
	// A kind of operation is judged as such: what would bring the row into play becomes a limitation. One condition that
	// the flight can keep out of is enough, as the row's conditions must all hold. So is a limit that it can keep within.
	if met == Unknown && p.bounds(row) {
		finding.Outcome, finding.Verdict, finding.open = OutcomeLimited, Limited, open.or(only(row.must))
	} else if open.overlaps(p.rules.flightConditions) {
		finding.Outcome, finding.Verdict, finding.open = OutcomeLimited, Limited, open
	}
}

// relieve looks for a relief that lifts this requirement.
func (p *Plan) relieve(d *Determination, finding *Finding, reliefs []int, f *PreparedFlight) {
	for _, i := range reliefs {
		relief := &p.rules.reliefs[i]
		if !relief.inForce(f.On) || relief.when.fails(&d.state) {
			continue
		}
		open := relief.when.open(&d.state)
		if open.empty() {
			finding.Outcome, finding.Verdict, finding.relief = OutcomeRelieved, Limited, int32(i)
			if relief.limitation == "" {
				finding.Verdict = Clear
			}
			finding.open = mask{}
			return
		}
		// A missing fact may yet open the relief.
		finding.open = finding.open.or(open)
		if finding.Outcome != OutcomeLimited {
			finding.Outcome, finding.Verdict = OutcomeUnknown, Undetermined
		}
		if f.Envelope && open.without(p.rules.flightConditions).empty() {
			finding.Outcome, finding.Verdict, finding.relief = OutcomeLimited, Limited, int32(i)
		}
	}
}
