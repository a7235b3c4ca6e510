package postgres_test

import (
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
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
		return store, store
	})
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
