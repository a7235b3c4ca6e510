package oracle

import (
	"time"

	"tiedown/internal/casefile"
)

// departure is when every flight leaves: the dates of the aircraft and of its squawks lie about it.
var departure = time.Date(2026, 6, 1, 14, 0, 0, 0, time.FixedZone("", -5*3600))

// flight deals a flight.
func (d *Dealer) flight(f casefile.Facts) casefile.Flight {
	departs := departure.Add(time.Duration(pick(d, 0, 0, 0, 6, 9)) * time.Hour)
	flight := casefile.Flight{
		Rules:   d.word("vfr", "ifr"),
		Departs: departs,
		Arrives: departs.Add(time.Duration(pick(d, 1, 2, 5)) * time.Hour),
	}
	d.light(&flight)
	high := float64(pick(d, 2900, 3000, 4500, 9999, 10000, 11500, 12501, 14000, 14001, 16000, 24000, 26000, 36000, 42000))
	cabin := float64(pick(d, 2900, 3000, 12500, 12501, 14000, 14001, 15000, 15001))
	seats := 2
	if f.Seats != nil {
		seats = *f.Seats
	}
	persons := 1 + d.intN(seats)
	flight.FlightFacts = casefile.FlightFacts{
		ForHire:             d.fact(40),
		OverWater:           d.fact(40),
		Controlled:          d.fact(60),
		Below2500AGL:        d.fact(25),
		InAlaska:            d.fact(20),
		Dark:                d.fact(50),
		Over30MinAbove12500: d.fact(50),
		OnlyRequiredCrew:    d.chance(40),
		TrainingWithin50NM:  d.chance(15),
		ToPlaceOfRepair:     d.chance(30),
		RepairImpossible:    d.chance(50),
		Occupants:           maybe(d, persons),
		Persons:             maybe(d, persons+d.intN(2)),
		RequiredCrew:        maybe(d, 1+d.intN(2)),
		AltitudeFt:          maybe(d, high),
		CabinFt:             maybe(d, cabin),
		Airspace:            maybe(d, d.airspace()),
		Navigation:          maybe(d, subset(d, 60, "vor", "gnss")),
		ATCAuthorized:       subset(d, 12, "transponder", "altitude-reporting", "ads-b"),
	}
	if d.chance(40) {
		flight.CabinFt = nil
	}
	return flight
}

func (d *Dealer) airspace() []string {
	return subset(d, 15, "class-a", "class-b", "class-c", "class-d", "class-e", "class-g", "above-class-b-or-c", "mode-c-veil",
		"listed-airport-10nm", "gulf-class-e")
}

// light deals the light that a flight meets, said outright, to be worked out from its route, or not known.
func (d *Dealer) light(f *casefile.Flight) {
	if d.chance(4) {
		from := casefile.Place{Lat: new(float64(pick(d, 30, 45, 62, 71))), Lon: new(float64(pick(d, -150, -95, 10)))}
		to := casefile.Place{Lat: new(*from.Lat + 1), Lon: new(*from.Lon - 1)}
		f.Route = []casefile.Place{from, to}
		return
	}
	day, night := true, false
	switch d.intN(4) {
	case 0:
		day, night = false, true
	case 1:
		night = true
	}
	f.Light = maybe(d, casefile.Light{Day: maybe(d, day), Night: maybe(d, night), SunsetToSunrise: maybe(d, night || d.chance(30))})
}
