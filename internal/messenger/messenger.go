// Package messenger tells people what has happened to their fleet, and what comes due.
//
// It owns who is told of what, that a note is written once and sent at least once, when it is sent again and when it is
// given up, and what a digest is made of. It does not own what happens, the hours in which somebody wants to hear
// nothing, SQL, HTTP, or how mail is sent.
package messenger

import (
	"context"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

// Store keeps what people want to hear of, and the notes to them. Every method works inside one organization.
type Store interface {
	// Preferences reads what a member has said: kind not-found if nothing.
	Preferences(ctx context.Context, org, person techlog.ID) (notice.Preferences, error)
	// AllPreferences reads what the members have said; who has said nothing is not among them.
	AllPreferences(ctx context.Context, org techlog.ID) (map[techlog.ID]notice.Preferences, error)
	// SetPreferences expects the stored version to be one less: kind stale otherwise.
	SetPreferences(ctx context.Context, org, person techlog.ID, p notice.Preferences, at time.Time) error

	// NoteCursor is the place of the last event of which notes were written: kind not-found if none ever were.
	NoteCursor(ctx context.Context, org techlog.ID) (int64, error)
	// BeginNotes has notes begin after a place, unless they have begun.
	BeginNotes(ctx context.Context, org techlog.ID, place int64) error
	// WriteNotes writes the notes of the events from one place to another, and moves the cursor there, or does neither:
	// kind stale if the cursor is elsewhere. A note of a cause that a person has a note of is there already.
	WriteNotes(ctx context.Context, org techlog.ID, from, to int64, notes []notice.Note) error
	// WriteNote writes one note, unless there is one of its cause.
	WriteNote(ctx context.Context, org techlog.ID, n notice.Note) error
	// LastDigest is the newest digest to a person: kind not-found.
	LastDigest(ctx context.Context, org, person techlog.ID) (notice.Note, error)

	// ClaimNotes takes notes that are to be sent by an instant, for as long as until says: nobody else gets them before.
	ClaimNotes(ctx context.Context, org techlog.ID, at, until time.Time, limit int) ([]notice.Note, error)
	// SettleNote keeps what became of a note that waited.
	SettleNote(ctx context.Context, org, id techlog.ID, o notice.Outcome) error

	AddStopLinks(ctx context.Context, org techlog.ID, links ...notice.StopLink) error
	// StopLink finds what a link stops by the digest of its secret: kind not-found.
	StopLink(ctx context.Context, digest [32]byte) (notice.StopLink, error)
}

// Records is what the messenger reads of an organization's records.
type Records interface {
	Organizations(ctx context.Context) ([]techlog.Organization, error)
	Events(ctx context.Context, org techlog.ID, after int64, limit int) ([]techlog.Event, error)
	LastEvent(ctx context.Context, org techlog.ID) (int64, error)
	Members(ctx context.Context, org techlog.ID, page hangar.Page) ([]techlog.Member, error)
	Member(ctx context.Context, org, person techlog.ID) (techlog.Member, error)
	Bases(ctx context.Context, org techlog.ID, page hangar.Page) ([]techlog.Base, error)
	Fleet(ctx context.Context, org techlog.ID, page hangar.Page) ([]techlog.Aircraft, error)
	Aircraft(ctx context.Context, org, id techlog.ID) (techlog.Aircraft, error)
	Squawk(ctx context.Context, org, id techlog.ID) (techlog.Squawk, error)
	Flight(ctx context.Context, org, id techlog.ID) (techlog.Flight, error)
	Flights(ctx context.Context, org techlog.ID, filter hangar.FlightFilter, page hangar.Page) ([]techlog.Flight, error)
	Block(ctx context.Context, org, id techlog.ID) (techlog.Block, error)
	Warning(ctx context.Context, org, id techlog.ID) (techlog.Warning, error)
}

// Mailer sends letters. An error that is notice.ErrRefused is final; every other may pass.
type Mailer interface {
	Send(ctx context.Context, m notice.Mail) error
	// Domain ends the identifiers of messages.
	Domain() string
}

// Messenger is the use cases. It is safe for concurrent use, and beside others that tell the same people.
type Messenger struct {
	store   Store
	records Records
	hangar  *hangar.Service
	mailer  Mailer // nil: nobody is told by mail
	now     func() time.Time
	newID   func() techlog.ID
	public  string
	gaveUp  func(note techlog.ID, trace string)
}

// Settings are what a messenger is made of.
type Settings struct {
	Store     Store
	Records   Records
	Service   *hangar.Service
	Mailer    Mailer            // nil: nobody is told by mail
	Now       func() time.Time  // the clock
	NewID     func() techlog.ID // gives identifiers in the order of time
	PublicURL string            // where people reach the server, without a slash at its end
	// GaveUp hears of notes that could not be sent, with what the server of mail said; nil: nobody does.
	GaveUp func(note techlog.ID, trace string)
}

// New makes the use cases.
func New(s Settings) *Messenger {
	if s.GaveUp == nil {
		s.GaveUp = func(techlog.ID, string) {}
	}
	return &Messenger{
		store: s.Store, records: s.Records, hangar: s.Service, mailer: s.Mailer, now: s.Now, newID: s.NewID, public: s.PublicURL,
		gaveUp: s.GaveUp,
	}
}

// theProgram reads an organization's records for everybody in it.
func theProgram(org techlog.ID) techlog.Principal {
	return techlog.Principal{Organization: org, Name: "tiedown"}
}

// everywhere does something in each organization. What fails in one does not keep it from the others.
func (m *Messenger) everywhere(ctx context.Context, do func(techlog.Organization) (int, error)) (int, error) {
	organizations, err := m.records.Organizations(ctx)
	if err != nil {
		return 0, err
	}
	n := 0
	var first error
	for _, o := range organizations {
		done, err := do(o)
		n += done
		if err != nil && first == nil {
			first = err
		}
		if ctx.Err() != nil {
			break
		}
	}
	return n, first
}
