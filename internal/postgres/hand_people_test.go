package postgres_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"
)

// Two persons, each a member of one of the two clubs, with everything that a person has. The digests are of the first
// byte of the club's identifiers, so that club 1's are 01…, club 2's 02….
const twoPersons = `
	SELECT set_config('tiedown.organization', @org, false), set_config('tiedown.person', @base, false),
		set_config('tiedown.email', repeat(left(@org, 2), 32), false), set_config('tiedown.address', repeat('a' || substr(@org, 2, 1), 32), false),
		set_config('tiedown.token', repeat(left(@org, 2), 32), false);
	INSERT INTO account (id, email, email_digest, name, at) VALUES (@base, 'p@club.example', decode(repeat(left(@org, 2), 32), 'hex'), 'P. Lot', now());
	BEGIN;
	INSERT INTO membership (organization, person, name, roles, since, version) VALUES (@org, @base, 'P. Lot', '{administrator}', now(), 1);
	INSERT INTO membership_history (organization, person, number, at, by, name, roles) VALUES (@org, @base, 1, now(), 'P. Lot', 'P. Lot', '{administrator}');
	COMMIT;
	INSERT INTO calendar_feed (organization, id, digest, name, maker, at) VALUES (@org, @walkaround, decode(repeat(left(@org, 2), 32), 'hex'), 'the wall', @base, now());
	INSERT INTO calendar_feed_revocation (organization, feed, at, by) VALUES (@org, @walkaround, now(), 'P. Lot');
	INSERT INTO password (person, phc, at) VALUES (@base, '$argon2id$v=19$m=64,t=1,p=1$' || repeat('A', 22) || '$' || repeat('B', 43), now());
	INSERT INTO password_link (digest, person, at, until, first) VALUES (decode(repeat(left(@org, 2), 32), 'hex'), @base, now(), now() + interval '1 day', true);
	INSERT INTO session (person, id, digest, organization, began, seen, until, factor, agent, address)
		VALUES (@base, @other, decode(repeat(left(@org, 2), 32), 'hex'), @org, now(), now(), now() + interval '1 day', 'password', '', '');
	INSERT INTO attempt (subject, failures, at, until) VALUES (decode(repeat(left(@org, 2), 32), 'hex'), 1, now(), now()),
		(decode(repeat('a' || substr(@org, 2, 1), 32), 'hex'), 1, now(), now());
	INSERT INTO passkey (person, id, handle, name, record, version, added_at) VALUES (@base, @other, decode(left(@org, 2), 'hex'), 'phone', '{}', 1, now());
	INSERT INTO recovery_code (person, digest, at) VALUES (@base, decode(repeat('01', 32), 'hex'), now());
	INSERT INTO challenge (person, id, ticket, purpose, at, until)
		VALUES (@base, @other, decode(repeat(left(@org, 2), 32), 'hex'), 'sign-in', now(), now() + interval '5 minutes');
	INSERT INTO linked_identity (digest, person, issuer, subject, at) VALUES (decode(repeat(left(@org, 2), 32), 'hex'), @base, 'i', 's', now());
	INSERT INTO security_event (id, person, kind, about, by, address, at) VALUES (@other, @base, 'signed-in', '', '', '', now());
	INSERT INTO security_event (id, organization, person, kind, about, by, address, at) VALUES (@second, @org, @base, 'member-added', '', '', '', now());
	SELECT set_config('tiedown.organization', '', false), set_config('tiedown.person', '', false), set_config('tiedown.email', '', false),
		set_config('tiedown.address', '', false), set_config('tiedown.token', '', false)`

// personal is every table that belongs to persons, with the column that names the person.
var personal = map[string]string{
	"account": "id", "password": "person", "password_link": "person", "session": "person", "passkey": "person", "recovery_code": "person",
	"challenge": "person", "linked_identity": "person", "membership": "person", "security_event": "person",
}

func persons(t *testing.T) *pgx.Conn {
	t.Helper()
	conn := bound(t)
	for _, club := range []int{1, 2} {
		do(t, conn, spell(twoPersons, club))
	}
	return conn
}

// saying makes a connection say one thing about who asks, and nothing else.
func saying(setting, value string) string {
	all := []string{"organization", "person", "email", "address", "token", "keeper"}
	var sets []string
	for _, s := range all {
		v := "''"
		if s == setting {
			v = value
		}
		sets = append(sets, fmt.Sprintf("set_config('tiedown.%s', %s, false)", s, v))
	}
	return "SELECT " + strings.Join(sets, ", ")
}

// TestWhatOfAPersonIsSeenByWhom asks as everybody in turn, and holds each table to what may be seen.
func TestWhatOfAPersonIsSeenByWhom(t *testing.T) {
	t.Parallel()
	conn := persons(t)
	digest := func(club int) string { return fmt.Sprintf("'%s'", strings.Repeat(fmt.Sprintf("%02d", club), 32)) }
	for name, c := range map[string]struct {
		setting, value string
		sees           map[string]int
	}{
		"nobody in particular":     {"organization", "''", map[string]int{}},
		"a stranger":               {"organization", spell(`@org`, 3), map[string]int{}},
		"somebody who is no more":  {"person", spell(`@base`, 3), map[string]int{}},
		"the program":              {"keeper", "'on'", map[string]int{"organization": 2}},
		"the organization":         {"organization", spell(`@org`, 1), map[string]int{"organization": 1, "account": 1, "membership": 1, "membership_history": 1, "security_event": 1, "token": 1, "calendar_feed": 1, "calendar_feed_revocation": 1}},
		"the person":               {"person", spell(`@base`, 1), map[string]int{"organization": 1, "account": 1, "password": 1, "password_link": 1, "session": 1, "passkey": 1, "recovery_code": 1, "challenge": 1, "linked_identity": 1, "membership": 1, "security_event": 1}},
		"who presents the address": {"email", digest(1), map[string]int{"account": 1, "password": 1, "attempt": 1}},
		"who comes from somewhere": {"address", fmt.Sprintf("'%s'", strings.Repeat("a1", 32)), map[string]int{"attempt": 1}},
		"who presents a secret":    {"token", digest(1), map[string]int{"token": 1, "calendar_feed": 1, "password_link": 1, "session": 1, "challenge": 1, "linked_identity": 1}},
	} {
		do(t, conn, saying(c.setting, c.value))
		for _, table := range []string{
			"organization", "account", "membership", "membership_history", "password", "password_link", "session", "attempt", "passkey", "recovery_code",
			"challenge", "linked_identity", "security_event", "token", "calendar_feed", "calendar_feed_revocation",
		} {
			if n := column[int](t, conn, `SELECT count(*) FROM `+table)[0]; n != c.sees[table] {
				t.Errorf("%s: %d rows of %s are seen, want %d", name, n, table, c.sees[table])
			}
		}
		for table, person := range personal {
			if n := column[int](t, conn, spell(`SELECT count(*) FROM `+table+` WHERE `+person+` <> @base`, 1))[0]; n != 0 {
				t.Errorf("%s: %d rows of %s are another's", name, n, table)
			}
		}
	}
}

// TestNobodyWritesForAnotherPerson tries to give the person of club 1 something, as the one of club 2.
func TestNobodyWritesForAnotherPerson(t *testing.T) {
	t.Parallel()
	conn := persons(t)
	for _, sql := range []string{
		`INSERT INTO password (person, phc, at) VALUES (@base, '$argon2id$v=19$m=64,t=1,p=1$' || repeat('A', 22) || '$' || repeat('C', 43), now())`,
		`INSERT INTO password_link (digest, person, at, until, first) VALUES (decode(repeat('09', 32), 'hex'), @base, now(), now() + interval '1 day', false)`,
		`INSERT INTO session (person, id, digest, organization, began, seen, until, factor, agent, address)
			VALUES (@base, @second, decode(repeat('09', 32), 'hex'), @org, now(), now(), now() + interval '1 day', 'password', '', '')`,
		`INSERT INTO passkey (person, id, handle, name, record, version, added_at) VALUES (@base, @second, '\x09', 'mine', '{}', 1, now())`,
		`INSERT INTO recovery_code (person, digest, at) VALUES (@base, decode(repeat('09', 32), 'hex'), now())`,
		`INSERT INTO challenge (person, id, ticket, purpose, at, until) VALUES (@base, @second, decode(repeat('09', 32), 'hex'), 'sign-in', now(), now())`,
		`INSERT INTO linked_identity (digest, person, issuer, subject, at) VALUES (decode(repeat('09', 32), 'hex'), @base, 'i', 't', now())`,
		`INSERT INTO security_event (id, person, kind, about, by, address, at) VALUES (@org, @base, 'signed-in', '', '', '', now())`,
		`INSERT INTO security_event (id, organization, kind, about, by, address, at) VALUES (@org, @org, 'member-ended', '', '', '', now())`,
		`INSERT INTO account (id, email, email_digest, name, at) VALUES (@second, 'x@club.example', decode(repeat('09', 32), 'hex'), 'X', now())`,
		`INSERT INTO membership (organization, person, name, roles, since, version) VALUES (@org, @base, 'P. Lot', '{pilot}', now(), 1)`,
		`INSERT INTO membership_history (organization, person, number, at, by, name, roles) VALUES (@org, @base, 2, now(), 'me', 'P. Lot', '{pilot}')`,
		`INSERT INTO attempt (subject, failures, at, until) VALUES (decode(repeat('09', 32), 'hex'), 0, now(), now())`,
	} {
		for _, as := range []string{saying("person", spell(`@base`, 2)), saying("organization", spell(`@org`, 2)), saying("", "")} {
			do(t, conn, as)
			wantRefused(t, conn, spell(sql, 1), insufficientPrivilege)
		}
	}
	// Nor is anything of another's changed: it is not seen.
	for _, sql := range []string{
		`UPDATE password SET at = now()`, `UPDATE session SET seen = now()`, `UPDATE passkey SET version = 9`, `UPDATE recovery_code SET used_at = now()`,
		`UPDATE challenge SET used_at = now()`, `UPDATE password_link SET used_at = now()`, `UPDATE attempt SET failures = 0`,
	} {
		do(t, conn, saying("organization", spell(`@org`, 1)))
		if tag, err := conn.Exec(t.Context(), sql); err != nil || tag.RowsAffected() != 0 {
			t.Errorf("an organization: %s: %v, %v", sql, tag, err)
		}
	}
}

// TestPeoplesRecordsAreKept holds what of these records a hand cannot change.
func TestPeoplesRecordsAreKept(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, spell(twoPersons, 1))
	do(t, conn, spell(`SELECT set_config('tiedown.organization', @org, false), set_config('tiedown.person', @base, false)`, 1))
	for _, table := range []string{"account", "membership_history", "linked_identity", "security_event"} {
		wantRefused(t, conn, `DELETE FROM `+table, table+"_append_only")
		wantRefused(t, conn, `TRUNCATE `+table+` CASCADE`, table+"_append_only")
	}
	wantRefused(t, conn, `UPDATE account SET name = 'X'`, "account_append_only")
	wantRefused(t, conn, `UPDATE membership_history SET by = 'X'`, "membership_history_append_only")
	wantRefused(t, conn, `UPDATE security_event SET by = 'X'`, "security_event_append_only")
	for _, table := range []string{"token", "token_revocation", "calendar_feed", "calendar_feed_revocation"} {
		wantRefused(t, conn, `DELETE FROM `+table, table+"_append_only")
	}
	for _, table := range []string{"membership", "password", "password_link", "passkey", "recovery_code"} {
		wantRefused(t, conn, `DELETE FROM `+table, table+"_kept")
	}
	// Of these, what ended long ago may go: see TestWhatHasEndedLongAgoIsForgotten.
	for _, table := range []string{"session", "attempt", "challenge"} {
		wantRefused(t, conn, `TRUNCATE `+table+` CASCADE`, table+"_kept")
	}
	for statement, by := range map[string]string{
		`UPDATE token SET roles = '{administrator}'`:                                  "token_append_only",
		`UPDATE calendar_feed SET aircraft = NULL`:                                    "calendar_feed_append_only",
		`UPDATE calendar_feed_revocation SET at = now() + interval '1 year'`:          "calendar_feed_revocation_append_only",
		`UPDATE token SET until = NULL`:                                               "token_append_only",
		`UPDATE token_revocation SET at = now() + interval '1 year'`:                  "token_revocation_append_only",
		`UPDATE session SET until = now() + interval '9 years'`:                       "session_made_kept",
		`UPDATE session SET digest = decode(repeat('09', 32), 'hex')`:                 "session_made_kept",
		`UPDATE challenge SET about = decode(repeat('09', 32), 'hex')`:                "challenge_made_kept",
		`UPDATE challenge SET until = now() + interval '1 day'`:                       "challenge_made_kept",
		`UPDATE password_link SET until = now() + interval '1 year'`:                  "password_link_made_kept",
		`UPDATE recovery_code SET digest = decode(repeat('09', 32), 'hex')`:           "recovery_code_made_kept",
		`UPDATE password SET phc = 'four grey geese'`:                                 "password_is_hashed",
		`UPDATE membership SET name = 'X'`:                                            "membership_moves_by_versions",
		`UPDATE membership SET name = 'X', version = version + 1`:                     "membership_entry_fkey",
		`UPDATE membership SET roles = '{}', version = version + 1`:                   "membership_roles_given",
		`UPDATE membership SET roles = '{owner}', version = version + 1`:              "role_known",
		`UPDATE membership SET roles = '{pilot}', version = version + 1`:              "membership_last_administrator",
		`UPDATE membership SET until = now(), version = version + 1`:                  "membership_last_administrator",
		`UPDATE session SET ended_at = now(); UPDATE session SET ended_at = NULL`:     "session_stays_ended",
		`UPDATE challenge SET used_at = now(); UPDATE challenge SET used_at = NULL`:   "challenge_stays_used",
		`UPDATE passkey SET removed_at = now(); UPDATE passkey SET removed_at = NULL`: "passkey_stays_removed",
	} {
		wantRefused(t, conn, statement, by)
	}
	wantRefused(t, conn, spell(`INSERT INTO token (organization, id, digest, name, roles, maker, made_at, until)
		VALUES (@org, @other, decode(repeat('09', 32), 'hex'), 'long', '{pilot}', @base, now(), now() + interval '2 years')`, 1), "token_ends_within_a_year")
	wantRefused(t, conn, spell(`INSERT INTO token (organization, id, digest, name, roles, maker)
		VALUES (@org, @other, decode(repeat('09', 32), 'hex'), 'endless', '{pilot}', @base)`, 1), "token_of_a_person_ends")
	wantRefused(t, conn, spell(`INSERT INTO challenge (person, id, purpose, at, until) VALUES (@base, @second, 'proof', now(), now())`, 1), "challenge_proof_is_about_a_digest")
}
