package messenger

import (
	"context"
	"time"

	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

const (
	eventsAtOnce = 200
	// What is older is told by the digest alone: whoever turns mail on hears nothing of years ago.
	newsAge = 24 * time.Hour
)

// Relay writes the notes of events of which none have been written yet: those of some events together with the place that
// was come to, so that each is written once, whoever else writes, and whenever it is cut off. It gives the number of notes.
func (m *Messenger) Relay(ctx context.Context) (int, error) {
	return m.everywhere(ctx, func(o techlog.Organization) (int, error) {
		n := 0
		for {
			written, more, err := m.relay(ctx, o)
			n += written
			if err != nil || !more {
				return n, err
			}
		}
	})
}

// relay writes those of the next events, and tells whether there may be more.
func (m *Messenger) relay(ctx context.Context, o techlog.Organization) (n int, more bool, err error) {
	from, err := m.store.NoteCursor(ctx, o.ID)
	if techlog.KindOf(err) == techlog.KindNotFound {
		err = m.store.BeginNotes(ctx, o.ID, 0)
	}
	if err != nil {
		return 0, false, err
	}
	events, err := m.records.Events(ctx, o.ID, from, eventsAtOnce)
	if err != nil || len(events) == 0 {
		return 0, false, err
	}
	notes, err := m.notesOf(ctx, o, events)
	if err != nil {
		return 0, false, err
	}
	err = m.store.WriteNotes(ctx, o.ID, from, events[len(events)-1].Place, notes)
	if techlog.KindOf(err) == techlog.KindStale {
		return 0, true, nil // somebody else has written them
	}
	return len(notes), len(events) == eventsAtOnce, err
}

func (m *Messenger) notesOf(ctx context.Context, o techlog.Organization, events []techlog.Event) ([]notice.Note, error) {
	var notes []notice.Note
	var readers []reader // read once there is something to tell
	for i := range events {
		e := &events[i]
		if m.now().Sub(e.At) > newsAge {
			continue
		}
		tale, err := m.taleOf(ctx, o, e)
		if err != nil {
			return nil, err
		}
		if tale == nil {
			continue
		}
		if readers == nil {
			if readers, err = m.readers(ctx, o.ID); err != nil {
				return nil, err
			}
		}
		for j := range readers {
			if n, ok := m.noteTo(&readers[j], tale, e); ok {
				notes = append(notes, n)
			}
		}
	}
	return notes, nil
}

// noteTo is what a tale says to one reader: one note, of the kind that weighs most to the reader.
func (m *Messenger) noteTo(r *reader, t *tale, e *techlog.Event) (notice.Note, bool) {
	var wanted []part
	var departs time.Time
	for _, p := range t.parts {
		if !r.wants.Wants(p.kind, t.aircraft) {
			continue
		}
		wanted = append(wanted, p)
		if p.kind == notice.FlightHeld {
			departs = p.departs
		}
	}
	if len(wanted) == 0 {
		return notice.Note{}, false
	}
	now := m.now()
	sendAt := r.wants.SendAt(now.In(r.zone), departs)
	return notice.Note{
		ID: m.newID(), Person: r.member.Person, Cause: "event:" + e.ID.String(), Kind: wanted[0].kind, Letter: m.letterOf(wanted),
		Departs: departs, Place: e.Place, At: now, State: notice.Waiting, DueAt: sendAt, NextAt: sendAt,
	}, true
}
