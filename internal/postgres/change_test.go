package postgres_test

import (
	"bytes"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
)

// TestLocksAreTakenInOneOrder: whatever aircraft two changes have in common, they lock them in the same order.
func TestLocksAreTakenInOneOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		ids := rapid.SliceOf(rapid.SliceOfN(rapid.Byte(), 16, 16)).Draw(t, "aircraft")
		var scope hangar.Scope
		for _, id := range ids {
			scope.Lock = append(scope.Lock, hangar.Want{Aircraft: techlog.ID(id)})
		}
		order := postgres.LockOrder(scope)
		for i := 1; i < len(order); i++ {
			if bytes.Compare(ids[order[i-1]], ids[order[i]]) > 0 {
				t.Fatalf("%x is locked before %x", ids[order[i-1]], ids[order[i]])
			}
		}
		if slices.Sort(order); len(order) != len(ids) || len(order) > 0 && (order[0] != 0 || order[len(order)-1] != len(ids)-1) {
			t.Fatalf("%v are not all of %d locks", order, len(ids))
		}
	})
}
