package hangar

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// AccessTokens lists the tokens that the one who asks has made; all of them to whoever keeps the people.
func (s *Service) AccessTokens(ctx context.Context, who techlog.Principal, page Page) ([]techlog.AccessToken, error) {
	maker := who.Person
	if who.May(techlog.KeepPeople) {
		maker = techlog.ID{}
	} else if maker.IsZero() {
		return nil, nil
	}
	return s.store.AccessTokens(ctx, who.Organization, maker, page)
}

// NewAccessToken is a token to make.
type NewAccessToken struct {
	Name  string
	Roles techlog.RoleSet
	Scope techlog.Scope
	Own   bool
	Until time.Time
}

// MakeAccessToken makes a token, and gives its secret, which is not kept. Only a person makes tokens, and none wider than
// the person is. Sent again, it makes none: the secret has been given. Kinds forbidden, invalid, conflict (sent again).
func (s *Service) MakeAccessToken(ctx context.Context, who techlog.Principal, n NewAccessToken, once *Once) (techlog.AccessToken, string, error) {
	var t techlog.AccessToken
	if who.Person.IsZero() {
		return t, "", techlog.Errorf(techlog.KindForbidden, "a program makes no tokens: a person must")
	}
	if err := who.Require(techlog.KeepTokens); err != nil {
		return t, "", err
	}
	at := s.now()
	if err := fitToken(who, n, at); err != nil {
		return t, "", err
	}
	secret, digest := NewToken()
	t = techlog.AccessToken{
		ID: s.newID(), Name: strings.TrimSpace(n.Name), Maker: who.Person, Own: n.Own, Roles: sortedRoles(n.Roles), Scope: n.Scope,
		MadeAt: at, Until: n.Until.UTC().Truncate(time.Microsecond),
	}
	err := s.makeSecret(ctx, who, at, once, func(_ context.Context, tx Tx) error {
		tx.AddAccessToken(t, digest)
		tx.NoteSecurity(techlog.SecurityEvent{ID: s.newID(), Person: who.Person, Kind: techlog.TokenMade, About: t.Name, By: who.Name, At: at})
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "token.made", Subject: t.ID, At: at})
		return nil
	})
	return t, secret, err
}

// makeSecret runs a change that makes a secret, which whoever asks is given and nobody else: once, even where the request
// is sent again.
func (s *Service) makeSecret(ctx context.Context, who techlog.Principal, at time.Time, once *Once, f func(context.Context, Tx) error) error {
	mine := s.newMark()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}
	answer, err := s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		return mine, f(ctx, tx)
	})
	return givenOnce(mine, answer, err)
}

// newMark is what is kept with a request that makes a secret, in place of an answer that would hold it.
func (s *Service) newMark() []byte { return []byte(`"` + s.newID().String() + `"`) }

// givenOnce refuses a request whose twin has made the secret: that one's mark is kept, and the secret is not.
func givenOnce(mine, answer []byte, err error) error {
	if err == nil && !bytes.Equal(mine, answer) {
		return techlog.Errorf(techlog.KindConflict, "this has been done already: the secret was given then, and is not kept")
	}
	return err
}

// fitToken refuses a token that is wider than its maker, or lasts too long.
func fitToken(who techlog.Principal, n NewAccessToken, at time.Time) error {
	var faults casefile.Faults
	fault := func(field, rule, says, remedy string) {
		faults = append(faults, casefile.Fault{Field: field, Rule: rule, Says: says, Remedy: remedy})
	}
	if strings.TrimSpace(n.Name) == "" {
		fault("name", "required", "the name is missing", "say what the token is for")
	}
	if len(n.Roles) == 0 {
		fault("roles", "required", "there is no role", "give at least one of your own roles")
	}
	for i, role := range n.Roles {
		if !techlog.As(role).Within(who.Roles) {
			fault(fmt.Sprintf("roles[%d]", i), "within-own", "it is a role that you do not hold", "give some of your own roles: "+who.Roles.String())
		}
	}
	for i, action := range n.Scope.Actions {
		if !n.Roles.May(action) {
			fault(fmt.Sprintf("actions[%d]", i), "within-roles", "none of the token's roles may do it", "leave it out")
		}
	}
	if !n.Until.After(at) {
		fault("until", "future", "it would have run out already", "give an instant to come")
	} else if n.Until.After(at.AddDate(1, 0, 0)) {
		fault("until", "within-a-year", "it would last longer than a year", "give an instant within a year, and make another token then")
	}
	return faults.Err()
}

// RevokeAccessToken takes a token back: one's own, or any to whoever keeps the people. Kinds forbidden, not-found,
// conflict if it has been taken back.
func (s *Service) RevokeAccessToken(ctx context.Context, who techlog.Principal, id techlog.ID, once *Once, render Render[techlog.AccessToken]) ([]byte, error) {
	if err := who.Require(techlog.KeepTokens); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		t, err := tx.AccessToken(ctx, id)
		if err != nil {
			return nil, err
		}
		if !who.May(techlog.KeepPeople) && (who.Person.IsZero() || t.Maker != who.Person) {
			return nil, techlog.Errorf(techlog.KindNotFound, "you have made no such token")
		}
		if !t.Revoked.IsZero() {
			return nil, techlog.Errorf(techlog.KindConflict, "the token has been taken back already")
		}
		t.Revoked = at
		tx.RevokeAccessToken(id, at)
		tx.NoteSecurity(techlog.SecurityEvent{ID: s.newID(), Person: t.Maker, Kind: techlog.TokenRevoked, About: t.Name, By: who.Name, At: at})
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "token.revoked", Subject: t.ID, At: at})
		return render(t)
	})
}
