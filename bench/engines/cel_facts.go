package engines

import (
	"fmt"
	"slices"
	"strings"

	"github.com/google/cel-go/cel"

	aw "tiedown/internal/airworthiness"
)

// owner says on what a condition depends, and so when the CEL baseline settles it.
type owner uint8

const (
	ofAircraft owner = iota // in CEL, once an aircraft
	ofFlight                // in CEL, once a flight
	ofUnits                 // in Go, once a determination
	ofDeferral              // in Go, once a defect and determination
)

var (
	aircraftWords  = []string{"category", "certificate", "basis", "engine", "cooling"}
	aircraftTruths = []string{
		"us-registered", "progressive", "pressure-oil", "altitude-engine", "retractable-gear", "controllable-propeller", "pump-fed-fuel",
		"cowl-flaps", "electrical-system", "engine-driven-electrical", "pressurized", "replaceable-fuses", "mmel-exists",
		"mel-authorized", "altitude-reporting-calibrated", "equipment-list-on-record", "mel-aboard",
		"airworthiness-certificate-aboard", "airworthiness-certificate-displayed", "registration-aboard", "operating-limitations-aboard",
		"weight-and-balance-aboard", "weight-and-balance-fits", "radio-licence-aboard",
	}
	aircraftNumbers = []string{
		"max-takeoff-weight-lb", "seats", "manufactured", "certificated", "type-applied", "elt-battery-hours",
	}
	flightTruths = []string{
		"ifr", "day", "night", "lights", "dark", "in-alaska", "for-hire", "only-required-crew", "over-water",
		"controlled-airspace", "below-2500-agl", "training-within-50nm", "to-place-of-repair", "repair-impossible", "under-way",
		"cabin-over-30-minutes", "instruction-provided-aircraft", "to-place-of-inspection", "newly-acquired-to-installation",
	}
	flightNumbers = []string{"altitude", "cabin"}
	flightLists   = []string{"airspace", "navigates-by", "atc-authorized", "operation"}
	ofUnitsNames  = append([]string{"installed", "works", "removed-within", "vor-checked-within"}, inspectionNames...)
	deferralNames = []string{
		"removed", "deactivated", "out-of-use", "placarded", "recorded", "hazard-determined", "entry-by-rule-text",
		"involves-maintenance", "not-lapsed", "hazard-considered",
	}
)

// factTypes are the variables that facts become. A word that is not known is empty; a truth is two variables, known to
// be so and known not to be, as no comparison is then needed; numbers and lists have a companion that says whether they
// are known.
func factTypes() map[string]*cel.Type {
	types := map[string]*cel.Type{}
	declare := func(names []string, of *cel.Type, companions ...string) {
		for _, name := range names {
			types[variable(name)] = of
			for _, companion := range companions {
				types[variable(name)+companion] = cel.BoolType
			}
		}
	}
	declare(aircraftWords, cel.StringType)
	declare(slices.Concat(aircraftTruths, flightTruths), cel.BoolType, "_not")
	declare(slices.Concat(aircraftNumbers, flightNumbers), cel.DoubleType, "_known")
	declare([]string{"approved"}, cel.ListType(cel.StringType), "_known")
	declare(flightLists, cel.ListType(cel.StringType), "_known", "_strange") // strange: holds a word nobody understands
	return types
}

func variable(key string) string {
	return strings.NewReplacer("-", "_", ":", "_", "/", "_").Replace(key)
}

// condition gives a condition's owner, and the two CEL expressions over facts that say that it holds and that it does
// not. Conditions on units and deferrals are counted in Go and have no expression.
func condition(key string) (of owner, yes, no string, err error) {
	name, arg, _ := strings.Cut(key, ":")
	v := variable(name)
	switch {
	case slices.Contains(ofUnitsNames, name):
		return ofUnits, "", "", nil
	case slices.Contains(deferralNames, name):
		return ofDeferral, "", "", nil
	case slices.Contains(aircraftWords, name):
		yes, no = fmt.Sprintf("%s == %q", v, arg), fmt.Sprintf(`%s != "" && %s != %q`, v, v, arg)
		return ofAircraft, yes, no, nil
	case slices.Contains(aircraftTruths, name):
		return ofAircraft, v, v + "_not", nil
	case slices.Contains(flightTruths, name):
		return ofFlight, v, v + "_not", nil
	case slices.Contains(flightLists, name):
		yes, no = listed(v, arg)
		if key == "airspace:class-a" { // the floor of Class A airspace decides, as the engine has it
			yes = "altitude_known && altitude >= 18000.0 || " + yes
			no = "altitude_known && altitude < 18000.0 && " + no
		}
		return ofFlight, yes, no, nil
	case name == "kind":
		yes, no, err = kindOfOperation(arg)
		return ofFlight, yes, no, err
	}
	switch name {
	case "powered":
		return ofAircraft, `engine != "" && engine != "none"`, `engine == "none"`, nil
	case "part-23":
		const list = `basis in ["part-23", "part-23-before-64"]`
		return ofAircraft, list, `basis != "" && !(` + list + `)`, nil
	case "small":
		return ofAircraft, known("max-takeoff-weight-lb", "<= 12500.0"), known("max-takeoff-weight-lb", "> 12500.0"), nil
	case "single-place":
		return ofAircraft, known("seats", "<= 1.0"), known("seats", "> 1.0"), nil
	case "manufactured-after", "certificated-after", "type-applied-after":
		limit, ok := aw.ParseDate(arg)
		if !ok {
			return 0, "", "", fmt.Errorf("condition %q: want a date", key)
		}
		fact := strings.TrimSuffix(name, "-after")
		return ofAircraft, known(fact, fmt.Sprintf("> %d.0", limit)), known(fact, fmt.Sprintf("<= %d.0", limit)), nil
	case "elt-battery-used-at-most":
		return ofAircraft, known("elt-battery-hours", "<= "+arg+".0"), known("elt-battery-hours", "> "+arg+".0"), nil
	case "approved":
		return ofAircraft, fmt.Sprintf("approved_known && %q in approved", arg), fmt.Sprintf("approved_known && !(%q in approved)", arg), nil
	case "altitude-from":
		return ofFlight, known("altitude", ">= "+arg+".0"), known("altitude", "< "+arg+".0"), nil
	case "altitude-above":
		return ofFlight, known("altitude", "> "+arg+".0"), known("altitude", "<= "+arg+".0"), nil
	case "cabin-above": // a cabin is never higher than the aircraft
		no = known("cabin", "<= "+arg+".0") + " || !cabin_known && " + known("altitude", "<= "+arg+".0")
		return ofFlight, known("cabin", "> "+arg+".0"), no, nil
	}
	return 0, "", "", fmt.Errorf("condition %q is not known to the CEL baseline", key)
}

func known(name, comparison string) string {
	v := variable(name)
	return fmt.Sprintf("%s_known && %s %s", v, v, comparison)
}

func listed(v, word string) (yes, no string) {
	return fmt.Sprintf("%s_known && %q in %s", v, word, v), fmt.Sprintf("%s_known && !%s_strange && !(%q in %s)", v, v, word, v)
}

func kindOfOperation(kind string) (yes, no string, err error) {
	light, rules, ok := strings.Cut(kind, "-")
	if !ok || !slices.Contains(aw.KindNames(), kind) {
		return "", "", fmt.Errorf("no such kind of operation %q", kind)
	}
	if rules == "ifr" {
		return "ifr && " + light, "ifr_not || " + light + "_not", nil
	}
	return "ifr_not && " + light, "ifr || " + light + "_not", nil
}

// aircraftFacts are the facts of an aircraft as CEL's variables.
func aircraftFacts(a *aw.Aircraft) map[string]any {
	facts := map[string]any{}
	for name, word := range map[string]string{
		"category": a.Category, "certificate": a.Certificate, "basis": a.Basis, "engine": a.Engine, "cooling": a.Cooling,
	} {
		if !slices.Contains(aw.Vocabulary(name), word) {
			word = ""
		}
		facts[name] = word
	}
	putTruths(facts, map[string]aw.Truth{
		"us-registered": a.USRegistered, "progressive": a.OnProgram(), "pressure-oil": a.PressureOil, "altitude-engine": a.AltitudeEngine,
		"retractable-gear": a.RetractableGear, "controllable-propeller": a.ControllablePropeller,
		"pump-fed-fuel": a.PumpFedFuel, "cowl-flaps": a.CowlFlaps, "electrical-system": a.ElectricalSystem,
		"engine-driven-electrical": a.EngineDrivenElectrical, "pressurized": a.Pressurized,
		"replaceable-fuses": a.ReplaceableFuses, "mmel-exists": a.MMELExists, "mel-authorized": a.MELAuthorized,
		"altitude-reporting-calibrated": a.AltitudeReportingCalibrated, "equipment-list-on-record": a.EquipmentList.OnRecord,
		"mel-aboard": a.MEL.Aboard, "airworthiness-certificate-aboard": a.Papers.Airworthiness,
		"airworthiness-certificate-displayed": a.Papers.Displayed, "registration-aboard": a.Papers.Registration,
		"operating-limitations-aboard": a.Papers.Limitations, "weight-and-balance-aboard": a.Papers.WeightBalance,
		"weight-and-balance-fits": a.Papers.WeightBalanceFits, "radio-licence-aboard": a.Papers.RadioLicence,
	})
	putNumber(facts, "max-takeoff-weight-lb", a.MaxTakeoffWeightLb)
	putNumber(facts, "seats", a.Seats)
	putNumber(facts, "manufactured", a.Manufactured)
	putNumber(facts, "certificated", a.Certificated)
	putNumber(facts, "type-applied", a.TypeCertificateApplied)
	putNumber(facts, "elt-battery-hours", a.ELTBatteryHours)
	var approved []string
	for i, kind := range aw.KindNames() {
		if a.Approved.Value&(1<<i) != 0 {
			approved = append(approved, kind)
		}
	}
	facts["approved"], facts["approved_known"] = approved, a.Approved.Known
	return facts
}

// flightFacts are the facts of a flight as CEL's variables.
func flightFacts(f *aw.Flight) map[string]any {
	facts := map[string]any{}
	putTruths(facts, map[string]aw.Truth{
		"ifr": f.IFR, "day": f.Day, "night": f.Night, "lights": f.Lights, "dark": f.Dark, "in-alaska": f.InAlaska,
		"for-hire": f.ForHire, "only-required-crew": f.OnlyRequiredCrew, "over-water": f.OverWater,
		"controlled-airspace": f.Controlled, "below-2500-agl": f.Below2500AGL, "training-within-50nm": f.TrainingWithin50NM,
		"to-place-of-repair": f.ToPlaceOfRepair, "repair-impossible": f.RepairImpossible, "under-way": f.UnderWay,
		"cabin-over-30-minutes": f.Over30MinAbove12500, "instruction-provided-aircraft": f.InstructionProvidedAircraft,
		"to-place-of-inspection": f.ToPlaceOfInspection, "newly-acquired-to-installation": f.NewlyAcquiredToInstallation,
	})
	putNumber(facts, "altitude", f.AltitudeFt)
	putNumber(facts, "cabin", f.CabinFt)
	for name, list := range map[string]struct {
		aw.Fact[[]string]
		vocabulary string
	}{
		"airspace": {f.Airspace, "airspace"}, "navigates-by": {f.Navigation, "navigation"},
		"atc-authorized": {f.ATCAuthorized, "atc_authorized"}, "operation": {f.Operations, "operations"},
	} {
		v := variable(name)
		facts[v], facts[v+"_known"] = list.Value, list.Known
		facts[v+"_strange"] = slices.ContainsFunc(list.Value, func(word string) bool {
			return !slices.Contains(aw.Vocabulary(list.vocabulary), word)
		})
	}
	return facts
}

func putTruths(facts map[string]any, truths map[string]aw.Truth) {
	for name, t := range truths {
		facts[variable(name)], facts[variable(name)+"_not"] = t == aw.Yes, t == aw.No
	}
}

func putNumber[T int | float64 | aw.Date](facts map[string]any, name string, n aw.Fact[T]) {
	facts[variable(name)], facts[variable(name)+"_known"] = float64(n.Value), n.Known
}
