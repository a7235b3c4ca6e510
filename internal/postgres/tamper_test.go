package postgres_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/audit"
	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
)

// spoil says for every type how a value is made another one.
var spoil = map[string]string{
	"uuid":                     `gen_random_uuid()`,
	"text":                     `coalesce(%s, '') || '.'`,
	"integer":                  `%s + 1`,
	"bigint":                   `%s + 1`,
	"double precision":         `%s + 0.000001`,
	"boolean":                  `%s IS NOT TRUE`,
	"timestamp with time zone": `coalesce(%s, '2031-05-04') + interval '1 microsecond'`,
	"date":                     `coalesce(%s, '2031-05-04') + 1`,
	"bytea":                    `set_byte(%s, 0, get_byte(%[1]s, 0) # 1)`,
	"role[]":                   `%s || '{pilot}'`,
	"text[]":                   `%s || '{x}'`,
	"uuid[]":                   `%s || gen_random_uuid()`,
	"bytea[]":                  `%s || '{x}'`,
	"jsonb":                    `jsonb_build_object('x', %s)`,
}

// flip is one value of one row changed, and changed back.
type flip struct {
	conn   *pgx.Conn
	table  string
	column string
	row    string // ctid
	was    *string
}

func flipped(t *testing.T, conn *pgx.Conn, table, column, value string, org string) *flip {
	t.Helper()
	f := &flip{conn: conn, table: table, column: column}
	whose := "organization"
	if table == "organization" {
		whose = "id"
	}
	find := fmt.Sprintf(`SELECT ctid::text, %s::text FROM %s WHERE %s = $1 ORDER BY (%[1]s IS NULL) LIMIT 1`, column, table, whose)
	if err := conn.QueryRow(t.Context(), find, org).Scan(&f.row, &f.was); err != nil {
		t.Fatalf("%s: %v", find, err)
	}
	f.set(t, value)
	return f
}

func (f *flip) set(t *testing.T, value string, args ...any) {
	t.Helper()
	sql := fmt.Sprintf(`UPDATE %s SET %s = %s WHERE ctid = $1::tid RETURNING ctid::text`, f.table, f.column, value)
	if err := f.conn.QueryRow(t.Context(), sql, append([]any{f.row}, args...)...).Scan(&f.row); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
}

func (f *flip) back(t *testing.T, typ string) {
	t.Helper()
	f.set(t, "$2::text::"+typ, f.was)
}

// keyOf is what names the row in the log's reports.
func keyOf(t *testing.T, conn *pgx.Conn, f *flip) string {
	t.Helper()
	return column[string](t, conn, `SELECT `+strings.Join(postgres.Named(f.table), `::text || '/' || `)+`::text FROM `+f.table+` WHERE ctid = '`+f.row+`'`)[0]
}

const selectColumns = `
	SELECT c.relname::text, a.attname::text, coalesce(format_type(nullif(y.typbasetype, 0), NULL), format_type(a.atttypid, NULL)) FROM pg_attribute a
	JOIN pg_class c ON c.oid = a.attrelid JOIN pg_type y ON y.oid = a.atttypid
	WHERE ` + ours + ` AND a.attnum > 0 AND NOT a.attisdropped`

// TestEveryAlteredColumnIsFound alters each column of each record that the log vouches for, by a hand that nothing stops,
// and sets each to null; each time the record is named.
func TestEveryAlteredColumnIsFound(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	l.seal(t)
	conn := l.vandal(t)
	if faults := l.verify(t); len(faults) > 0 {
		t.Fatalf("nothing was altered: %q", faults)
	}
	n := 0
	for _, table := range slices.Sorted(maps.Keys(postgres.Covered())) {
		for name, typ := range postgres.Covered()[table] {
			values := []string{strings.ReplaceAll(spoil[typ], "%s", name), "NULL"}
			if typ == "timestamp with time zone" || typ == "date" {
				values = append(values, "'infinity'")
			}
			for _, value := range values {
				value = strings.ReplaceAll(value, "%[1]s", name)
				f := flipped(t, conn, table, name, value, l.org.String())
				if f.was == nil && value == "NULL" {
					continue // it was null
				}
				named := table
				if value != "NULL" || !slices.Contains(append(postgres.Named(table), "organization"), name) {
					named += " " + keyOf(t, conn, f)
				}
				if faults := l.verify(t); !slices.ContainsFunc(faults, func(s string) bool { return strings.HasPrefix(s, named) }) {
					if name != "organization" && table != "organization" || len(faults) == 0 {
						t.Errorf("%s.%s = %s: %q, want %s named", table, name, value, faults, named)
					}
				}
				f.back(t, typ)
				n++
			}
		}
	}
	if n < 150 {
		t.Errorf("only %d values altered", n)
	}
	if faults := l.verify(t); len(faults) > 0 {
		t.Errorf("everything is as it was: %q", faults)
	}
}

// TestEveryAlteredColumnOfTheLogIsFound alters the entries, the head and the checkpoints themselves.
func TestEveryAlteredColumnOfTheLogIsFound(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	l.seal(t)
	conn := l.vandal(t)
	rows, err := conn.Query(t.Context(), selectColumns+` AND c.relname IN ('log_entry', 'log_head', 'log_checkpoint')`)
	if err != nil {
		t.Fatal(err)
	}
	type part struct{ Table, Name, Type string }
	columns, err := pgx.CollectRows(rows, pgx.RowToStructByPos[part])
	if err != nil || len(columns) != 9+3+5 {
		t.Fatalf("%v, %v", columns, err)
	}
	for _, c := range columns {
		if c.Table == "log_checkpoint" && c.Name == "organization" {
			continue // one that is taken away is not missed here: it is why others keep them
		}
		value := strings.NewReplacer("%s", c.Name, "%[1]s", c.Name).Replace(spoil[c.Type])
		if c.Name == "frontier" {
			value = `ARRAY[frontier[2], frontier[1]]`
		}
		values := []string{value, "NULL"}
		if c.Type == "timestamp with time zone" {
			values = append(values, "'infinity'")
		}
		for _, value := range values {
			f := flipped(t, conn, c.Table, c.Name, value, l.org.String())
			if faults := l.verify(t); len(faults) == 0 {
				t.Errorf("%s.%s = %s: nothing is found", c.Table, c.Name, value)
			}
			f.back(t, c.Type)
		}
	}
	if faults := l.verify(t); len(faults) > 0 {
		t.Errorf("everything is as it was: %q", faults)
	}
}

// TestWhatIsDoneToALogIsFound removes, exchanges and renumbers, and makes the end of a log disappear with its head.
func TestWhatIsDoneToALogIsFound(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	k := l.seal(t)
	conn := l.vandal(t)
	restore := kept(t, conn)
	if faults := l.verify(t, k); len(faults) > 0 {
		t.Fatalf("nothing was done: %q", faults)
	}
	another := signedBy(t, anotherKey(t), l)
	exchange := func(columns string) string {
		var set []string
		for _, c := range strings.Split(columns, ", ") {
			set = append(set, c+" = o."+c)
		}
		return `UPDATE log_entry e SET ` + strings.Join(set, ", ") + ` FROM log_entry o WHERE e.number IN (3, 4) AND o.number = 7 - e.number`
	}
	for name, c := range map[string]struct {
		sql  string
		says []string // parts of reports, each of which must be made
	}{
		"an entry removed": {`DELETE FROM log_entry WHERE number = 4`, []string{"entry 4: missing", "there is no entry of it in the log"}},
		"several removed":  {`DELETE FROM log_entry WHERE number IN (4, 5, 6)`, []string{"entries 4 to 6: missing"}},
		"the first removed": {
			`DELETE FROM log_entry WHERE number = 0`, []string{"entry 0: missing", "organization "},
		},
		"the last removed":          {`DELETE FROM log_entry WHERE number = (SELECT max(number) FROM log_entry)`, []string{"head of the log: it counts"}},
		"two exchanged":             {exchange("at, by, record, key, version, digest, hashes"), []string{"entry 3: it is not the entry that followed"}},
		"what two say exchanged":    {exchange("at, by, record, key, version, digest"), []string{"entry 3: it was altered", "entry 4: it was altered"}},
		"closed up after a removal": {`DELETE FROM log_entry WHERE number = 4; UPDATE log_entry SET number = number - 1 WHERE number > 4; UPDATE log_head SET size = size - 1`, []string{"entry 4: it is not the entry that followed"}},
		"an entry doubled":          {`INSERT INTO log_entry SELECT (e).* FROM (SELECT e FROM log_entry e WHERE number = 4) x`, []string{"entry 4: it stands there twice"}},
		"a record removed":          {`DELETE FROM deferral`, []string{"deferral ", "the record is missing that entry"}},
		"a record slipped in":       {`INSERT INTO base (organization, id, code, name, lat, lon, zone, version) SELECT organization, gen_random_uuid(), 'N00X', name, lat, lon, zone, 1 FROM base`, []string{"base ", "there is no entry of it in the log"}},
		"a version undone":          {`UPDATE squawk SET state = 'reported', deferral = NULL, version = 1`, []string{"squawk ", "the record was altered"}},
		"the head removed":          {`DELETE FROM log_head`, []string{"head of the log: there is none"}},
		"everything removed":        {`DELETE FROM log_entry; DELETE FROM log_head`, []string{"head of the log", "there is no entry of it", "the log has 0 entries only: its end is missing"}},
		"the end cut off, with the head, and the record": {
			`DELETE FROM squawk_history WHERE number = 2; DELETE FROM squawk; DELETE FROM deferral;
				DELETE FROM log_entry WHERE number >= (SELECT size FROM log_entry, LATERAL (SELECT 8 AS size) s LIMIT 1);
				UPDATE log_head SET size = 8, frontier = ARRAY[(SELECT substring(hashes FROM 97 FOR 32) FROM log_entry WHERE number = 7)]`,
			[]string{"the log has 8 entries only: its end is missing"},
		},
		"a checkpoint of another": {`UPDATE log_checkpoint SET signed = replace(signed, 'tiedown/', 'tiedown/x')`, []string{"the signature of tiedown+"}},
		"signed by another key":   {`UPDATE log_checkpoint SET signed = @another`, []string{"it is signed by another key, tiedown+"}},
	} {
		do(t, conn, strings.ReplaceAll(c.sql, "@another", "'"+another+"'"))
		found := strings.Join(l.verify(t), "\n")
		for _, part := range c.says {
			if !strings.Contains(found, part) {
				t.Errorf("%s: found %q, want %q", name, found, part)
			}
		}
		do(t, conn, restore)
	}
	if faults := l.verify(t, k); len(faults) > 0 {
		t.Errorf("everything is as it was: %q", faults)
	}
}

// kept copies every table, and gives the statements that bring the copies back.
func kept(t *testing.T, conn *pgx.Conn) string {
	t.Helper()
	var restore []string
	for _, table := range postgres.Tables {
		columns := strings.Join(column[string](t, conn, `SELECT attname::text FROM pg_attribute
			WHERE attrelid = $1::regclass AND attnum > 0 AND NOT attisdropped AND attgenerated = '' ORDER BY attnum`, table), ", ")
		do(t, conn, fmt.Sprintf(`CREATE TEMPORARY TABLE kept_%s AS SELECT %s FROM %[1]s`, table, columns))
		restore = append(restore, fmt.Sprintf(`DELETE FROM %s; INSERT INTO %[1]s (%s) SELECT %[2]s FROM kept_%[1]s`, table, columns))
	}
	return strings.Join(restore, "; ")
}

func anotherKey(t *testing.T) audit.Key {
	t.Helper()
	secret, err := audit.NewKey(strings.NewReader(strings.Repeat("of somebody else", 4)))
	if err != nil {
		t.Fatal(err)
	}
	key, err := audit.ReadKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func signedBy(t *testing.T, key audit.Key, l *logged) string {
	t.Helper()
	state, err := l.store.LogState(t.Context(), l.org, "")
	if err != nil {
		t.Fatal(err)
	}
	signed, err := key.Sign(audit.Checkpoint{Organization: l.org.String(), Size: state.Head.Size, Root: state.Head.Root(), At: noon})
	if err != nil {
		t.Fatal(err)
	}
	return signed
}

// TestACheckpointKeptElsewhereTells: whoever makes the whole log anew, and throws away what was signed, is found by what
// somebody else has kept.
func TestACheckpointKeptElsewhereTells(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	k := l.seal(t)
	l.must(t, func(tx hangar.Tx) { // the log that is made anew has an entry a record, not one a version: more of them than were signed
		for n := range 3 {
			l.report(tx, newID(), n+2)
		}
	})
	conn := l.vandal(t)
	do(t, conn, `DELETE FROM log_entry; DELETE FROM log_head; DELETE FROM log_checkpoint; UPDATE base SET name = 'Elsewhere'`)
	if n, err := l.store.BeginLogs(t.Context(), noon); err != nil || n != 1 {
		t.Fatalf("%d, %v", n, err)
	}
	if faults := l.verify(t); len(faults) > 0 {
		t.Fatalf("what was made anew is at odds with itself: %q", faults)
	}
	if faults := l.verify(t, k); len(faults) != 1 || !strings.Contains(faults[0], "are not those that were signed at 2031-05-04T12:00:00.123456Z") {
		t.Errorf("found %q", faults)
	}
}
