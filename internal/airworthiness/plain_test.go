package airworthiness_test

import (
	"time"

	"tiedown/internal/airworthiness"
)

// plainAircraft is an invented two-seat airplane of 1984 with a complete record, equipped for IFR. Each unit has its
// item's name, with a number where there are several.
func plainAircraft() airworthiness.Aircraft {
	no, yes := airworthiness.No, airworthiness.Yes
	unit := func(id, item string, serves ...int) airworthiness.Unit {
		u := airworthiness.Unit{ID: id, Item: item}
		for _, n := range serves {
			u.Serves |= 1 << (n - 1)
		}
		return u
	}
	a := airworthiness.Aircraft{
		Category: "airplane", Certificate: "standard", Basis: "part-23-before-64", Engine: "reciprocating", Cooling: "air",
		MaxTakeoffWeightLb: airworthiness.Given(1740.0), Engines: airworthiness.Given(1), Tanks: airworthiness.Given(2),
		Seats: airworthiness.Given(2), FrontSeats: airworthiness.Given(2),
		Manufactured: airworthiness.Given(day("1984-04-02")), Certificated: airworthiness.Given(day("1976-01-20")),
		TypeCertificateApplied: airworthiness.Given(day("1974-03-01")), VORChecked: airworthiness.Given(day("2026-05-20")),
		AnnualInspected: airworthiness.Given(day("2026-02-10")), ConditionInspected: airworthiness.Given(day("2026-02-10")),
		HoursSinceInspection: airworthiness.Given(41.5), AltimeterTested: airworthiness.Given(day("2025-02-11")),
		TransponderTested: airworthiness.Given(day("2025-02-11")), ELTInspected: airworthiness.Given(day("2026-02-10")),
		ELTBatteryDue: airworthiness.Given(day("2028-06-30")), ELTBatteryHours: airworthiness.Given(0.2),
		USRegistered: yes, PressureOil: yes, AltitudeEngine: no, RetractableGear: no, ControllablePropeller: no,
		PumpFedFuel: no, CowlFlaps: no, ElectricalSystem: yes, EngineDrivenElectrical: yes, Pressurized: no,
		ReplaceableFuses: no, MMELExists: no, MELAuthorized: no, AltitudeReportingCalibrated: yes,
		Approved: airworthiness.Given(airworthiness.DayVFR | airworthiness.NightVFR | airworthiness.DayIFR | airworthiness.NightIFR),
		Units: []airworthiness.Unit{
			unit("airspeed-indicator", "airspeed-indicator"), unit("altimeter-1", "sensitive-altimeter"),
			unit("altimeter-2", "sensitive-altimeter"), unit("magnetic-compass", "magnetic-compass"),
			unit("tachometer", "tachometer", 1), unit("oil-pressure-gauge", "oil-pressure-gauge", 1),
			unit("oil-temperature-gauge", "oil-temperature-gauge", 1), unit("fuel-quantity-gauge-1", "fuel-quantity-gauge", 1),
			unit("fuel-quantity-gauge-2", "fuel-quantity-gauge", 2), unit("beacon", "beacon"), unit("strobe-light", "strobe-light"),
			unit("position-light-left", "position-light"), unit("position-light-right", "position-light"),
			unit("position-light-tail", "position-light"), unit("landing-light", "landing-light"), unit("taxi-light", "taxi-light"),
			unit("safety-belt-1", "safety-belt", 1), unit("safety-belt-2", "safety-belt", 2),
			unit("shoulder-harness-1", "shoulder-harness", 1), unit("shoulder-harness-2", "shoulder-harness", 2),
			unit("elt", "elt"), unit("alternator", "alternator"), unit("master-switch", "master-switch"), unit("main-battery", "main-battery"),
			unit("nav-com-radio-1", "nav-com-radio"), unit("nav-com-radio-2", "nav-com-radio"), unit("gps-navigator", "gps-navigator"),
			unit("turn-coordinator", "turn-coordinator"), unit("clock", "clock"), unit("vacuum-pump", "vacuum-pump"),
			unit("attitude-indicator", "attitude-indicator"), unit("heading-indicator", "heading-indicator"),
			unit("vertical-speed-indicator", "vertical-speed-indicator"), unit("transponder", "transponder"),
			unit("altitude-encoder", "altitude-encoder"), unit("ads-b-out", "ads-b-out"), unit("intercom", "intercom"),
			unit("audio-panel", "audio-panel"), unit("pitot-heat", "pitot-heat"), unit("stall-warning", "stall-warning"),
			unit("suction-gauge", "suction-gauge"), unit("ammeter", "ammeter"), unit("cabin-heater", "cabin-heater"),
			unit("carburetor-temperature-gauge", "carburetor-temperature-gauge"), unit("hour-meter", "hour-meter"),
			unit("instrument-light-1", "instrument-light"), unit("instrument-light-2", "instrument-light"), unit("dome-light", "dome-light"),
			unit("cylinder-head-temperature-gauge", "cylinder-head-temperature-gauge"), unit("autopilot", "autopilot"),
			unit("exhaust-gas-temperature-gauge", "exhaust-gas-temperature-gauge"), unit("fire-extinguisher", "fire-extinguisher"),
			unit("outside-air-temperature-gauge", "outside-air-temperature-gauge"), unit("marker-beacon-receiver", "marker-beacon-receiver"),
		},
		UnitsComplete: yes, Papers: goodPapers(), Upkeep: airworthiness.Upkeep{Complete: yes},
	}
	for i := range a.Units {
		if id := a.Units[i].ID; id == "attitude-indicator" || id == "heading-indicator" {
			a.Units[i].Needs = []string{"vacuum-pump"}
		}
	}
	list := func(document string, rows ...airworthiness.OwnRow) airworthiness.OwnList {
		for i := range rows {
			rows[i].Document = document
		}
		return airworthiness.OwnList{OnRecord: yes, Rows: rows}
	}
	a.TypeCertification = list("type certificate data sheet",
		airworthiness.OwnRow{Item: "airspeed-indicator", Quantity: 1}, airworthiness.OwnRow{Item: "altimeter", Quantity: 1},
		airworthiness.OwnRow{Item: "magnetic-compass", Quantity: 1}, airworthiness.OwnRow{Item: "stall-warning", Quantity: 1})
	a.TypeCertification.Confirmed = yes
	a.EquipmentList = list("equipment list, page 6-3", airworthiness.OwnRow{Item: "alternator", Quantity: 1})
	a.KOEL = list("kinds-of-operation list, page 2-9",
		airworthiness.OwnRow{Item: "instrument-light", Quantity: 1, Kinds: airworthiness.NightVFR | airworthiness.NightIFR},
		airworthiness.OwnRow{Item: "pitot-heat", Quantity: 1, Kinds: airworthiness.DayIFR | airworthiness.NightIFR})
	a.Directives = list("")
	return a
}

// goodPapers are all papers but a radio licence, in date for the plain flight.
func goodPapers() airworthiness.Papers {
	yes := airworthiness.Yes
	return airworthiness.Papers{
		Airworthiness: yes, Displayed: yes, Registration: yes, RegistrationThrough: airworthiness.Given(day("2031-05-31")),
		Limitations: yes, WeightBalance: yes, WeightBalanceFits: yes,
	}
}

// plainFlight is a private flight by day under VFR, low, outside controlled airspace, with every fact known.
func plainFlight() airworthiness.Flight {
	no := airworthiness.No
	return airworthiness.Flight{
		On: day("2026-06-01"), Departs: time.Date(2026, 6, 1, 15, 0, 0, 0, time.UTC), Ends: time.Date(2026, 6, 1, 18, 0, 0, 0, time.UTC),
		IFR: no, Day: airworthiness.Yes, Night: no, Lights: no, Dark: no,
		ForHire: no, OnlyRequiredCrew: no, OverWater: no, Controlled: no, Below2500AGL: no, TrainingWithin50NM: no,
		ToPlaceOfRepair: no, RepairImpossible: no, UnderWay: no, ToPlaceOfInspection: no, InstructionProvidedAircraft: no,
		NewlyAcquiredToInstallation: no, Hours: airworthiness.Given(2.0), WindowHours: airworthiness.Given(3.0),
		Operations: airworthiness.Given[[]string](nil), InAlaska: no, Over30MinAbove12500: no,
		Occupants: airworthiness.Given(2), Persons: airworthiness.Given(2), RequiredCrew: airworthiness.Given(1),
		AltitudeFt: airworthiness.Given(4500.0), CabinFt: airworthiness.Given(4500.0),
		Airspace: airworthiness.Given[[]string](nil), Navigation: airworthiness.Given([]string{"vor", "gnss"}),
		ATCAuthorized: airworthiness.Given[[]string](nil),
	}
}

// plainFlights is the plain flight of each kind of operation.
func plainFlights() []airworthiness.Flight {
	var flights []airworthiness.Flight
	for _, ifr := range []airworthiness.Truth{airworthiness.No, airworthiness.Yes} {
		for _, night := range []airworthiness.Truth{airworthiness.No, airworthiness.Yes} {
			f := plainFlight()
			f.IFR, f.Controlled = ifr, ifr
			f.Day, f.Night, f.Lights, f.Dark = night.Not(), night, night, night
			flights = append(flights, f)
		}
	}
	return flights
}

// inoperative is a squawk on a unit, with everything done so that it may stay.
func inoperative(unit string) airworthiness.Defect {
	return airworthiness.Defect{ID: unit, Kind: airworthiness.KindInoperative, Unit: unit, Deferral: done(airworthiness.Deactivated)}
}

// removed is a squawk on a unit that has been taken out.
func removed(unit string) airworthiness.Defect {
	return airworthiness.Defect{ID: unit, Kind: airworthiness.KindInoperative, Unit: unit, Deferral: done(airworthiness.Removed)}
}

// plainMEL is an MEL under a part 91 letter that lists a few items of the plain airplane.
func plainMEL() airworthiness.MEL {
	row := func(item string, installed, required int, category string) airworthiness.MELRow {
		return airworthiness.MELRow{
			Item: item, Installed: airworthiness.Given(installed), Required: airworthiness.Given(required), Category: category,
			Operations: airworthiness.No, Maintenance: airworthiness.No, Document: "page of " + item,
		}
	}
	return airworthiness.MEL{
		OnRecord: airworthiness.Yes, Authority: "letter", LetterAboard: airworthiness.Yes, Aboard: airworthiness.Yes,
		Rows: []airworthiness.MELRow{
			row("intercom", 1, 0, "C"), row("alternator", 1, 0, "B"), row("nav-com-radio", 2, 1, "C"), row("landing-light", 1, 0, "B"),
			row("airspeed-indicator", 1, 0, "B"),
		},
	}
}

// plainPermit is a special flight permit that serves the plain flight, for some squawks.
func plainPermit(covers ...string) *airworthiness.Permit {
	return &airworthiness.Permit{
		Number: "SF-0001", Issued: airworthiness.Given(day("2026-05-30")), Covers: covers,
		ValidFrom:  airworthiness.Given(time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)),
		ValidUntil: airworthiness.Given(time.Date(2026, 6, 2, 0, 0, 0, 0, time.UTC)),
		Kinds:      airworthiness.Given(airworthiness.Kinds(15)), OnlyRequiredCrew: airworthiness.No, Limitations: []string{"direct"},
	}
}
