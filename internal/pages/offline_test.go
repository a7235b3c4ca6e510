package pages_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/chromedp/cdproto"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// weakLine is what may happen to what is sent to the server and what comes back.
type weakLine struct {
	mu    sync.Mutex
	down  bool                                              // nothing gets through
	lost  func(r *http.Request) bool                        // its answer is lost, once it has been worked on
	other func(w http.ResponseWriter, r *http.Request) bool // something else answers
}

// line is the way to the server.
func (c *club) line(server http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		c.weak.mu.Lock()
		down, lost, other := c.weak.down, c.weak.lost, c.weak.other
		c.weak.mu.Unlock()
		switch {
		case down:
			hangUp(w)
		case lost != nil && lost(r):
			server.ServeHTTP(discarding{http.Header{}}, r)
			hangUp(w)
		case other != nil && other(w, r):
		default:
			server.ServeHTTP(w, r)
		}
	})
}

// hangUp ends a connection without an answer.
func hangUp(w http.ResponseWriter) {
	if conn, _, err := http.NewResponseController(w).Hijack(); err == nil {
		_ = conn.Close()
	}
}

// discarding takes an answer that nobody gets.
type discarding struct{ header http.Header }

func (d discarding) Header() http.Header       { return d.header }
func (discarding) Write(b []byte) (int, error) { return len(b), nil }
func (discarding) WriteHeader(int)             {}

// something else answers, where it does.
func (c *club) something(other func(w http.ResponseWriter, r *http.Request) bool) {
	c.weak.mu.Lock()
	defer c.weak.mu.Unlock()
	c.weak.other = other
}

// network takes the network away, and gives it back.
func (c *club) network(there bool) {
	c.weak.mu.Lock()
	c.weak.down = !there
	c.weak.mu.Unlock()
	if !there {
		c.server.CloseClientConnections()
	}
}

// until waits for something to become so, on the page that is there or on the one that comes after it.
func (b *tab) until(expression string) {
	b.t.Helper()
	for {
		_, err := chromedp.Run(b.ctx, chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(patience)))
		var gone *cdproto.Error
		switch {
		case err == nil:
			return
		case !errors.As(err, &gone): // the page went away under it
			b.t.Fatalf("%s: %v", expression, err)
		}
	}
}

// soonSays waits until texts stand somewhere.
func (b *tab) soonSays(selector string, wants ...string) {
	b.t.Helper()
	for _, want := range wants {
		quoted, _ := json.Marshal(want) // a string always
		b.until(fmt.Sprintf(`(document.querySelector(%q)?.innerText || "").replace(/\s+/g, " ").includes(%s)`, selector, quoted))
	}
}

// isWatched waits until the worker has the page.
func (b *tab) isWatched() {
	b.t.Helper()
	b.until(`navigator.serviceWorker.controller !== null`)
}

// hasKept waits until pages are kept whose addresses end like this.
func (b *tab) hasKept(endings ...string) {
	b.t.Helper()
	for _, e := range endings {
		b.until(`phone.atHand().then(pages => pages.some(p => p.href.endsWith("` + e + `")))`)
	}
}

// TestPagesWithoutNetwork holds that what was looked at can be read without network, with its age and not as an answer; that
// a page that was never looked at says what is at hand; and that nothing is left for whoever comes next.
func TestPagesWithoutNetwork(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	l := look{390, 844, "light", true}
	b := c.tab(t, l)
	b.signIn(pilot)
	b.isWatched()
	aircraft := "/aircraft/" + trainer.ID.String()
	b.open(aircraft)
	b.hasKept(aircraft, aircraft+"/squawk", aircraft+"/walkaround", "/outbox")
	c.network(false)
	b.open(aircraft)
	b.says("main", "No network.", "as it was", "ago", "Do not decide by it", "Clear")
	b.until(`document.querySelector("main.stale .tag .word") !== null`)
	if zone := b.text(".kept time"); !strings.Contains(zone, "UTC") && !strings.Contains(zone, "GMT") {
		t.Errorf("without a zone: %s", zone)
	}
	b.isAccessible("a kept answer", l)
	b.shoot("kept answer " + l.String())
	b.open("/board")
	b.says("h1", "No network")
	b.until(`document.querySelectorAll(".at-hand a").length > 2`)
	b.says(".at-hand", "N012TW", "File a squawk")
	b.isAccessible("no network", l)
	b.shoot("no network " + l.String())
	b.open("/a/n012tw")
	b.says(".plate.big", "N012TW")
}

// queued is what waits on a phone, by kind and state, in order.
func (b *tab) queued() string {
	b.t.Helper()
	return eval[string](b, `phone.all().then(all => all.map(r => r.kind + " " + r.state).join(", "))`, chromedp.EvalAwaitPromise)
}

// TestWhatWaitsIsSentOnce files a squawk with a photo and reports three stations without network, kills the tab, and holds
// that everything arrives once and in order when there is network again: also when answers are lost, and when many tabs
// send at once.
func TestWhatWaitsIsSentOnce(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	photo := filepath.Join(t.TempDir(), "tire.jpg")
	noisy(t, photo, 3600, 1200)
	l := look{390, 844, "light", true}
	b := c.tab(t, l)
	b.signIn(pilot)
	b.isWatched()
	walk := b.begin(trainer.ID)
	b.hasKept("station=nose", "station=left-wing", "station=empennage", "/review")
	b.open("/aircraft/" + trainer.ID.String())
	b.hasKept("/squawk")
	c.network(false)
	b.open("/aircraft/" + trainer.ID.String() + "/squawk")
	b.fill("#words", "Main tire flat,\nleft side.")
	b.click(".suggested button")
	b.do(setFile("#photo", photo))
	b.press(".squawk-form button:not([type])")
	b.until(`document.querySelector(".held-note").textContent.includes("Your squawk is kept on this phone. It will be sent when there is network.")`)
	b.soonSays(".outbox", "Waits to be sent", "A squawk: File a squawk, N012TW", "Main tire flat,", "photo,")
	b.soonSays(".waits", "1 to send")
	b.isAccessible("outbox with a squawk", l)
	b.shoot("outbox waiting " + l.String())
	b.open(walk + "?station=nose")
	b.fill("#oil-level-value", "6.5")
	b.click("#check-cowling input[value=finding] + span")
	b.fill("#cowling-note", "Fastener missing.")
	b.do(setFile("#cowling-photo", photo))
	b.press(".walk > .send button")
	b.until(`document.querySelector(".held-note").textContent.includes("What you said at this station is kept on this phone")`)
	b.shoot("station kept " + l.String())
	for _, check := range []string{"station=left-wing", "station=empennage"} {
		b.open(walk + "?" + check)
		b.click(".check .segments.outcome input[value=good] + span")
		b.press(".walk > .send button")
	}
	b.open(walk + "?station=nose")
	b.until(`document.querySelector("#check-cowling .held") !== null`)
	b.says("#check-cowling .held", "Kept on this phone: Not good, Fastener missing.")
	b.soonSays(".waits", "4 to send")
	b.shoot("station again " + l.String())
	if got := b.queued(); got != "squawk waiting, station waiting, station waiting, station waiting" {
		t.Fatalf("in the queue: %s", got)
	}
	first := b.another(t)
	b.kill()
	if got := first.queued(); !strings.HasPrefix(got, "squawk waiting, station waiting") {
		t.Fatalf("after the tab was killed: %s", got)
	}
	var posts, dropped sync.Map
	c.weak.mu.Lock()
	c.weak.lost = func(r *http.Request) bool {
		if r.Method != http.MethodPost {
			return false
		}
		n, _ := posts.LoadOrStore(r.URL.Path, new(atomic.Int32))
		if n.(*atomic.Int32).Add(1) == 1 { // the first answer at each address
			dropped.Store(r.URL.Path, true)
			return true
		}
		return false
	}
	c.weak.mu.Unlock()
	c.network(true)
	tabs := []*tab{first, first.another(t), first.another(t)}
	for _, tab := range tabs {
		eval[any](tab, `dispatchEvent(new Event("online")); 0`)
	}
	first.until(`phone.all().then(all => all.every(r => r.state === "sent"))`)
	filed := c.squawks(trainer.ID)
	if len(filed) != 1 || filed[0].Words != "Main tire flat,\nleft side." || filed[0].ReportedBy != "Wren Talbot" {
		t.Errorf("squawks on record: %+v", filed)
	}
	if photos := c.photos(hangar.PhotoFilter{Squawk: filed[0].ID}); len(photos) != 1 || photos[0].Width != 2560 {
		t.Errorf("photos of the squawk: %+v", photos)
	}
	w := c.walk(walk)
	if photos := c.photos(hangar.PhotoFilter{Walkaround: w.Walkaround.ID}); len(photos) != 1 {
		t.Errorf("photos of the walkaround: %+v", photos)
	}
	cowling := state(t, w, "cowling")
	if len(cowling.Results) != 1 || cowling.Results[0].Said.Note != "Fastener missing." || len(state(t, w, "oil-level").Results) != 1 {
		t.Errorf("the nose: %+v", cowling.Results)
	}
	said := 0
	for _, s := range w.Review.Standings {
		said += len(s.Results)
	}
	if said != 4 {
		t.Errorf("%d results on record, want 4", said)
	}
	if _, lost := dropped.Load(walk + "/results"); !lost {
		t.Error("no answer was lost: nothing is proved")
	}
	c.weak.mu.Lock()
	c.weak.lost = nil
	c.weak.mu.Unlock()
	first.open("/outbox")
	first.until(`document.querySelectorAll(".o-sent").length === 4`)
	first.soonSays(".outbox", "Sent", "Look at it")
	first.shoot("outbox sent " + l.String())
	first.open(walk + "/review")
	first.until(`document.querySelector("#found .result-photos img") !== null`)
	first.press("#found button")
	first.press("#found a.button")
	first.until(`document.querySelector(".photos img") !== null`)
}

// noisy writes a picture that is as heavy as a camera's.
func noisy(t *testing.T, path string, width, height int) {
	t.Helper()
	picture := image.NewRGBA(image.Rect(0, 0, width, height))
	random := rand.NewChaCha8([32]byte{})
	_, _ = random.Read(picture.Pix) // never fails
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture, &jpeg.Options{Quality: 88}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

// begin starts a walkaround in the browser, and gives the address of it.
func (b *tab) begin(aircraft techlog.ID) string {
	b.t.Helper()
	b.open("/aircraft/" + aircraft.String() + "/walkaround")
	b.press("form[method=post] button")
	return eval[string](b, "location.pathname")
}

// another is a further tab of the same browser, at the page of what is kept.
func (b *tab) another(t *testing.T) *tab {
	t.Helper()
	browser, err := chromium()
	b.must(err)
	ctx, closeTab := chromedp.NewContext(browser, chromedp.WithExistingBrowserContext(chromedp.FromContext(b.ctx).BrowserContextID))
	t.Cleanup(closeTab)
	ctx, stop := context.WithTimeout(ctx, patience)
	t.Cleanup(stop)
	other := &tab{t, b.club, ctx}
	other.open("/outbox")
	return other
}

// kill ends a tab as if it crashed.
func (b *tab) kill() {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, page.Close, cdp.Empty{})
	b.must(err)
}

func (c *club) photos(of hangar.PhotoFilter) []techlog.Photo {
	c.t.Helper()
	photos, err := c.service.Photos(c.t.Context(), c.who, of, hangar.Page{Limit: 50})
	if err != nil {
		c.t.Fatal(err)
	}
	return photos
}

// TestWhatIsRefusedIsKept holds that what the server refuses is shown with everything that was written, what is wrong and what
// to do: it can be filled in again, thrown away, and taken back; and that it does not hold up what comes after it.
func TestWhatIsRefusedIsKept(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	l := look{390, 844, "dark", true}
	b := c.tab(t, l)
	b.signIn(pilot)
	b.isWatched()
	walk := b.begin(trainer.ID)
	b.hasKept("station=nose", "station=left-wing", "/review")
	c.network(false)
	b.open(walk + "?station=nose")
	b.click("#check-cowling input[value=finding] + span") // and no word about it
	b.fill("#oil-level-value", "6,5")
	b.press(".walk > .send button")
	b.until(`document.querySelector(".waits").textContent === "1 to send"`)
	b.open(walk + "?station=left-wing")
	b.click(".check .segments.outcome input[value=good] + span")
	b.press(".walk > .send button")
	b.until(`document.querySelector(".waits").textContent === "2 to send"`)
	c.network(true)
	b.open("/outbox")
	b.until(`document.querySelectorAll(".o-sent").length === 1`)
	if got := b.queued(); got != "station refused, station sent" {
		t.Fatalf("%s", got)
	}
	b.soonSays(".o-refused", "Not taken", "Nothing was taken down yet", "Nothing is written about what was found", "6,5", "Not good", "Open it again")
	b.soonSays(".waits", "1 to look at")
	b.isAccessible("outbox with a refusal", l)
	b.shoot("outbox refused " + l.String())
	b.click(".o-refused button")
	b.until(`document.querySelector(".o-discarded") !== null`)
	b.click(".o-discarded button")
	b.until(`document.querySelector(".o-refused") !== null`)
	b.press(".o-refused a.button")
	b.until(`document.querySelector("#oil-level-value").value === "6,5"`)
	if !eval[bool](b, `document.querySelector("#check-cowling input[value=finding]").checked`) {
		t.Error("what was said of the cowling is lost")
	}
	b.fill("#cowling-note", "Fastener missing.")
	b.press(".walk > .send button")
	b.until(`document.querySelector(".waits").hidden`)
	if s := state(t, c.walk(walk), "cowling"); len(s.Results) != 1 || s.Results[0].Said.Note != "Fastener missing." {
		t.Errorf("on record: %+v", s.Results)
	}
	if s := state(t, c.walk(walk), "oil-level"); len(s.Results) != 1 {
		t.Errorf("the oil: %+v", s.Results)
	}
}

// TestTheQueueIsItsPersons holds that what somebody wrote is never sent under another's name nor shown to them, that pages are
// not shown to whoever signs in next, and that it is sent once its writer is back.
func TestTheQueueIsItsPersons(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(pilot)
	b.isWatched()
	aircraft := "/aircraft/" + trainer.ID.String()
	b.open(aircraft)
	b.hasKept(aircraft, aircraft+"/squawk")
	c.network(false)
	b.open(aircraft + "/squawk")
	b.fill("#words", "Main tire flat.")
	b.click("input[value=condition] + span")
	b.press(".squawk-form button:not([type])")
	b.until(`document.querySelector(".waits").textContent === "1 to send"`)
	eval[any](b, `{ const f = document.createElement("form"); f.method = "post"; f.action = "/sign-out"; document.body.append(f); f.submit(); } 0`)
	b.until(`location.pathname === "/no-network"`)
	b.soonSays("main", "You are not signed out yet.", "sign out again with network")
	if n := eval[int](b, `phone.atHand().then(all => all.length)`, chromedp.EvalAwaitPromise); n != 0 {
		t.Errorf("%d pages are left after signing out without network", n)
	}
	b.open(aircraft)
	b.says("h1", "No network")
	c.something(func(w http.ResponseWriter, r *http.Request) bool {
		if r.Method != http.MethodPost || !strings.HasSuffix(r.URL.Path, "/squawk") {
			return false
		}
		w.WriteHeader(http.StatusBadGateway)
		return true
	})
	c.network(true)
	b.open("/organization")
	b.press("form[action='/sign-out'] button")
	c.something(nil)
	b.until(`document.querySelector(".waits").textContent.includes("sign in to send")`)
	b.signIn(mechanic)
	b.open(aircraft)
	b.open("/outbox")
	b.until(`document.querySelector(".theirs") !== null`)
	b.soonSays(".outbox", "1 of Wren Talbot: sent when Wren Talbot signs in on this phone.")
	if strings.Contains(b.text("main"), "Main tire flat") {
		t.Error("another reads what was written")
	}
	eval[any](b, `phone.flush(true)`, chromedp.EvalAwaitPromise)
	if filed := c.squawks(trainer.ID); len(filed) != 0 {
		t.Errorf("sent under another's name: %+v", filed)
	}
	b.open("/organization")
	b.press("form[action='/sign-out'] button")
	b.signIn(pilot)
	b.until(`phone.all().then(all => all.every(r => r.state === "sent"))`)
	if filed := c.squawks(trainer.ID); len(filed) != 1 || filed[0].ReportedBy != "Wren Talbot" {
		t.Errorf("on record: %+v", filed)
	}
}
