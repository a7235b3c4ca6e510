package audit_test

import (
	"encoding/base64"
	"fmt"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/tlog"

	"tiedown/internal/audit"
)

// written is how a record, an entry and a checkpoint are written. Logs and receipts are out there that were written so:
// this must not change.
const (
	writtenRecord = `tiedown record squawk_history
organization "01980000-0000-7000-8000-000000000001"
number 3
words "landing light dark\u000aagain"
`
	writtenEntry = `tiedown entry
organization "01980000-0000-7000-8000-000000000001"
at "2031-05-04T12:00:03.123456Z"
by "P. Lot"
table "squawk_history"
key "squawk/3"
version 0
digest "%s"
`
	writtenCheckpoint = `tiedown/01980000-0000-7000-8000-000000000001
7
%s
2031-05-04T12:00:00.123456Z

— tiedown `
)

func TestForms(t *testing.T) {
	t.Parallel()
	if got := recordOf(3).Text(); got != writtenRecord {
		t.Errorf("a record is written\n%s", got)
	}
	digest := recordOf(3).Digest()
	if want := fmt.Sprintf(writtenEntry, base64.StdEncoding.EncodeToString(digest[:])); entryOf(3).Text() != want {
		t.Errorf("an entry is written\n%swant\n%s", entryOf(3).Text(), want)
	}
	k := logOf(7)
	_, signed := k.sign(t, keyOf(t, "k"))
	if want := fmt.Sprintf(writtenCheckpoint, k.head.Root()); !strings.HasPrefix(signed, want) {
		t.Errorf("a checkpoint is written\n%swant\n%s", signed, want)
	}
}

func text(t testing.TB, r audit.Receipt) string {
	t.Helper()
	written, err := r.Text()
	if err != nil {
		t.Fatal(err)
	}
	return written
}

// TestEveryReceiptOfALogIsGood makes the receipt of every entry of logs of many sizes.
func TestEveryReceiptOfALogIsGood(t *testing.T) {
	t.Parallel()
	key := keyOf(t, "k")
	for size := 1; size < 20; size++ {
		k := logOf(size)
		for n := range size {
			r, err := audit.ParseReceipt(text(t, k.receipt(t, key, n)))
			if err != nil {
				t.Fatal(err)
			}
			c, err := r.Check(keyOf(t, "another").Public(), key.Public())
			if err != nil || c.Size != int64(size) || r.Number != int64(n) || r.Record != recordOf(n).Text() {
				t.Fatalf("entry %d of %d: %+v, %v", n, size, c, err)
			}
		}
	}
}

// TestEveryByteOfAReceiptMatters changes each byte in turn, and leaves each out.
func TestEveryByteOfAReceiptMatters(t *testing.T) {
	t.Parallel()
	key := keyOf(t, "k")
	written := text(t, logOf(11).receipt(t, key, 3))
	good := func(s string) bool {
		r, err := audit.ParseReceipt(s)
		if err == nil {
			_, err = r.Check(key.Public())
		}
		return err == nil
	}
	if !good(written) {
		t.Fatal("the receipt is bad as it is")
	}
	for i := range len(written) {
		for _, spoiled := range []string{
			written[:i] + string(written[i]^1) + written[i+1:], written[:i] + written[i+1:], written[:i] + " " + written[i:], written[:i],
		} {
			if good(spoiled) {
				t.Errorf("good with byte %d spoiled: %q", i, spoiled[max(0, i-20):min(len(spoiled), i+20)])
			}
		}
	}
	if good(written+"\n") || good("\n"+written) || good(strings.ReplaceAll(written, "\n", "\r\n")) {
		t.Error("something may stand around a receipt")
	}
}

// TestAReceiptSaysWhatIsWrong: each part by itself is well formed, but they do not fit.
func TestAReceiptSaysWhatIsWrong(t *testing.T) {
	t.Parallel()
	key, another := keyOf(t, "k"), keyOf(t, "another")
	k := logOf(11)
	for says, spoil := range map[string]func(r *audit.Receipt){
		"the digest is another":     func(r *audit.Receipt) { r.Record = recordOf(4).Text() },
		"not in the log":            func(r *audit.Receipt) { r.Entry.By = "somebody else" },
		"does not lead to its root": func(r *audit.Receipt) { r.Proof[1][0] ^= 1 },
		"proof does not lead":       func(r *audit.Receipt) { r.Proof = r.Proof[1:] },
		"the proof does not lead":   func(r *audit.Receipt) { r.Number = 4 },
		"is not among them":         func(r *audit.Receipt) { r.Number = 11 },
		"signed by another key":     func(r *audit.Receipt) { _, r.Checkpoint = k.sign(t, another) },
		"is wrong":                  func(r *audit.Receipt) { r.Checkpoint = strings.Replace(r.Checkpoint, "\n11\n", "\n12\n", 1) },
		"of one organization": func(r *audit.Receipt) {
			c := audit.Checkpoint{Organization: otherClub, Size: 11, Root: k.head.Root(), At: noon}
			r.Checkpoint, _ = key.Sign(c)
		},
		"not of one organization": func(r *audit.Receipt) { r.Entry.Organization = otherClub },
	} {
		r := k.receipt(t, key, 3)
		r.Proof = append(audit.Proof(nil), r.Proof...)
		spoil(&r)
		parsed, err := audit.ParseReceipt(text(t, r))
		if err != nil {
			t.Errorf("%s: it cannot be read: %v", says, err)
			continue
		}
		if says == "the digest is another" {
			says = "its digest is another"
		}
		if _, err := parsed.Check(key.Public()); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want it to say %q", err, says)
		}
	}
	if _, err := k.receipt(t, key, 3).Check(); err == nil {
		t.Error("good by no key at all")
	}
}

func TestWhatIsNoReceipt(t *testing.T) {
	t.Parallel()
	r := logOf(11).receipt(t, keyOf(t, "k"), 3)
	written := text(t, r)
	long := r
	long.Proof = make(audit.Proof, 64)
	tooLong := text(t, long)
	before, _, _ := strings.Cut(written, "--- proof")
	for says, s := range map[string]string{
		"does not begin":   "",
		"not the whole":    before,
		"the record":       strings.Replace(written, "number 3\nwords", "number\nwords", 1),
		"the entry":        strings.Replace(written, "version 0", "version 00", 1),
		"the proof":        tooLong,
		"the checkpoint":   written[:len(written)-1],
		"not as a receipt": strings.Replace(written, `by "P. Lot", at`, `by "N. Other", at`, 1),
	} {
		if _, err := audit.ParseReceipt(s); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%v, want it to say %q", err, says)
		}
	}
}

func TestKeys(t *testing.T) {
	t.Parallel()
	key := keyOf(t, "k")
	again, err := audit.ParsePublicKey(key.Public().String() + "\n")
	if err != nil || again.Name() != key.Public().Name() || !strings.HasPrefix(again.Name(), "tiedown+") {
		t.Errorf("%v, %v", again, err)
	}
	secret, err := audit.NewKey(strings.NewReader(strings.Repeat("k", 64)))
	if err != nil || !strings.HasSuffix(secret, "\n") {
		t.Fatalf("%v", err)
	}
	for _, bad := range []string{"", "tiedown", secret + "\n", secret[1:], strings.Replace(secret, "+tiedown+", "+somebody+", 1), secret[:len(secret)-3], key.Public().String()} {
		if _, err := audit.ReadKey(bad); err == nil || len(bad) > 10 && strings.Contains(err.Error(), strings.TrimSpace(bad)) {
			t.Errorf("%.12q…: %v", bad, err)
		}
	}
	for _, bad := range []string{"", "tiedown", key.Public().String()[1:], key.Public().String() + "x", strings.TrimSpace(secret)} {
		if _, err := audit.ParsePublicKey(bad); err == nil {
			t.Errorf("%q is taken for a public key", bad)
		}
	}
	if _, err := audit.NewKey(strings.NewReader("")); err == nil {
		t.Error("a key out of nothing")
	}
}

// FuzzReceipt: whatever is read is exactly what would be written, and good only if it was signed.
func FuzzReceipt(f *testing.F) {
	key := keyOf(f, "k")
	for _, size := range []int{1, 2, 7} {
		f.Add(text(f, logOf(size).receipt(f, key, size-1)))
	}
	f.Add("tiedown receipt\n\n--- record\n--- entry\n--- proof\n--- checkpoint\n")
	_, signed := logOf(7).sign(f, key)
	f.Fuzz(func(t *testing.T, s string) {
		r, err := audit.ParseReceipt(s)
		if err != nil {
			return
		}
		if again := text(t, r); again != s {
			t.Fatalf("read from\n%q\nwritten as\n%q", s, again)
		}
		if c, err := r.Check(key.Public()); err == nil && r.Checkpoint == signed && tlog.CheckRecord(r.Proof, 7, c.Root, r.Number, entryOf(int(r.Number)).Hash()) != nil {
			t.Fatalf("good, but not of the log\n%s", s)
		}
	})
}

// FuzzCheckpoint: nothing is opened but what was signed, letter by letter.
func FuzzCheckpoint(f *testing.F) {
	key := keyOf(f, "k")
	signed := map[string]bool{}
	for _, size := range []int{0, 1, 7} {
		_, s := logOf(size).sign(f, key)
		signed[s] = true
		f.Add(s)
	}
	_, s := logOf(7).sign(f, keyOf(f, "another"))
	f.Add(s)
	f.Fuzz(func(t *testing.T, s string) {
		if c, _, err := audit.OpenCheckpoint(s, key.Public()); err == nil && !signed[s] {
			t.Fatalf("nobody signed %q, read as %+v", s, c)
		}
	})
}

// FuzzEntry: what is read is exactly what would be written.
func FuzzEntry(f *testing.F) {
	f.Add(entryOf(3).Text())
	f.Fuzz(func(t *testing.T, s string) {
		if e, err := audit.ParseEntry(s); err == nil && e.Text() != s {
			t.Fatalf("%q is read as %q", s, e.Text())
		}
		if r, err := audit.ParseRecord(s); err == nil && r.Text() != s {
			t.Fatalf("%q is read as %q", s, r.Text())
		}
	})
}
