package audit

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"
)

// Record is a record as it is written down to be vouched for: everything that must not change unseen.
type Record struct {
	Table   string
	Columns []Column // the first is the organization
}

// Column is one of its values.
type Column struct {
	Name  string
	Value string // in its written form
}

// firstColumn is in every record.
const firstColumn = "organization"

// recordTitle begins the text of a record.
const recordTitle = "tiedown record "

// Text is the record's one written form: a line for its table, and one for each column.
func (r Record) Text() string {
	size := len(recordTitle) + len(r.Table) + 1
	for _, c := range r.Columns {
		size += len(c.Name) + len(c.Value) + 2
	}
	var b strings.Builder
	b.Grow(size)
	b.WriteString(recordTitle + r.Table + "\n")
	for _, c := range r.Columns {
		b.WriteString(c.Name)
		b.WriteByte(' ')
		b.WriteString(c.Value)
		b.WriteByte('\n')
	}
	return b.String()
}

// Digest is the SHA-256 digest of the text.
func (r Record) Digest() [32]byte { return sha256.Sum256([]byte(r.Text())) }

// Organization is the identifier of whose record it is; empty if it does not say.
func (r Record) Organization() string {
	if len(r.Columns) == 0 || r.Columns[0].Name != firstColumn {
		return ""
	}
	return strings.Trim(r.Columns[0].Value, `"`)
}

// ParseRecord reads the text of a record, and takes nothing but what Text writes.
func ParseRecord(text string) (Record, error) {
	title, rest, ok := strings.Cut(text, "\n")
	table, titled := strings.CutPrefix(title, recordTitle)
	if !ok || !titled || !isName(table) {
		return Record{}, errors.New("it does not begin as a record does")
	}
	r := Record{Table: table}
	for rest != "" {
		var line string
		if line, rest, ok = strings.Cut(rest, "\n"); !ok {
			return Record{}, errors.New("its last line has no end")
		}
		name, value, _ := strings.Cut(line, " ")
		if !isName(name) || !isWritten(value) {
			return Record{}, fmt.Errorf("%s is no line of a record", Text(line))
		}
		r.Columns = append(r.Columns, Column{name, value})
	}
	if r.Organization() == "" {
		return Record{}, errors.New("it does not say whose it is")
	}
	return r, nil
}

// isName reports whether it may be the name of a table or a column.
func isName(s string) bool {
	for _, c := range []byte(s) {
		if (c < 'a' || c > 'z') && (c < '0' || c > '9') && c != '_' {
			return false
		}
	}
	return s != ""
}

// isWritten reports whether it could be the written form of a value: a line of visible text.
func isWritten(s string) bool {
	return s != "" && utf8.ValidString(s) && strings.IndexFunc(s, isHidden) < 0
}
