package oracle

// unpowered are the aircraft that 14 CFR 91.215(b)(3), (b)(5) and 91.225(e) except: balloons, gliders, and what has no
// engine-driven electrical system.
func (s *scene) withoutEngineDrivenElectrical() truth {
	return some(s.category("balloon"), s.category("glider"), not(known(s.EngineDrivenElectrical)))
}

// seen is the verdict of airspace that asks for a transponder with altitude reporting, with the deviations that ATC
// authorizes under 14 CFR 91.215(d): (1) the altitude reporting alone is out; (2), (3) there is no working transponder.
func (s *scene) seen(applies truth) Verdict {
	v := required(applies, all(s.works("transponder"), s.works("altitude-encoder")))
	v = unless(v, all(s.authorized("altitude-reporting"), s.works("transponder")))
	return unless(v, s.authorized("transponder"))
}

// outsideClasses is 14 CFR 91.215(b)(3)(i), 91.225(e)(1): outside Class A, B and C.
func (s *scene) outsideClasses() truth {
	return not(some(s.classA(), s.enters("class-b"), s.enters("class-c")))
}

// classA is where Class A begins, at 18,000 ft MSL, whether or not the flight says that it enters it (14 CFR 71.33, from memory).
func (s *scene) classA() truth { return some(s.enters("class-a"), s.altitudeFrom(18000)) }

// 14 CFR 91.215(b)(1): in Class A, B and C.
func transponderInClass(s *scene) Verdict { return s.seen(not(s.outsideClasses())) }

// 14 CFR 91.215(b)(2): within 30 NM of the listed airports, up to 10,000 ft; (b)(3) excepts some aircraft.
func transponderInVeil(s *scene) Verdict {
	excepted := all(s.withoutEngineDrivenElectrical(), s.outsideClasses(), not(s.enters("above-class-b-or-c")))
	return s.seen(all(s.enters("mode-c-veil"), not(excepted)))
}

// 14 CFR 91.215(b)(4): above Class B and C, up to 10,000 ft.
func transponderAboveClass(s *scene) Verdict { return s.seen(s.enters("above-class-b-or-c")) }

// 14 CFR 91.215(b)(5)(i): from 10,000 ft, save at and below 2,500 ft above the surface.
func transponderFrom10000(s *scene) Verdict {
	return s.seen(all(s.from10000(), not(s.withoutEngineDrivenElectrical())))
}

func (s *scene) from10000() truth {
	contiguous := not(s.inAlaska) // the 48 contiguous states and the District of Columbia
	return all(s.altitudeFrom(10000), not(known(s.flight.Below2500AGL)), contiguous)
}

// 14 CFR 91.215(b)(5)(ii): within 10 NM of the airports of appendix D, section 2.
func transponderListedAirport(s *scene) Verdict {
	return s.seen(all(s.enters("listed-airport-10nm"), not(s.withoutEngineDrivenElectrical())))
}

// 14 CFR 91.217(a): altitude reporting, which is on in controlled airspace, is operated only as tested within 125 ft.
func altitudeReportingTested(s *scene) Verdict {
	on := all(known(s.flight.Controlled), s.works("altitude-encoder"))
	return required(on, known(s.AltitudeReportingCalibrated))
}

// broadcast is the verdict of airspace that asks for ADS-B Out, with the deviations of 14 CFR 91.225(g).
func (s *scene) broadcast(applies truth) Verdict {
	return unless(required(applies, s.works("ads-b-out")), s.authorized("ads-b"))
}

// 14 CFR 91.225(a): in Class A.
func adsbInClassA(s *scene) Verdict { return s.broadcast(s.classA()) }

// 14 CFR 91.225(d)(1): in Class B and C.
func adsbInClass(s *scene) Verdict {
	return s.broadcast(some(s.enters("class-b"), s.enters("class-c")))
}

// 14 CFR 91.225(d)(2): within 30 NM of the listed airports; (e) excepts some aircraft.
func adsbInVeil(s *scene) Verdict {
	excepted := all(s.withoutEngineDrivenElectrical(), s.outsideClasses(), not(s.enters("above-class-b-or-c")))
	return s.broadcast(all(s.enters("mode-c-veil"), not(excepted)))
}

// 14 CFR 91.225(d)(3): above Class B and C.
func adsbAboveClass(s *scene) Verdict { return s.broadcast(s.enters("above-class-b-or-c")) }

// 14 CFR 91.225(d)(4): in Class E from 10,000 ft, save at and below 2,500 ft above the surface; (e) excepts some aircraft.
func adsbFrom10000(s *scene) Verdict {
	return s.broadcast(all(s.from10000(), not(s.withoutEngineDrivenElectrical())))
}

// 14 CFR 91.225(d)(5): in Class E over the Gulf from 3,000 ft, within 12 NM of the coast.
func adsbOverGulf(s *scene) Verdict {
	return s.broadcast(all(s.enters("gulf-class-e"), s.altitudeFrom(3000)))
}

// 14 CFR 91.225(f): ADS-B Out that is fitted transmits at all times.
func adsbFitted(s *scene) Verdict {
	return unless(required(s.fitted("ads-b-out"), s.everyOneWorks("ads-b-out")), s.authorized("ads-b"))
}
