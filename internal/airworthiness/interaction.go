package airworthiness

import (
	"errors"
	"fmt"
	"math/bits"
	"slices"
	"strings"
)

// interaction is a row that tells what two squawks do to each other.
type interaction struct {
	Origin
	when       clause
	limitation string
	items      [2][]int // on either side
}

// maxInteractions bounds the rows: one machine word says which of them two squawks meet.
const maxInteractions = 64

// sides says of which rows on two squawks something stands on the first side, and of which on the second.
type sides struct{ first, second uint64 }

func (a sides) or(b sides) sides { return sides{a.first | b.first, a.second | b.second} }

// meets is the rows of which one stands on one side and the other on the other.
func (a sides) meets(b sides) uint64 { return a.first&b.second | a.second&b.first }

// set is what the hazard determination of one squawk was made in view of.
type set struct {
	others     int16 // open squawks that are, or may be, about an instrument or item of equipment
	considered int16 // of these
	stray      bool  // one is not considered, and no row speaks of the two
	beside     []beside
}

// beside is another squawk of which some row speaks together with this one.
type beside struct {
	rows       uint64
	other      int16 // its place
	considered bool
}

func (r *Ruleset) compileInteractions(rows []InteractionRow, collect func(string, error)) {
	r.itemSides = make([]sides, len(r.items))
	for i, row := range rows {
		if i >= maxInteractions {
			collect(row.ID, fmt.Errorf("more than %d rows on two squawks", maxInteractions))
			return
		}
		x := interaction{Origin: row.Origin, limitation: row.Limitation}
		var err error
		x.when, err = r.clause(row.When)
		collect(row.ID, err)
		of := x.when.all.or(x.when.none)
		of.each(func(c int) {
			if owner := r.conditions[c].owner; owner != ofAircraft && owner != ofFlight {
				collect(row.ID, fmt.Errorf("condition %q is neither of the aircraft nor of the flight", r.conditions[c].key))
			}
		})
		for side, items := range []string{row.First, row.Second} {
			x.items[side], err = r.itemsNamed(items)
			collect(row.ID, err)
			for _, item := range x.items[side] {
				for _, provider := range r.providers[item] {
					r.itemSides[provider] = r.itemSides[provider].or(oneSide(side, i))
				}
			}
		}
		r.interactions = append(r.interactions, x)
	}
}

func oneSide(side, row int) sides {
	if side == 0 {
		return sides{first: 1 << row}
	}
	return sides{second: 1 << row}
}

// itemsNamed reads "a|b".
func (r *Ruleset) itemsNamed(names string) ([]int, error) {
	if names == "" {
		return nil, errors.New("want an item on each side")
	}
	var items []int
	for _, key := range strings.Split(names, "|") {
		item, ok := r.itemIndex[key]
		if !ok {
			return nil, fmt.Errorf("item %q is not in the catalog", key)
		}
		items = append(items, item)
	}
	return items, nil
}

// settleSides finds on which sides the installed units stand.
func (p *Plan) settleSides() {
	for i := range p.rules.interactions {
		for side, items := range p.rules.interactions[i].items {
			for _, item := range items {
				for _, u := range p.byItem[item] {
					p.units[u].sides = p.units[u].sides.or(oneSide(side, i))
				}
			}
		}
	}
	for i := range p.units {
		unit := &p.units[i]
		unit.takes = unit.sides
		for _, u := range unit.fells {
			unit.takes = unit.takes.or(p.units[u].sides)
		}
	}
}

// lookBeside holds each deferral's hazard determination against the other open squawks: it is good for the combination
// that it was made for, and no other (91.213(d)(4)). A condition of the aircraft grounds by itself and is not asked about.
func (p *Plan) lookBeside(s *Standing) {
	if len(s.subjects) < 2 {
		return
	}
	for i := range s.subjects {
		s.subjects[i].takes = p.takes(&s.subjects[i])
	}
	for i := range s.subjects {
		about := &s.subjects[i]
		if about.Deferral == nil || about.equipment != Yes {
			continue
		}
		from := len(s.beside)
		for j := range s.subjects {
			other := &s.subjects[j]
			if i == j || other.equipment == No {
				continue
			}
			considered := slices.Contains(about.Deferral.HazardConsidered, other.ID)
			about.set.others++
			if considered {
				about.set.considered++
			}
			if rows := p.meet(about, other); rows != 0 {
				s.beside = append(s.beside, beside{rows, other.place, considered})
			} else if !considered {
				about.set.stray = true
			}
		}
		about.set.beside = s.beside[from:len(s.beside):len(s.beside)]
	}
}

// meet is the rows on two squawks that these two meet, each by an item of its own.
func (p *Plan) meet(a, b *subject) uint64 {
	rows := a.takes.meets(b.takes)
	if rows == 0 || a.unit < 0 || b.unit < 0 {
		return rows
	}
	rows = 0
	for i := -1; i < len(p.units[a.unit].fells); i++ {
		for j := -1; j < len(p.units[b.unit].fells); j++ {
			if u, v := p.felled(a.unit, i), p.felled(b.unit, j); u != v {
				rows |= p.units[u].sides.meets(p.units[v].sides)
			}
		}
	}
	return rows
}

// felled is a unit itself, and then those that it fells.
func (p *Plan) felled(unit int32, i int) int32 {
	if i < 0 {
		return unit
	}
	return p.units[unit].fells[i]
}

// takes is the sides on which a squawk leaves something that does not work.
func (p *Plan) takes(s *subject) sides {
	if s.unit >= 0 {
		return p.units[s.unit].takes
	}
	if item, ok := p.item(s); ok {
		return p.rules.itemSides[item]
	}
	return sides{}
}

// together is what one squawk comes to beside the others, on one flight.
type together struct {
	considered Truth  // the determination considers every other squawk, save those of which a row in play speaks
	apart      uint64 // rows in play of which some squawk was not considered
	rows       uint64 // rows in play of which some squawk was
}

func (p *Plan) together(d *Determination, s *subject, f *PreparedFlight) together {
	if s.Deferral == nil {
		return together{considered: No} // nobody has determined anything
	}
	t := together{considered: TruthOf(!s.set.stray)}
	for i := range s.set.beside {
		b := &s.set.beside[i]
		inPlay := p.inPlay(d, b.rows, f)
		switch {
		case b.considered:
			t.rows |= inPlay
		case inPlay == 0:
			t.considered = No
		default:
			t.apart |= inPlay
		}
	}
	return t
}

// inPlay leaves out the rows that are not in force, and those that are known to ask nothing of this flight.
func (p *Plan) inPlay(d *Determination, rows uint64, f *PreparedFlight) uint64 {
	for rest := rows; rest != 0; rest &= rest - 1 {
		i := bits.TrailingZeros64(rest)
		if row := &p.rules.interactions[i]; !row.inForce(f.On) || row.when.fails(&d.state) {
			rows &^= 1 << i
		}
	}
	return rows
}

// judgeTogether tells what the squawk does together with others, and says whether anything of it stands in the way or
// binds the flight. It is asked of a determination that somebody claims to have made.
func (p *Plan) judgeTogether(d *Determination, s *subject, t together, f *PreparedFlight) bool {
	if s.Deferral == nil || s.Deferral.HazardDetermined != Yes {
		return false
	}
	for rest := t.apart; rest != 0; rest &= rest - 1 {
		finding := s.beside(bits.TrailingZeros64(rest), false)
		finding.Outcome, finding.Verdict = OutcomeUndone, DeferFirst
		d.record(finding, s.place)
	}
	binds := t.apart != 0
	// What was considered with one squawk stays, though with another it was not: one more defect never improves a verdict.
	for rest := t.rows; rest != 0; rest &= rest - 1 {
		i := bits.TrailingZeros64(rest)
		row := &p.rules.interactions[i]
		finding := s.beside(i, true)
		open := row.when.open(&d.state)
		switch {
		case row.limitation == "":
			finding.Outcome, finding.Verdict = OutcomeNoted, Clear
		case open.empty() || f.Envelope && open.overlaps(p.rules.flightConditions):
			finding.Outcome, finding.Verdict = OutcomeLimited, Limited
		default:
			finding.open = open
		}
		d.record(finding, s.place)
		binds = binds || finding.Outcome != OutcomeNoted
	}
	return binds
}

// beside is a finding on a row that speaks of this squawk and another, which was considered or not.
func (s *subject) beside(row int, considered bool) Finding {
	finding := blank
	finding.Step, finding.source, finding.row, finding.Have = StepHazard, fromInteraction, int32(row), s.set.otherOf(row, considered)
	return finding
}

// otherOf is the place of the first squawk that a row speaks of together with this one.
func (s *set) otherOf(row int, considered bool) int16 {
	for i := range s.beside {
		if b := &s.beside[i]; b.rows&(1<<row) != 0 && b.considered == considered {
			return b.other
		}
	}
	return -1
}

// Other is the place of the squawk in Determination.Order with which the finding's squawk was judged together, or false.
func (f *Finding) Other() (int16, bool) { return f.Have, f.source == fromInteraction && f.Have >= 0 }

func (p *Plan) explainInteraction(e *Explanation, f *Finding) {
	row := &p.rules.interactions[f.row]
	e.setOrigin(&row.Origin)
	switch f.Outcome {
	case OutcomeUndone:
		e.Says = "The hazard determination was made without the other squawk: make it again for the two together."
	case OutcomeLimited:
		e.Says, e.Limitation = "The two have been considered together: it may go only within the limitation.", row.limitation
	case OutcomeNoted:
		e.Says = "The two have been considered together. Bear in mind."
	default:
		e.Says = "The two have been considered together. A fact is missing that decides whether they bind this flight."
	}
}
