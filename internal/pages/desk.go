package pages

import (
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

func baseIn(bases []techlog.Base, id techlog.ID) techlog.Base {
	if i := slices.IndexFunc(bases, func(b techlog.Base) bool { return b.ID == id }); i >= 0 {
		return bases[i]
	}
	return techlog.Base{ID: id}
}

// weekFlight is one flight, with its times in the zone in which it has its date.
type weekFlight struct {
	techlog.Flight
	Registration string
	Places       []string // along its legs
	Leaves       time.Time
	Lands        time.Time
	Cites        []string
	Dark         string // how much of it is night
}

func (p *pages) weekFlight(f techlog.Flight) weekFlight {
	zone := zoneNamed(f.Zone)
	one := weekFlight{Flight: f, Leaves: f.Departs.In(zone), Lands: f.Arrives.In(zone), Dark: dark(f.Light)}
	for i := range f.Legs {
		if i == 0 {
			one.Places = append(one.Places, placeOf(f.Legs[i].From))
		}
		one.Places = append(one.Places, placeOf(f.Legs[i].To))
	}
	if len(one.Places) == 2 && one.Places[0] == one.Places[1] {
		one.Places = one.Places[:1] // a local flight
	}
	if f.Hold.Holds() {
		for _, row := range f.Hold.Rows {
			if c := p.cites[row]; c != "" && !slices.Contains(one.Cites, c) {
				one.Cites = append(one.Cites, c)
			}
		}
	}
	return one
}

// dark says in words how much of a flight is night.
func dark(l casefile.Light) string {
	is := func(b *bool) bool { return b != nil && *b }
	switch {
	case is(l.Night) && !is(l.Day):
		return "night"
	case is(l.Night):
		return "partly night"
	case is(l.SunsetToSunrise):
		return "partly after sunset or before sunrise"
	default:
		return ""
	}
}

// weekFlights is how many flights a page looks through.
const weekFlights = 400
