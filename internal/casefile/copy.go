package casefile

import "slices"

// Copy is a case of which any field can be set without changing this one. Plain values that a pointer points to are
// shared: a change must set another pointer.
func (c Case) Copy() Case {
	c.Defects = slices.Clone(c.Defects)
	for i := range c.Defects {
		d := &c.Defects[i]
		d.Found = clone(d.Found)
		if d.Deferral = clone(d.Deferral); d.Deferral != nil {
			d.Deferral.HazardConsidered = slices.Clone(d.Deferral.HazardConsidered)
		}
	}
	c.Aircraft.Facts.Approved = cloneList(c.Aircraft.Facts.Approved)
	c.Aircraft.Facts.Upkeep = c.Aircraft.Facts.Upkeep.copy()
	c.Aircraft.Facts.Papers = clone(c.Aircraft.Facts.Papers)
	c.Aircraft.Configuration = c.Aircraft.Configuration.copy()
	c.Flight = c.Flight.copy()
	c.CompanyRules = slices.Clone(c.CompanyRules)
	if c.Expect = clone(c.Expect); c.Expect != nil {
		c.Expect.Findings = slices.Clone(c.Expect.Findings)
	}
	return c
}

func (u *Upkeep) copy() *Upkeep {
	if u = clone(u); u != nil {
		u.Items = slices.Clone(u.Items)
		for i := range u.Items {
			it := &u.Items[i]
			it.First, it.Every, it.Part = clone(it.First), clone(it.Every), clone(it.Part)
			it.Done, it.Stops = slices.Clone(it.Done), slices.Clone(it.Stops)
		}
	}
	return u
}

func (c Configuration) copy() Configuration {
	c.Units = slices.Clone(c.Units)
	for i := range c.Units {
		u := &c.Units[i]
		u.Also, u.Serves, u.Needs = slices.Clone(u.Also), slices.Clone(u.Serves), slices.Clone(u.Needs)
	}
	for _, l := range []*OwnList{&c.TypeCertification, &c.EquipmentList, &c.KOEL, &c.Directives} {
		l.Confirmed, l.Rows = clone(l.Confirmed), slices.Clone(l.Rows)
		for i := range l.Rows {
			l.Rows[i].Kinds = slices.Clone(l.Rows[i].Kinds)
		}
	}
	c.MEL.Rows = slices.Clone(c.MEL.Rows)
	return c
}

func (f Flight) copy() Flight {
	f.Route, f.Light, f.Earlier = slices.Clone(f.Route), clone(f.Light), clone(f.Earlier)
	f.Airspace, f.Navigation = cloneList(f.Airspace), cloneList(f.Navigation)
	f.ATCAuthorized, f.Operations = slices.Clone(f.ATCAuthorized), slices.Clone(f.Operations)
	if f.SpecialFlightPermit = clone(f.SpecialFlightPermit); f.SpecialFlightPermit != nil {
		p := f.SpecialFlightPermit
		p.Covers, p.Limitations, p.Kinds = slices.Clone(p.Covers), slices.Clone(p.Limitations), cloneList(p.Kinds)
	}
	return f
}

func clone[T any](p *T) *T {
	if p == nil {
		return nil
	}
	v := *p
	return &v
}

func cloneList(p *[]string) *[]string {
	if p = clone(p); p != nil {
		*p = slices.Clone(*p)
	}
	return p
}
