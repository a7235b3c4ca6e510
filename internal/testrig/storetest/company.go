package storetest

import (
	"context"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func newCompanyRules(version int) techlog.CompanyRules {
	return techlog.CompanyRules{
		Version: version,
		Rules: []casefile.CompanyRule{{
			ID: "company-clock", Citation: "club rules, 7", Item: "clock", Quantity: "1", When: "night", Words: "A clock, \"at night\".",
			From: "2031-01-01",
		}},
		Policy: casefile.Policy{Deactivation: "rule-text"}, At: noon, By: "M. Control",
	}
}

// testCompanyRules holds that rules are followed, never changed, and that they put every plan out of date.
func testCompanyRules(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	a, b, neighbors := c.addAircraft(t), c.addAircraft(t), other.addAircraft(t)
	read := func(c *club) techlog.CompanyRules {
		t.Helper()
		return get[techlog.CompanyRules](t)(c.store.CompanyRules(ctx, c.org))
	}
	same(t, "before there are any", read(c), techlog.CompanyRules{})
	same(t, "in a snapshot without any", get[hangar.Snapshot](t)(c.store.Snapshot(ctx, c.org, hangar.Want{Aircraft: a.ID})).Company, techlog.CompanyRules{})

	first := newCompanyRules(1)
	c.must(t, func(tx hangar.Tx) { tx.AddCompanyRules(first) })
	same(t, "the first", read(c), first)
	wantKind(t, "the first again", c.change(t, func(tx hangar.Tx) { tx.AddCompanyRules(first) }), techlog.KindStale)
	second := newCompanyRules(2)
	second.Rules, second.Policy = nil, casefile.Policy{}
	c.must(t, func(tx hangar.Tx) { tx.AddCompanyRules(second) })
	if got := read(c); got.Version != 2 || len(got.Rules) != 0 || got.Policy != second.Policy {
		t.Errorf("the second is %+v", got)
	}
	err := c.within(ctx, func(ctx context.Context, tx hangar.Tx) error {
		r, err := tx.CompanyRules(ctx)
		if r.Version != 2 {
			t.Errorf("within a change they are at version %d", r.Version)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	same(t, "the neighbor's", read(other), techlog.CompanyRules{})

	for what, aircraft := range map[string]techlog.Aircraft{"one aircraft": a, "another": b} {
		// Whoever had compiled the plan before learns that it is out of date, and gets the rules with what is new.
		snap := get[hangar.Snapshot](t)(c.store.Snapshot(ctx, c.org, hangar.Want{Aircraft: aircraft.ID, KnownPlan: aircraft.PlanVersion}))
		if snap.PlanKnown || snap.Aircraft.PlanVersion != aircraft.PlanVersion+2 || snap.Aircraft.StateVersion != aircraft.StateVersion+2 {
			t.Errorf("%s: %+v", what, snap)
		}
		if snap.Company.Version != 2 {
			t.Errorf("%s: the snapshot has version %d of the rules", what, snap.Company.Version)
		}
		c.must(t, func(tx hangar.Tx) {
			if v := tx.Snapshot(0).Company.Version; v != 2 {
				t.Errorf("%s: the locked snapshot has version %d of the rules", what, v)
			}
		}, hangar.Want{Aircraft: aircraft.ID, KnownPlan: aircraft.PlanVersion})
	}
	same(t, "the neighbor's aircraft", get[techlog.Aircraft](t)(c.store.Aircraft(ctx, other.org, neighbors.ID)), neighbors)
}

// testDeterminations holds that a determination is kept letter by letter.
func testDeterminations(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	a := c.addAircraft(t)
	flight, elsewhere := c.addFlight(t, newFlight(c, a.ID)), c.addFlight(t, newFlight(c, a.ID))
	var kept []techlog.KeptDetermination
	for range 3 {
		d := techlog.KeptDetermination{
			ID: newID(), Flight: flight.ID, At: noon, By: "P. Lot", Verdict: "limited", Record: `{"b": 1,  "a": "café <&>"}`,
		}
		kept = append(kept, d)
		c.must(t, func(tx hangar.Tx) { tx.AddDetermination(d) })
	}
	page := hangar.Page{Limit: 9}
	list := func(org, flight techlog.ID, page hangar.Page) []techlog.KeptDetermination {
		t.Helper()
		return get[[]techlog.KeptDetermination](t)(c.store.Determinations(ctx, org, flight, page))
	}
	same(t, "all of a flight", list(c.org, flight.ID, page), kept)
	same(t, "the rest of a flight", list(c.org, flight.ID, hangar.Page{Limit: 1, After: kept[0].ID}), kept[1:2])
	same(t, "of another flight", len(list(c.org, elsewhere.ID, page)), 0)
	same(t, "of another organization", len(list(other.org, flight.ID, page)), 0)
	same(t, "one", get[techlog.KeptDetermination](t)(c.store.Determination(ctx, c.org, kept[1].ID)), kept[1])
	_, err := c.store.Determination(ctx, other.org, kept[1].ID)
	wantKind(t, "the other's", err, techlog.KindNotFound)
	wantKind(t, "the same again", c.change(t, func(tx hangar.Tx) { tx.AddDetermination(kept[0]) }), techlog.KindConflict)
	orphan := kept[0]
	orphan.ID, orphan.Flight = newID(), newID()
	wantKind(t, "of no flight", c.change(t, func(tx hangar.Tx) { tx.AddDetermination(orphan) }), techlog.KindNotFound)
}
