package storetest

import (
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// testExpected keeps what is expected of a squawk: the last that was said, and each time in its history.
func testExpected(t *testing.T, c *club) {
	a := c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	expect := func(expected *techlog.Expected) {
		t.Helper()
		s.Version++
		s.Expected = expected
		entry := entryOf(s, techlog.StepExpect)
		if expected != nil {
			entry.Expected = expected.On
		}
		c.must(t, func(tx hangar.Tx) {
			tx.UpdateSquawk(s)
			tx.AddHistory(entry)
		})
		same(t, "read", get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, s.ID)), s)
		same(t, "in a snapshot", get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, hangar.Want{Aircraft: a.ID})).Squawks, []techlog.Squawk{s})
		history := get[[]techlog.HistoryEntry](t)(c.store.History(t.Context(), c.org, s.ID))
		same(t, "its entry", history[len(history)-1], entry)
	}
	expect(&techlog.Expected{On: "2031-06-03", Words: "the lens is on order"})
	expect(&techlog.Expected{On: "2031-06-17", Words: "the lens is late"})
	expect(nil)
	for name, change := range map[string]func(s *techlog.Squawk, e *techlog.HistoryEntry){
		"of a closed squawk":                func(s *techlog.Squawk, e *techlog.HistoryEntry) { s.State, e.State = techlog.Closed, techlog.Closed },
		"without words":                     func(s *techlog.Squawk, _ *techlog.HistoryEntry) { s.Expected.Words = "" },
		"by another step":                   func(_ *techlog.Squawk, e *techlog.HistoryEntry) { e.Step = techlog.StepNote },
		"on a day that is none":             func(s *techlog.Squawk, _ *techlog.HistoryEntry) { s.Expected.On = "2031-02-30" },
		"on a day of an entry that is none": func(_ *techlog.Squawk, e *techlog.HistoryEntry) { e.Expected = "in June" },
	} {
		changed := s
		changed.Version++
		changed.Expected = &techlog.Expected{On: "2031-06-17", Words: "on order"}
		entry := entryOf(changed, techlog.StepExpect)
		entry.Expected = changed.Expected.On
		change(&changed, &entry)
		err := c.change(t, func(tx hangar.Tx) {
			tx.UpdateSquawk(changed)
			tx.AddHistory(entry)
		})
		if err == nil {
			t.Errorf("something is expected %s", name)
		}
	}
}

// testSurvey reads many aircraft as each is read by itself.
func testSurvey(t *testing.T, c *club) {
	var ids []techlog.ID
	want := hangar.Survey{}
	for range 4 {
		a := c.addAircraft(t)
		c.history(t, a.ID, noon)
		c.must(t, func(tx hangar.Tx) {
			tx.AddBlock(newBlock(a.ID))
			for n := range 3 {
				tx.AddBookEntry(walkaround.BookEntry{
					Aircraft: a.ID, Meter: walkaround.TimeInService, Number: n + 1, Hours: 100 + float64(n), At: noon.Add(time.Duration(n) * time.Hour), By: "P. Lot",
				})
			}
		})
		ids = append(ids, a.ID)
		snap := get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, hangar.Want{Aircraft: a.ID}))
		want.Aircraft = append(want.Aircraft, snap)
	}
	same(t, "the fleet", get[[]techlog.ID](t)(c.store.FleetIDs(t.Context(), c.org, 100)), ids)
	same(t, "a part of the fleet", get[[]techlog.ID](t)(c.store.FleetIDs(t.Context(), c.org, 2)), ids[:2])

	asked := hangar.SurveyWant{Aircraft: append([]techlog.ID{newID(), ids[3], ids[3]}, ids[:3]...), Bases: []techlog.ID{c.other.ID, newID()}}
	read := get[hangar.Survey](t)(c.store.Survey(t.Context(), c.org, asked))
	same(t, "the bases", read.Bases, []techlog.Base{c.base, c.other})
	same(t, "the aircraft", read.Aircraft, want.Aircraft)

	if a := read.Aircraft[0]; len(a.Blocks) != 1 || len(a.InService) != 2 || len(a.Squawks) != 2 {
		t.Errorf("nothing is read of %+v", a)
	}
	late := get[hangar.Survey](t)(c.store.Survey(t.Context(), c.org, hangar.SurveyWant{Aircraft: ids[:1], BlocksFrom: noon.AddDate(10, 0, 0)}))
	if n := len(late.Aircraft[0].Blocks); n != 0 {
		t.Errorf("%d blocks are read that have ended", n)
	}

	known := map[techlog.ID]int{ids[0]: want.Aircraft[0].Aircraft.PlanVersion, ids[1]: want.Aircraft[1].Aircraft.PlanVersion + 1, newID(): 1}
	read = get[hangar.Survey](t)(c.store.Survey(t.Context(), c.org, hangar.SurveyWant{Aircraft: ids, Known: known}))
	want.Aircraft[0].PlanKnown, want.Aircraft[0].Aircraft.Facts, want.Aircraft[0].Aircraft.Configuration = true, casefile.Facts{}, casefile.Configuration{}
	want.Aircraft[0].InService = nil
	same(t, "the aircraft, of one of which the plan is known", read.Aircraft, want.Aircraft)

	// Flights that overlap: of those of history two end at noon or earlier, one a microsecond and one an hour later, each two hours long.
	for _, s := range []struct {
		from, to time.Time
		flights  int
	}{
		{noon, noon.Add(time.Minute), 2},
		{noon.Add(-time.Hour), noon.Add(time.Microsecond), 3},
		{noon.Add(-3 * time.Hour), noon.Add(-2 * time.Hour), 1},
		{noon.Add(-3 * time.Hour), noon.Add(-3 * time.Hour).Add(time.Microsecond), 1},
		{noon.Add(time.Hour), noon.Add(2 * time.Hour), 0},
		{noon.Add(-40 * 24 * time.Hour), noon.Add(-39 * 24 * time.Hour), 0},
		{noon.Add(-40 * 24 * time.Hour), noon.Add(40 * 24 * time.Hour), 4},
	} {
		read := get[hangar.Survey](t)(c.store.Survey(t.Context(), c.org, hangar.SurveyWant{Aircraft: ids[:1], From: s.from, To: s.to}))
		if got := len(read.Aircraft[0].Flights); got != s.flights {
			t.Errorf("from %v to %v there are %d flights, want %d", s.from, s.to, got, s.flights)
		}
		for _, f := range read.Aircraft[0].Flights {
			same(t, "a flight", f, get[techlog.Flight](t)(c.store.Flight(t.Context(), c.org, f.ID)))
		}
	}
	other := newClub(t, c.store, c.keeper)
	if read := get[hangar.Survey](t)(c.store.Survey(t.Context(), other.org, asked)); len(read.Aircraft) != 0 || len(read.Bases) != 0 {
		t.Errorf("another organization reads %+v", read)
	}
}
