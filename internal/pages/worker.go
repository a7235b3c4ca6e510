package pages

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"time"

	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// Headers between the pages, the worker that keeps them in a browser, and the queue of what waits there to be sent.
const (
	headerPerson  = "Tiedown-Person"  // whom a page was made for, as a query; nobody: whoever asks has not signed in
	headerProblem = "Tiedown-Problem" // kind of problem: whatever answers without it is not this server
	headerQueued  = "Tiedown-Queued"  // of a form out of the queue, which is answered as JSON
	headerWritten = "Tiedown-Written" // when it was filled in
)

// offlineRoutes are what an installed app and a phone without network need.
func (p *pages) offlineRoutes() {
	p.open("GET /no-network", p.showNoNetwork)
	p.open("GET /outbox/pass", p.passOutbox)
	p.acting("GET /outbox", p.showOutbox)
	p.acting("GET /aircraft/{aircraft}/walkaround/ahead", p.showAhead)
	p.mux.HandleFunc("GET /worker.js", p.whole("text/javascript; charset=utf-8", p.workerScript()))
	p.mux.HandleFunc("GET /manifest.webmanifest", p.whole("application/manifest+json", manifest(p.assets)))
}

// whole gives out something that is asked for anew each time, as its name stays when it changes.
func (p *pages) whole(media string, body []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, _ *http.Request) {
		h := w.Header()
		h.Set("Content-Type", media)
		h.Set("Cache-Control", "no-cache")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Content-Security-Policy", "default-src 'none'; connect-src 'self'") // it is the worker's own as well
		h.Set("Content-Length", strconv.Itoa(len(body)))
		_, _ = w.Write(body) // whoever asked may have gone
	}
}

// manifest is what a browser needs to know to install the pages as an app.
func manifest(a assets) []byte {
	type icon struct {
		Src     string `json:"src"`
		Sizes   string `json:"sizes"`
		Type    string `json:"type"`
		Purpose string `json:"purpose"`
	}
	body, err := json.Marshal(struct {
		ID         string `json:"id"`
		Name       string `json:"name"`
		ShortName  string `json:"short_name"`
		Describes  string `json:"description"`
		StartURL   string `json:"start_url"`
		Scope      string `json:"scope"`
		Display    string `json:"display"`
		Lang       string `json:"lang"`
		Background string `json:"background_color"`
		Theme      string `json:"theme_color"`
		Icons      []icon `json:"icons"`
	}{
		"/", "Tiedown", "Tiedown", "May this aircraft make this flight? With the paragraph.", "/", "/", "standalone", "en", "#f3f0e8", "#f3f0e8", []icon{
			{a.names["mark.svg"], "any", "image/svg+xml", "any"},
			{a.names["mark-192.png"], "192x192", "image/png", "any"},
			{a.names["mark-512.png"], "512x512", "image/png", "any"},
			{a.names["mark-maskable.svg"], "any", "image/svg+xml", "maskable"},
			{a.names["mark-maskable-512.png"], "512x512", "image/png", "maskable"},
		},
	})
	if err != nil {
		panic(err) // strings alone
	}
	return body
}

// workerScript is the worker with what it keeps from the beginning: the page that says that there is no network, and the
// files that pages load. Its version is a digest of all of it, so that another is another worker.
func (p *pages) workerScript() []byte {
	var lost bytes.Buffer
	if err := p.views["outbox"].ExecuteTemplate(&lost, "layout", p.noNetwork()); err != nil {
		panic(err) // the template is part of the program
	}
	script := read("assets/script/60-offline-store.js")
	for _, e := range folder("assets/worker") {
		script = append(script, read("assets/worker/"+e.Name())...)
	}
	shell := []string{"/no-network"}
	for _, name := range []string{"style.css", "pages.js", "mark.svg"} {
		shell = append(shell, p.assets.names[name])
	}
	digest := sha256.Sum256(slices.Concat(script, lost.Bytes()))
	var b bytes.Buffer
	b.WriteString("\"use strict\";\n")
	for _, c := range []struct {
		name  string
		value any
	}{{"version", hex.EncodeToString(digest[:8])}, {"shell", shell}, {"current", p.assets.names}} {
		value, err := json.Marshal(c.value)
		if err != nil {
			panic(err) // strings alone
		}
		b.WriteString("const " + c.name + " = " + string(value) + ";\n")
	}
	b.Write(script)
	return b.Bytes()
}

// outboxPage is what is kept on a phone. What it shows comes from there: the server knows nothing of it.
type outboxPage struct {
	NoNetwork bool
}

func (p *pages) noNetwork() frame {
	return frame{Title: "No network", Club: true, Here: "more", Caution: p.caution, Page: outboxPage{NoNetwork: true}}
}

// showNoNetwork is the page that stands for every one that was not kept. It is the same for everybody.
func (p *pages) showNoNetwork(v *visit) error { return p.showIn(v, ok, "outbox", p.noNetwork()) }

func (p *pages) showOutbox(v *visit) error {
	return p.showIn(v, ok, "outbox", frame{Title: "Kept on this phone", Here: "more", Page: outboxPage{}})
}

// passOutbox tells who is signed in and gives the form token of the session: what waits on a phone is sent with it, for
// that person and nobody else. A token is good for its session alone, so that who it is for cannot change in between.
func (p *pages) passOutbox(v *visit) error {
	h := v.w.Header()
	h.Set("Content-Type", "application/json")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	session, secret, err := p.Door.Resume(v, v.Request)
	pass := struct {
		Person string `json:"person"` // empty: nobody
		Form   string `json:"form"`
	}{}
	switch {
	case techlog.KindOf(err) == techlog.KindUnauthorized:
	case err != nil:
		h.Del("Content-Type")
		return err
	default:
		pass.Person, pass.Form = personKey(session.Principal()), people.FormToken(secret)
	}
	return json.NewEncoder(v.w).Encode(pass)
}

// personKey names a person in an organization to a browser: what is kept there is kept for both.
func personKey(who techlog.Principal) string {
	digest := sha256.Sum256(append(who.Person[:], who.Organization[:]...))
	return hex.EncodeToString(digest[:12])
}

// person is whom a page is made for, as the worker reads it.
func (v *visit) person() string {
	session := sha256.Sum256(append([]byte("session"), v.session.ID[:]...))
	return url.Values{
		"person": {personKey(v.who)}, "name": {v.who.Name}, "session": {hex.EncodeToString(session[:12])}, "form": {people.FormToken(v.secret)},
		"began": {strconv.FormatInt(v.session.Began.UnixMilli(), 10)}, "until": {strconv.FormatInt(v.who.Until.UnixMilli(), 10)},
	}.Encode()
}

// queued reports whether a form comes out of the queue of a browser.
func (v *visit) queued() bool { return v.Header.Get(headerQueued) != "" && isWrite(v.Request) }

// taken answers a form out of the queue: where its outcome is seen, and what whoever sent it ought to hear.
func (v *visit) taken(path string) error {
	v.w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(v.w).Encode(struct {
		To   string   `json:"to"`
		Says []string `json:"says,omitempty"`
	}{path, v.says})
}

// written is when a form was filled in: now, or, out of a queue, when the phone says, within what may be.
func (v *visit) written(now time.Time) time.Time {
	at, err := time.Parse(time.RFC3339, v.Header.Get(headerWritten))
	if !v.queued() || err != nil || at.After(now) || now.Sub(at) > longestQueued {
		return now
	}
	return at
}

// longestQueued is how long something may have waited on a phone for its own time to be believed: as long as an answer is
// kept to what was sent before.
const longestQueued = 30 * 24 * time.Hour
