package storetest

import (
	"context"
	"slices"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func testNotFound(t *testing.T, c *club) {
	ctx, absent := t.Context(), newID()
	for what, read := range map[string]func() error{
		"base":          func() error { _, err := c.store.Base(ctx, c.org, absent); return err },
		"aircraft":      func() error { _, err := c.store.Aircraft(ctx, c.org, absent); return err },
		"squawk":        func() error { _, err := c.store.Squawk(ctx, c.org, absent); return err },
		"flight":        func() error { _, err := c.store.Flight(ctx, c.org, absent); return err },
		"state version": func() error { _, err := c.store.StateVersion(ctx, c.org, absent); return err },
		"snapshot": func() error {
			_, err := c.store.Snapshot(ctx, c.org, hangar.Want{Aircraft: absent, FlightsFrom: noon})
			return err
		},
		"snapshot of a known plan": func() error {
			_, err := c.store.Snapshot(ctx, c.org, hangar.Want{Aircraft: absent, KnownPlan: 1})
			return err
		},
		"aircraft to be locked": func() error {
			return c.change(t, func(hangar.Tx) { t.Error("the change ran without its aircraft") }, hangar.Want{Aircraft: absent})
		},
		"base within a change": func() error {
			return c.within(ctx, func(ctx context.Context, tx hangar.Tx) error { _, err := tx.Base(ctx, absent); return err })
		},
		"squawk within a change": func() error {
			return c.within(ctx, func(ctx context.Context, tx hangar.Tx) error { _, err := tx.Squawk(ctx, absent); return err })
		},
		"flight within a change": func() error {
			return c.within(ctx, func(ctx context.Context, tx hangar.Tx) error { _, err := tx.Flight(ctx, absent); return err })
		},
	} {
		wantKind(t, what, read(), techlog.KindNotFound)
	}
	if n := len(get[[]techlog.HistoryEntry](t)(c.store.History(ctx, c.org, absent))); n > 0 {
		t.Errorf("%d entries of a squawk that is not there", n)
	}
	if n := len(get[[]techlog.ConfigurationRevision](t)(c.store.Configurations(ctx, c.org, absent, hangar.Page{Limit: 9}))); n > 0 {
		t.Errorf("%d configurations of an aircraft that is not there", n)
	}
}

// within runs f in a change that writes nothing.
func (c *club) within(ctx context.Context, f func(context.Context, hangar.Tx) error) error {
	_, err := c.store.Change(ctx, hangar.Scope{Organization: c.org, At: noon}, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
		return nil, f(ctx, tx)
	})
	return err
}

// testLists walks every list that is paged by identifiers, with pages that divide it and pages that do not.
func testLists(t *testing.T, c *club) {
	bases := []techlog.ID{c.base.ID, c.other.ID}
	var aircraft, squawks, flights []techlog.ID
	for i := range 7 {
		base := newBase(string(rune('0' + i)))
		c.must(t, func(tx hangar.Tx) { tx.AddBase(base) })
		bases = append(bases, base.ID)
		aircraft = append(aircraft, c.addAircraft(t).ID)
		squawks = append(squawks, c.addSquawk(t, newSquawk(aircraft[i/2], i+1)).ID)
		flights = append(flights, c.addFlight(t, newFlight(c, aircraft[0])).ID)
	}
	slices.Reverse(squawks) // newest first
	ctx := t.Context()
	for what, list := range map[string]struct {
		want []techlog.ID
		page func(hangar.Page) []techlog.ID
	}{
		"bases": {bases, func(p hangar.Page) []techlog.ID {
			return ids(get[[]techlog.Base](t)(c.store.Bases(ctx, c.org, p)), func(b techlog.Base) techlog.ID { return b.ID })
		}},
		"fleet": {aircraft, func(p hangar.Page) []techlog.ID {
			return ids(get[[]techlog.Aircraft](t)(c.store.Fleet(ctx, c.org, p)), func(a techlog.Aircraft) techlog.ID { return a.ID })
		}},
		"squawks": {squawks, func(p hangar.Page) []techlog.ID {
			return ids(get[[]techlog.Squawk](t)(c.store.Squawks(ctx, c.org, hangar.SquawkFilter{}, p)), func(s techlog.Squawk) techlog.ID { return s.ID })
		}},
		"flights": {flights, func(p hangar.Page) []techlog.ID {
			return ids(get[[]techlog.Flight](t)(c.store.Flights(ctx, c.org, hangar.FlightFilter{}, p)), func(f techlog.Flight) techlog.ID { return f.ID })
		}},
	} {
		for _, limit := range []int{1, 3, len(list.want), 100} {
			var got []techlog.ID
			for page := (hangar.Page{Limit: limit}); ; page.After = got[len(got)-1] {
				records := list.page(page)
				if len(records) > limit {
					t.Fatalf("%s: %d records on a page of %d", what, len(records), limit)
				}
				got = append(got, records...)
				if len(records) < limit || len(got) > len(list.want) {
					break
				}
			}
			if !slices.Equal(got, list.want) {
				t.Errorf("%s, %d a page:\n got %v\nwant %v", what, limit, got, list.want)
			}
		}
	}
}

func testSquawkFilter(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	var all []techlog.Squawk
	for i := range 3 {
		for _, aircraft := range []techlog.ID{a.ID, b.ID} {
			s := c.addSquawk(t, newSquawk(aircraft, i+1))
			switch i {
			case 1:
				s = deferred(s, newDeferral())
			case 2:
				s = moved(s, techlog.Closed)
			}
			if i > 0 {
				c.must(t, func(tx hangar.Tx) {
					tx.UpdateSquawk(s)
					tx.AddHistory(entryOf(s, techlog.StepClose))
				})
			}
			all = append([]techlog.Squawk{s}, all...)
		}
	}
	for _, aircraft := range []techlog.ID{{}, a.ID, b.ID, newID()} {
		for _, state := range append(techlog.SquawkStates(), "") {
			filter := hangar.SquawkFilter{Aircraft: aircraft, State: state}
			want := slices.DeleteFunc(slices.Clone(all), func(s techlog.Squawk) bool {
				return !aircraft.IsZero() && s.Aircraft != aircraft || state != "" && s.State != state
			})
			got := get[[]techlog.Squawk](t)(c.store.Squawks(t.Context(), c.org, filter, hangar.Page{Limit: 9}))
			same(t, asJSON(t, filter), got, want)
			if len(want) > 1 {
				rest := get[[]techlog.Squawk](t)(c.store.Squawks(t.Context(), c.org, filter, hangar.Page{Limit: 9, After: want[0].ID}))
				same(t, "after the first, "+asJSON(t, filter), rest, want[1:])
			}
		}
	}
}

func testFlightFilter(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	var all []techlog.Flight
	for i, verdict := range append(airworthiness.Verdicts(), airworthiness.Verdicts()...) {
		f := newFlight(c, a.ID)
		if i%3 == 0 {
			f.Aircraft = b.ID
		}
		if i%4 == 0 {
			f.State = techlog.Cancelled
		}
		f = over(c, f, noon.Add(time.Duration(i)*time.Hour), noon.Add(time.Duration(i)*time.Hour+90*time.Minute))
		f.Hold.Verdict, f.Hold.Blocks = verdict.String(), nil
		f.Hold = heldBy(f.Hold)
		all = append(all, c.addFlight(t, f))
	}
	instants := []time.Time{{}, all[4].Departs, all[4].Arrives, all[4].Arrives.Add(time.Microsecond)}
	n := 0
	for _, aircraft := range []techlog.ID{{}, a.ID} {
		for _, state := range []techlog.FlightState{"", techlog.Planned, techlog.Cancelled} {
			for _, held := range []*bool{nil, new(true), new(false)} {
				for _, ends := range instants {
					for _, departs := range instants {
						filter := hangar.FlightFilter{Aircraft: aircraft, State: state, Held: held, EndsAfter: ends, DepartBefore: departs}
						want := slices.DeleteFunc(slices.Clone(all), func(f techlog.Flight) bool { return !picks(filter, f) })
						got := get[[]techlog.Flight](t)(c.store.Flights(t.Context(), c.org, filter, hangar.Page{Limit: 99}))
						same(t, asJSON(t, filter), got, want)
						n += len(want)
					}
				}
			}
		}
	}
	if n == 0 {
		t.Error("no filter picked anything")
	}
	same(t, "after the first", get[[]techlog.Flight](t)(
		c.store.Flights(t.Context(), c.org, hangar.FlightFilter{EndsAfter: noon}, hangar.Page{Limit: 2, After: all[0].ID})), all[1:3])
}

// picks says what a filter means.
func picks(filter hangar.FlightFilter, f techlog.Flight) bool {
	return (filter.Aircraft.IsZero() || f.Aircraft == filter.Aircraft) &&
		(filter.State == "" || f.State == filter.State) &&
		(filter.EndsAfter.IsZero() || f.Arrives.After(filter.EndsAfter)) &&
		(filter.DepartBefore.IsZero() || f.Departs.Before(filter.DepartBefore)) &&
		(filter.Held == nil || f.Hold.Holds() == *filter.Held)
}
