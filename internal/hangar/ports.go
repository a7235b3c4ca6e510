package hangar

import (
	"context"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// Store keeps the records. Every method but those of Keeper works inside one organization and cannot see another's.
// A record that is absent is an error of kind not-found; a database that does not answer is of kind unavailable.
type Store interface {
	// Authenticate finds whose token has this SHA-256 digest; kind unauthorized if nobody's.
	Authenticate(ctx context.Context, digest [32]byte) (techlog.Principal, error)

	Bases(ctx context.Context, org techlog.ID, page Page) ([]techlog.Base, error)
	Base(ctx context.Context, org, id techlog.ID) (techlog.Base, error)
	Fleet(ctx context.Context, org techlog.ID, page Page) ([]techlog.Aircraft, error)
	Aircraft(ctx context.Context, org, id techlog.ID) (techlog.Aircraft, error)
	Configurations(ctx context.Context, org, aircraft techlog.ID, page Page) ([]techlog.ConfigurationRevision, error)
	Squawks(ctx context.Context, org techlog.ID, filter SquawkFilter, page Page) ([]techlog.Squawk, error)
	Squawk(ctx context.Context, org, id techlog.ID) (techlog.Squawk, error)
	History(ctx context.Context, org, squawk techlog.ID) ([]techlog.HistoryEntry, error)
	Flights(ctx context.Context, org techlog.ID, filter FlightFilter, page Page) ([]techlog.Flight, error)
	Flight(ctx context.Context, org, id techlog.ID) (techlog.Flight, error)
	// FlightsBetween lists the flights of an aircraft, or of every one for the zero aircraft, planned or called off, that end
	// after an instant and depart before another, in the order of their departure, up to a limit.
	FlightsBetween(ctx context.Context, org, aircraft techlog.ID, from, until time.Time, limit int) ([]techlog.Flight, error)
	// FlightsTouched lists the flights that a change wrote at one of some moments, in the order of these.
	FlightsTouched(ctx context.Context, org techlog.ID, filter FlightFilter, t Touch) ([]techlog.Flight, error)
	// SquawksTouched lists the squawks whose history has an entry of one of some moments, in the order of their identifiers.
	SquawksTouched(ctx context.Context, org techlog.ID, filter SquawkFilter, t Touch) ([]techlog.Squawk, error)
	// CalendarFeed finds the calendar whose secret has this SHA-256 digest, with its organization: kind not-found if there
	// is none, it has been taken back, or its maker has left.
	CalendarFeed(ctx context.Context, digest [32]byte) (techlog.ID, techlog.CalendarFeed, error)
	// CalendarFeeds lists the calendars that a person made (zero: all), in the order of their identifiers.
	CalendarFeeds(ctx context.Context, org, maker techlog.ID, page Page) ([]techlog.CalendarFeed, error)
	// CompanyRules reads what the organization asks beyond the regulation: version 0 if it has written nothing.
	CompanyRules(ctx context.Context, org techlog.ID) (techlog.CompanyRules, error)
	// Determinations lists those that were kept of a flight, oldest first.
	Determinations(ctx context.Context, org, flight techlog.ID, page Page) ([]techlog.KeptDetermination, error)
	Determination(ctx context.Context, org, id techlog.ID) (techlog.KeptDetermination, error)
	// Members lists who is and was in an organization, in the order of their identifiers.
	Members(ctx context.Context, org techlog.ID, page Page) ([]techlog.Member, error)
	Member(ctx context.Context, org, person techlog.ID) (techlog.Member, error)
	// MemberHistory lists what a person was in an organization, oldest first.
	MemberHistory(ctx context.Context, org, person techlog.ID) ([]techlog.MemberEntry, error)
	// AccessTokens lists the tokens that a person made (zero: all), in the order of their identifiers.
	AccessTokens(ctx context.Context, org, maker techlog.ID, page Page) ([]techlog.AccessToken, error)
	// SecurityEventsIn lists what happened in an organization before an event (zero: up to now), newest first.
	SecurityEventsIn(ctx context.Context, org techlog.ID, limit int, before techlog.ID) ([]techlog.SecurityEvent, error)

	// Certificates lists the newest version of every certificate of a person, or of everybody for the zero person.
	Certificates(ctx context.Context, org, person techlog.ID, page Page) ([]techlog.Certificate, error)
	// CertificateVersions lists what was kept of one certificate, oldest first. There are none of one that does not exist.
	CertificateVersions(ctx context.Context, org, id techlog.ID) ([]techlog.Certificate, error)
	// Standings lists the newest version of every standing of a person, or of everybody for the zero person.
	Standings(ctx context.Context, org, person techlog.ID, page Page) ([]techlog.Standing, error)
	// StandingVersions lists what was kept of one standing, oldest first.
	StandingVersions(ctx context.Context, org, id techlog.ID) ([]techlog.Standing, error)
	// Signatures lists what was signed about a squawk, oldest first; for the zero squawk, about the aircraft itself.
	Signatures(ctx context.Context, org, aircraft, squawk techlog.ID) ([]techlog.Signature, error)
	// Answered gives the first answer to a request that has been made before: nil if it has not. Kind key-reused.
	Answered(ctx context.Context, org techlog.ID, once Once) ([]byte, error)

	// StaleAircraft lists aircraft with planned flights ending after an instant whose holds were read from another book.
	StaleAircraft(ctx context.Context, org techlog.ID, rules string, from time.Time) ([]techlog.ID, error)

	// Events lists what happened after a place (0: from the beginning), in the order of places.
	Events(ctx context.Context, org techlog.ID, after int64, limit int) ([]techlog.Event, error)
	// LastEvent is the place of the newest event: 0 if there is none.
	LastEvent(ctx context.Context, org techlog.ID) (int64, error)

	Airports(ctx context.Context, org techlog.ID, filter AirportFilter, limit int) ([]casefile.Airport, error)
	Airport(ctx context.Context, org techlog.ID, ident string) (casefile.Airport, error)
	Blocks(ctx context.Context, org techlog.ID, filter BlockFilter, page Page) ([]techlog.Block, error)
	Block(ctx context.Context, org, id techlog.ID) (techlog.Block, error)
	// Shown lists what was shown of a flight, oldest first.
	Shown(ctx context.Context, org, flight techlog.ID, page Page) ([]techlog.Shown, error)

	WalkaroundStore
	PhotoStore
	SurveyStore
	WebhookStore
	WarningStore

	// StateVersion is the cheapest read: it tells whether anything a determination depends on has changed.
	StateVersion(ctx context.Context, org, aircraft techlog.ID) (int, error)
	// Snapshot reads what a determination needs. Nothing is locked.
	Snapshot(ctx context.Context, org techlog.ID, want Want) (Snapshot, error)

	// Change runs f in one transaction. What f queues is written, together with the commit, after f has returned nil;
	// nothing is written otherwise. With once given, an earlier answer to the same key is returned instead of running
	// f, and the answer of this run is kept with it: kind key-reused if the key was used for another request.
	// A change that met a deadlock, or that was overtaken in what it had read, is run again from the start: f must do
	// nothing that cannot be done twice.
	Change(ctx context.Context, scope Scope, f func(context.Context, Tx) ([]byte, error)) ([]byte, error)
}

// Page bounds a list: up to Limit records after the record After, in the order of the list.
type Page struct {
	Limit         int
	After         techlog.ID // zero: from the start
	AfterRevision int        // in place of After in a list of what has a number and no identifier; zero: from the newest
}

// SquawkFilter picks squawks. Zero fields pick all. Newest first.
type SquawkFilter struct {
	Aircraft techlog.ID
	State    techlog.SquawkState
}

// FlightFilter picks flights. Zero fields pick all. In the order of their identifiers.
type FlightFilter struct {
	Aircraft     techlog.ID
	State        techlog.FlightState
	EndsAfter    time.Time
	DepartBefore time.Time
	Held         *bool
	Series       techlog.ID
}

// BlockFilter picks blocks of an aircraft, in the order of their identifiers. Zero fields pick all, but those that were
// cancelled.
type BlockFilter struct {
	Aircraft     techlog.ID
	EndsAfter    time.Time
	BeginsBefore time.Time
	Cancelled    bool // these, too
}

// Want says what a snapshot must hold.
type Want struct {
	Aircraft    techlog.ID
	KnownPlan   int       // plan version that the caller has compiled already: facts and configuration are then left out
	FlightsFrom time.Time // flights ending after this instant; zero: no flights
}

// Snapshot is one aircraft with what bears on its flights.
type Snapshot struct {
	Aircraft  techlog.Aircraft // without facts and configuration if the plan was known
	PlanKnown bool
	Squawks   []techlog.Squawk     // open ones: reported and deferred
	Blocks    []techlog.Block      // that stand, and may hold a flight
	Flights   []techlog.Flight     // planned ones
	Squawked  int                  // squawks ever filed on this aircraft: the number of the last
	Company   techlog.CompanyRules // of the organization; left out if the plan was known
	// InService is the book of the time in service: its first entry and its last, or the only one. Left out if the plan was
	// known, as every entry counts up the plan's version.
	InService []walkaround.BookEntry

	uncommitted bool // facts or configuration are this change's own: their plan must not be kept before the commit
}

// Scope is what a change is about.
type Scope struct {
	Organization techlog.ID
	By           string    // who makes it, in words
	At           time.Time // the one instant of this change
	Once         *Once
	Lock         []Want // aircraft that this change may alter, locked in the order of their identifiers
	// Walkaround is one that the change reports on: it is locked and read together with the aircraft. Zero: none.
	Walkaround techlog.ID
}

// Once makes a request that is sent twice act once.
type Once struct {
	Token  techlog.ID
	Key    string
	Digest [32]byte // of the request
}

// Tx is a transaction. Reads happen at once; writes are queued and checked at the end.
type Tx interface {
	// Snapshot returns the n-th locked aircraft of the scope.
	Snapshot(n int) *Snapshot
	Base(ctx context.Context, id techlog.ID) (techlog.Base, error)
	Squawk(ctx context.Context, id techlog.ID) (techlog.Squawk, error)
	Flight(ctx context.Context, id techlog.ID) (techlog.Flight, error)
	// SeriesFlights lists the flights of a series in the order of their departure, and keeps them from being changed until
	// the change is done.
	SeriesFlights(ctx context.Context, series techlog.ID) ([]techlog.Flight, error)
	CompanyRules(ctx context.Context) (techlog.CompanyRules, error)
	Certificates(ctx context.Context, person techlog.ID) ([]techlog.Certificate, error)
	Standings(ctx context.Context, person techlog.ID) ([]techlog.Standing, error)
	Signatures(ctx context.Context, aircraft, squawk techlog.ID) ([]techlog.Signature, error)
	WalkaroundTx
	PhotoTx
	WebhookTx
	WarningTx
	// FlightsAt lists the planned flights that begin or end at a base and end after an instant.
	FlightsAt(ctx context.Context, base techlog.ID, from time.Time) ([]techlog.Flight, error)
	// Account finds the person of an e-mail address, whatever organizations that person is in.
	Account(ctx context.Context, email techlog.Email) (techlog.Account, error)
	Member(ctx context.Context, person techlog.ID) (techlog.Member, error)
	// WasElsewhere reports whether a person is or was in another organization.
	WasElsewhere(ctx context.Context, person techlog.ID) (bool, error)
	AccessToken(ctx context.Context, id techlog.ID) (techlog.AccessToken, error)

	AddBase(b techlog.Base)
	// UpdateBase and the other updates expect the stored version to be one less: kind stale otherwise.
	UpdateBase(b techlog.Base)
	AddAircraft(a techlog.Aircraft)
	UpdateAircraft(a techlog.Aircraft)
	AddConfiguration(r techlog.ConfigurationRevision)
	// Touch counts up the aircraft's state version.
	Touch(aircraft techlog.ID)
	AddSquawk(s techlog.Squawk)
	// UpdateSquawk leaves alone what was reported, by whom and when, and expects it as it is stored: kind stale otherwise.
	UpdateSquawk(s techlog.Squawk)
	// AddHistory adds an entry to a squawk's history. Every version of a squawk has the entry of its number: an update
	// without one is of kind conflict.
	AddHistory(e techlog.HistoryEntry)
	// AddCompanyRules follows the organization's rules with another version, and counts up every aircraft's versions, as
	// all of them are judged by it. Kind conflict if that version is there already.
	AddCompanyRules(r techlog.CompanyRules)
	AddDetermination(d techlog.KeptDetermination)
	// AddCertificate follows a certificate with another version, or begins one with version 1. Kind stale if that
	// version is there already, forbidden if it is entered by the person whose it is.
	AddCertificate(c techlog.Certificate)
	AddStanding(s techlog.Standing)
	// AddSignature adds a signature. It comes before what rests on it. Kind forbidden unless the certificate is in force
	// in that version on that day, which is the day at the aircraft's base.
	AddSignature(s techlog.Signature)
	AddFlight(f techlog.Flight)
	UpdateFlight(f techlog.Flight)
	// SetHolds stores new holds without counting up the flights' versions: a hold is derived, not edited.
	SetHolds(flights []techlog.Flight)
	// Emit tells of the change: by whom and when are those of its scope, the place is given at the commit.
	Airport(ctx context.Context, ident string) (casefile.Airport, error)
	// PutAirports adds airports, or replaces those of the same identifiers.
	PutAirports(airports []casefile.Airport)
	Block(ctx context.Context, id techlog.ID) (techlog.Block, error)
	AddBlock(b techlog.Block)
	// UpdateBlock leaves alone whose it is, who made it and when: kind stale otherwise.
	UpdateBlock(b techlog.Block)
	AddShown(k techlog.Shown)
	Emit(e techlog.Event)

	// AddAccount makes the account of an address that Account has not found. One that somebody else makes at the same
	// moment has the change run again.
	AddAccount(a techlog.Account)
	AddMember(m techlog.Member)
	// UpdateMember expects the stored version to be one less: kind stale otherwise. Every version of a membership has
	// the entry of its number. Kind conflict if the organization would be without an administrator.
	UpdateMember(m techlog.Member)
	AddMemberEntry(e techlog.MemberEntry)
	AddPasswordLink(l techlog.PasswordLink)
	AddAccessToken(t techlog.AccessToken, digest [32]byte)
	RevokeAccessToken(id techlog.ID, at time.Time)
	CalendarFeed(ctx context.Context, id techlog.ID) (techlog.CalendarFeed, error)
	AddCalendarFeed(f techlog.CalendarFeed, digest [32]byte)
	RevokeCalendarFeed(id techlog.ID, at time.Time)
	NoteSecurity(e techlog.SecurityEvent)
}

// Keeper is the store's door for the program itself: setting up organizations, and looking over all of them.
type Keeper interface {
	AddOrganization(ctx context.Context, o techlog.Organization) error
	Organizations(ctx context.Context) ([]techlog.Organization, error)
	AddToken(ctx context.Context, p techlog.Principal, digest [32]byte) error
	// ForgetEnded takes away sessions, challenges and attempts to get in that ended before an instant, and ForgetAnswers an
	// organization's answers to requests that were given before one: never what ended within 30 days.
	ForgetEnded(ctx context.Context, before time.Time) (int, error)
	ForgetAnswers(ctx context.Context, org techlog.ID, before time.Time) (int, error)
	// Heed calls back with an organization soon after it has new events, and with the zero identifier whenever some may
	// have been missed: at first, and when the database answers again. Whoever relies on it looks by itself now and then as
	// well, since a program that ends right after a commit tells nobody. It returns when the context ends.
	Heed(ctx context.Context, told func(org techlog.ID))
}
