package airworthiness

import (
	"fmt"
	"math/bits"
	"slices"
)

// Plan is one aircraft's configuration compiled against a ruleset: every row that can bear on it, with the units that
// satisfy it. It is immutable and safe for concurrent use; make it once a configuration, judge with it many times.
type Plan struct {
	rules  *Ruleset
	facts  state // conditions settled by the aircraft's facts
	rows   []planRow
	units  []planUnit
	byID   map[string]int32
	byItem [][]int32 // item -> units that do its job
	checks []int32   // rows without equipment: must and note
	spare  []int32   // rows that the complete equipment does not satisfy, so that they matter even without a defect

	complete    Truth
	seats       Fact[int]
	vorChecked  Fact[Date]
	eligibility int // row of eligibility that opens 91.213(d), or -1
	eligible    Truth
	openFacts   mask // aircraft facts that leave eligibility unknown
	ownLists    [steps]Truth
}

// planRow is a requirement with what this aircraft has to meet it.
type planRow struct {
	requirement
	providers []int32
	need      int32 // static count; -1 when the flight or an unknown fact decides
	places    uint64
	open      clause // what the aircraft's facts have not settled of its conditions
}

type planUnit struct {
	id     string
	item   int32
	serves uint64
	rows   []int32 // rows that this unit, or one that needs it, helps to satisfy
	fells  []int32 // units that do not work without this one, however far down the line
}

// Plan compiles one aircraft. Units or own rows that name an unknown item are errors: the caller must have checked.
func (r *Ruleset) Plan(a *Aircraft) (*Plan, error) {
	p := &Plan{rules: r, complete: a.UnitsComplete, seats: a.Seats, vorChecked: a.VORChecked, byID: map[string]int32{}, byItem: make([][]int32, len(r.items))}
	for _, i := range r.byOwner[ofAircraft] {
		p.facts.put(i, r.conditions[i].aircraft(a))
	}
	if err := p.addUnits(a.Units); err != nil {
		return nil, err
	}
	for _, q := range r.requirements {
		if q.prefill && a.TypeCertification.OnRecord == Yes {
			continue // the confirmed list of this aircraft replaces the list by certification basis
		}
		p.addRow(q, a)
	}
	if err := p.addOwnLists(a); err != nil {
		return nil, err
	}
	if err := p.chainUnits(a.Units); err != nil {
		return nil, err
	}
	p.settleEligibility()
	p.settleSpare()
	return p, nil
}

func (p *Plan) addUnits(units []Unit) error {
	for _, u := range units {
		item, ok := p.rules.itemIndex[u.Item]
		if !ok {
			return fmt.Errorf("unit %q: item %q is not in the catalog", u.ID, u.Item)
		}
		if _, twice := p.byID[u.ID]; twice {
			return fmt.Errorf("unit %q stands twice", u.ID)
		}
		n := int32(len(p.units))
		p.byID[u.ID] = n
		p.units = append(p.units, planUnit{id: u.ID, item: int32(item), serves: u.Serves})
		p.byItem[item] = append(p.byItem[item], n)
		for _, s := range slices.Concat(p.rules.items[item].ServesAs, u.Also) {
			also, ok := p.rules.itemIndex[s]
			if !ok {
				return fmt.Errorf("unit %q: serves as %q, which is not in the catalog", u.ID, s)
			}
			if !slices.Contains(p.byItem[also], n) {
				p.byItem[also] = append(p.byItem[also], n)
			}
		}
	}
	return nil
}

// chainUnits follows what needs what, so that a failed pump takes its gyros with it.
func (p *Plan) chainUnits(units []Unit) error {
	direct := make([][]int32, len(units))
	for i, u := range units {
		for _, id := range u.Needs {
			source, ok := p.byID[id]
			if !ok {
				return fmt.Errorf("unit %q needs %q, which is not installed", u.ID, id)
			}
			direct[source] = append(direct[source], int32(i))
		}
	}
	own := make([][]int32, len(units))
	for i := range p.units {
		own[i] = slices.Clone(p.units[i].rows)
	}
	for i := range p.units {
		reached := []int32{int32(i)}
		for j := 0; j < len(reached); j++ {
			for _, u := range direct[reached[j]] {
				if !slices.Contains(reached, u) {
					reached = append(reached, u)
				}
			}
		}
		unit := &p.units[i]
		unit.fells = reached[1:]
		for _, u := range unit.fells {
			for _, row := range own[u] {
				if !slices.Contains(unit.rows, row) {
					unit.rows = append(unit.rows, row)
				}
			}
		}
		slices.Sort(unit.rows)
	}
	return nil
}

// addRow keeps a requirement unless the aircraft's facts already say that it can never apply.
func (p *Plan) addRow(q requirement, a *Aircraft) {
	if q.when.holds(&p.facts) == No {
		return
	}
	row := planRow{requirement: q, need: -1}
	// What the facts have settled need not be asked again for every flight.
	row.open = clause{q.when.all.without(p.facts.yes), q.when.none.without(p.facts.no)}
	n := int32(len(p.rows))
	if len(q.items) > 0 {
		for _, item := range q.items {
			for _, u := range p.byItem[item] {
				if !slices.Contains(row.providers, u) {
					row.providers = append(row.providers, u)
				}
			}
		}
		row.need, row.places = need(q, a)
		for _, u := range row.providers {
			p.units[u].rows = append(p.units[u].rows, n)
		}
	} else {
		p.checks = append(p.checks, n)
	}
	p.rows = append(p.rows, row)
}

// need says how many units must work, and which places (engines, tanks, seats) they must serve.
func need(q requirement, a *Aircraft) (int32, uint64) {
	each := func(n Fact[int]) (int32, uint64) {
		if !n.Known || n.Value < 0 || n.Value > 64 {
			return -1, 0
		}
		return int32(n.Value), ^uint64(0) >> (64 - n.Value)
	}
	switch q.quantity {
	case countOf:
		return int32(q.count), 0
	case eachEngine:
		return each(a.Engines)
	case eachTank:
		return each(a.Tanks)
	case eachSeat:
		return each(a.Seats)
	case eachFrontSeat:
		return each(a.FrontSeats)
	case allInstalled, noteOnly, eachOccupant, eachPerson, eachRequiredCrew:
		return -1, 0
	}
	return -1, 0
}

// addOwnLists turns the aircraft's own documents into rows beside those of regulation.
func (p *Plan) addOwnLists(a *Aircraft) error {
	for _, l := range []struct {
		list OwnList
		step Step
	}{
		{a.TypeCertification, StepTypeCertification},
		{a.EquipmentList, StepEquipmentList},
		{a.KOEL, StepEquipmentList},
		{a.Directives, StepDirective},
	} {
		for _, own := range l.list.Rows {
			if err := p.addOwnRow(own, l.step, a); err != nil {
				return err
			}
		}
	}
	p.ownLists[StepTypeCertification] = a.TypeCertification.OnRecord
	p.ownLists[StepEquipmentList] = a.EquipmentList.OnRecord.known().And(a.KOEL.OnRecord.known())
	p.ownLists[StepDirective] = a.Directives.OnRecord.known()
	return nil
}

// known is Yes where somebody has looked, whatever they found, and Unknown where nobody has.
func (t Truth) known() Truth {
	if t == Unknown {
		return Unknown
	}
	return Yes
}

func (p *Plan) addOwnRow(own OwnRow, step Step, a *Aircraft) error {
	item, ok := p.rules.itemIndex[own.Item]
	if !ok {
		return fmt.Errorf("%s: item %q is not in the catalog", step, own.Item)
	}
	q := requirement{
		Origin: Origin{
			ID: "own:" + step.String(), Citation: p.rules.steps[step].Citation, Words: own.Document, Status: "record",
		},
		step: step, items: []int{item}, must: -1, count: max(own.Quantity, 1),
	}
	if own.Kinds == 0 {
		p.addRow(q, a)
		return nil
	}
	for i, condition := range p.rules.kinds {
		if own.Kinds&(1<<i) != 0 {
			q.when = clause{}
			q.when.all.set(condition)
			p.addRow(q, a)
		}
	}
	return nil
}

// settleEligibility decides once whether 91.213(d) is open: it depends on the aircraft alone.
func (p *Plan) settleEligibility() {
	p.eligible, p.eligibility = No, -1
	for i := range p.rules.eligibility {
		when := &p.rules.eligibility[i].when
		switch when.holds(&p.facts) {
		case Yes:
			p.eligible, p.eligibility = Yes, i
			p.openFacts = mask{}
			return
		case Unknown:
			p.eligible = Unknown
			p.openFacts = p.openFacts.or(when.open(&p.facts))
		case No:
		}
	}
}

// settleSpare finds the rows that matter even when nothing has failed.
func (p *Plan) settleSpare() {
	for i := range p.rows {
		row := &p.rows[i]
		if len(row.items) == 0 || row.prefill {
			continue
		}
		if row.open.all.or(row.open.none).overlaps(p.rules.unitConditions) {
			p.spare = append(p.spare, int32(i)) // a unit that fails may bring the row into play
			continue
		}
		if p.met(row, nil, nil, nil) != Yes {
			p.spare = append(p.spare, int32(i))
		}
	}
}

// met says whether the units that still work satisfy the row. failed holds a bit a unit; nil means that all work.
func (p *Plan) met(row *planRow, failed, removed bitset, f *PreparedFlight) Truth {
	need, places := row.need, row.places
	if row.quantity >= eachOccupant {
		need = p.aboard(row.quantity, f)
	}
	var working, fitted, placed int32
	var served uint64
	for _, u := range row.providers {
		if removed.has(u) {
			continue
		}
		fitted++
		if failed.has(u) {
			continue
		}
		s := p.units[u].serves
		working += row.counts(s)
		if s != 0 {
			served |= s
			placed++
		}
	}
	if row.quantity == allInstalled {
		if working < fitted {
			return No
		}
		need = 1
	}
	if need < 0 {
		return TruthOf(row.quantity >= eachOccupant && p.seats.Known && working >= int32(p.seats.Value)).orUnknown()
	}
	if places != 0 && need > 1 {
		return p.metPlaces(row, places&^served, working-placed, int32(len(row.providers)))
	}
	if working >= need {
		return Yes
	}
	return p.shortfall(p.onRecord(row) >= need)
}

// onRecord counts what the units would serve if all of them were installed and worked.
func (p *Plan) onRecord(row *planRow) int32 {
	var n int32
	for _, u := range row.providers {
		n += row.counts(p.units[u].serves)
	}
	return n
}

// orUnknown is Unknown instead of No: enough for every seat is enough for every flight, fewer may still be enough.
func (t Truth) orUnknown() Truth {
	if t == Yes {
		return Yes
	}
	return Unknown
}

// aboard is the number of persons a row counts, or -1 when unknown. Without a flight nobody knows.
func (p *Plan) aboard(q quantity, f *PreparedFlight) int32 {
	if f == nil {
		return -1
	}
	return f.aboard(q)
}

// counts is for how much a unit counts: where persons are counted, a unit may serve several seats.
func (row *planRow) counts(serves uint64) int32 {
	if row.quantity >= eachOccupant && serves != 0 {
		return int32(bits.OnesCount64(serves))
	}
	return 1
}

// metPlaces decides a row that wants one unit for each of several engines, tanks or seats. open are the places that no
// working unit is known to serve; unplaced counts working units of which nobody has said what they serve.
func (p *Plan) metPlaces(row *planRow, open uint64, unplaced, fitted int32) Truth {
	missing := int32(bits.OnesCount64(open))
	switch {
	case missing == 0:
		return Yes
	case unplaced == 0:
		return p.shortfall(fitted >= row.need)
	case unplaced == fitted && missing == row.need && unplaced >= row.need:
		return Yes // nobody has said which serves which, but all work and there is one for each
	case unplaced < missing:
		return p.shortfall(fitted >= row.need)
	default:
		return Unknown
	}
}

// shortfall says No when what is on record explains it, or when the record is complete.
func (p *Plan) shortfall(enoughOnRecord bool) Truth {
	if enoughOnRecord || p.complete == Yes {
		return No
	}
	return Unknown
}

// bitset is a set of units.
type bitset []uint64

func (b bitset) has(i int32) bool { return b != nil && b[i/64]&(1<<(i%64)) != 0 }

func (b bitset) set(i int32) { b[i/64] |= 1 << (i % 64) }
