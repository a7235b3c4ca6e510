package airworthiness

import (
	"fmt"
	"slices"
)

// MEL is the minimum equipment list that governs an aircraft (91.213(a), (c)), as approved for it.
type MEL struct {
	OnRecord     Truth  // Yes: Rows is the whole list. No: there is no such document. Unknown: nobody has entered it
	Authority    string // letter: of authorization, under part 91 (91.213(a)); certificate: under 91 subpart K, 121, 125 or 135 (91.213(c))
	LetterAboard Truth  // the letter of authorization is in the aircraft (91.213(a)(2))
	Aboard       Truth  // the list is in the aircraft
	Rows         []MELRow
}

// MELRow is what an MEL says of one item. Two rows are never about one item.
type MELRow struct {
	Item        string    // catalog key
	Installed   Fact[int] // how many the list counts in the aircraft
	Required    Fact[int] // how many must work, from 0
	Category    string    // repair category: A, B, C or D
	Days        Fact[int] // the interval that a row of category A states, in calendar days, from 1
	Operations  Truth     // (O): an operations procedure must be followed
	Maintenance Truth     // (M): a maintenance procedure must be done before the flight
	Proviso     string    // conditions in words: they become a limitation; empty: there are none
	OnlyWhen    string    // conditions of the flight in the notation of the tables, all of which must hold; empty: always
	Document    string    // where it stands
}

// planMEL is an MEL that is on record, compiled against the units of the aircraft.
type planMEL struct {
	rows   []planMELRow
	byItem [][]int32 // item -> its row, if there is one
}

type planMELRow struct {
	MELRow
	item      int
	providers []int32
	terms     []term
	interval  int32 // place in the table of intervals, or -1 when the category is not known
}

// term is one condition of the flight, or its opposite.
type term struct {
	condition
	negated bool
}

// maxTerms bounds the conditions of one row of an MEL: a bit each in a finding.
const maxTerms = 64

// FlightClause reports what is wrong with a conjunction of conditions of the flight, such as "!ifr !night": conditions
// of the book's table, separated by spaces, each possibly negated with a leading "!".
func (r *Ruleset) FlightClause(s string) error {
	_, err := r.flightTerms(s)
	return err
}

// flightTerms compiles such a conjunction. It stands beside the ruleset's own conditions, which are fixed by then.
func (r *Ruleset) flightTerms(s string) ([]term, error) {
	var terms []term
	for key, negated := range termsOf(s) {
		c, err := r.parseCondition(key)
		if err != nil {
			return nil, err
		}
		words := c.words.Holding
		if negated {
			words = c.words.NotHolding
		}
		switch {
		case c.owner != ofFlight:
			return nil, fmt.Errorf("condition %q is none of the flight", key)
		case words == "":
			return nil, fmt.Errorf("condition %q has no words for a limitation", key)
		case slices.ContainsFunc(terms, func(t term) bool { return t.key == key && t.negated != negated }):
			return nil, fmt.Errorf("no flight can meet %q", s)
		}
		terms = append(terms, term{c, negated})
	}
	if len(terms) > maxTerms {
		return nil, fmt.Errorf("more than %d conditions", maxTerms)
	}
	return terms, nil
}

// holds says whether the term holds for a flight.
func (t *term) holds(f *Flight) Truth {
	if t.negated {
		return t.flight(f).Not()
	}
	return t.flight(f)
}

// says is the term as a limitation.
func (t *term) says() string {
	if t.negated {
		return t.fill(t.words.NotHolding)
	}
	return t.fill(t.words.Holding)
}

// addMEL compiles the aircraft's MEL. Rows of a list that is not on record are not looked at.
func (p *Plan) addMEL(a *Aircraft) error {
	if a.MEL.OnRecord != Yes {
		return nil
	}
	m := &planMEL{byItem: make([][]int32, len(p.rules.items))}
	for _, own := range a.MEL.Rows {
		item, ok := p.rules.itemIndex[own.Item]
		if !ok {
			return fmt.Errorf("mel: item %q is not in the catalog", own.Item)
		}
		if len(m.byItem[item]) > 0 {
			return fmt.Errorf("mel: item %q stands twice", own.Item)
		}
		terms, err := p.rules.flightTerms(own.OnlyWhen)
		if err != nil {
			return fmt.Errorf("mel: item %q: %w", own.Item, err)
		}
		m.byItem[item] = []int32{int32(len(m.rows))}
		m.rows = append(m.rows, planMELRow{own, item, p.byItem[item], terms, p.rules.interval(own.Category)})
	}
	p.mel = m
	for i := range p.units {
		p.bindToMEL(int32(i))
	}
	return nil
}

// bindToMEL finds what an MEL says of a unit and of those that do not work without it. Each of them must have its own row;
// a row about an item whose job one of them does binds as well.
func (p *Plan) bindToMEL(u int32) {
	unit := &p.units[u]
	lost := append([]int32{u}, unit.fells...)
	for i := range p.mel.rows {
		if slices.ContainsFunc(p.mel.rows[i].providers, func(v int32) bool { return slices.Contains(lost, v) }) {
			unit.mel = append(unit.mel, int32(i))
		}
	}
	for _, v := range lost {
		item := p.units[v].item
		if len(p.mel.byItem[item]) == 0 && !slices.Contains(unit.unlisted, item) {
			unit.unlisted = append(unit.unlisted, item)
		}
	}
	slices.Sort(unit.unlisted)
}

// melRows are the rows of the MEL that speak of a squawk's unit, or of its item where it names no unit.
func (p *Plan) melRows(s *subject) []int32 {
	if s.unit >= 0 {
		return p.units[s.unit].mel
	}
	if item, ok := p.item(s); ok {
		return p.mel.byItem[item]
	}
	return nil
}

// countMEL counts, for each row of the MEL, the units that still work.
func (p *Plan) countMEL(s *Standing) {
	s.melWorking = s.melWorking[:0]
	if p.mel == nil {
		return
	}
	for i := range p.mel.rows {
		n := 0
		for _, u := range p.mel.rows[i].providers {
			if !s.failed.has(u) {
				n++
			}
		}
		s.melWorking = append(s.melWorking, int16(clamp(n)))
	}
}

// judgeUnderMEL goes the way of 91.213(a) and (c). Where the MEL is not on record, and nothing else may let the flight go,
// it only reports what no MEL may allow: items required by the operating rules or by a directive (91.213(b)).
func (p *Plan) judgeUnderMEL(d *Determination, st *Standing, s *subject, f *PreparedFlight) {
	short := st.short[s.from:s.to]
	switch {
	case p.mel != nil:
		p.judgeMEL(d, st, s, f)
		p.judgeRows(d, s, short, StepRegulation, f)
		p.judgeProcedure(d, s, f)
	case f.covers(s):
		p.judgeRows(d, s, short, StepRegulation, f)
	default:
		for i := range short {
			if step := p.rows[short[i].row].step; step >= StepRegulation && step <= StepDirective {
				p.judgeRow(d, &short[i], s.place, f)
			}
		}
	}
}

// judgeMEL asks what the MEL says of everything that the squawk puts out of work.
func (p *Plan) judgeMEL(d *Determination, st *Standing, s *subject, f *PreparedFlight) {
	unlisted := func(item int32) {
		finding := d.next(StepMEL, s.place)
		finding.Outcome, finding.Verdict, finding.source, finding.row = OutcomeBreached, Grounded, fromUnlisted, item
	}
	rows := p.melRows(s)
	if s.unit < 0 {
		if item, _ := p.item(s); len(rows) == 0 {
			unlisted(int32(item))
		} else {
			d.next(StepMEL, s.place).source = fromSubject
		}
		return
	}
	for _, item := range p.units[s.unit].unlisted {
		unlisted(item)
	}
	for _, i := range rows {
		finding := blank
		finding.Step = StepMEL
		p.judgeMELRow(&finding, i, st.melWorking[i], f)
		d.record(finding, s.place)
	}
}

// judgeMELRow holds a row of the MEL against the flight and the units that still work.
func (p *Plan) judgeMELRow(finding *Finding, i int32, working int16, f *PreparedFlight) {
	row := &p.mel.rows[i]
	finding.source, finding.row, finding.Have = fromMEL, i, working
	var failing, open mask
	for bit := range row.terms {
		switch row.terms[bit].holds(&f.Flight) {
		case No:
			failing.set(bit)
		case Unknown:
			open.set(bit)
		case Yes:
		}
	}
	enough := Unknown
	if row.Required.Known && row.Required.Value >= 0 {
		finding.Need = int16(clamp(row.Required.Value))
		if enough = Yes; working < finding.Need {
			enough = p.shortfall(int16(clamp(len(row.providers))) >= finding.Need)
		}
	}
	finding.open = open
	switch {
	case !failing.empty() || enough == No:
		finding.Outcome, finding.Verdict, finding.open = OutcomeBreached, Grounded, failing
	case enough == Unknown || row.Operations == Unknown || !open.empty() && !f.Envelope:
	case !open.empty() || row.Operations == Yes || row.Proviso != "":
		finding.Outcome, finding.Verdict = OutcomeLimited, Limited
	default:
		finding.Outcome, finding.Verdict = OutcomePassed, Clear
	}
}

// putMEL settles the conditions that hang on what the MEL says of a squawk: of several rows one is enough to ask.
func (p *Plan) putMEL(state *state, s *subject) {
	if p.mel == nil {
		return
	}
	for _, i := range p.rules.byOwner[ofMEL] {
		answer := No
		for _, row := range p.melRows(s) {
			answer = answer.Or(p.rules.conditions[i].mel(&p.mel.rows[row].MELRow))
		}
		state.put(i, answer)
	}
}
