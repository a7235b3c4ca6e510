package people_test

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"tiedown/internal/hangar"
	"tiedown/internal/identity"
	"tiedown/internal/people"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/authenticator"
	"tiedown/internal/testrig/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m, postgres.Migrate) }

const origin = "https://hangar.example"

var noon = time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)

// rig is the use cases with everything behind them, and one person.
type rig struct {
	*people.People
	t      *testing.T
	store  *postgres.Store
	hasher *counting
	at     time.Time
	person techlog.Account
	club   techlog.ID
}

// counting counts how often a password is hashed, with little work each.
type counting struct {
	people.Hasher
	mu sync.Mutex
	n  int
}

func (c *counting) count() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.n++
}

func (c *counting) Hash(ctx context.Context, password string) (string, error) {
	c.count()
	return c.Hasher.Hash(ctx, password)
}

func (c *counting) Check(ctx context.Context, hash, password string) (bool, bool, error) {
	c.count()
	return c.Hasher.Check(ctx, hash, password)
}

// light is quick to compute: for tests alone.
var light = identity.Parameters{MemoryKiB: 64, Passes: 1, Parallelism: 1}

const (
	mail   = "Wren.Talbot@club.example"
	secret = "four grey geese over the marsh"
)

var from = people.From{Address: "192.0.2.7", Agent: "a browser"}

func newID() techlog.ID { return techlog.ID(uuid.Must(uuid.NewV7())) }

func newRig(t *testing.T, provider people.Provider) *rig {
	t.Helper()
	store, err := postgres.Open(t.Context(), postgres.Config{URL: pgtest.New(t)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	keys, err := identity.NewPasskeys(origin)
	if err != nil {
		t.Fatal(err)
	}
	r := &rig{t: t, store: store, hasher: &counting{Hasher: identity.NewPasswords(light, 4)}, at: noon, club: newID()}
	r.People = people.New(people.Settings{
		Store: store, Hasher: r.hasher, Keys: keys, Provider: provider, Now: func() time.Time { return r.at }, NewID: newID,
	})
	if err := store.AddOrganization(t.Context(), techlog.Organization{ID: r.club, Name: "Tern Flying Club"}); err != nil {
		t.Fatal(err)
	}
	r.person = r.add(mail, "Wren Talbot", r.club, secret)
	return r
}

// add makes an account with a password.
func (r *rig) add(email, name string, club techlog.ID, password string) techlog.Account {
	r.t.Helper()
	a, link, err := r.FirstAccount(r.t.Context(), email, name, &people.NewMember{
		Organization: club, Name: name, Roles: techlog.As(techlog.Administrator), By: "the program",
	})
	if err != nil {
		r.t.Fatal(err)
	}
	if err := r.SetPassword(r.t.Context(), link, password, from); err != nil {
		r.t.Fatal(err)
	}
	return a
}

// signIn signs in with the password alone.
func (r *rig) signIn() people.Session {
	r.t.Helper()
	in, err := r.SignIn(r.t.Context(), mail, secret, from)
	if err != nil || in.Second != nil {
		r.t.Fatalf("%+v, %v", in, err)
	}
	return in.Session
}

// withPasskey gives the person a passkey.
func (r *rig) withPasskey(s people.Session) (*authenticator.Authenticator, people.Passkey, []string) {
	r.t.Helper()
	device := authenticator.New(origin)
	asked, err := r.BeginPasskey(r.t.Context(), s.Account.ID, hangar.Proof{Password: secret})
	if err != nil {
		r.t.Fatal(err)
	}
	response, err := device.Create(asked.Options)
	if err != nil {
		r.t.Fatal(err)
	}
	k, codes, err := r.AddPasskey(r.t.Context(), s, people.Registration{Challenge: asked.Challenge, Name: "my phone", Response: response})
	if err != nil {
		r.t.Fatal(err)
	}
	return device, k, codes
}

func wantKind(t *testing.T, what string, err error, kind techlog.Kind) {
	t.Helper()
	if techlog.KindOf(err) != kind {
		t.Errorf("%s: %v, want the kind %q", what, err, kind)
	}
}
