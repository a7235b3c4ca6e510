package postgres_test

import (
	"strings"
	"testing"

	"tiedown/internal/postgres"
	"tiedown/internal/testrig/pgtest"
)

// TestPlansDoNotReadWholeTables plans the statements of every request on tables that were never analyzed, which is when
// PostgreSQL knows least about them.
func TestPlansDoNotReadWholeTables(t *testing.T) {
	t.Parallel()
	store := open(t, pgtest.New(t))
	conn, err := store.Pool().Acquire(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Release()
	for name, sql := range postgres.HotStatements {
		if _, err := conn.Exec(t.Context(), `PREPARE `+name+` AS `+sql); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		n := len(column[string](t, conn.Conn(), `SELECT unnest(parameter_types)::text FROM pg_prepared_statements WHERE name = $1`, name))
		arguments := strings.TrimSuffix(strings.Repeat("NULL, ", n), ", ")
		plan := strings.Join(column[string](t, conn.Conn(), `EXPLAIN EXECUTE `+name+`(`+arguments+`)`), "\n")
		for _, bad := range []string{"Seq Scan", "Hash Join", "Merge Join"} {
			if strings.Contains(plan, bad) {
				t.Errorf("%s is planned with a %s:\n%s", name, bad, plan)
			}
		}
		if !strings.Contains(plan, "Index") {
			t.Errorf("%s is planned without an index:\n%s", name, plan)
		}
	}
}
