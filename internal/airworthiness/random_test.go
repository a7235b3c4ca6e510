package airworthiness_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
	"tiedown/internal/regulation"
)

// world is one question put to the engine: an aircraft, what is wrong with it, and a flight.
type world struct {
	aircraft airworthiness.Aircraft
	defects  []airworthiness.Defect
	flight   airworthiness.Flight
}

// rules is the real book: laws that hold for it only are still laws.
func rules(tb testing.TB) *airworthiness.Ruleset {
	tb.Helper()
	book, err := regulation.Current()
	if err != nil {
		tb.Fatal(err)
	}
	return book.Ruleset
}

// answer is a determination with its plan, for explaining it.
type answer struct {
	plan *airworthiness.Plan
	airworthiness.Determination
}

type fataler interface {
	Helper()
	Fatal(args ...any)
}

func judge(t fataler, r *airworthiness.Ruleset, w world) answer {
	t.Helper()
	plan, err := r.Plan(&w.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	a := answer{plan: plan}
	flight := r.Prepare(w.flight)
	plan.Determine(&a.Determination, w.defects, &flight)
	return a
}

// told is a finding in words, with the squawk that it is about.
type told struct {
	defect string
	airworthiness.Explanation
}

func (a *answer) tell(defects []airworthiness.Defect) []string {
	lines := make([]string, len(a.Findings))
	for i := range a.Findings {
		t := told{Explanation: a.plan.Explain(&a.Findings[i])}
		if at := a.Findings[i].Defect; at >= 0 {
			t.defect = defects[a.Order[at]].ID
		}
		lines[i] = fmt.Sprintf("%+v need %d have %d", t, a.Findings[i].Need, a.Findings[i].Have)
	}
	return lines
}

// evenly draws a number from 0 to 127, each as often as another: rapid's own numbers favor the small ones.
var evenly = rapid.Map(rapid.SliceOfN(rapid.Bool(), 7, 7), func(bits []bool) int {
	n := 0
	for _, bit := range bits {
		n *= 2
		if bit {
			n++
		}
	}
	return n
})

// chance is true about that many times in a hundred.
func chance(t *rapid.T, percent int, label string) bool {
	return evenly.Draw(t, label) >= 128-percent*128/100
}

// care is how a case is drawn.
type care struct {
	known   int // how often a fact is known, in percent
	trouble int // how often something stands in the way of the flight, as a share in percent of how often it might
}

// bad is true about that many times in a hundred, in a case full of trouble.
func (c care) bad(t *rapid.T, percent int, label string) bool {
	return chance(t, percent*c.trouble/100, label)
}

// drawWorld draws cases that often permit the flight: a well-equipped aircraft whose facts are mostly known, with a
// few things changed. A case drawn blindly would be undetermined nearly always, and every law would hold of it.
func drawWorld(t *rapid.T, r *airworthiness.Ruleset) world {
	c := care{
		known:   rapid.SampledFrom([]int{100, 100, 99, 90, 60}).Draw(t, "known"),
		trouble: rapid.SampledFrom([]int{0, 5, 15, 40, 100}).Draw(t, "trouble"),
	}
	w := world{aircraft: c.aircraft(t, r)}
	w.flight = c.flight(t, &w.aircraft)
	n := rapid.IntRange(0, 4).Draw(t, "defects")
	for i := range n {
		w.defects = append(w.defects, c.defect(t, &w.aircraft, fmt.Sprintf("squawk-%c", 'a'+i)))
	}
	c.consider(t, w.defects)
	return w
}

// laterIDs name the squawks that a law may add: a determination may have been made in view of them, too.
var laterIDs = []string{"first", "squawk-b2", "zz"}

// consider lets each hazard determination be made in view of the others, unless there is trouble.
func (c care) consider(t *rapid.T, defects []airworthiness.Defect) {
	for i := range defects {
		d := defects[i].Deferral
		if d == nil {
			continue
		}
		for j := range defects {
			if i != j && !c.bad(t, 20, "not considered") {
				d.HazardConsidered = append(d.HazardConsidered, defects[j].ID)
			}
		}
		if chance(t, 70, "considers more") {
			d.HazardConsidered = append(d.HazardConsidered, laterIDs...)
		}
	}
}

func (c care) knows(t *rapid.T, label string) bool { return !chance(t, 100-c.known, label+" unknown") }

func (c care) truth(t *rapid.T, yes int, label string) airworthiness.Truth {
	if !c.knows(t, label) {
		return airworthiness.Unknown
	}
	return airworthiness.TruthOf(chance(t, yes, label))
}

func (c care) word(t *rapid.T, fact string, likely ...string) string {
	if !c.knows(t, fact) {
		return ""
	}
	if !c.bad(t, 30, fact+" unlikely") {
		return rapid.SampledFrom(likely).Draw(t, fact)
	}
	return rapid.SampledFrom(airworthiness.Vocabulary(fact)).Draw(t, fact)
}

func (c care) words(t *rapid.T, fact string) airworthiness.Fact[[]string] {
	if !c.knows(t, fact) {
		return airworthiness.Fact[[]string]{}
	}
	all := airworthiness.Vocabulary(fact)
	return airworthiness.Given(slices.DeleteFunc(all, func(w string) bool { return !c.bad(t, 50, w) }))
}

// drawFact draws the usual value, or another if there is trouble.
func drawFact[T any](t *rapid.T, c care, label string, usual T, others ...T) airworthiness.Fact[T] {
	switch {
	case !c.knows(t, label):
		return airworthiness.Fact[T]{}
	case c.bad(t, 60, label+" unusual"):
		return airworthiness.Given(rapid.SampledFrom(others).Draw(t, label))
	default:
		return airworthiness.Given(usual)
	}
}

func day(s string) airworthiness.Date {
	d, ok := airworthiness.ParseDate(s)
	if !ok {
		panic(s)
	}
	return d
}

func (c care) aircraft(t *rapid.T, r *airworthiness.Ruleset) airworthiness.Aircraft {
	dates := []airworthiness.Date{day("1965-05-01"), day("1978-07-18"), day("1984-01-01"), day("1999-09-09")}
	a := airworthiness.Aircraft{
		Category:    c.word(t, "category", "airplane"),
		Certificate: c.word(t, "certificate", "standard"),
		Basis:       c.word(t, "basis", "car-3", "part-23-before-64", "part-23"),
		Engine:      c.word(t, "engine", "reciprocating"),
		Cooling:     c.word(t, "cooling", "air"),

		MaxTakeoffWeightLb: drawFact(t, c, "weight", 2400.0, 1600, 12500, 12501),
		Engines:            drawFact(t, c, "engines", 1, 2),
		Tanks:              drawFact(t, c, "tanks", 2, 1),
		Seats:              drawFact(t, c, "seats", 2, 4, 1),
		FrontSeats:         drawFact(t, c, "front seats", 2, 1),

		Manufactured:           drawFact(t, c, "manufactured", dates[2], dates...),
		Certificated:           drawFact(t, c, "certificated", dates[0], dates...),
		TypeCertificateApplied: drawFact(t, c, "applied", dates[0], dates...),
		VORChecked:             drawFact(t, c, "vor checked", day("2026-05-20"), day("2026-01-01")),

		USRegistered:                c.truth(t, 95, "us registered"),
		PressureOil:                 c.truth(t, 80, "pressure oil"),
		AltitudeEngine:              c.truth(t, 20, "altitude engine"),
		RetractableGear:             c.truth(t, 30, "retractable"),
		ControllablePropeller:       c.truth(t, 30, "controllable propeller"),
		PumpFedFuel:                 c.truth(t, 30, "pump fed"),
		CowlFlaps:                   c.truth(t, 30, "cowl flaps"),
		ElectricalSystem:            c.truth(t, 90, "electrical"),
		EngineDrivenElectrical:      c.truth(t, 85, "engine driven"),
		Pressurized:                 c.truth(t, 10, "pressurized"),
		ReplaceableFuses:            c.truth(t, 30, "fuses"),
		MMELExists:                  c.truth(t, 30, "mmel exists"),
		MELAuthorized:               airworthiness.TruthOf(chance(t, 25, "mel authorized")),
		AltitudeReportingCalibrated: c.truth(t, 100-c.trouble/5, "calibrated"),

		Approved:      airworthiness.Given(airworthiness.Kinds(15)),
		UnitsComplete: c.truth(t, 85, "units complete"),
	}
	if c.bad(t, 40, "not approved") {
		a.Approved = drawFact(t, c, "approved", airworthiness.DayVFR|airworthiness.NightVFR, airworthiness.DayVFR)
	}
	if !c.knows(t, "mel authorized") {
		a.MELAuthorized = airworthiness.Unknown
	}
	c.inspections(t, &a)
	a.Papers, a.Upkeep = c.papers(t), c.upkeep(t)
	a.Units = c.units(t, r)
	a.TypeCertification = c.list(t, "type certification")
	a.TypeCertification.Confirmed = c.truth(t, 100-c.trouble/5, "confirmed")
	a.EquipmentList = c.list(t, "equipment list")
	a.KOEL = c.list(t, "koel")
	a.Directives = c.list(t, "directives")
	if chance(t, 10, "directive on a spare") {
		item := rapid.SampledFrom([]string{"intercom", "hour-meter", "autopilot"}).Draw(t, "by directive")
		a.Directives.Rows = append(a.Directives.Rows, airworthiness.OwnRow{Item: item, Quantity: 1, Document: "a directive"})
	}
	for i := range a.Directives.Rows {
		a.Directives.Rows[i].Barred = c.truth(t, 30, "permit barred")
	}
	if a.MELAuthorized != airworthiness.No || chance(t, 5, "an MEL that does not govern") {
		a.MEL = c.mel(t)
	}
	return a
}

// inspections draws when the aircraft was inspected and tested, on both sides of every limit.
func (c care) inspections(t *rapid.T, a *airworthiness.Aircraft) {
	within := func(label string, years int) airworthiness.Fact[airworthiness.Date] {
		last := airworthiness.DateOf(time.Date(2026-years, 6, 1, 0, 0, 0, 0, time.UTC)) // good through 30 June 2026
		return drawFact(t, c, label, day("2026-02-10"), last, last-1, day("2026-06-01"), day("2026-06-02"))
	}
	a.AnnualInspected, a.ConditionInspected = within("annual", 1), within("condition inspection", 1)
	a.AltimeterTested, a.TransponderTested = within("altimeter test", 2), within("transponder test", 2)
	a.ELTInspected = within("ELT inspection", 1)
	if chance(t, 12, "progressive") {
		if a.ProgressiveComplete = within("progressive inspection", 1); a.ProgressiveComplete.Known {
			// Whoever says when it was complete says whether the program is still followed: a case that does not is refused.
			a.Progressive = airworthiness.No
			if chance(t, 80, "inspected progressively") {
				a.Progressive = airworthiness.Yes
			}
		}
	}
	a.ELTBatteryDue = drawFact(t, c, "ELT battery", day("2028-06-30"), day("2026-06-01"), day("2026-05-31"))
	a.ELTBatteryHours = drawFact(t, c, "ELT battery hours", 0.2, 1, 1.1)
	a.HoursSinceInspection = drawFact(t, c, "hours since inspection", 41.5, 98.5, 99.5, 100, 108.5, 110)
}

// usual is what a well-equipped airplane with two seats, two tanks and one engine has, in the catalog's words.
var usual = []string{
	"airspeed-indicator", "sensitive-altimeter", "magnetic-compass", "tachometer", "oil-pressure-gauge",
	"oil-temperature-gauge", "manifold-pressure-gauge", "fuel-quantity-gauge", "fuel-quantity-gauge",
	"gear-position-indicator", "beacon", "strobe-light", "position-light", "position-light", "landing-light", "safety-belt",
	"safety-belt", "shoulder-harness", "shoulder-harness", "elt", "alternator", "master-switch", "spare-fuses",
	"nav-com-radio", "gps-navigator", "turn-coordinator", "clock", "attitude-indicator", "heading-indicator",
	"transponder", "altitude-encoder", "ads-b-out", "oxygen-system", "cylinder-head-temperature-gauge",
	"fuel-pressure-gauge", "flotation-gear", "flotation-gear", "pyrotechnic-signal", "vacuum-pump", "dme",
	"third-attitude-system", "intercom", "cabin-heater", "autopilot", "hour-meter",
}

func (c care) units(t *rapid.T, r *airworthiness.Ruleset) []airworthiness.Unit {
	items := slices.Clone(usual)
	items = slices.DeleteFunc(items, func(string) bool { return c.bad(t, 8, "missing") })
	for range rapid.IntRange(0, 4).Draw(t, "extra units") {
		if chance(t, 60, "double") {
			items = append(items, rapid.SampledFrom(usual).Draw(t, "item"))
		} else {
			items = append(items, rapid.SampledFrom(r.Items()).Draw(t, "item").Item)
		}
	}
	units := make([]airworthiness.Unit, len(items))
	fitted := map[string]int{}
	for i, item := range items {
		u := &units[i]
		u.ID, u.Item = fmt.Sprintf("u%02d", i), item
		switch {
		case c.bad(t, 20, "serves anything"):
			u.Serves = rapid.SampledFrom([]uint64{0, 1, 2, 3, 4, 15}).Draw(t, "serves")
		case item == "oxygen-system":
			u.Serves = 3
		case chance(t, 80, "serves stated"):
			u.Serves = 1 << fitted[item]
		}
		fitted[item]++
		if chance(t, 3, "also") {
			u.Also = []string{rapid.SampledFrom(usual).Draw(t, "also")}
		}
		if c.bad(t, 12, "needs") {
			u.Needs = []string{fmt.Sprintf("u%02d", rapid.IntRange(0, len(items)-1).Draw(t, "needs"))}
		}
	}
	return units
}

func (c care) list(t *rapid.T, label string) airworthiness.OwnList {
	l := airworthiness.OwnList{OnRecord: c.truth(t, 100-c.trouble/5, label)}
	if !c.bad(t, 60, label+" filled") {
		return l
	}
	for i := range rapid.IntRange(1, 3).Draw(t, label+" rows") {
		l.Rows = append(l.Rows, airworthiness.OwnRow{
			Item: rapid.SampledFrom(usual).Draw(t, "item"), Quantity: rapid.SampledFrom([]int{0, 1, 1, 2}).Draw(t, "quantity"),
			Kinds:    rapid.SampledFrom([]airworthiness.Kinds{0, airworthiness.DayVFR, airworthiness.NightVFR, airworthiness.DayIFR | airworthiness.NightIFR}).Draw(t, "kinds"),
			Document: fmt.Sprintf("%s, line %d", label, i+1),
		})
	}
	return l
}

func (c care) defect(t *rapid.T, a *airworthiness.Aircraft, id string) airworthiness.Defect {
	d := airworthiness.Defect{ID: id, Kind: airworthiness.KindInoperative}
	switch {
	case c.bad(t, 50, "any unit") && len(a.Units) > 0:
		d.Unit = a.Units[rapid.IntRange(0, len(a.Units)-1).Draw(t, "unit")].ID
	case c.bad(t, 10, "item"):
		d.Item = rapid.SampledFrom(usual).Draw(t, "item")
	case c.bad(t, 5, "elsewhere"):
		d.Unit = "not installed"
	case c.bad(t, 5, "nothing"):
	case chance(t, 30, "one of two"):
		d.Unit = unitOf(a, rapid.SampledFrom([]string{"nav-com-radio", "gps-navigator", "attitude-indicator", "turn-coordinator", "heading-indicator"}).Draw(t, "of two"))
	case chance(t, 10, "required"):
		d.Unit = unitOf(a, rapid.SampledFrom([]string{"oil-temperature-gauge", "magnetic-compass", "clock"}).Draw(t, "required"))
	case chance(t, 50, "relieved"):
		d.Unit = unitOf(a, rapid.SampledFrom([]string{"elt", "transponder", "altitude-encoder", "ads-b-out"}).Draw(t, "relieved"))
	default:
		d.Unit = unitOf(a, rapid.SampledFrom([]string{"intercom", "cabin-heater", "autopilot", "hour-meter"}).Draw(t, "spare"))
	}
	if c.bad(t, 15, "other kind") {
		d.Kind = rapid.SampledFrom([]airworthiness.DefectKind{airworthiness.KindUnstated, airworthiness.KindCondition}).Draw(t, "kind")
	}
	if chance(t, 6, "condition") {
		d.Kind = airworthiness.KindCondition
	}
	d.Deferral = c.deferral(t)
	if d.Kind != airworthiness.KindInoperative && chance(t, 50, "found") {
		d.Found = c.found(t)
	}
	return d
}

// unitOf is a unit of an item, or nothing if none is on record.
func unitOf(a *airworthiness.Aircraft, item string) string {
	at := slices.IndexFunc(a.Units, func(u airworthiness.Unit) bool { return u.Item == item })
	if at < 0 {
		return ""
	}
	return a.Units[at].ID
}

// done is a deferral with every step done, good for all summer.
func done(method airworthiness.Method) *airworthiness.Deferral {
	return &airworthiness.Deferral{
		Method: method, MethodDone: airworthiness.Yes, Placarded: airworthiness.Yes, Recorded: airworthiness.Yes,
		HazardDetermined: airworthiness.Yes, RemovedOn: airworthiness.Given(day("2026-05-10")),
		Until: airworthiness.Given(time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC)),

		MaintenanceProcedureDone: airworthiness.Yes, Discovered: airworthiness.Given(day("2026-05-30")), Extended: airworthiness.No,
	}
}

func (c care) deferral(t *rapid.T) *airworthiness.Deferral {
	if c.bad(t, 12, "no deferral") {
		return nil
	}
	d := done(rapid.SampledFrom([]airworthiness.Method{airworthiness.Removed, airworthiness.Deactivated}).Draw(t, "method"))
	if chance(t, 30, "older") {
		d.Discovered, d.Extended = airworthiness.Given(day("2026-05-27")), airworthiness.TruthOf(chance(t, 50, "extended"))
		d.ExtendedUntil = drawFact(t, c, "extended until", day("2026-06-10"), day("2026-05-31"))
	}
	if chance(t, 15, "one step left") {
		step := rapid.SampledFrom([]*airworthiness.Truth{&d.MethodDone, &d.Placarded, &d.Recorded, &d.HazardDetermined, &d.MaintenanceProcedureDone}).Draw(t, "step")
		*step = airworthiness.No
		return d
	}
	if chance(t, 10, "one step left") {
		steps := []*airworthiness.Truth{&d.MethodDone, &d.Placarded, &d.Recorded, &d.HazardDetermined}
		*rapid.SampledFrom(steps).Draw(t, "step") = airworthiness.No
		return d
	}
	if !c.bad(t, 30, "incomplete") && !chance(t, 8, "not finished") {
		return d
	}
	c.known = min(c.known, 85)
	d.MethodDone, d.Placarded = c.truth(t, 80, "method done"), c.truth(t, 80, "placarded")
	d.Recorded, d.HazardDetermined = c.truth(t, 80, "recorded"), c.truth(t, 80, "hazard")
	d.RemovedOn = drawFact(t, c, "removed on", day("2026-05-10"), day("2026-01-10"), day("2026-07-01"))
	d.EntryByRuleText, d.InvolvesMaintenance = chance(t, 40, "by rule text"), c.truth(t, 50, "involves maintenance")
	d.Until = drawFact(t, c, "until", time.Date(2026, 9, 1, 0, 0, 0, 0, time.UTC), time.Date(2026, 6, 1, 15, 0, 0, 0, time.UTC))
	d.MaintenanceProcedureDone, d.Extended = c.truth(t, 60, "maintenance procedure"), c.truth(t, 50, "extended")
	d.ExtendedUntil = drawFact(t, c, "extended until", day("2026-06-10"), day("2026-05-31"), day("2026-06-01"))
	d.Discovered = drawFact(t, c, "discovered", day("2026-05-30"), day("2026-05-28"), day("2026-05-01"), day("2026-06-02"))
	if chance(t, 10, "method unstated") {
		d.Method = airworthiness.MethodUnstated
	}
	return d
}

// flight draws the flight of an aircraft. It keeps out of what no flight can be: a cabin above the aircraft, more
// persons with a seat of their own than seats, and neither day nor night.
func (c care) flight(t *rapid.T, a *airworthiness.Aircraft) airworthiness.Flight {
	f := airworthiness.Flight{
		On: day("2026-06-01"), Departs: time.Date(2026, 6, 1, 15, 0, 0, 0, time.UTC), Ends: time.Date(2026, 6, 1, 18, 0, 0, 0, time.UTC),
		Envelope: chance(t, 15, "envelope"),

		IFR: c.truth(t, 40, "ifr"), Lights: c.truth(t, 30, "lights"), Dark: c.truth(t, 20, "dark"),
		Day: airworthiness.Yes, Night: c.truth(t, 30, "night"),

		ForHire: c.truth(t, 40, "for hire"), OnlyRequiredCrew: c.truth(t, 40, "only required crew"),
		OverWater: c.truth(t, 30, "over water"), Controlled: c.truth(t, 60, "controlled"),
		Below2500AGL: c.truth(t, 30, "below 2500 agl"), TrainingWithin50NM: c.truth(t, 30, "training"),
		ToPlaceOfRepair: c.truth(t, 40, "to repair"), RepairImpossible: c.truth(t, 50, "repair impossible"), UnderWay: c.truth(t, 10, "under way"),
		InAlaska: c.truth(t, 10, "in alaska"), Over30MinAbove12500: c.truth(t, 30, "over 30 minutes"),

		Occupants: drawFact(t, c, "occupants", 1, 2), Persons: drawFact(t, c, "persons", 1, 2, 3),
		RequiredCrew: drawFact(t, c, "required crew", 1, 2), AltitudeFt: drawFact(t, c, "altitude", 4500.0, 9000, 10000, 13000, 15500, 18000, 26000),

		ToPlaceOfInspection: c.truth(t, 40, "to inspection"), InstructionProvidedAircraft: c.truth(t, 30, "provided aircraft"),
		NewlyAcquiredToInstallation: c.truth(t, 20, "newly acquired"),
		Hours:                       drawFact(t, c, "hours", 1.5, 0.5, 8), WindowHours: drawFact(t, c, "window", 2.0, 12),
		Operations: airworthiness.Given(slices.DeleteFunc(airworthiness.Vocabulary("operations"), func(string) bool { return !c.bad(t, 12, "operation") })),

		Airspace: c.words(t, "airspace"), Navigation: c.words(t, "navigation"), ATCAuthorized: c.words(t, "atc_authorized"),
	}
	if chance(t, 30, "permit") {
		f.Permit = c.permit(t)
	}
	if chance(t, 30, "night only") {
		f.Day = airworthiness.TruthOf(f.Night != airworthiness.Yes)
	} else if !c.knows(t, "day") {
		f.Day = airworthiness.Unknown
	}
	if f.AltitudeFt.Known && c.knows(t, "cabin") {
		f.CabinFt = airworthiness.Given(f.AltitudeFt.Value * rapid.SampledFrom([]float64{1, 1, 0.4}).Draw(t, "cabin"))
	}
	if a.Seats.Known && f.Occupants.Known {
		f.Occupants.Value = min(f.Occupants.Value, a.Seats.Value)
	}
	if a.Seats.Known && f.RequiredCrew.Known {
		f.RequiredCrew.Value = min(f.RequiredCrew.Value, a.Seats.Value)
	}
	return f
}
