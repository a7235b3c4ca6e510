package audit

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Document writes a JSON document. Names are in the order of their bytes, of a name that stands twice the last value
// counts, and a number is its decimal digits and exponent: 100, 1e2 and 100.0 are one number. It fails on what is no
// JSON.
func Document(raw []byte) (string, error) {
	if !json.Valid(raw) {
		return "", errors.New("a document is no JSON")
	}
	d := document{rest: raw, written: make([]byte, 0, len(raw))}
	if err := d.value(); err != nil {
		return "", err
	}
	return string(d.written), nil
}

// document is JSON, known to be valid, on its way from how it was written to how it is written down.
type document struct {
	rest    []byte
	written []byte
}

func (d *document) value() error {
	switch c := d.next(); c {
	case '{':
		return d.object()
	case '[':
		return d.array()
	case '"':
		_, err := d.text()
		return err
	case 't', 'f', 'n':
		d.written = append(d.written, d.word()...)
		return nil
	}
	n, err := decimal(string(d.word()))
	d.written = append(d.written, n...)
	return err
}

// word is a number, true, false or null: it ends where anything else begins.
func (d *document) word() []byte {
	end := 0
	for end < len(d.rest) && !isBlank(d.rest[end]) && d.rest[end] != ',' && d.rest[end] != ']' && d.rest[end] != '}' {
		end++
	}
	return d.take(end)
}

func isBlank(c byte) bool { return c == ' ' || c == '\n' || c == '\t' || c == '\r' }

// next is the first byte of what comes next.
func (d *document) next() byte {
	for isBlank(d.rest[0]) {
		d.rest = d.rest[1:]
	}
	return d.rest[0]
}

func (d *document) take(n int) []byte {
	taken := d.rest[:n]
	d.rest = d.rest[n:]
	return taken
}

// text writes a text and returns it.
func (d *document) text() ([]byte, error) {
	end := 1
	for ; d.rest[end] != '"'; end++ {
		if d.rest[end] == '\\' {
			end++
		}
	}
	quoted := d.take(end + 1)
	if inner := quoted[1:end]; plainPrefix(inner) == len(inner) {
		d.written = append(d.written, quoted...)
		return inner, nil
	}
	var text string
	if err := json.Unmarshal(quoted, &text); err != nil {
		return nil, err
	}
	d.written = append(d.written, Text(text)...)
	return []byte(text), nil
}

func (d *document) array() error {
	d.written = append(d.written, d.take(1)...)
	for first := true; d.next() != ']'; first = false {
		if !first {
			d.written = append(d.written, d.take(1)...) // the comma
		}
		if err := d.value(); err != nil {
			return err
		}
	}
	d.written = append(d.written, d.take(1)...)
	return nil
}

// member is a name of an object, and what has been written of it: its name, a colon and its value.
type member struct {
	name       []byte
	begin, end int
}

func (d *document) object() error {
	d.written = append(d.written, d.take(1)...)
	begin := len(d.written)
	members := make([]member, 0, 8)
	for d.next() != '}' {
		if len(members) > 0 {
			d.written = append(d.written, d.take(1)...) // the comma
			d.next()
		}
		m := member{begin: len(d.written)}
		var err error
		if m.name, err = d.text(); err != nil {
			return err
		}
		d.next()
		d.written = append(d.written, d.take(1)...) // the colon
		if err := d.value(); err != nil {
			return err
		}
		m.end = len(d.written)
		members = append(members, m)
	}
	d.rest = d.rest[1:]
	if !slices.IsSortedFunc(members, strictly) {
		d.arrange(begin, members)
	}
	d.written = append(d.written, '}')
	return nil
}

// strictly tells apart two members of one name as well.
func strictly(a, b member) int { return cmp.Or(bytes.Compare(a.name, b.name), -1) }

// arrange puts the members that have been written from begin on in the order of their names, each once.
func (d *document) arrange(begin int, members []member) {
	slices.SortStableFunc(members, func(a, b member) int { return bytes.Compare(a.name, b.name) })
	arranged := make([]byte, 0, len(d.written)-begin)
	for i, m := range members {
		if i+1 < len(members) && bytes.Equal(members[i+1].name, m.name) {
			continue // the last one counts
		}
		if len(arranged) > 0 {
			arranged = append(arranged, ',')
		}
		arranged = append(arranged, d.written[m.begin:m.end]...)
	}
	d.written = append(d.written[:begin], arranged...)
}

// decimal writes a number of JSON without a point: -1.50e3 is -15e2. Zero is 0. Nothing is computed in binary, and no
// exponent makes it long.
func decimal(s string) (string, error) {
	digits, negative := strings.CutPrefix(s, "-")
	mantissa, exponent := digits, 0
	if i := strings.IndexAny(digits, "eE"); i >= 0 {
		var err error
		if exponent, err = strconv.Atoi(digits[i+1:]); err != nil {
			return "", fmt.Errorf("the number %.40s has an exponent out of range", s)
		}
		mantissa = digits[:i]
	}
	whole, fraction, _ := strings.Cut(mantissa, ".")
	exponent -= len(fraction)
	digits = strings.TrimLeft(whole+fraction, "0")
	trimmed := strings.TrimRight(digits, "0")
	exponent += len(digits) - len(trimmed)
	switch {
	case trimmed == "":
		return "0", nil
	case negative:
		trimmed = "-" + trimmed
	}
	if exponent == 0 {
		return trimmed, nil
	}
	return trimmed + "e" + strconv.Itoa(exponent), nil
}
