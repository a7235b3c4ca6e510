package hangar

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// ShownFlight is what somebody was shown of a flight, as it was then.
type ShownFlight struct {
	Version int          `json:"version"` // of the flight
	Verdict string       `json:"verdict"`
	Holds   bool         `json:"holds"`
	Blocks  []techlog.ID `json:"blocks"`
	Legs    []ShownLeg   `json:"legs"`
	Rules   string       `json:"rules"` // digest of the book that was read
}

// ShownLeg is what was shown of one leg.
type ShownLeg struct {
	Departs     time.Time `json:"departs"`
	Arrives     time.Time `json:"arrives"`
	Verdict     string    `json:"verdict"`
	Rows        []string  `json:"rows"`
	Limitations []string  `json:"limitations"`
	Summary     string    `json:"summary"`
}

// ShowTo records that a member, who is to be the pilot in command, was shown what holds a flight or limits it, as of now. It
// lifts nothing. Without a person it is whoever asks. Kinds forbidden, invalid, not-found (the flight), conflict: the flight
// has been cancelled.
func (s *Service) ShowTo(ctx context.Context, who techlog.Principal, flight, person techlog.ID, once *Once, render Render[techlog.Shown]) ([]byte, error) {
	if err := who.Require(techlog.KeepDetermination); err != nil {
		return nil, err
	}
	if person.IsZero() {
		person = who.Person
	}
	if person.IsZero() {
		return nil, fault("person", "required", "a program is shown nothing", "name the member who was shown it")
	}
	f, err := s.store.Flight(ctx, who.Organization, flight)
	if err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(f.Aircraft, time.Time{})}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		f, err := tx.Flight(ctx, flight)
		switch {
		case err != nil:
			return nil, err
		case f.State != techlog.Planned:
			return nil, techlog.Errorf(techlog.KindConflict, "the flight has been cancelled")
		case f.Aircraft != scope.Lock[0].Aircraft:
			return nil, techlog.Errorf(techlog.KindUnavailable, "the flight was moved to another aircraft meanwhile; send the request again")
		}
		name, err := memberNamed(ctx, tx, person)
		if err != nil {
			return nil, err
		}
		snap := tx.Snapshot(0)
		c, err := s.compile(snap)
		if err != nil {
			return nil, err
		}
		answers, err := s.judgeOne(snap, c, &f, at, asWritten)
		if err != nil {
			return nil, err
		}
		kept := techlog.Shown{ID: s.newID(), Flight: flight, Person: person, Name: name, At: at, By: who.Name, Verdict: f.Hold.Verdict}
		written, err := json.Marshal(shownOf(&f, answers))
		if err != nil {
			return nil, fmt.Errorf("what was shown: %w", err)
		}
		kept.Shown = string(written)
		tx.AddShown(kept)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "flight.shown", Aircraft: f.Aircraft, Subject: flight, At: at})
		return render(kept)
	})
}

// memberNamed is the name of somebody who is in the organization now.
func memberNamed(ctx context.Context, tx Tx, person techlog.ID) (string, error) {
	m, err := tx.Member(ctx, person)
	if techlog.KindOf(err) == techlog.KindNotFound || err == nil && !m.Until.IsZero() {
		return "", fault("person", "known-member", "there is no such member", "take the person of a member from GET /v1/members")
	}
	return m.Name, err
}

func shownOf(f *techlog.Flight, answers []casefile.Answer) ShownFlight {
	shown := ShownFlight{Version: f.Version, Verdict: f.Hold.Verdict, Holds: f.Hold.Holds(), Blocks: f.Hold.Blocks, Rules: f.Hold.Rules}
	if shown.Blocks == nil {
		shown.Blocks = []techlog.ID{}
	}
	for i := range f.Legs {
		leg := ShownLeg{
			Departs: f.Legs[i].Departs, Arrives: f.Legs[i].Arrives, Verdict: f.Hold.Legs[i].Verdict, Rows: f.Hold.Legs[i].Rows,
			Limitations: answers[i].Limitations, Summary: answers[i].Summary,
		}
		if leg.Rows == nil {
			leg.Rows = []string{}
		}
		shown.Legs = append(shown.Legs, leg)
	}
	return shown
}

// Shown lists what was shown of a flight, oldest first. Kind not-found (the flight).
func (s *Service) Shown(ctx context.Context, who techlog.Principal, flight techlog.ID, p Page) ([]techlog.Shown, error) {
	if _, err := s.store.Flight(ctx, who.Organization, flight); err != nil {
		return nil, err
	}
	return s.store.Shown(ctx, who.Organization, flight, p)
}
