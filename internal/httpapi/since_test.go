package httpapi_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
)

// TestACopyThatAsksForChangesIsExact keeps a copy of flights and squawks by nothing but what has changed since the last time, while
// flights are planned, moved, called off and held, squawks are filed, noted and confirmed. At any time the copy is
// what the lists say.
func TestACopyThatAsksForChangesIsExact(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	dice := rand.New(rand.NewPCG(3, 14))
	flights, squawks := map[string]string{}, map[string]string{}
	var at, squawksAt int64
	ask := func(list string, since int64, limit int, keep map[string]string) int64 {
		t.Helper()
		for {
			got := x.rig.ask(t, asked{method: "GET", path: fmt.Sprintf("/v1/%s?since=%d&limit=%d", list, since, limit)})
			var next client.EventPlace
			var more bool
			if list == "flights" {
				page := decoded[client.Flights](t, got, 200)
				for _, f := range page.Flights {
					keep[f.Id.String()] = marshal(t, f)
				}
				next, more = *page.Next, *page.More
			} else {
				page := decoded[client.Squawks](t, got, 200)
				for _, s := range page.Squawks {
					keep[s.Id.String()] = marshal(t, s)
				}
				next, more = *page.Next, *page.More
			}
			if next < since || more && next == since {
				t.Fatalf("%s: after %d comes %d", list, since, next)
			}
			if since = next; !more {
				return since
			}
		}
	}
	compare := func(when string) {
		t.Helper()
		at, squawksAt = ask("flights", at, 1+dice.IntN(5), flights), ask("squawks", squawksAt, 1+dice.IntN(5), squawks)
		seen := 0
		for _, f := range decoded[client.Flights](t, x.rig.ask(t, asked{method: "GET", path: "/v1/flights?limit=200"}), 200).Flights {
			if seen++; flights[f.Id.String()] != marshal(t, f) {
				t.Errorf("%s: the copy has\n%s\nfor\n%s", when, flights[f.Id.String()], marshal(t, f))
			}
		}
		for _, s := range decoded[client.Squawks](t, x.rig.ask(t, asked{method: "GET", path: "/v1/squawks?limit=200"}), 200).Squawks {
			if seen++; squawks[s.Id.String()] != marshal(t, s) {
				t.Errorf("%s: the copy has\n%s\nfor\n%s", when, squawks[s.Id.String()], marshal(t, s))
			}
		}
		if len(flights)+len(squawks) != seen {
			t.Errorf("%s: the copy has %d flights and %d squawks, there are %d of both", when, len(flights), len(squawks), seen)
		}
	}
	x.flight(t)
	stays := x.flight(t)
	steps := []string{"planFlight", "changeFlight", "cancelFlight", "fileSquawk", "addNote", "moveSquawk", "addBase"}
	for n := range 30 {
		step := steps[dice.IntN(len(steps))]
		x.rig.clock.advance(time.Duration(dice.IntN(2)) * time.Microsecond) // some changes have the same instant
		if got := x.rig.ask(t, x.good[step]()); got.status >= 300 {
			t.Fatalf("%s: %d %s", step, got.status, got.body)
		}
		if dice.IntN(3) == 0 {
			compare(fmt.Sprintf("after step %d, %s", n, step))
		}
	}
	compare("at the end")
	if flights[stays.Id.String()] == marshal(t, stays) {
		t.Error("nothing has touched a flight of the aircraft that squawks were filed on")
	}
	got := x.rig.ask(t, asked{method: "GET", path: "/v1/flights?since=1&cursor=AAAA"})
	if got.status != 422 || strings.Join(got.faults(t), "|") != "form query.cursor" && strings.Join(got.faults(t), "|") != "not-with-since query.cursor" {
		t.Errorf("%d %s", got.status, got.body)
	}
	if got := x.rig.ask(t, asked{method: "GET", path: "/v1/squawks?since=99999"}); got.status != 422 || strings.Join(got.faults(t), "|") != "known-place query.since" {
		t.Errorf("%d %s", got.status, got.body)
	}
	theirs := decoded[client.Flights](t, x.rig.ask(t, asked{method: "GET", path: "/v1/flights?since=0", token: x.rig.other}), 200)
	if len(theirs.Flights) != 0 {
		t.Errorf("a neighbor is told of %v", theirs.Flights)
	}
}
