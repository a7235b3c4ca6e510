package hangar

import (
	"context"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/inquiry"
	"tiedown/internal/techlog"
)

// Settle looks for the facts that would settle a case which is not on record.
func (s *Service) Settle(c casefile.Case) (inquiry.Settling, error) {
	return inquiry.Settle(c, s.book.Rules)
}

// Envelope says which flights an aircraft may make with everything open on it, on the date of an instant and ending no
// later than it. Zero: now.
func (s *Service) Envelope(ctx context.Context, who techlog.Principal, aircraft techlog.ID, until time.Time) (inquiry.Envelope, error) {
	snap, c, err := s.look(ctx, who.Organization, aircraft)
	if err != nil {
		return inquiry.Envelope{}, err
	}
	defects, err := s.defects(snap.Squawks, c)
	if err != nil {
		return inquiry.Envelope{}, err
	}
	return s.envelope(c.plan, defects, until), nil
}

// FindEnvelope says which flights may be made with an aircraft and squawks that are not on record.
func (s *Service) FindEnvelope(c casefile.EnvelopeCase) (inquiry.Envelope, error) {
	plan, aircraftErr := casefile.CompileAircraft(c.Aircraft, s.book.Rules, "aircraft.")
	defects, defectsErr := casefile.CompileDefects(c.Defects, c.Aircraft.Configuration, s.book.Rules)
	if err := casefile.Join(aircraftErr, defectsErr); err != nil {
		return inquiry.Envelope{}, err
	}
	var until time.Time
	if c.Until != nil {
		until = *c.Until
	}
	return s.envelope(plan, defects, until), nil
}

func (s *Service) envelope(plan *airworthiness.Plan, defects []airworthiness.Defect, until time.Time) inquiry.Envelope {
	if until.IsZero() {
		until = s.now()
	}
	return inquiry.EnvelopeOf(inquiry.Standing{
		Plan: plan, Defects: defects, On: airworthiness.DateOf(until), Until: until, Rules: s.book.Digest,
	})
}
