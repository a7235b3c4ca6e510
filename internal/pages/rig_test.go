package pages_test

import (
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/httpapi"
	"tiedown/internal/identity"
	"tiedown/internal/messenger"
	"tiedown/internal/notice/live"
	"tiedown/internal/notice/webhook"
	"tiedown/internal/pages"
	"tiedown/internal/people"
	"tiedown/internal/postgres"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m, postgres.Migrate) }

// today is when the tests happen: on the day on which they run, as browsers throw away cookies that are over, at an hour
// of daylight at the club's bases in any month.
var today = time.Now().UTC().Truncate(24 * time.Hour).Add(18 * time.Hour)

// password is everybody's.
const password = "seven herons along the dyke"

// light is quick to compute: for tests alone.
var light = identity.Parameters{MemoryKiB: 64, Passes: 1, Parallelism: 1}

func newID() techlog.ID { return techlog.ID(uuid.Must(uuid.NewV7())) }

// club is the demo club on a server that a browser reaches.
type club struct {
	t       *testing.T
	store   *postgres.Store
	service *hangar.Service
	people  *people.People
	server  *httptest.Server
	org     techlog.ID
	who     techlog.Principal // its administrator
	log     *lockedBuffer

	mu   sync.Mutex
	now  time.Time
	weak weakLine
}

type lockedBuffer struct {
	mu sync.Mutex
	b  strings.Builder
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

// newClub is a server with the club's people and nothing else.
func newClub(t *testing.T) *club {
	t.Helper()
	store, err := postgres.Open(t.Context(), postgres.Config{URL: pgtest.New(t)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	c := &club{t: t, store: store, now: today, log: &lockedBuffer{}, org: newID()}
	c.server = httptest.NewUnstartedServer(nil)
	address := "http://" + c.server.Listener.Addr().String()
	c.start(address)
	t.Cleanup(c.server.Close)
	t.Cleanup(func() {
		if failed := c.log.String(); failed != "" {
			t.Errorf("the log says: %s", failed)
		}
	})
	if err := store.AddOrganization(t.Context(), techlog.Organization{ID: c.org, Name: demo.ClubName}); err != nil {
		t.Fatal(err)
	}
	for _, m := range demo.People {
		c.join(c.org, string(m.Email), m.Name, m.Roles...)
	}
	c.who = techlog.Principal{Organization: c.org, Token: newID(), Name: "the test", Roles: techlog.As(techlog.Administrator, techlog.Pilot)}
	return c
}

func (c *club) start(address string) {
	c.t.Helper()
	book, err := regulation.Current()
	if err != nil {
		c.t.Fatal(err)
	}
	keys, err := identity.NewPasskeys(address)
	if err != nil {
		c.t.Fatal(err)
	}
	c.people = people.New(people.Settings{Store: c.store, Hasher: identity.NewPasswords(light, 4), Keys: keys, Now: c.clock, NewID: newID})
	c.service = hangar.New(hangar.Settings{
		Store: c.store, Prover: c.people, Book: hangar.Book{Rules: book.Ruleset, Upkeep: book.Upkeep, Digest: book.Digest}, Now: c.clock, NewID: newID,
		Files: c.store, Sealer: sealer(c.t), Targets: webhook.Targets{Resolver: nowhere{}},
	})
	log := slog.New(slog.NewTextHandler(c.log, &slog.HandlerOptions{Level: slog.LevelError}))
	watch := live.NewWatch(c.store, time.Hour)
	watching, stop := context.WithCancel(context.Background())
	var watched sync.WaitGroup
	watched.Go(func() { watch.Run(watching) })
	c.t.Cleanup(func() {
		stop()
		watched.Wait()
	})
	api := httpapi.Settings{
		Service: c.service, Store: c.store, People: c.people, Ready: c.store.Ping, Log: log, Now: c.clock, PublicURL: address, Watch: watch,
	}
	api.Door = httpapi.NewDoor(api)
	c.server.Config.Handler = c.line(pages.New(pages.Settings{
		Service: c.service, People: c.people, Door: api.Door, API: httpapi.New(api), Log: log, Now: c.clock, NewID: newID,
		PublicURL: address, Messenger: messenger.New(messenger.Settings{
			Store: c.store, Records: c.store, Service: c.service, Now: c.clock, NewID: newID, PublicURL: address,
		}),
	}))
	c.server.Start()
}

func (c *club) clock() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

// join gives somebody an account in an organization.
func (c *club) join(org techlog.ID, email, name string, roles ...techlog.Role) techlog.ID {
	c.t.Helper()
	in := &people.NewMember{Organization: org, Name: name, Roles: roles, By: "the test"}
	if org.IsZero() {
		in = nil
	}
	account, link, err := c.people.FirstAccount(c.t.Context(), email, name, in)
	if err != nil {
		c.t.Fatal(err)
	}
	if err := c.people.SetPassword(c.t.Context(), link, password, people.From{}); err != nil {
		c.t.Fatal(err)
	}
	return account.ID
}

// loaded is the club with its fleet, squawks and flights.
func loaded(t *testing.T) *club {
	t.Helper()
	return loadedAt(t, today)
}

// loadedAt is the same, loaded at an instant.
func loadedAt(t *testing.T, at time.Time) *club {
	t.Helper()
	c := newClub(t)
	c.now = at
	members, err := c.service.Members(t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil {
		t.Fatal(err)
	}
	persons := map[techlog.Email]techlog.ID{}
	for _, m := range members {
		persons[m.Email] = m.Person
	}
	who := c.who
	who.Person = persons[demo.Keeper]
	if err := demo.Load(t.Context(), c.service, func(at time.Time) *hangar.Service { return c.at(at) }, who, persons, c.clock()); err != nil {
		t.Fatal(err)
	}
	return c
}

// at is the service with its clock at an instant.
func (c *club) at(at time.Time) *hangar.Service {
	return hangar.New(hangar.Settings{
		Store: c.store, Prover: c.people, Book: c.service.Book(), Now: func() time.Time { return at }, NewID: newID, Files: c.store,
	})
}

func parsed(t *testing.T, answer []byte, err error) techlog.ID {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	var id techlog.ID
	if err := json.Unmarshal(answer, &id); err != nil {
		t.Fatal(err)
	}
	return id
}

// base adds a base with the name.
func (c *club) base(code, name string) techlog.ID {
	c.t.Helper()
	answer, err := c.service.AddBase(c.t.Context(), c.who, techlog.Base{Code: code, Name: name, Lat: 41.21, Lon: -95.48, Zone: "America/Chicago"}, nil,
		func(b techlog.Base) ([]byte, error) { return json.Marshal(b.ID) })
	return parsed(c.t, answer, err)
}

// enter adds an aircraft like the club's trainer.
func (c *club) enter(base techlog.ID, registration, typ string) techlog.ID {
	c.t.Helper()
	written, err := demo.Aircraft("trainer")
	if err != nil {
		c.t.Fatal(err)
	}
	demo.Inspect(&written.Facts, c.clock())
	answer, err := c.service.AddAircraft(c.t.Context(), c.who, techlog.Aircraft{
		Registration: registration, Type: typ, Base: base, Facts: written.Facts, Configuration: written.Configuration,
	}, nil, func(a techlog.Aircraft) ([]byte, error) { return json.Marshal(a.ID) })
	return parsed(c.t, answer, err)
}

// plan plans an ordinary local flight, so many hours from now.
func (c *club) plan(aircraft, base techlog.ID, in float64, purpose string) techlog.ID {
	c.t.Helper()
	no, one, low := false, 1, 3500.0
	departs := c.clock().Add(time.Duration(in * float64(time.Hour)))
	answer, err := c.service.PlanFlight(c.t.Context(), c.who, hangar.FlightPlan{
		Aircraft: aircraft, From: base, To: base, Departs: departs, Arrives: departs.Add(time.Hour), Rules: "vfr", Purpose: purpose,
		Facts: casefile.FlightFacts{ForHire: &no, OverWater: &no, Occupants: &one, Persons: &one, RequiredCrew: &one, AltitudeFt: &low, Airspace: &[]string{}},
	}, nil, func(f hangar.HeldFlight) ([]byte, error) { return json.Marshal(f.Flight.ID) })
	return parsed(c.t, answer, err)
}

// thereAndBack plans a flight of two legs by night, to the same place.
func (c *club) thereAndBack(aircraft techlog.Aircraft) techlog.ID {
	c.t.Helper()
	leg := func(in time.Duration) hangar.LegPlan {
		departs := c.clock().Add(in)
		return hangar.LegPlan{From: hangar.PlacePlan{Base: &aircraft.Base}, To: hangar.PlacePlan{Base: &aircraft.Base}, Departs: departs, Arrives: departs.Add(time.Hour)}
	}
	yes := true
	answer, err := c.service.PlanFlight(c.t.Context(), c.who, hangar.FlightPlan{
		Aircraft: aircraft.ID, Legs: []hangar.LegPlan{leg(20 * time.Hour), leg(32 * time.Hour)}, Rules: "vfr", Purpose: "There and back by night",
		Facts: casefile.FlightFacts{ForHire: &yes},
	}, nil, func(f hangar.HeldFlight) ([]byte, error) { return json.Marshal(f.Flight.ID) })
	return parsed(c.t, answer, err)
}

// block keeps an aircraft from flying for two days.
func (c *club) block(aircraft techlog.ID, words string) {
	c.t.Helper()
	_, err := c.service.BlockAircraft(c.t.Context(), c.who, aircraft, hangar.BlockPlan{
		From: c.clock().Add(-time.Hour), Until: c.clock().Add(48 * time.Hour), Kind: techlog.BlockedForMaintenance, Words: words,
	}, nil, func(hangar.BlockedAircraft) ([]byte, error) { return nil, nil })
	if err != nil {
		c.t.Fatal(err)
	}
}

// squawk files one.
func (c *club) squawk(aircraft techlog.ID, unit, words string) techlog.ID {
	c.t.Helper()
	answer, err := c.service.FileSquawk(c.t.Context(), c.who, hangar.SquawkReport{Aircraft: aircraft, Kind: "inoperative", Unit: unit, Words: words}, nil,
		func(f hangar.FiledSquawk) ([]byte, error) { return json.Marshal(f.Squawk.ID) })
	return parsed(c.t, answer, err)
}

// visitor is somebody without a browser.
type visitor struct {
	club   *club
	client *http.Client
	form   string // form token, of the last page
}

func (c *club) visitor() *visitor {
	jar, _ := cookiejar.New(nil) // it never fails
	return &visitor{club: c, client: &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
}

// signIn signs in by the form.
func (c *club) signIn(email string) *visitor {
	c.t.Helper()
	v := c.visitor()
	if got := v.post("/sign-in", url.Values{"email": {email}, "password": {password}}); got.status != http.StatusSeeOther {
		c.t.Fatalf("sign in: %d %s", got.status, got.body)
	}
	return v
}

// seen is what a visitor got.
type seen struct {
	status int
	body   string
	header http.Header
}

func (v *visitor) do(r *http.Request) seen {
	v.club.t.Helper()
	if r.Header.Get("Accept") == "" {
		r.Header.Set("Accept", "text/html,application/xhtml+xml")
	}
	answer, err := v.client.Do(r)
	if err != nil {
		v.club.t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		v.club.t.Fatal(err)
	}
	if _, rest, ok := strings.Cut(string(body), `name="form_token" value="`); ok {
		v.form, _, _ = strings.Cut(rest, `"`)
	}
	return seen{answer.StatusCode, string(body), answer.Header}
}

func (v *visitor) get(path string) seen {
	v.club.t.Helper()
	r, err := http.NewRequestWithContext(v.club.t.Context(), http.MethodGet, v.club.server.URL+path, nil)
	if err != nil {
		v.club.t.Fatal(err)
	}
	return v.do(r)
}

// post sends a form, with the form token of the last page unless it gives one.
func (v *visitor) post(path string, form url.Values) seen {
	v.club.t.Helper()
	if !form.Has("form_token") {
		form.Set("form_token", v.form)
	}
	r, err := http.NewRequestWithContext(v.club.t.Context(), http.MethodPost, v.club.server.URL+path, strings.NewReader(form.Encode()))
	if err != nil {
		v.club.t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return v.do(r)
}

// hidden is the value of a hidden field of a page.
func hidden(t *testing.T, page seen, name string) string {
	t.Helper()
	_, rest, ok := strings.Cut(page.body, `name="`+name+`" value="`)
	if !ok {
		t.Fatalf("the page has no field %s: %s", name, page.body)
	}
	value, _, _ := strings.Cut(rest, `"`)
	return value
}
