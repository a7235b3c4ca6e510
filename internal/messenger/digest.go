package messenger

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

const (
	// Flights that leave within it are told of.
	digestAhead = 7 * 24 * time.Hour
	// What comes due within it is told of, in days.
	digestDays = 30
	// A first digest tells of the squawks of so long.
	firstDigest = 24 * time.Hour
	// and it looks back over so many events at most.
	firstEvents = 2000
)

// Digests writes the digests of those whose hour has come: one for each person and day on the person's wall. Where the
// server was not running at the hour it is written later on the same day, and not on the next. A digest with nothing to
// tell is not sent. It gives the number of those that are to be sent.
func (m *Messenger) Digests(ctx context.Context) (int, error) {
	return m.everywhere(ctx, func(o techlog.Organization) (int, error) { return m.digests(ctx, o) })
}

func (m *Messenger) digests(ctx context.Context, o techlog.Organization) (int, error) {
	readers, err := m.readers(ctx, o.ID)
	if err != nil {
		return 0, err
	}
	var s *fleetNow // gathered once there is somebody to tell
	n := 0
	for i := range readers {
		r := &readers[i]
		if !r.wants.WantsKind(notice.Digest) {
			continue
		}
		now := m.now()
		day, due := notice.DigestDay(now.In(r.zone), *r.wants.Digest)
		if !due {
			continue
		}
		last, err := m.store.LastDigest(ctx, o.ID, r.member.Person)
		switch {
		case techlog.KindOf(err) == techlog.KindNotFound:
		case err != nil:
			return n, err
		case last.Cause >= digestOf(day): // a later day, where the person has gone west
			continue
		}
		if s == nil {
			if s, err = m.stand(ctx, o.ID); err != nil {
				return n, err
			}
		}
		written, err := m.digestTo(ctx, o, r, s, &last, day)
		if err != nil {
			return n, err
		}
		if written.State == notice.Waiting {
			n++
		}
	}
	return n, nil
}

func digestOf(day string) string { return "digest:" + day }

// digestTo writes the digest of a day to one reader. Since the last one counts, by the events that it told of.
func (m *Messenger) digestTo(ctx context.Context, o techlog.Organization, r *reader, s *fleetNow, last *notice.Note, day string) (notice.Note, error) {
	now := m.now()
	n := notice.Note{
		ID: m.newID(), Person: r.member.Person, Cause: digestOf(day), Kind: notice.Digest, Place: s.last, At: now, State: notice.Empty,
		DueAt: now, NextAt: now,
	}
	filed, closed, err := m.squawksSince(ctx, o.ID, last, s.last)
	if err != nil {
		return n, err
	}
	sections := []notice.Section{s.fleet, filed, closed, s.flights, s.due, s.deferred}
	sections = slices.DeleteFunc(sections, func(s notice.Section) bool { return len(s.Lines) == 0 })
	if len(sections) > 0 {
		n.State = notice.Waiting
		n.Letter = &notice.Letter{
			Subject: fmt.Sprintf("%s, %s: %s, %s", o.Name, now.In(r.zone).Format("2 January 2006"),
				countOf(s.grounded, "aircraft grounded", "aircraft grounded"), countOf(len(s.flights.Lines), "flight held", "flights held")),
			Opening: "How the fleet of " + o.Name + " stands.", Sections: sections, Caution: m.caution(),
		}
	}
	return n, m.store.WriteNote(ctx, o.ID, n)
}

// squawksSince lists the squawks that were filed, and those that were closed, since a digest, up to a place. Before the
// first digest a day counts.
func (m *Messenger) squawksSince(ctx context.Context, org techlog.ID, last *notice.Note, to int64) (filed, closed notice.Section, err error) {
	filed, closed = notice.Section{Title: "Squawks filed since the last digest"}, notice.Section{Title: "Squawks closed since the last digest"}
	seen := map[techlog.ID]bool{}
	first := last.ID.IsZero()
	after := last.Place
	if first {
		after = max(0, to-firstEvents)
	}
	for after < to {
		events, err := m.records.Events(ctx, org, after, eventsAtOnce)
		if err != nil || len(events) == 0 {
			return filed, closed, err
		}
		after = events[len(events)-1].Place
		for i := range events {
			e := &events[i]
			if e.Place > to || !strings.HasPrefix(e.Kind, "squawk.") || first && m.now().Sub(e.At) > firstDigest {
				continue
			}
			if err := m.squawkSince(ctx, org, e, seen, &filed, &closed); err != nil {
				return filed, closed, err
			}
		}
	}
	return filed, closed, nil
}

func (m *Messenger) squawkSince(ctx context.Context, org techlog.ID, e *techlog.Event, seen map[techlog.ID]bool, filed, closed *notice.Section) error {
	if seen[e.Subject] && e.Kind != "squawk.filed" {
		return nil
	}
	q, err := m.records.Squawk(ctx, org, e.Subject)
	if err != nil {
		return notThere(err)
	}
	a, err := m.records.Aircraft(ctx, org, q.Aircraft)
	if err != nil {
		return notThere(err)
	}
	line := a.Registration + ": " + squawkLine(&q)
	if e.Kind == "squawk.filed" {
		filed.Lines = append(filed.Lines, line)
	}
	if q.State == techlog.Closed && !seen[q.ID] {
		closed.Lines = append(closed.Lines, line)
	}
	seen[q.ID] = true
	return nil
}

// fleetNow is what every digest of an organization says at an instant, whoever reads it.
type fleetNow struct {
	last     int64 // place of the newest event
	fleet    notice.Section
	grounded int
	flights  notice.Section
	due      notice.Section
	deferred notice.Section
}

// stand gathers what a digest says of the fleet.
func (m *Messenger) stand(ctx context.Context, org techlog.ID) (*fleetNow, error) {
	s := &fleetNow{
		fleet:    notice.Section{Title: "Aircraft that may not make every kind of flight"},
		flights:  notice.Section{Title: "Flights of the coming 7 days that are held"},
		due:      notice.Section{Title: "What comes due within 30 days"},
		deferred: notice.Section{Title: "Deferrals, by the days that are left"},
	}
	var err error
	if s.last, err = m.records.LastEvent(ctx, org); err != nil {
		return nil, err
	}
	var coming []techlog.Upcoming
	for a, err := range m.fleet(ctx, org) {
		if err != nil {
			return nil, err
		}
		if err := m.standOf(ctx, org, a, s); err != nil {
			return nil, err
		}
		upcoming, err := m.hangar.Upcoming(ctx, theProgram(org), a.ID)
		if passing(ctx, err) {
			return nil, err
		}
		coming = append(coming, upcoming...)
	}
	slices.SortStableFunc(coming, func(a, b techlog.Upcoming) int { return a.Days - b.Days })
	for i := range coming {
		u := &coming[i]
		line := fmt.Sprintf("%s: %s, %s, %s. %s", u.Registration, u.What, u.Due, inDays(u.Days), u.Says)
		switch {
		case !u.Squawk.IsZero():
			s.deferred.Lines = append(s.deferred.Lines, line)
		case u.Days <= digestDays:
			s.due.Lines = append(s.due.Lines, line)
		}
	}
	return s, m.heldSoon(ctx, org, s)
}

// standOf says how one aircraft stands, unless it may make every kind of flight.
func (m *Messenger) standOf(ctx context.Context, org techlog.ID, a *techlog.Aircraft, s *fleetNow) error {
	body, err := m.hangar.Status(ctx, theProgram(org), a.ID)
	if err != nil {
		return err
	}
	var status casefile.Status
	if err := json.Unmarshal(body.Body, &status); err != nil {
		return err
	}
	var not []string
	why := ""
	for _, k := range status.Kinds {
		if k.Permits {
			continue
		}
		not = append(not, k.Kind+" "+k.Verdict)
		if i := slices.IndexFunc(k.Findings, casefile.Finding.Blocks); why == "" && i >= 0 {
			f := &k.Findings[i]
			why = strings.TrimSpace(f.Words+" "+f.Says) + " (" + f.Citation + ")"
		}
	}
	switch {
	case len(not) == 0:
		return nil
	case len(not) == len(status.Kinds):
		s.grounded++
		s.fleet.Lines = append(s.fleet.Lines, fmt.Sprintf("%s: no flight at all. %s", a.Registration, why))
	default:
		s.fleet.Lines = append(s.fleet.Lines, fmt.Sprintf("%s: %s. %s", a.Registration, strings.Join(not, ", "), why))
	}
	return nil
}

// heldSoon lists the held flights of the coming days.
func (m *Messenger) heldSoon(ctx context.Context, org techlog.ID, s *fleetNow) error {
	now := m.now()
	filter := hangar.FlightFilter{State: techlog.Planned, EndsAfter: now, DepartBefore: now.Add(digestAhead), Held: new(true)}
	var held []techlog.Flight
	for f, err := range hangar.WholePlan(pageSize, func(p hangar.Page) ([]techlog.Flight, error) { return m.records.Flights(ctx, org, filter, p) }) {
		if err != nil {
			return err
		}
		held = append(held, *f)
	}
	slices.SortStableFunc(held, func(a, b techlog.Flight) int { return a.Departs.Compare(b.Departs) })
	for i := range held {
		if i == maxLines {
			s.flights.Lines = append(s.flights.Lines, fmt.Sprintf("and %d more", len(held)-maxLines))
			break
		}
		line, err := m.heldLine(ctx, org, &held[i])
		if err != nil {
			return err
		}
		s.flights.Lines = append(s.flights.Lines, line)
	}
	return nil
}

func (m *Messenger) heldLine(ctx context.Context, org techlog.ID, f *techlog.Flight) (string, error) {
	a, err := m.records.Aircraft(ctx, org, f.Aircraft)
	if err != nil {
		return "", err
	}
	line := a.Registration + ", " + flightLine(f) + ": " + standing(f.Hold.Verdict, len(f.Hold.Blocks) > 0) + "."
	shown, err := m.hangar.Flight(ctx, theProgram(org), f.ID)
	if passing(ctx, err) {
		return "", err
	}
	if err != nil { // its reasons cannot be told; that it is held can
		shown.Flight = *f
	}
	why, err := m.whyOf(ctx, org, &shown)
	return strings.Join(append([]string{line}, why...), "\n"), err
}
