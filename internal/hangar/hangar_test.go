package hangar_test

import (
	"slices"
	"sync"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestASquawkHoldsTheFlightAtOnce is the main job: filed, judged, held; deferred, released; run out, held again.
func TestASquawkHoldsTheFlightAtOnce(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	tomorrow := c.plan(24, nil).Flight.ID
	night := c.plan(32, nil).Flight.ID
	nextMonth := c.plan(24*30, nil).Flight.ID
	hire := c.plan(33, func(p *hangar.FlightPlan) { p.Facts.ForHire = yes() }).Flight.ID
	for _, f := range []techlog.ID{tomorrow, night, nextMonth, hire} {
		c.holds(f, "clear")
	}

	filed := c.squawk("inoperative", "landing-light", "")
	if len(filed.Changes) != 4 {
		t.Errorf("filing changed %d verdicts, want 4: %+v", len(filed.Changes), filed.Changes)
	}
	c.holds(tomorrow, "defer-first")
	c.holds(night, "defer-first")
	c.holds(hire, "grounded")

	c.carryOver(filed.Squawk.ID, techlog.StepDefer, deferral(noon.Add(10*24*time.Hour)))
	c.holds(tomorrow, "clear")
	c.holds(night, "clear")
	c.holds(hire, "grounded")
	c.holds(nextMonth, "grounded")

	// Law 5: a flight after the end of the deferral is held the moment it is planned.
	late := c.plan(24*11, nil)
	if late.Answer().Verdict != "grounded" {
		t.Errorf("a flight after the deferral has run out is %s", late.Answer().Verdict)
	}

	c.carryOver(filed.Squawk.ID, techlog.StepClose, nil)
	for _, f := range []techlog.ID{tomorrow, night, nextMonth, hire, late.Flight.ID} {
		c.holds(f, "clear")
	}
	c.carryOver(filed.Squawk.ID, techlog.StepReopen, nil)
	c.holds(tomorrow, "defer-first")
	story, err := c.service.Squawk(t.Context(), c.who, filed.Squawk.ID)
	if err != nil || len(story.History) != 4 || story.Squawk.State != techlog.Reported {
		t.Errorf("the story is %+v, %v", story, err)
	}
}

func yes() *bool {
	b := true
	return &b
}

// TestOtherAircraftAreLeftAlone holds that a squawk touches the flights of its aircraft only.
func TestOtherAircraftAreLeftAlone(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	other := c.enter("retractable", "N034TW")
	elsewhere := c.plan(24, func(p *hangar.FlightPlan) { p.Aircraft = other }).Flight.ID
	c.squawk("condition", "", "tire")
	c.holds(elsewhere, "clear")

	// A flight moved to the sound aircraft is released, and held again when it is moved back.
	moved := c.plan(25, nil)
	c.holds(moved.Flight.ID, "grounded")
	p := c.flightPlan(25)
	p.Aircraft = other
	var h hangar.HeldFlight
	c.must(c.service.ChangeFlight(t.Context(), c.who, moved.Flight.ID, 1, p, nil, keep(&h)))
	c.holds(moved.Flight.ID, "clear")
	p.Aircraft = c.aircraft
	c.must(c.service.ChangeFlight(t.Context(), c.who, moved.Flight.ID, 2, p, nil, keep(&h)))
	c.holds(moved.Flight.ID, "grounded")
	_, err := c.service.ChangeFlight(t.Context(), c.who, moved.Flight.ID, 2, p, nil, keep(&h))
	c.kind(err, techlog.KindStale)

	c.must(c.service.CancelFlight(t.Context(), c.who, moved.Flight.ID, 3, nil, keep(&techlog.Flight{})))
	_, err = c.service.ChangeFlight(t.Context(), c.who, moved.Flight.ID, 4, p, nil, keep(&h))
	c.kind(err, techlog.KindConflict)
	before := c.flight(moved.Flight.ID).Hold
	c.squawk("condition", "", "brake")
	if after := c.flight(moved.Flight.ID).Hold; !after.Same(before) {
		t.Errorf("a cancelled flight is judged: %+v", after)
	}
}

// TestAConfigurationChangeJudgesAnew holds that flights follow facts and equipment, and revisions are kept.
func TestAConfigurationChangeJudgesAnew(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	id := c.plan(24, nil).Flight.ID
	a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	without := a.Configuration
	without.Units = slices.DeleteFunc(slices.Clone(without.Units), func(u casefile.Unit) bool { return u.ID == "elt" })

	// A change that the database refuses leaves nothing behind, not even in memory.
	c.enter("electric", "N056TW")
	taken := "N056TW"
	_, err = c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{
		Aircraft: c.aircraft, Version: 1, Registration: &taken, Configuration: &without,
	}, nil, keep(&techlog.Aircraft{}))
	c.kind(err, techlog.KindConflict)
	c.holds(id, "clear")

	c.must(c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{
		Aircraft: c.aircraft, Version: 1, Configuration: &without,
	}, nil, keep(&techlog.Aircraft{})))
	c.holds(id, "grounded")
	_, err = c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{
		Aircraft: c.aircraft, Version: 1, Configuration: &a.Configuration,
	}, nil, keep(&techlog.Aircraft{}))
	c.kind(err, techlog.KindStale)
	c.must(c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{
		Aircraft: c.aircraft, Version: 2, Configuration: &a.Configuration,
	}, nil, keep(&techlog.Aircraft{})))
	c.holds(id, "clear")
	revisions, err := c.service.Configurations(t.Context(), c.who, c.aircraft, hangar.Page{Limit: 10})
	if err != nil || len(revisions) != 3 || revisions[0].Revision != 3 || len(revisions[1].Configuration.Units) != len(without.Units) {
		t.Errorf("%d revisions, %v", len(revisions), err)
	}
}

// TestASquawkOnAUnitThatIsGoneIsNoPermission holds that taking a unit out of the configuration does not settle its squawk.
func TestASquawkOnAUnitThatIsGoneIsNoPermission(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	id := c.plan(24, nil).Flight.ID
	c.squawk("inoperative", "taxi-light", "")
	a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	a.Configuration.Units = slices.DeleteFunc(a.Configuration.Units, func(u casefile.Unit) bool { return u.ID == "taxi-light" })
	a.Configuration.EquipmentChanged = "2020-05-03" // and weight and balance serve it
	c.must(c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{
		Aircraft: c.aircraft, Version: 1, Configuration: &a.Configuration,
	}, nil, keep(&techlog.Aircraft{})))
	c.holds(id, "undetermined")
}

// TestStatusFollowsEveryChange holds that no status is older than the last acknowledged change, nor another's.
func TestStatusFollowsEveryChange(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	before, err := c.status(c.who, c.aircraft)
	if err != nil || len(before.Kinds) != 4 || before.OpenSquawks != 0 {
		t.Fatalf("%+v, %v", before, err)
	}
	filed := c.squawk("inoperative", "position-left", "")
	after, err := c.status(c.who, c.aircraft)
	if err != nil || after.OpenSquawks != 1 || after.Kinds[0].Verdict != "defer-first" || after.Kinds[1].Verdict != "grounded" {
		t.Errorf("after the squawk: %+v, %v", after.Kinds, err)
	}
	c.carryOver(filed.Squawk.ID, techlog.StepDefer, deferral(noon.Add(3*time.Hour)))
	deferred, err := c.status(c.who, c.aircraft)
	if err != nil || deferred.Kinds[0].Verdict != "limited" {
		t.Errorf("deferred: %s, %v", deferred.Kinds[0].Verdict, err)
	}
	c.wait(3*time.Hour + time.Second)
	lapsed, err := c.status(c.who, c.aircraft)
	if err != nil || lapsed.Kinds[0].Verdict != "grounded" {
		t.Errorf("run out, with no change to the records: %s, %v", lapsed.Kinds[0].Verdict, err)
	}
	stranger := c.join("The second club")
	_, err = c.status(stranger, c.aircraft)
	c.kind(err, techlog.KindNotFound)
}

// TestARequestSentTwiceActsOnce holds idempotency through a use case.
func TestARequestSentTwiceActsOnce(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	report := hangar.SquawkReport{Aircraft: c.aircraft, Kind: "condition", Item: "tire", Words: "Worn."}
	once := &hangar.Once{Token: c.who.Token, Key: "a", Digest: [32]byte{1}}
	render := func(f hangar.FiledSquawk) ([]byte, error) { return []byte(f.Squawk.ID.String()), nil }
	first, err := c.service.FileSquawk(t.Context(), c.who, report, once, render)
	c.must(first, err)
	second, err := c.service.FileSquawk(t.Context(), c.who, report, once, render)
	if err != nil || string(second) != string(first) {
		t.Errorf("%s, %v; want %s", second, err, first)
	}
	other := *once
	other.Digest = [32]byte{2}
	_, err = c.service.FileSquawk(t.Context(), c.who, report, &other, render)
	c.kind(err, techlog.KindReused)
	all, err := c.service.Squawks(t.Context(), c.who, hangar.SquawkFilter{}, hangar.Page{Limit: 10})
	if err != nil || len(all) != 1 {
		t.Errorf("%d squawks, %v; want 1", len(all), err)
	}
}

// TestANewBookJudgesAnew holds that flights judged by another book are judged by the current one, once.
func TestANewBookJudgesAnew(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	id := c.plan(24, nil).Flight.ID
	next := c.serviceWith(" next edition")
	for i, want := range []int{1, 0} {
		n, err := next.RejudgeStale(t.Context(), c.store)
		if err != nil || n != want {
			t.Errorf("run %d: %d aircraft, %v; want %d", i+1, n, err, want)
		}
	}
	if rules := c.flight(id).Hold.Rules; rules != next.Book().Digest {
		t.Errorf("the hold was read from %s", rules)
	}
}

// TestManyAtOnce files squawks and plans flights at the same time: whatever the order, every hold is that of the records.
func TestManyAtOnce(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	var wg sync.WaitGroup
	units := []string{"taxi-light", "landing-light", "autopilot", "dome-light", "map-light", "intercom"}
	planned := make([]techlog.ID, len(units))
	for i, unit := range units {
		wg.Go(func() {
			_, err := c.service.FileSquawk(t.Context(), c.who, hangar.SquawkReport{
				Aircraft: c.aircraft, Kind: "inoperative", Unit: unit, Words: "Dark.",
			}, nil, keep(&hangar.FiledSquawk{}))
			if err != nil {
				t.Error(err)
			}
		})
		wg.Go(func() {
			var h hangar.HeldFlight
			if _, err := c.service.PlanFlight(t.Context(), c.who, c.flightPlan(float64(24+i)), nil, keep(&h)); err != nil {
				t.Error(err)
			}
			planned[i] = h.Flight.ID
		})
	}
	wg.Wait()
	for _, id := range planned {
		c.holds(id, "defer-first")
	}
}
