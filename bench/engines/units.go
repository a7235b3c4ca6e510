package engines

import (
	"fmt"
	"math/bits"
	"slices"

	aw "tiedown/internal/airworthiness"
)

// equipment is what the CEL baseline counts in Go: one aircraft's units, and what each row has to meet it.
type equipment struct {
	aircraft *aw.Aircraft
	units    []equipmentUnit
	byID     map[string]int32
	byItem   [][]int32 // item -> units that do its job
	rows     []equipmentRow
}

type equipmentUnit struct {
	item   int
	serves uint64
	rows   []int32 // rows that it, or a unit that needs it, helps to meet
	fells  []int32 // units that do not work without it
}

// equipmentRow is a row that bears on the aircraft.
type equipmentRow struct {
	*bookRow
	program   int  // its place among the book's programs, or -1 for a row of the aircraft's own documents
	kind      int  // of such a row: the one kind of operation that it is for, or -1 for all
	settled   bool // the aircraft's facts alone bring it into play, so that its program need not be asked
	providers []int32
	need      int32 // -1 when the flight or an unknown fact decides
	places    uint64
	all       bool // every unit must work
	installed bool // of all: those taken out do not count
	persons   bool // it wants as much as there are persons of some kind
	reliefs   []int
}

func newEquipment(b *book, a *aw.Aircraft) (*equipment, error) {
	e := &equipment{aircraft: a, byID: map[string]int32{}, byItem: make([][]int32, len(b.items))}
	for i, u := range a.Units {
		item, ok := b.index[u.Item]
		if !ok {
			return nil, fmt.Errorf("unit %q: item %q is not in the catalog", u.ID, u.Item)
		}
		e.byID[u.ID] = int32(i)
		e.units = append(e.units, equipmentUnit{item: item, serves: u.Serves})
		for _, key := range slices.Concat([]string{u.Item}, b.items[item].servesAs, u.Also) {
			if also := b.index[key]; !slices.Contains(e.byItem[also], int32(i)) {
				e.byItem[also] = append(e.byItem[also], int32(i))
			}
		}
	}
	return e, nil
}

// add gives a row what this aircraft has to meet it.
func (e *equipment) add(b *book, r equipmentRow) {
	for _, key := range r.items {
		for _, u := range e.byItem[b.index[key]] {
			if !slices.Contains(r.providers, u) {
				r.providers = append(r.providers, u)
			}
		}
	}
	r.need, r.places = e.need(r.bookRow)
	r.all, r.installed = r.quantity == "all" || r.quantity == "all-installed", r.quantity == "all-installed"
	r.persons = slices.Contains([]string{"each-occupant", "each-person", "each-required-crew"}, r.quantity)
	for _, u := range r.providers {
		e.units[u].rows = append(e.units[u].rows, int32(len(e.rows)))
	}
	e.rows = append(e.rows, r)
}

func (e *equipment) need(r *bookRow) (int32, uint64) {
	if n := r.count(); n > 0 {
		return int32(n), 0
	}
	n, ok := map[string]aw.Fact[int]{
		"each-engine": e.aircraft.Engines, "each-tank": e.aircraft.Tanks, "each-seat": e.aircraft.Seats,
		"each-front-seat": e.aircraft.FrontSeats,
	}[r.quantity]
	if !ok || !n.Known || n.Value < 0 || n.Value > 64 {
		return -1, 0
	}
	return int32(n.Value), ^uint64(0) >> (64 - n.Value)
}

// chain follows what needs what, after the last row has been added.
func (e *equipment) chain() {
	own := make([][]int32, len(e.units))
	for i := range e.units {
		own[i] = slices.Clone(e.units[i].rows)
	}
	for i := range e.units {
		reached := []int32{int32(i)}
		for j := 0; j < len(reached); j++ {
			for other, u := range e.aircraft.Units {
				if slices.Contains(u.Needs, e.aircraft.Units[reached[j]].ID) && !slices.Contains(reached, int32(other)) {
					reached = append(reached, int32(other))
				}
			}
		}
		u := &e.units[i]
		u.fells = reached[1:]
		for _, other := range u.fells {
			for _, row := range own[other] {
				if !slices.Contains(u.rows, row) {
					u.rows = append(u.rows, row)
				}
			}
		}
	}
}

// unitSet is a set of units.
type unitSet []uint64

func (s unitSet) has(u int32) bool { return s[u/64]&(1<<(u%64)) != 0 }
func (s unitSet) set(u int32)      { s[u/64] |= 1 << (u % 64) }
func (s unitSet) unset(u int32)    { s[u/64] &^= 1 << (u % 64) }

// count is what the units of a row amount to.
type count struct {
	fitted, working    int32
	unstated, unplaced int32  // of these, units of which nobody has said what they serve
	stated, served     uint64 // places that the others serve
}

func (e *equipment) count(r *equipmentRow, failed, removed unitSet) count {
	var c count
	for _, u := range r.providers {
		if r.installed && removed.has(u) {
			continue
		}
		serves := e.units[u].serves
		silent := int32(0)
		if serves == 0 {
			silent = 1
		}
		c.fitted, c.unstated, c.stated = c.fitted+1, c.unstated+silent, c.stated|serves
		if !failed.has(u) {
			c.working, c.unplaced, c.served = c.working+1, c.unplaced+silent, c.served|serves
		}
	}
	return c
}

func (r *equipmentRow) amount(units, silent int32, places uint64) int32 {
	if r.persons {
		return silent + int32(bits.OnesCount64(places))
	}
	return units
}

// met says whether the units that still work satisfy the row, for a flight with so many aboard (-1: not known).
func (e *equipment) met(r *equipmentRow, c *count, aboard int32) aw.Truth {
	need := r.need
	if r.persons {
		need = aboard
	}
	if r.all {
		if c.working < c.fitted {
			return aw.No
		}
		need = 1
	}
	working := r.amount(c.working, c.unplaced, c.served)
	switch seats := e.aircraft.Seats; {
	case need < 0 && r.persons && r.quantity != "each-person" && seats.Known && seats.Value > 0 && working >= int32(seats.Value):
		return aw.Yes
	case need < 0:
		return aw.Unknown
	case r.places != 0 && (need > 1 || r.quantity == "each-front-seat"):
		return e.metPlaces(r, c)
	case working >= need:
		return aw.Yes
	}
	return e.shortfall(r.amount(c.fitted, c.unstated, c.stated) >= need)
}

func (e *equipment) metPlaces(r *equipmentRow, c *count) aw.Truth {
	open := r.places &^ c.served
	missing := int32(bits.OnesCount64(open))
	switch {
	case missing == 0:
		return aw.Yes
	case c.unplaced < missing:
		return e.shortfall(int32(len(r.providers)) >= r.need)
	case open == r.places&^c.stated && c.unplaced == c.unstated:
		return aw.Yes
	default:
		return aw.Unknown
	}
}

func (e *equipment) shortfall(enoughOnRecord bool) aw.Truth {
	if enoughOnRecord || e.aircraft.UnitsComplete == aw.Yes {
		return aw.No
	}
	return aw.Unknown
}

// anyUnit says whether a unit that does the item's job is not among the excluded. If no such unit is on record at all,
// the record must be complete to say No.
func (e *equipment) anyUnit(item int, excluded unitSet) aw.Truth {
	units := e.byItem[item]
	if len(units) == 0 && e.aircraft.UnitsComplete != aw.Yes {
		return aw.Unknown
	}
	return aw.TruthOf(slices.ContainsFunc(units, func(u int32) bool { return !excluded.has(u) }))
}
