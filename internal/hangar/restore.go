package hangar

import (
	"context"
	"slices"
	"time"

	"tiedown/internal/techlog"
)

// PlanOf is what was intended with a flight, so that it can be planned anew: each place as the record names it, by base,
// airport or coordinates.
func PlanOf(f *techlog.Flight) FlightPlan {
	p := FlightPlan{Aircraft: f.Aircraft, Legs: make([]LegPlan, len(f.Legs)), Rules: f.Rules, Facts: f.Facts, Purpose: f.Purpose}
	for i := range f.Legs {
		l := &f.Legs[i]
		p.Legs[i] = LegPlan{From: placeAt(l.From), To: placeAt(l.To), Departs: l.Departs, Arrives: l.Arrives}
	}
	return p
}

func placeAt(s techlog.Spot) PlacePlan {
	switch {
	case !s.Base.IsZero():
		return PlacePlan{Base: &s.Base}
	case s.Ident != "":
		return PlacePlan{Airport: &s.Ident}
	default:
		return PlacePlan{Lat: &s.Lat, Lon: &s.Lon, Name: s.Name}
	}
}

// RestoreFlight puts a flight that was called off back on the plan, as it was intended, and judges it as of now. Version is
// the one that the caller has seen. Kinds forbidden, invalid (it has ended meanwhile), not-found, stale; conflict: it is on
// the plan.
func (s *Service) RestoreFlight(ctx context.Context, who techlog.Principal, id techlog.ID, version int, once *Once, render Render[HeldFlight]) ([]byte, error) {
	if err := who.Require(techlog.PlanFlight); err != nil {
		return nil, err
	}
	seen, err := s.store.Flight(ctx, who.Organization, id)
	if err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(seen.Aircraft, time.Time{})}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		flight, err := tx.Flight(ctx, id)
		switch {
		case err != nil:
			return nil, err
		case flight.State != techlog.Cancelled:
			return nil, techlog.Errorf(techlog.KindConflict, "the flight is on the plan")
		case flight.Version != version || flight.Aircraft != seen.Aircraft:
			return nil, techlog.Errorf(techlog.KindStale, "the flight was changed meanwhile: it is at version %d", flight.Version)
		}
		return s.settle(ctx, tx, tx.Snapshot(0), restored(flight), PlanOf(&flight), at, "flight.planned", render)
	})
}

// restored is a flight that was called off, on the plan again. What held it before is nobody's news.
func restored(f techlog.Flight) techlog.Flight {
	f.State, f.Hold = techlog.Planned, techlog.Hold{}
	f.Version++
	return f
}

// RestoreSeries puts those flights of a series back on the plan that were called off together at an instant and are still to
// come, and judges each as of now. It gives them in the order of their departure. Kinds forbidden, invalid, not-found;
// conflict: there is none.
func (s *Service) RestoreSeries(ctx context.Context, who techlog.Principal, series techlog.ID, calledOff time.Time, once *Once, render Render[[]techlog.Flight]) ([]byte, error) {
	if err := who.Require(techlog.PlanFlight); err != nil {
		return nil, err
	}
	at := s.now()
	seen, err := s.store.Flights(ctx, who.Organization, FlightFilter{Series: series}, Page{Limit: MaxSeries})
	if err != nil {
		return nil, err
	}
	if len(seen) == 0 {
		return nil, techlog.Errorf(techlog.KindNotFound, "there is no such series")
	}
	back := func(f *techlog.Flight) bool {
		return f.State == techlog.Cancelled && f.ChangedAt.Equal(calledOff) && f.Departs.After(at)
	}
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}
	for i := range seen {
		if back(&seen[i]) && !slices.ContainsFunc(scope.Lock, func(w Want) bool { return w.Aircraft == seen[i].Aircraft }) {
			scope.Lock = append(scope.Lock, s.want(seen[i].Aircraft, time.Time{}))
		}
	}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		all, err := tx.SeriesFlights(ctx, series)
		if err != nil {
			return nil, err
		}
		on := []techlog.Flight{}
		for i := range all {
			if !back(&all[i]) {
				continue
			}
			f, err := s.putBack(ctx, tx, scope.Lock, restored(all[i]), at)
			if err != nil {
				return nil, err
			}
			on = append(on, f)
		}
		if len(on) == 0 {
			return nil, techlog.Errorf(techlog.KindConflict, "no flight of the series that is still to come was called off then, or they are on the plan again")
		}
		return render(on)
	})
}

// putBack judges a flight with its aircraft, which is locked, and queues it.
func (s *Service) putBack(ctx context.Context, tx Tx, locked []Want, f techlog.Flight, at time.Time) (techlog.Flight, error) {
	n := slices.IndexFunc(locked, func(w Want) bool { return w.Aircraft == f.Aircraft })
	if n < 0 {
		return f, techlog.Errorf(techlog.KindUnavailable, "the flights were changed meanwhile; send the request again")
	}
	p := PlanOf(&f)
	_, err := s.settle(ctx, tx, tx.Snapshot(n), f, p, at, "flight.planned", func(h HeldFlight) ([]byte, error) {
		f = h.Flight
		return nil, nil
	})
	return f, err
}
