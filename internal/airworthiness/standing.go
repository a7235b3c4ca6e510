package airworthiness

import "slices"

// Standing is how an aircraft stands with its open defects, whatever the flight: what works, what is gone, and which rows
// are short of equipment. Make it once, and judge as many flights with it as there are. Reuse one to avoid allocation.
type Standing struct {
	plan            *Plan     // that made it
	order           []int     // the defects in the order in which findings speak of them
	subjects        []subject // in that order
	failed, removed bitset
	touched         bitset // rows that a failed unit bears on
	state           state  // conditions that the aircraft's facts and its units settle
	short           []shortRow
	spare           int // how many of short no defect bears on; they come first
	beside          []beside
	melWorking      []int16 // of each row of the MEL, the units that still work
}

// subject is one defect with what it is about.
type subject struct {
	*Defect
	place     int16 // in the order of the defects
	unit      int32 // the installed unit, or -1
	equipment Truth // whether it is an instrument or item of equipment at all
	deferred  state // conditions on its deferral
	cleared   bool  // a condition that has been repaired, or found within limits
	from, to  int   // the rows among those short that it bears on
	takes     sides // of the rows on two squawks, on which it stands
	set       set   // what its hazard determination was made in view of
}

// shortRow is a row that the units that still work do not satisfy, or may not: where persons are counted, the flight
// decides.
type shortRow struct {
	row        int32
	need, have int16 // need is -1 when unknown, or the flight's to say
	met        Truth
	tally      tally
}

// Stand works out how the aircraft stands with its defects. They must stay as they are for as long as it is used.
func (p *Plan) Stand(s *Standing, defects []Defect) {
	s.reset(len(p.units), len(p.rows))
	s.plan = p
	s.sort(defects)
	p.identify(s, defects)
	p.markUnits(s)
	p.countMEL(s)
	s.state = p.facts
	p.settleUnits(s)
	for _, i := range p.spare {
		if !s.touched.has(i) { // else it is judged with the defect that touches it
			p.tally(s, i)
		}
	}
	s.spare = len(s.short)
	for i := range s.subjects {
		subject := &s.subjects[i]
		subject.from = len(s.short)
		if subject.unit >= 0 && subject.equipment != Unknown && !subject.cleared {
			for _, row := range p.units[subject.unit].rows {
				p.tally(s, row)
			}
		}
		subject.to = len(s.short)
	}
	p.lookBeside(s)
}

func (s *Standing) reset(units, rows int) {
	s.order, s.subjects, s.short, s.beside = s.order[:0], s.subjects[:0], s.short[:0], s.beside[:0]
	s.failed, s.removed = s.failed.cleared(units), s.removed.cleared(units)
	s.touched = s.touched.cleared(rows)
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
func (s *Standing) sort(defects []Defect) {
	for i := range defects {
		s.order = append(s.order, i)
		for j := i; j > 0 && defects[s.order[j]].before(&defects[s.order[j-1]]); j-- {
			s.order[j], s.order[j-1] = s.order[j-1], s.order[j]
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
func (p *Plan) identify(s *Standing, defects []Defect) {
	for place, i := range s.order {
		about := subject{Defect: &defects[i], place: int16(place), unit: -1}
		if u, ok := p.byID[about.Unit]; ok && about.Unit != "" {
			about.unit = u
		}
		about.equipment = p.isEquipment(&about)
		about.cleared = about.equipment == No && about.lacks() == 0
		for _, i := range p.rules.byOwner[ofDeferral] {
			about.deferred.put(i, p.rules.conditions[i].deferral(about.Deferral))
		}
		s.subjects = append(s.subjects, about)
	}
}

// markUnits notes which units have failed, and which are no longer installed. A unit counts as removed only when every
// squawk that it suffers from says so: one on a unit that it needs does not.
func (p *Plan) markUnits(s *Standing) {
	for i := range s.subjects {
		about := &s.subjects[i]
		if about.unit < 0 || about.cleared {
			continue
		}
		unit := &p.units[about.unit]
		s.failed.set(about.unit)
		for _, other := range unit.fells {
			s.failed.set(other)
		}
		if about.isRemoved() {
			s.removed.set(about.unit)
		}
		if about.equipment != Yes {
			continue // the questions of (d)(2) are not put to it: the rows that are short anyway stay with the aircraft
		}
		for _, row := range unit.rows {
			if p.bound != Yes || p.rows[row].step >= StepRegulation { // an MEL leaves the operating rules and directives
				s.touched.set(row)
			}
		}
	}
	for i := range s.subjects {
		about := &s.subjects[i]
		if about.unit < 0 || about.cleared {
			continue
		}
		if !about.isRemoved() {
			s.removed.unset(about.unit)
		}
		for _, other := range p.units[about.unit].fells {
			s.removed.unset(other)
		}
	}
}

// settleUnits evaluates the conditions that ask which units are installed and work.
func (p *Plan) settleUnits(s *Standing) {
	for _, i := range p.rules.byOwner[ofUnits] {
		switch c := &p.rules.conditions[i]; c.unit {
		case installed:
			s.state.put(i, p.anyUnit(c.item, s.removed))
		case works:
			s.state.put(i, p.anyUnit(c.item, s.failed))
		case vorCheckedWithin, removedWithin: // hang on the date of the flight
		}
	}
}

func (b bitset) unset(i int32) { b[i/64] &^= 1 << (i % 64) }

func (d *Defect) isRemoved() bool {
	return d.Deferral != nil && d.Deferral.Method == Removed && d.Deferral.MethodDone == Yes
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

// tally counts what there is to meet a row, and keeps the row if that is too little or may be.
func (p *Plan) tally(s *Standing, i int32) {
	row := &p.rows[i]
	s.short = append(s.short, shortRow{})
	short := &s.short[len(s.short)-1]
	short.row, short.need = i, -1
	t := &short.tally
	t.count(p, row, s.failed, s.removed)
	short.have = int16(clamp(int(row.amount(t.working, t.unplaced, t.served))))
	switch {
	case row.countsPersons():
		return
	case row.quantity == allOnRecord || row.quantity == allInstalled:
		short.need = int16(max(t.fitted, 1))
	default:
		short.need = int16(row.need)
	}
	if short.met = p.met(row, t, -1); short.met == Yes {
		s.short = s.short[:len(s.short)-1]
	}
}

// Order is the defects in the order in which findings speak of them.
func (s *Standing) Order() []int { return slices.Clone(s.order) }
