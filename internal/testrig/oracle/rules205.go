package oracle

// 14 CFR 91.205(a): its lists bind powered civil aircraft with a standard airworthiness certificate.
func (s *scene) under205() truth {
	return all(not(s.engine("none")), s.certificate("standard"))
}

// 14 CFR 91.205(c): VFR at night; (d)(1) brings the same list to IFR at night.
func (s *scene) nightList() truth { return all(s.under205(), s.byNight) }

// 14 CFR 91.205(d): IFR.
func (s *scene) ifrList() truth { return all(s.under205(), s.ifr()) }

// 14 CFR 91.205(b)(1): airspeed indicator.
func airspeedIndicator(s *scene) Verdict {
	return required(s.under205(), s.works("airspeed-indicator"))
}

// 14 CFR 91.205(b)(2): altimeter.
func altimeter(s *scene) Verdict { return required(s.under205(), s.works("altimeter")) }

// 14 CFR 91.205(b)(3): magnetic direction indicator.
func magneticDirectionIndicator(s *scene) Verdict {
	return required(s.under205(), s.works("magnetic-compass"))
}

// 14 CFR 91.205(b)(4): tachometer for each engine.
func tachometers(s *scene) Verdict {
	return required(s.under205(), s.eachWorks(s.Engines, "tachometer"))
}

// 14 CFR 91.205(b)(5): oil pressure gauge for each engine using a pressure system.
func oilPressureGauges(s *scene) Verdict {
	return required(all(s.under205(), known(s.PressureOil)), s.eachWorks(s.Engines, "oil-pressure-gauge"))
}

// 14 CFR 91.205(b)(6): temperature gauge for each liquid-cooled engine.
func coolantTemperatureGauges(s *scene) Verdict {
	return required(all(s.under205(), s.cooled("liquid")), s.eachWorks(s.Engines, "coolant-temperature-gauge"))
}

// 14 CFR 91.205(b)(7): oil temperature gauge for each air-cooled engine.
func oilTemperatureGauges(s *scene) Verdict {
	return required(all(s.under205(), s.cooled("air")), s.eachWorks(s.Engines, "oil-temperature-gauge"))
}

// 14 CFR 91.205(b)(8): manifold pressure gauge for each altitude engine.
func manifoldPressureGauges(s *scene) Verdict {
	return required(all(s.under205(), known(s.AltitudeEngine)), s.eachWorks(s.Engines, "manifold-pressure-gauge"))
}

// 14 CFR 91.205(b)(9): fuel gauge indicating the quantity in each tank.
func fuelGauges(s *scene) Verdict {
	return required(s.under205(), s.eachWorks(s.Tanks, "fuel-quantity-gauge"))
}

// 14 CFR 91.205(b)(10): landing gear position indicator, if the gear is retractable.
func gearPositionIndicator(s *scene) Verdict {
	return required(all(s.under205(), known(s.RetractableGear)), s.works("gear-position-indicator"))
}

// goesForRepair says whether the flight goes to a place of repair from where the repair cannot be made: it is no licence
// to leave from a place of repair.
func (s *scene) goesForRepair() truth {
	return all(certain(s.flight.ToPlaceOfRepair), certain(s.flight.RepairImpossible))
}

// 14 CFR 91.205(b)(11): anticollision light system of small airplanes certificated after 11 March 1996 under part 23.
// With a light failed the flight may go on to a place where it can be repaired.
func anticollisionByDay(s *scene) Verdict {
	return unless(required(s.under205b11(), s.everyOneWorks("anticollision-light")), s.goesForRepair())
}

func (s *scene) under205b11() truth {
	part23 := some(s.basis("part-23"), s.basis("part-23-before-64"))
	return all(s.under205(), s.category("airplane"), s.small(), part23, after(s.Certificated, "1996-03-11"))
}

// 14 CFR 91.205(b)(12): for hire over water beyond power-off gliding distance, flotation gear for each occupant.
func flotationGear(s *scene) Verdict {
	return required(s.hireOverWater(), s.personsServed(s.flight.Persons, false, "flotation-gear"))
}

// 14 CFR 91.205(b)(12): and at least one pyrotechnic signaling device.
func pyrotechnicSignal(s *scene) Verdict {
	return required(s.hireOverWater(), s.works("pyrotechnic-signal"))
}

func (s *scene) hireOverWater() truth {
	return all(s.under205(), known(s.flight.ForHire), known(s.flight.OverWater))
}

// 14 CFR 91.205(b)(13): a safety belt for each occupant who has reached the second birthday.
func safetyBelts(s *scene) Verdict {
	return required(s.under205(), s.personsServed(s.flight.Occupants, true, "safety-belt"))
}

// 14 CFR 91.205(b)(14): shoulder harness at the front seats of small airplanes made after 18 July 1978.
func frontHarness(s *scene) Verdict {
	applies := all(s.under205(), s.category("airplane"), s.small(), after(s.Manufactured, "1978-07-18"))
	return required(applies, s.placesServed(s.FrontSeats, "shoulder-harness"))
}

// 14 CFR 91.205(b)(14): shoulder harness at all seats of small airplanes made after 12 December 1986.
func harnessEverywhere(s *scene) Verdict {
	applies := all(s.under205(), s.category("airplane"), s.small(), after(s.Manufactured, "1986-12-12"))
	return required(applies, s.eachWorks(s.Seats, "shoulder-harness"))
}

// 14 CFR 91.205(b)(15): an emergency locator transmitter, if 91.207 requires it.
func emergencyLocatorBy205(s *scene) Verdict { return s.locator(s.under205()) }

// 14 CFR 91.205(b)(17): shoulder harness at each seat of rotorcraft made after 16 September 1992.
func rotorcraftHarness(s *scene) Verdict {
	applies := all(s.under205(), s.category("rotorcraft"), after(s.Manufactured, "1992-09-16"))
	return required(applies, s.eachWorks(s.Seats, "shoulder-harness"))
}

// 14 CFR 91.205(c)(2): position lights.
func positionLightsAtNight(s *scene) Verdict {
	return required(s.nightList(), s.everyOneWorks("position-light"))
}

// 14 CFR 91.205(c)(3): anticollision light system on all US-registered civil aircraft. With a light failed the flight
// may go on to a stop where it can be repaired.
func anticollisionAtNight(s *scene) Verdict {
	return unless(required(s.under205c3(), s.everyOneWorks("anticollision-light")), s.goesForRepair())
}

func (s *scene) under205c3() truth { return all(s.nightList(), known(s.USRegistered)) }

// 14 CFR 91.205(c)(4): one electric landing light, if operated for hire.
func landingLight(s *scene) Verdict {
	return required(all(s.nightList(), known(s.flight.ForHire)), s.works("landing-light"))
}

// 14 CFR 91.205(c)(5): an adequate source of electrical energy for all installed electrical and radio equipment.
func electricalEnergy(s *scene) Verdict {
	return required(s.nightList(), s.works("alternator"))
}

// 14 CFR 91.205(c)(6): a spare set of the fuses that are required and that the pilot can replace.
func spareFuses(s *scene) Verdict {
	return required(all(s.nightList(), known(s.ReplaceableFuses)), s.works("spare-fuses"))
}

// 14 CFR 91.205(d)(2): two-way radio communication equipment.
func twoWayRadio(s *scene) Verdict { return required(s.ifrList(), s.works("com-radio")) }

// 14 CFR 91.205(d)(2): navigation equipment suitable for the route: VOR.
func vorReceiver(s *scene) Verdict {
	return required(all(s.ifrList(), s.navigatesBy("vor")), s.works("vor-receiver"))
}

// 14 CFR 91.205(d)(2): navigation equipment suitable for the route: satellite.
func areaNavigation(s *scene) Verdict {
	return required(all(s.ifrList(), s.navigatesBy("gnss")), s.works("gps-navigator"))
}

// 14 CFR 91.205(d)(2): a flight under IFR that says of neither that it navigates by it has some of them all the same.
func someNavigation(s *scene) Verdict {
	return required(s.ifrList(), s.works("vor-receiver", "gps-navigator"))
}

// 14 CFR 91.205(d)(3): gyroscopic rate-of-turn indicator, save on airplanes and rotorcraft with a third attitude system.
func rateOfTurn(s *scene) Verdict {
	third := all(some(s.category("airplane"), s.category("rotorcraft")), s.inOrder("third-attitude-system"))
	return required(all(s.ifrList(), not(third)), s.works("rate-of-turn-indicator"))
}

// 14 CFR 91.205(d)(4): slip-skid indicator.
func slipSkid(s *scene) Verdict { return required(s.ifrList(), s.works("slip-skid-indicator")) }

// 14 CFR 91.205(d)(5): sensitive altimeter adjustable for barometric pressure.
func sensitiveAltimeter(s *scene) Verdict {
	return required(s.ifrList(), s.works("sensitive-altimeter"))
}

// 14 CFR 91.205(d)(6): clock with hours, minutes and seconds.
func clock(s *scene) Verdict { return required(s.ifrList(), s.works("clock")) }

// 14 CFR 91.205(d)(7): generator or alternator of adequate capacity.
func alternator(s *scene) Verdict { return required(s.ifrList(), s.works("alternator")) }

// 14 CFR 91.205(d)(8): gyroscopic pitch and bank indicator.
func pitchAndBank(s *scene) Verdict { return required(s.ifrList(), s.works("attitude-indicator")) }

// 14 CFR 91.205(d)(9): gyroscopic direction indicator.
func direction(s *scene) Verdict { return required(s.ifrList(), s.works("heading-indicator")) }

// 14 CFR 91.205(e): at and above FL240, where VOR navigation is required, DME or a suitable RNAV system. A
// flight on which it fails may go on to where it can be repaired; that is no leave to take off.
func distanceMeasuring(s *scene) Verdict {
	applies := all(s.ifrList(), s.navigatesBy("vor"), s.altitudeFrom(24000))
	onTheWay := all(certain(s.flight.UnderWay), certain(s.flight.ToPlaceOfRepair))
	return unless(required(applies, s.works("dme", "area-navigation-system")), onTheWay)
}
