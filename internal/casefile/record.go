package casefile

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
)

// Record is a determination kept whole: what was asked, by which book, and what was answered. Judged again by the same
// book it gives the same bytes.
type Record struct {
	Rules  string          `json:"rules"`  // digest of the book
	Case   json.RawMessage `json:"case"`   // the case in its one form
	Answer json.RawMessage `json:"answer"` // as it was given
	Digest string          `json:"digest"` // SHA-256 of the other three, in hexadecimal
}

// NewRecord keeps a case with its answer.
func NewRecord(c Case, a Answer) (Record, error) {
	written, err := canonical(c)
	if err != nil {
		return Record{}, err
	}
	answer, err := canonical(a)
	if err != nil {
		return Record{}, err
	}
	r := Record{Rules: a.Rules, Case: written, Answer: answer}
	r.Digest = r.sum()
	return r, nil
}

// canonical is the one form of a value: its fields in the order of its type, without spaces.
func canonical(v any) (json.RawMessage, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

// sum is the digest of all but the digest: each part with its length, so that none can pass for a piece of another.
func (r Record) sum() string {
	digest := sha256.New()
	for _, part := range [][]byte{[]byte(r.Rules), r.Case, r.Answer} {
		length, _ := json.Marshal(len(part)) // a number always has a form
		digest.Write(append(length, ' '))
		digest.Write(part)
	}
	return hex.EncodeToString(digest.Sum(nil))
}

// Write writes the record as one line of JSON.
func (r Record) Write() ([]byte, error) {
	line, err := canonical(r)
	return append(line, '\n'), err
}

// ReadRecord reads a record strictly, and holds it against its own digest. The error, if any, is of type Faults.
func ReadRecord(raw []byte) (Record, error) {
	var r Record
	if _, err := Lines(raw); err != nil {
		return r, err
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	var bad Faults
	if err := d.Decode(&r); err != nil {
		bad.Add(document, "record", err.Error(), "give a record as it was written")
		return Record{}, bad.Err()
	}
	if r.Digest != r.sum() {
		bad.Add("digest", "intact", "the record is not as it was written: its digest is another", "find the record as it was written")
		return Record{}, bad.Err()
	}
	return r, nil
}

// Same says whether an answer is, byte for byte, the one on record.
func (r Record) Same(a Answer) (bool, error) {
	answer, err := canonical(a)
	return bytes.Equal(answer, r.Answer), err
}

// Answered reads the answer on record.
func (r Record) Answered() (Answer, error) {
	var a Answer
	err := json.Unmarshal(r.Answer, &a)
	return a, err
}
