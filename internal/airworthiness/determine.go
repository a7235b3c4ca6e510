package airworthiness

import "slices"

// Determine judges the whole set of open defects together for one flight. It is a pure function of its arguments and
// the plan: the same input gives the same findings in the same order, whatever the order of the defects.
// It follows 14 CFR 91.213(d).
func (p *Plan) Determine(d *Determination, defects []Defect, f *PreparedFlight) {
	d.reset(len(p.units), len(p.rows))
	d.sort(defects)
	d.Verdict = Clear
	if !f.dated() {
		d.add(Finding{Step: StepAircraft, Verdict: Undetermined, source: fromDate, Defect: -1, row: -1, relief: -1, Need: -1, Have: -1})
	}
	p.markUnits(d, defects)
	d.state = p.facts.or(f.state)
	p.settleUnits(d, defects, f)

	p.judgeAircraft(d, f)
	for place, i := range d.Order {
		p.judgeDefect(d, int16(place), &defects[i], f)
	}
	d.add(p.note(StepPilot, -1))
}

func (d *Determination) reset(units, rows int) {
	d.Verdict, d.Findings, d.Order, d.state = Undetermined, d.Findings[:0], d.Order[:0], state{}
	d.failed, d.removed = d.failed.cleared(units), d.removed.cleared(units)
	d.touched = d.touched.cleared(rows)
}

func (b bitset) cleared(n int) bitset {
	words := (n + 63) / 64
	if cap(b) < words {
		return make(bitset, words)
	}
	b = b[:words]
	clear(b)
	return b
}

// sort orders the defects by what they are, so that the order of filing is never part of the answer.
func (d *Determination) sort(defects []Defect) {
	for i := range defects {
		d.Order = append(d.Order, i)
		for j := i; j > 0 && defects[d.Order[j]].before(&defects[d.Order[j-1]]); j-- {
			d.Order[j], d.Order[j-1] = d.Order[j-1], d.Order[j]
		}
	}
}

func (a *Defect) before(b *Defect) bool {
	if a.ID != b.ID {
		return a.ID < b.ID
	}
	if a.Unit != b.Unit {
		return a.Unit < b.Unit
	}
	return a.Item < b.Item
}

// markUnits notes which units have failed, and which are no longer installed. A unit counts as removed only when every
// squawk on it says so.
func (p *Plan) markUnits(d *Determination, defects []Defect) {
	for i := range defects {
		if u, ok := p.unit(&defects[i]); ok {
			d.failed.set(u)
			for _, other := range p.units[u].fells {
				d.failed.set(other)
			}
			if defects[i].isRemoved() {
				d.removed.set(u)
			}
			for _, row := range p.units[u].rows {
				d.touched.set(row)
			}
		}
	}
	for i := range defects {
		if u, ok := p.unit(&defects[i]); ok && !defects[i].isRemoved() {
			d.removed.unset(u)
		}
	}
}

func (b bitset) unset(i int32) { b[i/64] &^= 1 << (i % 64) }

func (d *Defect) isRemoved() bool {
	return d.Deferral != nil && d.Deferral.Method == Removed && d.Deferral.MethodDone == Yes
}

func (p *Plan) unit(defect *Defect) (int32, bool) {
	if defect.Unit == "" {
		return 0, false
	}
	u, ok := p.byID[defect.Unit]
	return u, ok
}

// settleUnits evaluates the conditions that speak of installed and working units.
func (p *Plan) settleUnits(d *Determination, defects []Defect, f *PreparedFlight) {
	for _, i := range p.rules.byOwner[ofUnits] {
		c := &p.rules.conditions[i]
		switch c.unit {
		case installed:
			d.state.put(i, p.anyUnit(c.item, d.removed))
		case works:
			d.state.put(i, p.anyUnit(c.item, d.failed))
		case vorCheckedWithin:
			d.state.put(i, p.vorCheckedWithin(c.days, f.On))
		case removedWithin:
			d.state.put(i, p.removedWithin(d, c, defects, f))
		}
	}
}

// anyUnit is Yes if a unit that does the item's job is not among the excluded. If there is none on record, the record
// must be complete to say No.
func (p *Plan) anyUnit(item int, excluded bitset) Truth {
	for _, u := range p.byItem[item] {
		if !excluded.has(u) {
			return Yes
		}
	}
	if p.complete == Yes {
		return No
	}
	return Unknown
}

// vorCheckedWithin counts days, not calendar months: a check on day D serves through D+30 (91.171).
func (p *Plan) vorCheckedWithin(days int, on Date) Truth {
	if !p.vorChecked.Known {
		return Unknown
	}
	age := int(on - p.vorChecked.Value)
	return TruthOf(age >= 0 && age <= days)
}

func (p *Plan) removedWithin(d *Determination, c *condition, defects []Defect, f *PreparedFlight) Truth {
	answer := No
	for i := range defects {
		u, ok := p.unit(&defects[i])
		if !ok || !slices.Contains(p.byItem[c.item], u) {
			continue
		}
		if !d.removed.has(u) {
			return No
		}
		answer = defects[i].Deferral.removedWithin(c.days, f.On)
		if answer != Yes {
			return answer
		}
	}
	for _, u := range p.byItem[c.item] {
		if !d.removed.has(u) {
			return No
		}
	}
	return answer
}

// removedWithin says whether the unit was removed, placarded and recorded, and no more than so many days before.
func (d *Deferral) removedWithin(days int, on Date) Truth {
	t := d.Placarded.And(d.Recorded)
	if !d.RemovedOn.Known {
		return t.And(Unknown)
	}
	age := int(on - d.RemovedOn.Value)
	return t.And(TruthOf(age >= 0 && age <= days))
}

// judgeAircraft judges what matters without any defect: conditions that must hold, and equipment that is not there.
func (p *Plan) judgeAircraft(d *Determination, f *PreparedFlight) {
	worse := false
	for _, i := range p.checks {
		if finding, ok := p.judgeCheck(d, i, f); ok {
			worse = worse || finding.Outcome != OutcomeNoted
			d.add(finding)
		}
	}
	for _, i := range p.spare {
		if d.touched.has(i) {
			continue // judged with the defect that touches it
		}
		if finding, ok := p.judgeRow(d, i, f); ok {
			worse = true
			d.add(finding)
		}
	}
	if !worse {
		d.add(p.pass(StepAircraft, -1))
	}
}

// judgeCheck judges a row without equipment: a condition that must hold, or a note.
func (p *Plan) judgeCheck(d *Determination, i int32, f *PreparedFlight) (Finding, bool) {
	row := &p.rows[i]
	if !row.inForce(f.On) {
		return Finding{}, false
	}
	applies := row.open.holds(&d.state)
	if row.quantity == noteOnly {
		finding := p.finding(row.step, i, -1)
		finding.Outcome, finding.Verdict = OutcomeNoted, Clear
		return finding, applies == Yes
	}
	var must clause
	must.all.set(row.must)
	return p.weigh(d, i, applies, must.holds(&d.state), must.open(&d.state), f)
}

// judgeRow judges a row of equipment. It reports nothing when the row is satisfied or asks nothing of this flight.
func (p *Plan) judgeRow(d *Determination, i int32, f *PreparedFlight) (Finding, bool) {
	row := &p.rows[i]
	if !row.inForce(f.On) {
		return Finding{}, false
	}
	applies := row.open.holds(&d.state)
	if applies == No {
		return Finding{}, false
	}
	met := p.met(row, d.failed, d.removed, f)
	if met == Yes {
		return Finding{}, false
	}
	finding, ok := p.weigh(d, i, applies, met, mask{}, f)
	finding.Need, finding.Have = p.counts(row, d, f)
	if finding.Outcome == OutcomeUnknown && f.Envelope && finding.Need < 0 && finding.Have > 0 && row.quantity >= eachOccupant {
		finding.Outcome, finding.Verdict, finding.open = OutcomeLimited, Limited, mask{} // no more aboard than it serves
	}
	return finding, ok
}

// weigh turns three-valued applicability and satisfaction into a finding.
func (p *Plan) weigh(d *Determination, i int32, applies, met Truth, openMust mask, f *PreparedFlight) (Finding, bool) {
	if applies == No || met == Yes {
		return Finding{}, false
	}
	row := &p.rows[i]
	finding := p.finding(row.step, i, -1)
	finding.Outcome, finding.Verdict = OutcomeBreached, Grounded
	openClause := row.open.open(&d.state)
	if applies == Unknown || met == Unknown {
		finding.Outcome, finding.Verdict = OutcomeUnknown, Undetermined
		finding.open = openClause.or(openMust)
	}
	p.relieve(d, &finding, row, f)
	if finding.Outcome == OutcomeUnknown && f.Envelope && openClause.overlaps(p.rules.flightConditions) {
		// A kind of operation is judged as such: what would bring the row into play becomes a limitation. One
		// condition that the flight can keep out of is enough, as the row's conditions must all hold.
		finding.Outcome, finding.Verdict, finding.open = OutcomeLimited, Limited, openClause
	}
	return finding, true
}

// relieve looks for a relief that names this requirement.
func (p *Plan) relieve(d *Determination, finding *Finding, row *planRow, f *PreparedFlight) {
	for _, i := range row.reliefs {
		relief := &p.rules.reliefs[i]
		if !relief.inForce(f.On) {
			continue
		}
		switch relief.when.holds(&d.state) {
		case Yes:
			finding.Outcome, finding.Verdict, finding.relief = OutcomeRelieved, Limited, int32(i)
			if relief.limitation == "" {
				finding.Verdict = Clear
			}
			finding.open = mask{}
			return
		case Unknown:
			p.openRelief(d, finding, int32(i), f)
		case No:
		}
	}
}

// openRelief deals with a relief that a missing fact may yet open.
func (p *Plan) openRelief(d *Determination, finding *Finding, i int32, f *PreparedFlight) {
	when := &p.rules.reliefs[i].when
	open := when.open(&d.state)
	finding.open = finding.open.or(open)
	if finding.Outcome != OutcomeLimited {
		finding.Outcome, finding.Verdict = OutcomeUnknown, Undetermined
	}
	if f.Envelope && open.without(p.rules.flightConditions).empty() {
		finding.Outcome, finding.Verdict, finding.relief = OutcomeLimited, Limited, i
	}
}

func (p *Plan) counts(row *planRow, d *Determination, f *PreparedFlight) (int16, int16) {
	need, have := row.need, int16(0)
	if row.quantity >= eachOccupant {
		need = f.aboard(row.quantity)
	}
	fitted := int32(0)
	for _, u := range row.providers {
		if !d.removed.has(u) {
			fitted++
			if !d.failed.has(u) {
				have += int16(row.counts(p.units[u].serves))
			}
		}
	}
	if row.quantity == allInstalled {
		need = max(fitted, 1)
	}
	return int16(need), have
}

func (p *Plan) finding(step Step, row int32, defect int16) Finding {
	return Finding{Step: step, source: fromRow, row: row, Defect: defect, relief: -1, Need: -1, Have: -1}
}

func (p *Plan) pass(step Step, defect int16) Finding {
	return Finding{Step: step, Outcome: OutcomePassed, Verdict: Clear, source: fromStep, Defect: defect, row: -1, relief: -1, Need: -1, Have: -1}
}

func (p *Plan) note(step Step, defect int16) Finding {
	f := p.pass(step, defect)
	f.Outcome = OutcomeNoted
	return f
}
