package hangar

import (
	"context"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// CalendarFeeds lists the calendars that the one who asks has made; all of them to whoever keeps the people.
func (s *Service) CalendarFeeds(ctx context.Context, who techlog.Principal, page Page) ([]techlog.CalendarFeed, error) {
	maker := who.Person
	if who.May(techlog.KeepPeople) {
		maker = techlog.ID{}
	} else if maker.IsZero() {
		return nil, nil
	}
	return s.store.CalendarFeeds(ctx, who.Organization, maker, page)
}

// NewCalendarFeed is a calendar to make.
type NewCalendarFeed struct {
	Name     string
	Aircraft techlog.ID // zero: the whole fleet
}

// MakeCalendarFeed makes a calendar, and gives the secret of its address, which is not kept. Only a person makes calendars,
// as they end with the person's membership. Kinds forbidden, invalid, not-found (the aircraft), conflict (sent again).
func (s *Service) MakeCalendarFeed(ctx context.Context, who techlog.Principal, n NewCalendarFeed, once *Once) (techlog.CalendarFeed, string, error) {
	var f techlog.CalendarFeed
	if who.Person.IsZero() {
		return f, "", techlog.Errorf(techlog.KindForbidden, "a program makes no calendars: a person must")
	}
	if err := who.Require(techlog.KeepTokens); err != nil {
		return f, "", err
	}
	name := strings.TrimSpace(n.Name)
	if name == "" {
		return f, "", casefile.Faults{{Field: "name", Rule: "required", Says: "the name is missing", Remedy: "say what the calendar is for"}}
	}
	at := s.now()
	secret := NewSecret()
	digest, _ := SecretDigest(secret)
	f = techlog.CalendarFeed{ID: s.newID(), Name: name, Aircraft: n.Aircraft, Maker: who.Person, MadeAt: at.UTC().Truncate(time.Microsecond)}
	err := s.makeSecret(ctx, who, at, once, func(_ context.Context, tx Tx) error {
		tx.AddCalendarFeed(f, digest)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "calendar.made", Aircraft: f.Aircraft, Subject: f.ID, At: at})
		return nil
	})
	return f, secret, err
}

// RevokeCalendarFeed takes a calendar back: one's own, or any to whoever keeps the people. Kinds forbidden, not-found,
// conflict if it has been taken back.
func (s *Service) RevokeCalendarFeed(ctx context.Context, who techlog.Principal, id techlog.ID, once *Once, render Render[techlog.CalendarFeed]) ([]byte, error) {
	if err := who.Require(techlog.KeepTokens); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		f, err := tx.CalendarFeed(ctx, id)
		if err != nil {
			return nil, err
		}
		if !who.May(techlog.KeepPeople) && (who.Person.IsZero() || f.Maker != who.Person) {
			return nil, techlog.Errorf(techlog.KindNotFound, "you have made no such calendar")
		}
		if !f.Revoked.IsZero() {
			return nil, techlog.Errorf(techlog.KindConflict, "the calendar has been taken back already")
		}
		f.Revoked = at
		tx.RevokeCalendarFeed(id, at)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "calendar.revoked", Aircraft: f.Aircraft, Subject: f.ID, At: at})
		return render(f)
	})
}
