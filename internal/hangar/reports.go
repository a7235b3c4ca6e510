package hangar

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// WalkaroundReport is what a phone sends at once: one result or all of them.
type WalkaroundReport struct {
	Walkaround techlog.ID
	Results    []walkaround.Result // identifier, check, what was said, and when
	Complete   bool                // with these results the walkaround is to end
}

// ReportedWalkaround is a walkaround after a report.
type ReportedWalkaround struct {
	WalkaroundView
	Taken int // results that were new; the others were on record already
}

// MaxResults bounds what is sent at once.
const MaxResults = 500

// ReportResults takes down what a phone sends. Results that are on record already are known by their identifiers, so that
// a report that is sent again, in whole or in part, loses and doubles nothing; results of two phones come together, and
// where they contradict each other both are kept and shown. A paper that was looked for moves the aircraft's record of papers,
// and holds or releases its future flights. A meter that agrees with the book goes on in it. Results that
// arrive after the walkaround was completed are taken down as late. Kinds forbidden, not-found, invalid: a result does not
// fit its check, or the walkaround is to end and something keeps it from it, told item by item.
func (s *Service) ReportResults(ctx context.Context, who techlog.Principal, r WalkaroundReport, once *Once, render Render[ReportedWalkaround]) ([]byte, error) {
	if err := who.Require(techlog.WalkAround); err != nil {
		return nil, err
	}
	at := s.now()
	var aircraft techlog.ID
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Walkaround: r.Walkaround}
	report := func(ctx context.Context, tx Tx) ([]byte, error) {
		record, err := tx.Walkaround(ctx, r.Walkaround)
		if err != nil {
			return nil, err
		}
		aircraft = record.Walkaround.Aircraft
		composed, err := s.checklist(ctx, tx.Checklist, who.Organization, record.Walkaround.Checklist)
		if err != nil {
			return nil, err
		}
		taker := &taker{record: &record, list: &composed.Checklist, at: at, by: who.Name, on: dateOf(&record, at)}
		taker.take(r.Results)
		if err := taker.bad.Err(); err != nil {
			return nil, err
		}
		view := viewOf(taker.withReport(), composed)
		if r.Complete {
			if err := view.complete(who.Name, at); err != nil {
				return nil, err
			}
		}
		if len(scope.Lock) == 0 && s.bears(taker) {
			return nil, errAircraft
		}
		if len(scope.Lock) > 0 {
			if err := s.bear(tx, tx.Snapshot(0), taker); err != nil {
				return nil, err
			}
		}
		if len(taker.taken) > 0 || view.Walkaround.State != record.Walkaround.State {
			s.queueReport(tx, taker, &view)
		}
		return render(ReportedWalkaround{view, len(taker.taken)})
	}
	answer, err := s.store.Change(ctx, scope, report)
	if errors.Is(err, errAircraft) {
		scope.Lock = []Want{{Aircraft: aircraft, FlightsFrom: at}} // a walkaround stays on its aircraft
		answer, err = s.store.Change(ctx, scope, report)
	}
	s.statuses.Remove(aircraft) // its notes are of measurements: its stamp tells of the newest walkaround alone
	return answer, err
}

// queueReport queues what a report has changed.
func (s *Service) queueReport(tx Tx, t *taker, view *WalkaroundView) {
	w := &view.Walkaround
	completed := w.State != t.record.Walkaround.State
	w.Version++
	tx.UpdateWalkaround(*w)
	if len(t.taken) > 0 {
		tx.AddReport(t.report())
	}
	for _, e := range t.entries {
		tx.AddBookEntry(e)
	}
	if completed {
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "walkaround.completed", Aircraft: w.Aircraft, Subject: w.ID, At: t.at})
	}
}

// complete ends a walkaround, if nothing keeps it from ending. One that has ended stays as it is.
func (v *WalkaroundView) complete(by string, at time.Time) error {
	if v.Walkaround.State == walkaround.Completed {
		return nil
	}
	if err := v.Review.CompletionFaults().Err(); err != nil {
		return err
	}
	v.Walkaround.State, v.Walkaround.CompletedBy, v.Walkaround.CompletedAt = walkaround.Completed, by, at
	for _, s := range v.Review.NotDone() {
		v.Walkaround.LeftOpen = append(v.Walkaround.LeftOpen, s.Check.ID)
	}
	return nil
}

// dateOf is the date on which papers must be good: that on which the flight ends where it begins, or, without a flight, of the
// walkaround.
func dateOf(r *WalkaroundRecord, at time.Time) string {
	if r.Flight == nil {
		return at.UTC().Format(time.DateOnly)
	}
	ends := r.Flight.Arrives
	if zone, err := time.LoadLocation(r.Flight.Zone); err == nil {
		ends = ends.In(zone)
	}
	return ends.Format(time.DateOnly)
}

// taker takes results down, one after the other.
type taker struct {
	record *WalkaroundRecord
	list   *walkaround.Checklist
	at     time.Time
	by     string
	on     string // date on which papers must be good

	known   map[techlog.ID]*walkaround.Result // on record, and taken
	taken   []walkaround.Result
	entries []walkaround.BookEntry
	bad     casefile.Faults
}

func (t *taker) take(results []walkaround.Result) {
	if len(results) > MaxResults {
		t.bad.Add("results", "length", fmt.Sprintf("more than %d results", MaxResults), "send them in several reports")
		return
	}
	earlier := t.record.Results()
	t.known = make(map[techlog.ID]*walkaround.Result, len(earlier)+len(results))
	for i := range earlier {
		t.known[earlier[i].ID] = &earlier[i]
	}
	t.taken = make([]walkaround.Result, 0, len(results)) // never grows: known points into it
	for i := range results {
		if faults := t.takeOne(&results[i]); len(faults) > 0 {
			t.bad = append(t.bad, faults.Renamed(func(field string) string { return fmt.Sprintf("results[%d].%s", i, field) })...)
		}
	}
}

// takeOne takes a result down, unless it is known, and tells what is wrong with it by its own fields.
func (t *taker) takeOne(sent *walkaround.Result) casefile.Faults {
	if before, repeated := t.known[sent.ID]; repeated {
		var bad casefile.Faults
		if !before.Same(sent) {
			bad.Add("id", "unique", "this identifier was used for another result", "make a new identifier for every result")
		}
		return bad
	}
	check, ok := t.list.Find(sent.Check)
	if !ok {
		var bad casefile.Faults
		bad.Add("check", "known-check", fmt.Sprintf("the checklist of this walkaround has no check %q", sent.Check), "name a check of its checklist")
		return bad
	}
	unknown := t.unknown(sent)
	setting := walkaround.Setting{On: t.on, At: t.at, Book: t.book(check.Meter)}
	outcome, class, shows, faults := check.Judge(sent.Said, setting)
	if len(faults) > 0 {
		return append(unknown, faults...)
	}
	t.keep(sent, outcome, class, shows)
	if check.Way == walkaround.Compare && outcome == walkaround.Good {
		t.advance(check.Meter, *sent.Said.Value)
	}
	return unknown
}

// unknown faults what a result replaces and is no earlier result of its check.
func (t *taker) unknown(r *walkaround.Result) casefile.Faults {
	var bad casefile.Faults
	for i, id := range r.Said.Replaces {
		if earlier, ok := t.known[id]; !ok || earlier.Check != r.Check {
			bad.Add(fmt.Sprintf("replaces[%d]", i), "known-result", "there is no such earlier result of this check", "name results that have been seen, before those that replace them")
		}
	}
	return bad
}

// keep takes down what has been judged.
func (t *taker) keep(sent *walkaround.Result, outcome walkaround.Outcome, class walkaround.Class, shows string) {
	r := *sent
	r.Outcome, r.Class, r.Shows = outcome, class, shows
	r.At, r.By, r.Late = t.at, t.by, t.record.Walkaround.State == walkaround.Completed
	t.taken = append(t.taken, r)
	t.known[r.ID] = &t.taken[len(t.taken)-1]
}

// book is the last entry of a meter, with what this report has added.
func (t *taker) book(meter walkaround.Meter) *walkaround.BookEntry {
	for _, entries := range [][]walkaround.BookEntry{t.entries, t.record.Book} {
		for i := len(entries) - 1; i >= 0; i-- {
			if entries[i].Meter == meter {
				return &entries[i]
			}
		}
	}
	return nil
}

// advance takes a reading into the book if it is more than what stands there.
func (t *taker) advance(meter walkaround.Meter, hours float64) {
	book := t.book(meter)
	if !walkaround.CompareToBook(meter, book, hours, t.at).Advances() {
		return
	}
	e := walkaround.BookEntry{
		Aircraft: t.record.Walkaround.Aircraft, Meter: meter, Number: 1, Hours: hours, At: t.at, By: t.by, Walkaround: t.record.Walkaround.ID,
	}
	if book != nil {
		e.Number = book.Number + 1
	}
	t.entries = append(t.entries, e)
}

// report is what is taken down.
func (t *taker) report() walkaround.Report {
	return walkaround.Report{
		Walkaround: t.record.Walkaround.ID, Number: len(t.record.Reports) + 1, At: t.at, By: t.by,
		Late: t.record.Walkaround.State == walkaround.Completed, Results: t.taken,
	}
}

// withReport is the walkaround with what is taken down.
func (t *taker) withReport() *WalkaroundRecord {
	after := *t.record
	if len(t.taken) > 0 {
		after.Reports = append(slices.Clone(after.Reports), t.report())
	}
	return &after
}

// MeterReading is what the meters show, or showed after a flight.
type MeterReading struct {
	Aircraft      techlog.ID
	Flight        techlog.ID // zero: after no flight in particular
	Hobbs         *float64
	Tach          *float64
	TimeInService *float64 // in total
	AirHours      *float64 // time in service of the flight: added to the total
	Because       string   // why the book is wrong, for a reading that contradicts it
}

// Meters shows the last entry of every meter of an aircraft. Kind not-found (the aircraft).
func (s *Service) Meters(ctx context.Context, who techlog.Principal, aircraft techlog.ID) ([]walkaround.BookEntry, error) {
	if _, err := s.store.StateVersion(ctx, who.Organization, aircraft); err != nil {
		return nil, err
	}
	return s.store.MeterBook(ctx, who.Organization, aircraft)
}

// MeterEntries lists what was entered of one meter, newest first. Kind not-found (the aircraft).
func (s *Service) MeterEntries(ctx context.Context, who techlog.Principal, aircraft techlog.ID, meter walkaround.Meter, p Page) ([]walkaround.BookEntry, error) {
	if _, err := s.store.StateVersion(ctx, who.Organization, aircraft); err != nil {
		return nil, err
	}
	return s.store.MeterEntries(ctx, who.Organization, aircraft, meter, p)
}

// EnterMeters takes readings into the book. A step back, or more hours than have passed, is refused unless because says
// why: nothing of the kind is stored silently. What is due by hours goes on with the time in service, and holds the flights
// that it must. Kinds forbidden, invalid, not-found (the aircraft, the flight), conflict
// (the flight is another aircraft's).
func (s *Service) EnterMeters(ctx context.Context, who techlog.Principal, r MeterReading, once *Once, render Render[[]walkaround.BookEntry]) ([]byte, error) {
	if err := who.Require(techlog.EnterMeters); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{{Aircraft: r.Aircraft, FlightsFrom: at}}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		if !r.Flight.IsZero() {
			flight, err := tx.Flight(ctx, r.Flight)
			if err != nil {
				return nil, err
			}
			if flight.Aircraft != r.Aircraft {
				return nil, techlog.Errorf(techlog.KindConflict, "the flight is planned with another aircraft")
			}
		}
		book, err := tx.MeterBook(ctx, r.Aircraft)
		if err != nil {
			return nil, err
		}
		entries, err := r.entries(book, who.Name, at)
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			book = slices.DeleteFunc(book, func(b walkaround.BookEntry) bool { return b.Meter == e.Meter })
			book = append(book, e)
		}
		if err := s.enterReadings(tx, tx.Snapshot(0), entries, at, techlog.Event{Kind: "meters.entered", Aircraft: r.Aircraft, Subject: r.Aircraft}); err != nil {
			return nil, err
		}
		return render(book)
	})
}

// enterReadings adds entries to the book. One of time in service is what everything is counted from: the aircraft's future
// flights are judged anew.
func (s *Service) enterReadings(tx Tx, snap *Snapshot, entries []walkaround.BookEntry, at time.Time, event techlog.Event) error {
	moved := false
	for _, e := range entries {
		tx.AddBookEntry(e)
		moved = snap.goOn(e) || moved
	}
	if moved {
		_, err := s.apply(tx, snap, at, event)
		return err
	}
	event.ID, event.At = s.newID(), at
	tx.Emit(event)
	return nil
}

// goOn follows the book of a snapshot with another entry, and reports whether it is one that everything is counted from.
func (snap *Snapshot) goOn(e walkaround.BookEntry) bool {
	if e.Meter != walkaround.TimeInService {
		return false
	}
	if len(snap.InService) > 1 {
		snap.InService = snap.InService[:1]
	}
	snap.InService = append(slices.Clip(snap.InService), e)
	snap.uncommitted = true
	return true
}

// entries are what a reading adds to the book.
func (r MeterReading) entries(book []walkaround.BookEntry, by string, at time.Time) ([]walkaround.BookEntry, error) {
	var bad casefile.Faults
	last := func(meter walkaround.Meter) *walkaround.BookEntry {
		if i := slices.IndexFunc(book, func(e walkaround.BookEntry) bool { return e.Meter == meter }); i >= 0 {
			return &book[i]
		}
		return nil
	}
	service, field, err := r.timeInService(last(walkaround.TimeInService))
	var faults casefile.Faults
	if errors.As(err, &faults) {
		bad = append(bad, faults...)
	}
	var entries []walkaround.BookEntry
	for _, reading := range []struct {
		meter walkaround.Meter
		field string
		hours *float64
	}{{walkaround.Hobbs, "hobbs", r.Hobbs}, {walkaround.Tach, "tach", r.Tach}, {walkaround.TimeInService, field, service}} {
		if reading.hours == nil {
			continue
		}
		was := last(reading.meter)
		compared := walkaround.CompareAdvance(reading.meter, was, *reading.hours, at)
		bad = append(bad, walkaround.EntryFaults(reading.field, compared, r.Because)...)
		e := walkaround.BookEntry{Aircraft: r.Aircraft, Meter: reading.meter, Number: 1, Hours: *reading.hours, At: at, By: by, Flight: r.Flight}
		if was != nil {
			e.Number = was.Number + 1
		}
		if compared.Differs != "" {
			e.Because = r.Because
		}
		entries = append(entries, e)
	}
	if len(entries) == 0 && len(bad) == 0 {
		bad.Add("document", "required", "no meter is read", "give hobbs, tach, time_in_service or air_hours")
	}
	return entries, bad.Err()
}

// timeInService is the total that a reading comes to, and the field that says so.
func (r MeterReading) timeInService(book *walkaround.BookEntry) (*float64, string, error) {
	if r.AirHours == nil {
		return r.TimeInService, "time_in_service", nil
	}
	var bad casefile.Faults
	switch {
	case r.TimeInService != nil:
		bad.Add("air_hours", "one-form", "both the total and the hours of a flight are given", "give one of them")
	case book == nil:
		bad.Add("air_hours", "known-total", "the book does not say how much time in service the aircraft has", "enter time_in_service first, from the maintenance record")
	case *r.AirHours < 0:
		bad.Add("air_hours", "range", "the hours are below nothing", "give the hours from leaving the surface to touching it")
	default:
		return new(walkaround.Sum(book.Hours, *r.AirHours)), "air_hours", nil
	}
	return nil, "", bad
}
