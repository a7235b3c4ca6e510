package storetest

import (
	"context"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func newBlock(aircraft techlog.ID) techlog.Block {
	return techlog.Block{
		ID: newID(), Aircraft: aircraft, From: noon, Until: noon.Add(48 * time.Hour), Kind: techlog.BlockedForMaintenance, Words: "annual – 灯", By: "M. Chanic",
		At: noon.Add(-time.Hour), Version: 1,
	}
}

// testBlocks: a block is changed and cancelled, and an aircraft is read with those that stand.
func testBlocks(t *testing.T, c *club) {
	a, other := c.addAircraft(t), c.addAircraft(t)
	first, open, past, elsewhere := newBlock(a.ID), newBlock(a.ID), newBlock(a.ID), newBlock(other.ID)
	open.Until, open.Kind = time.Time{}, techlog.BlockedAway
	past.From, past.Until = noon.AddDate(0, -3, 0), noon.AddDate(0, -2, 0)
	c.must(t, func(tx hangar.Tx) {
		for _, b := range []techlog.Block{first, open, past, elsewhere} {
			tx.AddBlock(b)
		}
	})
	stored := func(id techlog.ID) techlog.Block { return get[techlog.Block](t)(c.store.Block(t.Context(), c.org, id)) }
	same(t, "as made", stored(first.ID), first)
	same(t, "until further notice", stored(open.ID), open)
	_, err := c.store.Block(t.Context(), c.org, newID())
	wantKind(t, "no block", err, techlog.KindNotFound)

	changed := first
	changed.From, changed.Until, changed.Kind, changed.Words, changed.Version = noon.Add(time.Hour), noon.Add(2*time.Hour), techlog.BlockedOtherwise, "oil", 2
	c.must(t, func(tx hangar.Tx) { tx.UpdateBlock(changed) })
	same(t, "as changed", stored(first.ID), changed)
	wantKind(t, "an old version", c.change(t, func(tx hangar.Tx) { tx.UpdateBlock(changed) }), techlog.KindStale)
	moved := changed
	moved.Version, moved.Aircraft = 3, other.ID
	wantKind(t, "another aircraft", c.change(t, func(tx hangar.Tx) { tx.UpdateBlock(moved) }), techlog.KindStale)
	spoilt := newBlock(a.ID)
	spoilt.Until = spoilt.From
	wantFault(t, "a window that is none", c.change(t, func(tx hangar.Tx) { tx.AddBlock(spoilt) }), "until")
	wantKind(t, "no aircraft", c.change(t, func(tx hangar.Tx) { tx.AddBlock(newBlock(newID())) }), techlog.KindNotFound)

	list := func(f hangar.BlockFilter, page hangar.Page) []techlog.Block {
		f.Aircraft = a.ID
		return get[[]techlog.Block](t)(c.store.Blocks(t.Context(), c.org, f, page))
	}
	all := hangar.Page{Limit: 9}
	same(t, "all", list(hangar.BlockFilter{}, all), []techlog.Block{changed, open, past})
	same(t, "the second", list(hangar.BlockFilter{}, hangar.Page{Limit: 1, After: first.ID}), []techlog.Block{open})
	same(t, "those to come", list(hangar.BlockFilter{EndsAfter: noon}, all), []techlog.Block{changed, open})
	same(t, "those that begin before", list(hangar.BlockFilter{BeginsBefore: noon}, all), []techlog.Block{past})
	same(t, "of the snapshot", get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, hangar.Want{Aircraft: a.ID, FlightsFrom: noon})).Blocks, []techlog.Block{changed, open})
	same(t, "of one without flights", get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, hangar.Want{Aircraft: a.ID})).Blocks, []techlog.Block{changed, open, past})

	cancelled := changed
	cancelled.Cancelled, cancelled.Version = true, 3
	c.must(t, func(tx hangar.Tx) { tx.UpdateBlock(cancelled) })
	same(t, "without the cancelled", list(hangar.BlockFilter{EndsAfter: noon}, all), []techlog.Block{open})
	same(t, "with it", list(hangar.BlockFilter{EndsAfter: noon, Cancelled: true}, all), []techlog.Block{cancelled, open})
	err = c.within(t.Context(), func(ctx context.Context, tx hangar.Tx) error {
		same(t, "within a change", get[techlog.Block](t)(tx.Block(ctx, first.ID)), cancelled)
		return nil
	})
	if err != nil {
		t.Error(err)
	}

	// A hold keeps its blocks, and a flight that only a block holds is found among the held.
	f := c.addFlight(t, newFlight(c, a.ID))
	f.Hold = heldBy(techlog.Hold{Verdict: "clear", Rules: "book", At: noon})
	f.Hold.Blocks, f.Sequence = []techlog.ID{open.ID, past.ID}, 2
	c.must(t, func(tx hangar.Tx) { tx.SetHolds([]techlog.Flight{f}) })
	same(t, "held", get[[]techlog.Flight](t)(c.store.Flights(t.Context(), c.org, hangar.FlightFilter{Held: new(true)}, all)), []techlog.Flight{f})
	same(t, "not held", get[[]techlog.Flight](t)(c.store.Flights(t.Context(), c.org, hangar.FlightFilter{Held: new(false)}, all)), []techlog.Flight{})
}

// testShown: what was shown stays letter by letter.
func testShown(t *testing.T, c *club) {
	f := c.addFlight(t, newFlight(c, c.addAircraft(t).ID))
	other := c.addFlight(t, newFlight(c, f.Aircraft))
	kept := func(flight techlog.ID) techlog.Shown {
		return techlog.Shown{
			ID: newID(), Flight: flight, Person: newID(), Name: "P. Lot", At: noon, By: "S. Cheduler", Verdict: "limited", Shown: `{"b": 1.50, "a": "灯"}`,
		}
	}
	first, second, elsewhere := kept(f.ID), kept(f.ID), kept(other.ID)
	c.must(t, func(tx hangar.Tx) {
		tx.AddShown(first)
		tx.AddShown(second)
		tx.AddShown(elsewhere)
	})
	list := func(page hangar.Page) []techlog.Shown {
		return get[[]techlog.Shown](t)(c.store.Shown(t.Context(), c.org, f.ID, page))
	}
	same(t, "all", list(hangar.Page{Limit: 9}), []techlog.Shown{first, second})
	same(t, "after the first", list(hangar.Page{Limit: 9, After: first.ID}), []techlog.Shown{second})
	wantKind(t, "no flight", c.change(t, func(tx hangar.Tx) { tx.AddShown(kept(newID())) }), techlog.KindNotFound)
}
