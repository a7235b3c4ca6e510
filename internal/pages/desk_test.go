package pages_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"tiedown/internal/techlog"
)

// forty is a club of 40 aircraft at two bases in two zones, with three flights a day each for a week, and a squawk on every
// fourth.
func forty(t *testing.T) (*club, []techlog.ID) {
	t.Helper()
	c := newClub(t)
	bases := []techlog.ID{c.base("WILLOW", "Willow"), c.base("HARROW", "Harrow Point")}
	var fleet []techlog.ID
	for i := range 40 {
		aircraft := c.enter(bases[i%2], fmt.Sprintf("N0%02dTW", 10+i), "Tansy 140 Trainer")
		fleet = append(fleet, aircraft)
		for day := range 3 {
			for n := range 3 {
				c.plan(aircraft, bases[i%2], float64(24*day+2*n)+0.5, "Pattern work")
			}
		}
		if i%4 == 0 {
			c.squawk(aircraft, "position-left", "Left position light dark.")
		}
	}
	c.block(fleet[1], "Annual inspection.")
	return c, fleet
}

// TestTheDeskOfFortyAircraft holds that board and week stay light, fit their window and are found in order by axe-core with
// 40 aircraft, that each aircraft is on one of their pages, and that what is picked is all that is shown.
func TestTheDeskOfFortyAircraft(t *testing.T) {
	t.Parallel()
	c, fleet := forty(t)
	v := c.signIn(scheduler)
	tomorrow := onTheWall(t, c.clock().Add(24*time.Hour))[:10]
	week := "/week?day=" + tomorrow
	page := v.get(week)
	if strings.Count(page.body, `href="/flights/0`) != 120 || !strings.Contains(page.body, `aria-current="true"`) || strings.Contains(page.body, "more aircraft on this day") {
		t.Errorf("the day has %d flights", strings.Count(page.body, `href="/flights/0`))
	}
	for path, want := range map[string][2]int{ // links to aircraft: with the flights of that day, or with a row
		week + "&base=HARROW": {20, 60}, week + "&aircraft=" + fleet[3].String(): {1, 9}, "/week?aircraft=" + fleet[3].String(): {3, 9},
		"/board": {40, 0}, "/board?base=HARROW": {20, 0}, "/board?held=yes": {11, 0}, "/board?held=yes&base=HARROW": {1, 0},
	} {
		got := v.get(path)
		if rows, flights := strings.Count(got.body, `class="plate" href="/aircraft/`), strings.Count(got.body, `href="/flights/0`); got.status != http.StatusOK || rows < want[0] || rows > 3*want[0] || flights != want[1] {
			t.Errorf("%s: %d, %d rows and %d flights, want %v", path, got.status, rows, flights, want)
		}
	}
	board := v.get("/board?held=yes")
	squawk := c.squawks(fleet[0])[0]
	for _, want := range []string{`href="/squawks/` + squawk.ID.String() + `"`, "14 CFR 91.", `href="/aircraft/` + fleet[1].String() + `/blocks"`, "Annual inspection."} {
		if !strings.Contains(board.body, want) {
			t.Errorf("the board does not lead to what holds: %s", want)
		}
	}
	if got := v.get("/board?held=yes&base=NOWHERE"); got.status != http.StatusOK || !strings.Contains(got.body, "Nothing is held") {
		t.Errorf("%d %s", got.status, got.body)
	}
	for _, l := range []look{{390, 844, "light", true}, {1280, 800, "dark", true}} {
		b := c.tab(t, l)
		b.watchShifts()
		b.signIn(scheduler)
		for name, path := range map[string]string{"board of forty": "/board", "week of forty": week} {
			name += " " + l.String()
			b.open(path)
			b.isLight(name)
			b.fits(name)
			b.isAccessible(name, l)
			b.shoot(name)
		}
	}
}

// TestTheWeekIsDrawnAndSaid holds that the week has each flight and block in words beside its strip, with what holds it, that
// the light of the day is said, that other weeks are reached by links, and that a flight over midnight is on both dates.
func TestTheWeekIsDrawnAndSaid(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	aircraft := c.enter(base, "N012TW", "Tansy")
	idle := c.enter(base, "N014TW", "Tansy")
	c.squawk(aircraft, "position-left", "Dark.")
	flight := c.plan(aircraft, base, 26, "By day")
	local := func(at time.Time) time.Time {
		zone, err := time.LoadLocation("America/Chicago")
		if err != nil {
			t.Fatal(err)
		}
		return at.In(zone)
	}
	midnight := local(c.clock().AddDate(0, 0, 2)).Truncate(time.Hour)
	in := time.Date(midnight.Year(), midnight.Month(), midnight.Day(), 23, 30, 0, 0, midnight.Location()).Sub(c.clock()).Hours()
	late := c.plan(aircraft, base, in, "Over midnight")
	v := c.signIn(scheduler)
	page := v.get("/week")
	if strings.Count(page.body, flight.String()) != 1 || strings.Count(page.body, late.String()) != 2 {
		t.Errorf("the flights are there %d and %d times", strings.Count(page.body, flight.String()), strings.Count(page.body, late.String()))
	}
	for _, want := range []string{
		"2 planned flights, 2 held", "morning civil twilight begins ", "sunrise ", "sunset ", "evening civil twilight ends ", "By day", "Defer first", "14 CFR 91.213(d)(3)",
		"23:30–", " 00:30",
	} {
		if !strings.Contains(page.body, want) {
			t.Errorf("the week does not say %s", want)
		}
	}
	// One of each stands in the key. The flights are drawn on three dates, each with two nights.
	for class, times := range map[string]int{"b-go": 1, "b-held": 4, "b-block": 1, "l-night": 7, "l-twilight": 7, "now-line": 0} {
		if n := strings.Count(page.body, `class="`+class+`"`); n != times {
			t.Errorf("%s is drawn %d times, want %d", class, n, times)
		}
	}
	_, rest, _ := strings.Cut(page.body, `aria-label="Weeks"><a class="button quiet" href="`)
	before, _, _ := strings.Cut(rest, `"`)
	if got := v.get(strings.ReplaceAll(before, "&amp;", "&")); got.status != http.StatusOK || !strings.Contains(got.body, "0 planned flights") || !strings.Contains(got.body, "This week") {
		t.Errorf("the week before: %d", got.status)
	}
	c.block(idle, "Oil change.")
	today := v.get("/week?aircraft=" + idle.String())
	for _, want := range []string{`class="b-block"`, "Oil change.", `class="now-line"`, "Blocked", "No flight is planned with what is picked"} {
		if !strings.Contains(today.body, want) {
			t.Errorf("the week of a blocked aircraft does not say %s", want)
		}
	}
	for _, odd := range []string{"/week?from=soon", "/week?from=9999-12-31", "/week?day=x&after=y&base=z&aircraft=q"} {
		if got := v.get(odd); got.status != http.StatusOK {
			t.Errorf("%s: %d", odd, got.status)
		}
	}
}
