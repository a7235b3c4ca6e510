package audit_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"tiedown/internal/audit"
)

const club, otherClub = "01980000-0000-7000-8000-000000000001", "01980000-0000-7000-8000-000000000002"

var noon = time.Date(2031, time.May, 4, 12, 0, 0, 123456000, time.UTC)

// keyOf makes a key out of a seed.
func keyOf(t testing.TB, seed string) audit.Key {
	t.Helper()
	secret, err := audit.NewKey(strings.NewReader(strings.Repeat(seed, 64)))
	if err != nil {
		t.Fatal(err)
	}
	key, err := audit.ReadKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func recordOf(n int) audit.Record {
	return audit.Record{Table: "squawk_history", Columns: []audit.Column{
		{Name: "organization", Value: audit.Text(club)}, {Name: "number", Value: audit.Integer(int64(n))}, {Name: "words", Value: audit.Text("landing light dark\nagain")},
	}}
}

func entryOf(n int) audit.Entry {
	return audit.Entry{
		Organization: club, At: noon.Add(time.Duration(n) * time.Second), By: "P. Lot", Table: "squawk_history",
		Key: fmt.Sprintf("squawk/%d", n), Digest: recordOf(n).Digest(),
	}
}

// kept is a log as a store keeps it.
type kept struct {
	head    audit.Head
	entries []audit.Stored
}

func logOf(n int) *kept {
	k := &kept{}
	for i := range n {
		e := entryOf(i)
		k.entries = append(k.entries, audit.Stored{Entry: e, Number: int64(i), Hashes: k.head.Add(e.Hash())})
	}
	return k
}

// read gives the hashes of nodes.
func (k *kept) read(nodes []audit.Node) ([]audit.Hash, error) {
	hashes := make([]audit.Hash, len(nodes))
	for i, n := range nodes {
		hashes[i] = k.entries[n.Number].Hashes[n.Level]
	}
	return hashes, nil
}

func (k *kept) sign(t testing.TB, key audit.Key) (audit.Checkpoint, string) {
	t.Helper()
	c := audit.Checkpoint{Organization: club, Size: k.head.Size, Root: k.head.Root(), At: noon}
	signed, err := key.Sign(c)
	if err != nil {
		t.Fatal(err)
	}
	return c, signed
}

func (k *kept) receipt(t testing.TB, key audit.Key, n int) audit.Receipt {
	t.Helper()
	proof, err := audit.Prove(k.head.Size, int64(n), k.read)
	if err != nil {
		t.Fatal(err)
	}
	_, signed := k.sign(t, key)
	return audit.Receipt{Record: recordOf(n).Text(), Entry: entryOf(n), Number: int64(n), Proof: proof, Checkpoint: signed}
}

// reference is the tree as tlog itself keeps it.
type reference struct{ hashes []tlog.Hash }

func (r *reference) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	list := make([]tlog.Hash, len(indexes))
	for i, index := range indexes {
		list[i] = r.hashes[index]
	}
	return list, nil
}
