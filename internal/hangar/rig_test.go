package hangar_test

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"tiedown/internal/audit"
	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m, postgres.Migrate) }

// noon is when every story begins.
var noon = time.Date(2027, time.January, 10, 18, 0, 0, 0, time.UTC)

// club is a service on a real store, with one base, one trainer and a clock of its own.
type club struct {
	t        *testing.T
	url      string // of its database
	store    *postgres.Store
	service  *hangar.Service
	who      techlog.Principal
	base     techlog.ID
	aircraft techlog.ID

	mu  sync.Mutex
	now time.Time
}

func newID() techlog.ID { return techlog.ID(uuid.Must(uuid.NewV7())) }

func newClub(t *testing.T) *club {
	t.Helper()
	url := pgtest.New(t)
	store, err := postgres.Open(t.Context(), postgres.Config{URL: url})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	c := &club{t: t, url: url, store: store, now: noon}
	t.Cleanup(c.everythingIsAsEntered)
	c.service = c.serviceWith("")
	c.who = c.join("The first club")
	c.base = c.addBase(c.who)
	c.aircraft = c.enter("trainer", "N012TW")
	return c
}

// everythingIsAsEntered holds, when a test is over, whatever its use cases have written against the log.
func (c *club) everythingIsAsEntered() {
	c.t.Helper()
	organizations, err := c.store.Organizations(context.Background())
	if err != nil {
		c.t.Fatal(err)
	}
	for _, o := range organizations {
		report := func(f audit.Fault) { c.t.Errorf("%s: %s", o.Name, f) }
		if _, err := c.store.VerifyLog(context.Background(), o.ID, []audit.PublicKey{logKey(c.t).Public()}, nil, report); err != nil {
			c.t.Fatal(err)
		}
		c.changesAreTold(o.ID)
		c.everyKindIsKnown(o.ID)
	}
}

// logKey is a key of the log, the same for every club.
func logKey(t *testing.T) audit.Key {
	t.Helper()
	secret, err := audit.NewKey(strings.NewReader(strings.Repeat("a key for tests ", 4)))
	if err != nil {
		t.Fatal(err)
	}
	key, err := audit.ReadKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

// serviceWith makes a service that reads the book under another digest.
func (c *club) serviceWith(edition string) *hangar.Service {
	c.t.Helper()
	book, err := regulation.Current()
	if err != nil {
		c.t.Fatal(err)
	}
	return hangar.New(hangar.Settings{
		Store: c.store, Book: hangar.Book{Rules: book.Ruleset, Upkeep: book.Upkeep, Digest: book.Digest + edition}, Now: c.clock, NewID: newID,
		Log: c.store, LogKey: logKey(c.t), Files: c.store,
	})
}

func (c *club) clock() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *club) wait(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = c.now.Add(d)
}

// join adds an organization and gives its administrator.
func (c *club) join(name string) techlog.Principal {
	c.t.Helper()
	who := techlog.Principal{Organization: newID(), Token: newID(), Name: "administrator of " + name, Roles: techlog.As(techlog.Administrator)}
	if err := c.store.AddOrganization(c.t.Context(), techlog.Organization{ID: who.Organization, Name: name}); err != nil {
		c.t.Fatal(err)
	}
	if err := c.store.AddToken(c.t.Context(), who, sha256.Sum256(who.Token[:])); err != nil {
		c.t.Fatal(err)
	}
	return who
}

// keep remembers the result that a use case renders.
func keep[T any](into *T) hangar.Render[T] {
	return func(v T) ([]byte, error) {
		*into = v
		return []byte("kept"), nil
	}
}

// must fails the test on an error.
func (c *club) must(_ []byte, err error) {
	c.t.Helper()
	if err != nil {
		c.t.Fatal(err)
	}
}

func (c *club) addBase(who techlog.Principal) techlog.ID {
	c.t.Helper()
	var b techlog.Base
	c.must(c.service.AddBase(c.t.Context(), who, techlog.Base{
		Code: "HOME", Name: "Home field", Lat: 41.2, Lon: -95.5, Zone: "America/Chicago",
	}, nil, keep(&b)))
	return b.ID
}

func (c *club) enter(file, registration string) techlog.ID {
	c.t.Helper()
	written, err := demo.Aircraft(file)
	if err != nil {
		c.t.Fatal(err)
	}
	var a techlog.Aircraft
	c.must(c.service.AddAircraft(c.t.Context(), c.who, techlog.Aircraft{
		Registration: registration, Type: file, Base: c.base, Facts: written.Facts, Configuration: written.Configuration,
	}, nil, keep(&a)))
	return a.ID
}

func (c *club) squawk(kind, unit, item string) hangar.FiledSquawk {
	c.t.Helper()
	var f hangar.FiledSquawk
	c.must(c.service.FileSquawk(c.t.Context(), c.who, hangar.SquawkReport{
		Aircraft: c.aircraft, Kind: kind, Unit: unit, Item: item, Words: "Seen on the walkaround.",
	}, nil, keep(&f)))
	return f
}

// plan intends a flight of an hour and a half, so many hours from noon on.
func (c *club) plan(hours float64, change func(*hangar.FlightPlan)) hangar.HeldFlight {
	c.t.Helper()
	p := c.flightPlan(hours)
	if change != nil {
		change(&p)
	}
	var h hangar.HeldFlight
	c.must(c.service.PlanFlight(c.t.Context(), c.who, p, nil, keep(&h)))
	return h
}

func (c *club) flightPlan(hours float64) hangar.FlightPlan {
	no, two, one, low := false, 2, 1, 3000.0
	departs := noon.Add(time.Duration(hours * float64(time.Hour)))
	return hangar.FlightPlan{
		Aircraft: c.aircraft, From: c.base, To: c.base, Departs: departs, Arrives: departs.Add(90 * time.Minute), Rules: "vfr",
		Purpose: "Pattern work", Facts: casefile.FlightFacts{
			ForHire: &no, OverWater: &no, Controlled: &no, Occupants: &two, Persons: &two, RequiredCrew: &one, AltitudeFt: &low, Airspace: &[]string{},
		},
	}
}

func (c *club) flight(id techlog.ID) techlog.Flight {
	c.t.Helper()
	f, err := c.store.Flight(c.t.Context(), c.who.Organization, id)
	if err != nil {
		c.t.Fatal(err)
	}
	return f
}

// holds checks what the stored hold of a flight says, and that judging anew from the records says the same.
func (c *club) holds(id techlog.ID, want string) {
	c.t.Helper()
	stored := c.flight(id).Hold
	if stored.Verdict != want {
		c.t.Errorf("the flight is %s, want %s (%v)", stored.Verdict, want, stored.Rows)
	}
	anew, err := c.service.Flight(c.t.Context(), c.who, id)
	if err != nil {
		c.t.Fatal(err)
	}
	if !anew.Flight.Hold.Same(stored) {
		c.t.Errorf("the stored hold is %+v, judged anew %+v", stored, anew.Flight.Hold)
	}
}

func (c *club) status(who techlog.Principal, aircraft techlog.ID) (casefile.Status, error) {
	c.t.Helper()
	body, err := c.service.Status(context.WithoutCancel(c.t.Context()), who, aircraft)
	var s casefile.Status
	if err == nil {
		err = json.Unmarshal(body.Body, &s)
	}
	return s, err
}

func (c *club) carryOver(squawk techlog.ID, step techlog.SquawkStep, d *techlog.Deferral) {
	c.t.Helper()
	c.must(nil, c.service.CarryOver(c.t.Context(), c.who, hangar.CarriedOver{Squawk: squawk, Step: step, Deferral: d, Words: "From the paper log."}))
}

func deferral(until time.Time) *techlog.Deferral {
	return &techlog.Deferral{
		Basis: "14 CFR 91.213(d)", Method: "deactivated", Placard: "Inoperative", Entry: "airframe log 12",
		DeterminedBy: "a rated mechanic", DeterminedAt: noon, Until: until,
	}
}

// kind checks the kind of an error.
func (c *club) kind(err error, want techlog.Kind) {
	c.t.Helper()
	if techlog.KindOf(err) != want {
		c.t.Errorf("error %v of kind %q, want %q", err, techlog.KindOf(err), want)
	}
}
