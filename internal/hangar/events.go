package hangar

import (
	"context"
	"fmt"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// EventFilter picks events. Zero fields pick all.
type EventFilter struct {
	Kinds    []string // such as squawk.filed, or squawk for whatever happens to one
	Aircraft techlog.ID
}

func (f EventFilter) picks(e *techlog.Event) bool {
	return e.IsOf(f.Kinds) && (f.Aircraft.IsZero() || e.Aircraft == f.Aircraft)
}

// EventPage is what happened after a place, as far as was looked.
type EventPage struct {
	Events []techlog.Event // in the order of their places
	Next   int64           // the place up to which was looked: from it on there is nothing that was left out
	More   bool            // there are more events after it
}

const (
	eventsAtOnce = 500 // are read at once
	eventReads   = 10  // are made for one page at most, however few events are picked
)

// Events lists what happened after a place. Events come in the order of their commits, each at the next place: who goes on
// from Next misses nothing and has nothing twice. A page may be empty and have more after it, where a filter picks few.
// Kind invalid if the filter names what is no kind, or nothing has happened at the place yet.
func (s *Service) Events(ctx context.Context, who techlog.Principal, since int64, f EventFilter, limit int) (EventPage, error) {
	page := EventPage{Next: since}
	if err := checkKinds(f.Kinds); err != nil {
		return page, err
	}
	for range eventReads {
		some, err := s.store.Events(ctx, who.Organization, page.Next, eventsAtOnce)
		if err != nil {
			return page, err
		}
		for i := range some {
			if f.picks(&some[i]) {
				if len(page.Events) == limit {
					page.More = true
					return page, nil
				}
				page.Events = append(page.Events, some[i])
			}
			page.Next = some[i].Place
		}
		if page.More = len(some) == eventsAtOnce; !page.More {
			break
		}
	}
	if page.Next == since && since > 0 {
		return page, s.reached(ctx, who, since)
	}
	return page, nil
}

// LastEvent is the place of the newest event: 0 if there is none.
func (s *Service) LastEvent(ctx context.Context, who techlog.Principal) (int64, error) {
	return s.store.LastEvent(ctx, who.Organization)
}

// reached refuses a place that nothing has happened at yet: it is of other records, and would hide what happens up to it.
func (s *Service) reached(ctx context.Context, who techlog.Principal, since int64) error {
	last, err := s.store.LastEvent(ctx, who.Organization)
	if err != nil || since <= last {
		return err
	}
	return casefile.Faults{{
		Field: "since", Rule: "known-place", Says: fmt.Sprintf("nothing has happened at this place: the last is %d", last),
		Remedy: "read everything anew, and begin from 0",
	}}
}

func checkKinds(kinds []string) error {
	var bad casefile.Faults
	for _, kind := range kinds {
		if !techlog.KnownKind(kind) {
			bad.Add("kinds", "known-kind", fmt.Sprintf("no event is of the kind %q", kind), "name kinds such as squawk.filed, or families such as squawk, with commas between them")
		}
	}
	return bad.Err()
}

// Changed is what was touched after a place, as it is now.
type Changed[T any] struct {
	Records []T
	Next    int64
	More    bool
}

// FlightsSince lists the flights that the events after a place touched, planned anew, edited, called off or held otherwise, as
// they are now. From 0 it lists every flight. limit bounds the events: what one change touched is not torn apart.
func (s *Service) FlightsSince(ctx context.Context, who techlog.Principal, since int64, f FlightFilter, limit int) (Changed[techlog.Flight], error) {
	return changedSince(ctx, s, who, since, limit, func(t Touch) ([]techlog.Flight, error) {
		return s.store.FlightsTouched(ctx, who.Organization, f, t)
	})
}

// SquawksSince lists the squawks that the events after a place touched, as they are now.
func (s *Service) SquawksSince(ctx context.Context, who techlog.Principal, since int64, f SquawkFilter, limit int) (Changed[techlog.Squawk], error) {
	return changedSince(ctx, s, who, since, limit, func(t Touch) ([]techlog.Squawk, error) {
		return s.store.SquawksTouched(ctx, who.Organization, f, t)
	})
}

// changedSince reads events and then what their changes wrote. Every record says at which instant a change last wrote it, and
// every change has one instant, which its events have too. What is written meanwhile has an event at a later place.
func changedSince[T any](ctx context.Context, s *Service, who techlog.Principal, since int64, limit int, read func(Touch) ([]T, error)) (Changed[T], error) {
	c := Changed[T]{Next: since}
	page, err := s.Events(ctx, who, since, EventFilter{}, limit)
	if err != nil || len(page.Events) == 0 {
		return c, err
	}
	c.Next, c.More = page.Next, page.More
	c.Records, err = read(touchOf(page.Events))
	return c, err
}

// Touch is when, and to which aircraft, something happened. Whatever writes a flight or a squawk tells of its aircraft.
type Touch struct {
	Moments  []time.Time
	Aircraft []techlog.ID
}

func touchOf(events []techlog.Event) Touch {
	var t Touch
	for i := range events {
		e := &events[i]
		t.Moments = append(t.Moments, e.At)
		if !e.Aircraft.IsZero() {
			t.Aircraft = append(t.Aircraft, e.Aircraft)
		}
	}
	slices.SortFunc(t.Moments, time.Time.Compare)
	t.Moments = slices.CompactFunc(t.Moments, time.Time.Equal)
	slices.SortFunc(t.Aircraft, func(a, b techlog.ID) int { return slices.Compare(a[:], b[:]) })
	t.Aircraft = slices.Compact(t.Aircraft)
	return t
}
