package dispatch

import (
	"time"

	"tiedown/internal/casefile"
)

// How far a search for another departure goes: by the minute for a day to either side of what is planned, and then by the
// quarter hour. A departure that is found by the quarter hour is made exact to the minute; times that are good for less
// than a quarter hour may be stepped over there. So at most 2,880 departures are judged by the minute and 1,248 by the
// quarter hour, each with one determination a leg.
const (
	byMinute  = 24 * time.Hour
	byQuarter = 14 * 24 * time.Hour
	quarter   = 15 * time.Minute
)

// Departures are the times at which a whole flight, moved as it is, is permitted and no block holds it. Departures are on whole minutes, but for
// that which is planned.
type Departures struct {
	Permits  bool      `json:"permits"` // as planned
	Planned  *Window   `json:"planned,omitempty"`
	Before   *Window   `json:"before,omitempty"`   // the last times before those planned, where as planned it is not permitted
	After    *Window   `json:"after,omitempty"`    // the first times after
	Zone     string    `json:"zone"`               // in which the times are written
	From     time.Time `json:"searched_from"`      // earliest departure looked at
	ByMinute time.Time `json:"searched_by_minute"` // until here every minute was looked at
	To       time.Time `json:"searched_to"`        // and until here every quarter hour
	Words    string    `json:"words"`
}

// Window is a stretch of departures, all of which are permitted: From and To are the first and the last. Where it is open
// it may go on: the search ended there.
type Window struct {
	From      time.Time `json:"from"`
	To        time.Time `json:"to"`
	OpenStart bool      `json:"open_start"`
	OpenEnd   bool      `json:"open_end"`
}

// departures finds when the whole flight may leave.
func (j *judge) departures() Departures {
	planned := j.Legs[0].Departs
	s := search{judge: j, planned: planned}
	s.earliest = planned.Add(-byMinute)
	if now := ceiling(j.Now.In(planned.Location())); now.After(s.earliest) {
		s.earliest = now
	}
	s.fine, s.latest = planned.Add(byMinute), planned.Add(byQuarter)
	d := Departures{Zone: planned.Location().String(), From: s.earliest, ByMinute: s.fine, To: s.latest}
	if d.Permits = s.permits(planned); d.Permits {
		w := Window{From: planned, To: planned}
		s.openStart(&w)
		s.openEnd(&w)
		d.Planned = &w
	} else {
		if at, ok := s.back(planned, true); ok {
			w := Window{From: at, To: at}
			s.openStart(&w)
			d.Before = &w
		}
		if at, ok := s.forth(later(planned, s.earliest.Add(-time.Minute)), true); ok {
			w := Window{From: at, To: at}
			s.openEnd(&w)
			d.After = &w
		}
	}
	d.Words = d.say(planned)
	return d
}

// search looks at departures.
type search struct {
	*judge
	planned                time.Time
	earliest, fine, latest time.Time
	moved                  []casefile.Flight
}

// permits says whether the whole flight may leave at an instant.
func (s *search) permits(at time.Time) bool {
	if s.blocked(at.Sub(s.planned)) != nil {
		return false
	}
	s.moved = s.moved[:0]
	for i := range s.Legs {
		s.moved = append(s.moved, shifted(s.Legs[i], at.Sub(s.planned)))
	}
	return s.judge.permits(s.moved)
}

// back is the last whole minute before an instant at which leaving is permitted, or is not.
func (s *search) back(from time.Time, want bool) (time.Time, bool) {
	at := from.Truncate(time.Minute)
	if at.Equal(from) {
		at = at.Add(-time.Minute)
	}
	for ; !at.Before(s.earliest); at = at.Add(-time.Minute) {
		if s.permits(at) == want {
			return at, true
		}
	}
	return time.Time{}, false
}

// forth is the first whole minute after an instant at which leaving is permitted, or is not.
func (s *search) forth(from time.Time, want bool) (time.Time, bool) {
	at := from.Truncate(time.Minute).Add(time.Minute)
	for ; !at.After(s.fine); at = at.Add(time.Minute) {
		if s.permits(at) == want {
			return at, true
		}
	}
	seen := at.Add(-time.Minute) // as are all minutes up to it
	for at = at.Add(-time.Minute).Truncate(quarter).Add(quarter); !at.After(s.latest); at = at.Add(quarter) {
		if s.permits(at) == want {
			for at = seen.Add(time.Minute); s.permits(at) != want; at = at.Add(time.Minute) {
			}
			return at, true
		}
		seen = at
	}
	return time.Time{}, false
}

func (s *search) openStart(w *Window) {
	at, ok := s.back(w.From, false)
	if w.OpenStart = !ok; ok {
		at = at.Add(time.Minute)
	} else {
		at = ceiling(s.earliest)
	}
	if at.Before(w.From) {
		w.From = at
	}
}

func (s *search) openEnd(w *Window) {
	at, ok := s.forth(w.To, false)
	if w.OpenEnd = !ok; ok {
		at = at.Add(-time.Minute)
	} else {
		at = s.latest.Truncate(quarter)
	}
	w.To = later(w.To, at)
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// ceiling is an instant, on the next whole minute if it is on none.
func ceiling(t time.Time) time.Time {
	if whole := t.Truncate(time.Minute); !whole.Equal(t) {
		return whole.Add(time.Minute)
	}
	return t
}
