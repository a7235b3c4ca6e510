package hangar_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestTheListFollowsTheRecords holds that a squawk is on the list of deferred items from its deferral until it is closed,
// and among the others before.
func TestTheListFollowsTheRecords(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	light := c.squawk("inoperative", "landing-light", "").Squawk
	c.squawk("inoperative", "beacon", "")
	list := func() (deferred, others []string) {
		t.Helper()
		l, err := c.service.DeferredItems(t.Context(), c.who, c.aircraft)
		if err != nil {
			t.Fatal(err)
		}
		if l.Aircraft.Registration != "N012TW" || l.Zone.String() != "America/Chicago" || l.Caution == "" {
			t.Errorf("%+v", l)
		}
		for _, d := range l.Items {
			deferred = append(deferred, d.Squawk.Label()+" "+d.Item)
			if d.Place == "" || d.Unit != "landing-light" || d.Expired {
				t.Errorf("%+v", d)
			}
		}
		for _, d := range l.NotDeferred {
			others = append(others, d.Squawk.Label()+" "+d.Item)
		}
		return deferred, others
	}
	for _, step := range []struct {
		do               func()
		deferred, others []string
	}{
		{func() {}, nil, []string{"00001 Landing light", "00002 Beacon"}},
		{func() { c.carryOver(light.ID, techlog.StepDefer, deferral(noon.AddDate(0, 2, 0))) }, []string{"00001 Landing light"}, []string{"00002 Beacon"}},
		{func() { c.carryOver(light.ID, techlog.StepReopen, nil) }, nil, []string{"00001 Landing light", "00002 Beacon"}},
		{func() { c.carryOver(light.ID, techlog.StepClose, nil) }, nil, []string{"00002 Beacon"}},
	} {
		step.do()
		if deferred, others := list(); !slices.Equal(deferred, step.deferred) || !slices.Equal(others, step.others) {
			t.Errorf("deferred %v, others %v, want %v and %v", deferred, others, step.deferred, step.others)
		}
	}
	_, err := c.service.DeferredItems(t.Context(), c.join("Another club"), c.aircraft)
	c.kind(err, techlog.KindNotFound)
}

// TestTheListSaysWhatADeferralRulesOut holds that the list says which kinds of operation a deferred item stands against:
// at night position lights are required (14 CFR 91.205(c)(2)), and after its expiry a deferral permits nothing
// (91.405(c)).
func TestTheListSaysWhatADeferralRulesOut(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.carryOver(c.squawk("inoperative", "position-left", "").Squawk.ID, techlog.StepDefer, deferral(noon.Add(24*time.Hour)))
	limits := func() string {
		t.Helper()
		l, err := c.service.DeferredItems(t.Context(), c.who, c.aircraft)
		if err != nil || len(l.Items) != 1 {
			t.Fatalf("%+v, %v", l, err)
		}
		return strings.Join(l.Items[0].Limitations, "\n")
	}
	if said := limits(); !strings.Contains(said, "Not for night VFR, IFR by night (14 CFR 91.205(c)(2))") || strings.Contains(said, "91.405(c)") {
		t.Errorf("limitations: %s", said)
	}
	c.wait(25 * time.Hour)
	if said := limits(); !strings.Contains(said, "Not for any kind of operation (14 CFR 91.405(c))") {
		t.Errorf("limitations after the expiry: %s", said)
	}
}

// TestWhatHasNoPlacard holds that a placard is printed for open squawks on inoperative equipment alone.
func TestWhatHasNoPlacard(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	for what, squawk := range map[string]hangar.FiledSquawk{
		"a condition": c.squawk("condition", "", "oil-leak"),
		"a condition that is reported as inoperative": c.squawk("inoperative", "", "tire"),
	} {
		if _, err := c.service.Placard(t.Context(), c.who, squawk.Squawk.ID, ""); techlog.KindOf(err) != techlog.KindConflict {
			t.Errorf("%s: %v", what, err)
		}
	}
	beacon := c.squawk("inoperative", "beacon", "").Squawk.ID
	p, err := c.service.Placard(t.Context(), c.who, beacon, "removed")
	if err != nil || p.Method != "removed" || !p.Until.IsZero() || p.Item != "Beacon" || p.Registration != "N012TW" || !p.Made.Equal(noon) {
		t.Errorf("%+v, %v", p, err)
	}
	c.carryOver(beacon, techlog.StepDefer, deferral(noon.AddDate(0, 1, 0)))
	_, err = c.service.Placard(t.Context(), c.who, beacon, "removed")
	c.kind(err, techlog.KindConflict)
	p, err = c.service.Placard(t.Context(), c.who, beacon, "")
	if err != nil || p.Method != "deactivated" || p.Words != "Inoperative" || !p.Until.Equal(noon.AddDate(0, 1, 0)) {
		t.Errorf("%+v, %v", p, err)
	}
	c.carryOver(beacon, techlog.StepClose, nil)
	_, err = c.service.Placard(t.Context(), c.who, beacon, "")
	c.kind(err, techlog.KindConflict)
	_, err = c.service.Placard(t.Context(), c.who, newID(), "")
	c.kind(err, techlog.KindNotFound)
}
