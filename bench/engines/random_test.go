package engines

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	aw "tiedown/internal/airworthiness"
)

// deal draws random cases: aircraft of every sort with much left unsaid, defects in every state, and flights of which
// some are kinds of operation. The same seed deals the same cases.
type deal struct{ *rand.Rand }

func newDeal(seed uint64) deal { return deal{rand.New(rand.NewPCG(seed, 1))} }

func (r deal) chance(percent int) bool { return r.IntN(100) < percent }

// truth is unknown now and then.
func (r deal) truth() aw.Truth {
	return []aw.Truth{aw.Unknown, aw.No, aw.No, aw.Yes, aw.Yes}[r.IntN(5)]
}

func (r deal) mostly(t aw.Truth) aw.Truth {
	if r.chance(80) {
		return t
	}
	return r.truth()
}

func (r deal) word(fact string) string {
	if r.chance(10) {
		return []string{"", "no such word"}[r.IntN(2)]
	}
	words := aw.Vocabulary(fact)
	if fact == "basis" {
		return words[r.IntN(4)] // those that have a list, or nearly
	}
	if r.chance(50) {
		return words[0]
	}
	return words[r.IntN(len(words))]
}

func (r deal) words(fact string) aw.Fact[[]string] {
	var list []string
	for _, word := range append(aw.Vocabulary(fact), "no such word") {
		if r.chance(25) {
			list = append(list, word)
		}
	}
	return perhaps(r, list)
}

// perhaps leaves a fact unknown now and then.
func perhaps[T any](r deal, v T) aw.Fact[T] {
	if r.chance(20) {
		return aw.Fact[T]{}
	}
	return aw.Given(v)
}

// Altitudes on both sides of those that rows name.
var (
	altitudesFt = []float64{3000, 9999, 10000, 17999, 18000, 23999, 24000, 25000, 25001, 35000, 35001}
	cabinsFt    = []float64{3000, 12500, 12501, 14000, 14001, 15000, 15001}
)

// Hours on both sides of the limits that rows name, and how long flights take.
var (
	hoursSince    = []float64{41.5, 98, 98.5, 99, 100, 100.5, 108, 108.5, 110, 110.5}
	hoursOfFlight = []float64{0, 1, 1.5, 2, 11}
)

// inspections draws dates on both sides of the ends of months that decide, for the flights of June 2026.
func (r deal) inspections(a *aw.Aircraft) {
	within := func(last, later string) aw.Fact[aw.Date] {
		return perhaps(r, pick(r, []aw.Date{r.near(last), r.near(later), r.date("2026-01-01", "2026-06-20")}))
	}
	a.AnnualInspected, a.ConditionInspected = within("2025-06-01", "2025-06-30"), within("2025-06-01", "2025-06-30")
	a.AltimeterTested, a.TransponderTested = within("2024-06-01", "2024-06-30"), within("2024-06-01", "2024-06-30")
	a.ELTInspected = within("2025-06-01", "2025-06-30")
	a.ELTBatteryDue = perhaps(r, r.date("2026-06-01", "2026-07-01"))
	a.ELTBatteryHours = perhaps(r, pick(r, []float64{0.2, 1, 1.1}))
	a.HoursSinceInspection = perhaps(r, pick(r, hoursSince))
	a.Papers.RegistrationThrough = perhaps(r, r.date("2026-06-01", "2026-07-01"))
}

func pick[T any](r deal, from []T) T { return from[r.IntN(len(from))] }

// near is one of the dates, or the day before or after.
func (r deal) near(dates ...string) aw.Date {
	d, _ := aw.ParseDate(pick(r, dates))
	return d + aw.Date(r.IntN(3)-1)
}

func (r deal) date(from, to string) aw.Date {
	first, _ := aw.ParseDate(from)
	last, _ := aw.ParseDate(to)
	return first + aw.Date(r.IntN(int(last-first)))
}

// bearing lists the items that rows speak of, those that do their job, and some that no row knows.
func bearing(b *book) []string {
	var items []string
	for _, table := range [][]bookRow{b.rows, b.reliefs, b.pairs} {
		for _, row := range table {
			items = append(append(items, row.items...), row.second...)
		}
	}
	for _, item := range b.items {
		if slices.ContainsFunc(item.servesAs, func(other string) bool { return slices.Contains(items, other) }) {
			items = append(items, item.key)
		}
	}
	items = append(items, "third-attitude-system", "autopilot", "tire", "ash-tray")
	slices.Sort(items)
	return slices.Compact(items)
}

func (r deal) aircraft(items []string) aw.Aircraft {
	a := aw.Aircraft{
		Category: r.word("category"), Certificate: r.word("certificate"), Basis: r.word("basis"),
		Engine: []string{"reciprocating", "reciprocating", r.word("engine")}[r.IntN(3)], Cooling: r.word("cooling"),
		MaxTakeoffWeightLb: perhaps(r, pick(r, []float64{2450, 12500, 12501})),
		Engines:            perhaps(r, 1+r.IntN(2)), Tanks: perhaps(r, 1+r.IntN(3)), Seats: perhaps(r, 1+r.IntN(4)),
		FrontSeats: perhaps(r, 1+r.IntN(2)), Manufactured: perhaps(r, r.near("1978-07-18", "1986-12-12", "1992-09-16")),
		Certificated:           perhaps(r, r.near("1996-03-11")),
		TypeCertificateApplied: perhaps(r, r.near("1971-08-10")),
		VORChecked:             perhaps(r, r.date("2026-05-01", "2026-06-20")),
		USRegistered:           r.truth(), PressureOil: r.truth(), AltitudeEngine: r.truth(), RetractableGear: r.truth(),
		ControllablePropeller: r.truth(), PumpFedFuel: r.truth(), CowlFlaps: r.truth(), ElectricalSystem: r.truth(),
		EngineDrivenElectrical: r.truth(), Pressurized: r.truth(), ReplaceableFuses: r.truth(), MMELExists: r.truth(),
		MELAuthorized: r.mostly(aw.No), AltitudeReportingCalibrated: r.truth(),
		Approved: perhaps(r, aw.Kinds(r.IntN(16))), UnitsComplete: r.truth(),
	}
	r.inspections(&a)
	for i := range 20 + r.IntN(50) {
		a.Units = append(a.Units, r.unit(fmt.Sprintf("u%d", i), items, a.Units))
	}
	a.TypeCertification, a.EquipmentList = r.ownList(items), r.ownList(items)
	a.KOEL, a.Directives = r.ownList(items), r.ownList(items)
	return a
}

func (r deal) unit(id string, items []string, earlier []aw.Unit) aw.Unit {
	u := aw.Unit{ID: id, Item: items[r.IntN(len(items))]}
	if r.chance(50) {
		u.Serves = uint64(r.IntN(16))
	}
	if r.chance(10) {
		u.Also = []string{items[r.IntN(len(items))]}
	}
	if r.chance(15) && len(earlier) > 0 {
		u.Needs = []string{earlier[r.IntN(len(earlier))].ID}
	}
	return u
}

func (r deal) ownList(items []string) aw.OwnList {
	list := aw.OwnList{OnRecord: r.truth(), Confirmed: r.mostly(aw.Yes)}
	for list.OnRecord == aw.Yes && r.chance(70) {
		list.Rows = append(list.Rows, aw.OwnRow{
			Item: items[r.IntN(len(items))], Quantity: r.IntN(3), Kinds: aw.Kinds(r.IntN(16)), Document: "a page",
		})
	}
	return list
}

func (r deal) flight() aw.Flight {
	f := aw.Flight{
		On: r.date("2026-06-01", "2026-07-01"), IFR: r.truth(), Day: r.truth(), Night: r.truth(), Lights: r.truth(),
		Dark: r.truth(), ForHire: r.truth(), OnlyRequiredCrew: r.truth(), OverWater: r.truth(), Controlled: r.truth(),
		Below2500AGL: r.truth(), TrainingWithin50NM: r.truth(), ToPlaceOfRepair: r.truth(), RepairImpossible: r.truth(), UnderWay: r.truth(),
		InAlaska: r.truth(), Over30MinAbove12500: r.truth(), InstructionProvidedAircraft: r.truth(),
		ToPlaceOfInspection: r.truth(), NewlyAcquiredToInstallation: r.truth(),
		Hours: perhaps(r, pick(r, hoursOfFlight)), WindowHours: perhaps(r, pick(r, hoursOfFlight)),
		Operations: aw.Given(slices.DeleteFunc(aw.Vocabulary("operations"), func(string) bool { return r.chance(85) })),
		Occupants:  perhaps(r, r.IntN(5)), Persons: perhaps(r, r.IntN(6)), RequiredCrew: perhaps(r, 1+r.IntN(2)),
		AltitudeFt: perhaps(r, pick(r, altitudesFt)), CabinFt: perhaps(r, pick(r, cabinsFt)),
		Airspace: r.words("airspace"), Navigation: r.words("navigation"), ATCAuthorized: r.words("atc_authorized"),
	}
	if r.chance(5) {
		f.On = r.date("2019-06-01", "2019-07-01") // before some rows came into force
	}
	f.Ends = time.Unix(int64(f.On)*86400, 0).UTC().Add(time.Duration(r.IntN(40)) * time.Hour)
	f.Envelope = r.chance(40)
	return f
}

func (r deal) defect(id string, a *aw.Aircraft, items []string) aw.Defect {
	d := aw.Defect{ID: id, Kind: []aw.DefectKind{aw.KindInoperative, aw.KindInoperative, aw.KindInoperative, aw.KindCondition, aw.KindUnstated}[r.IntN(5)]}
	switch {
	case r.chance(80):
		d.Unit = a.Units[r.IntN(len(a.Units))].ID
	case r.chance(80):
		d.Item = items[r.IntN(len(items))]
	default:
		d.Unit = "no such unit"
	}
	if r.chance(60) {
		d.Deferral = &aw.Deferral{
			Method: aw.Method(r.IntN(3)), MethodDone: r.mostly(aw.Yes), Placarded: r.mostly(aw.Yes), Recorded: r.mostly(aw.Yes),
			HazardDetermined: r.mostly(aw.Yes), RemovedOn: perhaps(r, r.date("2026-02-01", "2026-06-20")),
			Until:           perhaps(r, time.Date(2026, time.June, 1+r.IntN(40), 0, 0, 0, 0, time.UTC)),
			EntryByRuleText: r.chance(30), InvolvesMaintenance: r.truth(),
		}
	}
	return d
}

// consider lets hazard determinations be made in view of some of the other squawks: mostly of all.
func (r deal) consider(defects []aw.Defect) {
	percent := pick(r, []int{0, 60, 100, 100})
	for i := range defects {
		if defects[i].Deferral == nil {
			continue
		}
		d := *defects[i].Deferral
		d.HazardConsidered = nil
		for j := range defects {
			if i != j && r.chance(percent) {
				d.HazardConsidered = append(d.HazardConsidered, defects[j].ID)
			}
		}
		defects[i].Deferral = &d
	}
}

// deal draws a case: now an unruly one, now an orderly one, as unruly ones hardly ever let an aircraft go.
func (r deal) deal(items []string) Case {
	if r.chance(30) {
		return r.orderly()
	}
	c := Case{Aircraft: r.aircraft(items)}
	for i := range r.IntN(10) {
		c.Defects = append(c.Defects, r.defect(fmt.Sprint(i), &c.Aircraft, items))
	}
	r.consider(c.Defects)
	c.Flights = kindsOfOperation(r.date("2026-06-01", "2026-07-01"), time.Date(2026, time.July, 2, 0, 0, 0, 0, time.UTC))[:r.IntN(3)]
	for range 3 {
		c.Flights = append(c.Flights, r.flight())
	}
	return c
}

// orderly draws the workload's aircraft with its papers in order, a squawk or two and flights of which all is known.
func (r deal) orderly() Case {
	w := Workload()
	c := Case{Aircraft: w.Aircraft, Flights: w.Flights}
	c.Aircraft.TypeCertification = aw.OwnList{OnRecord: aw.Yes, Confirmed: aw.Yes, Rows: []aw.OwnRow{
		{Item: "stall-warning", Quantity: 1, Document: "confirmed list"}, {Item: "fuel-quantity-gauge", Quantity: 2, Document: "confirmed list"},
	}}
	for i := range r.IntN(3) {
		d := w.Defects[r.IntN(len(w.Defects))]
		d.ID = fmt.Sprint(i)
		if r.chance(50) {
			d.Unit, d.Item = c.Aircraft.Units[r.IntN(len(c.Aircraft.Units))].ID, ""
		}
		if d.Kind == aw.KindInoperative && r.chance(50) {
			d.Deferral = w.Defects[0].Deferral
		}
		c.Defects = append(c.Defects, d)
	}
	r.consider(c.Defects)
	for range 3 {
		f := w.Flights[r.IntN(len(w.Flights))]
		f.Envelope, f.InAlaska, f.OverWater, f.ForHire = false, aw.No, aw.No, aw.TruthOf(r.chance(30))
		f.Controlled, f.Below2500AGL, f.Over30MinAbove12500 = aw.Yes, aw.No, aw.No
		f.Occupants, f.Persons, f.RequiredCrew = aw.Given(2), aw.Given(2+r.IntN(2)), aw.Given(1)
		f.AltitudeFt, f.CabinFt = aw.Given(float64(1000*(2+r.IntN(10)))), aw.Given(3000.0)
		f.Airspace, f.Navigation = aw.Given([]string{"class-d", "class-c"}[:r.IntN(3)]), aw.Given([]string{"vor", "gnss"}[:r.IntN(3)])
		f.ATCAuthorized = aw.Given([]string{"transponder", "ads-b"}[:r.IntN(3)])
		f.ToPlaceOfRepair, f.RepairImpossible, f.TrainingWithin50NM = r.truth(), r.truth(), r.truth()
		f.InstructionProvidedAircraft, f.ToPlaceOfInspection, f.Hours = aw.TruthOf(r.chance(30)), r.truth(), aw.Given(1.5)
		c.Flights = append(c.Flights, f)
	}
	return c
}
