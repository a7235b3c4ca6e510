package pages_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestTheSchedulersJob walks a scheduler's way at both widths, by day and by night, with and without script: plans a flight on
// an aircraft with a defect, sees it held with the paragraph, reads what releases it, moves it to an alternative, puts on
// record that the pilot was shown it, blocks an aircraft, makes a weekly series, calls it off, and undoes each.
func TestTheSchedulersJob(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.base("WILLOW", "Willow")
	for i, l := range walks() {
		code := fmt.Sprintf("WEST%d", i)
		base := c.base(code, "West field") // each at a base of its own, so that alternatives come first that are there
		marks := []string{fmt.Sprintf("N0%02dTW", 40+2*i), fmt.Sprintf("N0%02dTW", 41+2*i)}
		broken, sound := c.enter(base, marks[0], "Tansy 140 Trainer"), c.enter(base, marks[1], "Tansy 140 Trainer")
		c.squawk(broken, "position-left", "Left position light dark.")
		t.Run(l.String(), func(t *testing.T) {
			t.Parallel()
			b := c.tab(t, l)
			name := func(what string) string { return what + " " + l.String() }
			look := func(what string) {
				t.Helper()
				b.fits(name(what))
				if l.script {
					b.isAccessible(name(what), l)
				}
				b.shoot(name(what))
			}
			b.signIn(scheduler)
			b.open("/aircraft/" + broken.String())
			b.says(".answer .assumed", "assumed, not said")
			b.says(".mine-facts .assumed", "in controlled airspace")
			b.press(".confirm a")
			b.press("a[href^='/flights/new']")
			b.fill("#purpose", "Circuits by night")
			depart := c.clock().Add(9 * time.Hour) // 21:00 or 22:00 at the base, for three hours: some of it is night in any month
			b.do(setSelect("#departs-0", onTheWall(t, depart)), setSelect("#arrives-0", onTheWall(t, depart.Add(3*time.Hour))))
			look("plan")
			b.press("#plan button[value=judge]")
			b.click(".judged .why-details summary")
			b.says(".judged", "Nothing is planned yet", "14 CFR 91.205(c)(2)")
			b.says(".judged .send", "Plan it all the same: it is held")
			look("plan judged")
			b.press(".judged .send button")
			b.says("main", "Planned.", "Circuits by night", marks[0])
			b.says("#outlook", "What releases it", "This has to be out of the way", "squawk 00001", "Nothing is released by itself")
			look("flight held")
			b.says("#others", marks[1], "Clear")
			b.press("#others button[value='" + sound.String() + "']")
			b.says("main", "Moved to "+marks[1], "You may take it")
			look("flight moved")
			b.press(".undo button")
			b.says(".heading", marks[0])
			b.press("#others button[value='" + sound.String() + "']")
			b.press("#kept form[action$='/shown'] button")
			b.says("#kept", "shown to Sorrel Finch")
			b.press("form[action$='/cancel'] button")
			b.says(".off-tag", "Called off")
			look("flight called off")
			b.press(".off-tag button")
			b.says("main", "On the plan again", "You may take it")

			b.open("/aircraft/" + sound.String() + "/blocks")
			b.click("input[value=maintenance] + span")
			b.fill("#words", "Oil change.")
			b.do(setSelect("#from", onTheWall(t, depart.Add(-time.Hour))))
			b.press("form[action$='/blocks'] button")
			b.says("main", "1 planned flight has been judged anew", "Oil change.", "until further notice")
			look("blocks")
			b.press("form[action$='/cancel'] button")
			b.says("main", "What keeps it from flying", "Taken back", "Undo: block it again")
			b.press("form[action$='/again'] button")
			b.says("main", "until further notice")

			b.open("/flights/new?aircraft=" + sound.String() + "&rules=vfr")
			b.fill("#purpose", "Every week")
			first := depart.Add(44 * time.Hour)
			b.do(setSelect("#departs-0", onTheWall(t, first)), setSelect("#arrives-0", onTheWall(t, first.Add(time.Hour))), openDetails())
			b.do(setSelect("#every", "weeks"), setSelect("#until", onTheWall(t, first.AddDate(0, 0, 21))[:10]))
			b.press("#plan button[value=judge]")
			b.says(".series-dates", "4 flights of the series", "Blocked")
			look("series judged")
			b.press(".judged .send button")
			b.says("main", "Planned.", "4 flights to come, 4 held")
			b.press(".beside[action$='/cancel'] button")
			b.says("main", "3 flights to come", "1 flight called off")
			b.press(".undo button")
			b.says("main", "4 flights to come")
			b.press("form[action^='/series/'] .send button")
			b.says("main", "0 flights to come", "4 flights called off")
			look("series called off")
			b.press(".undo button")
			b.says("main", "4 flights to come")
			series := 0
			for _, f := range c.flights(hangar.FlightFilter{Aircraft: sound}) {
				if f.State == techlog.Planned && !f.Series.IsZero() {
					series++
				}
			}
			if series != 4 {
				t.Errorf("%d flights of the series are on the plan", series)
			}
		})
	}
}

// TestWhateverIsPlannedStaysText writes markup into every text of plans, series and blocks, and holds that it stands on the
// pages as it was written, and nothing of it is run, whether it was taken or not.
func TestWhateverIsPlannedStaysText(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", markup)
	aircraft, other := c.enter(base, "N012TW", markup), c.enter(base, "N014TW", markup)
	c.plan(other, base, 20, markup)
	c.block(other, markup)
	v := c.signIn(scheduler)
	v.get("/flights/new")
	form := c.planned(aircraft, 20, markup)
	form.Set("to-0", "41.21, -95.48 "+markup)
	form["every"], form["until"] = []string{"weeks"}, []string{onTheWall(t, c.clock().AddDate(0, 0, 8))[:10]}
	v.judge("/flights/new", form)
	got := v.post("/flights/new", form)
	series, _, _ := strings.Cut(got.header.Get("Location"), "?")
	if !strings.HasPrefix(series, "/series/") {
		t.Fatalf("%d %s", got.status, got.body)
	}
	flight := c.flights(hangar.FlightFilter{Aircraft: aircraft})[0].ID.String()
	blocks, err := c.service.Blocks(t.Context(), c.who, hangar.BlockFilter{Aircraft: other}, hangar.Page{Limit: 1})
	if err != nil {
		t.Fatal(err)
	}
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(scheduler)
	for path, times := range map[string]int{
		"/flights/new": 2, "/flights/" + flight: 4, "/flights/" + flight + "/change": 2, series: 1, "/aircraft/" + other.String() + "/blocks": 1,
		"/blocks/" + blocks[0].ID.String(): 2,
	} {
		b.open(path)
		b.showsMarkup(path, times, "main input")
	}
	b.open("/flights/new")
	for _, field := range []string{"purpose", "from-0", "to-0", "occupants", "skip"} {
		b.do(openDetails())
		b.fill("#"+field, markup)
	}
	b.press("#plan button[value=judge]")
	if eval[bool](b, "window.ran === 1") || eval[string](b, `document.querySelector("#purpose").value`) != markup || eval[string](b, `document.querySelector("#occupants").value`) != markup {
		t.Error("what was sent wrongly is run, or lost")
	}
}
