package pages_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestBlocksAreKeptByHand holds that an aircraft is blocked, the block changed, taken back and made again, that whoever comes
// second is shown what it has become, and that a pilot is offered none of it.
func TestBlocksAreKeptByHand(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	aircraft := c.enter(base, "N012TW", "Tansy")
	flight := c.plan(aircraft, base, 20, "Pattern work")
	path := "/aircraft/" + aircraft.String() + "/blocks"
	one, two := c.signIn(scheduler), c.signIn(scheduler)
	empty := url.Values{"once": {hidden(t, one.get(path), "once")}, "until": {"2020-01-01T00:00"}}
	got := one.post(path, empty)
	for _, field := range []string{"kind", "words", "from"} {
		if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, `id="fault-`+field+`"`) {
			t.Errorf("%d, and no fault at %s", got.status, field)
		}
	}
	form := url.Values{
		"once": {hidden(t, got, "once")}, "kind": {"maintenance"}, "words": {"Annual inspection."},
		"from": {onTheWall(t, c.clock().Add(10*time.Hour))}, "until": {onTheWall(t, c.clock().Add(9*time.Hour))},
	}
	if got = one.post(path, form); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, `id="fault-until"`) || !strings.Contains(got.body, "Annual inspection.") {
		t.Errorf("it ends before it begins: %d", got.status)
	}
	form.Set("until", "")
	form.Set("once", hidden(t, got, "once"))
	for range 2 {
		if got = one.post(path, form); got.status != http.StatusSeeOther || !strings.HasSuffix(got.header.Get("Location"), "?done=1") {
			t.Fatalf("blocked: %d %s %s", got.status, got.header.Get("Location"), got.body)
		}
	}
	held := func(want bool) {
		t.Helper()
		if f := c.flights(hangar.FlightFilter{})[0]; (len(f.Hold.Blocks) > 0) != want {
			t.Errorf("flight %s is held by a block: %v", flight, !want)
		}
	}
	held(true)
	stand, err := c.service.Blocks(t.Context(), c.who, hangar.BlockFilter{Aircraft: aircraft}, hangar.Page{Limit: 10})
	if err != nil || len(stand) != 1 || !stand[0].Until.IsZero() || stand[0].By != "Sorrel Finch" {
		t.Fatalf("%+v, %v", stand, err)
	}
	block := "/blocks/" + stand[0].ID.String()
	page := one.get(block)
	if !strings.Contains(page.body, "Change the block") || !strings.Contains(page.body, form.Get("from")) {
		t.Errorf("%s", page.body)
	}
	two.get(block)
	change := url.Values{"once": {hidden(t, page, "once")}, "version": {"1"}, "kind": {"away"}, "words": {"At Harrow Point."}, "from": {form.Get("from")}, "until": {onTheWall(t, c.clock().Add(15*time.Hour))}}
	if got := one.post(block, change); got.status != http.StatusSeeOther {
		t.Fatalf("changed: %d %s", got.status, got.body)
	}
	held(false)
	late := url.Values{"once": {hidden(t, page, "once")}, "version": {"1"}, "kind": {"other"}, "words": {"I was second."}, "from": {form.Get("from")}, "until": {""}}
	late.Set("once", hidden(t, two.get(block), "once"))
	got = two.post(block, late)
	for _, want := range []string{"Somebody has changed this block meanwhile", "At Harrow Point.", "I was second.", `name="version" value="2"`} {
		if got.status != http.StatusConflict || !strings.Contains(got.body, want) {
			t.Errorf("whoever is second: %d, without %s", got.status, want)
		}
	}
	late.Set("version", "2")
	late.Set("once", hidden(t, got, "once"))
	if got := two.post(block, late); got.status != http.StatusSeeOther {
		t.Fatalf("again: %d %s", got.status, got.body)
	}
	held(true)
	back := url.Values{"once": {hidden(t, one.get(path), "once")}, "version": {"3"}}
	for range 2 {
		if got := one.post(block+"/cancel", back); got.status != http.StatusSeeOther {
			t.Fatalf("taken back: %d %s", got.status, got.body)
		}
	}
	held(false)
	page = one.get(path)
	if !strings.Contains(page.body, "Undo: block it again") {
		t.Errorf("%s", page.body)
	}
	again := url.Values{"once": {hidden(t, page, "once")}}
	for range 2 {
		if got := one.post(block+"/again", again); got.status != http.StatusSeeOther {
			t.Fatalf("undone: %d %s", got.status, got.body)
		}
	}
	held(true)
	p := c.signIn(pilot)
	if page := p.get(path); strings.Contains(page.body, "Block it") || !strings.Contains(page.body, "I was second.") {
		t.Errorf("a pilot is offered it: %s", page.body)
	}
	form.Set("form_token", p.form)
	if got := p.post(path, form); got.status != http.StatusForbidden {
		t.Errorf("a pilot blocks: %d", got.status)
	}
}

// blockOf keeps an aircraft from flying until further notice.
func (c *club) blockOf(aircraft techlog.ID) techlog.ID {
	c.t.Helper()
	answer, err := c.service.BlockAircraft(c.t.Context(), c.who, aircraft, hangar.BlockPlan{From: c.clock(), Kind: techlog.BlockedAway, Words: "Away."}, nil,
		func(b hangar.BlockedAircraft) ([]byte, error) { return json.Marshal(b.Block.ID) })
	return parsed(c.t, answer, err)
}

// TestWhatIsInTheWayIsToldBeforePlanning holds that judging a flight tells what is planned with its aircraft then and what keeps
// it from flying, but not the flight itself that is changed; and that a flight moved to an aircraft which cannot make it
// says why, and stays where it is.
func TestWhatIsInTheWayIsToldBeforePlanning(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	aircraft, blocked := c.enter(base, "N012TW", "Tansy"), c.enter(base, "N014TW", "Tansy")
	flight := c.plan(aircraft, base, 20, "Pattern work")
	c.block(blocked, "Annual inspection.")
	v := c.signIn(scheduler)
	v.get("/flights/new")
	if got := v.judge("/flights/new", c.planned(aircraft, 20.5, "A second")); !strings.Contains(got.body, "Another flight is planned with it then") || !strings.Contains(got.body, flight.String()) {
		t.Errorf("what overlaps is not told: %s", got.body)
	}
	change := c.planned(aircraft, 20.5, "Later")
	change.Set("version", "1")
	if got := v.judge("/flights/"+flight.String()+"/change", change); got.status != http.StatusOK || strings.Contains(got.body, "Another flight is planned with it then") {
		t.Errorf("a flight is in its own way: %d", got.status)
	}
	got := v.judge("/flights/new", c.planned(blocked, 20, "Anyway"))
	for _, want := range []string{"Somebody keeps it from flying then", "Annual inspection.", "Plan it all the same: it is held"} {
		if !strings.Contains(got.body, want) {
			t.Errorf("judging does not say %s", want)
		}
	}
	page := v.get("/flights/" + flight.String())
	for _, want := range []string{"Other aircraft for it", "No other aircraft is free and may make it as it is.", "Annual inspection."} {
		if !strings.Contains(page.body, want) {
			t.Errorf("the flight does not say %s", want)
		}
	}
	move := url.Values{"version": {"1"}, "aircraft": {newID().String()}, "once": {hidden(t, page, "once")}}
	if got := v.post("/flights/"+flight.String()+"/move", move); got.status != http.StatusNotFound {
		t.Errorf("to nobody's aircraft: %d", got.status)
	}
	move.Set("aircraft", "x")
	if got := v.post("/flights/"+flight.String()+"/move", move); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "no aircraft is chosen") {
		t.Errorf("to none: %d", got.status)
	}
}
