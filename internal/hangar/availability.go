package hangar

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// What a calendar holds. Flights that were called off stay in it for as long as they would: programs that have them take
// them out.
const (
	calendarBack  = 31 * 24 * time.Hour
	calendarAhead = 366 * 24 * time.Hour
	// calendarFlights bounds how many flights one calendar holds: some 1 kB each.
	calendarFlights = 10_000
)

// AircraftNow is an aircraft with what keeps it from flying, as the records are.
type AircraftNow struct {
	Aircraft techlog.Aircraft
	Zone     *time.Location // of its base
	Out      bool           // no kind of operation is open to it
	Stops    []casefile.Finding
	Version  int // counts up with whatever changes of how it stands
}

// Availability is what a calendar says.
type Availability struct {
	Feed     techlog.CalendarFeed
	AsOf     time.Time
	From     time.Time // flights that end later
	Until    time.Time // and depart earlier
	CutShort bool      // there are more flights than the calendar holds: Until is where it ends therefore
	Aircraft []AircraftNow
	Flights  []techlog.Flight // in the order of their departure
	Blocks   []techlog.Block  // those that were cancelled, too
	Bases    map[techlog.ID]techlog.Base
	Caution  string
}

// Calendar shows the availability behind the secret of a calendar. Kind not-found if there is none, it was taken back, or
// its maker has left.
func (s *Service) Calendar(ctx context.Context, secret string) (Availability, error) {
	digest, ok := SecretDigest(secret)
	if !ok {
		return Availability{}, techlog.Errorf(techlog.KindNotFound, "there is no such calendar")
	}
	org, feed, err := s.store.CalendarFeed(ctx, digest)
	if err != nil {
		return Availability{}, err
	}
	at := s.now()
	day := at.UTC().Truncate(24 * time.Hour) // so that what is in the calendar moves once a day
	a := Availability{
		Feed: feed, AsOf: at, From: day.Add(-calendarBack), Until: day.Add(calendarAhead),
		Caution: s.book.Rules.Term(airworthiness.TermCaution),
	}
	if a.Bases, err = s.bases(ctx, org); err != nil {
		return a, err
	}
	if a.Flights, err = s.store.FlightsBetween(ctx, org, feed.Aircraft, a.From, a.Until, calendarFlights+1); err != nil {
		return a, err
	}
	if len(a.Flights) > calendarFlights {
		a.Until, a.CutShort = a.Flights[calendarFlights].Departs, true
		a.Flights = a.Flights[:calendarFlights]
	}
	fleet, err := s.fleetOf(ctx, org, feed.Aircraft)
	if err != nil {
		return a, err
	}
	for _, aircraft := range fleet {
		now, err := s.aircraftNow(ctx, org, aircraft, a.Bases)
		if err != nil {
			return a, err
		}
		a.Aircraft = append(a.Aircraft, now)
		blocks, err := s.blocksBetween(ctx, org, BlockFilter{Aircraft: aircraft.ID, EndsAfter: a.From, BeginsBefore: a.Until, Cancelled: true})
		if err != nil {
			return a, err
		}
		a.Blocks = append(a.Blocks, blocks...)
	}
	return a, nil
}

const wholePage = 200

// blocksBetween reads every block that a filter picks.
func (s *Service) blocksBetween(ctx context.Context, org techlog.ID, f BlockFilter) ([]techlog.Block, error) {
	var all []techlog.Block
	read := func(p Page) ([]techlog.Block, error) { return s.store.Blocks(ctx, org, f, p) }
	for b, err := range Whole(wholePage, func(b *techlog.Block) techlog.ID { return b.ID }, read) {
		if err != nil {
			return nil, err
		}
		all = append(all, *b)
	}
	return all, nil
}

// bases reads every base of an organization.
func (s *Service) bases(ctx context.Context, org techlog.ID) (map[techlog.ID]techlog.Base, error) {
	all := map[techlog.ID]techlog.Base{}
	read := func(p Page) ([]techlog.Base, error) { return s.store.Bases(ctx, org, p) }
	for b, err := range Whole(wholePage, func(b *techlog.Base) techlog.ID { return b.ID }, read) {
		if err != nil {
			return nil, err
		}
		all[b.ID] = *b
	}
	return all, nil
}

// fleetOf reads one aircraft, or every one for the zero identifier.
func (s *Service) fleetOf(ctx context.Context, org, aircraft techlog.ID) ([]techlog.Aircraft, error) {
	if !aircraft.IsZero() {
		one, err := s.store.Aircraft(ctx, org, aircraft)
		return []techlog.Aircraft{one}, err
	}
	var all []techlog.Aircraft
	for a, err := range WholeFleet(wholePage, func(p Page) ([]techlog.Aircraft, error) { return s.store.Fleet(ctx, org, p) }) {
		if err != nil {
			return nil, err
		}
		all = append(all, *a)
	}
	return all, nil
}

// aircraftNow looks whether any kind of operation is open to an aircraft.
func (s *Service) aircraftNow(ctx context.Context, org techlog.ID, a techlog.Aircraft, bases map[techlog.ID]techlog.Base) (AircraftNow, error) {
	zone, err := s.zone(bases[a.Base].Zone)
	if err != nil {
		return AircraftNow{}, err
	}
	now := AircraftNow{Aircraft: a, Zone: zone, Out: true}
	written, err := s.Status(ctx, techlog.Principal{Organization: org}, a.ID)
	if err != nil {
		return now, err
	}
	now.Version = written.Version
	var status casefile.Status
	if err := json.Unmarshal(written.Body, &status); err != nil {
		return now, err
	}
	for i, k := range status.Kinds {
		if k.Permits {
			return AircraftNow{Aircraft: a, Zone: zone}, nil
		}
		stops := slices.DeleteFunc(slices.Clone(k.Findings), func(f casefile.Finding) bool {
			v, known := airworthiness.ParseVerdict(f.Verdict)
			return known && v.Permits()
		})
		if i == 0 || len(stops) < len(now.Stops) { // what stops the kind that asks the least
			now.Stops = stops
		}
	}
	return now, nil
}

// MaxFreeBusy bounds the span of time that is asked about at once.
const MaxFreeBusy = 366 * 24 * time.Hour

// BusyKind is how much a period is taken.
type BusyKind string

// The kinds of period.
const (
	Taken       BusyKind = "taken"       // by a flight that may go
	Held        BusyKind = "held"        // by a flight that is held
	Unavailable BusyKind = "unavailable" // the aircraft may make no flight, or is kept from all
)

// BusyPeriod is a span of time at which an aircraft is not free.
type BusyPeriod struct {
	From, Until time.Time
	Kind        BusyKind
	Flight      *techlog.Flight // nil: it is not for a flight
	Block       *techlog.Block  // nil: it is not by a block
	Open        bool            // no end is on record: it is said to last to the end of what was asked
	Stops       []casefile.Finding
}

// FreeBusy says when an aircraft is not free, within a span of time.
type FreeBusy struct {
	Aircraft    techlog.Aircraft
	AsOf        time.Time
	From, Until time.Time
	Busy        []BusyPeriod // in the order of their beginning
	Caution     string
}

// FreeBusy says when an aircraft is not free between two instants: by its flights, and, where no kind of operation is open
// to it as the records are, from now on without an end. Nobody knows when it will be released: unknown is not free.
// Kinds invalid, not-found.
func (s *Service) FreeBusy(ctx context.Context, who techlog.Principal, aircraft techlog.ID, from, until time.Time) (FreeBusy, error) {
	at := s.now()
	var bad casefile.Faults
	switch {
	case !until.After(from):
		bad.Add("until", "after-from", "it does not end after it begins", "give an instant after from")
	case until.Sub(from) > MaxFreeBusy:
		bad.Add("until", "within-a-year", "it is more than 366 days", "ask for a year at most at once")
	}
	if err := bad.Err(); err != nil {
		return FreeBusy{}, err
	}
	a, err := s.store.Aircraft(ctx, who.Organization, aircraft)
	if err != nil {
		return FreeBusy{}, err
	}
	base, err := s.store.Base(ctx, who.Organization, a.Base)
	if err != nil {
		return FreeBusy{}, err
	}
	now, err := s.aircraftNow(ctx, who.Organization, a, map[techlog.ID]techlog.Base{a.Base: base})
	if err != nil {
		return FreeBusy{}, err
	}
	f := FreeBusy{Aircraft: a, AsOf: at, From: from, Until: until, Caution: s.book.Rules.Term(airworthiness.TermCaution)}
	flights, err := s.store.FlightsBetween(ctx, who.Organization, aircraft, from, until, calendarFlights+1)
	if err != nil {
		return f, err
	}
	if len(flights) > calendarFlights {
		return f, casefile.Faults{{Field: "until", Rule: "flights", Says: "more flights are planned than are told at once", Remedy: "ask for a shorter time"}}
	}
	blocks, err := s.blocksBetween(ctx, who.Organization, BlockFilter{Aircraft: aircraft, EndsAfter: from, BeginsBefore: until})
	if err != nil {
		return f, err
	}
	f.fill(flights, blocks, now)
	return f, nil
}

// fill puts in what keeps the aircraft from being free.
func (f *FreeBusy) fill(flights []techlog.Flight, blocks []techlog.Block, now AircraftNow) {
	for i := range blocks {
		b := &blocks[i]
		p := BusyPeriod{From: later(b.From, f.From), Until: f.Until, Kind: Unavailable, Block: b, Open: b.Until.IsZero()}
		if !p.Open {
			p.Until = earlier(b.Until, f.Until)
		}
		f.Busy = append(f.Busy, p)
	}
	for i := range flights {
		flight := &flights[i]
		if flight.State != techlog.Planned {
			continue
		}
		kind := Taken
		if flight.Hold.Holds() {
			kind = Held
		}
		f.Busy = append(f.Busy, BusyPeriod{From: later(flight.Departs, f.From), Until: earlier(flight.Arrives, f.Until), Kind: kind, Flight: flight})
	}
	if now.Out && f.Until.After(f.AsOf) {
		f.Busy = append(f.Busy, BusyPeriod{From: later(f.AsOf, f.From), Until: f.Until, Kind: Unavailable, Open: true, Stops: now.Stops})
	}
	slices.SortStableFunc(f.Busy, func(a, b BusyPeriod) int { return a.From.Compare(b.From) })
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
