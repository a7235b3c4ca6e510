package audit

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/tlog"
)

// Receipt shows that a record is in the log of its organization, as it was entered: to anybody who has the public key,
// without the server and without its database.
type Receipt struct {
	Record     string // its text
	Entry      Entry
	Number     int64 // of the entry in the log, from 0
	Proof      Proof
	Checkpoint string // signed
}

// The parts of a receipt, each under a line of its own.
const (
	receiptTitle   = "tiedown receipt"
	partRecord     = "--- record\n"
	partEntry      = "--- entry\n"
	partProof      = "--- proof\n"
	partCheckpoint = "--- checkpoint\n"
)

// Text is the receipt's one written form: first in words what it shows, then what it is checked by. It fails on a receipt
// whose checkpoint is none.
func (r Receipt) Text() (string, error) {
	c, signer, err := readCheckpoint(r.Checkpoint)
	if err != nil {
		return "", fmt.Errorf("the checkpoint: %w", err)
	}
	var b strings.Builder
	fmt.Fprintf(&b, `%s

The record below stands in the log of organization %s
as it was entered: %s %s%s,
by %s, at %s.
It is entry %d, the first being 0, of a log of %d, whose size and root
were signed at %s by the key %s.

This is checked without the server, by the log's public key alone:
tiedown audit check THIS-FILE --key PUBLIC-KEY

`, receiptTitle, r.Entry.Organization, r.Entry.Table, r.Entry.Key, ofVersion(r.Entry.Version), Text(r.Entry.By), instant(r.Entry.At),
		r.Number, c.Size, instant(c.At), signer)
	b.WriteString(partRecord + r.Record + partEntry + r.Entry.Text() + partProof)
	fmt.Fprintf(&b, "number %d\n", r.Number)
	for _, h := range r.Proof {
		b.WriteString(h.String() + "\n")
	}
	b.WriteString(partCheckpoint + r.Checkpoint)
	return b.String(), nil
}

func ofVersion(n int) string {
	if n == 0 {
		return ""
	}
	return " of version " + strconv.Itoa(n)
}

var errReceipt = errors.New("it is not as a receipt is written, or not the whole of one")

// ParseReceipt reads a receipt, and takes nothing but what Text writes: the words at its head are those of its parts.
func ParseReceipt(text string) (Receipt, error) {
	if !strings.HasPrefix(text, receiptTitle+"\n") {
		return Receipt{}, errors.New("it does not begin as a receipt does")
	}
	rest := text
	var parts [4]string
	for i, name := range []string{partRecord, partEntry, partProof, partCheckpoint} {
		before, after, ok := strings.Cut(rest, "\n"+name)
		if !ok {
			return Receipt{}, errReceipt
		}
		if i > 0 {
			parts[i-1] = before + "\n"
		}
		rest = after
	}
	parts[3] = rest
	r := Receipt{Record: parts[0], Checkpoint: parts[3]}
	if _, err := ParseRecord(r.Record); err != nil {
		return Receipt{}, fmt.Errorf("the record: %w", err)
	}
	var err error
	if r.Entry, err = ParseEntry(parts[1]); err != nil {
		return Receipt{}, fmt.Errorf("the entry: %w", err)
	}
	if err := r.parseProof(parts[2]); err != nil {
		return Receipt{}, err
	}
	switch again, err := r.Text(); {
	case err != nil:
		return Receipt{}, err
	case again != text:
		return Receipt{}, errReceipt
	}
	return r, nil
}

// maxProof bounds a proof: a log of more than 2^62 entries does not fit a number.
const maxProof = 63

func (r *Receipt) parseProof(part string) error {
	lines := strings.Split(strings.TrimSuffix(part, "\n"), "\n")
	number, ok := strings.CutPrefix(lines[0], "number ")
	var err error
	if r.Number, err = strconv.ParseInt(number, 10, 64); !ok || err != nil || r.Number < 0 || len(lines) > 1+maxProof {
		return fmt.Errorf("the proof: %w", errReceipt)
	}
	for _, line := range lines[1:] {
		h, err := tlog.ParseHash(line)
		if err != nil {
			return fmt.Errorf("the proof: %w", errReceipt)
		}
		r.Proof = append(r.Proof, h)
	}
	return nil
}

// Check tells whether the receipt shows what it says. An error says what is wrong.
func (r Receipt) Check(keys ...PublicKey) (Checkpoint, error) {
	c, _, err := OpenCheckpoint(r.Checkpoint, keys...)
	if err != nil {
		return c, fmt.Errorf("the checkpoint: %w", err)
	}
	record, err := ParseRecord(r.Record)
	switch {
	case err != nil:
		return c, fmt.Errorf("the record: %w", err)
	case c.Organization != r.Entry.Organization || record.Organization() != r.Entry.Organization:
		return c, errors.New("record, entry and checkpoint are not of one organization")
	case record.Table != r.Entry.Table || record.Digest() != r.Entry.Digest:
		return c, errors.New("the record is not the one that was entered: its digest is another")
	case r.Number >= c.Size:
		return c, fmt.Errorf("the checkpoint is of a log of %d entries: entry %d is not among them", c.Size, r.Number)
	}
	if err := tlog.CheckRecord(r.Proof, c.Size, c.Root, r.Number, r.Entry.Hash()); err != nil {
		return c, errors.New("the entry is not in the log that was signed: the proof does not lead to its root")
	}
	return c, nil
}
