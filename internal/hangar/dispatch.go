package hangar

import (
	"context"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/dispatch"
	"tiedown/internal/techlog"
)

// FlightOutlook says how much of a flight is permitted, when else it may leave, and what would release it. Kind not-found.
func (s *Service) FlightOutlook(ctx context.Context, who techlog.Principal, id techlog.ID) (dispatch.Outlook, error) {
	flight, err := s.store.Flight(ctx, who.Organization, id)
	if err != nil {
		return dispatch.Outlook{}, err
	}
	read, plans, err := s.survey(ctx, who.Organization, SurveyWant{Aircraft: []techlog.ID{flight.Aircraft}, BlocksFrom: s.now().Add(-casefile.MaxWindow)})
	if err != nil {
		return dispatch.Outlook{}, err
	}
	if len(plans) != 1 || len(read.Bases) != 1 {
		return dispatch.Outlook{}, techlog.Errorf(techlog.KindNotFound, "there is no such aircraft")
	}
	f, err := s.intended(&flight, plans[0], bearingOn(&flight, read.Aircraft[0].Squawks), read.Bases[0].Zone)
	if err != nil {
		return dispatch.Outlook{}, err
	}
	for _, b := range read.Aircraft[0].Blocks {
		f.Blocks = append(f.Blocks, blockOf(b))
	}
	o, err := dispatch.Of(f)
	o.Flight, o.Rules = id.String(), plans[0].book.Digest
	return o, err
}

// intended is a flight as its outlook is found: each leg with its route, so that its light can be worked out at any time.
func (s *Service) intended(flight *techlog.Flight, c compiled, squawks []techlog.Squawk, baseZone string) (*dispatch.Flight, error) {
	defects, err := s.defects(squawks, c)
	if err != nil {
		return nil, err
	}
	zone, err := s.zone(flight.Zone)
	if err != nil {
		return nil, err
	}
	base, err := s.zone(baseZone)
	if err != nil {
		return nil, err
	}
	f := &dispatch.Flight{
		Plan: c.plan, Rules: c.book.Rules, Facts: c.facts, Defects: defects, Now: s.now(), Base: base, Expected: map[string]dispatch.Expectation{},
	}
	for i := range flight.Legs {
		leg, route := flight.Case(i, zone), routeOf(&flight.Legs[i])
		leg.Light = nil
		for _, p := range route {
			leg.Route = append(leg.Route, casefile.Place{Lat: &p.Lat, Lon: &p.Lon})
		}
		f.Legs = append(f.Legs, leg)
	}
	for i := range squawks {
		if e := squawks[i].Expected; e != nil {
			f.Expected[squawks[i].Label()] = dispatch.Expectation(*e)
		}
	}
	return f, nil
}

func blockOf(b techlog.Block) dispatch.Block {
	block := dispatch.Block{ID: b.ID.String(), Kind: string(b.Kind), From: b.From, Words: b.Words}
	if !b.Until.IsZero() {
		block.To = &b.Until
	}
	return block
}

// maxAlternatives bounds the aircraft that are looked at for one flight: where all of them have to be read and compiled it takes about
// two thirds of a second, and a tenth of a second once they are known (measured on a busy machine).
const maxAlternatives = 1000

// Alternatives judges every other aircraft of the organization for a flight's legs and facts. Kind not-found.
func (s *Service) Alternatives(ctx context.Context, who techlog.Principal, id techlog.ID) (dispatch.Alternatives, error) {
	flight, err := s.store.Flight(ctx, who.Organization, id)
	if err != nil {
		return dispatch.Alternatives{}, err
	}
	fleet, err := s.store.FleetIDs(ctx, who.Organization, maxAlternatives+2)
	if err != nil {
		return dispatch.Alternatives{}, err
	}
	others := make([]techlog.ID, 0, len(fleet))
	for _, other := range fleet {
		if other != flight.Aircraft {
			others = append(others, other)
		}
	}
	at := s.now()
	found := dispatch.Alternatives{Flight: id.String(), Aircraft: []dispatch.Alternative{}, More: len(others) > maxAlternatives, AsOf: at, Rules: s.book.Digest, Caution: s.caution()}
	if found.More {
		others = others[:maxAlternatives]
	}
	if len(others) == 0 {
		return found, nil
	}
	read, plans, err := s.survey(ctx, who.Organization, SurveyWant{Aircraft: others, BlocksFrom: flight.Departs, From: flight.Departs, To: flight.Arrives})
	if err != nil {
		return found, err
	}
	for i := range read.Aircraft {
		found.Rules = plans[i].book.Digest
		a, err := s.alternative(&flight, &read.Aircraft[i], plans[i], at)
		if err != nil {
			return found, err
		}
		found.Aircraft = append(found.Aircraft, a)
	}
	found.Rank()
	return found, nil
}

// alternative judges another aircraft for a flight's legs and facts. What the flight says of itself stays; what follows from
// the aircraft is worked out anew.
func (s *Service) alternative(flight *techlog.Flight, snap *Snapshot, c compiled, at time.Time) (dispatch.Alternative, error) {
	a := dispatch.Alternative{
		Aircraft: snap.Aircraft.ID.String(), Registration: snap.Aircraft.Registration, Type: snap.Aircraft.Type, Base: snap.Aircraft.Base.String(),
		SameBase: snap.Aircraft.Base == flight.From, Legs: []string{}, Limitations: []string{}, InTheWay: []dispatch.InTheWay{}, Busy: []dispatch.Busy{}, Faults: []casefile.Fault{},
	}
	for i := range snap.Flights {
		f := &snap.Flights[i]
		a.Busy = append(a.Busy, dispatch.Busy{Kind: "flight", ID: f.ID.String(), From: f.Departs, To: &f.Arrives, Words: f.Purpose})
	}
	for i := range snap.Blocks {
		if b := blockOf(snap.Blocks[i]); snap.Blocks[i].Holds(flight) {
			a.Busy = append(a.Busy, dispatch.Busy{Kind: "block", ID: b.ID, From: b.From, To: b.To, Words: b.Words})
		}
	}
	f := *flight
	f.Aircraft = snap.Aircraft.ID
	answers, err := s.judgeOne(snap, c, &f, at, asWritten)
	if faults, ok := casefile.AsFaults(err); ok {
		a.Verdict, a.Faults = "undetermined", faults
		return a, nil
	}
	if err != nil {
		return a, err
	}
	for leg := range answers {
		a.Answer(leg+1, &answers[leg])
	}
	return a, nil
}
