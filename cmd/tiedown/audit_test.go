package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/audit"
	"tiedown/internal/localpg"
	"tiedown/internal/testrig/pgtest"
)

// TestTheLogOfTheDemoClub verifies a club that is being served, takes a receipt away and checks it without the club, and
// finds out somebody who alters a record.
func TestTheLogOfTheDemoClub(t *testing.T) {
	t.Parallel()
	dir := stateDir(t)
	state := "TIEDOWN_STATE_DIR=" + dir
	p := start(t, "demo", state)
	code, out, stderr := call(t, "", []string{"audit", "verify"}, state)
	if code != exitOK || !strings.Contains(out, "entries: every record is as it was entered") {
		t.Fatalf("verify while it is served: %d %s%s", code, out, stderr)
	}
	squawk := list(t, p, "squawks")[0].ID
	status, receipt := p.get("pilot", "/v1/receipts/squawk-entry/"+squawk+"?number=1")
	if status != 200 {
		t.Fatalf("receipt: %d %s", status, receipt)
	}
	_, key := p.get("", "/audit/key")
	if code, out, stderr := call(t, "", []string{"audit", "key"}, state); code != exitOK || out != key {
		t.Errorf("key: %d %q%s, the server says %q", code, out, stderr, key)
	}
	keyFile := filepath.Join(t.TempDir(), "key.txt")
	if err := os.WriteFile(keyFile, []byte(key), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, given := range []string{strings.TrimSpace(key), keyFile} {
		code, out, stderr := call(t, receipt, []string{"audit", "check", "-", "--key", given})
		if code != exitOK || !strings.HasPrefix(out, "Good: squawk_history "+squawk+"/1 was entered by ") {
			t.Errorf("check: %d %s%s", code, out, stderr)
		}
	}
	if err := p.stop(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	checkpoint := sealedAtTheEnd(t, dir)
	alter(t, dir, `ALTER TABLE squawk_history DISABLE TRIGGER USER; UPDATE squawk_history SET words = 'all is well' WHERE squawk = '`+squawk+`'`)
	code, out, stderr = call(t, "", []string{"audit", "verify", "--key", strings.TrimSpace(key), "--checkpoint", checkpoint}, state)
	if code != exitFailed || !strings.Contains(out, "squawk_history "+squawk+"/1: the record was altered") || !strings.Contains(out, "1 faults") || stderr != "" {
		t.Errorf("verify what was altered: %d %s%s", code, out, stderr)
	}
	if code, _, stderr := call(t, "", []string{"audit", "receipt", organizationOf(t, receipt), "squawk-entry", squawk, "1"}, state); code != exitFailed || !strings.Contains(stderr, "not as it was entered") {
		t.Errorf("a receipt of what was altered: %d %s", code, stderr)
	}
}

func organizationOf(t *testing.T, receipt string) string {
	t.Helper()
	r, err := audit.ParseReceipt(receipt)
	if err != nil {
		t.Fatal(err)
	}
	return r.Entry.Organization
}

// sealedAtTheEnd takes the last checkpoint out of a state folder, and gives the file that it is in.
func sealedAtTheEnd(t *testing.T, dir string) string {
	t.Helper()
	var signed string
	var size, last int64
	inState(t, dir, func(conn *pgx.Conn) {
		err := conn.QueryRow(t.Context(), `SELECT h.size, c.size, c.signed FROM log_head h, log_checkpoint c ORDER BY c.size DESC LIMIT 1`).Scan(&size, &last, &signed)
		if err != nil {
			t.Fatal(err)
		}
	})
	if size != last {
		t.Errorf("the last checkpoint is of %d entries, the log has %d: it was not sealed at the end", last, size)
	}
	file := filepath.Join(t.TempDir(), "checkpoint.txt")
	if err := os.WriteFile(file, []byte(signed), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// alter does by hand what no program of ours would.
func alter(t *testing.T, dir, sql string) {
	t.Helper()
	inState(t, dir, func(conn *pgx.Conn) {
		if _, err := conn.PgConn().Exec(t.Context(), sql).ReadAll(); err != nil {
			t.Fatal(err)
		}
	})
}

// inState opens the database of a state folder as its superuser, whom nothing stops.
func inState(t *testing.T, dir string, do func(*pgx.Conn)) {
	t.Helper()
	cluster, err := localpg.Start(t.Context(), localpg.Options{Dir: dir})
	if err != nil {
		t.Fatal(err)
	}
	conn, err := pgx.Connect(t.Context(), cluster.AdminURL(localpg.Database))
	if err != nil {
		t.Fatal(err)
	}
	do(conn)
	if err := conn.Close(t.Context()); err != nil {
		t.Error(err)
	}
	if err := cluster.Stop(t.Context()); err != nil {
		t.Error(err)
	}
}

// TestAuditOfADatabaseOfOnesOwn: the key's file, organizations one by one, and what a checkpoint that was kept tells.
func TestAuditOfADatabaseOfOnesOwn(t *testing.T) {
	t.Parallel()
	dir := stateDir(t)
	settings := []string{"TIEDOWN_DATABASE_URL=" + pgtest.New(t), "TIEDOWN_STATE_DIR=" + dir}
	missing := append(slices.Clone(settings), "TIEDOWN_LOG_KEY="+filepath.Join(dir, "elsewhere.key"))
	if code, _, stderr := call(t, "", []string{"organization", "Two Oaks"}, missing...); code != exitFailed || !strings.Contains(stderr, "the key of the log: open ") {
		t.Errorf("a key that is not there: %d %s", code, stderr)
	}
	if code, _, stderr := call(t, "", []string{"audit", "verify"}, settings...); code != exitUsage || !strings.Contains(stderr, "give its public half with --key") {
		t.Errorf("verify without a key: %d %s", code, stderr)
	}
	code, out, stderr := call(t, "", []string{"organization", "Two Oaks"}, settings...)
	if code != exitOK {
		t.Fatalf("%d %s%s", code, out, stderr)
	}
	id := strings.Fields(out)[1]
	secret, err := os.Stat(filepath.Join(dir, "log.key"))
	if err != nil || secret.Mode().Perm() != 0o600 {
		t.Errorf("the key's file: %v, %v", secret, err)
	}
	for _, args := range [][]string{{"audit", "verify"}, {"audit", "verify", id}} {
		code, out, stderr := call(t, "", args, settings...)
		if code != exitOK || !strings.Contains(out, `"Two Oaks", organization `+id) || !strings.Contains(out, "2 entries: ") {
			t.Errorf("%v: %d %s%s", args, code, out, stderr)
		}
	}
	key, err := os.ReadFile(filepath.Join(dir, "log.key"))
	if err != nil {
		t.Fatal(err)
	}
	signer, err := audit.ReadKey(string(key))
	if err != nil {
		t.Fatal(err)
	}
	sign := func(organization string, size int64) string {
		signed, err := signer.Sign(audit.Checkpoint{Organization: organization, Size: size, At: now()})
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "checkpoint.txt")
		if err := os.WriteFile(file, []byte(signed), 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	another := newID().String()
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"verify", "--checkpoint", sign(id, 7)}, exitFailed, "the log has 2 entries only: its end is missing"},
		{[]string{"verify", "--checkpoint", sign(id, 1), id}, exitFailed, "the first 1 entries are not those that were signed"},
		{[]string{"verify", "--checkpoint", sign(another, 1)}, exitFailed, "organization " + another + "\n  it is missing"},
		{[]string{"verify", "--checkpoint", sign(another, 1), id}, exitUsage, "a checkpoint is of another organization"},
		{[]string{"verify", "--checkpoint", filepath.Join(dir, "log.key")}, exitUsage, "not as a checkpoint is written"},
		{[]string{"verify", another}, exitFailed, "there is no organization " + another},
		{[]string{"verify", "Two Oaks"}, exitUsage, "is no identifier"},
		{[]string{"verify", "--key", "nobody's"}, exitUsage, "it is no public key"},
		{[]string{"verify", "--key"}, exitUsage, "--key: give a value after it"},
		{[]string{"verify", id, id}, exitUsage, "usage: tiedown audit verify"},
		{[]string{"receipt", id, "deferral", another}, exitFailed, "there is no such record"},
		{[]string{"receipt", id, "squawk-entry", another}, exitFailed, "it is not said which entry"},
		{[]string{"receipt", id, "token", another}, exitUsage, "usage: tiedown audit receipt"},
		{[]string{"receipt", id}, exitUsage, "usage: tiedown audit receipt"},
		{[]string{"key", "again"}, exitUsage, "usage: tiedown audit key"},
		{[]string{}, exitUsage, "usage: tiedown audit verify|receipt|check|key"},
	} {
		code, out, stderr := call(t, "", append([]string{"audit"}, c.args...), settings...)
		if code != c.code || !strings.Contains(out+stderr, c.says) {
			t.Errorf("%v: %d %s%s, want %d %q", c.args, code, out, stderr, c.code, c.says)
		}
	}
}

// TestCheckTellsWhatIsWrong checks a receipt that was kept, and spoils it, with no settings at all. Whatever the program
// becomes, it must go on being good.
func TestCheckTellsWhatIsWrong(t *testing.T) {
	t.Parallel()
	kept := func(name string) string {
		raw, err := os.ReadFile("../../testdata/receipts/" + name)
		if err != nil {
			t.Fatal(err)
		}
		return string(raw)
	}
	receipt, key := kept("squawk-entry.txt"), strings.TrimSpace(kept("key.txt"))
	another, err := audit.NewKey(strings.NewReader(strings.Repeat("another", 20)))
	if err != nil {
		t.Fatal(err)
	}
	stranger, err := audit.ReadKey(another)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what, in, key string
		code          int
		says          string
	}{
		{"as it was kept", receipt, key, exitOK, "Good: squawk_history "},
		{"by another key", receipt, stranger.Public().String(), exitFailed, "BAD: the checkpoint: it is signed by another key"},
		{"a word changed", strings.Replace(receipt, "dark", "fine", 1), key, exitFailed, "BAD: the record is not the one that was entered"},
		{"a line lost", strings.Replace(receipt, "--- proof\n", "", 1), key, exitUsage, "not the whole of one"},
		{"nothing", "", key, exitUsage, "it does not begin as a receipt does"},
		{"no key", receipt, "", exitUsage, "usage: tiedown audit check"},
	} {
		args := []string{"audit", "check", "-"}
		if c.key != "" {
			args = append(args, "--key", c.key)
		}
		if code, out, stderr := call(t, c.in, args); code != c.code || !strings.Contains(out+stderr, c.says) {
			t.Errorf("%s: %d %s%s, want %d %q", c.what, code, out, stderr, c.code, c.says)
		}
	}
	if code, _, stderr := call(t, "", []string{"audit", "check", "no-such-file", "--key", key}); code != exitUsage || !strings.Contains(stderr, "no-such-file") {
		t.Errorf("a file that is not there: %d %s", code, stderr)
	}
}
