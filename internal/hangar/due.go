package hangar

import (
	"context"
	"fmt"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/upkeep"
)

// flightPage is how many planned flights are read at a time.
const flightPage = 40

// Due says what comes due on an aircraft, and on which of its planned flights each item runs out: of those that end after
// its meters were read, or after now where nobody has said when. The newest reading of the time in service counts, be it
// that of the facts or of the book. Kind not-found.
func (s *Service) Due(ctx context.Context, who techlog.Principal, aircraft techlog.ID) (casefile.DueList, error) {
	snap, c, err := s.look(ctx, who.Organization, aircraft)
	if err != nil {
		return casefile.DueList{}, err
	}
	zone, err := s.zoneOf(ctx, who.Organization, snap.Aircraft.Base)
	if err != nil {
		return casefile.DueList{}, err
	}
	book, err := s.store.MeterBook(ctx, who.Organization, aircraft)
	if err != nil {
		return casefile.DueList{}, err
	}
	read := c.read
	read.alsoRead(book)
	at := s.now()
	record := read.facts.Upkeep
	if record == nil {
		record = &casefile.Upkeep{}
	}
	flights, err := s.plannedFor(ctx, who.Organization, aircraft, read.from(at), c.facts)
	if err != nil {
		return casefile.DueList{}, err
	}
	read.countOnce(flights)
	subject, err := casefile.CompileUpkeep(casefile.Aircraft{Facts: read.facts, Configuration: c.config}, c.book.Rules, "")
	if err != nil {
		return casefile.DueList{}, fmt.Errorf("aircraft %s on record does not compile: %w", aircraft, err)
	}
	on := airworthiness.DateOf(at.In(zone))
	list := casefile.DueList{
		Aircraft: aircraft.String(), Registration: snap.Aircraft.Registration, AsOf: at, On: on.String(), Zone: zone.String(),
		ReadAt: record.ReadAt, Hours: record.Hours, Cycles: record.Cycles, Reading: read.reading, Flights: flightsIn(flights), Items: []casefile.DueItem{},
		Rules: c.book.Digest, Caution: c.plan.Term(airworthiness.TermCaution),
	}
	items := s.book.Upkeep.Items(&subject, on)
	for i := range items {
		list.Items = append(list.Items, casefile.WriteDueItem(&items[i], items[i].Project(&subject, flights)))
	}
	return list, nil
}

// flightsIn counts flights, however many legs each has.
func flightsIn(legs []upkeep.Flight) int {
	seen := map[string]bool{}
	for i := range legs {
		seen[legs[i].ID] = true
	}
	return len(seen)
}

// plannedFor reads the legs of an aircraft's planned flights that end after an instant, in the engine's words.
func (s *Service) plannedFor(ctx context.Context, org, aircraft techlog.ID, from time.Time, facts casefile.Facts) ([]upkeep.Flight, error) {
	filter := FlightFilter{Aircraft: aircraft, State: techlog.Planned, EndsAfter: from}
	var flights []upkeep.Flight
	for f, err := range WholePlan(flightPage, func(p Page) ([]techlog.Flight, error) { return s.store.Flights(ctx, org, filter, p) }) {
		if err != nil {
			return nil, err
		}
		zone, err := s.zone(f.Zone)
		if err != nil {
			return nil, fmt.Errorf("flight %s: %w", f.ID, err)
		}
		for leg := range f.Legs {
			if !f.Legs[leg].Arrives.After(from) {
				continue
			}
			flight, err := casefile.CompileFlight(f.LegAlone(leg, zone), facts)
			if err != nil {
				return nil, fmt.Errorf("flight %s on record does not compile: %w", f.ID, err)
			}
			flights = append(flights, upkeep.Flight{ID: f.ID.String(), Leg: leg + 1, Legs: len(f.Legs), Flight: flight})
		}
	}
	return flights, nil
}
