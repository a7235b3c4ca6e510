package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

// A hand on psql has no store between itself and the records. These tests are that hand.

// Two organizations with the same records, by the first byte of every identifier.
var twoClubs = `
	SELECT set_config('tiedown.keeper', 'on', false);
	INSERT INTO organization (id, name) VALUES (@org, 'club');
	SELECT set_config('tiedown.organization', @org, false);
	INSERT INTO token (organization, id, digest, name, roles) VALUES (@org, @token, decode(repeat(left(@org, 2), 32), 'hex'), 'P. Lot', '{pilot}');
	INSERT INTO base (organization, id, code, name, lat, lon, zone, version) VALUES (@org, @base, 'N00A', 'Field', 45, -93, 'America/Chicago', 1);
	BEGIN;
	INSERT INTO aircraft (organization, id, registration, type, base, facts, revision, version, plan_version, state_version)
		VALUES (@org, @aircraft, 'N0A', 'Tern 2', @base, '{}', 1, 1, 1, 1);
	INSERT INTO aircraft_configuration (organization, aircraft, revision, at, by, document) VALUES (@org, @aircraft, 1, now(), 'M. Control', '{}');
	COMMIT;
	BEGIN;
	INSERT INTO squawk (organization, id, aircraft, number, kind, unit, item, words, state, reported_by, reported_at, version)
		VALUES (@org, @squawk, @aircraft, 1, 'inoperative', 'landing-light-1', '', 'dark', 'reported', 'P. Lot', now(), 1),
			(@org, @second, @aircraft, 2, 'inoperative', 'landing-light-1', '', 'dark again', 'reported', 'P. Lot', now(), 1);
	INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words)
		VALUES (@org, @squawk, 1, now(), 'P. Lot', 'report', 'reported', 'dark'),
			(@org, @second, 1, now(), 'P. Lot', 'report', 'reported', 'dark again');
	COMMIT;
	INSERT INTO deferral (organization, id, squawk, basis, method, placard, entry, determined_by, determined_at, until)
		VALUES (@org, @deferral, @squawk, '91.213(d)', 'deactivated', 'INOP', 'log 1', 'M. Chanic', '2031-05-04', '2031-06-04');
	INSERT INTO flight (organization, id, aircraft, from_base, to_base, departs, arrives, rules, facts, purpose, state, planned_by, zone,
			hold_verdict, hold_rows, hold_rules, hold_at, version)
		VALUES (@org, @flight, @aircraft, @base, @base, '2031-05-04', '2031-05-05', 'vfr', '{}', '', 'planned', 'S. Cheduler', 'America/Chicago',
			'clear', '{}', 'book', now(), 1);
	INSERT INTO airport (organization, ident, name, lat, lon) VALUES (@org, 'N0TW', 'Two Willows', 45, -93);
	INSERT INTO block (organization, id, aircraft, begins, kind, words, by, at, cancelled, version)
		VALUES (@org, @other, @aircraft, '2031-05-04', 'away', 'at the paint shop', 'S. Cheduler', now(), false, 1);
	INSERT INTO flight_shown (organization, id, flight, person, name, at, by, verdict, shown)
		VALUES (@org, @other, @flight, @person, 'P. Lot', now(), 'S. Cheduler', 'clear', '{}');
	INSERT INTO event (organization, place, id, kind, subject, by, at, changes) VALUES (@org, 99, @event, 'base.added', @base, 'M. Control', now(), '[]');
	INSERT INTO idempotency (organization, token, key, request, answer, at) VALUES (@org, @token, 'key', '', '', now());
	INSERT INTO company_rules (organization, version, rules, policy, at, by) VALUES (@org, 1, '[]', '{}', now(), 'M. Control');
	INSERT INTO determination (organization, id, flight, at, by, verdict, record) VALUES (@org, @other, @flight, now(), 'P. Lot', 'clear', '{}');
	INSERT INTO log_head (organization, size, frontier) VALUES (@org, 0, '{}');
	SELECT append_log(@org, now(), 'P. Lot', '{base}', '{key}', '{1}', ARRAY[sha256('base')], ARRAY[sha256('leaf')], '{f}');
	INSERT INTO log_checkpoint (organization, size, signer, at, signed) VALUES (@org, 1, 'tiedown+00000000', now(), 'signed');
	INSERT INTO certificate (organization, id, version, person, name, kind, number, grade, ratings, trained, valid_from, ended, entered_by, by, at)
		VALUES (@org, @paper, 1, @person, 'M. Chanic', 'mechanic', 'M-1', '', '{airframe}', '{}', '2020-01-01', false, @control, 'M. Control', now());
	INSERT INTO standing (organization, id, version, person, name, kind, valid_from, ended, entered_by, by, at)
		VALUES (@org, @paper, 1, @person, 'M. Chanic', 'maintains', '2020-01-01', false, @control, 'M. Control', now());
	` + signIt + `;
	INSERT INTO checklist_template (organization, id, version, type, checks, at, by) VALUES (@org, @template, 1, 'Tern 2', '[]', now(), 'M. Control');
	INSERT INTO airframe_checklist (organization, aircraft, version, template, template_version, serial, changes, at, by)
		VALUES (@org, @aircraft, 1, @template, 1, '', '{}', now(), 'M. Control');
	INSERT INTO checklist (organization, digest, document) VALUES (@org, repeat('5', 64), '{}');
	INSERT INTO walkaround (organization, id, aircraft, checklist, place, state, started_by, started_at, completed_by, left_open, version)
		VALUES (@org, @walkaround, @aircraft, repeat('5', 64), 'ramp', 'open', 'P. Lot', now(), '', '{}', 1);
	INSERT INTO walkaround_report (organization, walkaround, number, at, by, late, ids, results, measured_ids, measured, measured_at, measured_values)
		VALUES (@org, @walkaround, 1, now(), 'P. Lot', false, '{00000000-0000-7000-8000-000000000077}',
		'[{"id": "00000000-0000-7000-8000-000000000077", "check": "oil", "outcome": "finding", "said": {"value": 4.5}, "made_at": "2031-05-04T12:00:00Z"}]',
		'{00000000-0000-7000-8000-000000000077}', '{oil}', '{2031-05-04 12:00Z}', '{4.5}');
	INSERT INTO walkaround_squawk (organization, walkaround, result, squawk, at, by)
		VALUES (@org, @walkaround, '00000000-0000-7000-8000-000000000077', @second, now(), 'P. Lot');
	INSERT INTO meter_entry (organization, aircraft, meter, number, hours, at, by, because) VALUES (@org, @aircraft, 'tach', 1, 100, now(), 'P. Lot', '');
	INSERT INTO content (organization, digest, bytes, at) VALUES (@org, sha256('seen'), 'seen', now()), (@org, sha256('small'), 'small', now()),
		(@org, sha256('left'), 'left', now());
	INSERT INTO photo (organization, id, squawk, type, digest, thumbnail, size, width, height, at, by)
		VALUES (@org, @photo, @squawk, 'image/jpeg', sha256('seen'), sha256('small'), 4, 2, 1, now(), 'P. Lot');
	INSERT INTO webhook (organization, id, url, kinds, state, by, at, version)
		VALUES (@org, @paper, 'https://hooks.example', '{}', 'on', 'S. Cheduler', now(), 1);
	INSERT INTO webhook_secret (organization, webhook, id, sealed, at) VALUES (@org, @paper, @paper, 'sealed', now());
	INSERT INTO webhook_relay (organization, place) VALUES (@org, 99);
	INSERT INTO delivery (organization, webhook, place, lane, state, attempts, queued_at, answer)
		VALUES (@org, @paper, 99, @aircraft, 'pending', 0, now(), '');
	INSERT INTO delivery_lane (organization, webhook, lane, due) VALUES (@org, @paper, @aircraft, now());
	SELECT set_config('tiedown.keeper', '', false), set_config('tiedown.organization', '', false)`

// ourTables is every table with an organization's records, but its own and those of its members: hand_people_test.go.
var ourTables = []string{
	"token", "base", "aircraft", "aircraft_configuration", "squawk", "squawk_history", "deferral", "flight", "event", "idempotency",
	"company_rules", "determination", "log_entry", "log_head", "log_checkpoint", "certificate", "standing", "signature",
	"checklist_template", "airframe_checklist", "checklist", "walkaround", "walkaround_report", "walkaround_squawk",
	"meter_entry", "content", "photo", "block", "flight_shown", "airport",
	"webhook", "webhook_secret", "webhook_relay", "delivery", "delivery_lane",
}

// spell puts the identifiers of one club's records into a statement.
func spell(sql string, club int) string {
	id := func(record int) string { return fmt.Sprintf("'%02d000000-0000-7000-8000-%012d'", club, record) }
	var names []string
	for i, name := range []string{"org", "token", "base", "aircraft", "squawk", "second", "deferral", "flight", "event", "other", "paper", "person", "control", "template", "walkaround", "photo"} {
		names = append(names, "@"+name, id(i))
	}
	for i, name := range []string{"~org", "~aircraft", "~squawk", "~paper", "~person"} {
		names = append(names, name, strings.Trim(id([]int{0, 3, 4, 10, 11}[i]), "'"))
	}
	return strings.NewReplacer(names...).Replace(sql)
}

// hand is a connection to a database with two clubs, as the login itself: in a private database that is the owner of
// the tables, in a container a superuser.
func hand(t *testing.T) *pgx.Conn {
	t.Helper()
	url := pgtest.New(t)
	open(t, url) // makes the role for a login that row-level security does not bind
	conn := connect(t, url)
	for _, club := range []int{1, 2} {
		do(t, conn, spell(twoClubs, club))
	}
	return conn
}

// bound is such a connection that row-level security binds, as it binds the program.
func bound(t *testing.T) *pgx.Conn {
	t.Helper()
	conn := hand(t)
	if column[bool](t, conn, `SELECT rolsuper FROM pg_roles WHERE rolname = current_user`)[0] {
		do(t, conn, `SET ROLE `+postgres.AppRole)
	}
	return conn
}

// try runs statements as psql would run a line.
func try(conn *pgx.Conn, sql string) error {
	_, err := conn.PgConn().Exec(context.Background(), sql).ReadAll()
	if conn.PgConn().TxStatus() != 'I' {
		_, _ = conn.PgConn().Exec(context.Background(), `ROLLBACK`).ReadAll()
	}
	return err
}

func do(t *testing.T, conn *pgx.Conn, sql string) {
	t.Helper()
	if err := try(conn, sql); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
}

// wantRefused fails unless the database refuses, under a constraint's name or a code.
func wantRefused(t *testing.T, conn *pgx.Conn, sql, by string) {
	t.Helper()
	err := try(conn, sql)
	var pg *pgconn.PgError
	if !errors.As(err, &pg) || pg.ConstraintName != by && pg.Code != by {
		t.Errorf("%s: %v, want it refused by %s", sql, err, by)
	}
}

// insufficientPrivilege is the code with which row-level security refuses a row.
const insufficientPrivilege = "42501"

func ask(club int) string {
	return spell(`SELECT set_config('tiedown.organization', @org, false)`, club)
}

func TestNobodyInParticularSeesNothing(t *testing.T) {
	t.Parallel()
	conn := bound(t)
	for name, setting := range map[string]string{
		"as connected": ``,
		"empty":        `SET tiedown.organization = ''`,
		"a stranger":   ask(3),
		"afterwards":   `BEGIN; ` + ask(1) + `; ROLLBACK; SET tiedown.organization = ''`,
	} {
		do(t, conn, setting)
		for _, table := range append(ourTables, "organization") {
			if n := column[int](t, conn, `SELECT count(*) FROM `+table)[0]; n != 0 {
				t.Errorf("%s: %d rows of %s are seen", name, n, table)
			}
		}
		if setting != ask(3) {
			wantRefused(t, conn, spell(`INSERT INTO base (organization, id, code, name, lat, lon, zone, version) VALUES (@org, @other, 'N00X', 'Field', 0, 0, 'UTC', 1)`, 1), insufficientPrivilege)
		}
		wantRefused(t, conn, spell(`INSERT INTO organization (id, name) VALUES (@other, 'club')`, 1), insufficientPrivilege)
		if tag, err := conn.Exec(t.Context(), `UPDATE flight SET purpose = 'mine'`); err != nil || tag.RowsAffected() != 0 {
			t.Errorf("%s: %v, %v: nothing is there to be changed", name, tag, err)
		}
	}
}

func TestAnOrganizationSeesItsOwn(t *testing.T) {
	t.Parallel()
	conn := bound(t)
	for _, club := range []int{1, 2} {
		do(t, conn, ask(club))
		for _, table := range ourTables {
			seen := column[string](t, conn, `SELECT DISTINCT organization::text FROM `+table)
			if len(seen) != 1 || "'"+seen[0]+"'" != spell(`@org`, club) {
				t.Errorf("club %d sees %s of %v", club, table, seen)
			}
		}
		if n := column[int](t, conn, `SELECT count(*) FROM organization`)[0]; n != 1 {
			t.Errorf("club %d sees %d organizations", club, n)
		}
	}
	do(t, conn, `SET tiedown.organization = ''; SET tiedown.keeper = 'on'`)
	if n := column[int](t, conn, `SELECT count(*) FROM organization`)[0]; n != 2 {
		t.Errorf("the program sees %d organizations", n)
	}
	if n := column[int](t, conn, `SELECT count(*) FROM token`)[0]; n != 0 {
		t.Errorf("the program sees %d tokens of organizations that it does not ask for", n)
	}
}

// TestATokenIsSeenByItsBearer presents digests to a session that asks for no organization.
func TestATokenIsSeenByItsBearer(t *testing.T) {
	t.Parallel()
	conn := bound(t)
	for digest, want := range map[string]int{strings.Repeat("01", 32): 1, strings.Repeat("02", 32): 1, strings.Repeat("03", 32): 0, "": 0, "01": 0} {
		do(t, conn, fmt.Sprintf(`SET tiedown.token = '%s'`, digest))
		if n := column[int](t, conn, `SELECT count(*) FROM token`)[0]; n != want {
			t.Errorf("the bearer of %q sees %d tokens, want %d", digest, n, want)
		}
		if n := column[int](t, conn, `SELECT count(*) FROM base`)[0]; n != 0 {
			t.Errorf("the bearer of %q sees %d bases before saying for whom it asks", digest, n)
		}
	}
}

func TestNobodyWritesForAnother(t *testing.T) {
	t.Parallel()
	conn := bound(t)
	do(t, conn, ask(2))
	for _, sql := range []string{
		`INSERT INTO token (organization, id, digest, name, roles) VALUES (@org, @other, decode(repeat('09', 32), 'hex'), 'P. Lot', '{administrator}')`,
		`INSERT INTO base (organization, id, code, name, lat, lon, zone, version) VALUES (@org, @other, 'N00X', 'Field', 0, 0, 'UTC', 1)`,
		`INSERT INTO aircraft (organization, id, registration, type, base, facts, revision, version, plan_version, state_version)
			VALUES (@org, @other, 'N0B', 'Tern 2', @base, '{}', 1, 1, 1, 1)`,
		`INSERT INTO aircraft_configuration (organization, aircraft, revision, at, by, document) VALUES (@org, @aircraft, 2, now(), 'M. Control', '{}')`,
		`INSERT INTO squawk (organization, id, aircraft, number, kind, unit, item, words, state, reported_by, reported_at, version)
			VALUES (@org, @other, @aircraft, 3, 'condition', '', '', 'a dent', 'reported', 'P. Lot', now(), 1)`,
		`INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words) VALUES (@org, @squawk, 2, now(), 'P. Lot', 'note', 'reported', '')`,
		`INSERT INTO event (organization, place, id, kind, subject, by, at, changes) VALUES (@org, 100, @other, 'base.added', @base, 'M. Control', now(), '[]')`,
		`INSERT INTO company_rules (organization, version, rules, policy, at, by) VALUES (@org, 2, '[]', '{}', now(), 'M. Control')`,
		`INSERT INTO determination (organization, id, flight, at, by, verdict, record) VALUES (@org, @squawk, @flight, now(), 'P. Lot', 'clear', '{}')`,
		`INSERT INTO idempotency (organization, token, key, request, answer, at) VALUES (@org, @token, 'key 2', '', '', now())`,
		`INSERT INTO checklist_template (organization, id, version, type, checks, at, by) VALUES (@org, @template, 2, 'Tern 2', '[]', now(), 'M. Control')`,
		`INSERT INTO airframe_checklist (organization, aircraft, version, template, template_version, serial, changes, at, by)
			VALUES (@org, @aircraft, 2, @template, 1, '', '{}', now(), 'M. Control')`,
		`INSERT INTO checklist (organization, digest, document) VALUES (@org, repeat('6', 64), '{}')`,
		`INSERT INTO walkaround (organization, id, aircraft, checklist, place, state, started_by, started_at, completed_by, left_open, version)
			VALUES (@org, @other, @aircraft, repeat('5', 64), 'ramp', 'open', 'P. Lot', now(), '', '{}', 1)`,
		`INSERT INTO walkaround_report (organization, walkaround, number, at, by, late, ids, results, measured_ids, measured, measured_at, measured_values)
			VALUES (@org, @walkaround, 2, now(), 'P. Lot', false, '{}', '[]', '{}', '{}', '{}', '{}')`,
		`INSERT INTO meter_entry (organization, aircraft, meter, number, hours, at, by, because) VALUES (@org, @aircraft, 'hobbs', 1, 1, now(), 'P. Lot', '')`,
		`INSERT INTO airport (organization, ident, name, lat, lon) VALUES (@org, 'N0TH', 'Three Willows', 45, -93)`,
		`INSERT INTO block (organization, id, aircraft, begins, kind, words, by, at, cancelled, version)
			VALUES (@org, @squawk, @aircraft, now(), 'away', 'at the paint shop', 'S. Cheduler', now(), false, 1)`,
		`INSERT INTO flight_shown (organization, id, flight, person, name, at, by, verdict, shown)
			VALUES (@org, @squawk, @flight, @person, 'P. Lot', now(), 'S. Cheduler', 'clear', '{}')`,
		`INSERT INTO log_head (organization, size, frontier) VALUES (@org, 0, '{}')`,
		`INSERT INTO log_entry (organization, number, at, by, record, key, version, digest, hashes)
			VALUES (@org, 1, now(), 'P. Lot', 'base', 'key', 2, sha256('base'), sha256('leaf'))`,
		`INSERT INTO log_checkpoint (organization, size, signer, at, signed) VALUES (@org, 2, 'tiedown+00000000', now(), 'signed')`,
		`INSERT INTO certificate (organization, id, version, person, name, kind, number, grade, ratings, trained, valid_from, ended, entered_by, by, at)
			VALUES (@org, @other, 1, @person, 'M. Chanic', 'mechanic', 'M-1', '', '{airframe}', '{}', '2020-01-01', false, @control, 'M. Control', now())`,
		`INSERT INTO standing (organization, id, version, person, name, kind, valid_from, ended, entered_by, by, at)
			VALUES (@org, @other, 1, @person, 'M. Chanic', 'maintains', '2020-01-01', false, @control, 'M. Control', now())`,
	} {
		wantRefused(t, conn, spell(sql, 1), insufficientPrivilege)
	}
	// Nor does it make a record of its own another's.
	wantRefused(t, conn, spell(`UPDATE base SET organization = @org, code = 'N00Z'`, 1), insufficientPrivilege)
	// Nor does it append to another's log, whose head it does not see.
	wantRefused(t, conn, spell(`SELECT append_log(@org, now(), 'P. Lot', '{base}', '{key}', '{2}', ARRAY[sha256('base')], ARRAY[sha256('leaf')], '{f}')`, 1), "TD003")
	// Nor does it learn from a conflict what the other has: the other's identifiers are free to it.
	do(t, conn, strings.Replace(spell(`INSERT INTO base (organization, id, code, name, lat, lon, zone, version) VALUES (@org, ID, 'N00X', 'Field', 0, 0, 'UTC', 1)`, 2), "ID", spell(`@base`, 1), 1))
}

func TestRecordsAreNotChangedByHand(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	for _, table := range []string{
		"aircraft_configuration", "squawk_history", "deferral", "event", "company_rules", "determination", "log_entry", "log_checkpoint",
		"certificate", "standing", "signature",
		"checklist_template", "airframe_checklist", "checklist", "walkaround_report", "walkaround_squawk", "meter_entry", "flight_shown",
	} {
		wantRefused(t, conn, `UPDATE `+table+` SET organization = organization`, table+"_append_only")
		wantRefused(t, conn, `DELETE FROM `+table, table+"_append_only")
		wantRefused(t, conn, `DELETE FROM `+table+` WHERE false`, table+"_append_only")
		wantRefused(t, conn, `TRUNCATE `+table+` CASCADE`, table+"_append_only")
	}
	for _, table := range []string{"base", "aircraft", "squawk", "flight", "log_head", "walkaround", "block", "airport"} {
		wantRefused(t, conn, `DELETE FROM `+table, table+"_kept")
		wantRefused(t, conn, `TRUNCATE `+table+` CASCADE`, table+"_kept")
	}
	for _, column := range []string{"words", "number", "aircraft", "reported_by", "reported_at", "id"} {
		wantRefused(t, conn, fmt.Sprintf(`UPDATE squawk SET version = version + 1, %s = %s`, column, column), "squawk_report_kept")
	}
	wantRefused(t, conn, `UPDATE log_head SET size = 0, frontier = '{}'`, "log_head_only_grows")
	for _, table := range ourTables {
		if n := column[int](t, conn, spell(`SELECT count(*) FROM `+table+` WHERE organization = @org`, 1))[0]; n == 0 {
			t.Errorf("%s is empty", table)
		}
	}
}

func TestSquawksDoNotMoveByHandWithoutATrace(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	where := spell(` WHERE organization = @org AND id = @squawk`, 1)
	wantRefused(t, conn, `UPDATE squawk SET state = 'closed'`+where, "squawk_moves_by_versions")
	wantRefused(t, conn, `UPDATE squawk SET state = 'closed', version = version + 2`+where, "squawk_moves_by_versions")
	wantRefused(t, conn, `UPDATE squawk SET state = 'closed', version = version + 1`+where, "squawk_entry_fkey")
	entry := spell(`INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words) VALUES (@org, @squawk, 2, now(), 'M. Chanic', 'close', 'closed', 'bulb replaced')`, 1)
	do(t, conn, `BEGIN; UPDATE squawk SET state = 'closed', version = version + 1`+where+`; `+entry+`; COMMIT`)
}

func TestDeferralLawsHoldByHand(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	row := func(column, value string) string {
		columns := []string{"basis", "method", "placard", "entry", "determined_by", "determined_at", "removed_on", "until"}
		values := []string{"'91.213(d)'", "'removed'", "'INOP'", "'log 1'", "'M. Chanic'", "'2031-05-04'", "'2031-05-04'", "'2031-06-04'"}
		for i := range columns {
			if columns[i] == column {
				values[i] = value
			}
		}
		return spell(`INSERT INTO deferral (organization, id, squawk, `+strings.Join(columns, ", ")+`) VALUES (@org, @other, @squawk, `+strings.Join(values, ", ")+`)`, 1)
	}
	const notNull = "23502"
	for _, try := range []struct{ column, value, by string }{
		{"basis", "''", "deferral_basis_given"},
		{"basis", "NULL", notNull},
		{"method", "''", "deferral_method_known"},
		{"method", "'ignored'", "deferral_method_known"},
		{"placard", "''", "deferral_placard_given"},
		{"placard", "E' \\t\\n'", "deferral_placard_given"},
		{"placard", "NULL", notNull},
		{"entry", "''", "deferral_entry_given"},
		{"entry", "' '", "deferral_entry_given"},
		{"entry", "NULL", notNull},
		{"determined_by", "''", "deferral_determination_signed"},
		{"determined_by", "NULL", notNull},
		{"determined_at", "'0001-01-01 00:00:00+00'", "deferral_determination_dated"},
		{"determined_at", "NULL", notNull},
		{"method", "'deactivated'", "deferral_removal_dated"},
		{"until", "'2031-05-04'", "deferral_ends_later"},
		{"until", "NULL", notNull},
	} {
		wantRefused(t, conn, row(try.column, try.value), try.by)
	}
	do(t, conn, `BEGIN; `+row("", "")+`; ROLLBACK`)

	// step moves a squawk and makes the entry that this needs.
	step := func(squawk, set string) string {
		return spell(`BEGIN; UPDATE squawk SET version = version + 1, `+set+` WHERE organization = @org AND id = `+squawk+`;
			INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words)
				SELECT organization, id, version, now(), 'M. Chanic', 'defer', state, '' FROM squawk WHERE organization = @org AND id = `+squawk+`; COMMIT`, 1)
	}
	wantRefused(t, conn, step("@squawk", `state = 'deferred'`), "squawk_deferral_when_deferred")
	wantRefused(t, conn, step("@squawk", `deferral = @deferral`), "squawk_deferral_when_deferred")
	wantRefused(t, conn, step("@squawk", `state = 'closed', deferral = @deferral`), "squawk_deferral_when_deferred")
	wantRefused(t, conn, step("@squawk", `state = 'deferred', deferral = @deferral, unit = ''`), "squawk_deferral_when_deferred")
	wantRefused(t, conn, step("@squawk", `state = 'deferred', deferral = @other`), "squawk_deferral_fkey")
	wantRefused(t, conn, step("@second", `state = 'deferred', deferral = @deferral`), "squawk_deferral_fkey") // of another squawk
	do(t, conn, step("@squawk", `state = 'deferred', deferral = @deferral`))
	wantRefused(t, conn, step("@squawk", `state = 'reported'`), "squawk_deferral_when_deferred")

	do(t, conn, strings.Replace(row("", ""), spell("@squawk", 1), spell("@second", 1), 1))
	wantRefused(t, conn, step("@second", `state = 'deferred', deferral = @other`), "squawk_one_open_deferral")
	do(t, conn, step("@second", `state = 'deferred', deferral = @other, unit = 'landing-light-2'`))
}

// TestTheStoreSeesWhatTheHandWrote keeps the sample rows above honest.
func TestTheStoreSeesWhatTheHandWrote(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	store := open(t, url)
	do(t, connect(t, url), spell(twoClubs, 1))
	who, err := store.Authenticate(t.Context(), [32]byte([]byte(strings.Repeat("\x01", 32))))
	if err != nil || !slices.Equal(who.Roles, techlog.As(techlog.Pilot)) {
		t.Errorf("%+v, %v", who, err)
	}
	id, _ := techlog.ParseID(strings.Trim(spell(`@squawk`, 1), "'"))
	squawk, err := store.Squawk(t.Context(), who.Organization, id)
	if err != nil || squawk.State != techlog.Reported || squawk.Words != "dark" {
		t.Errorf("%+v, %v", squawk, err)
	}
}
