package hangar

import (
	"context"
	"encoding/json"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// rendered is an aircraft's status as it was answered, with what it depends on.
type rendered struct {
	organization techlog.ID
	stamp        Stamp
	at           time.Time // when it was worked out
	until        time.Time // from this instant on it must be worked out anew
	body         []byte
}

// StatusBody is an aircraft's status as JSON, with what it was worked out from: the version of the records and the
// instant. The same records may give another answer at another instant.
type StatusBody struct {
	Body    []byte
	Version int
	AsOf    time.Time
}

// Status says what an aircraft may do as it stands, by kind of operation. The database is asked each time whether
// anything has changed, so an answer is never older than the last acknowledged change.
func (s *Service) Status(ctx context.Context, who techlog.Principal, aircraft techlog.ID) (StatusBody, error) {
	stamp, err := s.store.Stamp(ctx, who.Organization, aircraft)
	if err != nil {
		return StatusBody{}, err
	}
	at := s.now()
	if r, ok := s.statuses.Get(aircraft); ok && r.organization == who.Organization && r.stamp == stamp && at.Before(r.until) {
		return StatusBody{r.body, stamp.Version, r.at}, nil
	}
	snap, c, err := s.look(ctx, who.Organization, aircraft)
	if err != nil {
		return StatusBody{}, err
	}
	status, err := s.matrix(&snap, c, at)
	if err != nil {
		return StatusBody{}, err
	}
	if status.Notes, err = s.notes(ctx, who.Organization, aircraft, at); err != nil {
		return StatusBody{}, err
	}
	body, err := json.Marshal(status)
	if err != nil {
		return StatusBody{}, err
	}
	stamp.Version = snap.Aircraft.StateVersion
	s.statuses.Add(aircraft, rendered{who.Organization, stamp, at, until(&snap, at), body})
	return StatusBody{body, stamp.Version, at}, nil
}

// matrix judges every kind of operation.
func (s *Service) matrix(snap *Snapshot, c compiled, at time.Time) (casefile.Status, error) {
	j, err := s.stand(c, snap.Squawks)
	if err != nil {
		return casefile.Status{}, err
	}
	status := casefile.Status{
		Aircraft: snap.Aircraft.ID.String(), Registration: snap.Aircraft.Registration, AsOf: at, OpenSquawks: len(snap.Squawks),
		Rules: j.book.Digest, Caution: j.plan.Term(airworthiness.TermCaution),
	}
	flights := j.book.Rules.KindsOfOperation(airworthiness.Flight{On: airworthiness.DateOf(at), Ends: at})
	for i, kind := range airworthiness.KindNames() {
		j.plan.Judge(&j.answer, &j.standing, &flights[i])
		a := casefile.InWords(j.plan, &j.answer, j.defects, j.book.Digest).WithoutPasses()
		status.Kinds = append(status.Kinds, casefile.KindStatus{
			Kind: kind, Verdict: a.Verdict, Permits: a.Permits, Limitations: a.Limitations,
			LimitationsData: a.LimitationsData, Missing: a.Missing, Findings: a.Findings,
		})
	}
	return status, nil
}

// until is the first instant at which the same records may give another answer: the next date, on which rows and day
// counts may change, or the end of a deferral.
func until(snap *Snapshot, at time.Time) time.Time {
	end := at.UTC().Truncate(24 * time.Hour).Add(24 * time.Hour)
	for i := range snap.Squawks {
		if d := snap.Squawks[i].Deferral; d != nil && d.Until.After(at) && d.Until.Before(end) {
			end = d.Until
		}
	}
	return end
}

// Evaluate judges a case that is not on record.
func (s *Service) Evaluate(c casefile.Case) (casefile.Answer, error) {
	q, err := casefile.Compile(c, s.book.Rules)
	if err != nil {
		return casefile.Answer{}, err
	}
	return casefile.Judge(q, s.book.Rules, s.book.Digest), nil
}
