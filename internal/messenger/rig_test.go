package messenger_test

import (
	"context"
	"crypto/sha256"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/messenger"
	"tiedown/internal/notice"
	"tiedown/internal/postgres"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m, postgres.Migrate) }

// noon is when every story begins: noon in Chicago.
var noon = time.Date(2027, time.January, 10, 18, 0, 0, 0, time.UTC)

func newID() techlog.ID { return techlog.ID(uuid.Must(uuid.NewV7())) }

// letterbox keeps what is sent, and may be made to fail.
type letterbox struct {
	mu      sync.Mutex
	letters []notice.Mail
	fail    func(notice.Mail) error // before it is taken
	lose    func(notice.Mail) error // after
}

func (b *letterbox) Domain() string { return "club.example" }

func (b *letterbox) Send(_ context.Context, m notice.Mail) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.fail != nil {
		if err := b.fail(m); err != nil {
			return err
		}
	}
	b.letters = append(b.letters, m)
	if b.lose != nil {
		return b.lose(m)
	}
	return nil
}

// take gives what was sent since the last time.
func (b *letterbox) take() []notice.Mail {
	b.mu.Lock()
	defer b.mu.Unlock()
	taken := b.letters
	b.letters = nil
	return taken
}

// club is an organization with one base, one trainer and a clock of its own.
type club struct {
	t         *testing.T
	store     *postgres.Store
	service   *hangar.Service
	messenger *messenger.Messenger
	box       *letterbox
	who       techlog.Principal
	base      techlog.ID
	aircraft  techlog.ID
	gaveUp    []string

	mu  sync.Mutex
	now time.Time
}

func newClub(t *testing.T) *club {
	t.Helper()
	c := emptyClub(t)
	c.enter()
	return c
}

// emptyClub is one that has no aircraft yet.
func emptyClub(t *testing.T) *club {
	t.Helper()
	store, err := postgres.Open(t.Context(), postgres.Config{URL: pgtest.New(t)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	c := &club{t: t, store: store, now: noon, box: &letterbox{}}
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	c.service = hangar.New(hangar.Settings{
		Store: store, Book: hangar.Book{Rules: book.Ruleset, Upkeep: book.Upkeep, Digest: book.Digest}, Now: c.clock, NewID: newID,
	})
	c.messenger = c.over(store)
	c.who = techlog.Principal{Organization: newID(), Token: newID(), Name: "the administrator", Roles: techlog.As(techlog.Administrator)}
	if err := store.AddOrganization(t.Context(), techlog.Organization{ID: c.who.Organization, Name: "Prairie Club"}); err != nil {
		t.Fatal(err)
	}
	if err := store.AddToken(t.Context(), c.who, sha256.Sum256(c.who.Token[:])); err != nil {
		t.Fatal(err)
	}
	var b techlog.Base
	c.must(c.service.AddBase(t.Context(), c.who, techlog.Base{Code: "HOME", Name: "Home field", Lat: 41.2, Lon: -95.5, Zone: "America/Chicago"}, nil, keep(&b)))
	c.base = b.ID
	return c
}

// enter adds the trainer, in order as of noon.
func (c *club) enter() {
	c.t.Helper()
	written, err := demo.Aircraft("trainer")
	if err != nil {
		c.t.Fatal(err)
	}
	demo.Inspect(&written.Facts, noon)
	var a techlog.Aircraft
	c.must(c.service.AddAircraft(c.t.Context(), c.who, techlog.Aircraft{
		Registration: "N012TW", Type: "trainer", Base: c.base, Facts: written.Facts, Configuration: written.Configuration,
	}, nil, keep(&a)))
	c.aircraft = a.ID
}

// over makes a messenger over a store, which shares the letterbox.
func (c *club) over(store messenger.Store) *messenger.Messenger {
	return messenger.New(messenger.Settings{
		Store: store, Records: c.store, Service: c.service, Mailer: c.box, Now: c.clock, NewID: newID, PublicURL: "https://club.example",
		GaveUp: func(_ techlog.ID, trace string) { c.gaveUp = append(c.gaveUp, trace) },
	})
}

func (c *club) clock() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

// at puts the clock to an instant.
func (c *club) at(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

func (c *club) wait(d time.Duration) { c.at(c.clock().Add(d)) }

func keep[T any](into *T) hangar.Render[T] {
	return func(v T) ([]byte, error) {
		*into = v
		return []byte("kept"), nil
	}
}

func (c *club) must(_ []byte, err error) {
	c.t.Helper()
	if err != nil {
		c.t.Fatal(err)
	}
}

// enroll adds a member, who asks as the person from then on.
func (c *club) enroll(name string, roles ...techlog.Role) techlog.Principal {
	c.t.Helper()
	added, err := c.service.AddMember(c.t.Context(), c.who, hangar.NewMember{Email: name + "@club.example", Name: name, Roles: techlog.As(roles...)})
	if err != nil {
		c.t.Fatal(err)
	}
	return techlog.Principal{Organization: c.who.Organization, Person: added.Member.Person, Token: added.Member.Person, Name: name, Roles: techlog.As(roles...)}
}

// wants changes what somebody wants to hear of.
func (c *club) wants(who techlog.Principal, change func(*notice.Preferences)) notice.Preferences {
	c.t.Helper()
	p, err := c.messenger.Preferences(c.t.Context(), who)
	if err != nil {
		c.t.Fatal(err)
	}
	change(&p)
	if p, err = c.messenger.SetPreferences(c.t.Context(), who, p); err != nil {
		c.t.Fatal(err)
	}
	return p
}

// plan intends a flight of an hour and a half, so long from now.
func (c *club) plan(after time.Duration) techlog.Flight {
	c.t.Helper()
	departs := c.clock().Add(after)
	var h hangar.HeldFlight
	c.must(c.service.PlanFlight(c.t.Context(), c.who, hangar.FlightPlan{
		Aircraft: c.aircraft, From: c.base, To: c.base, Departs: departs, Arrives: departs.Add(90 * time.Minute), Rules: "vfr",
		Purpose: "Pattern work", Facts: casefile.FlightFacts{
			ForHire: new(false), OverWater: new(false), Controlled: new(false), Occupants: new(2), Persons: new(2), RequiredCrew: new(1),
			AltitudeFt: new(3000.0), Airspace: &[]string{},
		},
	}, nil, keep(&h)))
	return h.Flight
}

// squawk files one on a unit.
func (c *club) squawk(unit string) techlog.Squawk {
	c.t.Helper()
	var f hangar.FiledSquawk
	c.must(c.service.FileSquawk(c.t.Context(), c.who, hangar.SquawkReport{
		Aircraft: c.aircraft, Kind: "inoperative", Unit: unit, Words: "Dead since the last landing.",
	}, nil, keep(&f)))
	return f.Squawk
}

func (c *club) carryOver(squawk techlog.ID, step techlog.SquawkStep, d *techlog.Deferral) {
	c.t.Helper()
	c.must(nil, c.service.CarryOver(c.t.Context(), c.who, hangar.CarriedOver{Squawk: squawk, Step: step, Deferral: d, Words: "From the paper log."}))
}

// tell writes and sends what there is to tell, and gives what was sent, by whom it is to.
func (c *club) tell() map[string][]notice.Mail {
	c.t.Helper()
	for _, do := range []func(context.Context) (int, error){c.messenger.Relay, c.messenger.Digests, c.messenger.Send} {
		if _, err := do(c.t.Context()); err != nil {
			c.t.Fatal(err)
		}
	}
	to := map[string][]notice.Mail{}
	for _, m := range c.box.take() {
		name, _, _ := strings.Cut(m.To, "@")
		to[name] = append(to[name], m)
	}
	return to
}

// says holds that what was sent is one letter to each of those named, with a subject, and none to anybody else.
func (c *club) says(what string, got map[string][]notice.Mail, want map[string]string) {
	c.t.Helper()
	for name, letters := range got {
		if len(letters) != 1 || letters[0].Subject != want[name] {
			for _, l := range letters {
				c.t.Errorf("%s: to %s: %q, want %q", what, name, l.Subject, want[name])
			}
		}
	}
	for name := range want {
		if len(got[name]) == 0 {
			c.t.Errorf("%s: nothing to %s, want %q", what, name, want[name])
		}
	}
}
