package pages_test

import (
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// deferUntil enters a deferral that was signed on paper.
func (c *club) deferUntil(squawk techlog.ID, placard string, until time.Time) {
	c.t.Helper()
	err := c.service.CarryOver(c.t.Context(), c.who, hangar.CarriedOver{
		Squawk: squawk, Step: techlog.StepDefer, Words: "From paper.",
		Deferral: &techlog.Deferral{
			Basis: "14 CFR 91.213(d)", Method: "deactivated", Placard: placard, Entry: "log 1", DeterminedBy: "somebody", DeterminedAt: c.clock().Add(-48 * time.Hour), Until: until,
		},
	})
	if err != nil {
		c.t.Fatal(err)
	}
}

// TestWhatIsDeferredIsListed holds what one briefs from: each placard with what it limits and the days that are left, the one
// that has run out first; over the fleet with what is expected; and that both lists are linked from where they are needed.
func TestWhatIsDeferredIsListed(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	first, second := c.enter(base, "N012TW", "Tansy"), c.enter(base, "N014TW", "Tansy")
	c.deferUntil(c.squawk(first, "landing-light", "Left light dark."), "Landing light inoperative", c.clock().AddDate(0, 0, 9).Add(time.Hour))
	over := c.squawk(second, "dome-light", "Dome light dark.")
	c.deferUntil(over, "Dome light inoperative", c.clock().Add(time.Hour))
	c.deferUntil(c.squawk(second, "taxi-light", "Taxi light dark."), "Taxi light inoperative", c.clock().Add(20*time.Hour))
	open := c.squawk(second, "map-light", "Map light dark.")
	v := c.signIn(mechanic)
	form := move(t, v.get("/squawks/"+over.String()), "expect", map[string][]string{"expected": {"2031-05-17"}, "words": {"Lamp on order."}})
	if got := v.post("/squawks/"+over.String()+"/moves", form); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	c.mu.Lock()
	c.now = c.now.Add(2 * time.Hour)
	c.mu.Unlock()
	inOrder := func(page seen, words ...string) {
		t.Helper()
		rest := page.body
		for _, w := range words {
			_, after, ok := strings.Cut(rest, w)
			if !ok {
				t.Fatalf("%d, %q is not there, or not in its place: %s", page.status, w, page.body)
			}
			rest = after
		}
	}
	inOrder(v.get("/deferred"), "3 deferrals", "1 run out", "run out", "N014TW", "Dome light inoperative", "Expected 2031-05-17:", "Lamp on order.", "within a day", "Taxi light inoperative",
		"<b>8</b> days", "N012TW", "Landing light inoperative")
	list := "/aircraft/" + second.String() + "/deferred"
	inOrder(v.get(list), "format=pdf", "run out", "Dome light inoperative", "Ran out", "within a day", "Taxi light inoperative", "Open, and not deferred", open.String())
	inOrder(v.get("/aircraft/"+first.String()+"/deferred"), "<b>8</b> days", "Landing light inoperative", "What it limits", "91.205", "No other squawk is open")
	for path, link := range map[string]string{"/more": `href="/deferred"`, "/squawks": `href="/deferred"`, "/aircraft/" + second.String(): `href="` + list + `"`} {
		if page := v.get(path); !strings.Contains(page.body, link) {
			t.Errorf("%s does not lead there", path)
		}
	}
	for _, paper := range []string{"/v1/squawks/" + over.String() + "/placard", "/v1/aircraft/" + second.String() + "/deferred-items?format=pdf", "/v1/squawks/" + over.String() + "/maintenance-entry"} {
		if got := v.get(paper); got.status != http.StatusOK || got.header.Get("Content-Type") != "application/pdf" || !strings.HasPrefix(got.body, "%PDF-") {
			t.Errorf("%s: %d %s", paper, got.status, got.header.Get("Content-Type"))
		}
	}
}

// TestTheCardOfAnAircraft holds that a camera reads off the card of an aircraft the address that leads to its page, on a screen
// by day and by night and as it is printed, and that a registration that is typed leads there too.
func TestTheCardOfAnAircraft(t *testing.T) {
	t.Parallel()
	if _, err := exec.LookPath("zbarimg"); err != nil {
		t.Fatal("zbarimg is missing: apt-get install zbar-tools")
	}
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	for _, l := range walks()[:2] {
		b := c.tab(t, l)
		b.signIn(pilot)
		b.open("/aircraft/" + aircraft.String())
		b.press("a[href$='/code']")
		picture, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
		b.must(err)
		path := filepath.Join(t.TempDir(), "card.png")
		b.must(os.WriteFile(path, picture, 0o600))
		read, err := exec.CommandContext(t.Context(), "zbarimg", "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", path).Output()
		if got := strings.TrimSpace(string(read)); err != nil || got != c.server.URL+"/a/N012TW" {
			t.Errorf("%s: the code says %q (%v)", l, got, err)
		}
		b.open(strings.TrimPrefix(strings.TrimSpace(string(read)), c.server.URL))
		b.says("h1", "N012TW")
		b.open("/")
		b.fill("#registration", "n012tw")
		b.press(".find button:not([type])")
		b.says("h1", "N012TW")
	}
	v := c.signIn(pilot)
	if got := v.get("/a?registration=N099ZZ"); got.status != http.StatusNotFound || !strings.Contains(got.body, "no aircraft of the organization has this registration") {
		t.Errorf("%d %s", got.status, got.body)
	}
	if got := v.get("/a?registration=+"); got.status != http.StatusSeeOther || got.header.Get("Location") != "/" {
		t.Errorf("nothing: %d to %s", got.status, got.header.Get("Location"))
	}
}

// TestACodeLeadsToPagesOfOursAlone holds that whatever a code says that the camera sees, only the page of an aircraft or a
// squawk of this server is opened.
func TestACodeLeadsToPagesOfOursAlone(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(pilot)
	// A camera and a detector in their place: what is seen is said by the test.
	seeing := func(said string, look func(string)) {
		t.Helper()
		b.open("/more")
		_, err := chromedp.Run(b.ctx, chromedp.Evaluate[any](`sessionStorage.setItem("seen", `+"`"+said+"`"+`); 0`))
		b.must(err)
		b.open("/")
		look(".find .scan")
	}
	b.onEveryPage(`window.BarcodeDetector = class { static getSupportedFormats() { return Promise.resolve(["qr_code"]); } detect() { return Promise.resolve([{ rawValue: sessionStorage.getItem("seen") }]); } };
		Object.defineProperty(navigator, "mediaDevices", { value: { getUserMedia: () => Promise.resolve(document.createElement("canvas").captureStream()) } });
		HTMLMediaElement.prototype.play = () => Promise.resolve();`)
	for _, bad := range []string{"https://evil.example/a/N012TW", "javascript:alert(1)", "//evil.example/a/N012TW", "/sign-out", "/a/../sign-out", "no address at all"} {
		seeing(bad, b.click)
		if _, err := chromedp.Run(b.ctx, chromedp.Poll[bool](`document.querySelector(".scanner [role=status]").textContent.includes("none of an aircraft here")`, chromedp.WithPollingTimeout(patience))); err != nil {
			t.Errorf("%s: %v", bad, err)
		}
		if at := eval[string](b, "location.pathname"); at != "/" {
			t.Errorf("%s leads to %s", bad, at)
		}
	}
	seeing(c.server.URL+"/a/N012TW", b.press)
	if at := eval[string](b, "location.pathname"); at != "/aircraft/"+aircraft.String() {
		t.Errorf("its own card leads to %s", at)
	}
}

// TestWhateverIsSignedStaysText writes markup into every text of what is signed, and holds that it stands on the pages as it was
// written, and nothing of it is run.
func TestWhateverIsSignedStaysText(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.join(c.org, "markup@three-willows.example", markup, techlog.Mechanic)
	marked := bothRatings
	marked.Number = markup[:80]
	ends := c.clock().AddDate(1, 0, 0).Format(time.DateOnly)
	c.certify("markup@three-willows.example", markup, techlog.Maintains, marked, techlog.Certificate{Kind: techlog.InspectionAuthorization, Number: markup[:80], Until: ends})
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N077TW", markup)
	squawk, other := c.confirmed(aircraft, "landing-light", markup), c.confirmed(aircraft, "dome-light", markup)
	path, worked, inspect := "/squawks/"+squawk.String(), "/squawks/"+other.String(), "/aircraft/"+aircraft.String()
	v := c.signIn("markup@three-willows.example")
	v.signs(path+"/sign/out-of-use", and(declared, url.Values{"placard": {markup}, "done": {markup}, "data": {markup}, "entry": {markup}, "performed_by": {markup}}))
	v.signs(path+"/sign/defer", url.Values{"considered": {c.label(other)}, "until": {c.clock().AddDate(0, 0, 9).Format(time.DateOnly)}, "entry": {markup}})
	form := move(t, v.get(path), "expect", url.Values{"expected": {"2031-05-17"}, "words": {markup}})
	moved := v.post(path+"/moves", form).header.Get("Location")
	v.signs(worked+"/sign/work", and(declared, url.Values{
		"work": {"replace"}, "result": {"repaired"}, "found": {markup}, "done": {markup}, "data": {markup}, "performed_by": {markup}, "parts_used": {markup + ", " + markup},
	}))
	v.signs(inspect+"/sign/vor-check", url.Values{"extent": {markup}, "vor_check.kind": {"test-signal"}, "vor_check.place": {markup}, "vor_check.error_degrees": {"1"}})
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn("markup@three-willows.example")
	looked := func(name string, times int) {
		t.Helper()
		b.showsMarkup(name, times, "main input:not([type=hidden]), main textarea")
	}
	for at, times := range map[string]int{
		moved: 9, worked: 8, worked + "/sign/return-to-service": 3, worked + "/sign/out-of-use": 1, path + "/sign/carry-on": 1, inspect + "/deferred": 5, "/deferred": 2,
		inspect + "/inspections": 4, inspect + "/sign/annual-inspection": 2, inspect + "/code": 1, inspect + "/sign/vor-check": 1,
	} {
		b.open(at)
		looked(at, times)
	}
	b.open(path + "/sign/carry-on")
	b.fill("#found", markup)
	b.press(".act > .send button")
	looked("a form with faults", 2)
	b.click(".ticks input[type=checkbox]")
	b.press(".act > .send button")
	looked("what is signed", 3)
	b.proves("wrong")
	looked("after a wrong password", 3)
}
