package postgres_test

import (
	"context"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/filestest"
	"tiedown/internal/testrig/pgtest"
	"tiedown/internal/testrig/storetest"
)

func TestMain(m *testing.M) {
	pgtest.Main(m, postgres.Migrate)
}

func TestStore(t *testing.T) {
	t.Parallel()
	storetest.Run(t, func(t *testing.T) (hangar.Store, hangar.Keeper) {
		store := open(t, pgtest.New(t))
		t.Cleanup(func() { everythingIsAsEntered(t, store) })
		return store, store
	})
}

// everythingIsAsEntered holds, when a test is over, whatever it has written against the log.
func everythingIsAsEntered(t *testing.T, store *postgres.Store) {
	t.Helper()
	organizations, err := store.Organizations(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range organizations {
		if faults := verify(t, store, o.ID, newLogKey(t)); len(faults) > 0 {
			t.Errorf("%s: %q", o.Name, faults)
		}
	}
}

// open opens a store for the time of a test.
func open(t testing.TB, url string) *postgres.Store {
	t.Helper()
	store, err := postgres.Open(t.Context(), postgres.Config{URL: url})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	return store
}

// TestStoreOfFiles runs the suite of every place where content is kept.
func TestStoreOfFiles(t *testing.T) {
	t.Parallel()
	filestest.Run(t, func(t *testing.T) filestest.Place {
		store := open(t, pgtest.New(t))
		p := filestest.Place{Files: store, Orgs: [2]techlog.ID{{1}, {2}}, Later: filestest.Ticks(noon)}
		for _, org := range p.Orgs {
			if err := store.AddOrganization(t.Context(), techlog.Organization{ID: org, Name: "a club"}); err != nil {
				t.Fatal(err)
			}
		}
		return p
	})
}
