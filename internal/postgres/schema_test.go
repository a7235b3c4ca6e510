package postgres_test

import (
	"flag"
	"os"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/testrig/pgtest"
)

var update = flag.Bool("update", false, "write testdata/schema.sql anew")

const golden = "../../testdata/schema.sql"

// TestSchemaIsTheGoldenOne compares what the migrations lead to with the schema that people read.
//
//	go test ./internal/postgres -run TestSchemaIsTheGoldenOne -update
func TestSchemaIsTheGoldenOne(t *testing.T) {
	t.Parallel()
	got := schema(t, connect(t, pgtest.New(t)))
	if *update {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("the migrations lead to another schema than %s, from here on:\n%s", golden, difference(got, string(want)))
	}
}

// difference is the first line in which two texts differ, with what is around it.
func difference(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	for i := range g {
		if i >= len(w) || g[i] != w[i] {
			return " got " + strings.Join(g[i:min(i+3, len(g))], "\n     ") + "\nwant " + strings.Join(w[min(i, len(w)):min(i+3, len(w))], "\n     ")
		}
	}
	return "the golden one goes on with\n" + strings.Join(w[len(g):], "\n")
}

// The schema as SQL, out of the catalogue: the same from every PostgreSQL, however it was reached and whoever owns it.
const (
	schemaDomains = `
		SELECT format(E'CREATE DOMAIN %s AS %s\n\tCONSTRAINT %s %s;', t.typname, format_type(t.typbasetype, t.typtypmod), k.conname, pg_get_constraintdef(k.oid))
		FROM pg_type t JOIN pg_constraint k ON k.contypid = t.oid
		WHERE t.typnamespace = current_schema()::regnamespace ORDER BY t.typname COLLATE "C", k.conname COLLATE "C"`
	schemaFunctions = `
		SELECT rtrim(replace(pg_get_functiondef(p.oid), current_schema() || '.', ''), E'\n') || ';' FROM pg_proc p
		WHERE p.pronamespace = current_schema()::regnamespace ORDER BY p.proname COLLATE "C"`
	schemaTables = `SELECT c.relname::text FROM pg_class c WHERE ` + ours + ` ORDER BY c.relname COLLATE "C"`
	schemaTable  = `
		SELECT format(E'CREATE TABLE %s (\n%s\n)%s;', c.relname, (
			SELECT string_agg(line, E',\n' ORDER BY part, n, line COLLATE "C") FROM (
				SELECT 1 AS part, a.attnum AS n, format(E'\t%s %s%s%s', a.attname, format_type(a.atttypid, a.atttypmod),
					CASE WHEN a.attgenerated = 's' THEN ' GENERATED ALWAYS AS (' || pg_get_expr(d.adbin, d.adrelid) || ') STORED'
						WHEN d.oid IS NOT NULL THEN ' DEFAULT ' || pg_get_expr(d.adbin, d.adrelid) ELSE '' END,
					CASE WHEN a.attnotnull THEN ' NOT NULL' ELSE '' END) AS line
				FROM pg_attribute a LEFT JOIN pg_attrdef d ON d.adrelid = a.attrelid AND d.adnum = a.attnum
				WHERE a.attrelid = c.oid AND a.attnum > 0 AND NOT a.attisdropped
				UNION ALL
				SELECT 2, 0, format(E'\tCONSTRAINT %s %s', k.conname, pg_get_constraintdef(k.oid))
				FROM pg_constraint k WHERE k.conrelid = c.oid AND k.contype <> 'n') lines),
			coalesce(' WITH (' || array_to_string(c.reloptions, ', ') || ')', ''))
		FROM pg_class c WHERE c.oid = $1::regclass`
	schemaIndexes = `
		SELECT replace(pg_get_indexdef(i.indexrelid), ' ON ' || current_schema() || '.', ' ON ') || ';'
		FROM pg_index i JOIN pg_class x ON x.oid = i.indexrelid
		WHERE i.indrelid = $1::regclass AND NOT EXISTS (SELECT FROM pg_constraint k WHERE k.conindid = i.indexrelid AND k.conrelid = i.indrelid)
		ORDER BY x.relname COLLATE "C"`
	schemaSecurity = `
		SELECT format('ALTER TABLE %s %s ROW LEVEL SECURITY, %s ROW LEVEL SECURITY;', c.relname,
			CASE WHEN c.relrowsecurity THEN 'ENABLE' ELSE 'DISABLE' END, CASE WHEN c.relforcerowsecurity THEN 'FORCE' ELSE 'NO FORCE' END)
		FROM pg_class c WHERE c.oid = $1::regclass`
	schemaPolicies = `
		SELECT format('CREATE POLICY %s ON %s FOR %s%s%s;', p.policyname, p.tablename, p.cmd,
			coalesce(' USING ' || p.qual, ''), coalesce(' WITH CHECK ' || p.with_check, ''))
		FROM pg_policies p WHERE p.schemaname = current_schema() AND p.tablename = $1 ORDER BY p.policyname COLLATE "C"`
	schemaTriggers = `
		SELECT replace(pg_get_triggerdef(g.oid), ' ON ' || current_schema() || '.', ' ON ') || ';' FROM pg_trigger g
		WHERE g.tgrelid = $1::regclass AND NOT g.tgisinternal ORDER BY g.tgname COLLATE "C"`
)

func schema(t *testing.T, conn *pgx.Conn) string {
	t.Helper()
	parts := []string{"-- What the migrations lead to, out of the catalogue. Written by TestSchemaIsTheGoldenOne: do not edit."}
	parts = append(parts, strings.Join(column[string](t, conn, schemaDomains), "\n"))
	parts = append(parts, column[string](t, conn, schemaFunctions)...)
	for _, table := range column[string](t, conn, schemaTables) {
		var lines []string
		for _, sql := range []string{schemaTable, schemaIndexes, schemaSecurity, schemaPolicies, schemaTriggers} {
			lines = append(lines, column[string](t, conn, sql, table)...)
		}
		parts = append(parts, strings.Join(lines, "\n"))
	}
	return strings.Join(parts, "\n\n") + "\n"
}
