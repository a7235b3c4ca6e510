package oracle

// withoutEngineDrivenElectrical are the aircraft that 14 CFR 91.215(b)(3), (b)(5) and 91.225(e) except: balloons, gliders, and what has no
// engine-driven electrical system.
func (s *scene) withoutEngineDrivenElectrical() truth {
	return some(s.category("balloon"), s.category("glider"), not(known(s.EngineDrivenElectrical)))
}

// seen is the verdict of airspace that asks for a transponder with altitude reporting.
func (s *scene) seen(applies truth) Verdict {
	deviation := s.deviation("transponder", "transponder")
	transponder := unless(required(applies, all(s.works("transponder"), s.transponderTested())), deviation)
	encoder := unless(required(applies, s.works("altitude-encoder")), deviation)
	// 14 CFR 91.215(d)(1): the transponder works, its altitude reporting alone does not.
	encoder = unless(encoder, all(s.authorized("altitude-reporting"), s.inOrder("transponder")))
	return max(transponder, encoder)
}

// deviation says whether ATC has authorized a flight without an item: one that is inoperative, by 14 CFR 91.215(d)(2) and
// 91.225(g)(1), or one that is not there, by 91.215(d)(3) and 91.225(g)(2).
func (s *scene) deviation(item, authorized string) truth {
	ok := s.authorized(authorized)
	return some(all(s.fitted(item), ok), all(not(s.fitted(item)), ok))
}

// classA is where Class A begins, at 18,000 ft MSL, whether or not the flight says that it enters it (14 CFR 71.33, from memory).
func (s *scene) classA() truth { return some(s.enters("class-a"), s.altitudeFrom(18000)) }

// 14 CFR 91.215(b)(1): in Class A, B and C.
func transponderInClass(s *scene) Verdict {
	return s.seen(some(s.classA(), s.enters("class-b"), s.enters("class-c")))
}

// 14 CFR 91.215(b)(2): within 30 NM of the listed airports, up to 10,000 ft; (b)(3) excepts some aircraft, which stay
// outside Class A, B and C and below their ceilings.
func transponderInVeil(s *scene) Verdict {
	return unless(s.seen(s.enters("mode-c-veil")), s.withoutEngineDrivenElectrical())
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
// That the encoder is out of action is no way out: one more squawk never lets an aircraft go.
func altitudeReportingTested(s *scene) Verdict {
	units := s.serving("altitude-encoder")
	on := all(known(s.flight.Controlled), s.enough(1, len(units), len(units)))
	return required(on, known(s.AltitudeReportingCalibrated))
}

// broadcast is the verdict of airspace that asks for ADS-B Out, after 1 January 2020, with the deviations of 14 CFR 91.225(g).
func (s *scene) broadcast(applies truth) Verdict {
	since := certain(s.flight.Departs.Format("2006-01-02") > "2020-01-01")
	return unless(required(all(since, applies), s.works("ads-b-out")), s.deviation("ads-b-out", "ads-b"))
}

// 14 CFR 91.225(a): in Class A.
func adsbInClassA(s *scene) Verdict { return s.broadcast(s.classA()) }

// 14 CFR 91.225(d)(1): in Class B and C.
func adsbInClass(s *scene) Verdict {
	return s.broadcast(some(s.enters("class-b"), s.enters("class-c")))
}

// 14 CFR 91.225(d)(2): within 30 NM of the listed airports; (e) excepts some aircraft, which stay outside Class B and C
// and below their ceilings.
func adsbInVeil(s *scene) Verdict {
	return unless(s.broadcast(s.enters("mode-c-veil")), s.withoutEngineDrivenElectrical())
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

// 14 CFR 91.225(f): an aircraft that has ADS-B Out transmits at all times. One of several sets is enough.
func adsbFitted(s *scene) Verdict {
	v := required(s.fitted("ads-b-out"), s.inOrder("ads-b-out"))
	return unless(v, all(s.fitted("ads-b-out"), s.authorized("ads-b")))
}
