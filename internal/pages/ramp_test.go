package pages_test

import (
	"testing"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"tiedown/internal/techlog"
)

// TestTheRampInOneGlance holds that on a phone the answer stands whole in the first screen of an aircraft's page, below the
// flight that it is for, with whatever one does next within reach of the thumb: in the lower half, large, and over nothing
// that is to be read at once.
func TestTheRampInOneGlance(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	c.join(c.org, "everything@three-willows.example", "Every Role", techlog.Roles()...)
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(pilot)
	glances := 0
	for _, sight := range sights(t, c) {
		switch sight[0] {
		case "clear", "limited", "defer first", "undetermined", "grounded", "blocked":
		default:
			continue
		}
		glances++
		b.open(sight[1])
		got := eval[[]float64](b, `(() => {
			const tag = document.querySelector(".tag").getBoundingClientRect(), reach = document.querySelector(".reach").getBoundingClientRect();
			const mine = document.querySelector(".mine > summary").getBoundingClientRect();
			const buttons = [...document.querySelectorAll(".reach > .button")].map(e => e.getBoundingClientRect());
			return [mine.top, mine.bottom, tag.top, tag.bottom, reach.top, reach.bottom, Math.min(...buttons.map(r => r.height)), buttons.length, document.querySelector(".menu").getBoundingClientRect().top,
				Math.max(...[...document.querySelectorAll(".tag .word, .tag .sentence")].map(e => { const r = document.createRange(); r.selectNodeContents(e); return r.getBoundingClientRect().right; })) - tag.right];
		})()`)
		mineTop, mineEnd, tagTop, tagEnd, reachTop, reachEnd, height, buttons, menu := got[0], got[1], got[2], got[3], got[4], got[5], got[6], got[7], got[8]
		if got[9] > -4 {
			t.Errorf("%s: the answer's words are cut off by %.0f px", sight[0], got[9])
		}
		if mineTop < 0 || mineEnd > tagTop+1 || tagEnd > reachTop || reachTop < 844/2 || reachEnd > menu+1 || height < 48 || buttons != 3 {
			t.Errorf("%s: the flight %.0f to %.0f, the answer %.0f to %.0f, %.0f actions %.0f to %.0f and %.0f high, menu from %.0f",
				sight[0], mineTop, mineEnd, tagTop, tagEnd, buttons, reachTop, reachEnd, height, menu)
		}
		picture, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
		b.must(err)
		b.keep("first screen "+sight[0]+" 390 light", picture)
		b.click(".reach a[href='#why']")
		b.until(`document.querySelector("#why").getBoundingClientRect().top < innerHeight && (document.querySelector("details#why")?.open ?? true)`)
	}
	if glances != 6 {
		t.Errorf("%d answers were looked at", glances)
	}
}

// TestASquawkInThreeTaps holds that from the answer to a squawk on record it takes three taps and a sentence, counted by the
// browser.
func TestASquawkInThreeTaps(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(pilot)
	b.open("/aircraft/" + aircraft.String())
	_, err := chromedp.Call(b.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{
		Source: `addEventListener("pointerdown", () => sessionStorage.setItem("taps", 1 + +sessionStorage.getItem("taps")), true);`,
	})
	b.must(err)
	b.open("/aircraft/" + aircraft.String())
	b.press(".reach a[href$='/squawk']")
	eval[any](b, `document.querySelector("#words").focus()`) // that the field has to be tapped is not counted: writing is the sentence
	b.fill("#words", "Left position light dark.")
	b.click(".suggested button")
	b.press(".squawk-form button:not([type])")
	b.says(".done", "Filed.")
	if taps := eval[string](b, `sessionStorage.getItem("taps")`); taps != "3" {
		t.Errorf("it takes %s taps", taps)
	}
	if filed := c.squawks(aircraft); len(filed) != 1 || filed[0].Unit != "position-left" {
		t.Errorf("on record: %+v", filed)
	}
}

// Bars of what the pages of the ramp weigh and ask for on a slow line, at a first visit with nothing kept.
const (
	slowBytes    = 90_000
	slowRequests = 4
	slowShift    = 0.02 // a page comes in pieces: a word that is the last of one may move when its line goes on
)

// TestOnASlowLine measures the pages of the ramp over an emulated line of 400 kbit/s with 300 ms of latency, and holds them
// to bars of bytes, requests and movement. Times are told and not held: they are the machine's as well.
func TestOnASlowLine(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	c.join(c.org, "everything@three-willows.example", "Every Role", techlog.Roles()...)
	where := map[string]string{}
	for _, sight := range sights(t, c) {
		where[sight[0]] = sight[1]
	}
	b := c.tab(t, look{390, 844, "light", true})
	b.watchShifts()
	b.signIn(pilot)
	calls := func(errs ...error) {
		t.Helper()
		for _, err := range errs {
			b.must(err)
		}
	}
	_, bypass := chromedp.Call(b.ctx, network.SetBypassServiceWorker, network.SetBypassServiceWorkerParams{Bypass: true})
	_, slow := chromedp.Call(b.ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{{Latency: 300, DownloadThroughput: 400_000 / 8, UploadThroughput: 400_000 / 8}},
	})
	calls(bypass, slow)
	for _, name := range []string{"fleet", "clear", "file a squawk", "station untouched"} {
		for _, again := range []bool{false, true} {
			_, cache := chromedp.Call(b.ctx, network.SetCacheDisabled, network.SetCacheDisabledParams{CacheDisabled: !again})
			calls(cache)
			b.open(where[name])
			b.until(`performance.getEntriesByName("first-contentful-paint").length > 0`)
			seen := eval[[]float64](b, `(() => {
				const all = [...performance.getEntriesByType("navigation"), ...performance.getEntriesByType("resource").filter(e => e.initiatorType !== "fetch")];
				return [all.reduce((n, e) => n + e.transferSize, 0), all.filter(e => e.transferSize > 0).length,
					performance.getEntriesByName("first-contentful-paint")[0].startTime, window.shifted];
			})()`)
			visit := "first visit"
			if again {
				visit = "again"
			}
			t.Logf("%s, %s: %.0f bytes in %.0f requests, something to read after %.0f ms, moved by %.4f", name, visit, seen[0], seen[1], seen[2], seen[3])
			if seen[0] == 0 || seen[0] > slowBytes || seen[1] > slowRequests || seen[3] > slowShift {
				t.Errorf("%s, %s: %v; bars are %v", name, visit, seen, []any{slowBytes, slowRequests, slowShift})
			}
			if seen[2] < 300 {
				t.Errorf("%s was there after %.0f ms: the line is not slow, and nothing is measured", name, seen[2])
			}
		}
	}
}
