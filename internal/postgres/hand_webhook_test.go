package postgres_test

import (
	"strings"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
)

func TestNobodyWritesAnothersWebhooks(t *testing.T) {
	t.Parallel()
	conn := bound(t)
	do(t, conn, ask(2))
	for _, sql := range []string{
		`INSERT INTO webhook (organization, id, url, kinds, state, by, at, version) VALUES (@org, @other, 'https://hooks.example', '{}', 'on', '', now(), 1)`,
		`INSERT INTO webhook_secret (organization, webhook, id, sealed, at) VALUES (@org, @paper, @other, 'sealed', now())`,
		`INSERT INTO webhook_relay (organization, place) VALUES (@org, 1)`,
		`INSERT INTO delivery (organization, webhook, place, lane, state, attempts, queued_at, answer)
			VALUES (@org, @paper, 100, @aircraft, 'pending', 0, now(), '')`,
		`INSERT INTO delivery_lane (organization, webhook, lane) VALUES (@org, @paper, @other)`,
	} {
		wantRefused(t, conn, spell(sql, 1), insufficientPrivilege)
	}
	// The program, looking over all of them, sees how far each has come and which lanes are due, and may change neither.
	do(t, conn, `SET tiedown.organization = ''; SET tiedown.keeper = 'on'`)
	for table, want := range map[string]int{"webhook_relay": 2, "delivery_lane": 2, "webhook": 0, "webhook_secret": 0, "delivery": 0, "event": 0} {
		if n := column[int](t, conn, `SELECT count(*) FROM `+table)[0]; n != want {
			t.Errorf("the program sees %d rows of %s, want %d", n, table, want)
		}
	}
	for _, sql := range []string{`UPDATE webhook_relay SET place = 0`, `UPDATE delivery_lane SET due = NULL`} {
		if tag, err := conn.Exec(t.Context(), sql); err != nil || tag.RowsAffected() != 0 {
			t.Errorf("%s: %v, %v", sql, tag, err)
		}
	}
}

func TestWhatIsOnRecordOfWebhooksIsKept(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	for _, table := range []string{"webhook", "webhook_secret", "webhook_relay", "delivery", "delivery_lane"} {
		wantRefused(t, conn, `DELETE FROM `+table, table+"_kept")
		wantRefused(t, conn, `TRUNCATE `+table+` CASCADE`, table+"_kept")
	}
	wantRefused(t, conn, `UPDATE webhook SET state = 'gone'`, "webhook_state_known")
	wantRefused(t, conn, `UPDATE delivery SET state = 'lost'`, "delivery_state_known")
	wantRefused(t, conn, spell(`UPDATE delivery_lane SET holder = @person, due = NULL`, 1), "delivery_lane_held_until")
}

// TestKnocksTellNothing holds that what River keeps of an organization is three identifiers.
func TestKnocksTellNothing(t *testing.T) {
	t.Parallel()
	l := newLogged(t) // with a webhook, and an event of everything
	if _, err := l.store.Relay(t.Context(), l.org, noon); err != nil {
		t.Fatal(err)
	}
	conn := connect(t, l.url)
	if knocks := column[string](t, conn, `SELECT args::text FROM river.river_job`); len(knocks) != 0 {
		t.Fatalf("knocks before anything happened: %v", knocks)
	}
	l.must(t, func(tx hangar.Tx) {
		tx.Emit(techlog.Event{ID: newID(), Kind: "squawk.filed", Aircraft: l.aircraft, Subject: l.squawk, At: noon})
	})
	if _, err := l.store.Relay(t.Context(), l.org, noon); err != nil {
		t.Fatal(err)
	}
	knocks := column[string](t, conn, `SELECT args::text FROM river.river_job`)
	if len(knocks) != 1 {
		t.Fatalf("knocks %v", knocks)
	}
	for _, field := range strings.Split(strings.Trim(knocks[0], "{}"), ",") {
		_, value, _ := strings.Cut(field, ": ")
		if _, ok := techlog.ParseID(strings.Trim(value, `"`)); !ok {
			t.Errorf("a knock says %s", field)
		}
	}
	if others := column[string](t, conn, `SELECT c.relname::text FROM pg_class c WHERE c.relnamespace = 'river'::regnamespace AND c.relkind = 'r'
		AND c.relname NOT IN ('river_job', 'river_queue', 'river_leader', 'river_client', 'river_client_queue', 'river_migration', 'river_notification')`); len(others) > 0 {
		t.Errorf("River has tables that nobody has looked at: %v", others)
	}
	if may := column[bool](t, conn, `SELECT rolsuper FROM pg_roles WHERE rolname = current_user`)[0]; may {
		do(t, conn, `SET ROLE `+postgres.AppRole)
		do(t, conn, `SELECT id FROM river.river_job`)
	}
}
