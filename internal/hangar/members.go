package hangar

import (
	"context"
	"strings"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Members lists who is and was in the organization. An e-mail address is told to its person, and to whoever keeps the
// people.
func (s *Service) Members(ctx context.Context, who techlog.Principal, page Page) ([]techlog.Member, error) {
	all, err := s.store.Members(ctx, who.Organization, page)
	for i := range all {
		hideEmail(who, &all[i])
	}
	return all, err
}

// Member shows one member. Kind not-found.
func (s *Service) Member(ctx context.Context, who techlog.Principal, person techlog.ID) (techlog.Member, error) {
	m, err := s.store.Member(ctx, who.Organization, person)
	hideEmail(who, &m)
	return m, err
}

func hideEmail(who techlog.Principal, m *techlog.Member) {
	if !who.May(techlog.KeepPeople) && who.Person != m.Person {
		m.Email = ""
	}
}

// MemberHistory lists what a person was in the organization, and who said so, oldest first. Kind not-found.
func (s *Service) MemberHistory(ctx context.Context, who techlog.Principal, person techlog.ID) ([]techlog.MemberEntry, error) {
	if _, err := s.store.Member(ctx, who.Organization, person); err != nil {
		return nil, err
	}
	return s.store.MemberHistory(ctx, who.Organization, person)
}

// NewMember is somebody to add to an organization.
type NewMember struct {
	Email string
	Name  string
	Roles techlog.RoleSet
}

// AddedMember is a member with the secret of a link, by which somebody new sets a password. Whether the person was known
// here already is not said: the link of somebody who has a password does nothing, nor does that of somebody whom another
// organization has added before. Otherwise whoever knows an address could take over the account.
type AddedMember struct {
	Member techlog.Member
	Link   string
}

// AddMember adds a person to the organization, making an account for an address that has none. Somebody who left may
// come back. Kinds forbidden, invalid, conflict.
func (s *Service) AddMember(ctx context.Context, who techlog.Principal, n NewMember) (AddedMember, error) {
	var added AddedMember
	if err := who.Require(techlog.KeepPeople); err != nil {
		return added, err
	}
	address, ok := techlog.ParseEmail(n.Email)
	if err := casefile.Join(emailFault(ok), fitMember(n.Name, n.Roles)); err != nil {
		return added, err
	}
	at := s.now()
	_, err := s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: at}, func(ctx context.Context, tx Tx) ([]byte, error) {
		a, err := tx.Account(ctx, address)
		if techlog.KindOf(err) == techlog.KindNotFound {
			a, err = techlog.Account{ID: s.newID(), Email: address, Name: strings.TrimSpace(n.Name), At: at}, nil
			tx.AddAccount(a)
		}
		if err != nil {
			return nil, err
		}
		m := techlog.Member{Person: a.ID, Name: strings.TrimSpace(n.Name), Email: address, Roles: sortedRoles(n.Roles), Since: at, Version: 1}
		was, err := tx.Member(ctx, a.ID)
		switch {
		case techlog.KindOf(err) == techlog.KindNotFound:
			tx.AddMember(m)
		case err != nil:
			return nil, err
		case was.Lasts():
			return nil, techlog.Errorf(techlog.KindConflict, "the person of this e-mail address is a member already")
		default:
			m.Version = was.Version + 1
			tx.UpdateMember(m)
		}
		s.enterMember(tx, who, m, techlog.MemberAdded, "member.added")
		link, secret := NewPasswordLink(a.ID, at, FirstLink, true)
		added = AddedMember{m, secret}
		elsewhere, err := tx.WasElsewhere(ctx, a.ID)
		if err == nil && !elsewhere {
			tx.AddPasswordLink(link)
		}
		return nil, err
	})
	return added, err
}

// enterMember puts a change of a membership into its history, and tells of it.
func (s *Service) enterMember(tx Tx, who techlog.Principal, m techlog.Member, kind techlog.SecurityEventKind, event string) {
	at := s.now()
	tx.AddMemberEntry(techlog.MemberEntry{Person: m.Person, Number: m.Version, At: at, By: who.Name, Name: m.Name, Roles: m.Roles, Until: m.Until})
	tx.NoteSecurity(techlog.SecurityEvent{ID: s.newID(), Person: m.Person, Kind: kind, About: m.Name + ": " + m.Roles.String(), By: who.Name, At: at})
	tx.Emit(techlog.Event{ID: s.newID(), Kind: event, Subject: m.Person, At: at})
}

// MemberChange is what a member is from now on.
type MemberChange struct {
	Person  techlog.ID
	Version int // that was seen
	Name    string
	Roles   techlog.RoleSet
}

// ChangeMember changes what a member is. Kinds forbidden, invalid, not-found, stale, and conflict if the membership has
// ended or the organization would be without an administrator.
func (s *Service) ChangeMember(ctx context.Context, who techlog.Principal, c MemberChange, once *Once, render Render[techlog.Member]) ([]byte, error) {
	if err := who.Require(techlog.KeepPeople); err != nil {
		return nil, err
	}
	if err := fitMember(c.Name, c.Roles); err != nil {
		return nil, err
	}
	return s.alter(ctx, who, c.Person, c.Version, once, render, techlog.MemberChanged, "member.changed", func(m *techlog.Member) {
		m.Name, m.Roles = strings.TrimSpace(c.Name), sortedRoles(c.Roles)
	})
}

// EndMember ends a membership: from then on neither the person's sessions nor the tokens that he or she made reach the
// organization. Kinds as for ChangeMember.
func (s *Service) EndMember(ctx context.Context, who techlog.Principal, person techlog.ID, version int, once *Once, render Render[techlog.Member]) ([]byte, error) {
	if err := who.Require(techlog.KeepPeople); err != nil {
		return nil, err
	}
	at := s.now()
	return s.alter(ctx, who, person, version, once, render, techlog.MemberEnded, "member.ended", func(m *techlog.Member) { m.Until = at })
}

func (s *Service) alter(ctx context.Context, who techlog.Principal, person techlog.ID, version int, once *Once, render Render[techlog.Member],
	kind techlog.SecurityEventKind, event string, change func(*techlog.Member),
) ([]byte, error) {
	scope := Scope{Organization: who.Organization, By: who.Name, At: s.now(), Once: once}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		m, err := tx.Member(ctx, person)
		switch {
		case err != nil:
			return nil, err
		case m.Version != version:
			return nil, techlog.Errorf(techlog.KindStale, "the membership was changed meanwhile: it is at version %d", m.Version)
		case !m.Lasts():
			return nil, techlog.Errorf(techlog.KindConflict, "the membership has ended; add the person again")
		}
		change(&m)
		m.Version++
		tx.UpdateMember(m)
		s.enterMember(tx, who, m, kind, event)
		return render(m)
	})
}

// ResetPassword gives the secret of a link with which a member sets the password anew. Whoever is in another
// organization, too, is not in one administrator's hands: then only whoever runs the server can. Kinds forbidden,
// not-found, conflict.
func (s *Service) ResetPassword(ctx context.Context, who techlog.Principal, person techlog.ID, once *Once) (string, error) {
	if err := who.Require(techlog.KeepPeople); err != nil {
		return "", err
	}
	at := s.now()
	var secret string
	err := s.makeSecret(ctx, who, at, once, func(ctx context.Context, tx Tx) error {
		m, err := tx.Member(ctx, person)
		if err != nil {
			return err
		}
		if !m.Lasts() {
			return techlog.Errorf(techlog.KindConflict, "the membership has ended")
		}
		elsewhere, err := tx.WasElsewhere(ctx, person)
		if err != nil {
			return err
		}
		if elsewhere {
			return techlog.Errorf(techlog.KindConflict, "this account is not this organization's alone: ask whoever runs the server for the link")
		}
		link, made := NewPasswordLink(person, at, ResetLink, false)
		secret = made
		tx.AddPasswordLink(link)
		tx.NoteSecurity(techlog.SecurityEvent{ID: s.newID(), Person: person, Kind: techlog.PasswordLinkMade, About: m.Name, By: who.Name, At: at})
		return nil
	})
	return secret, err
}

// SecurityEvents lists what happened to the organization's memberships and tokens, newest first. Kind forbidden.
func (s *Service) SecurityEvents(ctx context.Context, who techlog.Principal, page Page) ([]techlog.SecurityEvent, error) {
	if err := who.Require(techlog.KeepPeople); err != nil {
		return nil, err
	}
	return s.store.SecurityEventsIn(ctx, who.Organization, page.Limit, page.After)
}

func emailFault(ok bool) error {
	if ok {
		return nil
	}
	return casefile.Faults{{Field: "email", Rule: "form", Says: "it is no e-mail address", Remedy: "give one such as name@example.org"}}
}

// fitMember refuses a member without a name or without a role.
func fitMember(name string, roles techlog.RoleSet) error {
	var faults casefile.Faults
	if strings.TrimSpace(name) == "" {
		faults = append(faults, casefile.Fault{Field: "name", Rule: "required", Says: "the name is missing", Remedy: "give the name by which the organization knows the person"})
	}
	if len(roles) == 0 {
		faults = append(faults, casefile.Fault{Field: "roles", Rule: "required", Says: "there is no role", Remedy: "give at least one role"})
	}
	return faults.Err()
}

// sortedRoles puts roles in the order in which they are listed, each once.
func sortedRoles(roles techlog.RoleSet) techlog.RoleSet {
	var sorted techlog.RoleSet
	for _, role := range techlog.Roles() {
		if techlog.As(role).Within(roles) {
			sorted = append(sorted, role)
		}
	}
	return sorted
}
