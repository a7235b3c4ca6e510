package casefile

import "slices"

// Copy is a case whose squawks, units and documents can be changed without changing this one. What pointers point to is
// shared: a change must set another pointer.
func (c Case) Copy() Case {
	c.Defects = slices.Clone(c.Defects)
	for i := range c.Defects {
		if d := c.Defects[i].Deferral; d != nil {
			deferral := *d
			c.Defects[i].Deferral = &deferral
		}
	}
	c.Aircraft.Configuration.Units = slices.Clone(c.Aircraft.Configuration.Units)
	return c
}
