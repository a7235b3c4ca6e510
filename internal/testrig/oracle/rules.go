package oracle

// rule is one rule about the aircraft and the flight as a whole.
type rule struct {
	citation string
	name     string
	judge    func(*scene) Verdict
}

// rules are all of them, in the order of the regulation.
var rules = []rule{
	{"14 CFR 91.9(a)", "limitations, markings and placards", operatingLimitations},
	{"14 CFR 91.171(a)", "VOR check", vorCheck},

	{"14 CFR 91.205(b)(1)", "airspeed indicator", airspeedIndicator},
	{"14 CFR 91.205(b)(2)", "altimeter", altimeter},
	{"14 CFR 91.205(b)(3)", "magnetic direction indicator", magneticDirectionIndicator},
	{"14 CFR 91.205(b)(4)", "tachometers", tachometers},
	{"14 CFR 91.205(b)(5)", "oil pressure gauges", oilPressureGauges},
	{"14 CFR 91.205(b)(6)", "temperature gauges", coolantTemperatureGauges},
	{"14 CFR 91.205(b)(7)", "oil temperature gauges", oilTemperatureGauges},
	{"14 CFR 91.205(b)(8)", "manifold pressure gauges", manifoldPressureGauges},
	{"14 CFR 91.205(b)(9)", "fuel gauges", fuelGauges},
	{"14 CFR 91.205(b)(10)", "landing gear position indicator", gearPositionIndicator},
	{"14 CFR 91.205(b)(11)", "anticollision lights by day", anticollisionByDay},
	{"14 CFR 91.205(b)(12)", "flotation gear", flotationGear},
	{"14 CFR 91.205(b)(12)", "pyrotechnic signal", pyrotechnicSignal},
	{"14 CFR 91.205(b)(13)", "safety belts", safetyBelts},
	{"14 CFR 91.205(b)(14)", "shoulder harness in front", frontHarness},
	{"14 CFR 91.205(b)(14)", "shoulder harness everywhere", harnessEverywhere},
	{"14 CFR 91.205(b)(15)", "emergency locator transmitter of 91.205", emergencyLocatorBy205},
	{"14 CFR 91.205(b)(17)", "shoulder harness of rotorcraft", rotorcraftHarness},
	{"14 CFR 91.205(c)(2)", "position lights at night", positionLightsAtNight},
	{"14 CFR 91.205(c)(3)", "anticollision lights at night", anticollisionAtNight},
	{"14 CFR 91.205(c)(4)", "landing light for hire", landingLight},
	{"14 CFR 91.205(c)(5)", "source of electrical energy", electricalEnergy},
	{"14 CFR 91.205(c)(6)", "spare fuses", spareFuses},
	{"14 CFR 91.205(d)(2)", "two-way radio", twoWayRadio},
	{"14 CFR 91.205(d)(2)", "navigation by VOR", vorReceiver},
	{"14 CFR 91.205(d)(2)", "navigation by satellite", areaNavigation},
	{"14 CFR 91.205(d)(2)", "some navigation", someNavigation},
	{"14 CFR 91.205(d)(3)", "rate of turn", rateOfTurn},
	{"14 CFR 91.205(d)(4)", "slip and skid", slipSkid},
	{"14 CFR 91.205(d)(5)", "sensitive altimeter", sensitiveAltimeter},
	{"14 CFR 91.205(d)(6)", "clock", clock},
	{"14 CFR 91.205(d)(7)", "generator or alternator", alternator},
	{"14 CFR 91.205(d)(8)", "pitch and bank", pitchAndBank},
	{"14 CFR 91.205(d)(9)", "direction", direction},
	{"14 CFR 91.205(e)", "DME or RNAV from FL240", distanceMeasuring},

	{"14 CFR 91.207(a)", "emergency locator transmitter", emergencyLocator},
	{"14 CFR 91.209(a)", "position lights from sunset", positionLightsFromSunset},
	{"14 CFR 91.209(b)", "anticollision lights that are fitted", anticollisionFitted},
	{"14 CFR 91.211(a)(1)", "oxygen above 12,500 ft", oxygenOver30Minutes},
	{"14 CFR 91.211(a)(2)", "oxygen above 14,000 ft", oxygenForCrew},
	{"14 CFR 91.211(a)(3)", "oxygen above 15,000 ft", oxygenForAll},
	{"14 CFR 91.211(b)(1)(i)", "oxygen supply above FL250", oxygenSupplyPressurized},

	{"14 CFR 91.215(b)(1)", "transponder in Class A, B, C", transponderInClass},
	{"14 CFR 91.215(b)(2)", "transponder in the veil", transponderInVeil},
	{"14 CFR 91.215(b)(4)", "transponder above Class B and C", transponderAboveClass},
	{"14 CFR 91.215(b)(5)(i)", "transponder from 10,000 ft", transponderFrom10000},
	{"14 CFR 91.215(b)(5)(ii)", "transponder about listed airports", transponderListedAirport},
	{"14 CFR 91.217(a)", "altitude reporting tested", altitudeReportingTested},
	{"14 CFR 91.225(a)", "ADS-B in Class A", adsbInClassA},
	{"14 CFR 91.225(d)(1)", "ADS-B in Class B, C", adsbInClass},
	{"14 CFR 91.225(d)(2)", "ADS-B in the veil", adsbInVeil},
	{"14 CFR 91.225(d)(3)", "ADS-B above Class B and C", adsbAboveClass},
	{"14 CFR 91.225(d)(4)", "ADS-B in Class E from 10,000 ft", adsbFrom10000},
	{"14 CFR 91.225(d)(5)", "ADS-B over the Gulf", adsbOverGulf},
	{"14 CFR 91.225(f)", "ADS-B that is fitted", adsbFitted},

	{"14 CFR 91.319(d)(2)", "experimental by day under VFR", experimentalByDay},
	{"14 CFR 91.327(d)", "light-sport equipment list", lightSportList},

	{"14 CFR 91.213(d)(2)(i)", "confirmed type certification list", confirmedList},
	{"14 CFR 91.213(d)(2)(ii)", "equipment list", listedEquipment},
	{"14 CFR 91.213(d)(2)(ii)", "kinds of operation equipment list", kindsOfOperationList},
	{"14 CFR 91.213(d)(2)(iv)", "directives", directiveRows},
	{"CAR 3.655", "list of CAR 3", byBasis("CAR 3.655")},
	{"old 14 CFR 23.1303", "flight instruments of old part 23", byBasis("old 14 CFR 23.1303")},
	{"old 14 CFR 23.1305", "powerplant instruments of old part 23", byBasis("old 14 CFR 23.1305")},
	{"old 14 CFR 23.1351", "electrical system of old part 23", byBasis("old 14 CFR 23.1351")},
	{"14 CFR 27.1303", "flight instruments of part 27", byBasis("14 CFR 27.1303")},
	{"14 CFR 27.1305", "powerplant instruments of part 27", byBasis("14 CFR 27.1305")},
}
