package hangar_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
)

// TestPlannedCasesAnswerAsTheHoldsDo holds that a planned flight as a written case gets the verdict that its hold has:
// with two deferrals that consider each other, with one that does not, and with a squawk on a unit that is gone.
func TestPlannedCasesAnswerAsTheHoldsDo(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	flight := c.plan(24, nil).Flight.ID
	past := c.plan(1, nil).Flight.ID
	other := c.join("The other club")
	c.addBase(other)
	verdicts := func() map[techlog.ID]string {
		found := map[techlog.ID]string{}
		err := hangar.PlannedCases(t.Context(), c.store, c.store, c.clock().Add(12*time.Hour), func(p hangar.PlannedCase) error {
			question, err := casefile.Compile(p.Case, book.Ruleset)
			if err != nil {
				t.Fatal(err)
			}
			if v := casefile.Judge(question, book.Ruleset, book.Digest).Verdict; v != p.Held || p.Registration != "N012TW" || p.Organization.Name != "The first club" {
				t.Errorf("%s of %s: held as %s, judged %s", p.Registration, p.Organization.Name, p.Held, v)
			}
			found[p.Flight] = p.Held
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return found
	}
	expect := func(want string) {
		t.Helper()
		if found := verdicts(); found[flight] != want || len(found) != 1 || found[past] != "" {
			t.Errorf("want %s, have %v", want, found)
		}
	}
	expect("clear")
	first, second := c.squawk("inoperative", "dome-light", "").Squawk, c.squawk("inoperative", "hour-meter", "").Squawk
	expect("defer-first")
	c.carryOver(first.ID, techlog.StepDefer, c.paper(second.Label()))
	c.carryOver(second.ID, techlog.StepDefer, c.paper(first.Label()))
	expect("clear")
	third := c.squawk("inoperative", "vertical-speed", "").Squawk
	c.carryOver(third.ID, techlog.StepDefer, c.paper(first.Label(), second.Label()))
	expect("defer-first") // the first two were not determined in view of the third
	a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	a.Configuration.Units = slices.DeleteFunc(a.Configuration.Units, func(u casefile.Unit) bool { return u.ID == "dome-light" })
	a.Configuration.EquipmentChanged = "2020-05-03" // and weight and balance serve it
	c.must(c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{
		Aircraft: c.aircraft, Version: a.Version, Configuration: &a.Configuration,
	}, nil, keep(&techlog.Aircraft{})))
	expect("undetermined")

	enough := errors.New("enough")
	if err := hangar.PlannedCases(t.Context(), c.store, c.store, c.clock(), func(hangar.PlannedCase) error { return enough }); !errors.Is(err, enough) {
		t.Errorf("it goes on: %v", err)
	}
}

// paper is a deferral from the paper log, determined in view of the squawks of these labels.
func (c *club) paper(considered ...string) *techlog.Deferral {
	return &techlog.Deferral{
		Basis: "14 CFR 91.213(d)", Method: "deactivated", Placard: "Inoperative", Entry: "log 1, page 2",
		DeterminedBy: "M. Chanic, certificate 0000001", DeterminedAt: c.clock(), Considered: considered, Until: c.clock().Add(1000 * time.Hour),
	}
}
