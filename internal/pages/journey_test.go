package pages_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/camera"
)

// TestThePilotsJob walks a pilot's way at every width, by day and by night, with and without script: sign in, see what may
// be taken, say what the flight is, ask why, file a squawk with a photo, and see which flights it holds.
func TestThePilotsJob(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	photo := filepath.Join(t.TempDir(), "light.jpg")
	if err := os.WriteFile(photo, camera.JPEG(640, 480, 1), 0o600); err != nil {
		t.Fatal(err)
	}
	for i, l := range append(walks(), look{1280, 800, "light", true}, look{390, 844, "dark", true}, look{1280, 800, "light", false}) {
		mark := fmt.Sprintf("N0%02dTW", 20+i)
		aircraft := c.enter(base, mark, "Tansy 140 Trainer")
		for n, purpose := range []string{"Pattern work", "Stalls"} {
			c.plan(aircraft, base, float64(20+24*n), purpose)
		}
		t.Run(l.String(), func(t *testing.T) {
			t.Parallel()
			b := c.tab(t, l)
			b.signIn(pilot)
			card := "a[href='/aircraft/" + aircraft.String() + "']"
			b.says(card, mark, "Clear")
			b.press(card)
			b.says(".answer", "Clear", "You may take it", "Nothing on record stands in the way", "An aid, not an approval")
			b.click(".mine summary")
			b.click(".mine-form input[value=ifr] + span")
			b.do(setSelect("#airspace", "unknown"))
			b.press(".mine-form button")
			b.says(".mine-facts", "IFR", "Not looked up")
			b.says(".answer", "Clear")
			b.press(".actions a[href$='/squawk']")
			b.fill("#words", "Left position light dark on the walkaround.")
			if l.script {
				b.click(".suggested button")
				if about := eval[string](b, `document.querySelector("#about").value`); !strings.HasPrefix(about, "unit:position") {
					t.Errorf("the first suggestion is %s", about)
				}
				if kind := eval[string](b, `document.querySelector("input[name=kind]:checked").value`); kind != "inoperative" {
					t.Errorf("proposed as %s", kind)
				}
			} else {
				b.do(setSelect("#about", "unit:position-left"))
				b.click("input[value=inoperative] + span")
			}
			b.do(setFile("#photo", photo))
			b.press(".squawk-form button:not([type])")
			b.says(".done", "Filed.", "2 planned flights of "+mark+" are held by it now.")
			b.says("main", "Left position light dark on the walkaround.", "Wren Talbot", "Defer first", "Pattern work", "Stalls", "Repaired alone, it frees 2 flights")
			if n := eval[int](b, `document.querySelectorAll(".photos img").length`); n != 1 {
				t.Errorf("%d photos", n)
			}
			b.open("/")
			b.says(card, mark, "Defer first")
			filed := c.squawks(aircraft)
			if len(filed) != 1 || filed[0].Kind != "inoperative" || !strings.HasPrefix(filed[0].Unit, "position-") || filed[0].ReportedBy != "Wren Talbot" {
				t.Errorf("on record: %+v", filed)
			}
		})
	}
}

// sights are the pages of a club, by name.
func sights(t *testing.T, c *club) [][2]string {
	t.Helper()
	fleet, err := c.service.Fleet(t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil {
		t.Fatal(err)
	}
	byMark := map[string]techlog.Aircraft{}
	for _, a := range fleet {
		byMark[a.Registration] = a
	}
	aircraft := func(mark string) string { return "/aircraft/" + byMark[mark].ID.String() }
	c.block(byMark["N034TW"].ID, "Annual inspection at Harrow Point.")
	works, err := c.service.WorkList(t.Context(), c.who, techlog.ID{})
	if err != nil {
		t.Fatal(err)
	}
	held := works[0].Holds[0].ID
	deferred := works[slices.IndexFunc(works, func(w hangar.Work) bool { return w.Squawk.State == techlog.Deferred })]
	return append(append(c.signingSights(byMark), figureSights(t, byMark)...), [][2]string{
		{"fleet", "/"},
		{"fleet ifr", "/?rules=ifr&nav=vor"},
		{"clear", aircraft("N012TW")},
		{"limited", aircraft("N009TW")},
		{"defer first", aircraft("N056TW")},
		{"undetermined", aircraft("N009TW") + "?airspace=unknown&altitude=11000"},
		{"grounded", aircraft("N005TW")},
		{"fault", aircraft("N012TW") + "?hours=many"},
		{"file a squawk", aircraft("N012TW") + "/squawk"},
		{"squawks", "/squawks"},
		{"squawk", "/squawks/" + works[0].Squawk.ID.String()},
		{"squawk deferred", "/squawks/" + deferred.Squawk.ID.String() + "?filed=yes&photo=invalid"},
		{"board", "/board"},
		{"week", "/week"},
		{"flight", "/flights/" + held.String()},
		{"flight of two legs", "/flights/" + c.thereAndBack(byMark["N012TW"]).String()},
		{"plan empty", "/flights/new"},
		{"plan", "/flights/new?aircraft=" + byMark["N056TW"].ID.String() + "&rules=ifr&aboard=2&nav=both&hire=no&at=&hours=2"},
		{"change", "/flights/" + held.String() + "/change"},
		{"blocks", aircraft("N034TW") + "/blocks"},
		{"walk around", "/aircraft/" + byMark["N012TW"].ID.String() + "/walkaround"},
		{"walk around without checklist", aircraft("N034TW") + "/walkaround"},
		{"station", c.walked(byMark["N012TW"].ID) + "?station=nose"},
		{"station untouched", c.walked(byMark["N012TW"].ID) + "?station=left-wing"},
		{"review", c.walked(byMark["N012TW"].ID) + "/review"},
		{"blocked", aircraft("N034TW")},
		{"people", "/people"},
		{"person", "/people/" + c.memberOf(mechanic).Person.String()},
		{"person who left", "/people/" + c.left().String()},
		{"certificates", "/certificates"},
		{"certificate", "/certificates/" + c.certificateOf(mechanic).ID.String()},
		{"which certificate", "/people/" + c.memberOf(pilot).Person.String() + "/certificates/new"},
		{"new certificate", "/people/" + c.memberOf(pilot).Person.String() + "/certificates/new?kind=pilot"},
		{"keeping", "/settings/fleet"},
		{"kept aircraft", "/settings/fleet/" + byMark["N012TW"].ID.String() + "?done=entered"},
		{"bases", "/settings/bases"},
		{"base", "/settings/bases/" + byMark["N012TW"].Base.String()},
		{"own rules", "/settings/rules"},
		{"own rule", "/settings/rules/" + c.ownRule()},
		{"warnings", "/settings/warnings"},
		{"calendars", "/settings/calendars"},
		{"tokens", "/settings/tokens"},
		{"webhooks", "/settings/webhooks"},
		{"webhook", "/settings/webhooks/" + c.hook().String()},
		{"notices", "/you/notices"},
		{"security", "/you/security"},
		{"more", "/more"},
		{"kept on this phone", "/outbox"},
		{"no network", "/no-network"},
		{"rules", "/rules"},
		{"rules found", "/rules?q=landing+light"},
		{"rule", "/rules/requirements/91.205-c-4"},
		{"rule of people", "/rules/who/mechanic-repairs"},
		{"you", "/organization"},
		{"no such record", "/squawks/" + newID().String()},
	}...)
}

// TestEveryPage looks at every page at both widths, by day and by night: nothing that axe-core knows is wrong with it, it is
// light, does not move while it is loaded, fits its window, and has nothing too small for a thumb. A picture of each is
// kept.
func TestEveryPage(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	c.join(c.org, "everything@three-willows.example", "Every Role", techlog.Roles()...)
	pages := sights(t, c)
	for _, l := range []look{{390, 844, "light", true}, {1280, 800, "light", true}} {
		t.Run(l.String(), func(t *testing.T) {
			t.Parallel()
			b := c.tab(t, l)
			b.watchShifts()
			b.open("/sign-in")
			b.isLight("sign in")
			b.fits("sign in")
			b.byDayAndNight("sign in", l)
			b.open("/password?link=x")
			b.byDayAndNight("password", l)
			b.signIn("everything@three-willows.example")
			for _, page := range pages {
				name := page[0] + ", " + l.String()
				b.open(page[1])
				b.isLight(name)
				b.do(openDetails())
				b.fits(name)
				b.byDayAndNight(page[0], l)
			}
		})
	}
}

// byDayAndNight looks for what keeps people from using a page, in both of its colors, and keeps a picture in each.
func (b *tab) byDayAndNight(name string, l look) {
	b.t.Helper()
	for _, l.scheme = range []string{"dark", "light"} {
		b.wears(l.scheme)
		b.isAccessible(name+", "+l.String(), l)
		b.shoot(name + " " + l.String())
	}
}

// walked begins a walkaround of which the nose has been done in part, with every outcome and a contradiction.
func (c *club) walked(aircraft techlog.ID) string {
	c.t.Helper()
	one, two := c.signIn(pilot), c.signIn(scheduler)
	walk := one.begin(aircraft)
	form, contradicting := one.station(walk, "nose"), two.station(walk, "nose")
	for field, value := range map[string]string{
		"oil-level.value": "4.5", "oil-cap.outcome": "skipped", "oil-cap.note": "Rain.", "cowling.outcome": "finding", "cowling.note": "Cracked at the hinge.",
		"air-inlets.outcome": "good", "propeller.outcome": "good",
	} {
		form.Set(field, value)
	}
	contradicting.Set("propeller.outcome", "finding")
	contradicting.Set("propeller.note", "A nick near the tip.")
	one.post(walk+"/results", form)
	two.post(walk+"/results", contradicting)
	return walk
}

// TestThePilotsWalkaround walks a station in a browser, with and without script: what is not good asks for words, what is
// skipped asks why, the progress shows, and the finding becomes a squawk in one step.
func TestThePilotsWalkaround(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	for _, l := range []look{{390, 844, "dark", true}, {390, 844, "light", false}, {1280, 800, "light", true}} {
		t.Run(l.String(), func(t *testing.T) {
			t.Parallel()
			b := c.tab(t, l)
			b.signIn(pilot)
			b.open("/aircraft/" + trainer.ID.String())
			b.press(".actions a[href$='/walkaround']")
			b.press("form[method=post] button")
			b.press(".stations a[href$='station=nose']")
			b.says("h1", "Nose")
			if eval[bool](b, `document.querySelector("#cowling-note").checkVisibility()`) {
				t.Error("words are asked for before anything is wrong")
			}
			b.fill("#oil-level-value", "6.5")
			b.click("#check-oil-cap input[value=good] + span")
			b.click("#check-cowling input[value=finding] + span")
			b.fill("#cowling-note", "Fastener missing, left side.")
			b.click("#check-air-inlets input[value=skipped] + span")
			b.fill("#air-inlets-note", "Plugs are frozen in.")
			b.press(".walk > .send button")
			b.says(".count", "left")
			b.press(".stations a[href$='/review']")
			b.says("#found", "Fastener missing, left side.", "Not good")
			b.says(".not-done", "Plugs are frozen in.", "skipped")
			b.press("#found button")
			b.press("#found a.button")
			b.says("main", "Fastener missing, left side.", "Wren Talbot", "reported")
		})
	}
}

// markup is what somebody may write in order to have it run.
const markup = `"'><script>window.ran=1</script><img src=x onerror=window.ran=1><svg onload=window.ran=1>{{.}}</textarea></title>`

// runsNothing holds that nothing of what stands on a page is run.
func (b *tab) runsNothing(name string) {
	b.t.Helper()
	if eval[bool](b, `window.ran === 1 || document.querySelector("main script, main img[src=x], main svg[onload]") !== null`) {
		b.t.Errorf("%s: what was written is run", name)
	}
}

// showsMarkup holds that markup that somebody wrote stands on a page as it was written, so many times or more, and is not run.
// What stands in the fields of the selector counts as well.
func (b *tab) showsMarkup(name string, times int, fields string) {
	b.t.Helper()
	b.do(openDetails())
	b.runsNothing(name)
	text := eval[string](b, fmt.Sprintf(`document.querySelector("main").textContent + [...document.querySelectorAll(%q)].map(e => e.value).join(" ")`, fields))
	if n := strings.Count(text, markup); n < times {
		b.t.Errorf("%s: it stands there %d times, want %d or more", name, n, times)
	}
}

// noFields selects none.
const noFields = ":not(*)"

// TestWhateverIsWrittenStaysText writes markup into every text that comes from people, and holds that it stands on the pages
// as it was written, and nothing of it is run.
func TestWhateverIsWrittenStaysText(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("<I>", markup)
	aircraft := c.enter(base, "N077TW", markup)
	flight := c.plan(aircraft, base, 20, markup)
	c.block(aircraft, markup)
	squawk := c.squawk(aircraft, "dome-light", markup)
	another := c.squawk(aircraft, "landing-light", markup)
	err := c.service.CarryOver(t.Context(), c.who, hangar.CarriedOver{
		Squawk: another, Step: techlog.StepDefer, Words: markup,
		Deferral: &techlog.Deferral{
			Basis: markup, Method: "deactivated", Placard: markup, Entry: markup, DeterminedBy: markup, DeterminedAt: c.clock(), Until: c.clock().AddDate(0, 1, 0),
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	c.join(c.org, "markup@three-willows.example", markup, techlog.Pilot)
	walk := c.markedWalk(aircraft)
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn("markup@three-willows.example")
	b.open("/squawks/" + squawk.String())
	b.fill("form[action$='/notes'] textarea", markup)
	b.press("form[action$='/notes'] button")
	for path, times := range map[string]int{
		"/": 1, "/aircraft/" + aircraft.String(): 4, "/aircraft/" + aircraft.String() + "/squawk": 0, "/squawks": 2, "/squawks/" + squawk.String(): 4,
		walk + "?station=nose": 2, walk + "/review": 3, "/aircraft/" + aircraft.String() + "/walkaround": 2,
		"/squawks/" + another.String(): 6, "/board": 2, "/week": 1, "/flights/" + flight.String(): 2, "/organization": 2,
		"/?to=" + "%22%3E%3Cscript%3Ewindow.ran%3D1%3C/script%3E": 0, "/?at=" + "%22%3E%3Cscript%3Ewindow.ran%3D1%3C/script%3E": 0,
	} {
		b.open(path)
		b.showsMarkup(path, times, noFields)
	}
	b.open("/aircraft/" + aircraft.String() + "/squawk")
	b.fill("#words", markup)
	b.click("input[value=condition] + span")
	b.do(removeRequired("#words"), setSelectTo("#about", "item:"+markup))
	b.press(".squawk-form button:not([type])")
	b.says("#fault-about", "is not in the item catalog")
	if eval[bool](b, "window.ran === 1") || eval[string](b, `document.querySelector("#words").value`) != markup {
		t.Error("what was sent wrongly is run, or lost")
	}
}
