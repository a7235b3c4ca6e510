package postgres_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/postgres"
	"tiedown/internal/testrig/pgtest"
)

// grown is one club with some hundred aircraft, each with flights and squawks: few enough that reading a whole table
// would look cheap.
const grown = `
	INSERT INTO aircraft (organization, id, registration, type, base, facts, revision, version, plan_version, state_version)
		SELECT @org, ('10000000-0000-7000-8000-' || lpad(n::text, 12, '0'))::uuid, 'N0' || n, 'Tern 2', @base, '{}', 1, 1, 1, 1 FROM generate_series(100, 400) n;
	INSERT INTO aircraft_configuration (organization, aircraft, revision, at, by, document)
		SELECT organization, id, 1, now(), 'M. Control', '{}' FROM aircraft WHERE registration LIKE 'N0___';
	INSERT INTO flight (organization, id, aircraft, from_base, to_base, departs, arrives, rules, facts, purpose, state, planned_by, zone,
			hold_verdict, hold_rows, hold_rules, hold_at, version)
		SELECT organization, gen_random_uuid(), id, @base, @base, '2031-05-04', '2031-05-05', 'vfr', '{}', '', 'planned', 'S. Cheduler', 'America/Chicago',
			'clear', '{}', 'book', now(), 1 FROM aircraft, generate_series(1, 3);
	INSERT INTO squawk (organization, id, aircraft, number, kind, unit, item, words, state, reported_by, reported_at, version)
		SELECT organization, gen_random_uuid(), id, 100 + n, 'condition', '', '', 'a dent', CASE n WHEN 1 THEN 'reported' ELSE 'closed' END, 'P. Lot', now(), 1
		FROM aircraft, generate_series(1, 5) n;
	INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words)
		SELECT organization, id, 1, reported_at, reported_by, 'report', 'reported', words FROM squawk WHERE number > 100;
	INSERT INTO block (organization, id, aircraft, begins, ends, kind, words, by, at, cancelled, version)
		SELECT organization, gen_random_uuid(), id, '2031-05-04', '2031-05-05', 'away', 'away', 'S. Cheduler', now(), false, 1 FROM aircraft, generate_series(1, 3);
	INSERT INTO flight_shown (organization, id, flight, person, name, at, by, verdict, shown)
		SELECT organization, gen_random_uuid(), id, gen_random_uuid(), 'P. Lot', now(), 'S. Cheduler', 'clear', '{}' FROM flight;
	INSERT INTO idempotency (organization, token, key, request, answer, at) SELECT @org, @token, 'key ' || n, '', '', now() FROM generate_series(1, 500) n;
	INSERT INTO certificate (organization, id, version, person, name, kind, number, grade, ratings, trained, valid_from, ended, entered_by, by, at)
		SELECT @org, gen_random_uuid(), 1, gen_random_uuid(), 'P. Lot', 'pilot', '1', 'private', '{}', '{}', '2020-01-01', false, @control, 'M. Control', now()
		FROM generate_series(1, 300);
	INSERT INTO standing (organization, id, version, person, name, kind, valid_from, ended, entered_by, by, at)
		SELECT organization, id, 1, person, name, 'flies', '2020-01-01', false, entered_by, by, at FROM certificate WHERE kind = 'pilot';
	INSERT INTO photo (organization, id, squawk, type, digest, thumbnail, size, width, height, at, by)
		SELECT organization, gen_random_uuid(), id, 'image/jpeg', sha256(id::text::bytea), sha256((id || 's')::bytea), 4, 2, 1, now(), 'P. Lot' FROM squawk;
	INSERT INTO content (organization, digest, bytes, at) SELECT @org, sha256(n::text::bytea), n::text::bytea, now() FROM generate_series(1, 500) n;
	INSERT INTO token (organization, id, digest, name, roles)
		SELECT @org, gen_random_uuid(), sha256(n::text::bytea), 'a program', '{pilot}' FROM generate_series(1, 400) n`

// known is some hundred persons with sessions, put in by the owner of the tables.
const known = `
	ALTER TABLE account NO FORCE ROW LEVEL SECURITY; ALTER TABLE password NO FORCE ROW LEVEL SECURITY; ALTER TABLE session NO FORCE ROW LEVEL SECURITY;
	INSERT INTO account (id, email, email_digest, name, at)
		SELECT ('20000000-0000-7000-8000-' || lpad(n::text, 12, '0'))::uuid, n || '@club.example', sha256(n::text::bytea), 'P. Lot', now() FROM generate_series(1, 400) n;
	INSERT INTO password (person, phc, at) SELECT id, '$argon2id$v=19$m=64,t=1,p=1$' || repeat('A', 22) || '$' || repeat('B', 43), now() FROM account;
	INSERT INTO session (person, id, digest, began, seen, until, factor, agent, address)
		SELECT id, id, email_digest, now(), now(), now(), 'password', '', '' FROM account;
	ALTER TABLE account FORCE ROW LEVEL SECURITY; ALTER TABLE password FORCE ROW LEVEL SECURITY; ALTER TABLE session FORCE ROW LEVEL SECURITY`

// joined is those persons in the club, each with a calendar.
const joined = `
	CREATE TEMP TABLE somebody AS SELECT ('20000000-0000-7000-8000-' || lpad(n::text, 12, '0'))::uuid AS id, sha256(n::text::bytea) AS digest FROM generate_series(1, 400) n;
	INSERT INTO membership (organization, person, name, roles, since, version) SELECT @org, id, 'P. Lot', '{pilot}', now(), 1 FROM somebody;
	INSERT INTO membership_history (organization, person, number, at, by, name, roles) SELECT @org, id, 1, now(), 'P. Lot', 'P. Lot', '{pilot}' FROM somebody;
	INSERT INTO calendar_feed (organization, id, digest, name, maker, at) SELECT @org, id, digest, 'the wall', id, now() FROM somebody;
	INSERT INTO notice_preference (organization, person, version, document, at) SELECT @org, id, 1, '{}', now() FROM somebody;
	INSERT INTO stop_link (digest, organization, person, at) SELECT digest, @org, id, now() FROM somebody;
	INSERT INTO note (organization, id, person, cause, kind, letter, place, at, state, due_at, next_at, attempts, trace)
		SELECT @org, gen_random_uuid(), id, 'event:' || n, CASE n WHEN 1 THEN 'digest' ELSE 'squawk-filed' END, '{}', 1, now(), 'waiting', now(), now(), 0, ''
		FROM somebody, generate_series(1, 5) n`

// TestRequestsDoNotReadWholeTables plans what the most frequent requests send: each finds its rows by the whole key, so
// that it takes no longer when the fleet grows.
func TestRequestsDoNotReadWholeTables(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	store := open(t, url)
	hand := connect(t, url)
	for _, table := range postgres.Tables { // nobody else counts the rows meanwhile
		do(t, hand, `ALTER TABLE `+table+` SET (autovacuum_enabled = off)`)
	}
	do(t, hand, spell(twoClubs, 1))
	do(t, hand, spell(`BEGIN; SELECT set_config('tiedown.organization', @org, true); `+grown+`; COMMIT`, 1))
	do(t, hand, known)
	do(t, hand, spell(`BEGIN; SELECT set_config('tiedown.organization', @org, true); `+joined+`; COMMIT`, 1))
	do(t, hand, `ANALYZE `+strings.Join(postgres.Tables, ", "))
	conn, err := store.Pool().Acquire(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Release()
	for name, want := range map[string]string{
		"lock_aircraft":   "(organization = $1) AND (id = $2)",
		"state_version":   "(organization = $1) AND (id = $2)",
		"configuration":   "(organization = $1) AND (aircraft = $2)",
		"open_squawks":    "(organization = $1) AND (aircraft = $2)",
		"survey_squawks":  "(organization = $1) AND (aircraft = ANY ($2))",
		"survey_flights":  "(organization = $1) AND (arrives > $2) AND (arrives < ($3 + '32 days'::interval))",
		"survey_blocks":   "(organization = $1) AND (aircraft = ANY ($2))",
		"survey_service":  "(organization = $1) AND (aircraft = n.id) AND ((meter)::text = 'time-in-service'::text)",
		"survey_aircraft": "(organization = $1) AND (id = n.id)",
		"survey_bases":    "(organization = $1) AND (id = n.id)",
		"fleet_ids":       "organization = $1",
		"planned_flights": "(organization = $1) AND (aircraft = $2) AND (arrives > $3)",
		"earlier_answer":  "(organization = $1) AND (token = $2) AND (key = $3)",
		"set_holds":       "(organization = $1) AND (id = h.id)",
		"count_up":        "(organization = $1) AND (id = $2)",
		"squawk":          "(organization = $1) AND (id = $2)",
		"history":         "(organization = $1) AND (squawk = $2)",
		"update_squawk":   "(organization = $1) AND (id = $2)",
		"flight":          "(organization = $1) AND (id = $2)",
		"update_flight":   "(organization = $1) AND (id = $2)",
		"to_come":         "(organization = $1) AND (arrives > $3)",
		"log_head":        "organization = $1",
		"entry_of":        "(organization = $1) AND (record = $2) AND (key = $3)",
		"log_nodes":       "(organization = $1) AND (number = n.number)",
		"signed":          "(organization = $1) AND (size = $2) AND (signer = $3)",
		"token":           "digest = $1",
		"calendar_feed":   "digest = $1",
		"called_off":      "(organization = $1) AND (arrives > $3)",
		"series":          "(organization = $1) AND (series = $2)",
		"blocks":          "(organization = $1) AND (aircraft = $2)",
		"shown":           "(organization = $1) AND (flight = $2)",
		"session":         "digest = $1",
		"credentials":     "email_digest = $1",
		"certificates":    "(organization = $1) AND (person = $2)",
		"standings":       "(organization = $1) AND (person = $2)",
		"signatures":      "(organization = $1) AND (squawk = $2)",

		"lock_walkaround":   "(organization = $1) AND (id = $2)",
		"reports":           "(organization = $1) AND (walkaround = $2)",
		"filed":             "(organization = $1) AND (walkaround = $2)",
		"book":              "(organization = $1) AND (aircraft = $0) AND ((meter)::text = m.meter)",
		"checklist":         "(organization = $1) AND (digest = $2)",
		"update_walkaround": "(organization = $1) AND (id = $2)",
		"measured":          "(organization = $1) AND (walkaround = walkaround.id)",
		"in_service":        "(organization = $1) AND (aircraft = $2) AND ((meter)::text = 'time-in-service'::text)",
		"stamp":             "(organization = $1) AND (aircraft = $2)",

		"photo":                "(organization = $1) AND (id = $2)",
		"photos_of_squawk":     "(organization = $1) AND (squawk = $2)",
		"photos_of_walkaround": "(organization = $1) AND (walkaround = $2)",
		"content":              "(organization = $1) AND (digest = $2)",
		"content_in_use":       "(organization = $1) AND (thumbnail = d.digest)",
		"drop_content":         "(organization = $1) AND (digest = $2)",

		"claim_notes": "(organization = $1) AND (next_at <= $2)",
		"settle_note": "(organization = $1) AND (id = $2)",
		"stop_link":   "digest = $1",
		"last_digest": "(organization = $1) AND (person = $2)",
		"warned":      "(organization = $1) AND (aircraft = $2) AND (due >= $3)",
		"preference":  "(organization = $1) AND (person = $2)",
	} {
		plan := explain(t, conn.Conn(), name, postgres.HotStatements[name])
		if !strings.Contains(plan, "Index Cond: ("+want+")") {
			t.Errorf("%s is not found by %s:\n%s", name, want, plan)
		}
		for _, bad := range []string{"Seq Scan", "Hash Join", "Merge Join"} {
			if strings.Contains(plan, bad) {
				t.Errorf("%s is planned with a %s:\n%s", name, bad, plan)
			}
		}
	}
}

// explain is the plan of a statement as a session of the store keeps it, without values.
func explain(t *testing.T, conn *pgx.Conn, name, sql string) string {
	t.Helper()
	if _, err := conn.Exec(t.Context(), `PREPARE `+name+` AS `+sql); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	n := column[int](t, conn, `SELECT cardinality(parameter_types) FROM pg_prepared_statements WHERE name = $1`, name)[0]
	nulls := strings.TrimSuffix(strings.Repeat("NULL, ", n), ", ")
	return strings.Join(column[string](t, conn, fmt.Sprintf(`EXPLAIN EXECUTE %s(%s)`, name, nulls)), "\n")
}

// TestNoPlanIsCompiled: a plan that reads a whole table is reckoned so dear that a database which may compile would.
func TestNoPlanIsCompiled(t *testing.T) {
	t.Parallel()
	store := open(t, pgtest.New(t))
	var jit string
	err := store.Pool().QueryRow(t.Context(), `SELECT setting || ', by the ' || source FROM pg_settings WHERE name = 'jit'`).Scan(&jit)
	if err != nil || jit != "off, by the client" {
		t.Errorf("compiling is %q, %v", jit, err)
	}
}
