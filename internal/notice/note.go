package notice

import (
	"time"

	"tiedown/internal/techlog"
)

// State is where a note stands.
type State string

// The states of a note.
const (
	Waiting State = "waiting" // to be sent at its time
	Sent    State = "sent"
	Dead    State = "dead"    // it could not be sent; its trace says why
	Dropped State = "dropped" // nobody wants it any more
	Empty   State = "empty"   // a digest with nothing to tell
)

// States lists every state.
func States() []State { return []State{Waiting, Sent, Dead, Dropped, Empty} }

// Note is what is told to one person of one cause.
type Note struct {
	ID       techlog.ID
	Person   techlog.ID
	Cause    string // event:ID or digest:YYYY-MM-DD: there is one note of it to the person
	Kind     Kind
	Letter   *Letter   // nil: there is nothing to tell
	Departs  time.Time // when the first flight departs that it says is held; zero: it says so of none
	Place    int64     // of the last event that it tells of
	At       time.Time
	State    State
	DueAt    time.Time // when it was to be sent first
	NextAt   time.Time // when it is sent, or tried again
	Attempts int
	Trace    string // what came of the last attempt
}

// Outcome is what came of an attempt to send a note.
type Outcome struct {
	State  State
	NextAt time.Time // when it is tried again, if it waits
	At     time.Time // when it was sent, if it was
	Trace  string    // what the server said
	Untold bool      // it was not tried: the attempt does not count
}

// StopLink is what a link stops whose secret has a digest.
type StopLink struct {
	Digest       [32]byte
	Organization techlog.ID
	Person       techlog.ID
	Kind         Kind // empty: every kind
	At           time.Time
}
