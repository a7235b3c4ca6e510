package hangar_test

import (
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestASecretIsGivenOnce sends requests that make a secret twice, as a browser does that loads a page anew: the first is
// given the secret, the second is told so, and one thing is on record.
func TestASecretIsGivenOnce(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	added, err := c.service.AddMember(t.Context(), c.who, hangar.NewMember{Email: "finch@club.example", Name: "Finch", Roles: techlog.As(techlog.Pilot)})
	if err != nil {
		t.Fatal(err)
	}
	person := added.Member.Person
	who := techlog.Principal{Organization: c.who.Organization, Person: person, Token: person, Name: "Finch", Roles: techlog.As(techlog.Pilot)}
	for name, ask := range map[string]func(once *hangar.Once) (string, error){
		"a token": func(once *hangar.Once) (string, error) {
			_, secret, err := c.service.MakeAccessToken(t.Context(), who, hangar.NewAccessToken{Name: "board", Roles: who.Roles, Until: c.clock().Add(time.Hour)}, once)
			return secret, err
		},
		"a calendar": func(once *hangar.Once) (string, error) {
			_, secret, err := c.service.MakeCalendarFeed(t.Context(), who, hangar.NewCalendarFeed{Name: "week"}, once)
			return secret, err
		},
		"a link": func(once *hangar.Once) (string, error) {
			return c.service.ResetPassword(t.Context(), c.who, person, once)
		},
	} {
		once := &hangar.Once{Token: person, Key: name}
		secret, err := ask(once)
		if err != nil || secret == "" {
			t.Errorf("%s: %q, %v", name, secret, err)
		}
		if _, err := ask(once); techlog.KindOf(err) != techlog.KindConflict {
			t.Errorf("%s, sent again: %v", name, err)
		}
		if again, err := ask(&hangar.Once{Token: person, Key: name + " again"}); err != nil || again == secret {
			t.Errorf("another of %s: %v", name, err)
		}
	}
	tokens, err := c.service.AccessTokens(t.Context(), who, hangar.Page{Limit: 10})
	if err != nil || len(tokens) != 2 {
		t.Errorf("%d tokens, %v", len(tokens), err)
	}
	feeds, err := c.service.CalendarFeeds(t.Context(), who, hangar.Page{Limit: 10})
	if err != nil || len(feeds) != 2 {
		t.Errorf("%d calendars, %v", len(feeds), err)
	}
}
