package audit

import (
	"fmt"
	"slices"
	"time"
)

// Fault is something that is not as it was entered.
type Fault struct {
	Where string // the record, the entry or the checkpoint
	Says  string
}

func (f Fault) String() string { return f.Where + ": " + f.Says }

// Stored is an entry as it is kept.
type Stored struct {
	Entry
	Number int64  // from 0
	Hashes []Hash // the leaf's, and those of the subtrees that it completes
}

// Kept is a checkpoint as it is kept: signed, and what the store says of it.
type Kept struct {
	Size   int64
	Signer string // name of the key
	At     time.Time
	Signed string
}

// Walk follows a log from its first entry to its head and reports what is not in order. Nothing of it is kept but the
// frontier. After a gap the tree cannot be followed any more: from there on each entry is looked at by itself.
type Walk struct {
	Organization string
	Keys         []PublicKey       // that checkpoints may be signed by
	Vouched      func(string) bool // whether records of a table are entered at all
	Report       func(Fault)

	head   Head
	next   int64 // number of the next entry
	broken bool
}

func (w *Walk) report(where, format string, args ...any) {
	w.Report(Fault{where, fmt.Sprintf(format, args...)})
}

// Size is how many entries there were so far.
func (w *Walk) Size() int64 { return w.next }

// Entry goes on to the next entry.
func (w *Walk) Entry(s Stored) {
	where := fmt.Sprintf("entry %d", s.Number)
	switch {
	case s.Number == w.next+1:
		w.gap(fmt.Sprintf("entry %d", w.next))
	case s.Number > w.next:
		w.gap(fmt.Sprintf("entries %d to %d", w.next, s.Number-1))
	case s.Number < w.next:
		w.report(where, "it stands there twice")
		return
	}
	w.next = s.Number + 1
	if !w.Vouched(s.Table) {
		w.report(where, "it is about %s, of which nothing is entered", Text(s.Table))
	}
	if len(s.Hashes) == 0 || s.Hash() != s.Hashes[0] {
		w.report(where, "it was altered: what it says of %s %s is not what was entered", s.Table, s.Key)
	}
	if w.broken || len(s.Hashes) == 0 {
		w.broken = true
		return
	}
	if completed := w.head.Add(s.Hashes[0]); !slices.Equal(completed, s.Hashes) {
		w.report(where, "it is not the entry that followed those before it, or one of those was altered or exchanged")
		if len(completed) == len(s.Hashes) { // one report, not one for every larger tree
			w.head.Frontier[len(w.head.Frontier)-1] = s.Hashes[len(s.Hashes)-1]
		}
	}
}

func (w *Walk) gap(what string) {
	w.report(what, "missing")
	w.broken = true
}

// Checkpoint looks at a checkpoint once as many entries have passed as it is kept for, or all there are.
func (w *Walk) Checkpoint(k Kept) {
	where := fmt.Sprintf("checkpoint of %d entries", k.Size)
	c, signer, err := OpenCheckpoint(k.Signed, w.Keys...)
	switch {
	case err != nil:
		w.report(where, "%v", err)
	case c.Organization != w.Organization:
		w.report(where, "it is of another organization, %s", c.Organization)
	case c.Size != k.Size || signer.Name() != k.Signer || !c.At.Equal(k.At):
		w.report(where, "what is kept of it is not what was signed")
	case c.Size > w.next:
		w.report(where, "the log has %d entries only: its end is missing", w.next)
	case !w.broken && c.Root != w.head.Root():
		w.report(where, "the first %d entries are not those that were signed at %s", c.Size, instant(c.At))
	}
}

// Head ends the walk at the head as it is kept.
func (w *Walk) Head(kept Head) {
	switch {
	case kept.Size != w.next:
		w.report("head of the log", "it counts %d entries, there are %d", kept.Size, w.next)
	case !w.broken && !w.head.Same(kept):
		w.report("head of the log", "it is not that of the entries")
	}
}
