package engines

import (
	"slices"

	"github.com/google/cel-go/common/types"

	aw "tiedown/internal/airworthiness"
)

func outcomeNamed(name string) aw.Outcome { return aw.Outcome(slices.Index(aw.OutcomeNames(), name)) }

// regoInput is all that Rego is told of one flight: the conditions by what is known of them, the rows that are short, the
// defects, and what is in force on the day.
func (c *CEL) regoInput(flight int) map[string]any {
	c.flight, c.activation = &c.flights[flight], c.prepared[flight]
	c.putUnits()
	yes, no := c.regoConditions()
	notes, short := c.regoChecks()
	short = append(short, c.regoShort(c.short[:c.bare])...)
	listed := map[string]any{}
	for step := aw.StepTypeCertification; step <= aw.StepDirective; step++ {
		if c.listed[step] {
			listed[step.String()] = true
		}
	}
	defects := []any{}
	for i := range c.defects {
		defects = append(defects, c.regoDefect(i))
	}
	procedure := map[string]any{}
	for _, r := range c.book.procedure {
		if r.inForce(c.flight.On) {
			procedure[r.id] = true
		}
	}
	return map[string]any{
		"yes": yes, "no": no, "envelope": c.flight.Envelope, "bound": c.bound == aw.Yes, "path": c.regoPath(),
		"listed": listed, "notes": notes, "short": short, "defects": defects, "procedure": procedure,
	}
}

func (c *CEL) regoConditions() (yes, no map[string]any) {
	yes, no = map[string]any{}, map[string]any{}
	put := func(key string, slot int) {
		if c.activation.values[slot] == types.True {
			yes[key] = true
		}
		if c.activation.values[slot+1] == types.True {
			no[key] = true
		}
	}
	for _, condition := range c.conditions {
		switch condition.owner {
		case ofDeferral:
			continue
		case ofUnits:
			put("configured "+condition.key, condition.slot+2)
		}
		put(condition.key, condition.slot)
	}
	return yes, no
}

func (c *CEL) regoPath() []any {
	path := c.path(0)
	if path.table == celEligibility {
		return []any{c.book.eligibility[path.row].id, path.outcome.String(), path.verdict.String()}
	}
	return []any{path.step.String(), path.outcome.String(), path.verdict.String()}
}

// regoChecks are the rows without equipment: the notes, and those of which something must hold.
func (c *CEL) regoChecks() (notes, short []any) {
	notes, short = []any{}, []any{}
	for _, i := range c.checks {
		switch r := &c.equipment.rows[i]; {
		case !r.inForce(c.flight.On):
		case r.quantity == "note":
			notes = append(notes, r.id)
		default:
			row := c.regoRequirement(r, aw.No)
			if c.withinBounds(r.must) {
				row["enough"] = true
			}
			short = append(short, row)
		}
	}
	return notes, short
}

func (c *CEL) regoShort(rows []celShort) []any {
	short := []any{}
	for i := range rows {
		s := &rows[i]
		r := &c.equipment.rows[s.row]
		if !r.inForce(c.flight.On) {
			continue
		}
		met, enough := s.met, false
		if r.persons {
			aboard := c.aboard(r)
			met, enough = c.met(r, &s.count, aboard), aboard < 0 && s.have > 0
		}
		if met == aw.Yes {
			continue
		}
		row := c.regoRequirement(r, met)
		if enough {
			row["enough"] = true
		}
		short = append(short, row)
	}
	return short
}

func (c *CEL) regoRequirement(r *equipmentRow, met aw.Truth) map[string]any {
	row := map[string]any{"id": r.id, "row": r.id, "step": r.step.String(), "met": met.String()}
	switch {
	case r.settled:
		row["row"] = "always"
	case r.kind >= 0:
		row["row"] = "kind:" + aw.KindNames()[r.kind]
	}
	var reliefs []any
	for _, i := range r.reliefs {
		if relief := &c.book.reliefs[i]; relief.inForce(c.flight.On) {
			reliefs = append(reliefs, relief.id)
		}
	}
	if reliefs != nil {
		row["reliefs"] = reliefs
	}
	return row
}

func (c *CEL) regoDefect(i int) map[string]any {
	s := &c.subjects[i]
	rest, yes, no := map[string]any{}, map[string]any{}, map[string]any{}
	for step := aw.StepTypeCertification; step <= aw.StepDirective; step++ {
		if step == aw.StepCompany { // no organization has rules of its own here
			continue
		}
		rest[step.String()] = []any{aw.OutcomeUnknown.String(), aw.Undetermined.String()}
		if c.listed[step] && s.unit >= 0 {
			rest[step.String()] = []any{aw.OutcomePassed.String(), aw.Clear.String()}
		}
	}
	c.putDeferral(i)
	for j, name := range deferralNames {
		if c.activation.values[c.deferral[j]] == types.True {
			yes[name] = true
		}
		if c.activation.values[c.deferral[j]+1] == types.True {
			no[name] = true
		}
	}
	others := []any{}
	for _, o := range s.others {
		rows := []any{}
		for _, row := range o.rows {
			if c.book.pairs[row].inForce(c.flight.On) {
				rows = append(rows, c.book.pairs[row].id)
			}
		}
		others = append(others, map[string]any{"considered": o.considered, "rows": rows})
	}
	short := slices.Clone(c.short[s.from:s.to])
	if c.bound == aw.Yes { // no MEL may allow what the rules or a directive require
		short = slices.DeleteFunc(short, func(s celShort) bool {
			step := c.equipment.rows[s.row].step
			return step != aw.StepRegulation && step != aw.StepDirective
		})
	}
	return map[string]any{
		"id": c.defects[i].ID, "equipment": s.equipment.String(), "rest": rest, "yes": yes, "no": no, "short": c.regoShort(short),
		"others": others, "deferred": c.defects[i].Deferral != nil,
	}
}
