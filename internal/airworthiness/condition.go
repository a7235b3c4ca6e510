package airworthiness

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// owner says on what a condition depends, and so when it is evaluated.
type owner uint8

const (
	ofAircraft owner = iota // the aircraft's facts: once a configuration
	ofFlight                // the flight's facts: once a flight
	ofUnits                 // aircraft and flight together, such as which units work: once a determination
	ofRecords               // the aircraft's inspections and the flight: once a determination
	ofDeferral              // one deferral: once for all flights
	ofLapse                 // one deferral and the flight that it must outlast
	ofSet                   // one deferral beside the other squawks
	ofMEL                   // what the aircraft's MEL says of one squawk
	owners
)

// condition is one distinct condition of a ruleset, such as "cabin-above:12500".
type condition struct {
	key   string
	owner owner
	words Words

	aircraft func(*Aircraft) Truth
	flight   func(*Flight) Truth
	record   func(*Aircraft) record
	deferral func(*Deferral) Truth
	lapse    func(*Deferral, *Flight) Truth
	mel      func(*MELRow) Truth
	unit     unitPredicate
	item     int // the item that an ofUnits condition speaks of
	days     int // its number of days, for removed-within and vor-checked-within
}

type unitPredicate uint8

const (
	installed        unitPredicate = iota // some unit that does the item's job is installed
	works                                 // some such unit works
	removedWithin                         // every such unit was removed, placarded and recorded, at most so many days before
	vorCheckedWithin                      // the VOR receivers were checked at most so many days before (91.171)
)

// isPresence says whether the predicate asks for a unit that is there, or works.
func (u unitPredicate) isPresence() bool { return u == installed || u == works }

// Words are a condition's words for people, as the table of conditions gives them.
type Words struct {
	Key        string // the condition's name, without argument
	Holds      string // what is so when it holds
	NotHolding string // a flight limited to where it does not hold
	Holding    string // a flight limited to where it holds
	Fact       string // the fact to supply when it is unknown
}

type (
	makeAircraft func(arg string) (func(*Aircraft) Truth, error)
	makeFlight   func(arg string) (func(*Flight) Truth, error)
)

// parseCondition compiles one condition of a clause, such as "category:airplane".
func (r *Ruleset) parseCondition(key string) (condition, error) {
	name, arg, _ := strings.Cut(key, ":")
	words, ok := r.words[name]
	if !ok {
		return condition{}, fmt.Errorf("condition %q is not in the table of conditions", name)
	}
	c := condition{key: key, words: words, item: -1}
	var err error
	if f, ok := aircraftConditions[name]; ok {
		c.owner = ofAircraft
		c.aircraft, err = f(arg)
		return c, wrap(key, err)
	}
	if f, ok := flightConditions[name]; ok {
		c.owner = ofFlight
		c.flight, err = f(arg)
		return c, wrap(key, err)
	}
	if f, ok := recordConditions[name]; ok {
		c.owner = ofRecords
		c.record, err = f(arg)
		return c, wrap(key, err)
	}
	if f, ok := deferralConditions[name]; ok {
		c.owner, c.deferral = ofDeferral, f
		return c, wrap(key, noArgument(arg))
	}
	if name == "not-lapsed" {
		c.owner, c.lapse = ofLapse, notLapsed
		return c, wrap(key, noArgument(arg))
	}
	if name == "hazard-considered" {
		c.owner = ofSet
		return c, wrap(key, noArgument(arg))
	}
	if name == "mel-maintenance" {
		c.owner, c.mel = ofMEL, func(row *MELRow) Truth { return row.Maintenance }
		return c, wrap(key, noArgument(arg))
	}
	return c, r.parseUnitCondition(&c, name, arg)
}

func (r *Ruleset) parseUnitCondition(c *condition, name, arg string) error {
	c.owner = ofUnits
	item, days := arg, ""
	switch name {
	case "installed":
		c.unit = installed
	case "works":
		c.unit = works
	case "removed-within":
		c.unit = removedWithin
		item, days, _ = strings.Cut(arg, "/")
	case "vor-checked-within":
		c.unit = vorCheckedWithin
		item, days = "", arg
	default:
		return fmt.Errorf("condition %q has words but no meaning", name)
	}
	if c.unit >= removedWithin {
		n, err := strconv.Atoi(days)
		if err != nil || n < 1 {
			return fmt.Errorf("condition %q: want a number of days from 1", c.key)
		}
		c.days = n
	}
	if c.unit == vorCheckedWithin {
		return nil
	}
	i, ok := r.itemIndex[item]
	if !ok {
		return fmt.Errorf("condition %q: item %q is not in the catalog", c.key, item)
	}
	c.item = i
	return nil
}

func wrap(key string, err error) error {
	if err != nil {
		return fmt.Errorf("condition %q: %w", key, err)
	}
	return nil
}

func noArgument(arg string) error {
	if arg != "" {
		return fmt.Errorf("it takes no argument, but has %q", arg)
	}
	return nil
}

// ConditionNames lists every condition that the engine gives a meaning to, sorted.
func ConditionNames() []string {
	names := []string{
		"installed", "works", "removed-within", "vor-checked-within", "not-lapsed", "hazard-considered", "mel-maintenance",
	}
	for n := range aircraftConditions {
		names = append(names, n)
	}
	for n := range flightConditions {
		names = append(names, n)
	}
	for n := range recordConditions {
		names = append(names, n)
	}
	for n := range deferralConditions {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// aircraftConditions are settled by the aircraft's facts.
var aircraftConditions = map[string]makeAircraft{
	"powered":                       plain(func(a *Aircraft) Truth { return wordIs("engine", a.Engine, "none").Not() }),
	"engine":                        word("engine", func(a *Aircraft) string { return a.Engine }),
	"category":                      word("category", func(a *Aircraft) string { return a.Category }),
	"certificate":                   word("certificate", func(a *Aircraft) string { return a.Certificate }),
	"basis":                         word("basis", func(a *Aircraft) string { return a.Basis }),
	"part-23":                       plain(isPart23),
	"air-carrier-use":               plain(func(a *Aircraft) Truth { return a.AirCarrierUse }),
	"cooling":                       word("cooling", func(a *Aircraft) string { return a.Cooling }),
	"small":                         plain(func(a *Aircraft) Truth { return atMost(a.MaxTakeoffWeightLb, smallAircraftLb) }),
	"single-place":                  plain(func(a *Aircraft) Truth { return atMost(a.Seats, 1) }),
	"us-registered":                 plain(func(a *Aircraft) Truth { return a.USRegistered }),
	"progressive":                   plain((*Aircraft).OnProgram),
	"pressure-oil":                  plain(func(a *Aircraft) Truth { return a.PressureOil }),
	"altitude-engine":               plain(func(a *Aircraft) Truth { return a.AltitudeEngine }),
	"retractable-gear":              plain(func(a *Aircraft) Truth { return a.RetractableGear }),
	"controllable-propeller":        plain(func(a *Aircraft) Truth { return a.ControllablePropeller }),
	"pump-fed-fuel":                 plain(func(a *Aircraft) Truth { return a.PumpFedFuel }),
	"cowl-flaps":                    plain(func(a *Aircraft) Truth { return a.CowlFlaps }),
	"electrical-system":             plain(func(a *Aircraft) Truth { return a.ElectricalSystem }),
	"engine-driven-electrical":      plain(func(a *Aircraft) Truth { return a.EngineDrivenElectrical }),
	"pressurized":                   plain(func(a *Aircraft) Truth { return a.Pressurized }),
	"replaceable-fuses":             plain(func(a *Aircraft) Truth { return a.ReplaceableFuses }),
	"mmel-exists":                   plain(func(a *Aircraft) Truth { return a.MMELExists }),
	"mel-authorized":                plain(func(a *Aircraft) Truth { return a.MELAuthorized }),
	"mel-authority":                 word("mel_authority", func(a *Aircraft) string { return a.MEL.Authority }),
	"mel-letter-aboard":             plain(func(a *Aircraft) Truth { return a.MEL.LetterAboard }),
	"altitude-reporting-calibrated": plain(func(a *Aircraft) Truth { return a.AltitudeReportingCalibrated }),
	"equipment-list-on-record":      plain(func(a *Aircraft) Truth { return a.EquipmentList.OnRecord }),
	"manufactured-after":            after(func(a *Aircraft) Fact[Date] { return a.Manufactured }),
	"certificated-after":            after(func(a *Aircraft) Fact[Date] { return a.Certificated }),
	"type-applied-after":            after(func(a *Aircraft) Fact[Date] { return a.TypeCertificateApplied }),
	"approved":                      approved,
	"elt-battery-used-at-most":      hoursAtMost(func(a *Aircraft) Fact[float64] { return a.ELTBatteryHours }),
	"mel-aboard":                    plain(func(a *Aircraft) Truth { return a.MEL.Aboard }),

	"airworthiness-certificate-aboard":    plain(func(a *Aircraft) Truth { return a.Papers.Airworthiness }),
	"airworthiness-certificate-displayed": plain(func(a *Aircraft) Truth { return a.Papers.Displayed }),
	"registration-aboard":                 plain(func(a *Aircraft) Truth { return a.Papers.Registration }),
	"operating-limitations-aboard":        plain(func(a *Aircraft) Truth { return a.Papers.Limitations }),
	"weight-and-balance-aboard":           plain(func(a *Aircraft) Truth { return a.Papers.WeightBalance }),
	"weight-and-balance-fits":             plain(func(a *Aircraft) Truth { return a.Papers.WeightBalanceFits }),
	"radio-licence-aboard":                plain(func(a *Aircraft) Truth { return a.Papers.RadioLicence }),
}

// flightConditions are settled by the flight's facts.
var flightConditions = map[string]makeFlight{
	"ifr":                   flag(func(f *Flight) Truth { return f.IFR }),
	"day":                   flag(func(f *Flight) Truth { return f.Day }),
	"night":                 flag(func(f *Flight) Truth { return f.Night }),
	"lights":                flag(func(f *Flight) Truth { return f.Lights }),
	"dark":                  flag(func(f *Flight) Truth { return f.Dark }),
	"in-alaska":             flag(func(f *Flight) Truth { return f.InAlaska }),
	"for-hire":              flag(func(f *Flight) Truth { return f.ForHire }),
	"only-required-crew":    flag(func(f *Flight) Truth { return f.OnlyRequiredCrew }),
	"over-water":            flag(func(f *Flight) Truth { return f.OverWater }),
	"controlled-airspace":   flag(func(f *Flight) Truth { return f.Controlled }),
	"below-2500-agl":        flag(func(f *Flight) Truth { return f.Below2500AGL }),
	"training-within-50nm":  flag(func(f *Flight) Truth { return f.TrainingWithin50NM }),
	"to-place-of-repair":    flag(func(f *Flight) Truth { return f.ToPlaceOfRepair }),
	"under-way":             flag(func(f *Flight) Truth { return f.UnderWay }),
	"repair-impossible":     flag(func(f *Flight) Truth { return f.RepairImpossible }),
	"cabin-over-30-minutes": flag(func(f *Flight) Truth { return f.Over30MinAbove12500 }),
	"kind":                  flightKind,
	"altitude-from":         number(func(f *Flight) Fact[float64] { return f.AltitudeFt }, func(x, limit float64) bool { return x >= limit }),
	"altitude-above":        number(func(f *Flight) Fact[float64] { return f.AltitudeFt }, func(x, limit float64) bool { return x > limit }),
	"cabin-above":           cabinAbove,
	"airspace":              airspace,
	"navigates-by":          member("navigation", func(f *Flight) Fact[[]string] { return f.Navigation }),
	"atc-authorized":        member("atc_authorized", func(f *Flight) Fact[[]string] { return f.ATCAuthorized }),

	"operation":                      member("operations", func(f *Flight) Fact[[]string] { return f.Operations }),
	"to-place-of-inspection":         flag(func(f *Flight) Truth { return f.ToPlaceOfInspection }),
	"instruction-provided-aircraft":  flag(func(f *Flight) Truth { return f.InstructionProvidedAircraft }),
	"newly-acquired-to-installation": flag(func(f *Flight) Truth { return f.NewlyAcquiredToInstallation }),
}

// deferralConditions are settled by one deferral.
var deferralConditions = map[string]func(*Deferral) Truth{
	"removed":           func(d *Deferral) Truth { return methodIs(d, Removed) },
	"deactivated":       func(d *Deferral) Truth { return methodIs(d, Deactivated) },
	"out-of-use":        outOfUse,
	"placarded":         func(d *Deferral) Truth { return stepDone(d, d.truth().Placarded) },
	"recorded":          func(d *Deferral) Truth { return stepDone(d, d.truth().Recorded) },
	"hazard-determined": func(d *Deferral) Truth { return stepDone(d, d.truth().HazardDetermined) },

	"entry-by-rule-text":         func(d *Deferral) Truth { return TruthOf(d.truth().EntryByRuleText) },
	"involves-maintenance":       func(d *Deferral) Truth { return d.truth().InvolvesMaintenance },
	"maintenance-procedure-done": func(d *Deferral) Truth { return stepDone(d, d.truth().MaintenanceProcedureDone) },
}

// notLapsed says whether a deferral lasts until the end of the flight.
func notLapsed(d *Deferral, f *Flight) Truth {
	switch {
	case d == nil:
		return Yes // nothing has been deferred, so nothing has run out
	case !d.Until.Known:
		return Unknown
	default:
		return TruthOf(!f.Ends.After(d.Until.Value))
	}
}

var noDeferral Deferral

func (d *Deferral) truth() *Deferral {
	if d == nil {
		return &noDeferral
	}
	return d
}

// stepDone says that a step has not been done where there is no deferral at all.
func stepDone(d *Deferral, t Truth) Truth {
	if d == nil {
		return No
	}
	return t
}

func methodIs(d *Deferral, m Method) Truth {
	switch {
	case d == nil:
		return No
	case !d.named():
		return Unknown
	default:
		return TruthOf(d.Method == m)
	}
}

// named says whether the method is one of 91.213(d)(3).
func (d *Deferral) named() bool { return d.Method == Removed || d.Method == Deactivated }

func outOfUse(d *Deferral) Truth {
	if d != nil && !d.named() && d.MethodDone == Yes {
		return Unknown
	}
	return stepDone(d, d.truth().MethodDone)
}

func plain(f func(*Aircraft) Truth) makeAircraft {
	return func(arg string) (func(*Aircraft) Truth, error) { return f, noArgument(arg) }
}

func flag(f func(*Flight) Truth) makeFlight {
	return func(arg string) (func(*Flight) Truth, error) { return f, noArgument(arg) }
}

func word(fact string, get func(*Aircraft) string) makeAircraft {
	return func(arg string) (func(*Aircraft) Truth, error) {
		if !slices.Contains(vocabulary[fact], arg) {
			return nil, fmt.Errorf("want one of %s after the colon", strings.Join(vocabulary[fact], ", "))
		}
		return func(a *Aircraft) Truth { return wordIs(fact, get(a), arg) }, nil
	}
}

// isPart23 is Yes for an aircraft certificated under any amendment of part 23.
func isPart23(a *Aircraft) Truth {
	return wordIs("basis", a.Basis, "part-23").Or(wordIs("basis", a.Basis, "part-23-before-64"))
}

func after(get func(*Aircraft) Fact[Date]) makeAircraft {
	return func(arg string) (func(*Aircraft) Truth, error) {
		limit, ok := ParseDate(arg)
		if !ok {
			return nil, errors.New("want a date YYYY-MM-DD after the colon")
		}
		return func(a *Aircraft) Truth {
			d := get(a)
			if !d.Known {
				return Unknown
			}
			return TruthOf(d.Value > limit)
		}, nil
	}
}

func hoursAtMost(get func(*Aircraft) Fact[float64]) makeAircraft {
	return func(arg string) (func(*Aircraft) Truth, error) {
		limit, err := strconv.ParseFloat(arg, 64)
		if err != nil {
			return nil, errors.New("want a number of hours after the colon")
		}
		return func(a *Aircraft) Truth { return atMost(get(a), limit) }, nil
	}
}

func approved(arg string) (func(*Aircraft) Truth, error) {
	kind, ok := ParseKind(arg)
	if !ok {
		return nil, errors.New("want a kind of operation after the colon")
	}
	return func(a *Aircraft) Truth {
		if !a.Approved.Known {
			return Unknown
		}
		return TruthOf(a.Approved.Value&kind != 0)
	}, nil
}

func flightKind(arg string) (func(*Flight) Truth, error) {
	kind, ok := ParseKind(arg)
	if !ok {
		return nil, errors.New("want a kind of operation after the colon")
	}
	return kind.of, nil
}

// of says whether a flight is, in some part, of this one kind of operation.
func (k Kinds) of(f *Flight) Truth {
	rules, light := f.IFR, f.Day
	if k&(DayVFR|NightVFR) != 0 {
		rules = f.IFR.Not()
	}
	if k&(NightVFR|NightIFR) != 0 {
		light = f.Night
	}
	return rules.And(light)
}

func number(get func(*Flight) Fact[float64], holds func(x, limit float64) bool) makeFlight {
	return func(arg string) (func(*Flight) Truth, error) {
		limit, err := strconv.ParseFloat(arg, 64)
		if err != nil {
			return nil, errors.New("want a number after the colon")
		}
		return func(f *Flight) Truth {
			x := get(f)
			if !x.Known {
				return Unknown
			}
			return TruthOf(holds(x.Value, limit))
		}, nil
	}
}

// classAFloorFt is where Class A airspace begins over the 48 states and Alaska (14 CFR 71.33, from memory).
const classAFloorFt = 18000

// airspace knows that below its floor no flight is in Class A airspace, and above it every flight is.
func airspace(arg string) (func(*Flight) Truth, error) {
	listed, err := member("airspace", func(f *Flight) Fact[[]string] { return f.Airspace })(arg)
	if err != nil || arg != "class-a" {
		return listed, err
	}
	return func(f *Flight) Truth {
		if f.AltitudeFt.Known {
			return TruthOf(f.AltitudeFt.Value >= classAFloorFt).Or(listed(f))
		}
		return listed(f).Or(Unknown) // a list that leaves it out is not believed without the altitude
	}, nil
}

// cabinAbove knows that a cabin is never higher than the aircraft.
func cabinAbove(arg string) (func(*Flight) Truth, error) {
	limit, err := strconv.ParseFloat(arg, 64)
	if err != nil {
		return nil, errors.New("want a number after the colon")
	}
	return func(f *Flight) Truth {
		if f.CabinFt.Known {
			return TruthOf(f.CabinFt.Value > limit)
		}
		if f.AltitudeFt.Known && f.AltitudeFt.Value <= limit {
			return No
		}
		return Unknown
	}, nil
}

func member(fact string, get func(*Flight) Fact[[]string]) makeFlight {
	return func(arg string) (func(*Flight) Truth, error) {
		if !slices.Contains(vocabulary[fact], arg) {
			return nil, fmt.Errorf("want one of %s after the colon", strings.Join(vocabulary[fact], ", "))
		}
		return func(f *Flight) Truth { return listHas(fact, get(f), arg) }, nil
	}
}

func atMost[T int | float64](x Fact[T], limit T) Truth {
	if !x.Known {
		return Unknown
	}
	return TruthOf(x.Value <= limit)
}
