package hangar

import (
	"fmt"
	"slices"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// compiled is an aircraft's plan, kept for as long as its facts and configuration stay what they are.
type compiled struct {
	version int
	book    Book // with the organization's own rules
	policy  casefile.Policy
	plan    *airworthiness.Plan
	facts   casefile.Facts // as of the newest reading of its time in service: what is judged
	read    metered        // how that came about
	said    casefile.Facts // as they are on record
	from    Snapshot       // what it was compiled from: the book and the rules
	config  casefile.Configuration
}

// knownPlan is the plan version that need not be read again.
func (s *Service) knownPlan(aircraft techlog.ID) int {
	c, _ := s.plans.Get(aircraft)
	return c.version
}

// want asks for a snapshot, without what is known already.
func (s *Service) want(aircraft techlog.ID, flightsFrom time.Time) Want {
	return Want{Aircraft: aircraft, KnownPlan: s.knownPlan(aircraft), FlightsFrom: flightsFrom}
}

// compile gives the plan for a snapshot, as of the newest reading of its time in service, and fills in whatever was left
// out of it.
func (s *Service) compile(snap *Snapshot) (compiled, error) {
	a := &snap.Aircraft
	if c, ok := s.plans.Get(a.ID); ok && !snap.uncommitted && c.version == a.PlanVersion {
		a.Facts, a.Configuration = c.said, c.config
		if snap.PlanKnown {
			snap.Company, snap.InService, snap.PlanKnown = c.from.Company, c.from.InService, false
		}
		return c, nil
	}
	if snap.PlanKnown {
		// The cache lost it between asking and answering; the caller reads again.
		return compiled{}, errPlanLost
	}
	book, err := s.bookOf(snap.Company)
	if err != nil {
		return compiled{}, fmt.Errorf("the organization's rules on record do not compile: %w", err)
	}
	read := snap.read()
	plan, err := casefile.CompileAircraft(casefile.Aircraft{Facts: read.facts, Configuration: a.Configuration}, book.Rules, "")
	if err != nil {
		return compiled{}, fmt.Errorf("aircraft %s on record does not compile: %w", a.ID, err)
	}
	c := compiled{a.PlanVersion, book, snap.Company.Policy, plan, read.facts, read, a.Facts, Snapshot{Company: snap.Company, InService: snap.InService}, a.Configuration}
	if !snap.uncommitted {
		s.plans.Add(a.ID, c)
	}
	return c, nil
}

var errPlanLost = techlog.Errorf(techlog.KindUnavailable, "the server was busy; nothing was written; send the request again")

// defects turns the open squawks into the engine's words.
func (s *Service) defects(squawks []techlog.Squawk, c compiled) ([]airworthiness.Defect, error) {
	defects, err := casefile.CompileDefects(writtenDefects(squawks, c.config), c.config, c.book.Rules)
	if err := casefile.Join(err, c.policy.Apply(defects)); err != nil {
		return nil, fmt.Errorf("squawks on record do not compile: %w", err)
	}
	return defects, nil
}

// judgement is an aircraft with its open defects, and the last leg of its flights that was judged.
type judgement struct {
	book     Book
	plan     *airworthiness.Plan
	defects  []airworthiness.Defect
	standing airworthiness.Standing
	flight   airworthiness.PreparedFlight
	answer   airworthiness.Determination
}

// stand works out how an aircraft stands, whatever the flight.
func (s *Service) stand(c compiled, squawks []techlog.Squawk) (*judgement, error) {
	defects, err := s.defects(squawks, c)
	if err != nil {
		return nil, err
	}
	j := &judgement{book: c.book, plan: c.plan, defects: defects}
	c.plan.Stand(&j.standing, j.defects)
	return j, nil
}

// bearingOn are the open squawks that bear on a flight. What has been approved and awaits its check flight keeps everybody
// but required crew from flying; for these it is what they fly to find out.
func bearingOn(f *techlog.Flight, squawks []techlog.Squawk) []techlog.Squawk {
	if f.Facts.OnlyRequiredCrew {
		return withoutCheckFlights(squawks)
	}
	return squawks
}

func withoutCheckFlights(squawks []techlog.Squawk) []techlog.Squawk {
	return slices.DeleteFunc(slices.Clone(squawks), func(q techlog.Squawk) bool { return q.AwaitsCheckFlight() })
}

// judge decides one leg of a flight with everything open on its aircraft.
func (s *Service) judge(j *judgement, c compiled, f *techlog.Flight, leg int) error {
	zone, err := s.zone(f.Zone)
	if err != nil {
		return fmt.Errorf("flight %s: %w", f.ID, err)
	}
	flight, err := casefile.CompileFlight(f.Case(leg, zone), c.facts)
	if err != nil {
		return err
	}
	j.flight = c.book.Rules.Prepare(flight)
	c.plan.Decide(&j.answer, &j.standing, &j.flight)
	return nil
}

// zone reads a time zone once: the library reads its file anew each time.
func (s *Service) zone(name string) (*time.Location, error) {
	if known, ok := s.zones.Load(name); ok {
		return known.(*time.Location), nil //nolint:forcetypeassert // nothing else is put in
	}
	zone, err := time.LoadLocation(name)
	if err != nil {
		return nil, err
	}
	s.zones.Store(name, zone)
	return zone, nil
}

// holdBy adds the determination of the leg that was judged last to what is kept with its flight: the flight is held as its
// worst leg is.
func (j *judgement) holdBy(h *techlog.Hold, at time.Time) {
	leg := techlog.LegHold{Verdict: j.answer.Verdict.String()}
	for i := range j.answer.Findings {
		leg.Rows = append(leg.Rows, j.plan.RowID(&j.answer.Findings[i]))
	}
	if len(h.Legs) == 0 {
		h.Verdict, h.Rows, h.Rules, h.At = leg.Verdict, leg.Rows, j.book.Digest, at
	} else {
		if worst, known := airworthiness.ParseVerdict(h.Verdict); known {
			h.Verdict = airworthiness.Worst(worst, j.answer.Verdict).String()
		}
		h.Rows = slices.Clip(h.Rows) // the first leg has its own
		for _, row := range leg.Rows {
			if !slices.Contains(h.Rows, row) {
				h.Rows = append(h.Rows, row)
			}
		}
	}
	h.Legs = append(h.Legs, leg)
}

// holdOf decides a flight leg by leg. What is wrong with it comes back as faults, of fields that field renames for the leg.
func (s *Service) holdOf(j *judgement, c compiled, f *techlog.Flight, at time.Time, field func(string, int) string) (techlog.Hold, error) {
	hold := techlog.Hold{Legs: make([]techlog.LegHold, 0, len(f.Legs))}
	for leg := range f.Legs {
		if err := s.judge(j, c, f, leg); err != nil {
			return hold, casefile.Renamed(err, func(name string) string { return field(name, leg) })
		}
		j.holdBy(&hold, at)
	}
	return hold, nil
}

// worstLeg is the first of the worst legs of a hold.
func worstLeg(h *techlog.Hold) int {
	return max(0, slices.IndexFunc(h.Legs, func(l techlog.LegHold) bool { return l.Verdict == h.Verdict }))
}

// rejudge decides every flight of a snapshot anew. It returns the flights whose hold is no longer what it was, and the
// verdicts that changed.
func (s *Service) rejudge(snap *Snapshot, at time.Time) ([]techlog.Flight, []techlog.HoldChange, error) {
	c, err := s.compile(snap)
	if err != nil {
		return nil, nil, err
	}
	j, err := s.stand(c, snap.Squawks)
	if err != nil {
		return nil, nil, err
	}
	crew := j // how it stands for flights with required crew alone
	if slices.ContainsFunc(snap.Squawks, func(q techlog.Squawk) bool { return q.AwaitsCheckFlight() }) {
		if crew, err = s.stand(c, withoutCheckFlights(snap.Squawks)); err != nil {
			return nil, nil, err
		}
	}
	var changed []techlog.Flight
	var changes []techlog.HoldChange
	for i := range snap.Flights {
		f := snap.Flights[i]
		j := j
		if f.Facts.OnlyRequiredCrew {
			j = crew
		}
		hold, err := s.holdOf(j, c, &f, at, asWritten)
		if err != nil {
			return nil, nil, err
		}
		hold.Blocks = techlog.BlocksOn(&f, snap.Blocks)
		if hold.Same(f.Hold) {
			continue
		}
		if change, told := f.Hold.ChangeTo(f.ID, &hold); told {
			changes = append(changes, change)
		}
		f.Hold = hold
		changed = append(changed, f)
	}
	return changed, changes, nil
}
