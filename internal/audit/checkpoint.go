package audit

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"golang.org/x/mod/sumdb/note"
)

// Checkpoint is what the installation says of a log: how many entries it had at an instant, and their root. Two that
// cannot both be true of one log show that it was tampered with.
type Checkpoint struct {
	Organization string
	Size         int64
	Root         Hash
	At           time.Time // when it was signed, to the microsecond
}

// maxNote bounds a signed checkpoint, in bytes; each is a few hundred.
const maxNote = 2000

// text is what is signed: a log checkpoint as the note format has it, with one line more that tells when.
func (c Checkpoint) text() string {
	return fmt.Sprintf("tiedown/%s\n%d\n%s\n%s\n", c.Organization, c.Size, c.Root, instant(c.At))
}

// Sign signs a checkpoint.
func (k Key) Sign(c Checkpoint) (string, error) {
	signed, err := note.Sign(&note.Note{Text: c.text()}, k.signer)
	if err != nil {
		return "", fmt.Errorf("sign a checkpoint: %w", err)
	}
	return string(signed), nil
}

var errCheckpoint = errors.New("it is not as a checkpoint is written")

// OpenCheckpoint reads a signed checkpoint and tells whose signature it has. It fails unless it is exactly as Sign
// writes it, signed by one of the keys.
func OpenCheckpoint(signed string, keys ...PublicKey) (Checkpoint, PublicKey, error) {
	if len(signed) > maxNote {
		return Checkpoint{}, PublicKey{}, errCheckpoint
	}
	verifiers := make([]note.Verifier, 0, len(keys))
	for _, k := range keys {
		if !has(verifiers, k) {
			verifiers = append(verifiers, k.verifier)
		}
	}
	n, err := note.Open([]byte(signed), note.VerifierList(verifiers...))
	var unverified *note.UnverifiedNoteError
	var invalid *note.InvalidSignatureError
	switch {
	case errors.As(err, &unverified) && unverified.Note != nil && len(unverified.Note.UnverifiedSigs) > 0:
		return Checkpoint{}, PublicKey{}, fmt.Errorf("it is signed by another key, %s", keyNumber(unverified.Note.UnverifiedSigs[0].Hash))
	case errors.As(err, &invalid):
		return Checkpoint{}, PublicKey{}, fmt.Errorf("the signature of %s is wrong", keyNumber(invalid.Hash))
	case err != nil || len(n.Sigs) != 1 || len(n.UnverifiedSigs) > 0:
		return Checkpoint{}, PublicKey{}, errCheckpoint
	}
	c, err := parseCheckpoint(n.Text)
	if err != nil || !isSigned(signed, n.Text, n.Sigs[0]) {
		return Checkpoint{}, PublicKey{}, errCheckpoint
	}
	for _, k := range keys {
		if k.verifier.KeyHash() == n.Sigs[0].Hash {
			return c, k, nil
		}
	}
	return Checkpoint{}, PublicKey{}, errCheckpoint
}

func has(verifiers []note.Verifier, k PublicKey) bool {
	for _, v := range verifiers {
		if v.KeyHash() == k.verifier.KeyHash() {
			return true
		}
	}
	return false
}

func parseCheckpoint(text string) (Checkpoint, error) {
	lines := strings.Split(text, "\n")
	if len(lines) != 5 {
		return Checkpoint{}, errCheckpoint
	}
	c := Checkpoint{Organization: strings.TrimPrefix(lines[0], "tiedown/")}
	var err error
	if c.Size, err = strconv.ParseInt(lines[1], 10, 64); err != nil || c.Size < 0 {
		return Checkpoint{}, errCheckpoint
	}
	root, err := base64.StdEncoding.DecodeString(lines[2])
	if err != nil || len(root) != len(c.Root) {
		return Checkpoint{}, errCheckpoint
	}
	c.Root = Hash(root)
	if c.At, err = time.Parse(instantLayout, lines[3]); err != nil || c.text() != text {
		return Checkpoint{}, errCheckpoint
	}
	return c, nil
}

// readCheckpoint reads a checkpoint whose signature nobody has looked at, and the name of the key that it says it is
// signed by.
func readCheckpoint(signed string) (Checkpoint, string, error) {
	if len(signed) > maxNote {
		return Checkpoint{}, "", errCheckpoint
	}
	_, err := note.Open([]byte(signed), note.VerifierList())
	var unverified *note.UnverifiedNoteError
	if !errors.As(err, &unverified) || unverified.Note == nil || len(unverified.Note.UnverifiedSigs) != 1 {
		return Checkpoint{}, "", errCheckpoint
	}
	n := unverified.Note
	s := n.UnverifiedSigs[0]
	if s.Name != keyName || !isSigned(signed, n.Text, s) {
		return Checkpoint{}, "", errCheckpoint
	}
	c, err := parseCheckpoint(n.Text)
	return c, keyNumber(s.Hash), err
}

// isSigned reports whether a note is exactly its text with one signature, in the one way to write its base64.
func isSigned(signed, text string, s note.Signature) bool {
	raw, err := base64.StdEncoding.DecodeString(s.Base64)
	return err == nil && base64.StdEncoding.EncodeToString(raw) == s.Base64 &&
		signed == text+"\n— "+s.Name+" "+s.Base64+"\n"
}
