package pages_test

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestAvailabilityIsWhatTheRecordsSay holds in a browser, for every aircraft of the club, that each hour of each day stands in
// the table as the records have it, that the picture is as tall as the table says, and that it says why.
func TestAvailabilityIsWhatTheRecordsSay(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	fleet, err := c.service.Fleet(t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil {
		t.Fatal(err)
	}
	c.block(fleet[1].ID, markup)
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(pilot)
	b.open("/availability")
	if eval[bool](b, `window.ran === 1`) || !strings.Contains(eval[string](b, `document.querySelector("main").textContent`), markup) {
		t.Error("why somebody keeps an aircraft from flying does not stand there as it was written")
	}
	type shown struct {
		Mark  string
		Rows  [][]string
		Parts []struct {
			Class     string
			X, Height float64
		}
	}
	var all []shown
	raw := eval[string](b, `JSON.stringify([...document.querySelectorAll(".free-aircraft")].map(a => ({
		Mark: a.querySelector(".plate").textContent,
		Rows: [...a.querySelectorAll("tbody tr")].map(r => [...r.cells].map(c => c.textContent)),
		Parts: [...a.querySelectorAll("svg rect")].map(r => ({Class: r.getAttribute("class"), X: parseFloat(r.getAttribute("x")), Height: parseFloat(r.getAttribute("height"))})),
	})))`)
	if err := json.Unmarshal([]byte(raw), &all); err != nil {
		t.Fatal(err)
	}
	if len(all) != len(fleet) {
		t.Fatalf("%d aircraft of %d", len(all), len(fleet))
	}
	zone := chicago(t)
	uses := map[hangar.DayUse]bool{}
	names := map[string]hangar.DayUse{
		"kept from flying": hangar.UseBlocked, "grounded": hangar.UseGrounded, "not before a deferral is signed": hangar.UseDefer,
		"undetermined": hangar.UseUndetermined, "flight that is held": hangar.UseHeld, "flight": hangar.UseBooked, "free": "",
	}
	for i, a := range fleet {
		from := c.clock().In(zone)
		f, err := c.service.FreeBusy(t.Context(), c.who, a.ID, from, time.Date(from.Year(), from.Month(), from.Day()+14, 0, 0, 0, 0, zone))
		if err != nil {
			t.Fatal(err)
		}
		drawn := 0
		for d, day := range f.Days(zone) {
			said := map[hangar.DayUse]float64{}
			for _, row := range all[i].Rows {
				use, known := names[row[0]]
				if !known {
					t.Fatalf("%s: nobody knows %q", all[i].Mark, row[0])
				}
				said[use], _ = strconv.ParseFloat(row[d+1], 64) // an empty cell is nothing
			}
			if math.Abs(said[""]-day.Free()) > .005 {
				t.Errorf("%s, day %d: %g h are said to be free, %g are", all[i].Mark, d+1, said[""], day.Free())
			}
			for _, use := range hangar.DayUses() {
				if math.Abs(said[use]-day.Hours[use]) > .005 {
					t.Errorf("%s, day %d: %g h %s, want %g", all[i].Mark, d+1, said[use], use, day.Hours[use])
				}
				if day.Hours[use] == 0 {
					continue
				}
				uses[use] = true
				tall := 0.0
				for _, p := range all[i].Parts {
					if p.Class == "p-"+string(use) && int(p.X/100*14) == d {
						tall = p.Height
						drawn++
					}
				}
				if want := 72 * day.Hours[use] / day.Whole(); math.Abs(tall-want) > .02 {
					t.Errorf("%s, day %d: %s is %g px tall, want %g", all[i].Mark, d+1, use, tall, want)
				}
			}
		}
		if drawn != len(all[i].Parts) {
			t.Errorf("%s: %d parts are drawn, %d belong there", all[i].Mark, len(all[i].Parts), drawn)
		}
	}
	if len(uses) < 4 {
		t.Errorf("only %v were met", uses)
	}
}

// TestAvailabilityGoesOnPageByPage holds that each aircraft of a fleet that is too large for one page stands on one of them.
func TestAvailabilityGoesOnPageByPage(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	const many = 18
	for n := range many {
		c.enter(base, fmt.Sprintf("N0%02dTW", n), "Tansy")
	}
	v, path, seen := c.signIn(pilot), "/availability", map[string]int{}
	for path != "" {
		page := v.get(path)
		if page.status != http.StatusOK {
			t.Fatalf("%s: %d", path, page.status)
		}
		for _, mark := range regexp.MustCompile(`<span class="plate">(N0\d\dTW)</span>`).FindAllStringSubmatch(page.body, -1) {
			seen[mark[1]]++
		}
		path = ""
		if next := regexp.MustCompile(`href="(/availability\?after=[^"]+)"`).FindStringSubmatch(page.body); next != nil {
			path = next[1]
		}
	}
	for mark, times := range seen {
		if times != 1 {
			t.Errorf("%s stands there %d times", mark, times)
		}
	}
	if len(seen) != many {
		t.Errorf("%d of %d", len(seen), many)
	}
}

// TestTheDayOfAFlightIsDrawn holds that a flight's page has the light of its day from midnight to midnight without a gap, says
// until when it is day VFR, and what part of the flight is night, as the flight was judged.
func TestTheDayOfAFlightIsDrawn(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	aircraft := c.enter(base, "N012TW", "Tansy")
	zone, v := chicago(t), c.signIn(pilot)
	at := techlog.Spot{Lat: 41.21, Lon: -95.48}
	for in, want := range map[float64]string{1: "No part of the flight is night", 14: "All of the flight is night."} {
		page := v.get("/flights/" + c.plan(aircraft, base, in, "Pattern work").String()).body
		departs := c.clock().Add(time.Duration(in * float64(time.Hour))).In(zone)
		from := time.Date(departs.Year(), departs.Month(), departs.Day(), 0, 0, 0, 0, zone)
		until := from.AddDate(0, 0, 1)
		_, sun, _ := strings.Cut(page, `<div class="sun">`)
		sun, _, _ = strings.Cut(sun, "</table>")
		if !strings.Contains(sun, want) {
			t.Errorf("in %g h: it does not say %q: %s", in, want, sun)
		}
		lit := hangar.LitBetween(at, from, until)
		rows := regexp.MustCompile(`<tr><td>([^<]*)</td><td>([^<]*)</td><td>([^<]*)</td></tr>`).FindAllStringSubmatch(sun, -1)
		if len(rows) != len(lit) || len(rows) != 5 {
			t.Fatalf("in %g h: %d rows of %d lights", in, len(rows), len(lit))
		}
		const written = "Mon 15:04 MST"
		for i, l := range lit {
			if rows[i][1] != l.From.Format(written) || rows[i][2] != l.Until.Format(written) || rows[i][3] != string(l.Light) {
				t.Errorf("in %g h: %v, want %v", in, rows[i], l)
			}
			if i > 0 && rows[i][1] != rows[i-1][2] {
				t.Errorf("in %g h: a gap before %v", in, rows[i])
			}
			if in == 1 && i > 0 && l.Light == hangar.Night && !strings.Contains(sun, "it is day VFR until "+l.From.Format("15:04 MST")) {
				t.Errorf("in %g h: it does not say that night begins at %s", in, l.From)
			}
		}
		window := regexp.MustCompile(`<rect class="flight" x="([0-9.]+)%" y="[0-9.]+" width="([0-9.]+)%"`).FindStringSubmatch(sun)
		if window == nil {
			t.Fatalf("in %g h: no flight is drawn", in)
		}
		x, _ := strconv.ParseFloat(window[1], 64)
		wide, _ := strconv.ParseFloat(window[2], 64)
		day := until.Sub(from).Hours()
		if math.Abs(x-departs.Sub(from).Hours()/day*100) > .02 || math.Abs(wide-100/day) > .02 {
			t.Errorf("in %g h: the flight stands at %g %% for %g %%", in, x, wide)
		}
	}
	if page := v.get("/aircraft/" + aircraft.String() + "?hours=24").body; !strings.Contains(page, `class="chart c-day"`) || strings.Count(page, "<td>night</td>") < 2 {
		t.Error("a flight into the next day is not drawn over both")
	}
}

// TestDeferralsAreDrawnByTheirAge holds that each deferral is drawn once, that which ends first before the others, to one scale,
// and that one that has run out says so by a shape of its own.
func TestDeferralsAreDrawnByTheirAge(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	c.mu.Lock()
	c.now = today.AddDate(0, 0, 10)
	c.mu.Unlock()
	works, err := c.service.WorkList(t.Context(), c.who, techlog.ID{})
	if err != nil {
		t.Fatal(err)
	}
	deferred := map[string]*techlog.Deferral{}
	for i := range works {
		if works[i].Squawk.State == techlog.Deferred {
			deferred[works[i].Squawk.ID.String()] = works[i].Squawk.Deferral
		}
	}
	page := c.signIn(pilot).get(agesPage).body
	_, list, _ := strings.Cut(page, `<ul class="ages">`)
	list, _, _ = strings.Cut(list, "</ul>")
	rows := strings.Split(list, "<li>")[1:]
	if len(rows) != len(deferred) || len(rows) < 5 {
		t.Fatalf("%d rows of %d deferrals", len(rows), len(deferred))
	}
	width := func(row, class string) float64 {
		found := regexp.MustCompile(`<rect class="` + class + `" x="[^"]*" y="[^"]*" width="([0-9.]+)%"`).FindStringSubmatch(row)
		if found == nil {
			return 0
		}
		w, _ := strconv.ParseFloat(found[1], 64)
		return w
	}
	last, day, over := time.Time{}, 0.0, 0
	for _, row := range rows {
		id := regexp.MustCompile(`href="/squawks/([^"]+)"`).FindStringSubmatch(row)[1]
		d := deferred[id]
		if d == nil || d.Until.Before(last) {
			t.Fatalf("%s is not deferred, or stands after what ends later", id)
		}
		last = d.Until
		delete(deferred, id)
		if since := c.clock().Sub(d.DeterminedAt).Hours() / 24; since > 1 {
			if day == 0 {
				day = width(row, "since") / since
			}
			if got := width(row, "since"); math.Abs(got-since*day) > .02 {
				t.Errorf("%s has stood %g days, and is %g %% long", id, since, got)
			}
		}
		if left := d.Until.Sub(c.clock()).Hours() / 24; left < 0 {
			over++
			if !strings.Contains(row, "run out 7 days ago") || width(row, "frame-over") == 0 || width(row, "remains") != 0 || !strings.Contains(row, `class="overdue"`) {
				t.Errorf("what has run out is drawn as %s", row)
			}
		} else if got := width(row, "remains"); math.Abs(got-left*day) > .02 {
			t.Errorf("%s has %g days left, and is %g %% long", id, left, got)
		}
	}
	if over != 1 {
		t.Errorf("%d have run out", over)
	}
}

// agesPage is the page that has the picture of deferrals.
const agesPage = "/deferred"
