package hangar

import (
	"cmp"
	"context"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Ask judges a flight that nobody has planned, with everything open on its aircraft, and keeps nothing. Kinds invalid,
// not-found (the aircraft).
func (s *Service) Ask(ctx context.Context, who techlog.Principal, p FlightPlan) (HeldFlight, error) {
	snap, c, err := s.look(ctx, who.Organization, p.Aircraft)
	if err != nil {
		return HeldFlight{}, err
	}
	legs, zone, err := s.legsOf(ctx, storedPlaces{s.store, who.Organization}, &snap.Aircraft, &p)
	if err != nil {
		return HeldFlight{}, err
	}
	flight := techlog.Flight{
		Aircraft: p.Aircraft, Zone: zone, Rules: p.Rules, Facts: p.Facts, Purpose: p.Purpose, State: techlog.Planned, PlannedBy: who.Name,
	}
	flight.Over(legs)
	answers, err := s.judgeOne(&snap, c, &flight, s.now(), p.field)
	if err != nil {
		return HeldFlight{}, err
	}
	overlaps, err := s.overlaps(ctx, who.Organization, &flight)
	return HeldFlight{flight, answers, overlaps}, err
}

// storedPlaces reads the bases and airports of an organization outside of a transaction.
type storedPlaces struct {
	store Store
	org   techlog.ID
}

// Base implements baseReader.
func (b storedPlaces) Base(ctx context.Context, id techlog.ID) (techlog.Base, error) {
	return b.store.Base(ctx, b.org, id)
}

// Airport implements placeReader.
func (b storedPlaces) Airport(ctx context.Context, ident string) (casefile.Airport, error) {
	return b.store.Airport(ctx, b.org, ident)
}

// Work is one open squawk with the flights that it bears on.
type Work struct {
	Squawk   techlog.Squawk
	Subject  Subject
	Aircraft techlog.Aircraft // without facts and configuration
	// Holds are the planned flights that it keeps from going, alone or with others; Frees are those of them that would go
	// if it alone were repaired.
	Holds, Frees []techlog.Flight
	HoldHours    float64 // of the windows of Holds
	FreeHours    float64 // of the windows of Frees
	Combined     bool    // it holds flights that another squawk or finding holds as well
}

// WorkList lists the open squawks of the fleet, or of one aircraft (zero: all), those first whose repair frees most:
// flights, then hours, then the flights that it holds at all.
func (s *Service) WorkList(ctx context.Context, who techlog.Principal, aircraft techlog.ID) ([]Work, error) {
	ids := []techlog.ID{aircraft}
	if aircraft.IsZero() {
		var err error
		if ids, err = s.openOnes(ctx, who.Organization); err != nil {
			return nil, err
		}
	}
	at := s.now()
	var list []Work
	for _, id := range ids {
		works, err := s.workOn(ctx, who.Organization, id, at)
		if err != nil {
			return nil, err
		}
		list = append(list, works...)
	}
	slices.SortStableFunc(list, func(a, b Work) int {
		return cmp.Or(
			len(b.Frees)-len(a.Frees), cmp.Compare(b.FreeHours, a.FreeHours), len(b.Holds)-len(a.Holds), cmp.Compare(b.HoldHours, a.HoldHours),
			a.Squawk.ReportedAt.Compare(b.Squawk.ReportedAt),
		)
	})
	return list, nil
}

// openOnes are the aircraft that have open squawks.
func (s *Service) openOnes(ctx context.Context, org techlog.ID) ([]techlog.ID, error) {
	var ids []techlog.ID
	for _, state := range []techlog.SquawkState{techlog.Reported, techlog.Deferred} {
		read := func(p Page) ([]techlog.Squawk, error) {
			return s.store.Squawks(ctx, org, SquawkFilter{State: state}, p)
		}
		for q, err := range Whole(listed, func(q *techlog.Squawk) techlog.ID { return q.ID }, read) {
			if err != nil {
				return nil, err
			}
			if !slices.Contains(ids, q.Aircraft) {
				ids = append(ids, q.Aircraft)
			}
		}
	}
	return ids, nil
}

// listed is how many records are read at once by whoever needs all of them.
const listed = 200

// workOn works out for each open squawk of an aircraft what its repair alone would free, by judging without it.
func (s *Service) workOn(ctx context.Context, org, aircraft techlog.ID, at time.Time) ([]Work, error) {
	snap, err := s.store.Snapshot(ctx, org, Want{Aircraft: aircraft, FlightsFrom: at})
	if err != nil {
		return nil, err
	}
	c, err := s.compile(&snap)
	if err != nil {
		return nil, err
	}
	whole, err := s.judgeAll(&snap, c, snap.Squawks)
	if err != nil {
		return nil, err
	}
	bare := snap.Aircraft
	bare.Facts, bare.Configuration = casefile.Facts{}, casefile.Configuration{}
	works := make([]Work, 0, len(snap.Squawks))
	for i := range snap.Squawks {
		q := snap.Squawks[i]
		without, err := s.judgeAll(&snap, c, slices.Concat(snap.Squawks[:i], snap.Squawks[i+1:]))
		if err != nil {
			return nil, err
		}
		w := Work{Squawk: q, Subject: s.subject(&q, c.config), Aircraft: bare}
		for n := range snap.Flights {
			f := &snap.Flights[n]
			hours := f.Arrives.Sub(f.Departs).Hours()
			freed := whole[n].held && !without[n].held
			if freed || whole[n].by[q.Label()] {
				w.Holds, w.HoldHours = append(w.Holds, *f), w.HoldHours+hours
				w.Combined = w.Combined || !freed
			}
			if freed {
				w.Frees, w.FreeHours = append(w.Frees, *f), w.FreeHours+hours
			}
		}
		works = append(works, w)
	}
	return works, nil
}

// heldBy is whether a flight is held, and by which squawks.
type heldBy struct {
	held bool
	by   map[string]bool
}

// add adds the leg that was judged last.
func (h *heldBy) add(j *judgement) {
	h.held = h.held || !j.answer.Verdict.Permits()
	for n := range j.answer.Findings {
		finding := &j.answer.Findings[n]
		if finding.Defect >= 0 && !finding.Verdict.Permits() {
			h.by[j.defects[j.answer.Order[finding.Defect]].ID] = true
		}
	}
}

// judgeAll judges every flight of a snapshot with some squawks open.
func (s *Service) judgeAll(snap *Snapshot, c compiled, squawks []techlog.Squawk) ([]heldBy, error) {
	all, err := s.stand(c, squawks)
	if err != nil {
		return nil, err
	}
	crew, err := s.stand(c, withoutCheckFlights(squawks))
	if err != nil {
		return nil, err
	}
	judged := make([]heldBy, len(snap.Flights))
	for i := range snap.Flights {
		f := snap.Flights[i]
		j := all
		if f.Facts.OnlyRequiredCrew {
			j = crew
		}
		judged[i] = heldBy{held: techlog.BlocksOn(&f, snap.Blocks) != nil, by: map[string]bool{}}
		for leg := range f.Legs {
			if err := s.judge(j, c, &f, leg); err != nil {
				return nil, err
			}
			judged[i].add(j)
		}
	}
	return judged, nil
}

// SubjectOf says in words what a squawk of an aircraft is about.
func (s *Service) SubjectOf(q *techlog.Squawk, a *techlog.Aircraft) Subject {
	return s.subject(q, a.Configuration)
}
