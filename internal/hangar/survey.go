package hangar

import (
	"context"
	"errors"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// SurveyStore reads many aircraft at once.
type SurveyStore interface {
	// FleetIDs lists the identifiers of an organization's aircraft, in their order: the first ones, where there are more than limit.
	FleetIDs(ctx context.Context, org techlog.ID, limit int) ([]techlog.ID, error)
	// Survey reads aircraft with what bears on their flights, as of one instant, in one round trip, however many there are. What is
	// asked for and is not there is left out.
	Survey(ctx context.Context, org techlog.ID, want SurveyWant) (Survey, error)
}

// SurveyWant says what a survey must hold.
type SurveyWant struct {
	Aircraft   []techlog.ID
	Known      map[techlog.ID]int // plan versions that the caller has compiled already: facts and configuration are then left out
	Bases      []techlog.ID       // bases to read beside those of the aircraft
	Airports   []string           // identifiers of airports to read with them
	BlocksFrom time.Time          // blocks that end after this instant, or have no end
	// Planned flights that overlap this stretch of time; zero: no flights.
	From, To time.Time
}

// Survey is many aircraft, each as a snapshot, in the order of their identifiers, with the organization's rules in any case.
type Survey struct {
	Aircraft []Snapshot
	Bases    []techlog.Base
	Airports []casefile.Airport
}

// knownPlans are the plan versions of aircraft that need not be read again.
func (s *Service) knownPlans(aircraft []techlog.ID) map[techlog.ID]int {
	known := make(map[techlog.ID]int, len(aircraft))
	for _, id := range aircraft {
		if version := s.knownPlan(id); version != 0 {
			known[id] = version
		}
	}
	return known
}

// survey reads many aircraft and compiles them, reading them again if the cache lost one.
func (s *Service) survey(ctx context.Context, org techlog.ID, want SurveyWant) (Survey, []compiled, error) {
	want.Known = s.knownPlans(want.Aircraft)
	read, err := s.store.Survey(ctx, org, want)
	if err != nil {
		return read, nil, err
	}
	plans, err := s.compileAll(&read)
	if errors.Is(err, errPlanLost) {
		want.Known = nil
		if read, err = s.store.Survey(ctx, org, want); err == nil {
			plans, err = s.compileAll(&read)
		}
	}
	return read, plans, err
}

func (s *Service) compileAll(read *Survey) ([]compiled, error) {
	plans := make([]compiled, len(read.Aircraft))
	for i := range read.Aircraft {
		var err error
		if plans[i], err = s.compile(&read.Aircraft[i]); err != nil {
			return nil, err
		}
	}
	return plans, nil
}

// bothWays is an aircraft as it stands for anybody, and for flights with required crew alone: see bearingOn.
type bothWays struct {
	compiled
	anybody, crew *judgement
}

func (s *Service) standBothWays(c compiled, squawks []techlog.Squawk) (*bothWays, error) {
	anybody, err := s.stand(c, squawks)
	if err != nil {
		return nil, err
	}
	b := &bothWays{c, anybody, anybody}
	for i := range squawks {
		if squawks[i].AwaitsCheckFlight() {
			b.crew, err = s.stand(c, withoutCheckFlights(squawks))
			break
		}
	}
	return b, err
}

// bearing is the aircraft as it stands for a flight.
func (b *bothWays) bearing(f *techlog.Flight) *judgement {
	if f.Facts.OnlyRequiredCrew {
		return b.crew
	}
	return b.anybody
}

// atlas is the places that a survey has read.
type atlas struct {
	bases    map[techlog.ID]techlog.Base
	airports map[string]casefile.Airport
}

func atlasOf(read *Survey) atlas {
	a := atlas{make(map[techlog.ID]techlog.Base, len(read.Bases)), make(map[string]casefile.Airport, len(read.Airports))}
	for _, b := range read.Bases {
		a.bases[b.ID] = b
	}
	for _, p := range read.Airports {
		a.airports[p.Ident] = p
	}
	return a
}

// Base implements placeReader.
func (a atlas) Base(_ context.Context, id techlog.ID) (techlog.Base, error) {
	if b, ok := a.bases[id]; ok {
		return b, nil
	}
	return techlog.Base{}, techlog.Errorf(techlog.KindNotFound, "there is no such base")
}

// Airport implements placeReader.
func (a atlas) Airport(_ context.Context, ident string) (casefile.Airport, error) {
	if p, ok := a.airports[ident]; ok {
		return p, nil
	}
	return casefile.Airport{}, techlog.Errorf(techlog.KindNotFound, "there is no such airport")
}
