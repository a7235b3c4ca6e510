package pages_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"tiedown/internal/hangar"
	"tiedown/internal/testrig/camera"
	"tiedown/internal/walkaround"
)

// TestAWalkaroundBeginsWithoutNetwork holds that somebody who has looked at the page where it begins can begin it, report on it
// and see it on record later, once, with the time at which it was done.
func TestAWalkaroundBeginsWithoutNetwork(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	l := look{390, 844, "light", true}
	b := c.tab(t, l)
	b.signIn(pilot)
	b.isWatched()
	start := "/aircraft/" + trainer.ID.String() + "/walkaround"
	b.open(start)
	b.hasKept("station=cabin", "station=nose", "/review")
	b.open(start) // another look makes another identifier, and fetches no station anew
	c.network(false)
	b.open(start)
	b.until(`phone.recall("ahead ` + trainer.ID.String() + `").then(id => document.querySelector("form.begin").elements.walkaround.value === id)`)
	b.click("input[name=moisture][value=no] + span")
	b.press("form.begin button")
	b.until(`location.search.startsWith("?station=")`)
	b.until(`document.querySelector(".held-note").textContent.includes("The beginning of the walkaround is kept on this phone")`)
	walk := eval[string](b, "location.pathname")
	b.isAccessible("a walkaround that has begun without network", l)
	b.open(walk + "?station=nose")
	b.click("#check-cowling input[value=good] + span")
	b.press(".walk > .send button")
	b.until(`document.querySelector(".waits").textContent === "2 to send"`)
	b.open(start)
	b.soonSays("main", "A walkaround is begun on this phone", "Go on")
	b.shoot("begun without network " + l.String())
	if got := b.queued(); got != "start waiting, station waiting" {
		t.Fatalf("in the queue: %s", got)
	}
	c.mu.Lock()
	if later := time.Now().Add(time.Hour); later.After(c.now) { // by the phone it was before that
		c.now = later
	}
	c.mu.Unlock()
	c.network(true)
	b.open("/outbox")
	b.until(`phone.all().then(all => all.every(r => r.state === "sent"))`)
	w := c.walk(walk)
	if w.Walkaround.StartedBy != "Wren Talbot" || w.Walkaround.Moisture == nil || *w.Walkaround.Moisture {
		t.Errorf("begun: %+v", w.Walkaround)
	}
	if results := state(t, w, "cowling").Results; len(results) != 1 || results[0].By != "Wren Talbot" || !results[0].MadeAt.Before(results[0].At) {
		t.Errorf("on record: %+v", results)
	}
	all, err := c.service.Walkarounds(t.Context(), c.who, hangar.WalkaroundFilter{Aircraft: trainer.ID}, hangar.Page{Limit: 10})
	if err != nil || len(all) != 1 {
		t.Errorf("%d walkarounds, %v", len(all), err)
	}
	b.open(start)
	if again := eval[string](b, `document.querySelector("form.begin").elements.walkaround.value`); walk == "/walkarounds/"+again {
		t.Error("the next walkaround would be the same")
	}
}

// TestWhatIsSentLateSaysSo holds that whoever sends a station late hears that somebody else has said otherwise meanwhile, and that
// the walkaround had been completed: it is taken down as late, and nothing is lost.
func TestWhatIsSentLateSaysSo(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	b, other := c.tab(t, look{390, 844, "light", true}), c.signIn(scheduler)
	b.signIn(pilot)
	b.isWatched()
	walk := b.begin(trainer.ID)
	b.hasKept("station=nose", "station=cabin")
	c.network(false)
	b.open(walk + "?station=nose")
	b.click("#check-cowling input[value=good] + span")
	b.press(".walk > .send button")
	b.until(`document.querySelector(".waits").textContent === "1 to send"`)
	c.something(func(w http.ResponseWriter, r *http.Request) bool { // the phone is still out of reach
		queued := r.URL.Path == "/outbox/pass" || r.Header.Get("Tiedown-Queued") != ""
		if queued {
			w.WriteHeader(http.StatusBadGateway)
		}
		return queued
	})
	c.network(true)
	finding := other.station(walk, "nose")
	finding.Set("cowling.outcome", "finding")
	finding.Set("cowling.note", "Fastener missing.")
	if got := other.post(walk+"/results", finding); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	other.skipTheRest(walk)
	review := other.get(walk + "/review")
	finding.Set("once", hidden(t, review, "once"))
	if got := other.post(walk+"/complete", finding); got.status != http.StatusSeeOther {
		t.Fatalf("complete: %d %s", got.status, got.body)
	}
	c.something(nil)
	b.open("/outbox")
	b.soonSays(".o-sent", "It contradicts what somebody else said: Cowling fasteners all home. Look again", "had been completed by Sorrel Finch before it came: it is taken down as late")
	b.soonSays(".waits", "1 to look at")
	b.shoot("sent late 390 light")
	s := state(t, c.walk(walk), "cowling")
	late := func(r walkaround.Result) bool { return r.Late && r.By == "Wren Talbot" }
	if len(s.Results) != 2 || s.State != walkaround.Contested || !slices.ContainsFunc(s.Results, late) {
		t.Errorf("on record: %s %+v", s.State, s.Results)
	}
	b.click(".o-sent button")
	b.until(`document.querySelector(".waits").hidden`)
}

// skipTheRest says of every check of which nothing is said yet that it was skipped.
func (v *visitor) skipTheRest(walk string) {
	v.club.t.Helper()
	standings := v.club.walk(walk).Review.Standings
	for i := range standings {
		station := standings[i].Check.Station
		if i > 0 && standings[i-1].Check.Station == station {
			continue
		}
		rest := v.station(walk, string(station))
		for _, s := range standings {
			if s.Check.Station == station && s.State == walkaround.Open {
				rest.Set(s.Check.ID+".outcome", "skipped")
				rest.Set(s.Check.ID+".note", "Only the cowling was asked for.")
			}
		}
		if got := v.post(walk+"/results", rest); got.status != http.StatusSeeOther {
			v.club.t.Fatalf("%s: %d %s", station, got.status, got.body)
		}
	}
}

// TestWhereTheNetworkIsNotOurs holds that a page of a network that wants to be paid first is neither kept nor believed, that a
// server which fails is asked again, and that whoever is not signed in is asked to: nothing that waits is lost by any of it.
func TestWhereTheNetworkIsNotOurs(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	trainer := c.trainer()
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(pilot)
	b.isWatched()
	aircraft := "/aircraft/" + trainer.ID.String()
	b.open(aircraft)
	b.hasKept(aircraft, aircraft+"/squawk", "/outbox")
	c.something(func(w http.ResponseWriter, _ *http.Request) bool {
		w.Header().Set("Content-Type", "text/html")
		_, _ = w.Write([]byte("<title>Welcome</title><h1>Pay for the network</h1>"))
		return true
	})
	b.open(aircraft)
	b.says("h1", "Pay for the network")
	c.network(false)
	b.open(aircraft + "/squawk")
	b.fill("#words", markup)
	b.click("input[value=condition] + span")
	b.press(".squawk-form button:not([type])")
	b.soonSays(".outbox", "Waits to be sent", "<script>window.ran=1</script>")
	if eval[bool](b, `window.ran === 1 || document.querySelector(".outbox img, .outbox svg, .outbox script") !== null`) {
		t.Error("what was written is run")
	}
	c.network(true) // of somebody else
	if outcome := eval[bool](b, `phone.flush(true).then(o => o.network)`, chromedp.EvalAwaitPromise); outcome {
		t.Error("somebody else's page is taken for ours")
	}
	refused := func(status int) {
		t.Helper()
		c.something(func(w http.ResponseWriter, r *http.Request) bool {
			if r.Method == http.MethodPost {
				w.WriteHeader(status)
			}
			return r.Method == http.MethodPost
		})
		eval[any](b, `phone.flush(true).then(() => 0)`, chromedp.EvalAwaitPromise)
		if got := b.queued(); got != "squawk waiting" {
			t.Errorf("after %d: %s", status, got)
		}
	}
	refused(http.StatusForbidden) // a gateway's: ours says which problem it is
	refused(http.StatusServiceUnavailable)
	refused(http.StatusTooManyRequests)
	b.open("/outbox")
	b.soonSays(".o-waiting", "The server could not take it (429). It is tried again.")
	_, err := chromedp.Call(b.ctx, network.ClearBrowserCookies, cdp.Empty{}) // as at the end of a session
	b.must(err)
	c.something(nil)
	b.open("/outbox") // leads to sign in
	b.until(`document.querySelector(".waits").textContent.includes("1 to send, sign in to send")`)
	if left := eval[bool](b, `caches.has(phone.pages)`, chromedp.EvalAwaitPromise); left {
		t.Error("pages of a session that is over are left")
	}
	b.fill("#email", pilot)
	b.fill("#password", password)
	b.press("form button")
	b.until(`phone.all().then(all => all.every(r => r.state === "sent"))`)
	if filed := c.squawks(trainer.ID); len(filed) != 1 || !strings.Contains(filed[0].Words, "<script>") {
		t.Errorf("on record: %+v", filed)
	}
}

// TestAStationTakesPhotos holds that a photo goes with what is said of a check, that one without a word of it is named at its
// check, and that one which is no picture leaves what was said on record, and says so; all without script.
func TestAStationTakesPhotos(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	v := c.signIn(pilot)
	walk := v.begin(c.trainer().ID)
	form := v.station(walk, "nose")
	alone := v.postFiles(walk+"/results", form, map[string][]byte{"cowling.photo": camera.JPEG(64, 48, 1)})
	if alone.status != http.StatusUnprocessableEntity || !strings.Contains(alone.body, "there is a photo, and nothing is said of the check") {
		t.Errorf("a photo of nothing: %d", alone.status)
	}
	form.Set("cowling.outcome", "finding")
	form.Set("cowling.note", "Cracked at the hinge.")
	for range 2 {
		if got := v.postFiles(walk+"/results", form, map[string][]byte{"cowling.photo": camera.JPEG(64, 48, 1)}); got.status != http.StatusSeeOther {
			t.Fatalf("%d %s", got.status, got.body)
		}
	}
	result := state(t, c.walk(walk), "cowling").Results[0].ID
	photos := c.photos(hangar.PhotoFilter{Walkaround: c.walk(walk).Walkaround.ID})
	if len(photos) != 1 || photos[0].Of.Result != result {
		t.Fatalf("photos: %+v", photos)
	}
	shown := "/v1/photos/" + photos[0].ID.String() + "/thumbnail"
	for _, path := range []string{walk + "?station=nose", walk + "/review"} {
		if page := v.get(path); !strings.Contains(page.body, shown) {
			t.Errorf("%s does not show the photo", path)
		}
	}
	other := v.station(walk, "cabin")
	var check string
	for _, s := range c.walk(walk).Review.Standings {
		if s.Check.Station == walkaround.Cabin && s.Check.Way == walkaround.Look {
			check = s.Check.ID
		}
	}
	other.Set(check+".outcome", "good")
	got := v.postFiles(walk+"/results", other, map[string][]byte{check + ".photo": []byte("no picture")})
	if to := got.header.Get("Location"); got.status != http.StatusSeeOther || to != walk+"?station=cabin&photo=invalid" {
		t.Errorf("no picture: %d, to %s", got.status, to)
	}
	if s := state(t, c.walk(walk), check); s.State != walkaround.Done {
		t.Errorf("what was said with it is %s", s.State)
	}
	if page := v.get(walk + "?station=cabin&photo=invalid"); !strings.Contains(page.body, "a photo is not") || !strings.Contains(page.body, "no picture that can be read") {
		t.Error("nothing says that the photo is not there")
	}
	review := v.get(walk + "/review")
	if got := v.post(walk+"/findings/"+result.String(), url.Values{"once": {hidden(t, review, "once")}}); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	squawk := c.squawks(c.trainer().ID)[0].ID
	if page := v.get("/squawks/" + squawk.String()); !strings.Contains(page.body, shown) {
		t.Error("the squawk of the finding does not show its photo")
	}
}

// postFiles sends a form with files.
func (v *visitor) postFiles(path string, form url.Values, files map[string][]byte) seen {
	v.club.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	form.Set("form_token", v.form)
	for name, values := range form {
		for _, value := range values {
			_ = w.WriteField(name, value) // a buffer takes everything
		}
	}
	for name, raw := range files {
		part, _ := w.CreateFormFile(name, "photo.jpg") // a buffer takes everything
		_, _ = part.Write(raw)
	}
	_ = w.Close()
	r, err := http.NewRequestWithContext(v.club.t.Context(), http.MethodPost, v.club.server.URL+path, &body)
	if err != nil {
		v.club.t.Fatal(err)
	}
	r.Header.Set("Content-Type", w.FormDataContentType())
	return v.do(r)
}
