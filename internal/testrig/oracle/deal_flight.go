package oracle

import (
	"time"

	"tiedown/internal/casefile"
)

// departure is when every flight leaves: the dates of the aircraft and of its squawks lie about it.
var departure = time.Date(2026, 6, 1, 14, 0, 0, 0, time.FixedZone("", -5*3600))

// Two rules came into force on these days: ADS-B Out (14 CFR 91.225) and the list of light-sport aircraft (91.327(d)).
var (
	afterADSB       = time.Date(2020, 1, 2, 14, 0, 0, 0, time.FixedZone("", -5*3600))
	afterLightSport = time.Date(2025, 10, 22, 14, 0, 0, 0, time.FixedZone("", -5*3600))
)

// flight deals a flight.
func (d *Dealer) flight(f casefile.Facts) casefile.Flight {
	departs := departure.Add(time.Duration(pick(d, 0, 0, 0, 6, 9)) * time.Hour)
	if d.chance(2) {
		departs = pick(d, afterADSB.AddDate(0, 0, -1), afterADSB, afterLightSport.AddDate(0, 0, -1), afterLightSport)
	}
	flight := casefile.Flight{
		Rules:   d.word("vfr", "ifr"),
		Departs: departs,
		Arrives: departs.Add(time.Duration(pick(d, 1, 2, 5)) * time.Hour),
	}
	d.light(&flight)
	high := float64(usual(d, 4500, 2900, 3000, 9999, 10000, 11500, 12501, 14000, 14001, 16000, 24000, 26000, 36000, 42000))
	cabin := float64(pick(d, 3000, 12500, 12501, 14000, 14001, 15000, 15001))
	seats := 2
	if f.Seats != nil {
		seats = *f.Seats
	}
	persons := 1 + d.intN(seats)
	flight.FlightFacts = casefile.FlightFacts{
		ForHire:             d.fact(40),
		OverWater:           d.mostly(false),
		Controlled:          d.fact(60),
		Below2500AGL:        d.mostly(false),
		InAlaska:            d.mostly(false),
		Dark:                d.fact(50),
		Over30MinAbove12500: d.fact(50),
		OnlyRequiredCrew:    d.chance(40),
		TrainingWithin50NM:  d.chance(15),
		ToPlaceOfRepair:     d.chance(30),
		RepairImpossible:    d.chance(50),
		Occupants:           maybe(d, persons),
		Persons:             maybe(d, persons+usual(d, 0, 0, 1)),
		RequiredCrew:        maybe(d, min(seats, 1+d.intN(2))),
		AltitudeFt:          maybe(d, high),
		CabinFt:             maybe(d, cabin),
		Airspace:            maybe(d, d.airspace()),
		Navigation:          maybe(d, subset(d, 60, "vor", "gnss")),
		ATCAuthorized:       subset(d, 15, "transponder", "altitude-reporting", "ads-b"),
	}
	if d.calm || d.chance(40) {
		flight.CabinFt = nil
	}
	d.operation(&flight)
	return flight
}

func (d *Dealer) airspace() []string {
	percent := usual(d, 3, 15)
	return subset(d, percent, "class-a", "class-b", "class-c", "class-d", "class-e", "class-g", "above-class-b-or-c",
		"mode-c-veil", "listed-airport-10nm", "gulf-class-e")
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
