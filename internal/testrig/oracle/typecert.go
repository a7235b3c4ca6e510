package oracle

// needed is one item that a certification basis asks for by day under VFR, as far as it is remembered.
type needed struct {
	item    string
	applies truth
	met     truth
}

// basisList are the items that the aircraft's certification basis asks for by day under VFR. All of it is from memory:
// an item on the list is required, and one that is not on it may be required all the same.
func (s *scene) basisList() []needed {
	car3, old23 := s.basis("car-3"), s.basis("part-23-before-64")
	rotor := some(s.basis("part-27"), s.basis("part-29"))
	fixed := some(car3, old23)
	any := some(fixed, rotor)
	recip := s.engine("reciprocating")
	one := func(item string, applies truth) needed { return needed{item, applies, s.works(item)} }
	engines := func(item string, applies truth) needed { return needed{item, applies, s.eachWorks(s.Engines, item)} }
	return []needed{
		one("airspeed-indicator", any),
		one("altimeter", any),
		one("magnetic-compass", any),
		one("outside-air-temperature-gauge", all(old23, some(s.engine("turbine"), all(recip, not(s.weighsAtMost(6000)))))),
		one("overspeed-warning", all(old23, s.engine("turbine"))),
		{"fuel-quantity-gauge", any, s.eachWorks(s.Tanks, "fuel-quantity-gauge")},
		engines("oil-pressure-gauge", any),
		engines("oil-temperature-gauge", any),
		engines("oil-quantity-gauge", no),
		engines("tachometer", some(car3, all(old23, recip), rotor)),
		engines("cylinder-head-temperature-gauge", all(old23, recip, s.cooled("air"), known(s.CowlFlaps))),
		engines("fuel-pressure-gauge", some(all(car3, known(s.PumpFedFuel)), all(old23, recip, known(s.PumpFedFuel)), all(rotor, known(s.PumpFedFuel)))),
		engines("manifold-pressure-gauge", some(
			all(fixed, known(s.AltitudeEngine)), all(old23, recip, known(s.ControllablePropeller)), all(rotor, known(s.AltitudeEngine)))),
		engines("coolant-temperature-gauge", all(fixed, s.cooled("liquid"))),
		one("master-switch", all(fixed, known(s.ElectricalSystem))),
		one("alternator", all(car3, known(s.ElectricalSystem))),
		{"safety-belt", car3, s.eachWorks(s.Seats, "safety-belt")},
		one("rotor-tachometer", rotor),
		one("low-fuel-warning", rotor),
	}
}
