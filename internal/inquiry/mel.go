package inquiry

import (
	"fmt"
	"slices"
	"strconv"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// lost are the units that do not work while a squawk is open: its own, and those that need it, however far down the line.
func (a *asker) lost(defect int) []casefile.Unit {
	units := a.c.Aircraft.Configuration.Units
	var lost []casefile.Unit
	for _, u := range units {
		if u.ID == a.c.Defects[defect].Unit {
			lost = append(lost, u)
		}
	}
	for i := 0; i < len(lost); i++ {
		for _, u := range units {
			isKnown := slices.ContainsFunc(lost, func(v casefile.Unit) bool { return v.ID == u.ID })
			if slices.Contains(u.Needs, lost[i].ID) && !isKnown {
				lost = append(lost, u)
			}
		}
	}
	return lost
}

// bearsOn says whether a row about an item speaks of a squawk.
func (a *asker) bearsOn(item string, defect int) bool {
	lost := a.lost(defect)
	if len(lost) == 0 {
		return a.c.Defects[defect].Item == item
	}
	return slices.ContainsFunc(a.unitsFor(item), func(u casefile.Unit) bool {
		return slices.ContainsFunc(lost, func(v casefile.Unit) bool { return v.ID == u.ID })
	})
}

// askMEL asks for the MEL that governs: one without the items that are squawked, and one that allows each of them.
func (a *asker) askMEL(asks string) {
	const name = "aircraft.configuration.mel"
	f := openFact{name: name, asks: asks}
	given := a.c.Aircraft.Configuration.MEL
	if given.OnRecord != nil {
		a.add(f) // there is none, and one must govern: what is given is never changed
		return
	}
	add := func(words string, more []casefile.MELRow) {
		m := given
		m.OnRecord, m.Rows = boolean(true), slices.Concat(given.Rows, more)
		f.values = append(f.values, factValue{FactValue{text(m), words}, func(c *casefile.Case) {
			entered := m
			entered.Rows = slices.Clone(m.Rows)
			c.Aircraft.Configuration.MEL = entered
		}})
	}
	add("on record, with nothing that is squawked beyond the rows given", nil)
	if more := a.allowing(given); len(more) > 0 {
		add("on record, and it allows everything that is squawked", more)
	}
	a.add(f)
}

// allowing makes a row for every item that does not work and has none.
func (a *asker) allowing(m casefile.MEL) []casefile.MELRow {
	var items []string
	for i := range a.c.Defects {
		if lost := a.lost(i); len(lost) > 0 {
			for _, u := range lost {
				items = appendNew(items, u.Item)
			}
		} else if item := a.c.Defects[i].Item; item != "" {
			items = appendNew(items, item)
		}
	}
	slices.Sort(items)
	var rows []casefile.MELRow
	for _, item := range items {
		if slices.ContainsFunc(m.Rows, func(r casefile.MELRow) bool { return r.Item == item }) {
			continue
		}
		none := 0
		rows = append(rows, casefile.MELRow{
			Item: item, Required: &none, Category: "C", OperationsProcedure: boolean(false), MaintenanceProcedure: boolean(false),
		})
	}
	return rows
}

// askOfMEL asks for a field of the MEL as a whole.
func (a *asker) askOfMEL(fact, asks string) {
	f := openFact{name: fact, asks: asks}
	add := func(value any, words string, set func(*casefile.MEL)) {
		f.values = append(f.values, factValue{FactValue{text(value), words}, func(c *casefile.Case) { set(&c.Aircraft.Configuration.MEL) }})
	}
	switch fact {
	case "aircraft.configuration.mel.authority":
		for _, word := range airworthiness.Vocabulary("mel_authority") {
			add(word, word, func(m *casefile.MEL) { m.Authority = word })
		}
	case "aircraft.configuration.mel.letter_aboard":
		for _, so := range []bool{true, false} {
			add(so, yesOrNo(so), func(m *casefile.MEL) { m.LetterAboard = boolean(so) })
		}
	case "aircraft.configuration.mel.aboard":
		for _, so := range []bool{true, false} {
			add(so, yesOrNo(so), func(m *casefile.MEL) { m.Aboard = boolean(so) })
		}
	}
	a.add(f)
}

func yesOrNo(so bool) string { return pick(so, "yes", "no") }

// askMELRows asks for a field of the rows of the MEL that bear on a squawk and do not have it.
func (a *asker) askMELRows(field, asks string, defect int, wants airworthiness.Wants) {
	if defect < 0 {
		return
	}
	for i := range a.c.Aircraft.Configuration.MEL.Rows {
		row := &a.c.Aircraft.Configuration.MEL.Rows[i]
		if a.bearsOn(row.Item, defect) {
			a.askMELRow(row, field, asks, defect, wants)
		}
	}
}

func (a *asker) askMELRow(row *casefile.MELRow, field, asks string, defect int, wants airworthiness.Wants) {
	f := openFact{name: fmt.Sprintf("aircraft.configuration.mel.rows[%s].%s", row.Item, field), asks: asks}
	add := func(value any, words string, set func(*casefile.MELRow)) {
		f.values = append(f.values, factValue{FactValue{text(value), words}, func(c *casefile.Case) {
			rows := c.Aircraft.Configuration.MEL.Rows
			if i := slices.IndexFunc(rows, func(r casefile.MELRow) bool { return r.Item == row.Item }); i >= 0 {
				set(&rows[i])
			}
		}})
	}
	number := func(n int, set func(*casefile.MELRow)) { add(n, strconv.Itoa(n), set) }
	switch {
	case field == "required" && row.Required == nil:
		working := wants.Have
		for _, n := range slices.Compact([]int{0, working, working + 1}) {
			number(n, func(r *casefile.MELRow) { r.Required = &n })
		}
	case field == "operations_procedure" && row.OperationsProcedure == nil:
		for _, so := range []bool{true, false} {
			add(so, yesOrNo(so), func(r *casefile.MELRow) { r.OperationsProcedure = boolean(so) })
		}
	case field == "maintenance_procedure" && row.MaintenanceProcedure == nil:
		for _, so := range []bool{true, false} {
			add(so, yesOrNo(so), func(r *casefile.MELRow) { r.MaintenanceProcedure = boolean(so) })
		}
	case field == "category" && row.Category == "":
		for _, word := range airworthiness.Vocabulary("mel_category") {
			add(word, "category "+word, func(r *casefile.MELRow) { r.Category = word })
		}
	case field == "days" && row.Days == nil:
		for _, n := range a.daysOf(defect) {
			number(n, func(r *casefile.MELRow) { r.Days = &n })
		}
	default:
		return // this row has it: another lacks it
	}
	a.add(f)
}

// daysOf tries as many days as last until the flight ends, and one fewer. Where nobody knows when the defect was
// discovered, one day and a hundred lie on either side of what is tried for that.
func (a *asker) daysOf(defect int) []int {
	deferral := a.c.Defects[defect].Deferral
	if deferral != nil {
		if day, ok := airworthiness.ParseDate(deferral.Discovered); ok {
			gone := int(airworthiness.DateOf(a.c.Flight.Arrives) - day)
			return slices.DeleteFunc([]int{gone - 1, max(gone, 1)}, func(n int) bool { return n < 1 })
		}
	}
	return []int{1, 100}
}
