package hangar

import (
	"context"
	"errors"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// FlightPlan is what somebody intends to fly: one leg between two bases, or Legs.
type FlightPlan struct {
	Aircraft techlog.ID
	From, To techlog.ID
	Departs  time.Time
	Arrives  time.Time
	Legs     []LegPlan // in place of the four before; nil: one leg between bases
	Rules    string
	Facts    casefile.FlightFacts
	Purpose  string
}

// HeldFlight is a flight with its hold in words: one answer a leg.
type HeldFlight struct {
	Flight   techlog.Flight
	Answers  []casefile.Answer
	Overlaps []techlog.ID // other flights that are planned with the aircraft at the same time, for a flight that is shown
}

// Answer is that of the flight: of its worst leg, the first of them.
func (h *HeldFlight) Answer() *casefile.Answer { return &h.Answers[worstLeg(&h.Flight.Hold)] }

// PlanFlight records an intended flight and judges it. A flight that is held is recorded all the same: the hold says why.
func (s *Service) PlanFlight(ctx context.Context, who techlog.Principal, p FlightPlan, once *Once, render Render[HeldFlight]) ([]byte, error) {
	if err := who.Require(techlog.PlanFlight); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(p.Aircraft, time.Time{})}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		flight := techlog.Flight{ID: s.newID(), State: techlog.Planned, PlannedBy: who.Name, Version: 1}
		return s.settle(ctx, tx, tx.Snapshot(0), flight, p, at, "flight.planned", render)
	})
}

// ChangeFlight replaces what is intended; version is the one that the caller has seen: kind stale if it is older.
func (s *Service) ChangeFlight(ctx context.Context, who techlog.Principal, id techlog.ID, version int, p FlightPlan, once *Once, render Render[HeldFlight]) ([]byte, error) {
	if err := who.Require(techlog.PlanFlight); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(p.Aircraft, time.Time{})}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		flight, err := plannedFlight(ctx, tx, id, version)
		if err != nil {
			return nil, err
		}
		return s.settle(ctx, tx, tx.Snapshot(0), flight, p, at, "flight.changed", render)
	})
}

// CancelFlight takes a flight off the plan. It stays on record.
func (s *Service) CancelFlight(ctx context.Context, who techlog.Principal, id techlog.ID, version int, once *Once, render Render[techlog.Flight]) ([]byte, error) {
	if err := who.Require(techlog.PlanFlight); err != nil {
		return nil, err
	}
	at := s.now()
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}, func(ctx context.Context, tx Tx) ([]byte, error) {
		flight, err := plannedFlight(ctx, tx, id, version)
		if err != nil {
			return nil, err
		}
		flight.State = techlog.Cancelled
		tx.UpdateFlight(flight)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "flight.cancelled", Aircraft: flight.Aircraft, Subject: flight.ID, At: at})
		return render(flight)
	})
}

// plannedFlight reads a flight that is to be changed, with its next version.
func plannedFlight(ctx context.Context, tx Tx, id techlog.ID, version int) (techlog.Flight, error) {
	flight, err := tx.Flight(ctx, id)
	if err != nil {
		return flight, err
	}
	if flight.State != techlog.Planned {
		return flight, techlog.Errorf(techlog.KindConflict, "the flight has been cancelled")
	}
	if flight.Version != version {
		return flight, techlog.Errorf(techlog.KindStale, "the flight was changed meanwhile: it is at version %d", flight.Version)
	}
	flight.Version++
	return flight, nil
}

// settle fills a flight from a plan, judges it and queues it.
func (s *Service) settle(ctx context.Context, tx Tx, snap *Snapshot, flight techlog.Flight, p FlightPlan, at time.Time, kind string, render Render[HeldFlight]) ([]byte, error) {
	c, err := s.compile(snap)
	if err != nil {
		return nil, err
	}
	legs, zone, err := s.legsOf(ctx, tx, &snap.Aircraft, &p)
	if err != nil {
		return nil, err
	}
	was := flight.Hold
	flight.Aircraft, flight.Zone, flight.Rules, flight.Facts, flight.Purpose = p.Aircraft, zone, p.Rules, p.Facts, p.Purpose
	flight.Over(legs)
	answers, err := s.judgeOne(snap, c, &flight, at, p.field)
	if err := casefile.Join(p.overBy(at), err); err != nil {
		return nil, err
	}
	if flight.Version == 1 {
		tx.AddFlight(flight)
	} else {
		tx.UpdateFlight(flight)
	}
	e := techlog.Event{ID: s.newID(), Kind: kind, Aircraft: flight.Aircraft, Subject: flight.ID, At: at}
	if change, told := was.ChangeTo(flight.ID, &flight.Hold); told {
		e.Changes = []techlog.HoldChange{change}
	}
	tx.Emit(e)
	return render(HeldFlight{Flight: flight, Answers: answers})
}

// baseReader reads bases: a transaction, or the store outside of one.
type baseReader interface {
	Base(ctx context.Context, id techlog.ID) (techlog.Base, error)
}

func baseOf(ctx context.Context, bases baseReader, field string, id techlog.ID) (techlog.Base, error) {
	base, err := bases.Base(ctx, id)
	if techlog.KindOf(err) == techlog.KindNotFound {
		return base, casefile.Faults{{
			Field: field, Rule: "known-base", Says: "there is no such base", Remedy: "take an id from GET /v1/bases, or add the base first",
		}}
	}
	return base, err
}

// judgeOne decides one flight, gives it its hold and puts it into words, with what passed as well, one answer a leg. What is
// wrong with the flight as it is written comes back as faults, of fields that field renames for the leg.
func (s *Service) judgeOne(snap *Snapshot, c compiled, f *techlog.Flight, at time.Time, field func(string, int) string) ([]casefile.Answer, error) {
	j, err := s.stand(c, bearingOn(f, snap.Squawks))
	if err != nil {
		return nil, err
	}
	f.Hold = techlog.Hold{}
	answers := make([]casefile.Answer, len(f.Legs))
	for leg := range f.Legs {
		if err := s.judge(j, c, f, leg); err != nil {
			return nil, casefile.Renamed(err, func(name string) string { return field(name, leg) })
		}
		j.holdBy(&f.Hold, at)
		j.plan.Judge(&j.answer, &j.standing, &j.flight)
		answers[leg] = casefile.InWords(j.plan, &j.answer, j.defects, j.book.Digest)
	}
	f.Hold.Blocks = techlog.BlocksOn(f, snap.Blocks)
	return answers, nil
}

// Flights lists flights, each with the verdict and the rows of its hold.
func (s *Service) Flights(ctx context.Context, who techlog.Principal, f FlightFilter, p Page) ([]techlog.Flight, error) {
	return s.store.Flights(ctx, who.Organization, f, p)
}

// Flight shows one flight with its hold in words. The words are worked out anew from the records: the determination is
// a pure function of them, so they say what the hold says.
func (s *Service) Flight(ctx context.Context, who techlog.Principal, id techlog.ID) (HeldFlight, error) {
	flight, err := s.store.Flight(ctx, who.Organization, id)
	if err != nil {
		return HeldFlight{}, err
	}
	snap, c, err := s.look(ctx, who.Organization, flight.Aircraft)
	if err != nil {
		return HeldFlight{}, err
	}
	answers, err := s.judgeOne(&snap, c, &flight, s.now(), asWritten)
	if err != nil {
		return HeldFlight{}, err
	}
	overlaps, err := s.overlaps(ctx, who.Organization, &flight)
	return HeldFlight{flight, answers, overlaps}, err
}

// overlapping is how many flights are looked through for those that overlap one.
const overlapping = 200

// overlaps are the other planned flights of the aircraft in the window of a flight that is planned.
func (s *Service) overlaps(ctx context.Context, org techlog.ID, f *techlog.Flight) ([]techlog.ID, error) {
	ids := []techlog.ID{}
	if f.State != techlog.Planned {
		return ids, nil
	}
	others, err := s.store.FlightsBetween(ctx, org, f.Aircraft, f.Departs, f.Arrives, overlapping)
	for i := range others {
		if others[i].ID != f.ID && others[i].State == techlog.Planned {
			ids = append(ids, others[i].ID)
		}
	}
	return ids, err
}

// look reads a snapshot without flights and compiles it, reading the configuration again if the cache lost it.
func (s *Service) look(ctx context.Context, org, aircraft techlog.ID) (Snapshot, compiled, error) {
	snap, err := s.store.Snapshot(ctx, org, s.want(aircraft, time.Time{}))
	if err != nil {
		return snap, compiled{}, err
	}
	c, err := s.compile(&snap)
	if errors.Is(err, errPlanLost) {
		if snap, err = s.store.Snapshot(ctx, org, Want{Aircraft: aircraft}); err == nil {
			c, err = s.compile(&snap)
		}
	}
	return snap, c, err
}

// theProgram makes the changes that nobody asked for.
const theProgram = "tiedown"

// Rejudge decides every future flight of an aircraft anew: after the book has changed, or a base has moved.
func (s *Service) Rejudge(ctx context.Context, org, aircraft techlog.ID) error {
	at := s.now()
	scope := Scope{Organization: org, By: theProgram, At: at, Lock: []Want{s.want(aircraft, at)}}
	_, err := s.store.Change(ctx, scope, func(_ context.Context, tx Tx) ([]byte, error) {
		_, err := s.apply(tx, tx.Snapshot(0), at, techlog.Event{Kind: "aircraft.rejudged", Aircraft: aircraft, Subject: aircraft})
		return nil, err
	})
	return err
}
