package httpapi_test

import (
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// fleet is what most tests start from: two bases, and one aircraft with a landing light, in good order.
type fleet struct {
	home, away client.Base
	aircraft   client.Aircraft
}

func (r *rig) fleet(tb testing.TB) fleet {
	tb.Helper()
	c := r.as(tb, techlog.Administrator)
	var f fleet
	for i, b := range []client.BaseEntry{
		{Code: "HOM", Name: "Home Field", Lat: 40, Lon: -75, Zone: "America/New_York"},
		{Code: "AWY", Name: "Away Field", Lat: 40.5, Lon: -75.5, Zone: "America/New_York"},
	} {
		added, err := c.AddBaseWithResponse(tb.Context(), nil, b)
		if err != nil || added.JSON201 == nil {
			tb.Fatalf("add base: %v, %s", err, added.Body)
		}
		if i == 0 {
			f.home = *added.JSON201
		} else {
			f.away = *added.JSON201
		}
	}
	added, err := c.AddAircraftWithResponse(tb.Context(), nil, trainer(f.home.Id))
	if err != nil || added.JSON201 == nil {
		tb.Fatalf("add aircraft: %v, %s", err, added.Body)
	}
	f.aircraft = *added.JSON201
	return f
}

// trainer is an invented aircraft. Its papers are all on record.
func trainer(base client.ID) client.AircraftEntry {
	yes, no := true, false
	units := []casefile.Unit{}
	for id, item := range map[string]string{
		"asi": "airspeed-indicator", "alt": "sensitive-altimeter", "compass": "magnetic-compass", "ldg": "landing-light",
		"beacon": "beacon", "elt": "elt", "alternator": "alternator",
	} {
		units = append(units, casefile.Unit{ID: id, Item: item})
	}
	for id, places := range map[string][]int{"tach": {1}, "oil-p": {1}, "oil-t": {1}, "fuel-l": {1}, "fuel-r": {2}, "belts": {1, 2}, "harness": {1, 2}} {
		item := map[string]string{
			"tach": "tachometer", "oil-p": "oil-pressure-gauge", "oil-t": "oil-temperature-gauge", "fuel-l": "fuel-quantity-gauge",
			"fuel-r": "fuel-quantity-gauge", "belts": "safety-belt", "harness": "shoulder-harness",
		}[id]
		units = append(units, casefile.Unit{ID: id, Item: item, Serves: places})
	}
	for _, id := range []string{"nav-left", "nav-right", "nav-tail"} {
		units = append(units, casefile.Unit{ID: id, Item: "position-light"})
	}
	approved := []string{"day-vfr", "night-vfr"}
	return client.AircraftEntry{
		Registration: "N0TRN", Type: "Tern 2", Base: base,
		Facts: casefile.Facts{
			Category: "airplane", Class: "single-engine-land", Certificate: "standard", Basis: "part-23-before-64", Engine: "reciprocating", Cooling: "air",
			MaxTakeoffWeightLb: new(1700.0), Engines: new(1), Tanks: new(2), Seats: new(2), FrontSeats: new(2),
			Manufactured: "1999-05-01", Certificated: "1996-09-01", TypeCertificateApplied: "1994-01-01",
			AnnualInspected: "2026-02-10", HoursSinceInspection: new(41.5), AltimeterTested: "2025-02-11", TransponderTested: "2025-02-11",
			ELTInspected: "2026-02-10", ELTBatteryDue: "2028-06-30", ELTBatteryHours: new(0.2),
			USRegistered: &yes, PressureOil: &yes, AltitudeEngine: &no, RetractableGear: &no, ControllablePropeller: &no,
			PumpFedFuel: &no, CowlFlaps: &no, ElectricalSystem: &yes, EngineDrivenElectrical: &yes, Pressurized: &no,
			ReplaceableFuses: &no, MMELExists: &yes, MELAuthorized: &no, AltitudeReportingCalibrated: &yes, Approved: &approved,
			Papers: &casefile.Papers{
				Airworthiness: casefile.Certificate{Aboard: &yes, Displayed: &yes}, Registration: casefile.Paper{Aboard: &yes, Through: "2031-05-31"},
				Limitations: casefile.Aboard{Aboard: &yes}, WeightBalance: casefile.WeightBalance{Aboard: &yes, Dated: "2020-05-04"},
			},
			Upkeep: &casefile.Upkeep{Complete: &yes},
		},
		Configuration: &casefile.Configuration{
			EquipmentChanged: "2020-05-04",
			Units:            units, UnitsComplete: &yes,
			TypeCertification: casefile.OwnList{OnRecord: &yes, Confirmed: &casefile.Confirmation{
				By: "R. Fennel", Certificate: "mechanic 0000002 (invented)", On: "2026-02-10", Document: "type certificate data sheet",
			}},
			EquipmentList: casefile.OwnList{OnRecord: &yes, Document: "section 6"}, KOEL: casefile.OwnList{OnRecord: &no},
			Directives: casefile.OwnList{OnRecord: &yes},
		},
	}
}

// nightFlight is a sightseeing flight at night, for hire: the landing light is required for it (14 CFR 91.205(c)(4)).
func (f fleet) nightFlight() client.FlightPlan {
	yes, no := true, false
	airspace := []string{}
	return client.FlightPlan{
		Aircraft: f.aircraft.Id, From: f.home.Id, To: f.home.Id, Rules: "vfr",
		Departs: noon.Add(36 * time.Hour), Arrives: noon.Add(37 * time.Hour), // 19 h to 20 h local time
		Facts: &casefile.FlightFacts{
			ForHire: &yes, OverWater: &no, Controlled: &no, Occupants: new(2), Persons: new(2), RequiredCrew: new(1),
			AltitudeFt: new(3000.0), Airspace: &airspace,
		},
		Purpose: new("city lights"),
	}
}
