package hangar

import (
	"cmp"
	"context"
	"slices"
	"time"

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
