package oracle

// byBasis is the verdict of the list of a certification basis. All of them are from memory: what is listed is required,
// and what is not listed may be required all the same. It is asked only where no rated person has
// confirmed the aircraft's own list, which is then the whole of it.
func byBasis(basis func(*scene) truth, list []basisItem) func(*scene) Verdict {
	return func(s *scene) Verdict {
		if known(s.own.TypeCertification.OnRecord) == yes {
			return Clear
		}
		v := Clear
		for _, i := range list {
			v = max(v, required(all(basis(s), i.applies(s)), i.met(s)))
		}
		return v
	}
}

// basisItem is one item of such a list.
type basisItem struct {
	applies func(*scene) truth
	met     func(*scene) truth
}

func always(*scene) truth { return yes }

func aircraftHas(item string) func(*scene) truth {
	return func(s *scene) truth { return s.works(item) }
}

func engineHas(item string) func(*scene) truth {
	return func(s *scene) truth { return s.eachWorks(s.Engines, item) }
}

func tankHas(item string) func(*scene) truth {
	return func(s *scene) truth { return s.eachWorks(s.Tanks, item) }
}

func car3(s *scene) truth           { return s.basis("car-3") }
func oldPart23(s *scene) truth      { return s.basis("part-23-before-64") }
func part27(s *scene) truth         { return s.basis("part-27") }
func liquidCooled(s *scene) truth   { return s.cooled("liquid") }
func altitudeEngine(s *scene) truth { return known(s.AltitudeEngine) }
func pumpFed(s *scene) truth        { return known(s.PumpFedFuel) }
func electrical(s *scene) truth     { return known(s.ElectricalSystem) }
func reciprocating(s *scene) truth  { return s.engine("reciprocating") }

func heavyOrTurbine(s *scene) truth {
	return some(s.engine("turbine"), all(reciprocating(s), not(s.weighsAtMost(6000))))
}

func pistonWithCowlFlaps(s *scene) truth {
	return all(reciprocating(s), s.cooled("air"), known(s.CowlFlaps))
}

func altitudeEngineOrControllablePropeller(s *scene) truth {
	return all(reciprocating(s), some(known(s.AltitudeEngine), known(s.ControllablePropeller)))
}

func turbine(s *scene) truth { return s.engine("turbine") }

func pistonPumpFed(s *scene) truth { return all(reciprocating(s), pumpFed(s)) }

// car3List is CAR 3.655, with 3.663, 3.666, 3.672 (from memory, save 3.672).
var car3List = []basisItem{
	{always, aircraftHas("airspeed-indicator")},
	{always, aircraftHas("altimeter")},
	{always, aircraftHas("magnetic-compass")},
	{always, tankHas("fuel-quantity-gauge")},
	{always, engineHas("oil-pressure-gauge")},
	{always, engineHas("oil-temperature-gauge")},
	{always, engineHas("tachometer")},
	{liquidCooled, engineHas("coolant-temperature-gauge")},
	{pumpFed, engineHas("fuel-pressure-gauge")},
	{altitudeEngine, engineHas("manifold-pressure-gauge")},
	{electrical, aircraftHas("master-switch")},
}

// old1303List is the former 14 CFR 23.1303 (from memory).
var old1303List = []basisItem{
	{always, aircraftHas("airspeed-indicator")},
	{always, aircraftHas("altimeter")},
	{always, aircraftHas("magnetic-compass")},
	{heavyOrTurbine, aircraftHas("outside-air-temperature-gauge")},
	{turbine, aircraftHas("overspeed-warning")},
}

// old1305List is the former 14 CFR 23.1305 (from memory).
var old1305List = []basisItem{
	{always, tankHas("fuel-quantity-gauge")},
	{always, engineHas("oil-pressure-gauge")},
	{always, engineHas("oil-temperature-gauge")},
	{reciprocating, engineHas("tachometer")},
	{pistonWithCowlFlaps, engineHas("cylinder-head-temperature-gauge")},
	{pistonPumpFed, engineHas("fuel-pressure-gauge")},
	{altitudeEngineOrControllablePropeller, engineHas("manifold-pressure-gauge")},
	{liquidCooled, engineHas("coolant-temperature-gauge")},
}

// old1361List is the former 14 CFR 23.1351 and 23.1361 (from memory).
var old1361List = []basisItem{
	{electrical, aircraftHas("master-switch")},
}

// rotor1303List is 14 CFR 27.1303 (from memory).
var rotor1303List = []basisItem{
	{always, aircraftHas("airspeed-indicator")},
	{always, aircraftHas("altimeter")},
	{always, aircraftHas("magnetic-compass")},
}

// rotor1305List is 14 CFR 27.1305 (second-hand).
var rotor1305List = []basisItem{
	{always, tankHas("fuel-quantity-gauge")},
	{always, engineHas("oil-pressure-gauge")},
	{always, engineHas("oil-temperature-gauge")},
	{always, engineHas("tachometer")},
	{always, aircraftHas("rotor-tachometer")},
	{pumpFed, engineHas("fuel-pressure-gauge")},
	{altitudeEngine, engineHas("manifold-pressure-gauge")},
}
