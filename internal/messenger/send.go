package messenger

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

const (
	// A note is one sender's alone for so long: more than a server of mail may take to answer.
	claimLife = 2 * time.Minute
	// The first attempt is followed by another after firstBreak, and each after it by one after twice as long.
	firstBreak   = time.Minute
	longestBreak = time.Hour
	// Whoever could not be reached for so long is not told any more of what has long happened.
	giveUpAfter = 24 * time.Hour
)

// Send sends the notes whose time has come. Whoever is cut off after a server of mail has taken one, and before that is on
// record, leaves it to be sent again, under the same identifier of its message. It gives the number of those that were
// taken. That a server does not answer is no error: it is on record with the note.
func (m *Messenger) Send(ctx context.Context) (int, error) {
	if m.mailer == nil {
		return 0, nil
	}
	return m.everywhere(ctx, func(o techlog.Organization) (int, error) {
		n := 0
		for ctx.Err() == nil {
			now := m.now()
			claimed, err := m.store.ClaimNotes(ctx, o.ID, now, now.Add(claimLife), 1)
			if err != nil || len(claimed) == 0 {
				return n, err
			}
			outcome, err := m.deliver(ctx, o, &claimed[0])
			if err != nil {
				return n, err
			}
			// What the server has taken is put on record though the program is being stopped.
			if err := m.store.SettleNote(context.WithoutCancel(ctx), o.ID, claimed[0].ID, outcome); err != nil {
				return n, err
			}
			switch outcome.State {
			case notice.Sent:
				n++
			case notice.Dead:
				m.gaveUp(claimed[0].ID, outcome.Trace)
			default:
			}
		}
		return n, ctx.Err()
	})
}

// deliver sends one note, unless nobody wants it any more, or not now.
func (m *Messenger) deliver(ctx context.Context, o techlog.Organization, n *notice.Note) (notice.Outcome, error) {
	now := m.now()
	dropped := func(why string) notice.Outcome {
		return notice.Outcome{State: notice.Dropped, NextAt: now, Trace: why}
	}
	member, err := m.records.Member(ctx, o.ID, n.Person)
	if err != nil {
		return notice.Outcome{}, err
	}
	wants, err := m.preferencesOf(ctx, o.ID, &member)
	switch {
	case err != nil:
		return notice.Outcome{}, err
	case !member.Lasts():
		return dropped("the membership has ended"), nil
	case !wants.WantsKind(n.Kind):
		return dropped("such notes are not wanted any more"), nil
	}
	if n.Kind != notice.Digest { // which has an hour of its own
		zone, err := time.LoadLocation(wants.Zone)
		if err != nil {
			return notice.Outcome{}, err
		}
		if sendAt := wants.SendAt(now.In(zone), n.Departs); sendAt.After(now) {
			return notice.Outcome{State: notice.Waiting, NextAt: sendAt, Trace: n.Trace, Untold: true}, nil
		}
	}
	if now.Sub(n.DueAt) > giveUpAfter {
		return notice.Outcome{State: notice.Dead, NextAt: now, Trace: "a day has passed; before: " + n.Trace}, nil
	}
	letter, err := m.addressed(ctx, o, &member, n)
	if err != nil {
		return notice.Outcome{}, err
	}
	return afterAttempt(n, now, m.mailer.Send(ctx, letter)), nil
}

// afterAttempt is what becomes of a note after an attempt.
func afterAttempt(n *notice.Note, now time.Time, err error) notice.Outcome {
	if err == nil {
		return notice.Outcome{State: notice.Sent, NextAt: now, At: now}
	}
	next := now.Add(breakAfter(n.Attempts))
	trace := notice.OneLine(err.Error(), maxTrace)
	switch {
	case errors.Is(err, notice.ErrRefused):
		return notice.Outcome{State: notice.Dead, NextAt: now, Trace: trace}
	case next.Sub(n.DueAt) > giveUpAfter:
		return notice.Outcome{State: notice.Dead, NextAt: now, Trace: fmt.Sprintf("after %d attempts: %s", n.Attempts, trace)}
	}
	return notice.Outcome{State: notice.Waiting, NextAt: next, Trace: trace}
}

// maxTrace bounds what is kept of a server's answer, in bytes.
const maxTrace = 300

// breakAfter is how long to wait after so many attempts.
func breakAfter(attempts int) time.Duration {
	wait := firstBreak
	for range attempts - 1 {
		if wait *= 2; wait >= longestBreak {
			return longestBreak
		}
	}
	return wait
}

// addressed makes the mail, with links of its own by which such mail is stopped.
func (m *Messenger) addressed(ctx context.Context, o techlog.Organization, member *techlog.Member, n *notice.Note) (notice.Mail, error) {
	stop, secret := m.stopLink(o.ID, n.Person, n.Kind)
	stopAll, secretOfAll := m.stopLink(o.ID, n.Person, "")
	if err := m.store.AddStopLinks(ctx, o.ID, stop, stopAll); err != nil {
		return notice.Mail{}, err
	}
	links := notice.Links{
		Why:  fmt.Sprintf("You get this, %s, as a member of %s.", member.Name, o.Name),
		Stop: m.public + StopPath + secret, StopAll: m.public + StopPath + secretOfAll, Kind: n.Kind,
	}
	return n.Letter.Addressed(n.ID.String()+"@"+m.mailer.Domain(), string(member.Email), m.now(), links), nil
}

// StopPath is where links lead that stop mail; their secret follows.
const StopPath = "/v1/unsubscribe/"

func (m *Messenger) stopLink(org, person techlog.ID, kind notice.Kind) (notice.StopLink, string) {
	secret := hangar.NewSecret()
	digest, _ := hangar.SecretDigest(secret)
	return notice.StopLink{Digest: digest, Organization: org, Person: person, Kind: kind, At: m.now()}, secret
}

// Stopping is what a link stops.
type Stopping struct {
	Organization string
	Kind         notice.Kind // empty: all mail
	Stopped      bool        // it is stopped already
}

// WhatStops says what a link stops. Kind not-found if it is none.
func (m *Messenger) WhatStops(ctx context.Context, secret string) (Stopping, error) {
	link, wants, err := m.linkOf(ctx, secret)
	if err != nil {
		return Stopping{}, err
	}
	return m.stopping(ctx, link, &wants)
}

// Stop stops what a link stops, without asking who has it. Doing it again changes nothing. Kind not-found.
func (m *Messenger) Stop(ctx context.Context, secret string) (Stopping, error) {
	for {
		link, wants, err := m.linkOf(ctx, secret)
		if err != nil {
			return Stopping{}, err
		}
		if !stops(link.Kind, &wants) {
			next := wants.Without(link.Kind)
			next.Version++
			err = m.store.SetPreferences(ctx, link.Organization, link.Person, next, m.now())
			if techlog.KindOf(err) == techlog.KindStale {
				continue // the person has said something else at this moment: that stays, but for this
			}
			wants = next
		}
		if err != nil {
			return Stopping{}, err
		}
		return m.stopping(ctx, link, &wants)
	}
}

// stops reports whether mail of a kind is stopped already.
func stops(k notice.Kind, wants *notice.Preferences) bool {
	if k == "" {
		return !wants.Mail
	}
	return !wants.WantsKind(k)
}

func (m *Messenger) linkOf(ctx context.Context, secret string) (notice.StopLink, notice.Preferences, error) {
	digest, ok := hangar.SecretDigest(secret)
	if !ok {
		return notice.StopLink{}, notice.Preferences{}, techlog.Errorf(techlog.KindNotFound, "there is no such link")
	}
	link, err := m.store.StopLink(ctx, digest)
	if err != nil {
		return link, notice.Preferences{}, err
	}
	member, err := m.records.Member(ctx, link.Organization, link.Person)
	if err != nil {
		return link, notice.Preferences{}, err
	}
	wants, err := m.preferencesOf(ctx, link.Organization, &member)
	return link, wants, err
}

func (m *Messenger) stopping(ctx context.Context, link notice.StopLink, wants *notice.Preferences) (Stopping, error) {
	organizations, err := m.records.Organizations(ctx)
	if err != nil {
		return Stopping{}, err
	}
	s := Stopping{Kind: link.Kind, Stopped: stops(link.Kind, wants)}
	if i := slices.IndexFunc(organizations, func(o techlog.Organization) bool { return o.ID == link.Organization }); i >= 0 {
		s.Organization = organizations[i].Name
	}
	return s, nil
}
