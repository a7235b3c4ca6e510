package airworthiness

import (
	"math"
	"slices"
	"strconv"
	"time"
)

// smallAircraftLb is the greatest maximum takeoff weight of a small aircraft (14 CFR 1.1).
const smallAircraftLb = 12500

// Bar is what one finding holds against flights, as data. For every flight on the day it was made for that ends when it
// was made for, the bars of an aircraft with its defects say what Judge says:
//
//   - a bar without a row has its verdict, whatever the flight;
//   - a row asks nothing of a flight on which a term of When does not hold;
//   - what it asks is met as far as Met and Count say;
//   - a way out whose terms all hold lifts it.
type Bar struct {
	Explanation
	Defect  int  // place of the defect in the order of the defects, or -1
	IsRow   bool // a requirement decides, else the verdict stands as it is
	When    []Term
	Must    *Term  // what the flight must hold to; nil: Met says it, or Count
	Met     Truth  // of what the row asks, where neither Must nor Count decides: No or Unknown
	Count   *Count // the row asks for as much as persons of some kind are aboard
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
	flight := p.rules.Prepare(Flight{On: on, Ends: ends, Occupants: crowd, Persons: crowd, RequiredCrew: crowd})
	var d Determination
	p.Judge(&d, s, &flight)
	p.addUnlisted(&d, s)
	var bars []Bar
	for i := range d.Findings {
		f := &d.Findings[i]
		bar := Bar{Explanation: p.Explain(f), Defect: int(f.Defect)}
		if f.source == fromRow && p.rows[f.row].quantity != noteOnly {
			p.openUp(&bar, f, &d, s)
			bar.addReliefs(p, f, &d.state, on)
		}
		if f.Verdict == Clear {
			continue // passes, notes, and what never applies after all, ask nothing of anybody
		}
		bars = append(bars, bar)
	}
	return bars
}

// addUnlisted finds every list of the aircraft that nobody has entered. Where a row of such a list stands in the way of a
// flight that is all that is said; for a flight that it lets go the list is still open.
func (p *Plan) addUnlisted(d *Determination, s *Standing) {
	for i := range s.subjects {
		about := &s.subjects[i]
		if about.unit < 0 || about.equipment != Yes || p.bound == Yes {
			continue
		}
		for step := StepTypeCertification; step <= StepDirective; step++ {
			said := func(f Finding) bool { return f.Step == step && f.Defect == about.place && f.source == fromStep }
			if !p.listed(step) && !slices.ContainsFunc(d.Findings, said) {
				d.next(step, about.place)
			}
		}
	}
}

// openUp says of a row what would keep a flight out of it, and what would lift it.
func (p *Plan) openUp(bar *Bar, f *Finding, d *Determination, s *Standing) {
	row := &p.rows[f.row]
	bar.IsRow = true
	bar.When = p.rules.terms(row.open, row.open.open(&d.state))
	switch {
	case row.countsPersons():
		bar.Count = p.countOf(row, s)
	case row.must >= 0:
		bar.Met = d.state.truth(row.must)
		if bar.Met == Unknown && p.rules.conditions[row.must].owner == ofFlight {
			must := p.rules.conditions[row.must].term(true)
			bar.Must = &must
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
				When: p.rules.terms(relief.when, relief.when.open(s)),
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

// Binding is what a limited finding binds the flight to, as data.
type Binding struct {
	AnyOf []Term // the flight keeps out of the row by one of these
	AllOf []Term // or else the relief that lifts the row asks for all of these
}

// Binding says what a finding of this plan binds the flight to. It is empty for a finding that does not limit, and where
// a relief hangs on nothing that the flight decides.
func (p *Plan) Binding(f *Finding) Binding {
	var b Binding
	if f.Verdict != Limited || f.source != fromRow {
		return b
	}
	row := &p.rows[f.row]
	if f.relief >= 0 {
		b.AllOf = p.rules.terms(p.rules.reliefs[f.relief].when, p.rules.flightConditions)
	}
	switch {
	case f.Outcome != OutcomeLimited:
	case f.open.empty():
		b.AnyOf = []Term{{Fact: countFacts[row.quantity], Comparison: "at-most", Value: strconv.Itoa(int(f.Have)), Words: p.limitation(row, f)}}
	default:
		against := clause{all: row.open.none, none: row.open.all}
		b.AnyOf = p.rules.terms(against, f.open.and(p.rules.flightConditions))
	}
	return b
}
