package oracle

// basisLists are the lists that certification bases bring with them.
var basisLists = []struct {
	citation string
	basis    func(*scene) truth
	items    []basisItem
}{
	{"CAR 3.655", car3, car3List},
	{"old 14 CFR 23.1303", oldPart23, old1303List},
	{"old 14 CFR 23.1305", oldPart23, old1305List},
	{"old 14 CFR 23.1351", oldPart23, old1361List},
	{"14 CFR 27.1303", part27, rotor1303List},
	{"14 CFR 27.1305", part27, rotor1305List},
}

// byBasis is the verdict of the list of a certification basis about the items that squawks bear on.
func byBasis(citation string) func(*scene) Verdict {
	return func(s *scene) Verdict { return s.onList(citation, s.askedOfLists) }
}

// onBasisList is the verdict of all of them about some items.
func (s *scene) onBasisList(items map[string]bool) Verdict {
	v := Clear
	for _, list := range basisLists {
		v = max(v, s.onList(list.citation, items))
	}
	return v
}

// onList is the verdict of one list about some items. All of them are from memory: what is listed is required, and what
// is not listed may be required all the same. So it is asked only about an item that is inoperative, and only where no
// rated person has confirmed the aircraft's own list, which is then the whole of it.
func (s *scene) onList(citation string, items map[string]bool) Verdict {
	if s.confirmed() == yes || known(s.MELAuthorized) == yes {
		return Clear
	}
	v := Clear
	for _, list := range basisLists {
		if list.citation != citation {
			continue
		}
		for _, i := range list.items {
			if items[i.item] {
				v = max(v, s.lift(func(s *scene) Verdict {
					return required(all(list.basis(s), i.applies(s)), i.met(s, i.item))
				}))
			}
		}
	}
	return v
}

// basisItem is one item of such a list.
type basisItem struct {
	applies func(*scene) truth
	item    string
	met     func(*scene, string) truth
}

func always(*scene) truth { return yes }

func one(s *scene, item string) truth           { return s.works(item) }
func eachEngineHas(s *scene, item string) truth { return s.eachWorks(s.Engines, item) }
func eachTankHas(s *scene, item string) truth   { return s.eachWorks(s.Tanks, item) }

func eachOccupantHas(s *scene, item string) truth {
	return s.personsServed(s.flight.Occupants, true, item)
}

func car3(s *scene) truth           { return s.basis("car-3") }
func oldPart23(s *scene) truth      { return s.basis("part-23-before-64") }
func part27(s *scene) truth         { return s.basis("part-27") }
func liquidCooled(s *scene) truth   { return s.cooled("liquid") }
func altitudeEngine(s *scene) truth { return known(s.AltitudeEngine) }
func pumpFed(s *scene) truth        { return known(s.PumpFedFuel) }
func electrical(s *scene) truth     { return known(s.ElectricalSystem) }

func cowlFlaps(s *scene) truth { return all(s.cooled("air"), known(s.CowlFlaps)) }
func airCooled(s *scene) truth { return s.cooled("air") }

func altitudeEngineOrControllablePropeller(s *scene) truth {
	return some(known(s.AltitudeEngine), all(s.engine("reciprocating"), known(s.ControllablePropeller)))
}

// car3List is CAR 3.655, with 3.663, 3.666, 3.672 (from memory, save 3.672).
var car3List = []basisItem{
	{always, "airspeed-indicator", one},
	{always, "altimeter", one},
	{always, "magnetic-compass", one},
	{always, "fuel-quantity-gauge", eachTankHas},
	{always, "oil-pressure-gauge", eachEngineHas},
	{always, "oil-temperature-gauge", eachEngineHas},
	{always, "tachometer", eachEngineHas},
	{cowlFlaps, "cylinder-head-temperature-gauge", eachEngineHas},
	{liquidCooled, "coolant-temperature-gauge", eachEngineHas},
	{pumpFed, "fuel-pressure-gauge", eachEngineHas},
	{altitudeEngine, "manifold-pressure-gauge", eachEngineHas},
	{electrical, "master-switch", one},
	{electrical, "alternator", one},
	{always, "safety-belt", eachOccupantHas},
}

// old1303List is the former 14 CFR 23.1303 (from memory). What it asks of turbines and of heavier airplanes is left out.
var old1303List = []basisItem{
	{always, "airspeed-indicator", one},
	{always, "altimeter", one},
	{always, "magnetic-compass", one},
}

// old1305List is the former 14 CFR 23.1305 (from memory).
var old1305List = []basisItem{
	{always, "fuel-quantity-gauge", eachTankHas},
	{always, "oil-pressure-gauge", eachEngineHas},
	{always, "oil-temperature-gauge", eachEngineHas},
	{always, "tachometer", eachEngineHas},
	{cowlFlaps, "cylinder-head-temperature-gauge", eachEngineHas},
	{pumpFed, "fuel-pressure-gauge", eachEngineHas},
	{altitudeEngineOrControllablePropeller, "manifold-pressure-gauge", eachEngineHas},
	{liquidCooled, "coolant-temperature-gauge", eachEngineHas},
}

// old1361List is the former 14 CFR 23.1351 and 23.1361 (from memory).
var old1361List = []basisItem{
	{electrical, "master-switch", one},
	{electrical, "alternator", one},
}

// rotor1303List is 14 CFR 27.1303 (from memory).
var rotor1303List = []basisItem{
	{always, "airspeed-indicator", one},
	{always, "altimeter", one},
	{always, "magnetic-compass", one},
}

// rotor1305List is 14 CFR 27.1305 (second-hand).
var rotor1305List = []basisItem{
	{always, "fuel-quantity-gauge", eachTankHas},
	{always, "oil-pressure-gauge", eachEngineHas},
	{always, "oil-temperature-gauge", eachEngineHas},
	{always, "tachometer", eachEngineHas},
	{airCooled, "cylinder-head-temperature-gauge", eachEngineHas},
	{pumpFed, "fuel-pressure-gauge", eachEngineHas},
	{altitudeEngine, "manifold-pressure-gauge", eachEngineHas},
}
