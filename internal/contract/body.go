package contract

import (
	"bytes"
	"unicode/utf8"

	"tiedown/internal/casefile"
)

const (
	// maxDepth bounds how deep lists and objects may stand in each other. The contract needs eight.
	maxDepth = 64
	// maxFaults bounds how many faults one answer names.
	maxFaults = 100
)

// Check holds JSON against the schema. The document may be anything; what is not JSON gives one fault.
func (s *Schema) Check(raw []byte) casefile.Faults {
	d := document{raw: raw}
	if !utf8.Valid(raw) {
		return d.unreadable(ruleUTF8, badByte(raw), "the text is not UTF-8", "save or send it as UTF-8")
	}
	d.space()
	if d.value(s) {
		d.space()
		if d.at == len(raw) {
			return d.faults
		}
		d.faults = d.unreadable(ruleOneValue, d.at, "something follows the end of the document", "send one document and nothing after it")
	}
	return d.faults
}

// document walks written JSON once, beside the schema that each value is held against. Its methods return false when
// the document cannot be read any further: then the only fault is why.
type document struct {
	raw    []byte
	at     int
	path   []step
	faults casefile.Faults
	spare  []byte // for texts with escapes
}

// step is one step of the path to the present value: a field, or a place in a list.
type step struct {
	name  string
	index int // -1 for a field
}

func (d *document) space() {
	for d.at < len(d.raw) {
		switch d.raw[d.at] {
		case ' ', '\n', '\t', '\r':
			d.at++
		default:
			return
		}
	}
}

// next is the present byte, or 0 at the end.
func (d *document) next() byte {
	if d.at < len(d.raw) {
		return d.raw[d.at]
	}
	return 0
}

// take steps over a byte that must come now.
func (d *document) take(c byte) bool {
	if d.next() != c {
		return d.expected("`" + string(rune(c)) + "`")
	}
	d.at++
	return true
}

// value reads one value and holds it against its schema.
func (d *document) value(s *Schema) bool {
	found := d.present()
	switch {
	case found == anything:
		return d.expected("a value")
	case s.kind == anything:
		return d.skip(found)
	case found == number && s.kind == whole, found == s.kind:
	default:
		d.wrongType(s, found)
		return d.skip(found)
	}
	switch s.kind {
	case object:
		return d.object(s)
	case array:
		return d.array(s)
	case text:
		return d.text(s)
	case number, whole:
		return d.number(s)
	default:
		return d.word()
	}
}

// present tells the kind of the present value by its first byte. null is no kind of value: anything stands for it.
func (d *document) present() kind {
	switch c := d.next(); {
	case c == '{':
		return object
	case c == '[':
		return array
	case c == '"':
		return text
	case c == '-' || '0' <= c && c <= '9':
		return number
	case c == 't' || c == 'f':
		return truth
	case c == 'n':
		return null
	default:
		return anything
	}
}

// null is found, never asked for.
const null kind = 255

func (d *document) skip(found kind) bool {
	switch found {
	case object:
		return d.object(&anyObject)
	case array:
		return d.array(&anyArray)
	case text:
		_, ok := d.quoted()
		return ok
	case number:
		_, _, ok := d.digits()
		return ok
	default:
		return d.word()
	}
}

// What stands where the contract knows no field, or another kind of value, is read only for its syntax.
var (
	anyValue  = Schema{kind: anything}
	anyObject = Schema{kind: object, open: true}
	anyArray  = Schema{kind: array, items: &anyValue, maxItems: int(^uint(0) >> 1)}
)

// word reads true, false or null.
func (d *document) word() bool {
	for _, w := range [...]string{"true", "false", "null"} {
		if bytes.HasPrefix(d.raw[d.at:], []byte(w)) {
			d.at += len(w)
			return true
		}
	}
	return d.expected("a value")
}

func (d *document) object(s *Schema) bool {
	if !d.enter() {
		return false
	}
	d.at++
	var seen uint64
	n := 0
	for d.space(); d.next() != '}'; n++ {
		if n > 0 {
			if !d.take(',') {
				return false
			}
			d.space()
		}
		i, ok := d.field(s, seen)
		if !ok {
			return false
		}
		if i >= 0 {
			seen |= 1 << i
		}
	}
	d.at++
	d.leave()
	for _, i := range s.required {
		if seen&(1<<i) == 0 {
			d.missing(s.fields[i])
		}
	}
	if n < s.minFields {
		d.tooFewFields(s)
	}
	return true
}

// field reads one field of an object. It returns its place in the schema, or -1 if the schema has no such field.
func (d *document) field(s *Schema, seen uint64) (int, bool) {
	if d.next() != '"' {
		return 0, d.expected("the name of a field in quotes")
	}
	start := d.at
	name, ok := d.quoted()
	if !ok {
		return 0, false
	}
	i, known := s.index[string(name)]
	part := &anyValue
	top := &d.path[len(d.path)-1]
	if known {
		part, top.name = s.fields[i].schema, s.fields[i].name
	} else {
		i, top.name = -1, string(name)
	}
	if known && seen&(1<<i) != 0 {
		d.faults = d.unreadable(ruleUniqueField, start, "the field stands twice", "give it once")
		return 0, false
	}
	if !known && !s.open {
		d.unknownField(s)
	}
	d.space()
	if !d.take(':') {
		return 0, false
	}
	d.space()
	if !d.value(part) {
		return 0, false
	}
	d.space()
	return i, true
}

func (d *document) array(s *Schema) bool {
	if !d.enter() {
		return false
	}
	d.at++
	part := s.items
	n := 0
	for d.space(); d.next() != ']'; n++ {
		if n > 0 {
			if !d.take(',') {
				return false
			}
			d.space()
		}
		if n == s.maxItems {
			part = &anyValue // one fault is enough for all that are too many
		}
		d.path[len(d.path)-1].index = n
		if !d.value(part) {
			return false
		}
		d.space()
	}
	d.at++
	d.leave()
	if n < s.minItems || n > s.maxItems {
		d.wrongCount(s, n)
	}
	return true
}

func (d *document) enter() bool {
	if len(d.path) == maxDepth {
		d.faults = d.unreadable(ruleDepth, d.at, "lists and objects stand too deep in each other", "send what the contract describes: it is not deep")
		return false
	}
	d.path = append(d.path, step{index: -1})
	return true
}

func (d *document) leave() { d.path = d.path[:len(d.path)-1] }
