package postgres_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

// notVouched is what no digest covers, with the reason: whole tables, and columns of tables that the log vouches for.
var notVouched = map[string]string{
	"event":          "it tells others of what is entered already, and repeats it",
	"idempotency":    "the answer to a request tells what is entered already",
	"log_entry":      "it is the log",
	"log_head":       "it is the log",
	"log_checkpoint": "it is signed",

	"account":         "it belongs to a person, who may be in several organizations or none: no log is his or hers",
	"password":        "a person's own",
	"password_link":   "a person's own",
	"session":         "a person's own",
	"attempt":         "nobody's yet",
	"passkey":         "a person's own",
	"recovery_code":   "a person's own",
	"challenge":       "a person's own",
	"linked_identity": "a person's own",
	"security_event":  "tells of attempts; what came of them in an organization is in its records",
	"content":         "its name is the digest of what it is, and the photo that has it is entered with that digest",

	"webhook_secret": "sealed under a key that is not in the database: one that was exchanged does not open, and nothing is sent",
	"webhook_relay":  "counts how far events have become deliveries",
	"delivery":       "tells of what is in the events, and what receivers answered",
	"delivery_lane":  "says who is at work on which deliveries",
	"airport":        "a list for reference: a flight copies what it uses, and that is entered",

	"warning_leads":     "how early people are told: no flight hangs on it",
	"warning":           "tells of what is entered already",
	"notice_preference": "what somebody wants to hear of: no record hangs on it",
	"note":              "tells of what is entered already",
	"note_cursor":       "where the telling has come to",
	"stop_link":         "a way to hear no more",

	"walkaround_report.measured_ids":    "taken out of its results, which say all of it",
	"walkaround_report.measured":        "as its identifiers",
	"walkaround_report.measured_at":     "as its identifiers",
	"walkaround_report.measured_values": "as its identifiers",

	"aircraft.plan_version":  "counts what bears on its plan: it invalidates what is kept in memory, and says nothing",
	"aircraft.state_version": "counts what bears on a determination: it invalidates what is kept in memory, and says nothing",
	"aircraft.squawked":      "the number of its last squawk, which that squawk has",
	"squawk.entry":           "the database makes it of the version",
	"deferral.carried_over":  "the database makes it of the signature",
	"flight.hold_verdict":    "a hold is worked out from records and rules, and is worked out anew whenever one changes",
	"flight.hold_rows":       "part of the hold",
	"flight.hold_rules":      "part of the hold",
	"flight.hold_at":         "part of the hold",
	"flight.hold_legs":       "part of the hold",
	"flight.hold_blocks":     "part of the hold",
	"flight.sequence":        "counts what is entered and the holds between, which are worked out",
	"flight.changed_at":      "when it was counted last",
}

// TestEveryColumnIsVouchedFor walks the catalogue: a digest covers every column of every table, or it is said why not.
func TestEveryColumnIsVouchedFor(t *testing.T) {
	t.Parallel()
	conn := connect(t, pgtest.New(t))
	rows, err := conn.Query(t.Context(), selectColumns)
	if err != nil {
		t.Fatal(err)
	}
	covered := postgres.Covered()
	reasons := maps.Clone(notVouched)
	defer rows.Close()
	for rows.Next() {
		var table, name, typ string
		if err := rows.Scan(&table, &name, &typ); err != nil {
			t.Fatal(err)
		}
		whole, reason := notVouched[table], notVouched[table+"."+name]
		is, ok := covered[table][name]
		switch {
		case ok && (whole != "" || reason != ""):
			t.Errorf("%s.%s is covered, and a reason is given why not", table, name)
		case ok && is != typ:
			t.Errorf("%s.%s is taken for %s, it is %s", table, name, is, typ)
		case !ok && whole == "" && reason == "":
			t.Errorf("no digest covers %s.%s, and no reason is given", table, name)
		}
		delete(covered[table], name)
		delete(reasons, table)
		delete(reasons, table+"."+name)
	}
	for table, left := range covered {
		if len(left) > 0 {
			t.Errorf("there are no such columns of %s: %v", table, left)
		}
	}
	for what := range reasons {
		t.Errorf("there is no %s", what)
	}
}

// TestAColumnThatIsAddedLeavesOldDigests: a row from before has the text that it had.
func TestAColumnThatIsAddedLeavesOldDigests(t *testing.T) {
	t.Parallel()
	const before = "tiedown record sample\norganization \"01000000-0000-0000-0000-000000000000\"\nid \"02000000-0000-0000-0000-000000000000\"\n"
	for _, c := range []struct {
		scopes  []string
		version int
		want    string
	}{
		{nil, 1, before},
		{[]string{"read"}, 1, before + "scopes [\"read\"]\n"},
		{nil, 2, before + "version 2\n"},
		{[]string{""}, 3, before + "scopes [\"\"]\nversion 3\n"},
	} {
		if got, err := postgres.WrittenWithLater(c.scopes, c.version); err != nil || got != c.want {
			t.Errorf("%q at version %d is written\n%swant\n%s(%v)", c.scopes, c.version, got, c.want, err)
		}
	}
}

// stored is the log's tree as the database keeps it, in the order of tlog.
type stored []tlog.Hash

func (s stored) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	list := make([]tlog.Hash, len(indexes))
	for i, index := range indexes {
		list[i] = s[index]
	}
	return list, nil
}

// TestTheDatabaseHashesAsTlogDoes appends changes of every size, and works the tree out anew from the leaves.
func TestTheDatabaseHashesAsTlogDoes(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	for batch := range 17 {
		l.must(t, func(tx hangar.Tx) {
			for range batch {
				id := newID()
				tx.AddBase(baseOf(id, id.String()))
			}
		})
		conn := connect(t, l.url)
		do(t, conn, fmt.Sprintf(`SET tiedown.organization = '%s'`, l.org))
		kept := column[[]byte](t, conn, `SELECT hashes FROM log_entry ORDER BY number`)
		var tree stored
		for n, raw := range kept {
			hashes, err := tlog.StoredHashesForRecordHash(int64(n), tlog.Hash(raw[:32]), tree)
			if err != nil {
				t.Fatal(err)
			}
			var want []byte
			for _, h := range hashes {
				want = append(want, h[:]...)
			}
			if !bytes.Equal(raw, want) {
				t.Fatalf("entry %d of %d keeps %x, want %x", n, len(kept), raw, want)
			}
			tree = append(tree, hashes...)
		}
		state, err := l.store.LogState(t.Context(), l.org, "")
		if err != nil {
			t.Fatal(err)
		}
		root, err := tlog.TreeHash(int64(len(kept)), tree)
		if err != nil || state.Head.Size != int64(len(kept)) || state.Head.Root() != root {
			t.Fatalf("the head is of %d entries, root %s; want %d, %s (%v)", state.Head.Size, state.Head.Root(), len(kept), root, err)
		}
	}
}

// TestManyWritersMakeOneLog: changes of one organization, and of its neighbor, at once.
func TestManyWritersMakeOneLog(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	neighbor := newID()
	if err := l.store.AddOrganization(t.Context(), techlog.Organization{ID: neighbor, Name: "Two Oaks"}); err != nil {
		t.Fatal(err)
	}
	before := l.size(t)
	const writers, each = 12, 15
	var all sync.WaitGroup
	failed := make(chan error, writers*each)
	for w := range writers {
		all.Go(func() {
			for n := range each {
				org := l.org
				if n%5 == 4 {
					org = neighbor
				}
				_, err := l.store.Change(t.Context(), hangar.Scope{Organization: org, By: strconv.Itoa(w), At: noon}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
					for range 1 + n%3 {
						id := newID()
						tx.AddBase(baseOf(id, id.String()))
					}
					return nil, nil
				})
				if err != nil {
					failed <- err
				}
			}
		})
	}
	all.Wait()
	close(failed)
	for err := range failed {
		t.Error(err)
	}
	// Of 15 changes of a writer, 3 are the neighbor's, which add 2, 1 and 3 bases; the others add 24.
	if n := l.size(t) - before; n != writers*24 {
		t.Errorf("%d entries, want %d", n, writers*24)
	}
	for _, org := range []techlog.ID{l.org, neighbor} {
		if faults := verify(t, l.store, org, l.key); len(faults) > 0 {
			t.Errorf("%q", faults)
		}
	}
}

// TestWhatIsNotWrittenIsNotEntered: changes that fail, early or with their last statement, and one that is sent again.
func TestWhatIsNotWrittenIsNotEntered(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	before := l.size(t)
	if err := change(t, l.store, l.org, errors.New("second thoughts")); err == nil {
		t.Error("the change did not fail")
	}
	for what, queue := range map[string]func(hangar.Tx){
		"a code that is taken":     func(tx hangar.Tx) { tx.AddBase(baseOf(newID(), "N00A")) },
		"a stale version":          func(tx hangar.Tx) { b := baseOf(l.base, "N00B"); b.Version = 7; tx.UpdateBase(b) },
		"a move without its entry": func(tx hangar.Tx) { s := squawkOf(l.squawk, l.aircraft, 1); s.Version = 3; tx.UpdateSquawk(s) },
		"a report that reads otherwise": func(tx hangar.Tx) {
			s := squawkOf(l.squawk, l.aircraft, 1)
			s.Version, s.Words = 3, "never mind"
			tx.UpdateSquawk(s)
			tx.AddHistory(entryOf(s, techlog.StepNote))
		},
	} {
		if err := l.change(t, queue); techlog.KindOf(err) == "" {
			t.Errorf("%s: %v", what, err)
		}
	}
	if n := l.size(t); n != before {
		t.Errorf("%d entries of changes that failed", n-before)
	}
	scope := hangar.Scope{Organization: l.org, By: "P. Lot", At: noon, Once: &hangar.Once{Token: newID(), Key: "key", Digest: [32]byte{1}}}
	for range 3 {
		_, err := l.store.Change(t.Context(), scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			id := newID()
			tx.AddBase(baseOf(id, id.String()))
			return []byte("added"), nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if n := l.size(t); n != before+1 {
		t.Errorf("%d entries of a request that was sent three times", n-before)
	}
	if faults := l.verify(t); len(faults) > 0 {
		t.Errorf("%q", faults)
	}
}

// TestADeferralIsEnteredOnce: a squawk that goes on being deferred brings it along.
func TestADeferralIsEnteredOnce(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	s, err := l.store.Squawk(t.Context(), l.org, l.squawk)
	if err != nil {
		t.Fatal(err)
	}
	before := l.size(t)
	for range 3 {
		s.Version++
		l.must(t, func(tx hangar.Tx) {
			tx.UpdateSquawk(s)
			tx.AddHistory(entryOf(s, techlog.StepNote))
		})
	}
	if n := l.size(t); n != before+6 {
		t.Errorf("%d entries of three notes, want two each", n-before)
	}
	if faults := l.verify(t); len(faults) > 0 {
		t.Errorf("%q", faults)
	}
}

// TestALogIsBegunForWhatIsOnRecord: records of a time without a log are entered once, whoever else does the same.
func TestALogIsBegunForWhatIsOnRecord(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	l.must(t, func(tx hangar.Tx) { // more than are fetched at once
		for range 1100 {
			id := newID()
			tx.AddBase(baseOf(id, id.String()))
		}
	})
	records := 0
	conn := l.vandal(t)
	for table := range postgres.Covered() {
		records += column[int](t, conn, `SELECT count(*) FROM `+table)[0]
	}
	do(t, conn, `DELETE FROM log_entry; DELETE FROM log_head`)
	if err := l.change(t, func(tx hangar.Tx) { tx.AddBase(baseOf(newID(), "N00X")) }); err == nil {
		t.Error("a record is written that no log vouches for")
	}
	do(t, conn, `ALTER TABLE log_head ADD CONSTRAINT log_head_pkey PRIMARY KEY (organization)`)
	begun := make(chan int, 4)
	var all sync.WaitGroup
	for range cap(begun) {
		all.Go(func() {
			n, err := l.store.BeginLogs(t.Context(), noon)
			if err != nil {
				t.Error(err)
			}
			begun <- n
		})
	}
	all.Wait()
	if n := l.size(t); n != int64(records) {
		t.Errorf("%d entries of %d records", n, records)
	}
	l.must(t, func(tx hangar.Tx) { l.report(tx, newID(), 2) })
	if faults := l.verify(t); len(faults) > 0 {
		t.Errorf("%.2000q", faults)
	}
	if n, err := l.store.BeginLogs(t.Context(), noon); n != 0 || err != nil {
		t.Errorf("begun again: %d, %v", n, err)
	}
}

// TestReceiptsOfTheStore makes the receipt of every kind of record, and refuses one of a record that was altered.
func TestReceiptsOfTheStore(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	take := func(table string, key ...any) error {
		receipt, state, err := l.store.Vouched(t.Context(), l.org, table, key, l.key.Public().Name())
		if err != nil {
			return err
		}
		if receipt.Checkpoint = state.Signed; state.Signed == "" {
			receipt.Checkpoint = l.seal(t).Signed
		}
		_, err = receipt.Check(l.key.Public())
		return err
	}
	for table, key := range map[string][]any{
		"organization": {uuid(l.org)}, "base": {uuid(l.base)}, "aircraft": {uuid(l.aircraft)}, "aircraft_configuration": {uuid(l.aircraft), 1},
		"squawk": {uuid(l.squawk)}, "squawk_history": {uuid(l.squawk), 2}, "deferral": {uuid(l.deferral)}, "company_rules": {1},
		"determination": {uuid(l.determination)},
	} {
		if err := take(table, key...); err != nil {
			t.Errorf("%s: %v", table, err)
		}
	}
	for what, err := range map[string]error{
		"no such deferral": take("deferral", uuid(newID())),
		"no such entry":    take("squawk_history", uuid(l.squawk), 99),
	} {
		if techlog.KindOf(err) != techlog.KindNotFound {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := take("event", uuid(l.base)); err == nil {
		t.Error("a receipt of an event")
	}
	if _, _, err := l.store.Vouched(t.Context(), newID(), "base", []any{uuid(l.base)}, ""); techlog.KindOf(err) != techlog.KindNotFound {
		t.Errorf("of another organization: %v", err)
	}
	do(t, l.vandal(t), `UPDATE deferral SET placard = 'none'; DELETE FROM log_entry WHERE record = 'determination'`)
	for table, id := range map[string]techlog.ID{"deferral": l.deferral, "determination": l.determination} {
		if err := take(table, uuid(id)); err == nil || techlog.KindOf(err) != "" || !strings.Contains(err.Error(), "not as it was entered") {
			t.Errorf("%s, altered: %v", table, err)
		}
	}
}

func uuid(id techlog.ID) [16]byte { return id }

// TestACheckpointIsKeptOnce: of one size and one key there is one.
func TestACheckpointIsKeptOnce(t *testing.T) {
	t.Parallel()
	l := newLogged(t)
	first := l.seal(t)
	second := first
	second.Signed = "something else"
	if err := l.store.KeepCheckpoint(t.Context(), l.org, second); err != nil {
		t.Fatal(err)
	}
	state, err := l.store.LogState(t.Context(), l.org, l.key.Public().Name())
	if err != nil || state.Signed != first.Signed {
		t.Errorf("%q, %v", state.Signed, err)
	}
	if state, err = l.store.LogState(t.Context(), l.org, "tiedown+00000000"); err != nil || state.Signed != "" {
		t.Errorf("by another key: %q, %v", state.Signed, err)
	}
	if !slices.Equal(l.verify(t), nil) {
		t.Error("something is found")
	}
}
