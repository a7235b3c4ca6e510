package oracle

import (
	"fmt"

	"tiedown/internal/casefile"
)

// Aircraft deals an aircraft of some class, mostly equipped and papered as one of its class is.
func (d *Dealer) Aircraft() casefile.Aircraft {
	d.howMuchIsKnown()
	f := d.facts()
	units := d.units(f)
	return casefile.Aircraft{Facts: f, Configuration: casefile.Configuration{
		Units:             units,
		UnitsComplete:     pick(d, new(true), new(true), new(true), new(true), new(false), nil),
		TypeCertification: d.document(units),
		EquipmentList:     d.document(units),
		KOEL:              d.document(units),
		Directives:        d.document(units),
	}}
}

func (d *Dealer) facts() casefile.Facts {
	category := pick(d, "airplane", "airplane", "airplane", "airplane", "airplane", "airplane", "rotorcraft", "rotorcraft",
		"glider", "balloon", "airship", "powered-parachute", "weight-shift-control", "powered-lift")
	certificate := pick(d, "standard", "standard", "standard", "standard", "standard", "standard", "light-sport",
		"experimental", "primary", "restricted", "limited", "provisional")
	basis, engine := "other", pick(d, "none", "reciprocating", "electric")
	switch category {
	case "airplane":
		basis = pick(d, "car-3", "part-23-before-64", "part-23-before-64", "part-23", "other")
		engine = pick(d, "reciprocating", "reciprocating", "reciprocating", "turbine", "electric", "none")
	case "rotorcraft":
		basis = pick(d, "car-6", "part-27", "part-27", "part-29", "other")
		engine = pick(d, "reciprocating", "turbine", "electric")
	}
	seats := pick(d, 1, 2, 2, 4, 6)
	return casefile.Facts{
		Category: category, Certificate: certificate, Basis: basis, Engine: d.keep(engine),
		Cooling:                     d.word("air", "air", "liquid"),
		MaxTakeoffWeightLb:          maybe(d, pick(d, 1160, 1670, 3100, 6000, 6001, 12500, 12501, 17000.0)),
		Engines:                     maybe(d, pick(d, 1, 1, 1, 2, 0)),
		Tanks:                       maybe(d, pick(d, 1, 2, 2, 3, 0)),
		Seats:                       maybe(d, seats),
		FrontSeats:                  maybe(d, min(seats, pick(d, 1, 2, 2))),
		Manufactured:                d.word("1976-05-01", "1978-07-18", "1978-07-19", "1986-12-12", "1986-12-13", "1992-09-16", "1992-09-17", "2015-06-01"),
		Certificated:                d.word("1971-10-01", "1996-03-11", "1996-03-12", "2018-02-02"),
		TypeCertificateApplied:      d.word("1968-10-01", "1971-08-11", "1971-08-12", "2016-01-01"),
		VORChecked:                  d.word("2026-05-01", "2026-05-02", "2026-05-03", "2026-05-20", "2026-06-01", "2026-06-02"),
		USRegistered:                d.fact(85),
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
		MELAuthorized:               d.fact(10),
		AltitudeReportingCalibrated: d.fact(85),
		Approved:                    maybe(d, subset(d, 75, kinds...)),
	}
}

// keep is a word, or none when it is not known.
func (d *Dealer) keep(w string) string { return d.word(w) }

// alternatives are sets of units that do one job; one of them is installed.
var alternatives = [][]string{
	{"airspeed-indicator", "airspeed-indicator", "primary-flight-display"},
	{"altimeter", "sensitive-altimeter", "sensitive-altimeter"},
	{"magnetic-compass"},
	{"gear-position-indicator"},
	{"beacon", "strobe-light", "anticollision-light"},
	{"beacon", "strobe-light", "anticollision-light"},
	{"position-light"}, {"position-light"}, {"position-light"},
	{"landing-light"},
	{"com-radio", "nav-com-radio"},
	{"nav-com-radio", "vor-receiver"},
	{"gps-navigator", "area-navigation-system"},
	{"transponder"}, {"altitude-encoder"}, {"ads-b-out"}, {"elt"},
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
}

// extras are installed now and then.
var extras = []string{
	"third-attitude-system", "dme", "quick-don-mask", "quick-don-mask", "portable-oxygen-system", "overspeed-warning",
	"low-fuel-warning", "rotor-tachometer", "autopilot", "cabin-heater", "oil-quantity-gauge", "transponder", "elt",
	"altimeter", "landing-light", "alternator", "fire-detector", "ammeter", "fuse", "circuit-breaker",
	"carburetor-temperature-gauge", "low-rotor-rpm-warning", "gps-navigator", "position-light",
}

// eachEngine are the gauges that every engine has one of.
var eachEngine = []string{
	"tachometer", "oil-pressure-gauge", "oil-temperature-gauge", "manifold-pressure-gauge", "cylinder-head-temperature-gauge",
	"fuel-pressure-gauge", "coolant-temperature-gauge",
}

// units deals the installed units.
func (d *Dealer) units(f casefile.Facts) []casefile.Unit {
	var units []casefile.Unit
	missing := pick(d, 0, 0, 2, 2, 8, 30)
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
		if d.chance(15) {
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
	switch {
	case d.chance(4):
		return nil
	case d.chance(4):
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
		if d.chance(40) {
			add("oxygen-system", d.places(seat, seats)...)
		}
		if d.chance(40) {
			add("flotation-gear", d.places(seat, seats)...)
		}
	}
}

// document deals one of the aircraft's own documents.
func (d *Dealer) document(units []casefile.Unit) casefile.OwnList {
	list := casefile.OwnList{OnRecord: pick(d, new(true), new(true), new(true), new(true), new(true), new(false), nil)}
	if list.OnRecord == nil || !*list.OnRecord || d.chance(35) {
		return list
	}
	list.Document = "a document"
	for range 1 + d.intN(4) {
		row := casefile.OwnRow{Item: pick(d, "alternator", "altimeter", "transponder", "landing-light", "autopilot")}
		if len(units) > 0 && d.chance(70) {
			row.Item = units[d.intN(len(units))].Item
		}
		if d.chance(30) {
			row.Quantity = 1 + d.intN(3)
		}
		if d.chance(30) {
			row.Kinds = subset(d, 50, kinds...)
		}
		list.Rows = append(list.Rows, row)
	}
	return list
}
