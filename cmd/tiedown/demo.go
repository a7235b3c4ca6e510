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

	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// demoTokens is what the demo remembers between two starts: the club, its loader and a token for each role.
type demoTokens struct {
	Organization techlog.ID              `json:"organization"`
	Loader       techlog.ID              `json:"loader"` // the token that enters the club
	Loaded       bool                    `json:"loaded"`
	Tokens       map[techlog.Role]string `json:"tokens"`

	People map[techlog.Role]techlog.ID `json:"people"` // who shows up in a role
	Keeper techlog.ID                  `json:"keeper"` // who enters the club: a person, as certificates are entered by one
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
	who := techlog.Principal{
		Organization: tokens.Organization, Person: tokens.Keeper, Token: tokens.Loader, Name: "demo loader", Roles: techlog.As(techlog.Administrator),
	}
	planned, err := h.service.Flights(ctx, who, hangar.FlightFilter{State: techlog.Planned, EndsAfter: now()}, hangar.Page{Limit: 1})
	if err != nil {
		return tokens, err
	}
	if tokens.Loaded && len(planned) > 0 {
		return tokens, nil
	}
	// Not loaded to the end, or so long ago that the week's flights are over: plan another week.
	if err := demo.Load(ctx, h.service, who, tokens.People, now()); err != nil {
		return tokens, err
	}
	tokens.Loaded = true
	return tokens, tokens.write(path)
}

func (h *house) knows(ctx context.Context, organization techlog.ID) (bool, error) {
	all, err := h.store.Organizations(ctx)
	return slices.ContainsFunc(all, func(o techlog.Organization) bool { return o.ID == organization }), err
}

// addClub adds the club, with a token for each role.
func (h *house) addClub(ctx context.Context) (demoTokens, error) {
	club := techlog.Organization{ID: newID(), Name: demo.ClubName}
	made := demoTokens{
		Organization: club.ID, Tokens: map[techlog.Role]string{}, People: map[techlog.Role]techlog.ID{}, Keeper: newID(),
	}
	if err := h.store.AddOrganization(ctx, club); err != nil {
		return made, err
	}
	loader, _, err := h.issue(ctx, techlog.Principal{Organization: club.ID, Name: "demo loader", Roles: techlog.As(techlog.Administrator)})
	if err != nil {
		return made, err
	}
	made.Loader = loader
	for _, role := range techlog.Roles() {
		made.People[role] = newID()
		_, token, err := h.issue(ctx, techlog.Principal{
			Organization: club.ID, Person: made.People[role], Name: "demo " + string(role), Roles: techlog.As(role),
		})
		if err != nil {
			return made, err
		}
		made.Tokens[role] = token
	}
	return made, nil
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
