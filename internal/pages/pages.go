// Package pages serves the pages that people use: on the ramp, in the hangar and at the desk.
//
// It owns what a page shows and in which order, how a form is read, how an error is shown beside its field, and what a
// browser may load. Every page works as plain HTML: the script only makes it quicker. It does not own a rule, a record or
// a use case, nor how people sign in: it asks those whose it is.
//
// visit is one request: who asks (Door, which httpapi implements, so that sessions are the same at both), the form that was
// sent, and the key that makes it act once. Handlers are entered in routes as open, signed or acting. A handler returns an
// error for whatever it does not show itself, and refuse shows it as a page, by the table problems. After a form the browser
// is sent on (303), so that loading anew sends nothing again.
//
// Nothing stands inline: the policy of every page forbids it. Colors are custom properties with a value for light and one for
// dark. A verdict is a word, a shape and a color, always by the template "verdict" or "answer". Times are shown with their
// zone, in that of the base.
package pages

import (
	"context"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/messenger"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// Door tells who a browser acts for, and gives it the cookie of a session.
type Door interface {
	// Resume finds the session that a browser carries, and its secret. Kind unauthorized.
	Resume(ctx context.Context, r *http.Request) (people.Session, string, error)
	// FromOurPages refuses what a browser says comes from another site's page.
	FromOurPages(r *http.Request) error
	Enter(s people.Session) *http.Cookie
	Leave() *http.Cookie
	Forget()
	From(r *http.Request) people.From
}

// Settings are what the pages are made of.
type Settings struct {
	Service   *hangar.Service
	People    *people.People
	Door      Door
	API       http.Handler // answers whatever is no page
	Log       *slog.Logger
	Now       func() time.Time     // the clock
	NewID     func() techlog.ID    // gives identifiers in the order of time
	Messenger *messenger.Messenger // says what people want to be told
	PublicURL string               // where people reach the pages, without a slash at its end: for what is printed and handed over

	Provider bool // whether people may sign in by way of another provider of identity
}

// limit bounds the time for one page. One with a photo may take longer.
const (
	limit      = 10 * time.Second
	photoLimit = time.Minute
)

// pages answers requests for pages.
type pages struct {
	Settings
	mux     *http.ServeMux
	assets  assets
	views   views
	items   []item
	cites   map[string]string // of the rows of the book
	caution string
	behind  []string // patterns of the pages for whoever has signed in
}

// New makes the handler of the pages, with everything else handed on. It panics if a template or an asset cannot be read:
// both are part of the program.
func New(s Settings) http.Handler {
	p := &pages{Settings: s, mux: http.NewServeMux(), assets: loadAssets()}
	p.views = loadViews(p.assets)
	p.items = catalog(s.Service.Book().Rules)
	p.caution = cautionOf(s.Service.Book().Rules)
	var err error
	if p.cites, err = s.Service.Book().Citations(); err != nil {
		panic(err)
	}
	p.mux.HandleFunc("GET /assets/{name}", p.assets.serve)
	p.routes()
	for _, path := range []string{"/v1/", "/openapi.json", "/healthz", "/readyz", "/audit/"} {
		p.mux.Handle(path, s.API)
	}
	p.mux.HandleFunc("/", p.lost)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if to, ok := fromPlacard(r); ok {
			w.Header().Set("Location", to)
			w.WriteHeader(http.StatusSeeOther)
			return
		}
		p.mux.ServeHTTP(w, r)
	})
}

// routes is every page there is.
func (p *pages) routes() {
	p.doorRoutes()
	p.rampRoutes()
	p.walkaroundRoutes()
	p.hangarRoutes()
	p.signingRoutes()
	p.paperRoutes()
	p.deskRoutes()
	p.offlineRoutes()
	p.planRoutes()
	p.figureRoutes()
	p.rulesRoutes()
	p.peopleRoutes()
	p.settingsRoutes()
	p.ownRoutes()
}

// doorRoutes are those by which people come in, and what is theirs.
func (p *pages) doorRoutes() {
	p.open("GET /sign-in", p.showSignIn)
	p.open("POST /sign-in", p.signIn)
	p.open("POST /sign-in/second-step", p.secondStep)
	p.open("GET /password", p.showPassword)
	p.open("POST /password", p.setPassword)
	p.signed("POST /sign-out", p.signOut)
	p.signed("GET /organization", p.showOrganizations)
	p.signed("POST /organization", p.chooseOrganization)
	p.acting("GET /more", p.showMore)
}

func (p *pages) rampRoutes() {
	p.acting("GET /{$}", p.showFleet)
	p.acting("GET /a/{mark}", p.fromCode)
	p.acting("GET /aircraft/{aircraft}", p.showAircraft)
	p.acting("GET /aircraft/{aircraft}/squawk", p.showSquawkForm)
	p.acting("POST /aircraft/{aircraft}/squawk", p.fileSquawk)
}

func (p *pages) walkaroundRoutes() {
	p.acting("GET /aircraft/{aircraft}/walkaround", p.showStart)
	p.acting("POST /aircraft/{aircraft}/walkaround", p.startWalkaround)
	p.acting("GET /walkarounds/{walkaround}", p.showWalkaround)
	p.acting("POST /walkarounds/{walkaround}/results", p.saveStation)
	p.acting("GET /walkarounds/{walkaround}/review", p.showReview)
	p.acting("POST /walkarounds/{walkaround}/findings/{result}", p.fileFinding)
	p.acting("POST /walkarounds/{walkaround}/complete", p.completeWalkaround)
}

func (p *pages) hangarRoutes() {
	p.acting("GET /squawks", p.showWorkList)
	p.acting("GET /squawks/{squawk}", p.showSquawk)
	p.acting("POST /squawks/{squawk}/notes", p.addNote)
	p.acting("POST /squawks/{squawk}/photos", p.addPhoto)
	p.acting("POST /squawks/{squawk}/moves", p.moveSquawk)
}

func (p *pages) deskRoutes() {
	p.acting("GET /board", p.showBoard)
	p.acting("GET /week", p.showWeek)
	p.acting("GET /flights/{flight}", p.showFlight)
	p.acting("POST /flights/{flight}/determinations", p.keepDetermination)
}

// fromPlacard leads a browser from the address on older placards, which is that of the record, to the page.
func fromPlacard(r *http.Request) (string, bool) {
	id, ok := strings.CutPrefix(r.URL.Path, "/v1/squawks/")
	if !ok || r.Method != http.MethodGet || len(r.Header["Authorization"]) > 0 || !wantsPage(r) {
		return "", false
	}
	squawk, ok := techlog.ParseID(id)
	return "/squawks/" + squawk.String(), ok
}

// wantsPage reports whether a request is a browser's that goes to an address.
func wantsPage(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Accept"), "text/html")
}
