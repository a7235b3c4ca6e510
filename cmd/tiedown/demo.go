package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// demoTokens is what the demo remembers between two starts: the club, its loader and a token for each role.
type demoTokens struct {
	Organization techlog.ID              `json:"organization"`
	Loader       techlog.ID              `json:"loader"` // the token that enters the club
	Loaded       bool                    `json:"loaded"`
	Tokens       map[techlog.Role]string `json:"tokens"`
	Passwords    map[string]string       `json:"passwords"` // of the club's people, by e-mail address
}

// serveDemo serves an invented club.
func serveDemo(ctx context.Context, p program) int {
	return p.serveWith(ctx, func(ctx context.Context, h *house) error {
		tokens, err := h.demo(ctx)
		if err != nil {
			return fmt.Errorf("load the demo club: %w", err)
		}
		fmt.Fprintf(p.out, "Demo club %s. Tokens, one a role:\n", demo.ClubName)
		for _, role := range techlog.Roles() {
			fmt.Fprintf(p.out, "  %-20s %s\n", role, tokens.Tokens[role])
		}
		fmt.Fprintf(p.out, "People, with the passwords that they sign in with at %s:\n", h.address())
		for _, member := range demo.People {
			fmt.Fprintf(p.out, "  %-32s %s  (%s, %s)\n", member.Email, tokens.Passwords[string(member.Email)], member.Name, member.Roles)
		}
		return nil
	})
}

// demo gives the tokens of the demo club, loading it into a database that has none. It may be interrupted anywhere.
func (h *house) demo(ctx context.Context) (demoTokens, error) {
	path := filepath.Join(h.config.StateDir, "demo-tokens.json")
	tokens, err := readTokens(path)
	if err != nil {
		return tokens, err
	}
	known, err := h.knows(ctx, tokens.Organization)
	if err != nil {
		return tokens, err
	}
	if !known {
		if tokens, err = h.addClub(ctx); err != nil {
			return tokens, err
		}
		if err := tokens.write(path); err != nil {
			return tokens, err
		}
	}
	if len(tokens.Passwords) == 0 {
		if err := h.addPeople(ctx, &tokens); err != nil {
			return tokens, err
		}
		if err := tokens.write(path); err != nil {
			return tokens, err
		}
	}
	who := techlog.Principal{
		Organization: tokens.Organization, Token: tokens.Loader, Name: "demo loader", Roles: techlog.As(techlog.Administrator),
	}
	persons, err := h.persons(ctx, who)
	if err != nil {
		return tokens, err
	}
	who.Person = persons[demo.Keeper] // certificates are entered by a person
	planned, err := h.service.Flights(ctx, who, hangar.FlightFilter{State: techlog.Planned, EndsAfter: now()}, hangar.Page{Limit: 1})
	if err != nil {
		return tokens, err
	}
	if tokens.Loaded && len(planned) > 0 {
		return tokens, nil
	}
	// Not loaded to the end, or so long ago that the week's flights are over: plan another week.
	if err := demo.Load(ctx, h.service, h.earlier, who, persons, now()); err != nil {
		return tokens, err
	}
	tokens.Loaded = true
	return tokens, tokens.write(path)
}

// earlier is the service with its clock at an instant.
func (h *house) earlier(at time.Time) *hangar.Service {
	then := h.settings
	then.Now = func() time.Time { return at }
	return hangar.New(then)
}

func (h *house) knows(ctx context.Context, organization techlog.ID) (bool, error) {
	all, err := h.store.Organizations(ctx)
	return slices.ContainsFunc(all, func(o techlog.Organization) bool { return o.ID == organization }), err
}

// addClub adds the club, with a token for each role.
func (h *house) addClub(ctx context.Context) (demoTokens, error) {
	club := techlog.Organization{ID: newID(), Name: demo.ClubName}
	made := demoTokens{Organization: club.ID, Tokens: map[techlog.Role]string{}}
	if err := h.store.AddOrganization(ctx, club); err != nil {
		return made, err
	}
	loader, _, err := h.issue(ctx, techlog.Principal{Organization: club.ID, Name: "demo loader", Roles: techlog.As(techlog.Administrator)})
	if err != nil {
		return made, err
	}
	made.Loader = loader
	for _, role := range techlog.Roles() {
		_, token, err := h.issue(ctx, techlog.Principal{Organization: club.ID, Name: "demo " + string(role), Roles: techlog.As(role)})
		if err != nil {
			return made, err
		}
		made.Tokens[role] = token
	}
	return made, nil
}

// addPeople gives the club's people accounts, with passwords that are made up here. An account that an earlier start has
// made gets another password.
func (h *house) addPeople(ctx context.Context, tokens *demoTokens) error {
	passwords := map[string]string{}
	for _, m := range demo.People {
		_, link, err := h.people.FirstAccount(ctx, string(m.Email), m.Name, &people.NewMember{
			Organization: tokens.Organization, Name: m.Name, Roles: m.Roles, By: "demo loader",
		})
		if techlog.KindOf(err) == techlog.KindConflict {
			link, err = h.people.NewLink(ctx, string(m.Email))
		}
		if err != nil {
			return err
		}
		password := hangar.NewSecret()[:16]
		if err := h.people.SetPassword(ctx, link, password, people.From{}); err != nil {
			return err
		}
		passwords[string(m.Email)] = password
	}
	tokens.Passwords = passwords
	return nil
}

// persons are the club's people by their addresses.
func (h *house) persons(ctx context.Context, who techlog.Principal) (map[techlog.Email]techlog.ID, error) {
	members, err := h.service.Members(ctx, who, hangar.Page{Limit: len(demo.People)})
	persons := map[techlog.Email]techlog.ID{}
	for _, m := range members {
		persons[m.Email] = m.Person
	}
	return persons, err
}

func (t demoTokens) write(path string) error {
	raw, err := json.MarshalIndent(t, "", "  ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	return os.WriteFile(path, raw, 0o600)
}

func readTokens(path string) (demoTokens, error) {
	var t demoTokens
	raw, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return t, nil
	}
	if err != nil {
		return t, err
	}
	return t, json.Unmarshal(raw, &t)
}
