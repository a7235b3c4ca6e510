package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// admin makes accounts, and links by which somebody sets a password. A password is never an argument: others could read
// it off the list of processes.
func admin(ctx context.Context, p program) int {
	words, organization, ok := adminWords(p.args)
	switch {
	case ok && len(words) >= 3 && words[0] == "create":
		return p.createAccount(ctx, words[1], strings.Join(words[2:], " "), organization)
	case ok && len(words) == 2 && words[0] == "link":
		return p.newLink(ctx, words[1])
	}
	fmt.Fprintln(p.err, "usage: tiedown admin create EMAIL NAME [--organization ID|NAME]\n       tiedown admin link EMAIL")
	return exitUsage
}

// adminWords takes the organization out of the arguments, wherever it stands.
func adminWords(args []string) (words []string, organization string, ok bool) {
	for i := 0; i < len(args); i++ {
		switch value, joined := strings.CutPrefix(args[i], "--organization="); {
		case joined:
			organization = value
		case args[i] != "--organization":
			words = append(words, args[i])
			continue
		case i+1 < len(args):
			i++
			organization = args[i]
		default:
			return nil, "", false
		}
		if organization == "" {
			return nil, "", false
		}
	}
	return words, organization, true
}

// createAccount makes an account, as an administrator of an organization if one is named, or if there is only one.
func (p program) createAccount(ctx context.Context, email, name, organization string) int {
	return p.withHouse(ctx, func(h *house) error {
		o, err := h.organization(ctx, organization)
		if err != nil {
			return err
		}
		password, err := p.password()
		if err != nil {
			return err
		}
		a, link, err := h.people.FirstAccount(ctx, email, name, &people.NewMember{
			Organization: o.ID, Name: strings.TrimSpace(name), Roles: techlog.As(techlog.Administrator), By: "whoever runs the server",
		})
		if err != nil {
			return err
		}
		fmt.Fprintf(p.out, "%s is an administrator of %s\n", a.Email, o.Name)
		if password == "" {
			p.printLink(h, link)
			return nil
		}
		if err := h.people.SetPassword(ctx, link, password, people.From{}); err != nil {
			p.printLink(h, link)
			return fmt.Errorf("the account is made, but not with this password: %w", err)
		}
		return nil
	})
}

func (p program) newLink(ctx context.Context, email string) int {
	return p.withHouse(ctx, func(h *house) error {
		link, err := h.people.NewLink(ctx, email)
		if err != nil {
			return err
		}
		p.printLink(h, link)
		return nil
	})
}

func (p program) printLink(h *house, link string) {
	fmt.Fprintf(p.out, "page that sets the password once: %s/password?link=%s\n", h.address(), link)
}

// address is where people reach the server: as it is set, or where it listens.
func (h *house) address() string {
	if h.config.PublicURL != "" {
		return h.config.PublicURL
	}
	return "http://" + h.config.Addr
}

// organization finds an organization by its identifier or its name; the only one there is if neither is given.
func (h *house) organization(ctx context.Context, named string) (techlog.Organization, error) {
	all, err := h.store.Organizations(ctx)
	if err != nil {
		return techlog.Organization{}, err
	}
	var fitting []techlog.Organization
	for _, o := range all {
		if named == "" || o.ID.String() == named || o.Name == named {
			fitting = append(fitting, o)
		}
	}
	switch {
	case len(fitting) == 1:
		return fitting[0], nil
	case len(fitting) > 1:
		return techlog.Organization{}, errors.New("there is more than one such organization: name one by its identifier, with --organization")
	default:
		return techlog.Organization{}, errors.New("there is no such organization: add it with `tiedown organization NAME`")
	}
}

// password reads one line of standard input, unless that is a terminal, which would show what is typed.
func (p program) password() (string, error) {
	if file, ok := p.in.(*os.File); ok {
		info, err := file.Stat()
		if err != nil {
			return "", err
		}
		if info.Mode()&fs.ModeCharDevice != 0 {
			return "", nil
		}
	}
	if p.in == nil {
		return "", nil
	}
	line, err := bufio.NewReader(io.LimitReader(p.in, 4096)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", err
	}
	return strings.TrimRight(line, "\r\n"), nil
}
