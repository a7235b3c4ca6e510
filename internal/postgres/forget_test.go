package postgres_test

import (
	"context"
	"crypto/sha256"
	"slices"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

// TestWhatHasEndedLongAgoIsForgotten, and nothing else: what lasts, what ended later, and what is younger by the database's
// own clock stay, whatever the program asks for, and by hand too.
func TestWhatHasEndedLongAgoIsForgotten(t *testing.T) {
	t.Parallel()
	url := pgtest.New(t)
	store, err := postgres.Open(t.Context(), postgres.Config{URL: url})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	old := time.Date(2020, 5, 4, 12, 0, 0, 0, time.UTC)
	at := func(days int) time.Time { return old.AddDate(0, 0, days) }
	org := techlog.Organization{ID: newID(), Name: "The club"}
	must(store.AddOrganization(t.Context(), org))
	a := techlog.Account{ID: newID(), Email: "pat@club.example", Name: "Pat", At: old}
	must(store.AddAccount(t.Context(), a, techlog.PasswordLink{Person: a.ID, Digest: sha256.Sum256([]byte("link")), At: old, Until: at(7)}, nil))
	note := func() techlog.SecurityEvent {
		return techlog.SecurityEvent{ID: newID(), Person: a.ID, Kind: techlog.SignedIn, By: "Pat", At: old}
	}
	session := func(until time.Time) techlog.ID {
		id := newID()
		must(store.AddSession(t.Context(), people.Session{
			Account: a, ID: id, Digest: sha256.Sum256(id[:]), Began: old, Seen: old, Until: until, Factor: "password",
		}, note()))
		return id
	}
	session(at(10))
	session(at(40))
	lasting := session(time.Now().AddDate(1, 0, 0))
	ended := session(time.Now().AddDate(1, 0, 0))
	must(store.EndSession(t.Context(), a.ID, ended, at(10), note()))
	recent := session(time.Now().AddDate(0, 0, -29)) // ended for 29 days
	for i, until := range []time.Time{at(10), at(40), time.Now()} {
		must(store.AddChallenge(t.Context(), people.Challenge{Person: a.ID, ID: newID(), Purpose: "register", State: []byte(`{}`), At: until.Add(-time.Duration(i)), Until: until}))
	}
	limit := people.Limit{Free: 5, First: time.Minute, Longest: time.Hour, Forgotten: time.Hour}
	for who, when := range map[string]time.Time{"long ago": at(10), "later": at(40), "just now": time.Now()} {
		_, err := store.Attempt(t.Context(), []people.Subject{{Digest: sha256.Sum256([]byte(who)), Limit: limit}}, when)
		must(err)
	}
	token := techlog.Principal{Organization: org.ID, Token: newID(), Name: "a program", Roles: techlog.As(techlog.Pilot)}
	must(store.AddToken(t.Context(), token, sha256.Sum256([]byte("token"))))
	for key, when := range map[string]time.Time{"long ago": at(10), "later": at(40), "just now": time.Now()} {
		scope := hangar.Scope{Organization: org.ID, By: "a program", At: when, Once: &hangar.Once{Token: token.Token, Key: key}}
		_, err := store.Change(t.Context(), scope, func(context.Context, hangar.Tx) ([]byte, error) { return []byte("answer"), nil })
		must(err)
	}

	conn := connect(t, url)
	// byHand does something as the owner of the tables, whom row-level security does not bind, and takes it back.
	byHand := func(do func(pgx.Tx)) {
		t.Helper()
		tx, err := conn.Begin(t.Context())
		must(err)
		for _, table := range []string{"session", "challenge", "attempt", "idempotency"} {
			_, err := tx.Exec(t.Context(), `ALTER TABLE `+table+` NO FORCE ROW LEVEL SECURITY`)
			must(err)
		}
		do(tx)
		must(tx.Rollback(t.Context()))
	}
	left := func() (n [4]int) {
		t.Helper()
		byHand(func(tx pgx.Tx) {
			must(tx.QueryRow(t.Context(), `SELECT (SELECT count(*) FROM session), (SELECT count(*) FROM challenge), (SELECT count(*) FROM attempt), (SELECT count(*) FROM idempotency)`).
				Scan(&n[0], &n[1], &n[2], &n[3]))
		})
		return n
	}
	forget := func(before time.Time) int {
		t.Helper()
		n, err := store.ForgetEnded(t.Context(), before)
		must(err)
		answers, err := store.ForgetAnswers(t.Context(), org.ID, before)
		must(err)
		return n + answers
	}
	for _, step := range []struct {
		before time.Time
		gone   int
		left   [4]int
	}{
		{at(10), 0, [4]int{5, 3, 3, 3}},
		{at(11), 5, [4]int{3, 2, 2, 2}},
		{at(11), 0, [4]int{3, 2, 2, 2}},
		{time.Now().AddDate(1, 0, 0), 4, [4]int{2, 1, 1, 1}}, // a program whose clock is a year ahead
	} {
		if n := forget(step.before); n != step.gone || left() != step.left {
			t.Errorf("before %v: %d taken away, %v left, want %d and %v", step.before, n, left(), step.gone, step.left)
		}
	}
	sessions, err := store.Sessions(t.Context(), a.ID, old)
	must(err)
	if len(sessions) != 2 || !slices.ContainsFunc(sessions, func(s people.Session) bool { return s.ID == lasting }) || !slices.ContainsFunc(sessions, func(s people.Session) bool { return s.ID == recent }) {
		t.Errorf("%+v are left", sessions)
	}
	for _, sql := range []string{
		`DELETE FROM session`, `DELETE FROM challenge`, `DELETE FROM attempt`, `DELETE FROM idempotency`, `TRUNCATE session`, `TRUNCATE idempotency`,
		`UPDATE idempotency SET at = '2020-01-01'`,
	} {
		byHand(func(tx pgx.Tx) {
			if _, err := tx.Exec(t.Context(), sql); err == nil {
				t.Errorf("by hand: %s", sql)
			}
		})
	}
}
