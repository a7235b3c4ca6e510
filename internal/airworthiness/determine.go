package airworthiness

import "slices"

// Determine judges the whole set of open defects together for one flight. It is a pure function of its arguments and
// the plan: the same input gives the same findings in the same order, whatever the order of the defects.
// It follows 14 CFR 91.213(d).
func (p *Plan) Determine(d *Determination, defects []Defect, f *PreparedFlight) {
	d.reset(len(p.units), len(p.rows))
	d.sort(defects)
	if !f.dated() {
		d.next(StepAircraft, -1).source = fromDate
	}
	p.identify(d, defects)
	p.markUnits(d)
	d.state = p.facts.or(f.state)
	p.settleUnits(d, f)

	p.judgeAircraft(d, f)
	for i := range d.subjects {
		p.judgeDefect(d, &d.subjects[i], f)
	}
	d.pass(StepPilot, -1).Outcome = OutcomeNoted
	d.Verdict = d.worst()
}

func (d *Determination) reset(units, rows int) {
	d.Verdict, d.Findings, d.Order, d.state = Undetermined, d.Findings[:0], d.Order[:0], state{}
	d.subjects = d.subjects[:0]
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

// identify finds out what each defect is about.
func (p *Plan) identify(d *Determination, defects []Defect) {
	for place, i := range d.Order {
		s := subject{Defect: &defects[i], place: int16(place), unit: -1}
		if u, ok := p.byID[s.Unit]; ok && s.Unit != "" {
			s.unit = u
		}
		s.equipment = p.isEquipment(&s)
		d.subjects = append(d.subjects, s)
	}
}

// markUnits notes which units have failed, and which are no longer installed. A unit counts as removed only when every
// squawk that it suffers from says so: one on a unit that it needs does not.
func (p *Plan) markUnits(d *Determination) {
	for i := range d.subjects {
		s := &d.subjects[i]
		if s.unit < 0 {
			continue
		}
		unit := &p.units[s.unit]
		d.failed.set(s.unit)
		for _, other := range unit.fells {
			d.failed.set(other)
		}
		if s.isRemoved() {
			d.removed.set(s.unit)
		}
		if s.equipment != Yes || p.bound == Yes {
			continue // the questions of (d)(2) are not put to it: the rows that are short anyway stay with the aircraft
		}
		for _, row := range unit.rows {
			d.touched.set(row)
		}
	}
	for i := range d.subjects {
		s := &d.subjects[i]
		if s.unit < 0 {
			continue
		}
		if !s.isRemoved() {
			d.removed.unset(s.unit)
		}
		for _, other := range p.units[s.unit].fells {
			d.removed.unset(other)
		}
	}
}

func (b bitset) unset(i int32) { b[i/64] &^= 1 << (i % 64) }

func (d *Defect) isRemoved() bool {
	return d.Deferral != nil && d.Deferral.Method == Removed && d.Deferral.MethodDone == Yes
}

// settleUnits evaluates the conditions that speak of installed and working units.
func (p *Plan) settleUnits(d *Determination, f *PreparedFlight) {
	for _, i := range p.rules.byOwner[ofUnits] {
		c := &p.rules.conditions[i]
		switch c.unit {
		case installed:
			d.state.put(i, p.anyUnit(c.item, d.removed))
		case works:
			d.state.put(i, p.anyUnit(c.item, d.failed))
		case vorCheckedWithin:
			d.state.put(i, p.vorCheckedWithin(c.days, f))
		case removedWithin:
			d.state.put(i, p.removedWithin(d, c, f))
		}
	}
}

// anyUnit is Yes if a unit that does the item's job is not among the excluded. If no such unit is on record at all, the
// record must be complete to say No.
func (p *Plan) anyUnit(item int, excluded bitset) Truth {
	units := p.byItem[item]
	if len(units) == 0 && p.complete != Yes {
		return Unknown
	}
	return TruthOf(slices.ContainsFunc(units, func(u int32) bool { return !excluded.has(u) }))
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
	return f.On >= day && int(DateOf(f.Ends)-day) <= days
}

func (p *Plan) removedWithin(d *Determination, c *condition, f *PreparedFlight) Truth {
	units := p.byItem[c.item]
	if len(units) == 0 || slices.ContainsFunc(units, func(u int32) bool { return !d.removed.has(u) }) {
		return No
	}
	answer := Yes
	for i := range d.subjects {
		if s := &d.subjects[i]; slices.Contains(units, s.unit) {
			answer = answer.And(s.Deferral.removedWithin(c.days, f))
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
func (p *Plan) judgeAircraft(d *Determination, f *PreparedFlight) {
	worse := false
	for _, i := range p.checks {
		if finding := p.judgeCheck(d, i, f); finding != nil {
			worse = worse || finding.Outcome != OutcomeNoted
		}
	}
	for _, i := range p.spare {
		if d.touched.has(i) {
			continue // judged with the defect that touches it
		}
		if p.judgeRow(d, i, -1, f) != nil {
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
	if !row.inForce(f.On) {
		return nil
	}
	applies, met := row.open.holds(&d.state), No
	if row.quantity != noteOnly {
		met = d.state.truth(row.must)
	}
	if applies == No || met == Yes || row.quantity == noteOnly && applies != Yes {
		return nil
	}
	finding := d.next(row.step, -1)
	finding.source, finding.row = fromRow, i
	if row.quantity == noteOnly {
		finding.Outcome, finding.Verdict = OutcomeNoted, Clear
		return finding
	}
	if met == Unknown {
		finding.open.set(row.must)
	}
	p.weigh(d, finding, applies.And(met.Not()), f)
	return finding
}

// judgeRow judges a row of equipment. It reports nothing when the row is satisfied or asks nothing of this flight.
func (p *Plan) judgeRow(d *Determination, i int32, defect int16, f *PreparedFlight) *Finding {
	row := &p.rows[i]
	if !row.inForce(f.On) {
		return nil
	}
	applies := row.open.holds(&d.state)
	if applies == No {
		return nil
	}
	var t tally
	t.count(p, row, d.failed, d.removed)
	met := p.met(row, &t, f.aboard(row.quantity))
	if met == Yes {
		return nil
	}
	finding := d.next(row.step, defect)
	finding.source, finding.row = fromRow, i
	finding.Need, finding.Have = row.counts(&t, f)
	p.weigh(d, finding, applies.And(met.Not()), f)
	if finding.Outcome == OutcomeUnknown && f.Envelope && finding.Need < 0 && finding.Have > 0 && row.countsPersons() {
		finding.Outcome, finding.Verdict, finding.open = OutcomeLimited, Limited, mask{} // no more aboard than it serves
	}
	return finding
}

// weigh settles the finding of a row that is breached, or may be.
func (p *Plan) weigh(d *Determination, finding *Finding, breached Truth, f *PreparedFlight) {
	row := &p.rows[finding.row]
	if breached == Yes {
		finding.Outcome, finding.Verdict = OutcomeBreached, Grounded
	} else {
		finding.open = finding.open.or(row.open.open(&d.state))
	}
	p.relieve(d, finding, row, f)
	if finding.Outcome != OutcomeUnknown || !f.Envelope {
		return
	}
	// A kind of operation is judged as such: what would bring the row into play becomes a limitation. One condition that
	// the flight can keep out of is enough, as the row's conditions must all hold.
	if open := row.open.open(&d.state); open.overlaps(p.rules.flightConditions) {
		finding.Outcome, finding.Verdict, finding.open = OutcomeLimited, Limited, open
	}
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

// counts says how many a row needs, or -1 when unknown, and how many it has.
func (row *planRow) counts(t *tally, f *PreparedFlight) (int16, int16) {
	need := row.need
	switch {
	case row.countsPersons():
		need = f.aboard(row.quantity)
	case row.quantity == allOnRecord || row.quantity == allInstalled:
		need = max(t.fitted, 1)
	}
	return int16(need), int16(clamp(int(row.amount(t.working, t.unplaced, t.served))))
}
