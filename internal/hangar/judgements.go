package hangar

import (
	"context"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// MaxJudgements bounds the flights that are judged at once.
const MaxJudgements = 10_000

// Judgement is how an intended flight comes out that is not kept.
type Judgement struct {
	Hold   techlog.Hold
	Faults casefile.Faults // what is wrong with it: then it has no hold
}

// Judgements are how many intended flights come out.
type Judgements struct {
	Flights []Judgement // in the order in which they were asked about
	At      time.Time
	Rules   string // digest of the book that was read
	Caution string
}

// JudgeFlights judges intended flights without keeping them, each by itself, as PlanFlight would one after the other. What is
// wrong with a flight is told of it, and keeps no other from being judged. Everything is read once, as of one instant.
func (s *Service) JudgeFlights(ctx context.Context, who techlog.Principal, plans []FlightPlan) (Judgements, error) {
	judged := Judgements{Flights: make([]Judgement, len(plans)), At: s.now(), Rules: s.book.Digest, Caution: s.caution()}
	if len(plans) > MaxJudgements {
		return judged, techlog.Errorf(techlog.KindInvalid, "more than %d flights", MaxJudgements)
	}
	panel, err := s.panelOf(ctx, who.Organization, plans, judged.At)
	if err != nil {
		return judged, err
	}
	for i := range plans {
		j := &judged.Flights[i]
		if j.Hold, err = panel.judge(ctx, &plans[i], judged.At); err != nil {
			faults, ok := casefile.AsFaults(err)
			if !ok {
				return judged, err
			}
			*j = Judgement{Faults: faults}
			continue
		}
		judged.Rules = j.Hold.Rules // the organization's own, where it has any
	}
	return judged, nil
}

// panel is what many flights are judged with.
type panel struct {
	service  *Service
	places   atlas
	aircraft map[techlog.ID]*fielded
}

// fielded is an aircraft that flights may be judged with.
type fielded struct {
	snapshot *Snapshot
	*bothWays
}

// panelOf reads what the flights name, once.
func (s *Service) panelOf(ctx context.Context, org techlog.ID, plans []FlightPlan, at time.Time) (*panel, error) {
	named, bases, airports := map[techlog.ID]bool{}, map[techlog.ID]bool{}, map[string]bool{}
	want := SurveyWant{BlocksFrom: at.Add(-casefile.MaxWindow)} // no flight that is to come began earlier
	add := func(seen map[techlog.ID]bool, list *[]techlog.ID, id techlog.ID) {
		if !seen[id] {
			seen[id] = true
			*list = append(*list, id)
		}
	}
	for i := range plans {
		p := &plans[i]
		add(named, &want.Aircraft, p.Aircraft)
		if p.Legs == nil {
			add(bases, &want.Bases, p.From)
			add(bases, &want.Bases, p.To)
			continue
		}
		for j := range p.Legs {
			for _, end := range [...]*PlacePlan{&p.Legs[j].From, &p.Legs[j].To} {
				if end.Base != nil {
					add(bases, &want.Bases, *end.Base)
				}
				if end.Airport != nil && !airports[*end.Airport] {
					airports[*end.Airport] = true
					want.Airports = append(want.Airports, *end.Airport)
				}
			}
		}
	}
	read, compiled, err := s.survey(ctx, org, want)
	if err != nil {
		return nil, err
	}
	p := &panel{service: s, places: atlasOf(&read), aircraft: make(map[techlog.ID]*fielded, len(read.Aircraft))}
	for i := range read.Aircraft {
		a := &read.Aircraft[i]
		stands, err := s.standBothWays(compiled[i], a.Squawks)
		if err != nil {
			return nil, err
		}
		p.aircraft[a.Aircraft.ID] = &fielded{a, stands}
	}
	return p, nil
}

// judge judges one flight.
func (p *panel) judge(ctx context.Context, plan *FlightPlan, at time.Time) (techlog.Hold, error) {
	with, ok := p.aircraft[plan.Aircraft]
	if !ok {
		return techlog.Hold{}, fault("aircraft", "known-aircraft", "there is no such aircraft", "take an id from GET /v1/aircraft")
	}
	f := techlog.Flight{Aircraft: plan.Aircraft, Rules: plan.Rules, Facts: plan.Facts}
	legs, zone, err := p.service.legsOf(ctx, p.places, &with.snapshot.Aircraft, plan)
	if err != nil {
		return techlog.Hold{}, err
	}
	f.Zone = zone
	f.Over(legs)
	hold, err := p.service.holdOf(with.bearing(&f), with.compiled, &f, at, plan.field)
	hold.Blocks = techlog.BlocksOn(&f, with.snapshot.Blocks)
	return hold, casefile.Join(plan.overBy(at), err)
}
