package casefile

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/daylight"
)

// Question is a case in the engine's words.
type Question struct {
	Plan    *airworthiness.Plan
	Defects []airworthiness.Defect
	Flight  airworthiness.Flight
}

// Compile turns a case into the engine's words. The error, if any, is of kind invalid and names every faulty field.
func Compile(c Case, rules *airworthiness.Ruleset) (Question, error) {
	rules, companyErr := CompileCompanyRules(c.CompanyRules, rules)
	plan, aircraftErr := CompileAircraft(c.Aircraft, rules, "aircraft.")
	defects, defectsErr := CompileDefects(c.Defects, c.Aircraft.Configuration, rules)
	flight, flightErr := CompileFlight(c.Flight, c.Aircraft.Facts)
	policyErr := c.Policy.Apply(defects)
	if err := Join(companyErr, aircraftErr, defectsErr, flightErr, policyErr); err != nil {
		return Question{}, err
	}
	return Question{plan, defects, flight}, nil
}

// CompileAircraft turns facts and configuration into a plan. prefix is put before the field names of faults.
func CompileAircraft(a Aircraft, rules *airworthiness.Ruleset, prefix string) (*airworthiness.Plan, error) {
	var bad Faults
	engine := compileFacts(a.Facts, prefix+"facts.", &bad)
	compileConfiguration(&engine, a.Configuration, rules, prefix+"configuration.", &bad)
	compilePapers(&engine, a, prefix, &bad)
	engine.Upkeep = judgedUpkeep(a.Facts.Upkeep, rules)
	if err := bad.Err(); err != nil {
		return nil, err
	}
	plan, err := rules.Plan(&engine)
	if err != nil {
		bad.Add(prefix+"configuration", "consistent", err.Error(), "correct the configuration")
		return nil, bad.Err()
	}
	return plan, nil
}

func compileFacts(f Facts, prefix string, bad *Faults) airworthiness.Aircraft {
	date := func(field, value string) airworthiness.Fact[airworthiness.Date] {
		return compileDate(prefix+field, value, bad)
	}
	a := airworthiness.Aircraft{
		Category: f.Category, Certificate: f.Certificate, Basis: f.Basis, Engine: f.Engine, Cooling: f.Cooling,
		Class: f.Class, ExperimentalUnder: f.ExperimentalUnder, AirCarrierUse: truth(f.AirCarrierUse),
		MaxTakeoffWeightLb: fact(f.MaxTakeoffWeightLb), Engines: fact(f.Engines), Tanks: fact(f.Tanks),
		Seats: fact(f.Seats), FrontSeats: fact(f.FrontSeats),
		Manufactured: date("manufactured", f.Manufactured), Certificated: date("certificated", f.Certificated),
		TypeCertificateApplied: date("type_certificate_applied", f.TypeCertificateApplied),
		VORChecked:             date("vor_checked", f.VORChecked),
		USRegistered:           truth(f.USRegistered), PressureOil: truth(f.PressureOil),
		AltitudeEngine: truth(f.AltitudeEngine), RetractableGear: truth(f.RetractableGear),
		ControllablePropeller: truth(f.ControllablePropeller), PumpFedFuel: truth(f.PumpFedFuel),
		CowlFlaps: truth(f.CowlFlaps), ElectricalSystem: truth(f.ElectricalSystem),
		EngineDrivenElectrical: truth(f.EngineDrivenElectrical), Pressurized: truth(f.Pressurized),
		ReplaceableFuses: truth(f.ReplaceableFuses), MMELExists: truth(f.MMELExists),
		MELAuthorized: truth(f.MELAuthorized), AltitudeReportingCalibrated: truth(f.AltitudeReportingCalibrated),
	}
	compileInspections(&a, f, prefix, bad)
	checkUpkeep(f, prefix+"upkeep.", bad)
	for _, w := range []struct{ fact, word string }{
		{"category", f.Category},
		{"certificate", f.Certificate},
		{"basis", f.Basis},
		{"engine", f.Engine},
		{"cooling", f.Cooling},
		{"class", f.Class},
		{"experimental_under", f.ExperimentalUnder},
	} {
		if w.word != "" {
			checkWord(prefix+w.fact, w.fact, w.word, bad)
		}
	}
	if f.Basis == "" {
		bad.Add(prefix+"basis", "required", "the certification basis is missing: without it no type-certification list applies",
			"state the basis from the type certificate data sheet, or other")
	}
	if f.Approved != nil {
		kinds, ok := compileKinds(*f.Approved)
		if !ok {
			bad.Add(prefix+"approved", "kind-of-operation", "an entry is no kind of operation", "use "+kindList())
		}
		a.Approved = airworthiness.Given(kinds)
	}
	if f.Seats != nil && f.FrontSeats != nil && *f.FrontSeats > *f.Seats {
		bad.Add(prefix+"front_seats", "at-most-seats", "there are more front seats than seats", "correct seats or front_seats")
	}
	return a
}

// checkWord holds a word against the vocabulary of its fact.
func checkWord(field, fact, word string, bad *Faults) {
	if words := airworthiness.Vocabulary(fact); !slices.Contains(words, word) {
		bad.Add(field, "known-word", fmt.Sprintf("%q is no word for this fact", word), "use one of "+strings.Join(words, ", "))
	}
}

func compileConfiguration(a *airworthiness.Aircraft, c Configuration, rules *airworthiness.Ruleset, prefix string, bad *Faults) {
	a.UnitsComplete = truth(c.UnitsComplete)
	known := func(field, item string) {
		if _, ok := rules.Item(item); !ok {
			bad.Add(field, "known-item", fmt.Sprintf("%q is not in the item catalog", item), "take a key from GET /v1/items")
		}
	}
	ids := map[string]bool{}
	for _, u := range c.Units {
		ids[u.ID] = true
	}
	seen := map[string]bool{}
	for i, u := range c.Units {
		at := fmt.Sprintf("%sunits[%d].", prefix, i)
		known(at+"item", u.Item)
		for j, item := range u.Also {
			known(fmt.Sprintf("%salso[%d]", at, j), item)
		}
		if u.ID == "" || seen[u.ID] {
			bad.Add(at+"id", "unique", fmt.Sprintf("the unit %q stands twice or has no name", u.ID), "give each unit its own id")
		}
		seen[u.ID] = true
		for j, id := range u.Needs {
			if !ids[id] {
				bad.Add(fmt.Sprintf("%sneeds[%d]", at, j), "installed", fmt.Sprintf("the unit %q is not installed", id), "name a unit of this configuration")
			}
		}
		serves, ok := places(u.Serves)
		if !ok {
			bad.Add(at+"serves", "range", "engines, tanks and seats are numbered from 1 to 64", "number them from 1")
		}
		a.Units = append(a.Units, airworthiness.Unit{ID: u.ID, Item: u.Item, Also: u.Also, Serves: serves, Needs: u.Needs})
	}
	list := func(name string, l OwnList) airworthiness.OwnList {
		return compileList(prefix+name+".", l, known, bad)
	}
	a.TypeCertification = list("type_certification", c.TypeCertification)
	a.TypeCertification.Confirmed = compileConfirmation(c.TypeCertification.Confirmed, prefix+"type_certification.confirmed.", bad)
	a.EquipmentList = list("equipment_list", c.EquipmentList)
	a.KOEL = list("koel", c.KOEL)
	a.Directives = list("directives", c.Directives)
	a.MEL = compileMEL(c.MEL, rules, prefix+"mel.", bad)
	for _, l := range []struct {
		name string
		rows []OwnRow
	}{{"type_certification", c.TypeCertification.Rows}, {"equipment_list", c.EquipmentList.Rows}, {"koel", c.KOEL.Rows}} {
		for i, r := range l.rows {
			if r.PermitBarred != nil {
				bad.Add(fmt.Sprintf("%s%s.rows[%d].permit_barred", prefix, l.name, i), "directive", "only a directive bars a special flight permit", "leave it out")
			}
		}
	}
}

func compileList(prefix string, l OwnList, known func(field, item string), bad *Faults) airworthiness.OwnList {
	list := airworthiness.OwnList{OnRecord: truth(l.OnRecord)}
	if list.OnRecord == airworthiness.No && len(l.Rows) > 0 {
		bad.Add(prefix+"rows", "no-document", "a document that does not exist cannot have rows", "set on_record to true, or remove the rows")
	}
	for i, r := range l.Rows {
		at := fmt.Sprintf("%srows[%d].", prefix, i)
		known(at+"item", r.Item)
		kinds, ok := compileKinds(r.Kinds)
		if !ok {
			bad.Add(at+"kinds", "kind-of-operation", "an entry is no kind of operation", "use "+kindList())
		}
		document := r.Document
		if document == "" {
			document = l.Document
		}
		list.Rows = append(list.Rows, airworthiness.OwnRow{Item: r.Item, Quantity: max(r.Quantity, 1), Kinds: kinds, Document: document, Barred: truth(r.PermitBarred)})
	}
	return list
}

// CompileDefects turns the open squawks into the engine's words, against the units that are installed.
func CompileDefects(defects []Defect, c Configuration, rules *airworthiness.Ruleset) ([]airworthiness.Defect, error) {
	var bad Faults
	ids := map[string]bool{}
	compiled := make([]airworthiness.Defect, 0, len(defects))
	for i, d := range defects {
		at := fmt.Sprintf("defects[%d].", i)
		if d.ID == "" || ids[d.ID] {
			bad.Add(at+"id", "unique", fmt.Sprintf("the squawk %q stands twice or has no name", d.ID), "give each squawk its own id")
		}
		ids[d.ID] = true
		CheckSubject(d.Kind, d.Unit, d.Item, c, rules, at, &bad)
		checkPutBack(&d, at, &bad)
		compiled = append(compiled, airworthiness.Defect{
			ID: d.ID, Kind: compileDefectKind(d.Kind), Unit: d.Unit, Item: d.Item, Deferral: compileDeferral(d.Deferral, at, &bad),
			Found: compileFound(d.Found, at, &bad),
		})
	}
	return compiled, bad.Err()
}

// CheckSubject checks what a squawk speaks of: a unit that is installed, or an item of the catalog.
func CheckSubject(kind, unit, item string, c Configuration, rules *airworthiness.Ruleset, at string, bad *Faults) {
	if kind != "" && compileDefectKind(kind) == airworthiness.KindUnstated {
		bad.Add(at+"kind", "known-kind", fmt.Sprintf("%q is no kind of squawk", kind), "use inoperative or condition")
	}
	if unit != "" && !slices.ContainsFunc(c.Units, func(u Unit) bool { return u.ID == unit }) {
		bad.Add(at+"unit", "installed", fmt.Sprintf("the unit %q is not installed in this aircraft", unit),
			"name a unit of the aircraft's configuration, or give an item instead")
	}
	if item != "" {
		if _, ok := rules.Item(item); !ok {
			bad.Add(at+"item", "known-item", fmt.Sprintf("%q is not in the item catalog", item), "take a key from GET /v1/items")
		}
	}
	if unit != "" && item != "" {
		bad.Add(at+"item", "one-subject", "both a unit and an item are named", "name the unit only: it knows its item")
	}
}

func compileDefectKind(s string) airworthiness.DefectKind {
	switch s {
	case "inoperative":
		return airworthiness.KindInoperative
	case "condition":
		return airworthiness.KindCondition
	default:
		return airworthiness.KindUnstated
	}
}

func compileDeferral(d *Deferral, at string, bad *Faults) *airworthiness.Deferral {
	if d == nil {
		return nil
	}
	c := airworthiness.Deferral{
		MethodDone: airworthiness.TruthOf(d.MethodDone), Placarded: airworthiness.TruthOf(d.Placarded),
		Recorded: airworthiness.TruthOf(d.Recorded), HazardDetermined: airworthiness.TruthOf(d.HazardDetermined),
		RemovedOn:           compileDate(at+"deferral.removed_on", d.RemovedOn, bad),
		InvolvesMaintenance: truth(d.InvolvesMaintenance),
		Until:               fact(d.Until),
		HazardConsidered:    d.HazardConsidered,

		MaintenanceProcedureDone: airworthiness.TruthOf(d.MaintenanceProcedureDone), Extended: airworthiness.TruthOf(d.Extended),
		Discovered:    compileDate(at+"deferral.discovered", d.Discovered, bad),
		ExtendedUntil: compileDate(at+"deferral.extended_until", d.ExtendedUntil, bad),
	}
	switch d.Method {
	case "removed":
		c.Method = airworthiness.Removed
	case "deactivated":
		c.Method = airworthiness.Deactivated
	case "":
	default:
		bad.Add(at+"deferral.method", "known-method", fmt.Sprintf("%q is no method", d.Method), "use removed or deactivated")
	}
	return &c
}

// CompileFlight turns a flight into the engine's words. The light along the route is worked out here.
func CompileFlight(f Flight, aircraft Facts) (airworthiness.Flight, error) {
	var bad Faults
	e := airworthiness.Flight{
		On: airworthiness.DateOf(f.Departs), Departs: f.Departs, Ends: f.Arrives,
		ForHire: truth(f.ForHire), OverWater: truth(f.OverWater), Controlled: truth(f.Controlled),
		Below2500AGL: truth(f.Below2500AGL), InAlaska: truth(f.InAlaska), Dark: truth(f.Dark),
		Over30MinAbove12500: truth(f.Over30MinAbove12500),
		OnlyRequiredCrew:    airworthiness.TruthOf(f.OnlyRequiredCrew),
		TrainingWithin50NM:  airworthiness.TruthOf(f.TrainingWithin50NM),
		ToPlaceOfRepair:     airworthiness.TruthOf(f.ToPlaceOfRepair),
		RepairImpossible:    airworthiness.TruthOf(f.RepairImpossible), UnderWay: airworthiness.TruthOf(f.UnderWay),
		Occupants: fact(f.Occupants), Persons: fact(f.Persons), RequiredCrew: fact(f.RequiredCrew),
		AltitudeFt: fact(f.AltitudeFt), CabinFt: fact(f.CabinFt),
		Airspace: fact(f.Airspace), Navigation: fact(f.Navigation), ATCAuthorized: airworthiness.Given(f.ATCAuthorized),
	}
	compileOperation(&e, f)
	switch f.Rules {
	case "ifr":
		e.IFR = airworthiness.Yes
	case "vfr":
		e.IFR = airworthiness.No
	case "":
	default:
		bad.Add("flight.rules", "known-rules", fmt.Sprintf("%q are no flight rules", f.Rules), "use vfr or ifr")
	}
	if !e.CabinFt.Known && aircraft.Pressurized != nil && !*aircraft.Pressurized {
		e.CabinFt = e.AltitudeFt // without pressurization the cabin is as high as the aircraft
	}
	switch {
	case f.Departs.IsZero() || f.Arrives.IsZero():
		bad.Add("flight.departs", "required", "the window of the flight is missing", "give departs and arrives with their offset")
	case !f.Arrives.After(f.Departs):
		bad.Add("flight.arrives", "after-departs", "the flight ends before it starts", "give an arrival after the departure")
	case f.Arrives.Sub(f.Departs) > MaxWindow:
		bad.Add("flight.arrives", "window", "the window is longer than 31 days", "plan one flight at a time")
	}
	e.Permit = compilePermit(f.SpecialFlightPermit, &bad)
	checkFlightFacts(f, aircraft, &bad)
	route := compileRoute(f, &bad)
	if len(bad) == 0 {
		compileLight(&e, f, route)
	}
	return e, bad.Err()
}

// checkFlightFacts refuses what no flight can be, so that a slip does not take a rule out of play.
func checkFlightFacts(f Flight, aircraft Facts, bad *Faults) {
	for _, l := range []struct {
		fact  string
		words *[]string
	}{
		{"airspace", f.Airspace}, {"navigation", f.Navigation}, {"atc_authorized", &f.ATCAuthorized}, {"operations", &f.Operations},
	} {
		if l.words == nil {
			continue
		}
		for i, word := range *l.words {
			checkWord(fmt.Sprintf("flight.%s[%d]", l.fact, i), l.fact, word, bad)
		}
	}
	if f.Occupants != nil && aircraft.Seats != nil && *f.Occupants > *aircraft.Seats {
		bad.Add("flight.occupants", "at-most-seats", "there are more persons aged two or more than seats",
			"correct occupants, or the aircraft's seats: a place on the floor that serves as a seat counts as one")
	}
	checkHours(f, bad)
	if l := f.Light; l != nil {
		if l.Day != nil && l.Night != nil && !*l.Day && !*l.Night {
			bad.Add("flight.light", "day-or-night", "the flight is neither by day nor at night", "say that some part of it is one or the other")
		}
		if l.Night != nil && *l.Night && l.SunsetToSunrise != nil && !*l.SunsetToSunrise {
			bad.Add("flight.light.sunset_to_sunrise", "night-is-dark", "night lies between sunset and sunrise", "set sunset_to_sunrise, or leave it out")
		}
	}
}

// MaxWindow bounds one flight's window, so that the search for twilight stays short.
const MaxWindow = 31 * 24 * time.Hour

func compileRoute(f Flight, bad *Faults) []daylight.Place {
	if f.Light != nil && len(f.Route) > 0 {
		bad.Add("flight.light", "one-source", "both a route and the light are given", "give the route only: the light follows from it")
	}
	var route []daylight.Place
	for i, p := range f.Route {
		at := fmt.Sprintf("flight.route[%d]", i)
		if p.Lat == nil || p.Lon == nil {
			bad.Add(at, "coordinates", fmt.Sprintf("the place %q has no coordinates", p.Name), "give lat and lon in degrees, north and east positive")
			continue
		}
		place := daylight.Place{Lat: *p.Lat, Lon: *p.Lon}
		if !place.Valid() {
			bad.Add(at, "range", "the coordinates are out of range", "lat goes from -90 to 90, lon from -180 to 180")
		}
		route = append(route, place)
	}
	return route
}

func compileLight(e *airworthiness.Flight, f Flight, route []daylight.Place) {
	light, inAlaska := f.Light, (*bool)(nil)
	if len(route) > 0 {
		l, a := LightAlong(route, f.Departs, f.Arrives)
		light, inAlaska = &l, a
	}
	if light != nil {
		e.Day, e.Night, e.Lights = truth(light.Day), truth(light.Night), truth(light.SunsetToSunrise)
	}
	if e.InAlaska == airworthiness.Unknown {
		e.InAlaska = truth(inAlaska)
	}
	if e.Dark == airworthiness.Unknown && e.Night == airworthiness.Yes {
		e.Dark = airworthiness.Yes // at night the sun is more than 6 degrees down
	}
}

// LightAlong works out the light of a flight along a route of at least one place. The second answer says whether the
// flight is in Alaska; nil where the coordinates alone cannot tell.
func LightAlong(route []daylight.Place, departs, arrives time.Time) (Light, *bool) {
	return LightOf(daylight.Along(route, departs, arrives), arrives.Sub(departs)), InAlaska(route)
}

// LightOf is the light of a flight that takes so long and meets so much dark.
func LightOf(l daylight.Light, window time.Duration) Light {
	day, night, down := l.NightTotal() < window, l.AnyNight(), l.AnySunDown()
	return Light{Day: &day, Night: &night, SunsetToSunrise: &down}
}

// InAlaska says that a flight along a route is not in Alaska; nil where the coordinates alone cannot tell.
func InAlaska(route []daylight.Place) *bool {
	if slices.ContainsFunc(route, maybeAlaska) {
		return nil
	}
	return new(bool)
}

// maybeAlaska bounds the state generously: no part of it lies south of 51 degrees north, nor between 129 degrees west
// and 172 degrees east by way of Greenwich (from memory).
func maybeAlaska(p daylight.Place) bool {
	return p.Lat >= 51 && (p.Lon <= -129 || p.Lon >= 172)
}

func compileDate(field, value string, bad *Faults) airworthiness.Fact[airworthiness.Date] {
	if value == "" {
		return airworthiness.Fact[airworthiness.Date]{}
	}
	d, ok := airworthiness.ParseDate(value)
	if !ok {
		bad.Add(field, "date", fmt.Sprintf("%q is no date", value), "write it as YYYY-MM-DD")
	}
	return airworthiness.Given(d)
}

func compileKinds(names []string) (airworthiness.Kinds, bool) {
	var kinds airworthiness.Kinds
	for _, name := range names {
		k, ok := airworthiness.ParseKind(name)
		if !ok {
			return 0, false
		}
		kinds |= k
	}
	return kinds, true
}

func kindList() string { return fmt.Sprint(airworthiness.KindNames()) }

func places(numbers []int) (uint64, bool) {
	var bits uint64
	for _, n := range numbers {
		if n < 1 || n > 64 {
			return 0, false
		}
		bits |= 1 << (n - 1)
	}
	return bits, true
}

func fact[T any](p *T) airworthiness.Fact[T] {
	if p == nil {
		return airworthiness.Fact[T]{}
	}
	return airworthiness.Given(*p)
}

func truth(p *bool) airworthiness.Truth {
	if p == nil {
		return airworthiness.Unknown
	}
	return airworthiness.TruthOf(*p)
}
