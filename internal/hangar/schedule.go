package hangar

import (
	"cmp"
	"context"
	"slices"
	"time"

	"tiedown/internal/daylight"
	"tiedown/internal/techlog"
)

// Schedule is what the aircraft of an organization have to do over a stretch of time.
type Schedule struct {
	Aircraft []Scheduled // in the order of their registrations
	Bases    map[techlog.ID]techlog.Base
	More     bool // there are more aircraft than were looked at
}

// Scheduled is one aircraft with what it has to do.
type Scheduled struct {
	Aircraft techlog.Aircraft // without facts and configuration
	Flights  []techlog.Flight // that are planned, in the order of their departure
	Blocks   []techlog.Block  // in the order of their beginning
}

// Schedule tells what is planned between two instants with each aircraft, and what keeps it from flying then, as of one
// instant and in one round trip, for as many aircraft as Alternatives looks at.
func (s *Service) Schedule(ctx context.Context, who techlog.Principal, from, until time.Time) (Schedule, error) {
	found := Schedule{Aircraft: []Scheduled{}, Bases: map[techlog.ID]techlog.Base{}}
	fleet, err := s.store.FleetIDs(ctx, who.Organization, maxAlternatives+1)
	if err != nil || len(fleet) == 0 {
		return found, err
	}
	if found.More = len(fleet) > maxAlternatives; found.More {
		fleet = fleet[:maxAlternatives]
	}
	read, err := s.store.Survey(ctx, who.Organization, SurveyWant{Aircraft: fleet, Known: s.knownPlans(fleet), BlocksFrom: from, From: from, To: until})
	if err != nil {
		return found, err
	}
	for i := range read.Aircraft {
		snap := &read.Aircraft[i]
		one := Scheduled{Aircraft: snap.Aircraft, Flights: snap.Flights}
		for _, b := range snap.Blocks {
			if b.From.Before(until) {
				one.Blocks = append(one.Blocks, b)
			}
		}
		slices.SortStableFunc(one.Flights, func(a, b techlog.Flight) int { return a.Departs.Compare(b.Departs) })
		slices.SortStableFunc(one.Blocks, func(a, b techlog.Block) int { return a.From.Compare(b.From) })
		found.Aircraft = append(found.Aircraft, one)
	}
	slices.SortStableFunc(found.Aircraft, func(a, b Scheduled) int { return cmp.Compare(a.Aircraft.Registration, b.Aircraft.Registration) })
	for _, b := range read.Bases {
		found.Bases[b.ID] = b
	}
	return found, nil
}

// Sun is the sun over one date at a base, by the calendar of its zone.
type Sun struct {
	From, Until time.Time // of the date, which lasts 23 or 25 hours where clocks are changed
	// Night is when it is night (14 CFR 1.1: from the end of evening civil twilight to the beginning of morning civil
	// twilight), SunDown from sunset to sunrise, within the date.
	Night, SunDown []Stretch
	// The first such event on the date each, zero where the date has none.
	Dawn, Sunrise, Sunset, Dusk time.Time
}

// Stretch is the time from one instant up to another.
type Stretch struct{ From, Until time.Time }

// SunAt works out the sun over the date on which an instant falls at a base.
func (s *Service) SunAt(b techlog.Base, at time.Time) (Sun, error) {
	zone, err := s.zone(b.Zone)
	if err != nil {
		return Sun{}, err
	}
	y, m, d := at.In(zone).Date()
	sun := Sun{From: time.Date(y, m, d, 0, 0, 0, 0, zone), Until: time.Date(y, m, d+1, 0, 0, 0, 0, zone)}
	place := daylight.Place{Lat: b.Lat, Lon: b.Lon}
	day := daylight.Of(place, y, m, d, zone)
	sun.Dawn, sun.Sunrise, sun.Sunset, sun.Dusk = day.CivilDawn, day.Sunrise, day.Sunset, day.CivilDusk
	light := daylight.Along([]daylight.Place{place}, sun.From, sun.Until)
	sun.Night, sun.SunDown = stretches(light.Night, zone), stretches(light.SunDown, zone)
	return sun, nil
}

func stretches(spans []daylight.Span, zone *time.Location) []Stretch {
	all := make([]Stretch, len(spans))
	for i, s := range spans {
		all[i] = Stretch{s.From.In(zone), s.To.In(zone)}
	}
	return all
}
