package engines

import aw "tiedown/internal/airworthiness"

// Stand counts what the defects leave of the aircraft, once for all flights, as the engine does.
func (c *CEL) Stand() {
	clear(c.failed)
	clear(c.removed)
	clear(c.touched)
	c.short = c.short[:0]
	c.identify()
	c.markUnits()
	for i := range c.unitVars {
		switch v := &c.unitVars[i]; v.name {
		case "installed":
			v.truth = c.anyUnit(v.item, c.removed)
		case "works":
			v.truth = c.anyUnit(v.item, c.failed)
		}
	}
	for _, i := range c.spare {
		if !c.touched.has(i) {
			c.tally(i)
		}
	}
	c.bare = len(c.short)
	for i := range c.subjects {
		s := &c.subjects[i]
		s.from = len(c.short)
		if s.unit >= 0 && s.equipment == aw.Yes {
			for _, row := range c.units[s.unit].rows {
				c.tally(row)
			}
		}
		s.to = len(c.short)
	}
	c.lookBeside()
}

func (c *CEL) identify() {
	for i := range c.defects {
		d, s := &c.defects[i], &c.subjects[i]
		s.unit = -1
		if u, ok := c.byID[d.Unit]; ok && d.Unit != "" {
			s.unit = u
		}
		s.equipment, s.deferral = c.isEquipment(d, s.unit), deferral(d.Deferral)
	}
}

func (c *CEL) isEquipment(d *aw.Defect, unit int32) aw.Truth {
	item, ok := c.index[d.Item]
	if d.Unit != "" {
		if ok = unit >= 0; ok {
			item = c.units[unit].item
		}
	}
	switch {
	case d.Kind == aw.KindCondition:
		return aw.No
	case !ok:
		return aw.Unknown
	case c.items[item].nature == "condition":
		return aw.No
	case d.Kind != aw.KindInoperative:
		return aw.Unknown
	}
	return aw.Yes
}

// deferral is what the conditions on a deferral are, in the order of deferralNames. The last two are the flight's to
// say, save where there is no deferral that could have run out, or have been made in view of the others.
func deferral(d *aw.Deferral) [10]aw.Truth {
	if d == nil {
		return [10]aw.Truth{aw.No, aw.No, aw.No, aw.No, aw.No, aw.No, aw.No, aw.Unknown, aw.Yes, aw.No}
	}
	method := func(m aw.Method) aw.Truth {
		if d.Method == aw.MethodUnstated {
			return aw.Unknown
		}
		return aw.TruthOf(d.Method == m)
	}
	outOfUse := d.MethodDone
	if d.Method == aw.MethodUnstated && outOfUse == aw.Yes {
		outOfUse = aw.Unknown
	}
	return [10]aw.Truth{
		method(aw.Removed), method(aw.Deactivated), outOfUse, d.Placarded, d.Recorded, d.HazardDetermined,
		aw.TruthOf(d.EntryByRuleText), d.InvolvesMaintenance, aw.Unknown, aw.Unknown,
	}
}

func (c *CEL) markUnits() {
	for i := range c.subjects {
		s := &c.subjects[i]
		if s.unit < 0 {
			continue
		}
		unit := &c.units[s.unit]
		c.failed.set(s.unit)
		for _, other := range unit.fells {
			c.failed.set(other)
		}
		if isRemoved(&c.defects[i]) {
			c.removed.set(s.unit)
		}
		if s.equipment == aw.Yes {
			for _, row := range unit.rows {
				if c.bound != aw.Yes || c.equipment.rows[row].step >= aw.StepRegulation { // the others an MEL takes the place of
					c.touched.set(row)
				}
			}
		}
	}
	for i := range c.subjects {
		s := &c.subjects[i]
		if s.unit < 0 {
			continue
		}
		if !isRemoved(&c.defects[i]) {
			c.removed.unset(s.unit)
		}
		for _, other := range c.units[s.unit].fells {
			c.removed.unset(other)
		}
	}
}

func isRemoved(d *aw.Defect) bool {
	return d.Deferral != nil && d.Deferral.Method == aw.Removed && d.Deferral.MethodDone == aw.Yes
}

// tally keeps a row that is short of equipment, or may be.
func (c *CEL) tally(i int32) {
	r := &c.equipment.rows[i]
	s := celShort{row: i, count: c.count(r, c.failed, c.removed)}
	s.have = r.amount(s.count.working, s.count.unplaced, s.count.served)
	if !r.persons {
		if s.met = c.met(r, &s.count, -1); s.met == aw.Yes {
			return
		}
	}
	c.short = append(c.short, s)
}
