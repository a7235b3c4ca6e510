package airworthiness

import (
	"fmt"
	"math"
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
	checks []check   // rows without equipment: must and note
	musts  mask      // all that must hold of these
	spare  []int32   // rows that the complete equipment does not satisfy, so that they matter even without a defect

	asConfigured state // conditions on units, with every unit on record installed and working

	complete   Truth
	seats      Fact[int]
	vorChecked Fact[Date]
	records    []record             // for the conditions on inspections, in their order
	bounded    mask                 // of these, limits in hours that a flight can keep within
	aircraft   *Aircraft            // its facts, for the lists of what is to be done
	bound      Truth                // whether an MEL governs
	path       Finding              // whether 91.213(d) is open: it depends on the aircraft alone
	unlisted   [steps][]MissingFact // what is not known of the aircraft's own lists
	mel        *planMEL             // the MEL, where it is on record
}

// planRow is a requirement with what this aircraft has to meet it.
type planRow struct {
	requirement
	providers []int32
	need      int32 // static count; -1 when the flight or an unknown fact decides
	places    uint64
	open      clause // what the aircraft's facts have not settled of its conditions
	part      *part  // of what the row asks, one limit; nil: the row does not ask for upkeep
}

type planUnit struct {
	id     string
	item   int32
	serves uint64
	rows   []int32 // rows that this unit, or one that needs it, helps to satisfy
	fells  []int32 // units that do not work without this one, however far down the line
	sides  sides   // of the rows on two squawks, on which it stands
	takes  sides   // the same, with the units that it fells

	mel      []int32 // rows of the MEL that this unit, or one that needs it, falls under
	unlisted []int32 // items of these units that stand in no row of the MEL
}

// Plan compiles one aircraft. Units or own rows that name an unknown item are errors: the caller must have checked.
func (r *Ruleset) Plan(a *Aircraft) (*Plan, error) {
	p := &Plan{rules: r, complete: a.UnitsComplete, seats: a.Seats, vorChecked: a.VORChecked, aircraft: new(*a), byID: map[string]int32{}, byItem: make([][]int32, len(r.items))}
	p.aircraft.Upkeep.Items = slices.Clone(a.Upkeep.Items)
	for _, i := range r.byOwner[ofAircraft] {
		p.facts.put(i, r.conditions[i].aircraft(a))
	}
	p.addRecords(a)
	if err := p.addUnits(a.Units); err != nil {
		return nil, err
	}
	for _, i := range r.byOwner[ofUnits] {
		if c := &r.conditions[i]; c.unit.isPresence() {
			p.asConfigured.put(i, p.anyUnit(c.item, nil))
		}
	}
	for _, q := range r.requirements {
		if q.prefill && a.TypeCertification.confirmed() {
			continue // the confirmed list of this aircraft replaces the list by certification basis
		}
		p.addRow(q, a)
	}
	if err := p.addOwnLists(a); err != nil {
		return nil, err
	}
	if err := p.addOwnItems(p.aircraft); err != nil {
		return nil, err
	}
	if err := p.chainUnits(a.Units); err != nil {
		return nil, err
	}
	p.settleSides()
	if err := p.addMEL(a); err != nil {
		return nil, err
	}
	p.settlePath()
	p.settleSpare()
	return p, nil
}

// Aircraft is what the plan was made of.
func (p *Plan) Aircraft() Aircraft { return *p.aircraft }

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
	settled := p.facts.or(p.asConfigured.among(q.lasting))
	if q.when.holds(&settled) == No {
		return
	}
	row := planRow{requirement: q, need: -1}
	// What the facts have settled need not be asked again for every flight. That includes the other equipment that the
	// row asks for: that it has failed or gone never takes the row out of play, so that one more defect never improves a
	// verdict. Where no such equipment is on record it stays unknown, whatever fails.
	row.open = clause{q.when.all.without(settled.yes), q.when.none.without(settled.no)}
	row.reliefs = slices.DeleteFunc(slices.Clone(q.reliefs), func(i int) bool {
		return p.rules.reliefs[i].when.holds(&p.facts) == No
	})
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
	} else if arg, ok := p.rules.asksUpkeep(q.must); ok {
		p.addKept(&row, arg, p.aircraft)
		return
	} else {
		p.addCheck(n, q.must)
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
		return clamp(q.count), 0
	case eachEngine:
		return each(a.Engines)
	case eachTank:
		return each(a.Tanks)
	case eachSeat:
		return each(a.Seats)
	case eachFrontSeat:
		return each(a.FrontSeats)
	case allOnRecord, allInstalled, noteOnly, eachOccupant, eachPerson, eachRequiredCrew:
		return -1, 0
	}
	return -1, 0
}

// addOwnLists turns the aircraft's own documents into rows beside those of regulation.
func (p *Plan) addOwnLists(a *Aircraft) error {
	for _, l := range []struct {
		list OwnList
		step Step
		asks MissingFact
	}{
		{a.TypeCertification, StepTypeCertification, MissingFact{"type_certification", "whether the VFR-day list of the aircraft has been entered"}},
		{a.EquipmentList, StepEquipmentList, MissingFact{"equipment_list", "whether the equipment list has been entered"}},
		{a.KOEL, StepEquipmentList, MissingFact{"koel", "whether there is a kinds-of-operation equipment list, and whether it has been entered"}},
		{a.Directives, StepDirective, MissingFact{"directives", "whether the directives have been reviewed for required equipment"}},
	} {
		// A list that does not exist holds nothing, save the VFR-day list: every type has one, confirmed or not.
		if on := l.list.OnRecord; on == Unknown || on == No && l.step == StepTypeCertification {
			l.asks.Fact = "aircraft.configuration." + l.asks.Fact + ".on_record"
			p.unlisted[l.step] = append(p.unlisted[l.step], l.asks)
		} else if l.step == StepTypeCertification && !l.list.confirmed() {
			p.unlisted[l.step] = append(p.unlisted[l.step], MissingFact{
				"aircraft.configuration.type_certification.confirmed",
				"who has confirmed the VFR-day list, with which certificate, when and from which document",
			})
		}
		for _, own := range l.list.Rows {
			if err := p.addOwnRow(own, l.step, a); err != nil {
				return err
			}
		}
	}
	return nil
}

// confirmed says whether a list is the whole list, and a rated person has said so.
func (l *OwnList) confirmed() bool { return l.OnRecord == Yes && l.Confirmed == Yes }

func (p *Plan) addOwnRow(own OwnRow, step Step, a *Aircraft) error {
	item, ok := p.rules.itemIndex[own.Item]
	if !ok {
		return fmt.Errorf("%s: item %q is not in the catalog", step, own.Item)
	}
	q := requirement{
		Origin: Origin{
			ID: "own:" + step.String(), Citation: p.rules.steps[step].Citation, Words: own.Document, Status: "record",
		},
		step: step, items: []int{item}, must: -1, count: max(own.Quantity, 1), barred: own.Barred,
	}
	if own.Kinds == 0 || p.rules.practice[step].Asked == askedAlways {
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

// settlePath decides once whether 91.213(d) is open: it hangs on the aircraft alone, save where a class of (d)(1) is not
// the same at all times.
func (p *Plan) settlePath() {
	p.bound = p.facts.truth(p.rules.melBound)
	if !p.rules.asks(StepPath) {
		p.bound = No
	}
	p.path = p.pathOn(0)
}

// pathOn decides whether 91.213(d) is open on a date: not where an MEL governs, and only for the classes of (d)(1).
func (p *Plan) pathOn(on Date) Finding {
	path := blank
	path.Step = StepPath
	if !p.rules.asks(StepPath) {
		path.Outcome, path.Verdict = OutcomePassed, Clear
		return path
	}
	if p.bound != No { // an MEL comes first: the classes of (d)(1) bind only those who have none
		switch {
		case p.bound == Unknown:
			path.open.set(p.rules.melBound)
		case p.mel != nil:
			path.Outcome, path.Verdict = OutcomePassed, Clear
		}
		return path
	}
	path.Outcome, path.Verdict = OutcomeBreached, Grounded
	for i := range p.rules.eligibility {
		row := &p.rules.eligibility[i]
		if !row.inForce(on) {
			continue
		}
		switch row.when.holds(&p.facts) {
		case Yes:
			path = blank
			path.Step, path.Outcome, path.Verdict = StepPath, OutcomePassed, Clear
			path.source, path.row = fromEligibility, int32(i)
			return path
		case Unknown:
			path.Outcome, path.Verdict = OutcomeUnknown, Undetermined
			path.open = path.open.or(row.when.open(&p.facts))
		case No:
		}
	}
	return path
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
		var t tally
		t.count(p, row, nil, nil)
		if row.countsPersons() || p.met(row, &t, -1) != Yes { // who is aboard is the flight's to say
			p.spare = append(p.spare, int32(i))
		}
	}
}

// met says whether the units that still work satisfy the row, on a flight with so many aboard as the row counts; -1 where
// nobody knows.
func (p *Plan) met(row *planRow, t *tally, aboard int32) Truth {
	need := row.need
	if row.countsPersons() {
		need = aboard
	}
	if row.quantity == allOnRecord || row.quantity == allInstalled {
		if t.working < t.fitted {
			return No
		}
		need = 1
	}
	if need < 0 {
		return TruthOf(p.everySeat(row, t)).orUnknown()
	}
	if row.places != 0 && (need > 1 || row.quantity == eachFrontSeat) {
		return p.metPlaces(row, t)
	}
	if row.amount(t.working, t.unplaced, t.served) >= need {
		return Yes
	}
	return p.shortfall(row.amount(t.fitted, t.unstated, t.stated) >= need)
}

// tally is what the units of a row amount to.
type tally struct {
	fitted, working    int32  // units
	unstated, unplaced int32  // of these, units of which nobody has said what they serve
	stated, served     uint64 // places that the others serve
}

// count adds up the units of a row. failed and removed hold a bit a unit; nil means none.
func (t *tally) count(p *Plan, row *planRow, failed, removed bitset) {
	for _, u := range row.providers {
		if row.quantity == allInstalled && removed.has(u) {
			continue // elsewhere a unit taken out leaves the row short
		}
		serves := p.units[u].serves
		t.fitted++
		t.stated |= serves
		if serves == 0 {
			t.unstated++
		}
		if failed.has(u) {
			continue
		}
		t.working++
		t.served |= serves
		if serves == 0 {
			t.unplaced++
		}
	}
}

// countsPersons says whether the row wants as much as there are persons of some kind.
func (row *planRow) countsPersons() bool { return row.quantity >= eachOccupant }

// amount is what units count for. Where persons are counted a unit may serve several seats, and two units at one seat
// serve one person.
func (row *planRow) amount(units, unstated int32, places uint64) int32 {
	if row.countsPersons() {
		return unstated + int32(bits.OnesCount64(places))
	}
	return units
}

// everySeat says that the units suffice for every seat, so that it does not matter how many persons take one. Persons
// under two may be aboard without a seat (91.107(a)(3)), so where all persons count the seats say nothing.
func (p *Plan) everySeat(row *planRow, t *tally) bool {
	return row.countsPersons() && row.quantity != eachPerson && p.seats.Known && p.seats.Value > 0 &&
		row.amount(t.working, t.unplaced, t.served) >= clamp(p.seats.Value)
}

// clamp bounds a number of persons or units to what a finding can tell. No aircraft comes near the bound.
func clamp(n int) int32 { return int32(min(n, math.MaxInt16)) }

// orUnknown is Unknown instead of No: enough for every seat is enough for every flight, fewer may still be enough.
func (t Truth) orUnknown() Truth {
	if t == Yes {
		return Yes
	}
	return Unknown
}

// metPlaces decides a row that wants one unit for each of several engines, tanks or seats. A unit of which nobody has
// said what it serves is taken to serve a place of its own, one that no other unit serves.
func (p *Plan) metPlaces(row *planRow, t *tally) Truth {
	open := row.places &^ t.served
	missing := int32(bits.OnesCount64(open))
	switch {
	case missing == 0:
		return Yes
	case t.unplaced < missing:
		return p.shortfall(int32(len(row.providers)) >= row.need)
	case open == row.places&^t.stated && t.unplaced == t.unstated:
		return Yes // every unit that bears on the open places works, and there is one for each
	default:
		return Unknown // which of them failed decides, and nobody has said which serves which
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
