package hangar

import (
	"context"
	"strings"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Move is a step of a squawk that nobody signs: it is confirmed, found to be another's duplicate, expected to be worked off
// by a day, or reopened.
type Move struct {
	Squawk  techlog.ID
	Version int // that the caller has seen
	Step    techlog.SquawkStep
	Words   string

	About *Subjected // to confirm: what it is about, where the report was wrong; nil: as reported
	Of    techlog.ID // of a duplicate: the squawk that says the same

	Expected string // to expect: the day, YYYY-MM-DD; empty: it is no longer known
}

// Subjected is what a squawk is about.
type Subjected struct{ Kind, Unit, Item string }

// mayMove says who may take a squawk through such a step.
var mayMove = map[techlog.SquawkStep]techlog.Action{
	techlog.StepConfirm: techlog.ConfirmSquawk, techlog.StepDuplicate: techlog.ConfirmSquawk, techlog.StepReopen: techlog.ReopenSquawk,
	techlog.StepExpect: techlog.ConfirmSquawk,
}

// MoveSquawk takes a squawk through a step without a signature, and re-judges the aircraft's future flights. Kinds
// forbidden, invalid, stale, conflict, not-found.
func (s *Service) MoveSquawk(ctx context.Context, who techlog.Principal, m Move, once *Once, render Render[FiledSquawk]) ([]byte, error) {
	action, known := mayMove[m.Step]
	if !known {
		return nil, casefile.Faults{{Field: "step", Rule: "unsigned-step", Says: "it is no step without a signature", Remedy: "use confirm, duplicate, expect or reopen"}}
	}
	if err := who.Require(action); err != nil {
		return nil, err
	}
	seen, err := s.store.Squawk(ctx, who.Organization, m.Squawk)
	if err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{{Aircraft: seen.Aircraft, FlightsFrom: at}}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		snap := tx.Snapshot(0)
		squawk, err := s.moved(ctx, tx, snap, m)
		if err != nil {
			return nil, err
		}
		tx.UpdateSquawk(squawk)
		tx.AddHistory(techlog.HistoryEntry{
			Squawk: squawk.ID, Number: squawk.Version, At: at, By: who.Name, Step: m.Step, State: squawk.State, Words: strings.TrimSpace(m.Words),
			Expected: m.Expected,
		})
		snap.replace(squawk)
		changes, err := s.apply(tx, snap, at, techlog.Event{Kind: "squawk.moved", Aircraft: squawk.Aircraft, Subject: squawk.ID})
		if err != nil {
			return nil, err
		}
		return render(FiledSquawk{squawk, changes})
	})
}

// moved is the squawk after the step.
func (s *Service) moved(ctx context.Context, tx Tx, snap *Snapshot, m Move) (techlog.Squawk, error) {
	squawk, err := tx.Squawk(ctx, m.Squawk)
	if err != nil {
		return squawk, err
	}
	if squawk.Version != m.Version {
		return squawk, techlog.Errorf(techlog.KindStale, "the squawk was changed meanwhile: it is at version %d", squawk.Version)
	}
	if err := squawk.Take(m.Step); err != nil {
		return squawk, err
	}
	var bad casefile.Faults
	checkWords(m.Words, &bad)
	if m.Step == techlog.StepConfirm {
		err = s.confirm(&squawk, snap, m.About)
	} else if m.About != nil {
		bad.Add("about", "of-this-step", "only a confirmation says what the squawk is about", "leave it out")
	}
	if m.Step == techlog.StepDuplicate {
		err = duplicate(&squawk, snap, m.Of)
	} else if !m.Of.IsZero() {
		bad.Add("of", "of-this-step", "only a duplicate is another squawk's", "leave it out")
	}
	if m.Step == techlog.StepExpect {
		squawk.Expected = nil
		if m.Expected != "" {
			squawk.Expected = &techlog.Expected{On: m.Expected, Words: strings.TrimSpace(m.Words)}
		}
	} else if m.Expected != "" {
		bad.Add("expected", "of-this-step", "only the step expect says when", "leave it out")
	}
	return squawk, casefile.Join(bad.Err(), err)
}

// confirm says what the squawk is about, as maintenance has found it.
func (s *Service) confirm(squawk *techlog.Squawk, snap *Snapshot, about *Subjected) error {
	squawk.Confirmed = true
	if about == nil {
		return nil
	}
	c, err := s.compile(snap)
	if err != nil {
		return err
	}
	squawk.Kind, squawk.Unit, squawk.Item = about.Kind, about.Unit, about.Item
	var bad casefile.Faults
	casefile.CheckSubject(about.Kind, about.Unit, about.Item, c.config, s.book.Rules, "about.", &bad)
	return bad.Err()
}

// duplicate closes a squawk for another that is open and says the same of the same: no flight is judged better for it.
func duplicate(squawk *techlog.Squawk, snap *Snapshot, of techlog.ID) error {
	for i := range snap.Squawks {
		o := &snap.Squawks[i]
		if o.ID != of || o.ID == squawk.ID {
			continue
		}
		if o.Kind != squawk.Kind || o.Unit != squawk.Unit || o.Item != squawk.Item {
			return techlog.Errorf(techlog.KindConflict, "squawk %s is about something else", o.Label())
		}
		squawk.DuplicateOf = of
		return nil
	}
	return casefile.Faults{{
		Field: "of", Rule: "open-squawk", Says: "the aircraft has no such other open squawk", Remedy: "name the open squawk that says the same",
	}}
}
