package oracle

import (
	"fmt"

	"tiedown/internal/casefile"
)

// Aircraft deals an aircraft of some class, in half the cases well equipped, well papered and in order.
func (d *Dealer) Aircraft() casefile.Aircraft {
	d.calm = d.chance(75)
	d.howMuchIsKnown()
	f := d.facts()
	d.inspections(&f)
	units := d.units(f)
	c := casefile.Configuration{
		Units:             units,
		UnitsComplete:     usual(d, new(true), new(true), new(false), nil),
		TypeCertification: d.document(units),
		EquipmentList:     d.document(units),
		KOEL:              d.document(units),
		Directives:        d.document(units),
		MEL:               d.mel(f, units),
	}
	c.TypeCertification.Confirmed = d.confirmation()
	for i := range c.Directives.Rows {
		row := &c.Directives.Rows[i]
		row.PermitBarred = maybe(d, d.chance(30))
		if d.chance(8) {
			row.Item = pick(d, "tire", "wing-spar", "oil-leak")
		}
	}
	dealt := casefile.Aircraft{Facts: f, Configuration: c}
	d.keepsAboard(&dealt)
	d.upkeep(&dealt.Facts)
	return dealt
}

func (d *Dealer) facts() casefile.Facts {
	category := usual(d, "airplane", "airplane", "airplane", "airplane", "rotorcraft", "rotorcraft", "glider", "balloon",
		"airship", "powered-parachute", "weight-shift-control", "powered-lift")
	basis, engine := d.class(category)
	seats := pick(d, 1, 2, 2, 4, 6)
	return casefile.Facts{
		Category: category, Basis: basis, Engine: d.word(engine),
		Certificate: usual(d, "standard", "standard", "standard", "standard", "light-sport", "experimental", "primary",
			"restricted", "limited", "provisional"),
		Cooling:                d.word("air", "air", "liquid"),
		MaxTakeoffWeightLb:     maybe(d, usual(d, 1670, 1160, 3100, 6000, 12500, 12501, 17000.0)),
		Engines:                maybe(d, usual(d, 1, 1, 1, 2, 0)),
		Tanks:                  maybe(d, usual(d, 2, 1, 2, 3, 0)),
		Seats:                  maybe(d, seats),
		FrontSeats:             maybe(d, min(seats, pick(d, 1, 2, 2))),
		Manufactured:           d.word("1976-05-01", "1978-07-18", "1978-07-19", "1986-12-12", "1986-12-13", "1992-09-16", "1992-09-17", "2015-06-01"),
		Certificated:           d.word("1971-10-01", "1996-03-11", "1996-03-12", "2018-02-02"),
		TypeCertificateApplied: d.word("1968-10-01", "1971-08-11", "1971-08-12", "2016-01-01"),
		VORChecked:             d.word(usual(d, "2026-05-20", "2026-05-01", "2026-05-02", "2026-05-03", "2026-06-01", "2026-06-02")),

		USRegistered:                d.mostly(true),
		PressureOil:                 d.fact(80),
		AltitudeEngine:              d.fact(30),
		RetractableGear:             d.fact(40),
		ControllablePropeller:       d.fact(50),
		PumpFedFuel:                 d.fact(50),
		CowlFlaps:                   d.fact(40),
		ElectricalSystem:            d.fact(85),
		EngineDrivenElectrical:      d.fact(75),
		Pressurized:                 d.fact(25),
		ReplaceableFuses:            d.fact(30),
		MMELExists:                  d.fact(40),
		MELAuthorized:               maybe(d, d.chance(20)),
		AltitudeReportingCalibrated: d.mostly(true),
		Approved:                    maybe(d, usual(d, kinds, subset(d, 60, kinds...))),
	}
}

// class is a certification basis and a kind of engine for a category of aircraft.
func (d *Dealer) class(category string) (basis, engine string) {
	switch category {
	case "airplane":
		return pick(d, "car-3", "part-23-before-64", "part-23-before-64", "part-23", "other"),
			usual(d, "reciprocating", "turbine", "electric", "none")
	case "rotorcraft":
		return pick(d, "car-6", "part-27", "part-27", "part-29", "other"), pick(d, "reciprocating", "turbine", "electric")
	}
	return "other", pick(d, "none", "reciprocating", "electric")
}

// alternatives are sets of units that do one job; one of them is installed.
var alternatives = [][]string{
	{"airspeed-indicator", "airspeed-indicator", "primary-flight-display"},
	{"altimeter", "sensitive-altimeter", "sensitive-altimeter"},
	{"magnetic-compass"},
	{"gear-position-indicator"},
	{"beacon", "strobe-light", "anticollision-light"},
	{"beacon", "strobe-light", "anticollision-light"},
	{"position-light"},
	{"position-light"},
	{"position-light"},
	{"landing-light"},
	{"com-radio", "nav-com-radio"},
	{"nav-com-radio", "vor-receiver"},
	{"gps-navigator", "area-navigation-system"},
	{"transponder"},
	{"altitude-encoder"},
	{"ads-b-out"},
	{"elt"},
	{"alternator", "generator"},
	{"main-battery"},
	{"master-switch"},
	{"turn-coordinator", "turn-and-bank-indicator", "rate-of-turn-indicator"},
	{"slip-skid-indicator"},
	{"clock"},
	{"vacuum-pump"},
	{"attitude-indicator", "standby-attitude-indicator"},
	{"heading-indicator", "horizontal-situation-indicator"},
	{"spare-fuses"},
	{"pyrotechnic-signal"},
	{"outside-air-temperature-gauge"},
	{"stall-warning"},
	{"pitot-heat"},
	{"alternate-static-source"},
	{"taxi-light"},
}

// extras are installed now and then.
var extras = []string{
	"third-attitude-system", "dme", "quick-don-mask", "quick-don-mask", "portable-oxygen-system", "overspeed-warning",
	"low-fuel-warning", "rotor-tachometer", "autopilot", "cabin-heater", "oil-quantity-gauge", "transponder", "elt",
	"altimeter", "landing-light", "alternator", "fire-detector", "ammeter", "fuse", "circuit-breaker",
	"ads-b-out", "altitude-encoder", "nav-com-radio", "clock", "magnetic-compass", "sensitive-altimeter",
	"carburetor-temperature-gauge", "low-rotor-rpm-warning", "gps-navigator", "position-light",
	"com-radio", "vor-receiver", "heading-indicator", "rate-of-turn-indicator", "standby-battery", "standby-alternator", "flight-director", "localizer-receiver", "glideslope-receiver",
	"marker-beacon-receiver", "vertical-speed-indicator", "radar-altimeter", "night-vision-goggles", "night-vision-lighting",
	"attitude-indicator", "airspeed-indicator",
}

// eachEngine are the gauges that every engine has one of.
var eachEngine = []string{
	"tachometer", "oil-pressure-gauge", "oil-temperature-gauge", "manifold-pressure-gauge", "cylinder-head-temperature-gauge",
	"fuel-pressure-gauge", "coolant-temperature-gauge",
}

// units deals the installed units.
func (d *Dealer) units(f casefile.Facts) []casefile.Unit {
	var units []casefile.Unit
	missing := usual(d, 0, 2, 8, 30)
	add := func(item string, serves ...int) {
		if d.chance(missing) {
			return
		}
		u := casefile.Unit{ID: fmt.Sprintf("%s-%d", item, len(units)+1), Item: item, Serves: serves}
		if len(units) > 0 && d.chance(6) {
			u.Needs = []string{units[d.intN(len(units))].ID}
		}
		if d.chance(2) {
			u.Also = []string{pick(d, "attitude-indicator", "transponder", "tachometer", "com-radio", "altimeter", "elt")}
		}
		units = append(units, u)
	}
	for _, one := range alternatives {
		add(pick(d, one...))
	}
	for _, item := range extras {
		if d.chance(20) {
			add(item)
		}
	}
	count := func(n *int) int {
		if n == nil {
			return 1 + d.intN(2)
		}
		return *n
	}
	engines, tanks, seats := count(f.Engines), count(f.Tanks), count(f.Seats)
	for e := 1; e <= engines; e++ {
		if d.chance(10) {
			add("engine-monitor", d.places(e, engines)...)
		}
		for _, gauge := range eachEngine {
			add(gauge, d.places(e, engines)...)
		}
	}
	for tank := 1; tank <= tanks; tank++ {
		add("fuel-quantity-gauge", d.places(tank, tanks)...)
	}
	d.seatUnits(add, seats)
	return units
}

// places is the place that a unit serves, now and then all of them, or none named.
func (d *Dealer) places(place, of int) []int {
	switch d.intN(25) {
	case 0:
		return nil
	case 1:
		everywhere := make([]int, of)
		for i := range everywhere {
			everywhere[i] = i + 1
		}
		return everywhere
	}
	return []int{place}
}

// seatUnits deals what stands at the seats.
func (d *Dealer) seatUnits(add func(string, ...int), seats int) {
	together := d.chance(15)
	for seat := 1; seat <= seats; seat++ {
		if together {
			add("combined-restraint", d.places(seat, seats)...)
		} else {
			add("safety-belt", d.places(seat, seats)...)
			add("shoulder-harness", d.places(seat, seats)...)
		}
		if d.calm || d.chance(40) {
			add("oxygen-system", d.places(seat, seats)...)
		}
		if d.calm || d.chance(40) {
			add("flotation-gear", d.places(seat, seats)...)
		}
	}
}

// document deals one of the aircraft's own documents.
func (d *Dealer) document(units []casefile.Unit) casefile.OwnList {
	list := casefile.OwnList{OnRecord: usual(d, new(true), new(true), new(false), nil)}
	if list.OnRecord == nil || !*list.OnRecord || d.chance(50) {
		return list
	}
	list.Document = "a document"
	for range 1 + d.intN(4) {
		row := casefile.OwnRow{Item: pick(d, "alternator", "altimeter", "transponder", "landing-light", "autopilot")}
		if len(units) > 0 && (d.calm || d.chance(70)) {
			row.Item = units[d.intN(len(units))].Item
		}
		if d.chance(30) {
			row.Quantity = usual(d, 1, 2, 3)
		}
		if d.chance(30) {
			row.Kinds = subset(d, 50, kinds...)
		}
		list.Rows = append(list.Rows, row)
	}
	return list
}
