package airworthiness

import (
	"math"
	"slices"
	"time"
)

// smallAircraftLb is the greatest maximum takeoff weight of a small aircraft (14 CFR 1.1).
const smallAircraftLb = 12500

// Bar is what one finding holds against flights, as data. For every flight on the day it was made for that ends when it
// was made for, the bars of an aircraft with its defects say what Judge says. A flight under a special flight permit is
// none of these: what the permit lifts no bar tells.
//
//   - a bar without a row has its verdict, whatever the flight;
//   - a row asks nothing of a flight on which a term of When does not hold;
//   - what it asks is met as far as Met and Count say;
//   - a way out whose terms all hold lifts it;
//   - where it Binds, a flight that it bears on may go within its limitation.
type Bar struct {
	Explanation
	Defect  int  // place of the defect in the order of the defects, or -1
	IsRow   bool // a requirement decides, else the verdict stands as it is
	When    []Term
	Must    *Term  // what the flight must hold to; nil: Met says it, or Count
	Met     Truth  // of what the row asks, where neither Must nor Count decides: No or Unknown
	Count   *Count // the row asks for as much as persons of some kind are aboard
	Binds   bool   // it limits the flight, and does not ground it
	Reliefs []WayOut
}

// Count is a row that wants as much as there are persons aboard.
type Count struct {
	Fact      string // which persons
	Serves    int    // it is met for so many
	OnRecord  int    // and certainly not for more, up to so many; -1: for any greater number
	EverySeat bool   // it serves every seat, so it does not matter if nobody knows how many there are
}

// WayOut is a relief that may lift a row. It lifts it where every term of When holds.
type WayOut struct {
	ID, Citation, Words, Limitation string
	When                            []Term
}

// Bars works out what the aircraft's own state and the open defects hold against flights on a day that end at an
// instant. It is derived from the findings for a flight of which nothing else is known, not from samples.
func (p *Plan) Bars(s *Standing, on Date, ends time.Time) []Bar {
	crowd := Given(math.MaxInt16) // so that every row that counts persons is short
	flight := p.rules.Prepare(Flight{
		On: on, Ends: ends, WindowHours: Given(longest(on, ends)), Occupants: crowd, Persons: crowd, RequiredCrew: crowd,
	})
	var d Determination
	p.Judge(&d, s, &flight)
	p.addUnlisted(&d, s)
	var bars []Bar
	for i := range d.Findings {
		f := &d.Findings[i]
		if f.source == fromMEL {
			bars = append(bars, p.melBars(f, flight)...)
			continue
		}
		bar := Bar{Explanation: p.Explain(f), Defect: int(f.Defect)}
		if f.source == fromInteraction && f.Outcome == OutcomeUnknown {
			bars = append(bars, p.interactionBar(f))
			continue
		}
		if f.source == fromRow && p.rows[f.row].quantity != noteOnly {
			p.openUp(&bar, f, &d, s, &flight)
			bar.addReliefs(p, f, &d.state, on)
		}
		if f.Verdict == Clear {
			continue // passes, notes, and what never applies after all, ask nothing of anybody
		}
		bars = append(bars, bar)
	}
	return bars
}

// longest bounds the window of a flight that departs on a day and ends at an instant, in hours. The day may be that of any
// place: none is a whole day away from another by its clock.
func longest(on Date, ends time.Time) float64 {
	return ends.Sub(time.Unix(int64(on-1)*86400, 0)).Hours()
}

// melBars says what a row of the MEL holds against flights: whatever the flight, and by each of its conditions.
func (p *Plan) melBars(f *Finding, kind PreparedFlight) []Bar {
	kind.Envelope = true // so that the conditions of the flight do not leave open what the row says beside
	whole := blank
	whole.Step, whole.Defect = f.Step, f.Defect
	p.judgeMELRow(&whole, f.row, f.Have, &kind)
	row, open := &p.mel.rows[f.row], whole.open
	whole.open = mask{}
	var bars []Bar
	binds := row.Proviso != "" || row.Operations == Yes
	if whole.Verdict != Clear && (whole.Verdict != Limited || binds) {
		bars = append(bars, Bar{Explanation: p.Explain(&whole), Defect: int(f.Defect)})
	}
	open.each(func(bit int) {
		failing := whole
		failing.Outcome, failing.Verdict, failing.open = OutcomeBreached, Grounded, only(bit)
		must := row.terms[bit].term()
		bars = append(bars, Bar{Explanation: p.Explain(&failing), Defect: int(f.Defect), IsRow: true, Must: &must})
	})
	return bars
}

// term is the condition as data.
func (t *term) term() Term { return t.condition.term(!t.negated) }

// interactionBar says which flights the limitation of a row on two squawks binds. One that is not considered stands in the
// way of every flight: where its row asks nothing, the row that asks for the whole set does.
func (p *Plan) interactionBar(f *Finding) Bar {
	limited := *f
	limited.Outcome, limited.Verdict, limited.open = OutcomeLimited, Limited, mask{}
	return Bar{
		Explanation: p.Explain(&limited), Defect: int(f.Defect), IsRow: true, Met: No, Binds: true,
		When: p.terms(p.rules.interactions[f.row].when, f.open),
	}
}

// addUnlisted finds every list of the aircraft that nobody has entered. Where a row of such a list stands in the way of a
// flight that is all that is said; for a flight that it lets go the list is still open.
func (p *Plan) addUnlisted(d *Determination, s *Standing) {
	for i := range s.subjects {
		about := &s.subjects[i]
		if about.unit < 0 || about.equipment != Yes {
			continue
		}
		first := StepTypeCertification
		if p.bound == Yes {
			first = StepRegulation
		}
		for step := first; step <= StepDirective; step++ {
			said := func(f Finding) bool { return f.Step == step && f.Defect == about.place && f.source == fromStep }
			if !p.listed(step) && !slices.ContainsFunc(d.Findings, said) {
				d.next(step, about.place)
			}
		}
	}
}

// openUp says of a row what would keep a flight out of it, and what would lift it.
func (p *Plan) openUp(bar *Bar, f *Finding, d *Determination, s *Standing, flight *PreparedFlight) {
	row := &p.rows[f.row]
	bar.IsRow = true
	bar.When = p.terms(row.open, row.open.open(&d.state))
	switch {
	case row.countsPersons():
		bar.Count = p.countOf(row, s)
	case row.must >= 0:
		bar.Met = p.holds(row, &d.state, flight)
		switch {
		case bar.Met != Unknown:
		case p.bounds(row):
			bar.Must = new(p.hoursOf(row))
		case p.rules.conditions[row.must].owner == ofFlight:
			bar.Must = &p.terms(clause{all: only(row.must)}, only(row.must))[0]
		}
	default:
		bar.Met = p.shortMet(s, f.row)
	}
}

// addReliefs says what would lift the row of a finding.
func (b *Bar) addReliefs(p *Plan, f *Finding, s *state, on Date) {
	for _, i := range p.rows[f.row].reliefs {
		relief := &p.rules.reliefs[i]
		if relief.inForce(on) && !relief.when.fails(s) {
			b.Reliefs = append(b.Reliefs, WayOut{
				ID: relief.ID, Citation: relief.Citation, Words: relief.Words, Limitation: relief.limitation,
				When: p.terms(relief.when, relief.when.open(s)),
			})
		}
	}
}

// shortMet is what the standing says of a row that is short of equipment.
func (p *Plan) shortMet(s *Standing, row int32) Truth {
	for i := range s.short {
		if s.short[i].row == row {
			return s.short[i].met
		}
	}
	return Unknown
}

// countFacts names the facts of a flight that rows count persons by.
var countFacts = map[quantity]string{
	eachOccupant: "flight.occupants", eachPerson: "flight.persons", eachRequiredCrew: "flight.required_crew",
}

// countOf says for how many persons a row is met.
func (p *Plan) countOf(row *planRow, s *Standing) *Count {
	var t tally
	t.count(p, row, s.failed, s.removed)
	c := &Count{
		Fact: countFacts[row.quantity], Serves: int(clamp(int(row.amount(t.working, t.unplaced, t.served)))), OnRecord: -1, EverySeat: p.everySeat(row, &t),
	}
	if p.complete != Yes {
		c.OnRecord = int(clamp(int(row.amount(t.fitted, t.unstated, t.stated))))
	}
	return c
}

// Wants is what a finding asks about, for whoever would supply the facts it lacks.
type Wants struct {
	Items  []string // catalog keys of the equipment that the row or its open conditions speak of
	Need   int      // how many must work, at least 1
	Have   int      // how many work, or for how many persons that is enough; 0 where the finding does not count
	Places int      // how many engines, tanks or seats they must serve; 0: none
}

// Wants says what a finding of this plan asks about.
func (p *Plan) Wants(f *Finding) Wants {
	w := Wants{Need: max(int(f.Need), 1), Have: max(int(f.Have), 0)}
	add := func(item int) {
		if key := p.rules.items[item].Item; !slices.Contains(w.Items, key) {
			w.Items = append(w.Items, key)
		}
	}
	if f.source == fromRow {
		row := &p.rows[f.row]
		for _, item := range row.items {
			add(item)
		}
		if row.places != 0 {
			w.Places = int(row.need)
		}
	}
	f.open.each(func(i int) {
		if c := &p.rules.conditions[i]; c.owner == ofUnits && c.unit != vorCheckedWithin {
			add(c.item)
		}
	})
	return w
}
