package engines

import (
	"slices"
	"strconv"
	"strings"

	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	aw "tiedown/internal/airworthiness"
)

// CEL judges with the tables as CEL programs; what is counted is counted in Go.
type CEL struct {
	*CELBook
	*equipment
	prepared []*activation // one a flight, with the aircraft's conditions in it
	flights  []aw.Flight
	defects  []aw.Defect
	checks   []int32
	spare    []int32
	opened   int // row of eligibility that opens the path, or -1
	eligible aw.Truth
	bound    aw.Truth // an MEL governs
	listed   [aw.StepPilot]bool
	unitVars []unitVariable
	deferral [10]int // slots of the conditions on a deferral, in the order of deferralNames

	// What Stand counts once for all flights, kept so that it need not be made anew.
	failed   unitSet
	removed  unitSet
	touched  unitSet // rows, not units
	subjects []celSubject
	short    []celShort
	bare     int // how many of short no defect bears on; they come first

	// What one determination works with.
	activation *activation
	flight     *aw.Flight
	brief      bool // leave out the findings that ask nothing of anybody
	findings   []celFinding
	verdict    aw.Verdict
}

// celSubject is what a defect is about.
type celSubject struct {
	unit      int32 // -1 for none on record
	equipment aw.Truth
	deferral  [10]aw.Truth // the conditions on its deferral, in the order of deferralNames
	from, to  int          // the rows among those short that it bears on
	others    []celOther
}

// celShort is a row that what still works does not meet, or may not: where persons are counted, the flight decides.
type celShort struct {
	row   int32
	have  int32
	met   aw.Truth
	count count
}

type unitVariable struct {
	name  string
	slot  int
	item  int
	days  int
	arg   string   // of a condition on upkeep, the kind of items
	truth aw.Truth // as Stand found it, save where the date of the flight decides
}

type celFinding struct {
	step    aw.Step
	outcome aw.Outcome
	verdict aw.Verdict
	table   celTable
	defect  int16
	row     int32
}

type celTable uint8

const (
	celSteps celTable = iota
	celEligibility
	celRows
	celProcedure
	celPairs
)

// NewCEL prepares a case: what is done once an aircraft, and once a flight.
func NewCEL(b *CELBook, c Case) (*CEL, error) {
	e, err := newEquipment(b.book, &c.Aircraft)
	if err != nil {
		return nil, err
	}
	engine := &CEL{CELBook: b, equipment: e, flights: c.Flights, defects: c.Defects}
	aircraft := b.newActivation()
	if err := b.prepare(aircraft, ofAircraft, aircraftFacts(&c.Aircraft)); err != nil {
		return nil, err
	}
	if err := engine.addRows(aircraft); err != nil {
		return nil, err
	}
	engine.addOwnRows()
	e.chain()
	engine.failed = make(unitSet, (len(e.units)+63)/64)
	engine.removed = make(unitSet, (len(e.units)+63)/64)
	engine.touched = make(unitSet, (len(e.rows)+63)/64)
	engine.subjects = make([]celSubject, len(c.Defects))
	engine.findSlots(aircraft)
	for i := range c.Flights {
		a := b.newActivation()
		copy(a.values, aircraft.values)
		if err := b.prepare(a, ofFlight, flightFacts(&c.Flights[i])); err != nil {
			return nil, err
		}
		engine.prepared = append(engine.prepared, a)
	}
	return engine, engine.settleEligibility(aircraft)
}

// addRows gives the aircraft its rows. In a settled book those that its facts rule out are dropped, and so are reliefs;
// those that the facts alone bring into play are marked, so that a determination does not ask about them either.
func (c *CEL) addRows(aircraft *activation) error {
	// Nothing is known of the flight and the units yet: what is settled now, the aircraft's facts settle.
	settle := func(program cel.Program) (ref.Val, error) {
		if !c.CELBook.settled {
			return isUnknown, nil
		}
		out, _, err := program.Eval(aircraft)
		return out, err
	}
	for i := range c.book.rows {
		r := &c.book.rows[i]
		if r.prefill && confirmed(&c.aircraft.TypeCertification) {
			continue
		}
		out, err := settle(c.CELBook.rows[i])
		if err != nil {
			return err
		}
		if out == isNo && r.quantity != "note" {
			continue
		}
		row := equipmentRow{bookRow: r, program: i, kind: -1, settled: out == isYes && r.must == ""}
		for _, relief := range c.relievedBy[r.id] {
			out, err := settle(c.CELBook.reliefs[relief])
			if err != nil {
				return err
			}
			if out != isNo {
				row.reliefs = append(row.reliefs, relief)
			}
		}
		if len(r.items) == 0 {
			c.checks = append(c.checks, int32(len(c.equipment.rows)))
		}
		c.equipment.add(c.book, row)
	}
	return nil
}

// addOwnRows turns the aircraft's own documents into rows beside those of regulation.
func (c *CEL) addOwnRows() {
	a := c.aircraft
	for _, list := range []struct {
		of   aw.OwnList
		step aw.Step
	}{
		{a.TypeCertification, aw.StepTypeCertification},
		{a.EquipmentList, aw.StepEquipmentList},
		{a.KOEL, aw.StepEquipmentList},
		{a.Directives, aw.StepDirective},
	} {
		for _, own := range list.of.Rows {
			row := equipmentRow{
				bookRow: &bookRow{
					id: "own:" + list.step.String(), step: list.step, items: []string{own.Item},
					quantity: strconv.Itoa(max(own.Quantity, 1)),
				},
				program: -1, kind: -1, settled: own.Kinds == 0 || list.step == aw.StepTypeCertification,
			}
			if row.settled {
				c.equipment.add(c.book, row)
				continue
			}
			for kind := range aw.KindNames() {
				if own.Kinds&(1<<kind) != 0 {
					row.kind = kind
					c.equipment.add(c.book, row)
				}
			}
		}
	}
	looked := func(l aw.OwnList) bool { return l.OnRecord != aw.Unknown }
	c.listed[aw.StepTypeCertification] = confirmed(&a.TypeCertification)
	c.listed[aw.StepEquipmentList] = looked(a.EquipmentList) && looked(a.KOEL)
	c.listed[aw.StepRegulation] = true
	c.listed[aw.StepDirective] = looked(a.Directives)
}

func confirmed(l *aw.OwnList) bool { return l.OnRecord == aw.Yes && l.Confirmed == aw.Yes }

func (c *CEL) findSlots(aircraft *activation) {
	for _, condition := range c.conditions {
		slot := condition.slot
		name, arg, _ := strings.Cut(condition.key, ":")
		switch condition.owner {
		case ofUnits:
			item, days, _ := strings.Cut(arg, "/")
			v := unitVariable{name: name, slot: slot, item: c.index[item], arg: arg}
			if name == "vor-checked-within" || isInspection(name) {
				days = arg
			}
			v.days, _ = strconv.Atoi(days)
			c.unitVars = append(c.unitVars, v)
			if name == "installed" || name == "works" {
				aircraft.put(slot+2, c.anyUnit(v.item, c.failed)) // as configured: nothing has failed yet
			}
		case ofDeferral:
			c.deferral[slices.Index(deferralNames, name)] = slot
		}
	}
	for i := range c.equipment.rows {
		r := &c.equipment.rows[i]
		if len(r.items) == 0 || r.prefill {
			continue
		}
		hangs := slices.ContainsFunc(r.when, func(t term) bool { return c.condition(t.key).owner == ofUnits })
		n := c.count(r, c.failed, c.removed)
		if hangs || r.persons || c.met(r, &n, -1) != aw.Yes {
			c.spare = append(c.spare, int32(i))
		}
	}
}

func (c *CEL) settleEligibility(aircraft *activation) error {
	c.eligible, c.opened, c.bound = aw.No, -1, c.aircraft.MELAuthorized
	for i, program := range c.eligibility {
		out, _, err := program.Eval(aircraft)
		if err != nil {
			return err
		}
		switch out {
		case isYes:
			c.eligible, c.opened = aw.Yes, i
			return nil
		case isNo:
		default:
			c.eligible = aw.Unknown
		}
	}
	return nil
}

// ask runs one row's program. The programs have been compiled over the very variables that the activation holds, and no
// expression can fail on booleans: an error would be the baseline's own mistake.
func (c *CEL) ask(program cel.Program) types.Int {
	out, _, err := program.Eval(c.activation)
	if err != nil {
		panic(err)
	}
	return out.(types.Int)
}
