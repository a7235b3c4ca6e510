package storetest

import (
	"context"
	"crypto/sha256"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func newMember(version int, roles ...techlog.Role) techlog.Member {
	return techlog.Member{Person: newID(), Name: "Wren Talbot", Roles: roles, Since: noon, Version: version}
}

func memberEntryOf(m techlog.Member) techlog.MemberEntry {
	return techlog.MemberEntry{Person: m.Person, Number: m.Version, At: noon, By: "A. Dmin", Name: m.Name, Roles: m.Roles, Until: m.Until}
}

// addMember makes an account with an address of its own, and its membership.
func (c *club) addMember(t *testing.T, roles ...techlog.Role) techlog.Member {
	t.Helper()
	m := newMember(1, roles...)
	m.Email = techlog.Email(m.Person.String() + "@club.example")
	err := c.within(t.Context(), func(ctx context.Context, tx hangar.Tx) error {
		_, err := tx.Account(ctx, m.Email)
		wantKind(t, "an address that nobody has", err, techlog.KindNotFound)
		tx.AddAccount(techlog.Account{ID: m.Person, Email: m.Email, Name: m.Name, At: noon})
		tx.AddMember(m)
		tx.AddMemberEntry(memberEntryOf(m))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func (c *club) updateMember(t *testing.T, m techlog.Member) error {
	t.Helper()
	return c.change(t, func(tx hangar.Tx) {
		tx.UpdateMember(m)
		tx.AddMemberEntry(memberEntryOf(m))
	})
}

// testMembers holds that a membership moves version by version, with an entry each, and is its organization's alone.
func testMembers(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	first, second := c.addMember(t, techlog.Administrator), c.addMember(t, techlog.Pilot, techlog.Mechanic)
	page := hangar.Page{Limit: 9}
	same(t, "all", get[[]techlog.Member](t)(c.store.Members(ctx, c.org, page)), []techlog.Member{first, second})
	same(t, "the rest", get[[]techlog.Member](t)(c.store.Members(ctx, c.org, hangar.Page{Limit: 9, After: first.Person})), []techlog.Member{second})
	same(t, "one", get[techlog.Member](t)(c.store.Member(ctx, c.org, second.Person)), second)

	next := second
	next.Roles, next.Version = techlog.As(techlog.Scheduler), 2
	if err := c.updateMember(t, next); err != nil {
		t.Fatal(err)
	}
	same(t, "changed", get[techlog.Member](t)(c.store.Member(ctx, c.org, second.Person)), next)
	wantKind(t, "the same change again", c.updateMember(t, next), techlog.KindStale)
	ended := next
	ended.Until, ended.Version = noon.Add(time.Hour), 3
	wantKind(t, "an end without an entry", c.change(t, func(tx hangar.Tx) { tx.UpdateMember(ended) }), techlog.KindConflict)
	if err := c.updateMember(t, ended); err != nil {
		t.Fatal(err)
	}
	same(t, "ended", get[techlog.Member](t)(c.store.Member(ctx, c.org, second.Person)), ended)
	same(t, "the history", get[[]techlog.MemberEntry](t)(c.store.MemberHistory(ctx, c.org, second.Person)),
		[]techlog.MemberEntry{memberEntryOf(second), memberEntryOf(next), memberEntryOf(ended)})

	_, err := c.store.Member(ctx, other.org, first.Person)
	wantKind(t, "the other's member", err, techlog.KindNotFound)
	if n := len(get[[]techlog.Member](t)(c.store.Members(ctx, other.org, page))) + len(get[[]techlog.MemberEntry](t)(c.store.MemberHistory(ctx, other.org, second.Person))); n != 0 {
		t.Errorf("the other organization sees %d", n)
	}
	wantKind(t, "the other changes it", other.updateMember(t, func() techlog.Member { m := first; m.Version = 2; return m }()), techlog.KindStale)
	twin := first
	wantKind(t, "the same member twice", c.change(t, func(tx hangar.Tx) {
		tx.AddMember(twin)
		tx.AddMemberEntry(memberEntryOf(twin))
	}), techlog.KindUnavailable) // as if somebody did it at the same moment, each time
}

// testLastAdministrator holds that there is one left, and that whoever is or was elsewhere is known to be.
func testLastAdministrator(t *testing.T, c *club) {
	ctx := t.Context()
	m := c.addMember(t, techlog.Administrator, techlog.Pilot)
	demoted := m
	demoted.Roles, demoted.Version = techlog.As(techlog.Pilot), 2
	wantKind(t, "the last one becomes a pilot", c.updateMember(t, demoted), techlog.KindConflict)
	ended := m
	ended.Until, ended.Version = noon, 2
	wantKind(t, "the last one leaves", c.updateMember(t, ended), techlog.KindConflict)
	c.addMember(t, techlog.Administrator)
	if err := c.updateMember(t, demoted); err != nil {
		t.Errorf("one of two: %v", err)
	}

	other := c.neighbor(t)
	elsewhere := func() bool {
		t.Helper()
		var was bool
		err := c.within(ctx, func(ctx context.Context, tx hangar.Tx) (err error) {
			was, err = tx.WasElsewhere(ctx, m.Person)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return was
	}
	if elsewhere() {
		t.Error("somebody who is nowhere else is elsewhere")
	}
	guest := techlog.Member{Person: m.Person, Name: "W. Talbot", Roles: techlog.As(techlog.Pilot), Since: noon, Until: noon, Version: 1}
	err := other.within(ctx, func(ctx context.Context, tx hangar.Tx) error {
		a, err := tx.Account(ctx, "  "+m.Email)
		if a.ID != m.Person {
			t.Errorf("the person of the address is %s", a.ID)
		}
		tx.AddMember(guest)
		tx.AddMemberEntry(memberEntryOf(guest))
		return err
	})
	if err != nil || !elsewhere() {
		t.Errorf("somebody who was elsewhere is not: %v", err)
	}
}

// testAccessTokens holds what a token is good for, from its making to its end.
func testAccessTokens(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	c.addMember(t, techlog.Administrator)
	maker := c.addMember(t, techlog.Pilot, techlog.Scheduler)
	issue := func(name string, change func(*techlog.AccessToken)) techlog.AccessToken {
		t.Helper()
		a := techlog.AccessToken{ID: newID(), Name: name, Maker: maker.Person, Roles: techlog.As(techlog.Pilot), MadeAt: noon, Until: noon.Add(time.Hour)}
		change(&a)
		c.must(t, func(tx hangar.Tx) { tx.AddAccessToken(a, sha256.Sum256([]byte(name))) })
		return a
	}
	whole := issue("whole", func(a *techlog.AccessToken) { a.Roles = techlog.As(techlog.Scheduler, techlog.Pilot) })
	own := issue("own", func(a *techlog.AccessToken) { a.Own = true })
	reads := issue("reads", func(a *techlog.AccessToken) { a.Scope = techlog.Scope{Limited: true, Actions: []techlog.Action{}} })
	notes := issue("notes", func(a *techlog.AccessToken) {
		a.Scope = techlog.Scope{Limited: true, Actions: []techlog.Action{techlog.AddNote}}
	})
	page := hangar.Page{Limit: 9}
	same(t, "the maker's", get[[]techlog.AccessToken](t)(c.store.AccessTokens(ctx, c.org, maker.Person, page)), []techlog.AccessToken{whole, own, reads, notes})
	same(t, "another's", len(get[[]techlog.AccessToken](t)(c.store.AccessTokens(ctx, c.org, newID(), page))), 0)
	same(t, "another organization's", len(get[[]techlog.AccessToken](t)(c.store.AccessTokens(ctx, other.org, maker.Person, page))), 0)

	bearer := func(name string) (techlog.Principal, error) {
		return c.store.Authenticate(ctx, sha256.Sum256([]byte(name)))
	}
	for _, a := range []techlog.AccessToken{whole, own, reads, notes} {
		want := techlog.Principal{Organization: c.org, Token: a.ID, Name: a.Name, Roles: a.Roles, Scope: a.Scope, Until: a.Until}
		if a.Own {
			want.Person = maker.Person
		}
		same(t, a.Name, get[techlog.Principal](t)(bearer(a.Name)), want)
	}
	demoted := maker
	demoted.Roles, demoted.Version = techlog.As(techlog.Mechanic, techlog.Scheduler), 2
	if err := c.updateMember(t, demoted); err != nil {
		t.Fatal(err)
	}
	same(t, "of a maker who lost a role", get[techlog.Principal](t)(bearer("whole")).Roles, techlog.As(techlog.Scheduler))
	same(t, "of a maker who lost all", len(get[techlog.Principal](t)(bearer("own")).Roles), 0)

	c.must(t, func(tx hangar.Tx) { tx.RevokeAccessToken(notes.ID, noon) })
	_, err := bearer("notes")
	wantKind(t, "taken back", err, techlog.KindUnauthorized)
	wantKind(t, "taken back again", c.change(t, func(tx hangar.Tx) { tx.RevokeAccessToken(notes.ID, noon) }), techlog.KindConflict)
	wantKind(t, "taken back by another", other.change(t, func(tx hangar.Tx) { tx.RevokeAccessToken(whole.ID, noon) }), techlog.KindNotFound)
	ended := demoted
	ended.Until, ended.Version = noon, 3
	if err := c.updateMember(t, ended); err != nil {
		t.Fatal(err)
	}
	_, err = bearer("whole")
	wantKind(t, "of a maker who left", err, techlog.KindUnauthorized)
}

// testSecurityEvents holds that an organization sees what happened in it, newest first.
func testSecurityEvents(t *testing.T, c *club) {
	other := c.neighbor(t)
	var events []techlog.SecurityEvent
	for _, kind := range techlog.SecurityEventKinds() {
		e := techlog.SecurityEvent{ID: newID(), Kind: kind, About: "about", By: "A. Dmin", Address: "192.0.2.1", At: noon}
		events = append([]techlog.SecurityEvent{e}, events...)
		c.must(t, func(tx hangar.Tx) { tx.NoteSecurity(e) })
	}
	list := func(org techlog.ID, limit int, before techlog.ID) []techlog.SecurityEvent {
		t.Helper()
		return get[[]techlog.SecurityEvent](t)(c.store.SecurityEventsIn(t.Context(), org, limit, before))
	}
	same(t, "all", list(c.org, 99, techlog.ID{}), events)
	same(t, "some before one", list(c.org, 2, events[3].ID), events[4:6])
	same(t, "another's", len(list(other.org, 99, techlog.ID{})), 0)
}
