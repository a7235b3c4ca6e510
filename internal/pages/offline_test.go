package pages_test

import (
	"net/http"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
)

// weakLine is what may happen to what is sent to the server and what comes back.
type weakLine struct {
	mu    sync.Mutex
	down  bool                                               // nothing gets through
	lost  func(r *http.Request) bool                         // its answer is lost, once it has been worked on
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

// network takes the network away, and gives it back.
func (c *club) network(there bool) {
	c.weak.mu.Lock()
	c.weak.down = !there
	c.weak.mu.Unlock()
	if !there {
		c.server.CloseClientConnections()
	}
}

// until waits for something to become so on a page.
func (b *tab) until(expression string) {
	b.t.Helper()
	if _, err := chromedp.Run(b.ctx, chromedp.Poll[bool](expression, chromedp.WithPollingTimeout(patience))); err != nil {
		b.t.Fatalf("%s: %v\n%s", expression, err, eval[string](b, "document.body.innerText"))
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
