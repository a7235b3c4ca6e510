package hangar_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/camera"
	"tiedown/internal/testrig/proving"
)

// again is a store that is overtaken once in every change: what was tried first is rolled back, and tried again.
type again struct{ hangar.Store }

func (s again) Change(ctx context.Context, scope hangar.Scope, f func(context.Context, hangar.Tx) ([]byte, error)) ([]byte, error) {
	overtaken := errors.New("overtaken")
	_, err := s.Store.Change(ctx, scope, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
		if answer, err := f(ctx, tx); err != nil {
			return answer, err
		}
		return nil, overtaken
	})
	if !errors.Is(err, overtaken) {
		return nil, err
	}
	return s.Store.Change(ctx, scope, f)
}

// TestEveryChangeMayBeRunAgain holds that a change which the store had to start over does what it would have done at once.
func TestEveryChangeMayBeRunAgain(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	c.service = hangar.New(hangar.Settings{
		Store: again{c.store}, Prover: &proving.Prover{}, Book: hangar.Book{Rules: book.Ruleset, Upkeep: book.Upkeep, Digest: book.Digest}, Now: c.clock, NewID: newID,
		Files: c.store,
	})
	b, err := c.service.Base(t.Context(), c.who, c.base)
	if err != nil {
		t.Fatal(err)
	}
	b.Name = "Home field, renamed"
	c.must(c.service.ChangeBase(t.Context(), c.who, b, nil, keep(&b)))
	if b.Version != 2 {
		t.Errorf("the base is at version %d, want 2", b.Version)
	}
	c.enter("electric", "N056TW")
	flight := c.plan(24, nil).Flight.ID
	var h hangar.HeldFlight
	c.must(c.service.ChangeFlight(t.Context(), c.who, flight, 1, c.flightPlan(25), nil, keep(&h)))
	name := "Renamed"
	var a techlog.Aircraft
	c.must(c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{Aircraft: c.aircraft, Version: 1, Type: &name}, nil, keep(&a)))
	filed := c.squawk("inoperative", "landing-light", "")
	if filed.Squawk.Number != 1 || h.Flight.Version != 2 || a.Version != 2 {
		t.Errorf("squawk %d, flight at version %d, aircraft at version %d", filed.Squawk.Number, h.Flight.Version, a.Version)
	}
	c.holds(flight, "defer-first")
	c.who.Person = newID()
	mechanic := c.enroll("mechanic", mechanicOf("airframe"))
	c.confirm(filed.Squawk.ID)
	c.sign(mechanic, filed.Squawk.ID, actsOn(nil, techlog.ID{})["out-of-use"])
	signed := c.sign(mechanic, filed.Squawk.ID, actsOn(nil, techlog.ID{})["defer"])
	c.holds(flight, "clear")
	if signed.Squawk.Version != 4 || signed.Squawk.Deferral.Signature != signed.Signature.ID {
		t.Errorf("signed: %+v", signed.Squawk)
	}
	c.sign(mechanic, techlog.ID{}, actsOn(nil, techlog.ID{})["static-system-test"])
	c.must(c.service.AddNote(t.Context(), c.who, hangar.Note{Squawk: filed.Squawk.ID, Words: "Bulb ordered."}, nil, keep(&techlog.HistoryEntry{})))
	if p := c.photo(techlog.PhotoOf{Squawk: filed.Squawk.ID}, camera.JPEG(40, 30, 1)); p.Width != 40 {
		t.Errorf("photo: %+v", p)
	}
	c.carryOver(filed.Squawk.ID, techlog.StepClose, nil)
	c.holds(flight, "clear")
	c.must(c.service.CancelFlight(t.Context(), c.who, flight, 2, nil, keep(&techlog.Flight{})))
	c.changePeopleAgain()
}

// changePeopleAgain makes every change about people.
func (c *club) changePeopleAgain() {
	t, ctx := c.t, c.t.Context()
	var made []hangar.AddedMember
	for _, n := range []hangar.NewMember{
		{Email: "wren@club.example", Name: "Wren", Roles: techlog.As(techlog.Administrator)},
		{Email: "finch@club.example", Name: "Finch", Roles: techlog.As(techlog.Pilot)},
	} {
		added, err := c.service.AddMember(ctx, c.who, n)
		if err != nil {
			t.Fatal(err)
		}
		made = append(made, added)
	}
	pilot := made[1].Member.Person
	who := techlog.Principal{Organization: c.who.Organization, Person: pilot, Token: pilot, Name: "Finch", Roles: techlog.As(techlog.Pilot)}
	token, _, err := c.service.MakeAccessToken(ctx, who, hangar.NewAccessToken{Name: "board", Roles: who.Roles, Until: c.clock().Add(time.Hour)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	c.must(c.service.RevokeAccessToken(ctx, who, token.ID, nil, keep(&token)))
	if _, err := c.service.ResetPassword(ctx, c.who, pilot, nil); err != nil {
		t.Fatal(err)
	}
	var m techlog.Member
	c.must(c.service.ChangeMember(ctx, c.who, hangar.MemberChange{Person: pilot, Version: 1, Name: "Finch", Roles: techlog.As(techlog.Mechanic)}, nil, keep(&m)))
	c.must(c.service.EndMember(ctx, c.who, pilot, 2, nil, keep(&m)))
	history, err := c.service.MemberHistory(ctx, c.who, pilot)
	if err != nil || len(history) != 3 || m.Version != 3 || m.Lasts() || token.Revoked.IsZero() {
		t.Errorf("%+v, history %+v, %v", m, history, err)
	}
}
