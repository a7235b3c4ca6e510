package audit_test

import (
	"slices"
	"testing"

	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"tiedown/internal/audit"
)

// TestTheTreeIsThatOfTlog grows a log beside tlog's own implementation: the hashes to keep, the root and every proof are
// the same.
func TestTheTreeIsThatOfTlog(t *testing.T) {
	t.Parallel()
	var head audit.Head
	var theirs reference
	ours := &kept{}
	for n := range int64(130) {
		root, err := tlog.TreeHash(n, &theirs)
		if err != nil || head.Root() != root {
			t.Fatalf("of %d entries: the root is %s, want %s (%v)", n, head.Root(), root, err)
		}
		for i := range n {
			proof, err := audit.Prove(n, i, ours.read)
			want, wrong := tlog.ProveRecord(n, i, &theirs)
			if err != nil || wrong != nil || !slices.Equal(proof, want) {
				t.Fatalf("entry %d of %d: the proof is %v, want %v (%v, %v)", i, n, proof, want, err, wrong)
			}
		}
		leaf := entryOf(int(n)).Hash()
		hashes, err := tlog.StoredHashesForRecordHash(n, leaf, &theirs)
		if err != nil {
			t.Fatal(err)
		}
		theirs.hashes = append(theirs.hashes, hashes...)
		kept := head.Add(leaf)
		if !slices.Equal(kept, hashes) {
			t.Fatalf("with entry %d are kept %v, want %v", n, kept, hashes)
		}
		ours.entries = append(ours.entries, audit.Stored{Hashes: kept})
	}
	if _, err := audit.Prove(5, 5, ours.read); err == nil {
		t.Error("an entry that is not there is proved")
	}
}

// walk follows a log with its checkpoints and tells what it finds.
func walk(k *kept, checkpoints []audit.Kept, keys ...audit.PublicKey) []string {
	var faults []string
	w := audit.Walk{
		Organization: club, Keys: keys, Vouched: func(table string) bool { return table == "squawk_history" },
		Report: func(f audit.Fault) { faults = append(faults, f.String()) },
	}
	for _, e := range k.entries {
		for len(checkpoints) > 0 && checkpoints[0].Size <= e.Number {
			w.Checkpoint(checkpoints[0])
			checkpoints = checkpoints[1:]
		}
		w.Entry(e)
	}
	for _, c := range checkpoints {
		w.Checkpoint(c)
	}
	w.Head(k.head)
	return faults
}

// TestAWalkFindsWhatWasDone does to a log whatever can be done to it, but for making it anew.
func TestAWalkFindsWhatWasDone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 40).Draw(t, "entries")
		k := logOf(n)
		at := rapid.IntRange(0, n-1).Draw(t, "at")
		other := rapid.IntRange(0, n-1).Filter(func(i int) bool { return i != at }).Draw(t, "other")
		e := &k.entries[at]
		deed := rapid.SampledFrom([]string{
			"nothing", "by", "at", "table", "key", "version", "digest", "hash", "inner hash", "fewer hashes", "more hashes", "remove",
			"exchange", "exchange what they say", "twice", "cut", "size", "frontier",
		}).Draw(t, "deed")
		switch deed {
		case "by":
			e.By += "."
		case "at":
			e.At = e.At.Add(1000)
		case "table":
			e.Table = "squawk"
		case "key":
			e.Key += "0"
		case "version":
			e.Version++
		case "digest":
			e.Digest[7] ^= 1
		case "hash":
			e.Hashes[0][3] ^= 1
		case "inner hash":
			e.Hashes[len(e.Hashes)-1][3] ^= 1
		case "fewer hashes":
			e.Hashes = e.Hashes[:len(e.Hashes)-1]
		case "more hashes":
			e.Hashes = append(e.Hashes, audit.Hash{1})
		case "remove":
			k.entries = slices.Delete(k.entries, at, at+1)
		case "exchange":
			k.entries[at], k.entries[other] = k.entries[other], k.entries[at]
			k.entries[at].Number, k.entries[other].Number = int64(at), int64(other)
		case "exchange what they say":
			k.entries[at].Entry, k.entries[other].Entry = k.entries[other].Entry, k.entries[at].Entry
		case "twice":
			k.entries = slices.Insert(k.entries, at, k.entries[at])
		case "cut":
			k.entries = k.entries[:at]
		case "size":
			k.head.Size++
		case "frontier":
			k.head.Frontier[0][0] ^= 1
		}
		faults := walk(k, nil)
		if (deed == "nothing") != (len(faults) == 0) {
			t.Fatalf("%s at %d of %d: %q", deed, at, n, faults)
		}
	})
}

// TestACheckpointBindsALogThatIsMadeAnew: hashes, head and all are worked out anew, and only what was signed tells.
func TestACheckpointBindsALogThatIsMadeAnew(t *testing.T) {
	t.Parallel()
	key := keyOf(t, "k")
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(rt, "entries")
		size := rapid.IntRange(1, n).Draw(rt, "signed")
		before := logOf(size)
		c, signed := before.sign(t, key)
		checkpoint := audit.Kept{Size: c.Size, Signer: key.Public().Name(), At: c.At, Signed: signed}
		if faults := walk(logOf(n), []audit.Kept{checkpoint}, key.Public()); len(faults) > 0 {
			rt.Fatalf("nothing was done: %q", faults)
		}
		again := &kept{}
		at := rapid.IntRange(0, size-1).Draw(rt, "at")
		cut := rapid.Bool().Draw(rt, "cut")
		for i := range n {
			if cut && i == at {
				break
			}
			e := entryOf(i)
			if i == at {
				e.By = "somebody else"
			}
			again.entries = append(again.entries, audit.Stored{Entry: e, Number: int64(i), Hashes: again.head.Add(e.Hash())})
		}
		if faults := walk(again, nil); len(faults) > 0 {
			rt.Fatalf("a log that was made anew shows it by itself: %q", faults)
		}
		if faults := walk(again, []audit.Kept{checkpoint}, key.Public()); len(faults) != 1 {
			rt.Fatalf("entry %d of %d made anew, %d signed: %q", at, n, size, faults)
		}
	})
}
