package messenger

import (
	"context"
	"errors"
	"iter"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

// Preferences shows what somebody wants to hear of: as said, or as the roles go. Kind forbidden for a program.
func (m *Messenger) Preferences(ctx context.Context, who techlog.Principal) (notice.Preferences, error) {
	if who.Person.IsZero() {
		return notice.Preferences{}, techlog.Errorf(techlog.KindForbidden, "a program is told nothing: this is for persons")
	}
	member, err := m.records.Member(ctx, who.Organization, who.Person)
	if err != nil {
		return notice.Preferences{}, err
	}
	return m.preferencesOf(ctx, who.Organization, &member)
}

func (m *Messenger) preferencesOf(ctx context.Context, org techlog.ID, member *techlog.Member) (notice.Preferences, error) {
	p, err := m.store.Preferences(ctx, org, member.Person)
	if techlog.KindOf(err) != techlog.KindNotFound {
		return p, err
	}
	zone, err := m.usualZone(ctx, org)
	return notice.Usual(member.Roles, zone), err
}

// usualZone is that of the organization's first base: most of its people live by it.
func (m *Messenger) usualZone(ctx context.Context, org techlog.ID) (string, error) {
	bases, err := m.records.Bases(ctx, org, hangar.Page{Limit: 1})
	if err != nil || len(bases) == 0 {
		return "UTC", err
	}
	return bases[0].Zone, nil
}

// SetPreferences says what somebody wants to hear of from now on. Version is the one that the caller has seen. A note that
// waits is looked at again when its time has come. Kinds forbidden (a program), invalid, stale.
func (m *Messenger) SetPreferences(ctx context.Context, who techlog.Principal, p notice.Preferences) (notice.Preferences, error) {
	if who.Person.IsZero() {
		return p, techlog.Errorf(techlog.KindForbidden, "a program is told nothing: this is for persons")
	}
	strangers, err := m.unknown(ctx, who.Organization, p.Follows)
	if err == nil {
		err = casefile.Join(p.Check(isZone), strangers)
	}
	if err != nil {
		return p, err
	}
	p.Kinds, p.Follows = sortedKinds(p.Kinds), slices.Compact(slices.SortedFunc(slices.Values(p.Follows), compareIDs))
	if p.Follows == nil {
		p.Follows = []techlog.ID{}
	}
	p.Version++
	return p, m.store.SetPreferences(ctx, who.Organization, who.Person, p, m.now())
}

func compareIDs(a, b techlog.ID) int { return slices.Compare(a[:], b[:]) }

// sortedKinds puts kinds in the order in which they are listed, each once.
func sortedKinds(kinds []notice.Kind) []notice.Kind {
	sorted := []notice.Kind{}
	for _, k := range notice.InstantKinds() {
		if slices.Contains(kinds, k) {
			sorted = append(sorted, k)
		}
	}
	return sorted
}

// unknown finds fault with aircraft that the organization does not have.
func (m *Messenger) unknown(ctx context.Context, org techlog.ID, follows []techlog.ID) (faults, err error) {
	if len(follows) == 0 {
		return nil, nil
	}
	fleet := map[techlog.ID]bool{}
	for a, err := range m.fleet(ctx, org) {
		if err != nil {
			return nil, err
		}
		fleet[a.ID] = true
	}
	if slices.ContainsFunc(follows, func(id techlog.ID) bool { return !fleet[id] }) {
		faults = casefile.Faults{{
			Field: "follows", Rule: "known-aircraft", Says: "there is no such aircraft", Remedy: "take ids from GET /v1/aircraft",
		}}
	}
	return faults, nil
}

func isZone(name string) bool {
	_, err := time.LoadLocation(name)
	return err == nil
}

// pageSize is how many records are read at a time.
const pageSize = 100

// fleet goes over every aircraft of an organization.
func (m *Messenger) fleet(ctx context.Context, org techlog.ID) iter.Seq2[*techlog.Aircraft, error] {
	return hangar.WholeFleet(pageSize, func(p hangar.Page) ([]techlog.Aircraft, error) { return m.records.Fleet(ctx, org, p) })
}

// reader is a member who may be told something.
type reader struct {
	member techlog.Member
	wants  notice.Preferences
	zone   *time.Location // of the wall
}

// readers lists the members who want any mail.
func (m *Messenger) readers(ctx context.Context, org techlog.ID) ([]reader, error) {
	said, err := m.store.AllPreferences(ctx, org)
	if err != nil {
		return nil, err
	}
	usual, err := m.usualZone(ctx, org)
	if err != nil {
		return nil, err
	}
	var all []reader
	members := hangar.Whole(pageSize, func(member *techlog.Member) techlog.ID { return member.Person },
		func(p hangar.Page) ([]techlog.Member, error) { return m.records.Members(ctx, org, p) })
	for member, err := range members {
		if err != nil {
			return nil, err
		}
		wants, ok := said[member.Person]
		if !ok {
			wants = notice.Usual(member.Roles, usual)
		}
		if !member.Lasts() || !wants.Mail || member.Email == "" {
			continue
		}
		zone, err := time.LoadLocation(wants.Zone)
		if err != nil {
			return nil, err
		}
		all = append(all, reader{*member, wants, zone})
	}
	return all, nil
}

// passing reports whether an error may be gone at the next attempt, and is no matter of a single record.
func passing(ctx context.Context, err error) bool {
	return err != nil && (ctx.Err() != nil || errors.Is(err, context.Canceled) || techlog.KindOf(err) == techlog.KindUnavailable)
}
