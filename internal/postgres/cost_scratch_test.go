package postgres_test

import (
	"context"
	"crypto/sha256"
	"fmt"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
)

func TestCost(t *testing.T) {
	testing.Benchmark(func(b *testing.B) {
		if b.N > 1 {
			return
		}
		f := newFleet(b)
		f.store.Close()
		store, err := postgres.Open(b.Context(), postgres.Config{URL: f.url, MaxConns: 1})
		if err != nil {
			b.Fatal(err)
		}
		defer store.Close()
		f.store = store
		store.Ping(b.Context())
		var pid, bare int
		conn, _ := f.pool.Acquire(b.Context())
		defer conn.Release()
		conn.QueryRow(b.Context(), "select pg_backend_pid()").Scan(&bare)
		if err := conn.QueryRow(b.Context(), "select max(pid) from pg_stat_activity where datname=current_database() and pid<>pg_backend_pid() and query like '%ping%'").Scan(&pid); err != nil {
			fmt.Println(err)
		}
		measure := func(name string, pid int, do func(ctx context.Context, a techlog.ID) error) {
			bs, bc := 1e9, 1e9
			turn := 0
			for range 40 {
				s0, c0 := sched(fmt.Sprintf("/proc/%d/schedstat", pid)), clientCPU()
				const n = 40
				for range n {
					turn++
					if err := do(b.Context(), f.aircraft[turn%len(f.aircraft)]); err != nil {
						b.Fatal(err)
					}
				}
				s1, c1 := sched(fmt.Sprintf("/proc/%d/schedstat", pid)), clientCPU()
				bs, bc = min(bs, (s1-s0)/n), min(bc, (c1-c0)/n)
			}
			fmt.Printf("%-12s server %6.1f client %6.1f\n", name, bs, bc)
		}
		measure("bare", bare, func(ctx context.Context, aircraft techlog.ID) error {
			_, err := conn.Exec(ctx, `INSERT INTO bare.bare VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
				[16]byte(f.org), [16]byte(nextID()), [16]byte(aircraft), 1, "inoperative", "", "landing-light", "landing light dark", "reported", "P. Lot", benchNow, 1)
			return err
		})
		measure("bareread", bare, func(ctx context.Context, aircraft techlog.ID) error {
			var version int
			_ = conn.QueryRow(ctx, `SELECT version FROM bare.bare WHERE organization = $1 AND id = $2`, [16]byte(f.org), [16]byte(aircraft)).Scan(&version)
			return nil
		})
		measure("state", pid, func(ctx context.Context, aircraft techlog.ID) error {
			_, err := f.store.StateVersion(ctx, f.org, aircraft)
			return err
		})
		change := func(once bool, lock bool, f2 func(tx hangar.Tx, id, aircraft techlog.ID)) func(ctx context.Context, aircraft techlog.ID) error {
			return func(ctx context.Context, aircraft techlog.ID) error {
				id := nextID()
				scope := hangar.Scope{Organization: f.org, At: benchNow}
				if once {
					scope.Once = &hangar.Once{Token: f.org, Key: id.String(), Digest: sha256.Sum256(id[:])}
				}
				if lock {
					scope.Lock = []hangar.Want{{Aircraft: aircraft, KnownPlan: 1, FlightsFrom: benchNow}}
				}
				_, err := f.store.Change(ctx, scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) { f2(tx, id, aircraft); return nil, nil })
				return err
			}
		}
		event := func(tx hangar.Tx, id, aircraft techlog.ID) {
			tx.Emit(techlog.Event{ID: id, Kind: "squawk.filed", Aircraft: aircraft, Subject: id, At: benchNow})
		}
		nothing := func(tx hangar.Tx, id, aircraft techlog.ID) {}
		touch := func(tx hangar.Tx, id, aircraft techlog.ID) { tx.Touch(aircraft) }
		number := 10000
		squawk := func(tx hangar.Tx, id, aircraft techlog.ID) {
			number++
			s := techlog.Squawk{
				ID: id, Aircraft: aircraft, Number: number, Kind: "inoperative", Item: "landing-light", Words: "landing light dark",
				State: techlog.Closed, ReportedBy: "P. Lot", ReportedAt: benchNow, Version: 1,
			}
			tx.AddSquawk(s)
			tx.AddHistory(techlog.HistoryEntry{
				Squawk: id, Number: 1, At: benchNow, By: "P. Lot", Step: techlog.StepReport, State: s.State, Words: s.Words,
			})
		}
		measure("nothing", pid, change(false, false, nothing))
		measure("event", pid, change(false, false, event))
		measure("once", pid, change(true, false, nothing))
		measure("touch", pid, change(false, false, touch))
		measure("squawk(+touch)", pid, change(false, false, squawk))
		measure("locked", pid, change(false, true, nothing))
		measure("locked touch", pid, change(false, true, touch))
		f.pool.Exec(b.Context(), "select set_config('tiedown.organization', $1, false)", f.org.String())
		holdsChange = func(int) bool { return false }
		measure("file", pid, f.file)
		holdsChange = func(int) bool { return true }
		measure("file+holds", pid, f.file)
	})
}
