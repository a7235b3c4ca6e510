package pages_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestPagesFollowWhatHappens holds that the board is brought up to date when somebody else files a squawk, without being
// loaded anew; that it is not taken from under somebody who is at work on it; and that an answer says that it is no longer
// what it was, but not for what happens to another aircraft.
func TestPagesFollowWhatHappens(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	aircraft, another := c.enter(base, "N012TW", "Tansy"), c.enter(base, "N014TW", "Tansy")
	board, answer := c.tab(t, look{1280, 800, "light", true}), c.tab(t, look{390, 844, "dark", true})
	board.signIn(pilot)
	board.open("/board")
	answer.signIn(pilot)
	answer.open("/aircraft/" + aircraft.String())
	eval[any](board, "window.same = true")
	if eval[bool](board, `document.body.textContent.includes("Grounded")`) {
		t.Fatal("something is grounded before anything is wrong")
	}
	grounds := func(id techlog.ID) {
		t.Helper()
		report := hangar.SquawkReport{Aircraft: id, Kind: "condition", Item: "tire", Words: "Flat."}
		if _, err := c.service.FileSquawk(t.Context(), c.who, report, nil, func(hangar.FiledSquawk) ([]byte, error) { return nil, nil }); err != nil {
			t.Fatal(err)
		}
	}
	until := func(b *tab, expression string) {
		t.Helper()
		if _, err := chromedp.Run(b.ctx, chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(patience))); err != nil {
			t.Fatalf("%s: %v", expression, err)
		}
	}
	grounds(another)
	until(board, `document.querySelector("main").textContent.includes("Grounded")`)
	if !eval[bool](board, "window.same === true") {
		t.Error("the board was loaded anew")
	}
	if said := eval[string](answer, `document.querySelector(".changed").textContent`); said != "" {
		t.Errorf("what happens to another aircraft is announced: %s", said)
	}
	before := eval[int](board, `(document.querySelector("main").textContent.match(/Grounded/g) || []).length`)
	eval[any](board, `document.querySelector("main a").focus()`)
	grounds(aircraft)
	until(board, `document.querySelector(".changed").textContent !== ""`)
	if after := eval[int](board, `(document.querySelector("main").textContent.match(/Grounded/g) || []).length`); after != before {
		t.Error("the board was taken from under somebody who was at work on it")
	}
	until(answer, `document.querySelector(".changed").textContent !== ""`)
	if verdict := answer.text(".answer .word"); verdict != "Clear" {
		t.Errorf("the answer was changed under its reader: %s", verdict)
	}
	answer.isAccessible("an answer that is no longer so", look{390, 844, "dark", true})
	answer.shoot("no longer so 390 dark")
	answer.press(".changed .button")
	if verdict := answer.text(".answer .word"); !strings.Contains(verdict, "Grounded") {
		t.Errorf("loaded anew it is %s", verdict)
	}
}
