package hangar

import (
	"context"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Render turns the result of a use case into the bytes that are answered, so that they can be kept with the change.
type Render[T any] func(T) ([]byte, error)

// SquawkReport is what somebody reports.
type SquawkReport struct {
	Aircraft techlog.ID
	Kind     string
	Unit     string
	Item     string
	Words    string
}

// FiledSquawk is a squawk with what it did to the flights of its aircraft.
type FiledSquawk struct {
	Squawk  techlog.Squawk
	Changes []techlog.HoldChange
}

// MaxWords bounds what a person may write about one squawk, in bytes.
const MaxWords = 4000

// FileSquawk records a discrepancy and re-judges the aircraft's future flights in the same transaction.
// Kinds: forbidden, invalid, not-found (the aircraft), key-reused.
func (s *Service) FileSquawk(ctx context.Context, who techlog.Principal, r SquawkReport, once *Once, render Render[FiledSquawk]) ([]byte, error) {
	if err := who.Require(techlog.FileSquawk); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(r.Aircraft, at)}}
	return s.store.Change(ctx, scope, func(_ context.Context, tx Tx) ([]byte, error) {
		filed, err := s.file(tx, tx.Snapshot(0), r, who, at)
		if err != nil {
			return nil, err
		}
		return render(filed)
	})
}

// file records a discrepancy on a locked aircraft and re-judges its future flights.
func (s *Service) file(tx Tx, snap *Snapshot, r SquawkReport, who techlog.Principal, at time.Time) (FiledSquawk, error) {
	c, err := s.compile(snap)
	if err != nil {
		return FiledSquawk{}, err
	}
	if err := s.checkReport(r, c); err != nil {
		return FiledSquawk{}, err
	}
	state, err := techlog.SquawkState("").Next(techlog.StepReport)
	if err != nil {
		return FiledSquawk{}, err
	}
	squawk := techlog.Squawk{
		ID: s.newID(), Aircraft: r.Aircraft, Number: snap.Squawked + 1, Kind: r.Kind, Unit: r.Unit, Item: r.Item,
		Words: strings.TrimSpace(r.Words), State: state, ReportedBy: who.Name, ReportedAt: at, Version: 1,
	}
	tx.AddSquawk(squawk)
	tx.AddHistory(techlog.HistoryEntry{
		Squawk: squawk.ID, Number: 1, At: at, By: who.Name, Step: techlog.StepReport, State: squawk.State, Words: squawk.Words,
	})
	snap.Squawks = append(snap.Squawks, squawk)
	changes, err := s.apply(tx, snap, at, techlog.Event{Kind: "squawk.filed", Aircraft: r.Aircraft, Subject: squawk.ID})
	return FiledSquawk{squawk, changes}, err
}

func (s *Service) checkReport(r SquawkReport, c compiled) error {
	var bad casefile.Faults
	casefile.CheckSubject(r.Kind, r.Unit, r.Item, c.config, s.book.Rules, "", &bad)
	if r.Kind == "" {
		bad.Add("kind", "required", "the kind of squawk is missing", "use inoperative or condition")
	}
	checkWords(r.Words, &bad)
	return bad.Err()
}

func checkWords(words string, bad *casefile.Faults) {
	if strings.TrimSpace(words) == "" {
		bad.Add("words", "required", "nothing is written about it", "say in a sentence what was seen")
	}
	if len(words) > MaxWords {
		bad.Add("words", "length", "more than 4,000 bytes", "say it shorter; add further notes to the squawk")
	}
}

// apply re-judges a snapshot's flights and queues what changed, the aircraft's new state version and the event.
func (s *Service) apply(tx Tx, snap *Snapshot, at time.Time, e techlog.Event) ([]techlog.HoldChange, error) {
	changed, changes, err := s.rejudge(snap, at)
	if err != nil {
		return nil, err
	}
	if len(changed) > 0 {
		tx.SetHolds(changed)
	}
	tx.Touch(snap.Aircraft.ID)
	e.ID, e.At, e.Changes = s.newID(), at, changes
	tx.Emit(e)
	return changes, nil
}

// Note is something added to a squawk.
type Note struct {
	Squawk techlog.ID
	Words  string
}

// SquawkStory is a squawk with its history and what was signed about it, oldest first.
type SquawkStory struct {
	Squawk     techlog.Squawk
	History    []techlog.HistoryEntry
	Signatures []techlog.Signature
	Photos     int // how many photos and files it has
}

// AddNote adds to a squawk's history. Nothing that was written before changes.
func (s *Service) AddNote(ctx context.Context, who techlog.Principal, n Note, once *Once, render Render[techlog.HistoryEntry]) ([]byte, error) {
	if err := who.Require(techlog.AddNote); err != nil {
		return nil, err
	}
	var bad casefile.Faults
	checkWords(n.Words, &bad)
	if err := bad.Err(); err != nil {
		return nil, err
	}
	at := s.now()
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}, func(ctx context.Context, tx Tx) ([]byte, error) {
		squawk, err := tx.Squawk(ctx, n.Squawk)
		if err != nil {
			return nil, err
		}
		if squawk.State, err = squawk.State.Next(techlog.StepNote); err != nil {
			return nil, err
		}
		squawk.Version++
		entry := techlog.HistoryEntry{
			Squawk: squawk.ID, Number: squawk.Version, At: at, By: who.Name, Step: techlog.StepNote, State: squawk.State,
			Words: strings.TrimSpace(n.Words),
		}
		tx.UpdateSquawk(squawk)
		tx.AddHistory(entry)
		return render(entry)
	})
}

// CarriedOver is a deferral or a closure that was signed on paper before the fleet was entered here.
type CarriedOver struct {
	Squawk   techlog.ID
	Step     techlog.SquawkStep // defer, close or reopen
	Deferral *techlog.Deferral  // for the step defer
	Words    string             // what the paper says
}

// CarryOver enters what was signed on paper. It signs nothing: it copies a record, and says so in the history.
func (s *Service) CarryOver(ctx context.Context, who techlog.Principal, c CarriedOver) error {
	if err := who.Require(techlog.CarryOverRecord); err != nil {
		return err
	}
	if c.Step != techlog.StepDefer && c.Step != techlog.StepClose && c.Step != techlog.StepReopen {
		return techlog.Errorf(techlog.KindInvalid, "the step %s is not carried over from paper: it is signed here", c.Step)
	}
	squawk, err := s.store.Squawk(ctx, who.Organization, c.Squawk)
	if err != nil {
		return err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Lock: []Want{s.want(squawk.Aircraft, at)}}
	_, err = s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		squawk, err := tx.Squawk(ctx, c.Squawk)
		if err != nil {
			return nil, err
		}
		if err := squawk.Take(c.Step); err != nil {
			return nil, err
		}
		if c.Step == techlog.StepDefer {
			if c.Deferral == nil {
				return nil, techlog.Errorf(techlog.KindInvalid, "a deferral without its record")
			}
			d := *c.Deferral
			d.ID, d.Signature = s.newID(), techlog.ID{} // nobody signs here: it is a copy
			squawk.Deferral = &d
		}
		tx.UpdateSquawk(squawk)
		tx.AddHistory(techlog.HistoryEntry{
			Squawk: squawk.ID, Number: squawk.Version, At: at, By: who.Name, Step: c.Step, State: squawk.State, Words: c.Words,
		})
		snap := tx.Snapshot(0)
		snap.replace(squawk)
		_, err = s.apply(tx, snap, at, techlog.Event{Kind: "squawk.carried-over", Aircraft: squawk.Aircraft, Subject: squawk.ID})
		return nil, err
	})
	return err
}

// Squawks lists squawks.
func (s *Service) Squawks(ctx context.Context, who techlog.Principal, f SquawkFilter, p Page) ([]techlog.Squawk, error) {
	return s.store.Squawks(ctx, who.Organization, f, p)
}

// Squawk shows one squawk with its history.
func (s *Service) Squawk(ctx context.Context, who techlog.Principal, id techlog.ID) (SquawkStory, error) {
	squawk, err := s.store.Squawk(ctx, who.Organization, id)
	if err != nil {
		return SquawkStory{}, err
	}
	history, err := s.store.History(ctx, who.Organization, id)
	if err != nil {
		return SquawkStory{}, err
	}
	signatures, err := s.store.Signatures(ctx, who.Organization, squawk.Aircraft, id)
	if err != nil {
		return SquawkStory{}, err
	}
	photos, err := s.store.CountPhotos(ctx, who.Organization, PhotoFilter{Squawk: id})
	return SquawkStory{squawk, history, signatures, photos}, err
}

// Signatures lists what was signed about an aircraft itself: inspections and tests, oldest first. Kind not-found.
func (s *Service) Signatures(ctx context.Context, who techlog.Principal, aircraft techlog.ID) ([]techlog.Signature, error) {
	if _, err := s.store.StateVersion(ctx, who.Organization, aircraft); err != nil {
		return nil, err
	}
	return s.store.Signatures(ctx, who.Organization, aircraft, techlog.ID{})
}
