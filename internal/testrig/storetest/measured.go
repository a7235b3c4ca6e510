package storetest

import (
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// testMeasured holds that measurements are read over the newest walkarounds of one aircraft alone, with the book of its
// time in service, and that a stamp changes with whatever a status may say.
func testMeasured(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	a, b := c.addAircraft(t), c.addAircraft(t)
	composed := newComposed(newTemplate())
	measured := func(aircraft techlog.ID, levels ...float64) walkaround.Walkaround {
		t.Helper()
		w := newWalkaround(t, aircraft, techlog.ID{}, composed)
		c.must(t, func(tx hangar.Tx) { tx.AddWalkaround(w, composed) })
		r := walkaround.Report{Walkaround: w.ID, Number: 1, At: noon, By: "P. Lot", Results: newResults()[3:]} // one that measures nothing
		for i, level := range levels {
			r.Results = append(r.Results, walkaround.Result{
				ID: newID(), Check: "oil-level", Outcome: walkaround.Good, MadeAt: noon.Add(time.Duration(i) * time.Minute), Said: walkaround.Answer{Value: new(level)},
			})
		}
		c.must(t, func(tx hangar.Tx) {
			w.Version++
			tx.UpdateWalkaround(w)
			tx.AddReport(r)
		})
		return w
	}
	read := func(org, aircraft techlog.ID, walkarounds, readings int) hangar.Measured {
		t.Helper()
		return get[hangar.Measured](t)(c.store.Measured(ctx, org, aircraft, walkarounds, readings))
	}
	stamp := func() hangar.Stamp {
		t.Helper()
		return get[hangar.Stamp](t)(c.store.Stamp(ctx, c.org, a.ID))
	}
	same(t, "nothing measured", len(read(c.org, a.ID, 9, 9).Measurements), 0)
	stamps := []hangar.Stamp{stamp()}
	first := measured(a.ID, 7.5)
	stamps = append(stamps, stamp())
	last := measured(a.ID, 7.25, 8)
	measured(b.ID, 1)
	stamps = append(stamps, stamp())
	last.Version++
	c.must(t, func(tx hangar.Tx) { tx.UpdateWalkaround(last) }) // as each report does
	stamps = append(stamps, stamp())
	for i, hours := range []float64{100, 101.5, 103} {
		c.must(t, func(tx hangar.Tx) {
			tx.AddBookEntry(walkaround.BookEntry{Aircraft: a.ID, Meter: walkaround.TimeInService, Number: i + 1, Hours: hours, At: noon, By: "P. Lot"})
			tx.AddBookEntry(walkaround.BookEntry{Aircraft: a.ID, Meter: walkaround.Hobbs, Number: i + 1, Hours: 2 * hours, At: noon, By: "P. Lot"})
		})
		stamps = append(stamps, stamp())
	}
	c.must(t, func(tx hangar.Tx) { tx.Touch(a.ID) })
	stamps = append(stamps, stamp())
	for i := range stamps {
		for n := range i {
			if stamps[i] == stamps[n] {
				t.Errorf("stamp %d is that of %d: %+v", i, n, stamps[i])
			}
		}
	}

	m := read(c.org, a.ID, 9, 9)
	var values []float64
	for _, v := range m.Measurements {
		values = append(values, v.Value)
		if v.Check != "oil-level" || v.Checklist != first.Checklist || v.Result.IsZero() || v.At.Before(noon) {
			t.Errorf("%+v", v)
		}
	}
	same(t, "what was measured", values, []float64{7.5, 7.25, 8})
	same(t, "on which walkaround", []techlog.ID{m.Measurements[0].Walkaround, m.Measurements[2].Walkaround}, []techlog.ID{first.ID, last.ID})
	var hours []float64
	for _, e := range m.InService {
		hours = append(hours, e.Hours)
	}
	same(t, "the book in its order", hours, []float64{100, 101.5, 103})
	m = read(c.org, a.ID, 1, 2)
	same(t, "of the newest walkaround", len(m.Measurements), 2)
	same(t, "the newest entries", []float64{m.InService[0].Hours, m.InService[1].Hours}, []float64{101.5, 103})
	m = read(other.org, a.ID, 9, 9)
	same(t, "the other's", len(m.Measurements)+len(m.InService), 0)
	for what, org := range map[string]techlog.ID{"the other's stamp": other.org, "the stamp of nothing": newID()} {
		_, err := c.store.Stamp(ctx, org, a.ID)
		wantKind(t, what, err, techlog.KindNotFound)
	}
}
