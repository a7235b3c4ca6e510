package engines

import (
	"time"

	aw "tiedown/internal/airworthiness"
)

// Case is what every engine is asked: one aircraft, all its open defects, and the flights to be judged.
type Case struct {
	Aircraft aw.Aircraft
	Defects  []aw.Defect
	Flights  []aw.Flight
}

// Workload is the case that is measured: an invented trainer with eight defects, judged for the four kinds of operation.
//
// Nobody has confirmed its VFR-day type-certification list, so that the table of those lists takes part too. Of the
// defects one is a condition; of the items two are required whatever the flight, two only for some flights, one has a
// twin that still works, two are not required at all and one is covered by a relief. Four have been deferred.
func Workload() Case {
	on, _ := aw.ParseDate("2026-06-15")
	ends := time.Date(2026, time.June, 15, 20, 0, 0, 0, time.UTC)
	until := aw.Given(time.Date(2026, time.September, 1, 0, 0, 0, 0, time.UTC))
	deferral := aw.Deferral{
		Method: aw.Deactivated, MethodDone: aw.Yes, Placarded: aw.Yes, Recorded: aw.Yes, HazardDetermined: aw.Yes, Until: until,
	}
	removed := deferral
	removed.Method, removed.RemovedOn = aw.Removed, aw.Given(on-20)
	halfDone := deferral
	halfDone.Placarded, halfDone.HazardDetermined = aw.No, aw.Unknown

	inoperative := func(id, unit string, d *aw.Deferral) aw.Defect {
		return aw.Defect{ID: id, Kind: aw.KindInoperative, Unit: unit, Deferral: d}
	}
	return Case{
		Aircraft: trainer(),
		Defects: []aw.Defect{
			inoperative("1", "com-nav-2", &deferral),
			inoperative("2", "landing-light", &deferral),
			inoperative("3", "autopilot", nil),
			inoperative("4", "vacuum-pump", nil),
			inoperative("5", "fuel-left", nil),
			inoperative("6", "elt", &removed),
			inoperative("7", "transponder", &halfDone),
			{ID: "8", Kind: aw.KindCondition, Item: "tire"},
		},
		Flights: kindsOfOperation(on, ends),
	}
}

// kindsOfOperation is the flight of each kind of operation as such: what may be flown at all, with the rest left open.
func kindsOfOperation(on aw.Date, ends time.Time) []aw.Flight {
	var rules aw.Ruleset // the kinds do not hang on the rows
	var flights []aw.Flight
	for _, f := range rules.KindsOfOperation(aw.Flight{On: on, Ends: ends}) {
		flights = append(flights, f.Flight)
	}
	return flights
}

func trainer() aw.Aircraft {
	date := func(s string) aw.Fact[aw.Date] {
		d, ok := aw.ParseDate(s)
		return aw.Fact[aw.Date]{Value: d, Known: ok}
	}
	return aw.Aircraft{
		Category: "airplane", Certificate: "standard", Basis: "part-23-before-64", Engine: "reciprocating", Cooling: "air",
		MaxTakeoffWeightLb: aw.Given(2450.0),
		Engines:            aw.Given(1), Tanks: aw.Given(2), Seats: aw.Given(4), FrontSeats: aw.Given(2),
		Manufactured: date("1981-04-20"), Certificated: date("1976-06-30"), TypeCertificateApplied: date("1974-09-12"),
		VORChecked:      date("2026-06-02"),
		AnnualInspected: date("2026-02-10"), HoursSinceInspection: aw.Given(41.5),
		AltimeterTested: date("2025-02-11"), TransponderTested: date("2025-02-11"),
		ELTInspected: date("2026-02-10"), ELTBatteryDue: date("2028-06-30"), ELTBatteryHours: aw.Given(0.2),
		USRegistered: aw.Yes, PressureOil: aw.Yes, AltitudeEngine: aw.No, RetractableGear: aw.No,
		ControllablePropeller: aw.No, PumpFedFuel: aw.No, CowlFlaps: aw.No, ElectricalSystem: aw.Yes,
		EngineDrivenElectrical: aw.Yes, Pressurized: aw.No, ReplaceableFuses: aw.No, MMELExists: aw.Yes,
		MELAuthorized: aw.No, AltitudeReportingCalibrated: aw.Yes,
		Approved:      aw.Given(aw.DayVFR | aw.NightVFR | aw.DayIFR | aw.NightIFR),
		Units:         trainerUnits(),
		UnitsComplete: aw.Yes,
		Papers: aw.Papers{
			Airworthiness: aw.Yes, Displayed: aw.Yes, Registration: aw.Yes, RegistrationThrough: date("2031-05-31"),
			Limitations: aw.Yes, WeightBalance: aw.Yes, WeightBalanceFits: aw.Yes,
		},
		Upkeep: aw.Upkeep{Complete: aw.Yes},
		EquipmentList: aw.OwnList{OnRecord: aw.Yes, Rows: []aw.OwnRow{
			{Item: "stall-warning", Quantity: 1, Document: "section 6"},
			{Item: "vacuum-pump", Quantity: 1, Document: "section 6"},
			{Item: "alternator", Quantity: 1, Document: "section 6"},
		}},
		KOEL: aw.OwnList{OnRecord: aw.Yes, Rows: []aw.OwnRow{
			{Item: "pitot-heat", Quantity: 1, Kinds: aw.DayIFR | aw.NightIFR, Document: "section 2"},
			{Item: "instrument-light", Quantity: 1, Kinds: aw.NightVFR | aw.NightIFR, Document: "section 2"},
			{Item: "landing-light", Quantity: 1, Kinds: aw.NightVFR | aw.NightIFR, Document: "section 2"},
			{Item: "com-radio", Quantity: 1, Kinds: aw.DayIFR | aw.NightIFR, Document: "section 2"},
			{Item: "transponder", Quantity: 1, Kinds: aw.DayIFR | aw.NightIFR, Document: "section 2"},
		}},
		Directives: aw.OwnList{OnRecord: aw.Yes, Rows: []aw.OwnRow{
			{Item: "carbon-monoxide-detector", Quantity: 1, Document: "directive on the exhaust"},
		}},
	}
}

// trainerUnits lists what is installed. A number tells which engine, tank or seat a unit serves.
func trainerUnits() []aw.Unit {
	units := []aw.Unit{
		{ID: "attitude", Item: "attitude-indicator", Needs: []string{"vacuum-pump"}},
		{ID: "heading", Item: "heading-indicator", Needs: []string{"vacuum-pump"}},
		{ID: "com-nav-1", Item: "nav-com-radio", Needs: []string{"master-switch"}},
		{ID: "com-nav-2", Item: "nav-com-radio", Needs: []string{"master-switch"}},
		{ID: "strobe-left", Item: "strobe-light"},
		{ID: "strobe-right", Item: "strobe-light"},
		{ID: "position-left", Item: "position-light"},
		{ID: "position-right", Item: "position-light"},
		{ID: "position-tail", Item: "position-light"},
	}
	for _, item := range []string{
		"airspeed-indicator", "sensitive-altimeter", "magnetic-compass", "turn-coordinator", "vertical-speed-indicator",
		"vacuum-pump", "suction-gauge", "clock", "outside-air-temperature-gauge", "hour-meter", "gps-navigator",
		"audio-panel", "intercom", "transponder", "altitude-encoder", "ads-b-out", "autopilot", "elt", "beacon",
		"landing-light", "taxi-light", "instrument-light", "dome-light", "alternator", "main-battery", "master-switch",
		"ammeter", "low-voltage-warning", "stall-warning", "pitot-heat", "flap-position-indicator", "starter",
		"cabin-heater", "fire-extinguisher", "first-aid-kit", "carbon-monoxide-detector",
	} {
		units = append(units, aw.Unit{ID: item, Item: item})
	}
	for _, u := range []aw.Unit{
		{ID: "tachometer", Item: "tachometer", Serves: 1},
		{ID: "oil-pressure", Item: "oil-pressure-gauge", Serves: 1},
		{ID: "oil-temperature", Item: "oil-temperature-gauge", Serves: 1},
		{ID: "fuel-left", Item: "fuel-quantity-gauge", Serves: 1},
		{ID: "fuel-right", Item: "fuel-quantity-gauge", Serves: 2},
	} {
		units = append(units, u)
	}
	for seat, name := range []string{"1", "2", "3", "4"} {
		units = append(
			units,
			aw.Unit{ID: "belt-" + name, Item: "safety-belt", Serves: 1 << seat},
			aw.Unit{ID: "harness-" + name, Item: "shoulder-harness", Serves: 1 << seat},
		)
	}
	return units
}
