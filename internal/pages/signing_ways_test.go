package pages_test

import (
	"encoding/json"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"tiedown/internal/demo"
	"tiedown/internal/techlog"
)

// enterLike adds an aircraft like one of the club's.
func (c *club) enterLike(file string, base techlog.ID, registration string) techlog.ID {
	c.t.Helper()
	written, err := demo.Aircraft(file)
	if err != nil {
		c.t.Fatal(err)
	}
	demo.Inspect(&written.Facts, c.clock())
	answer, err := c.service.AddAircraft(c.t.Context(), c.who, techlog.Aircraft{
		Registration: registration, Type: "Twin Heron", Base: base, Facts: written.Facts, Configuration: written.Configuration,
	}, nil, func(a techlog.Aircraft) ([]byte, error) { return json.Marshal(a.ID) })
	return parsed(c.t, answer, err)
}

// TestAnItemOfTheMELIsDeferred holds that under an MEL the form says so, asks for the day from which the interval runs and for
// nothing that the other way asks for, and that its interval is extended once.
func TestAnItemOfTheMELIsDeferred(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	c.certify(mechanic, "Juniper Larkspur", techlog.Operates)
	aircraft := c.enterLike("mel", c.base("WILLOW", "Willow"), "N078TW")
	squawk := c.confirmed(aircraft, "taxi-light", "Taxi light dark.")
	path := "/squawks/" + squawk.String()
	v := c.signIn(mechanic)
	v.signs(path+"/sign/out-of-use", and(declared, deferredWork))
	form := v.get(path + "/sign/defer")
	today := c.clock().In(chicago(t))
	for _, want := range []string{"By the MEL", `name="discovered" type="date" value="` + today.Format(time.DateOnly), "At the latest "} {
		if !strings.Contains(form.body, want) {
			t.Errorf("the form does not say %s", want)
		}
	}
	if strings.Contains(form.body, `name="considered"`) {
		t.Error("it asks for what only the other way asks for")
	}
	v.signs(path+"/sign/defer", url.Values{})
	q := c.one(squawk)
	if q.Deferral == nil || q.Deferral.Discovered != today.Format(time.DateOnly) || !strings.Contains(q.Deferral.Basis, "91.213(a)") {
		t.Fatalf("%+v", q.Deferral)
	}
	last := today.AddDate(0, 0, 15).Format(time.DateOnly)
	v.signs(path+"/sign/extend", url.Values{"until": {last}, "extended_until": {last}, "data": {"Program, chapter 4"}})
	if q = c.one(squawk); q.Deferral.ExtendedUntil != last {
		t.Errorf("%+v", q.Deferral)
	}
	if again := v.get(path + "/sign/extend"); !strings.Contains(again.body, "extended once already") || strings.Contains(again.body, `class="act"`) {
		t.Errorf("it is offered to be extended again: %s", again.body)
	}
}

// TestAnELTIsRemoved holds that the form of a removed ELT proposes the placard that the rule sets and asks for the entry that it
// asks for.
func TestAnELTIsRemoved(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	squawk := c.confirmed(aircraft, "elt", "ELT fails its test.")
	path := "/squawks/" + squawk.String()
	v := c.signIn(mechanic)
	removed := and(declared, url.Values{"done": {"ELT removed for repair."}})
	got := v.write(path+"/sign/out-of-use", removed)
	if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, `value="ELT not installed."`) || !strings.Contains(got.body, "entry of its removal is missing") {
		t.Errorf("without its entry: %d %s", got.status, got.body)
	}
	half := v.write(path+"/sign/out-of-use", and(removed, url.Values{"elt.make": {"Reed"}}))
	if half.status != http.StatusUnprocessableEntity || !strings.Contains(half.body, `id="fault-elt-model"`) || !strings.Contains(half.body, `value="Reed"`) {
		t.Errorf("with half of it: %d %s", half.status, half.body)
	}
	v.signs(path+"/sign/out-of-use", and(removed, url.Values{"elt.make": {"Reed"}, "elt.model": {"R1"}, "elt.serial_number": {"17"}, "elt.reason": {"Self-test"}}))
	page := v.get(path + "/sign/defer")
	last := c.clock().In(chicago(t)).AddDate(0, 0, 90).Format(time.DateOnly)
	if !strings.Contains(page.body, "At the latest "+last) || !strings.Contains(page.body, "ELT not installed.") {
		t.Errorf("the deferral does not end with the 90 days: %s", page.body)
	}
	v.signs(path+"/sign/defer", url.Values{})
	if q := c.one(squawk); q.State != techlog.Deferred || q.Deferral.Method != "removed" {
		t.Errorf("%+v", q.Deferral)
	}
}

// TestACheckFlightIsAwaited holds that work which asks for a check flight leaves the squawk open until a pilot who may has signed
// that it was flown, and that a mechanic may not.
func TestACheckFlightIsAwaited(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	squawk := c.confirmed(aircraft, "stall-warning", "Stall warning sounds late.")
	path := "/squawks/" + squawk.String()
	v, flies := c.signIn(mechanic), c.signIn(pilot)
	v.signs(path+"/sign/work", and(declared, url.Values{"work": {"replace"}, "done": {"Vane on order."}, "parts_awaited": {"Vane, 2031-05-17"}}))
	if w := c.one(squawk).Progress.Work; w == nil || w.Result != "" || w.Completed != "" || len(w.Awaits) != 1 || w.Awaits[0].Part != "Vane" || w.Awaits[0].Expected != "2031-05-17" {
		t.Errorf("work that waits for parts: %+v", w)
	}
	if got := v.write(path+"/sign/work", and(declared, url.Values{"work": {"replace"}, "done": {"Vane on order."}, "parts_awaited": {"Vane, soon"}})); got.status != http.StatusUnprocessableEntity ||
		!strings.Contains(got.body, `id="fault-parts_awaited"`) || !strings.Contains(got.body, "Vane, soon") {
		t.Errorf("a day that is none: %d %s", got.status, got.body)
	}
	v.signs(path+"/sign/work", and(declared, url.Values{"work": {"replace"}, "result": {"repaired"}, "done": {"Vane replaced."}, "data": {"Manual"}}))
	v.signs(path+"/sign/return-to-service", and(declared, url.Values{"check_flight_required": {"yes"}}))
	if q := c.one(squawk); !q.AwaitsCheckFlight() {
		t.Fatalf("%+v", q)
	}
	if page := v.get(path + "/sign/check-flight"); strings.Contains(page.body, `class="act"`) || !strings.Contains(page.body, "a pilot of at least private grade") {
		t.Errorf("a mechanic is offered the check flight: %s", page.body)
	}
	flies.signs(path+"/sign/check-flight", url.Values{"done": {"Sounds 6 kt before the stall."}})
	if q := c.one(squawk); q.State != techlog.Closed {
		t.Errorf("%+v", q)
	}
}

// TestTooManyProofs holds that nobody guesses a password here: after some wrong ones none is taken for a while, which is said,
// and nothing is lost.
func TestTooManyProofs(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	squawk := c.confirmed(c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy"), "landing-light", "Left light dark.")
	v := c.signIn(mechanic)
	shown := v.write("/squawks/"+squawk.String()+"/sign/out-of-use", and(declared, deferredWork))
	var got seen
	for range 30 {
		if got = v.prove(shown, "wrong"); got.status == http.StatusTooManyRequests {
			break
		}
	}
	if got.status != http.StatusTooManyRequests || !strings.Contains(got.body, "Nothing was signed") || !strings.Contains(got.body, "breaker pulled and collared") {
		t.Errorf("%d %s", got.status, got.body)
	}
	if got = v.prove(shown, password); got.status != http.StatusTooManyRequests {
		t.Errorf("the right one is taken at once: %d", got.status)
	}
}

// TestACarriedProofIsNotKept holds that a form that is sent again with the right password after a wrong one is taken, as the proof
// is no part of what the form is known by.
func TestACarriedProofIsNotKept(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	squawk := c.confirmed(c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy"), "landing-light", "Left light dark.")
	v := c.signIn(mechanic)
	shown := v.write("/squawks/"+squawk.String()+"/sign/out-of-use", and(declared, deferredWork))
	first, again := v.prove(shown, password), v.prove(shown, "another password") // its answer was given
	if first.status != http.StatusSeeOther || again.header.Get("Location") != first.header.Get("Location") {
		t.Errorf("%d %s, then %d %s", first.status, first.header.Get("Location"), again.status, again.body)
	}
	story, err := c.service.Squawk(t.Context(), c.who, squawk)
	if err != nil || len(story.Signatures) != 1 {
		t.Errorf("%d signatures, %v", len(story.Signatures), err)
	}
}

// TestWhatIsPrinted holds that on paper a squawk has its story with what was signed, and an aircraft's list its placards, and that
// nothing that only a screen has use of is printed.
func TestWhatIsPrinted(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	squawk := c.confirmed(aircraft, "landing-light", "Left light dark.")
	path := "/squawks/" + squawk.String()
	v := c.signIn(mechanic)
	v.signs(path+"/sign/out-of-use", and(declared, deferredWork))
	v.signs(path+"/sign/defer", url.Values{})
	b := c.tab(t, look{1280, 800, "dark", true})
	b.signIn(mechanic)
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Media: "print", Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}},
	})
	b.must(err)
	for at, wants := range map[string][]string{
		path: {"Left light dark.", "Inoperative", "breaker pulled and collared", "Signed by Juniper Larkspur, mechanic certificate 0000001 (invented)"},
		"/aircraft/" + aircraft.String() + "/deferred": {"Landing light", "Inoperative", "Juniper Larkspur, mechanic certificate"},
	} {
		b.open(at)
		b.says("main", wants...)
		if left := eval[string](b, `[...document.querySelectorAll("form, button, .button, .menu, .prints")].filter(e => e.checkVisibility()).map(e => e.outerHTML.slice(0, 80)).join("\n")`); left != "" {
			t.Errorf("%s prints: %s", at, left)
		}
		if paper := eval[string](b, `getComputedStyle(document.body).backgroundColor + " " + getComputedStyle(document.querySelector("h1")).color`); paper != "rgb(255, 255, 255) rgb(0, 0, 0)" {
			t.Errorf("%s is printed in %s", at, paper)
		}
		name := "printed squawk"
		if at != path {
			name = "printed list"
		}
		b.shoot(name)
	}
}
