package hangar_test

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// changesAreTold holds, when a test is over, that whoever asks again and again for what has changed has every flight and
// every squawk at the end as it is: whatever wrote one has an event that leads to it.
func (c *club) changesAreTold(org techlog.ID) {
	c.t.Helper()
	ctx, who := context.Background(), techlog.Principal{Organization: org}
	flights, squawks := map[techlog.ID]techlog.Flight{}, map[techlog.ID]techlog.Squawk{}
	follow(c.t, func(since int64) (int64, bool) {
		changed, err := c.service.FlightsSince(ctx, who, since, hangar.FlightFilter{}, 3)
		if err != nil {
			c.t.Fatal(err)
		}
		for _, f := range changed.Records {
			flights[f.ID] = f
		}
		return changed.Next, changed.More
	})
	follow(c.t, func(since int64) (int64, bool) {
		changed, err := c.service.SquawksSince(ctx, who, since, hangar.SquawkFilter{}, 3)
		if err != nil {
			c.t.Fatal(err)
		}
		for _, s := range changed.Records {
			squawks[s.ID] = s
		}
		return changed.Next, changed.More
	})
	page := hangar.Page{Limit: 100000}
	all, err := c.store.Flights(ctx, org, hangar.FlightFilter{}, page)
	if err != nil {
		c.t.Fatal(err)
	}
	for _, f := range all {
		if told, ok := flights[f.ID]; !ok || fmt.Sprintf("%+v", told.Hold) != fmt.Sprintf("%+v", f.Hold) || told.Sequence != f.Sequence || !told.ChangedAt.Equal(f.ChangedAt) {
			c.t.Errorf("flight %s: what was told is not how it is:\n%+v\n%+v", f.ID, told, f)
		}
	}
	open, err := c.store.Squawks(ctx, org, hangar.SquawkFilter{}, page)
	if err != nil {
		c.t.Fatal(err)
	}
	for _, s := range open {
		if told, ok := squawks[s.ID]; !ok || told.Version != s.Version || told.State != s.State {
			c.t.Errorf("squawk %s: what was told is not how it is:\n%+v\n%+v", s.ID, told, s)
		}
	}
	if len(flights) != len(all) || len(squawks) != len(open) {
		c.t.Errorf("told of %d flights and %d squawks, there are %d and %d", len(flights), len(squawks), len(all), len(open))
	}
}

// everyKindIsKnown holds that a filter can name whatever was told.
func (c *club) everyKindIsKnown(org techlog.ID) {
	c.t.Helper()
	events, err := c.store.Events(context.Background(), org, 0, 100000)
	if err != nil {
		c.t.Fatal(err)
	}
	for _, e := range events {
		if !techlog.KnownKind(e.Kind) {
			c.t.Errorf("no filter can name the kind %s", e.Kind)
		}
	}
}

// follow goes on from place to place until there is no more.
func follow(t testing.TB, read func(since int64) (next int64, more bool)) {
	t.Helper()
	for since, more := int64(0), true; more; {
		var next int64
		if next, more = read(since); next < since || more && next == since {
			t.Fatalf("after place %d comes %d", since, next)
		}
		since = next
	}
}

// TestWhatIsPicked holds which events a filter picks, and that a page says how far it looked.
func TestWhatIsPicked(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	ctx := t.Context()
	other := c.enter("trainer", "N034TW")
	whole, err := c.service.Events(ctx, c.who, 0, hangar.EventFilter{}, 200)
	if err != nil || whole.More || int64(len(whole.Events)) != whole.Next || whole.Next == 0 {
		t.Fatalf("%+v, %v", whole, err)
	}
	pick := func(f hangar.EventFilter) []int64 {
		t.Helper()
		picked := []int64{}
		follow(t, func(since int64) (int64, bool) {
			page, err := c.service.Events(ctx, c.who, since, f, 1)
			if err != nil || len(page.Events) > 1 {
				t.Fatalf("%+v, %v", page, err)
			}
			for _, e := range page.Events {
				picked = append(picked, e.Place)
			}
			return page.Next, page.More
		})
		return picked
	}
	want := func(is func(techlog.Event) bool) []int64 {
		places := []int64{}
		for _, e := range whole.Events {
			if is(e) {
				places = append(places, e.Place)
			}
		}
		return places
	}
	for what, q := range map[string]struct {
		filter hangar.EventFilter
		is     func(techlog.Event) bool
	}{
		"all":         {hangar.EventFilter{}, func(techlog.Event) bool { return true }},
		"a kind":      {hangar.EventFilter{Kinds: []string{"base.added"}}, func(e techlog.Event) bool { return e.Kind == "base.added" }},
		"a family":    {hangar.EventFilter{Kinds: []string{"aircraft"}}, func(e techlog.Event) bool { return e.Kind == "aircraft.added" || e.Kind == "aircraft.changed" }},
		"an aircraft": {hangar.EventFilter{Aircraft: other}, func(e techlog.Event) bool { return e.Aircraft == other }},
		"two kinds": {
			hangar.EventFilter{Kinds: []string{"base.added", "aircraft"}, Aircraft: other},
			func(e techlog.Event) bool { return e.Aircraft == other && e.Kind == "aircraft.added" },
		},
		"none yet": {hangar.EventFilter{Kinds: []string{"squawk.filed"}}, func(techlog.Event) bool { return false }},
	} {
		if got, want := pick(q.filter), want(q.is); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	for _, kinds := range [][]string{{"squak"}, {""}, {"squawk."}, {"squawk.filed", "SQUAWK"}, {"squawk.filed "}} {
		_, err := c.service.Events(ctx, c.who, 0, hangar.EventFilter{Kinds: kinds}, 9)
		if techlog.KindOf(err) != techlog.KindInvalid {
			t.Errorf("%q: %v", kinds, err)
		}
	}
	if _, err := c.service.Events(ctx, c.who, whole.Next+1, hangar.EventFilter{}, 9); techlog.KindOf(err) != techlog.KindInvalid {
		t.Errorf("a place that nothing has happened at: %v", err)
	}
	if page, err := c.service.Events(ctx, c.who, whole.Next, hangar.EventFilter{}, 9); err != nil || len(page.Events) > 0 || page.Next != whole.Next {
		t.Errorf("after the last: %+v, %v", page, err)
	}
}

// TestEveryEventIsOfAKnownFamily holds that a filter can name whatever the use cases tell.
func TestEveryEventIsOfAKnownFamily(t *testing.T) {
	t.Parallel()
	for _, family := range techlog.EventFamilies() {
		if !techlog.KnownKind(family) || !techlog.KnownKind(family+".some-thing") || techlog.KnownKind(family+"x") {
			t.Errorf("%s is not known", family)
		}
		e := techlog.Event{Kind: family + ".done"}
		if !e.IsOf([]string{family}) || !e.IsOf([]string{"x", family + ".done"}) || !e.IsOf(nil) || e.IsOf([]string{family + ".don"}) || e.IsOf([]string{"x"}) {
			t.Errorf("%s is not of its family", e.Kind)
		}
	}
}
