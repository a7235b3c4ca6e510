package techlog

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"time"

	"tiedown/internal/casefile"
)

// recordForm names the form of the canonical text, so that another one can follow.
const recordForm = "tiedown record 1"

// Record is everything that a signature is under. Its canonical text is what is shown, signed and kept.
type Record struct {
	Organization ID
	Aircraft     ID
	Registration string
	Version      int // of the squawk that was seen, or of the aircraft's record
	Squawk       *Squawk
	Rests        ID     // the signature on which an approval rests, or which is corrected
	RestsOn      []byte // and its digest
	Signer       Signer
	Act          casefile.Act
}

// Signer is who signs, by which certificate.
type Signer struct {
	Person      ID
	Name        string // as on the certificate
	Certificate Certificate
}

// written is the canonical form: JSON with its fields in this order.
type written struct {
	Form         string        `json:"form"`
	Organization ID            `json:"organization"`
	Aircraft     ID            `json:"aircraft"`
	Registration string        `json:"registration"`
	Squawk       *ID           `json:"squawk,omitempty"`
	Label        string        `json:"label,omitempty"`
	About        *about        `json:"about,omitempty"`
	Version      int           `json:"version"`
	Rests        *restsOn      `json:"rests_on,omitempty"`
	Signer       writtenSigner `json:"signer"`
	Act          *casefile.Act `json:"act"`
}

type about struct {
	Kind  string `json:"kind"`
	Unit  string `json:"unit,omitempty"`
	Item  string `json:"item,omitempty"`
	Words string `json:"words"`
}

type restsOn struct {
	Signature ID     `json:"signature"`
	Digest    []byte `json:"digest"`
}

type writtenSigner struct {
	Person      ID              `json:"person"`
	Name        string          `json:"name"`
	Certificate ID              `json:"certificate"`
	Version     int             `json:"version"`
	Kind        CertificateKind `json:"kind"`
	Number      string          `json:"number"`
	Grade       string          `json:"grade,omitempty"`
	Ratings     []string        `json:"ratings"`
}

// Text is the canonical text of the record: the same record always gives the same bytes, and different records never.
func (r *Record) Text() (string, error) {
	c := r.Signer.Certificate
	w := written{
		Form: recordForm, Organization: r.Organization, Aircraft: r.Aircraft, Registration: r.Registration, Version: r.Version,
		Signer: writtenSigner{r.Signer.Person, r.Signer.Name, c.ID, c.Version, c.Kind, c.Number, c.Grade, c.Ratings},
		Act:    &r.Act,
	}
	if s := r.Squawk; s != nil {
		w.Squawk, w.Label, w.About = &s.ID, s.Label(), &about{s.Kind, s.Unit, s.Item, s.Words}
	}
	if !r.Rests.IsZero() {
		w.Rests = &restsOn{r.Rests, r.RestsOn}
	}
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(w); err != nil {
		return "", err
	}
	return text.String(), nil
}

// DigestOf is what a signature names: the SHA-256 digest of a canonical text.
func DigestOf(text string) [32]byte { return sha256.Sum256([]byte(text)) }

// ActOf reads the act back out of a canonical text.
func ActOf(text string) (casefile.Act, error) {
	var w written
	if err := json.Unmarshal([]byte(text), &w); err != nil || w.Act == nil {
		return casefile.Act{}, Errorf(KindConflict, "what was signed cannot be read")
	}
	return *w.Act, nil
}

// Signature is one signature: what was signed, by whom, by which certificate as it was then. It is never changed.
type Signature struct {
	ID                 ID
	Aircraft           ID
	Squawk             ID // zero: it is about the aircraft
	Action             string
	Person             ID
	Name               string
	Certificate        ID
	CertificateVersion int
	CertificateKind    CertificateKind
	CertificateNumber  string
	Ratings            []string
	Authority          []Reason
	Digest             [32]byte
	Text               string
	Proven             string
	Day                string // YYYY-MM-DD at the aircraft's base
	At                 time.Time
	Corrects           ID
}

// Reason is a row of the regulation by which somebody may sign.
type Reason struct {
	Row      string `json:"row"`
	Citation string `json:"citation"`
	Words    string `json:"words"`
	Status   string `json:"status"`
}

// By says who signed, for records that name a person in words.
func (s *Signature) By() string {
	return s.Name + ", " + string(s.CertificateKind) + " certificate " + s.CertificateNumber
}
