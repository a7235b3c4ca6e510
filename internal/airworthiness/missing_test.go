package airworthiness_test

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// supply says where a missing fact of three values is supplied. The other facts are numbers, dates and words.
var supply = map[string]func(*world) *airworthiness.Truth{
	"aircraft.facts.us_registered":                 func(w *world) *airworthiness.Truth { return &w.aircraft.USRegistered },
	"aircraft.facts.progressive_inspection":        func(w *world) *airworthiness.Truth { return &w.aircraft.Progressive },
	"aircraft.facts.pressure_oil":                  func(w *world) *airworthiness.Truth { return &w.aircraft.PressureOil },
	"aircraft.facts.altitude_engine":               func(w *world) *airworthiness.Truth { return &w.aircraft.AltitudeEngine },
	"aircraft.facts.retractable_gear":              func(w *world) *airworthiness.Truth { return &w.aircraft.RetractableGear },
	"aircraft.facts.controllable_propeller":        func(w *world) *airworthiness.Truth { return &w.aircraft.ControllablePropeller },
	"aircraft.facts.pump_fed_fuel":                 func(w *world) *airworthiness.Truth { return &w.aircraft.PumpFedFuel },
	"aircraft.facts.cowl_flaps":                    func(w *world) *airworthiness.Truth { return &w.aircraft.CowlFlaps },
	"aircraft.facts.electrical_system":             func(w *world) *airworthiness.Truth { return &w.aircraft.ElectricalSystem },
	"aircraft.facts.engine_driven_electrical":      func(w *world) *airworthiness.Truth { return &w.aircraft.EngineDrivenElectrical },
	"aircraft.facts.pressurized":                   func(w *world) *airworthiness.Truth { return &w.aircraft.Pressurized },
	"aircraft.facts.replaceable_fuses":             func(w *world) *airworthiness.Truth { return &w.aircraft.ReplaceableFuses },
	"aircraft.facts.mmel_exists":                   func(w *world) *airworthiness.Truth { return &w.aircraft.MMELExists },
	"aircraft.facts.mel_authorized":                func(w *world) *airworthiness.Truth { return &w.aircraft.MELAuthorized },
	"aircraft.facts.altitude_reporting_calibrated": func(w *world) *airworthiness.Truth { return &w.aircraft.AltitudeReportingCalibrated },

	"aircraft.configuration.units_complete":               func(w *world) *airworthiness.Truth { return &w.aircraft.UnitsComplete },
	"aircraft.configuration.type_certification.on_record": func(w *world) *airworthiness.Truth { return &w.aircraft.TypeCertification.OnRecord },
	"aircraft.configuration.type_certification.confirmed": func(w *world) *airworthiness.Truth { return &w.aircraft.TypeCertification.Confirmed },
	"aircraft.configuration.equipment_list.on_record":     func(w *world) *airworthiness.Truth { return &w.aircraft.EquipmentList.OnRecord },
	"aircraft.configuration.koel.on_record":               func(w *world) *airworthiness.Truth { return &w.aircraft.KOEL.OnRecord },
	"aircraft.configuration.directives.on_record":         func(w *world) *airworthiness.Truth { return &w.aircraft.Directives.OnRecord },

	"aircraft.facts.papers.airworthiness_certificate.aboard":    func(w *world) *airworthiness.Truth { return &w.aircraft.Papers.Airworthiness },
	"aircraft.facts.papers.airworthiness_certificate.displayed": func(w *world) *airworthiness.Truth { return &w.aircraft.Papers.Displayed },
	"aircraft.facts.papers.registration.aboard":                 func(w *world) *airworthiness.Truth { return &w.aircraft.Papers.Registration },
	"aircraft.facts.papers.operating_limitations.aboard":        func(w *world) *airworthiness.Truth { return &w.aircraft.Papers.Limitations },
	"aircraft.facts.papers.weight_and_balance.aboard":           func(w *world) *airworthiness.Truth { return &w.aircraft.Papers.WeightBalance },
	"aircraft.facts.papers.weight_and_balance.dated":            func(w *world) *airworthiness.Truth { return &w.aircraft.Papers.WeightBalanceFits },
	"aircraft.facts.papers.radio_licence.aboard":                func(w *world) *airworthiness.Truth { return &w.aircraft.Papers.RadioLicence },
	"aircraft.facts.upkeep.complete":                            func(w *world) *airworthiness.Truth { return &w.aircraft.Upkeep.Complete },

	"aircraft.configuration.mel.aboard":        func(w *world) *airworthiness.Truth { return &w.aircraft.MEL.Aboard },
	"aircraft.configuration.mel.on_record":     func(w *world) *airworthiness.Truth { return &w.aircraft.MEL.OnRecord },
	"aircraft.configuration.mel.letter_aboard": func(w *world) *airworthiness.Truth { return &w.aircraft.MEL.LetterAboard },

	"flight.rules":                          func(w *world) *airworthiness.Truth { return &w.flight.IFR },
	"flight.for_hire":                       func(w *world) *airworthiness.Truth { return &w.flight.ForHire },
	"flight.over_water":                     func(w *world) *airworthiness.Truth { return &w.flight.OverWater },
	"flight.controlled_airspace":            func(w *world) *airworthiness.Truth { return &w.flight.Controlled },
	"flight.below_2500_agl":                 func(w *world) *airworthiness.Truth { return &w.flight.Below2500AGL },
	"flight.training_within_50nm":           func(w *world) *airworthiness.Truth { return &w.flight.TrainingWithin50NM },
	"flight.to_place_of_repair":             func(w *world) *airworthiness.Truth { return &w.flight.ToPlaceOfRepair },
	"flight.to_place_of_inspection":         func(w *world) *airworthiness.Truth { return &w.flight.ToPlaceOfInspection },
	"flight.instruction_provided_aircraft":  func(w *world) *airworthiness.Truth { return &w.flight.InstructionProvidedAircraft },
	"flight.newly_acquired_to_installation": func(w *world) *airworthiness.Truth { return &w.flight.NewlyAcquiredToInstallation },
	"flight.under_way":                      func(w *world) *airworthiness.Truth { return &w.flight.UnderWay },
	"flight.repair_impossible":              func(w *world) *airworthiness.Truth { return &w.flight.RepairImpossible },
	"flight.only_required_crew":             func(w *world) *airworthiness.Truth { return &w.flight.OnlyRequiredCrew },
	"flight.in_alaska":                      func(w *world) *airworthiness.Truth { return &w.flight.InAlaska },
	"flight.dark":                           func(w *world) *airworthiness.Truth { return &w.flight.Dark },
	"flight.over_30_minutes_above_12500":    func(w *world) *airworthiness.Truth { return &w.flight.Over30MinAbove12500 },
}

// settled says of which facts it may be enough that somebody has looked, whatever they found: a small airplane is of an
// eligible class with or without a master MEL.
var settled = []string{
	"aircraft.facts.mmel_exists",
	"aircraft.configuration.equipment_list.on_record", "aircraft.configuration.koel.on_record",
	"aircraft.configuration.directives.on_record",
}

// ferries are the facts of the two ferries without an ELT. Both may hang on one more, whether only required crew is
// aboard: then it is asked for whichever of them is claimed.
var ferries = []string{"flight.newly_acquired_to_installation", "flight.to_place_of_repair", "flight.repair_impossible"}

func ferriesShareTheirCrew(w *world) bool {
	return w.flight.OnlyRequiredCrew == airworthiness.Unknown && w.flight.NewlyAcquiredToInstallation != airworthiness.No
}

// lasting says of which facts one answer leaves the question open: an MEL that governs has to be there, a list that nobody
// has confirmed has to be confirmed, and one that is not complete has to be completed.
var lasting = map[string]airworthiness.Truth{
	"aircraft.configuration.units_complete":               airworthiness.No,
	"aircraft.facts.upkeep.complete":                      airworthiness.No,
	"aircraft.configuration.mel.on_record":                airworthiness.No,
	"aircraft.configuration.type_certification.on_record": airworthiness.No,
	"aircraft.configuration.type_certification.confirmed": airworthiness.No,
}

// TestASuppliedFactIsNoLongerMissing holds that what an answer asks for is what it wants: supplied one way and the other,
// the fact is asked for no more, and the two answers differ.
func TestASuppliedFactIsNoLongerMissing(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		before := judge(t, r, w)
		for fact, at := range supply {
			if !before.misses(fact) || *at(&w) != airworthiness.Unknown {
				continue
			}
			var tellings [2][]string
			for i, truth := range []airworthiness.Truth{airworthiness.No, airworthiness.Yes} {
				more := w
				*at(&more) = truth
				after := judge(t, r, more)
				if open, ok := lasting[fact]; after.misses(fact) && (!ok || open != truth) {
					t.Fatalf("%s is %s, and still missing:%s", fact, truth, tell(after.tell(w.defects)))
				}
				tellings[i] = after.tell(w.defects)
			}
			if ferriesShareTheirCrew(&w) && slices.Contains(ferries, fact) {
				continue
			}
			if slices.Equal(tellings[0], tellings[1]) && !slices.Contains(settled, fact) {
				t.Fatalf("%s was missing, but changes nothing:%s%s", fact, tell(before.tell(w.defects)), tell(tellings[0]))
			}
		}
	})
}

// TestOnlyWhatIsOpenIsAsked holds that on a complete record nobody is asked whether it is complete.
func TestOnlyWhatIsOpenIsAsked(t *testing.T) {
	t.Parallel()
	r := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "each-tank"}))
	w := world{aircraft: known(units("gauge", nil, nil, nil)...), defects: failing("a"), flight: dated()}
	w.aircraft.Tanks = airworthiness.Given(2)
	a := judge(t, r, w)
	if !a.misses("aircraft.configuration.units[].serves") || a.misses("aircraft.configuration.units_complete") {
		t.Errorf("one of three gauges for two tanks is out: %s", tell(a.tell(w.defects)))
	}
}

func (a *answer) misses(fact string) bool {
	for i := range a.Findings {
		for _, m := range a.plan.Explain(&a.Findings[i]).Missing {
			if m.Fact == fact {
				return true
			}
		}
	}
	return false
}

// TestTheWholeRecordLeavesNothingOpen holds that an answer can be had: the whole record of a plain airplane leaves
// nothing open by day or night, under either rules.
func TestTheWholeRecordLeavesNothingOpen(t *testing.T) {
	t.Parallel()
	r := rules(t)
	for _, f := range plainFlights() {
		a := judge(t, r, world{aircraft: plainAircraft(), flight: f})
		if a.Verdict != airworthiness.Clear {
			t.Errorf("an airplane without a squawk is %s:%s", a.Verdict, tell(a.tell(nil)))
		}
	}
}

// TestKindsOfOperationTurnWhatIsOpenIntoLimitations judges each kind as such, with the flight's other facts left open.
// Source: 14 CFR 91.205(c)(4).
func TestKindsOfOperationTurnWhatIsOpenIntoLimitations(t *testing.T) {
	t.Parallel()
	r := rules(t)
	a := plainAircraft()
	plan, err := r.Plan(&a)
	if err != nil {
		t.Fatal(err)
	}
	defects := []airworthiness.Defect{inoperative("landing-light")}
	want := []string{"", "not for hire", "", "not for hire"}
	flights := r.KindsOfOperation(airworthiness.Flight{On: day("2026-06-01"), Ends: time.Date(2026, 6, 1, 18, 0, 0, 0, time.UTC)})
	for i, kind := range airworthiness.KindNames() {
		var d airworthiness.Determination
		plan.Determine(&d, defects, &flights[i])
		limitation := ""
		for j := range d.Findings {
			if e := plan.Explain(&d.Findings[j]); e.Row == "91.205-c-4" {
				limitation = e.Limitation
			}
		}
		if limitation != want[i] || !d.Verdict.Permits() {
			t.Errorf("%s without a landing light: %s, limited to %q, want %q", kind, d.Verdict, limitation, want[i])
		}
	}
}
