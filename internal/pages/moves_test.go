package pages_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// move is a form of moves as it is served, filled in.
func move(t *testing.T, page seen, step string, fields url.Values) url.Values {
	t.Helper()
	if !strings.Contains(page.body, `name="step" value="`+step+`"`) {
		t.Fatalf("%s is not offered: %s", step, page.body)
	}
	form := url.Values{"once": {hidden(t, page, "once")}, "version": {hidden(t, page, "version")}, "step": {step}}
	for name, values := range fields {
		form[name] = values
	}
	return form
}

// TestMaintenanceMovesASquawk holds that maintenance says what a squawk is about, that whoever comes second is shown what it
// has become with nothing lost, and that a duplicate is closed and reopened; and that a pilot is offered none of it.
func TestMaintenanceMovesASquawk(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	first, second := c.squawk(aircraft, "dome-light", "Dark."), c.squawk(aircraft, "landing-light", "Cabin is dark.")
	path := func(id techlog.ID) string { return "/squawks/" + id.String() }
	one, two, other := c.signIn(mechanic), c.signIn(mechanic), c.signIn(pilot)
	if page := other.get(path(second)); strings.Contains(page.body, "For maintenance") {
		t.Error("a pilot is offered what is maintenance's")
	}
	form := move(t, one.get(path(second)), "confirm", url.Values{"about": {"unit:dome-light"}, "kind": {"inoperative"}, "words": {"It is the dome light."}})
	late := move(t, two.get(path(second)), "confirm", url.Values{"about": {"unit:landing-light"}, "kind": {"inoperative"}, "words": {"I was second."}})
	if got := other.post(path(second)+"/moves", form); got.status != http.StatusForbidden {
		t.Errorf("a pilot confirms: %d", got.status)
	}
	form.Set("form_token", one.form)
	if got := one.post(path(second)+"/moves", form); got.status != http.StatusSeeOther {
		t.Fatalf("confirm: %d %s", got.status, got.body)
	}
	got := two.post(path(second)+"/moves", late)
	for _, want := range []string{"Somebody has changed this squawk meanwhile", "I was second.", "It is the dome light.", `name="version" value="2"`} {
		if got.status != http.StatusConflict || !strings.Contains(got.body, want) {
			t.Errorf("whoever comes second: %d, without %s", got.status, want)
		}
	}
	q := c.one(second)
	if !q.Confirmed || q.Unit != "dome-light" || q.Version != 2 {
		t.Errorf("%+v", q)
	}
	page := one.get(path(second))
	wrong := move(t, page, "confirm", url.Values{"about": {"unit:never"}, "kind": {"inoperative"}, "words": {" "}})
	got = one.post(path(second)+"/moves", wrong)
	for _, want := range []string{`id="fault-about"`, `id="fault-words"`} {
		if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, want) {
			t.Errorf("%d, without %s", got.status, want)
		}
	}
	duplicate := move(t, page, "duplicate", url.Values{"of": {first.String()}, "words": {"The same light."}})
	for range 2 {
		if got := one.post(path(second)+"/moves", duplicate); got.status != http.StatusSeeOther {
			t.Fatalf("duplicate: %d %s", got.status, got.body)
		}
	}
	if q := c.one(second); q.State != techlog.Closed || q.DuplicateOf != first {
		t.Errorf("%+v", q)
	}
	reopen := move(t, one.get(path(second)), "reopen", url.Values{"words": {"There are two lights."}})
	if got := one.post(path(second)+"/moves", reopen); got.status != http.StatusSeeOther {
		t.Fatalf("reopen: %d %s", got.status, got.body)
	}
	if q := c.one(second); q.State != techlog.Reported {
		t.Errorf("%+v", q)
	}
}

func (c *club) one(id techlog.ID) techlog.Squawk {
	c.t.Helper()
	story, err := c.service.Squawk(c.t.Context(), c.who, id)
	if err != nil {
		c.t.Fatal(err)
	}
	return story.Squawk
}

// TestWhatSomebodyWasToldIsKept holds that an answer is kept once with who was told and what, and is shown to others.
func TestWhatSomebodyWasToldIsKept(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	flight := c.plan(c.enter(base, "N012TW", "Tansy"), base, 20, "Pattern work")
	path := "/flights/" + flight.String()
	v := c.signIn(pilot)
	form := url.Values{"once": {hidden(t, v.get(path), "once")}}
	for range 2 {
		if got := v.post(path+"/determinations", form); got.status != http.StatusSeeOther {
			t.Fatalf("%d %s", got.status, got.body)
		}
	}
	kept, err := c.service.Determinations(t.Context(), c.who, flight, hangar.Page{Limit: 10})
	if err != nil || len(kept) != 1 || kept[0].By != "Wren Talbot" || kept[0].Verdict != "clear" {
		t.Errorf("%+v, %v", kept, err)
	}
	if page := c.signIn(scheduler).get(path); !strings.Contains(page.body, "Wren Talbot, <time") {
		t.Errorf("it is not shown: %s", page.body)
	}
}
