package hangar

import (
	"errors"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// errAircraft asks for the change to be run again with the aircraft locked: what was reported bears on its flights.
var errAircraft = errors.New("the report bears on the aircraft")

// looks are what the results of a report found who looked for papers. That a paper was there, and something is wrong with it,
// is a finding to be filed, and says neither that it is aboard nor that it is not.
func (t *taker) looks() []casefile.Look {
	var all []casefile.Look
	for i := range t.taken {
		r := &t.taken[i]
		check, _ := t.list.Find(r.Check)
		if check.Way != walkaround.Paper || !casefile.LooksFor(check.Paper) || r.Said.Present == nil || r.Outcome == walkaround.Skipped {
			continue
		}
		outOfDate := r.Said.Until != "" && r.Said.Until < t.on
		if *r.Said.Present && r.Outcome == walkaround.Finding && !outOfDate {
			continue
		}
		at := r.MadeAt
		if at.After(t.at) {
			at = t.at // a phone whose clock is ahead
		}
		all = append(all, casefile.Look{Paper: check.Paper, Present: *r.Said.Present, Until: r.Said.Until, On: t.on, At: at})
	}
	return all
}

// seen is the record of papers after what was looked for, and whether that is another.
func seen(facts *casefile.Facts, looks []casefile.Look) (casefile.Papers, bool) {
	papers := casefile.Papers{}
	if facts.Papers != nil {
		papers = *facts.Papers
	}
	changed := false
	for _, l := range looks {
		after, moved := papers.After(l)
		papers, changed = after, changed || moved
	}
	return papers, changed
}

// bears reports whether what was reported may move the aircraft's record, as far as it is known without a lock. Where its plan
// is not known, whatever could move it does.
func (s *Service) bears(t *taker) bool {
	for _, e := range t.entries {
		if e.Meter == walkaround.TimeInService {
			return true
		}
	}
	looks := t.looks()
	if len(looks) == 0 {
		return false
	}
	c, ok := s.plans.Get(t.record.Walkaround.Aircraft)
	if !ok || c.version != t.record.Plan {
		return true
	}
	_, changed := seen(&c.said, looks)
	return changed
}

// bear enters in the record of the locked aircraft what was reported, and judges its future flights anew.
func (s *Service) bear(tx Tx, snap *Snapshot, t *taker) error {
	if _, err := s.compile(snap); err != nil { // fills in the facts
		return err
	}
	a := &snap.Aircraft
	papers, changed := seen(&a.Facts, t.looks())
	if changed {
		a.Facts.Papers = &papers
		a.Version++
		a.PlanVersion++
		snap.uncommitted = true
		tx.UpdateAircraft(*a)
	}
	for _, e := range t.entries {
		changed = snap.goOn(e) || changed
	}
	if !changed {
		return nil
	}
	_, err := s.apply(tx, snap, t.at, techlog.Event{Kind: "aircraft.changed", Aircraft: a.ID, Subject: a.ID})
	return err
}
