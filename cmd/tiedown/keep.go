package main

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// migrate brings the database to this program's schema.
func migrate(ctx context.Context, p program) int {
	return p.withHouse(ctx, func(*house) error {
		fmt.Fprintln(p.out, "the database is at this program's schema")
		return nil
	})
}

// addOrganization adds an organization with its first administrator.
func addOrganization(ctx context.Context, p program) int {
	name := strings.TrimSpace(strings.Join(p.args, " "))
	if name == "" {
		fmt.Fprintln(p.err, "usage: tiedown organization NAME")
		return exitUsage
	}
	return p.withHouse(ctx, func(h *house) error {
		o := techlog.Organization{ID: newID(), Name: name}
		if err := h.store.AddOrganization(ctx, o); err != nil {
			return err
		}
		_, token, err := h.issue(ctx, techlog.Principal{Organization: o.ID, Name: "administrator", Roles: techlog.As(techlog.Administrator)})
		if err != nil {
			return err
		}
		fmt.Fprintf(p.out, "organization %s\ntoken of its administrator, shown once: %s\n", o.ID, token)
		return nil
	})
}

// addToken adds a token for somebody of an organization.
func addToken(ctx context.Context, p program) int {
	if len(p.args) < 3 {
		fmt.Fprintln(p.err, "usage: tiedown token ORGANIZATION-ID ROLE NAME")
		return exitUsage
	}
	organization, ok := techlog.ParseID(p.args[0])
	role := techlog.Role(p.args[1])
	if !ok || !slices.Contains(techlog.Roles(), role) {
		fmt.Fprintf(p.err, "tiedown: want the identifier of an organization and one of the roles %v\n", techlog.Roles())
		return exitUsage
	}
	return p.withHouse(ctx, func(h *house) error {
		_, token, err := h.issue(ctx, techlog.Principal{Organization: organization, Name: strings.Join(p.args[2:], " "), Roles: techlog.As(role)})
		if err != nil {
			return err
		}
		fmt.Fprintf(p.out, "token, shown once: %s\n", token)
		return nil
	})
}

// withHouse opens the house for one errand.
func (p program) withHouse(ctx context.Context, errand func(*house) error) int {
	c, err := p.config()
	if err != nil {
		return p.fail(err)
	}
	h, err := p.open(ctx, c)
	if err != nil {
		return p.fail(err)
	}
	err = errand(h)
	if closing := h.close(); err == nil {
		err = closing
	}
	if err != nil {
		return p.fail(err)
	}
	return exitOK
}

// issue makes a token and gives its identifier and its secret. Only the secret's digest is kept.
func (h *house) issue(ctx context.Context, who techlog.Principal) (techlog.ID, string, error) {
	token, digest := hangar.NewToken()
	who.Token = newID()
	return who.Token, token, h.store.AddToken(ctx, who, digest)
}
