package contract

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"tiedown/internal/casefile"
)

// fault notes one fault at the present path.
func (d *document) fault(rule, says, remedy string) { d.faultAt(d.where(), rule, says, remedy) }

func (d *document) faultAt(field, rule, says, remedy string) {
	if len(d.faults) < maxFaults {
		d.faults.Add(field, rule, says, remedy)
	}
}

// wholeDocument is the field of a fault that is about the document as a whole.
const wholeDocument = "document"

// where writes the present path, such as aircraft.configuration.units[0].item.
func (d *document) where() string {
	var b strings.Builder
	for _, s := range d.path {
		switch {
		case s.index >= 0:
			fmt.Fprintf(&b, "[%d]", s.index)
		case s.name == "": // no field has been read yet
		case b.Len() > 0:
			b.WriteByte('.')
			fallthrough
		default:
			b.WriteString(fieldName(s.name))
		}
	}
	if b.Len() == 0 {
		return wholeDocument
	}
	return b.String()
}

// fieldName is a field's name as a path gives it: a strange one is quoted and shortened.
func fieldName(name string) string {
	for _, r := range name {
		if r != '_' && r != '-' && (r < '0' || r > '9') && (r < 'a' || r > 'z') && (r < 'A' || r > 'Z') {
			return strconv.Quote(shortened(name))
		}
	}
	return shortened(name)
}

const shownLength = 40

// shortened is at most the first 40 characters of a text that somebody sent.
func shortened(s string) string {
	s = strings.ToValidUTF8(s, "?")
	if utf8.RuneCountInString(s) <= shownLength {
		return s
	}
	return string([]rune(s)[:shownLength]) + "…"
}

func (d *document) missing(f field) {
	path := d.where()
	if path == wholeDocument {
		path = f.name
	} else {
		path += "." + f.name
	}
	remedy := "add " + f.name
	if f.schema.about != "" {
		remedy += ": " + f.schema.about
	}
	d.faultAt(path, "required", f.name+" is missing", remedy)
}

func (d *document) unknownField(s *Schema) {
	name := d.path[len(d.path)-1].name
	remedy := "leave it out"
	if like, ok := nearest(name, s.names()); ok {
		remedy = "write " + like + " if that is meant, or leave it out"
	} else if len(s.fields) <= 12 {
		remedy = "leave it out; the fields are " + strings.Join(s.names(), ", ")
	}
	d.fault("unknown-field", "there is no such field", remedy)
}

func (d *document) tooFewFields(s *Schema) {
	d.fault("length", "nothing is given", "give at least one of "+strings.Join(s.names(), ", "))
}

func (d *document) wrongType(s *Schema, found kind) {
	if found == null {
		d.fault("type", fmt.Sprintf("null stands where %s is wanted", s.kind), "give "+s.wants()+", or leave the field out if it is not known")
		return
	}
	d.fault("type", fmt.Sprintf("%s stands where %s is wanted", found, s.kind), "give "+s.wants())
}

// wants is what a value must be, in words.
func (s *Schema) wants() string {
	switch {
	case s.enum != nil:
		return "one of " + strings.Join(s.enum, ", ")
	case s.kind == number || s.kind == whole:
		return s.kind.String() + s.bounds()
	default:
		return s.kind.String()
	}
}

func (s *Schema) bounds() string {
	switch {
	case !math.IsInf(s.min, 0) && !math.IsInf(s.max, 0):
		return fmt.Sprintf(" from %s to %s", plainNumber(s.min), plainNumber(s.max))
	case !math.IsInf(s.min, 0):
		return " from " + plainNumber(s.min)
	default:
		return ""
	}
}

func plainNumber(n float64) string { return strconv.FormatFloat(n, 'f', -1, 64) }

func (d *document) outOfRange(s *Schema) {
	d.fault("range", "the number is out of range", "give "+s.wants())
}

func (d *document) notAmong(s *Schema, words []byte) {
	remedy := "use one of " + strings.Join(s.enum, ", ")
	if like, ok := nearest(string(words), s.enum); ok {
		remedy = fmt.Sprintf("write %s if that is meant; the values are %s", like, strings.Join(s.enum, ", "))
	}
	d.fault("enum", fmt.Sprintf("%q is none of its values", shortened(string(words))), remedy)
}

func (d *document) wrongLength(s *Schema) {
	if s.maxLength == math.MaxInt {
		d.fault("length", "the text is too short", fmt.Sprintf("give at least %d characters", s.minLength))
		return
	}
	d.fault("length", "the text is too short or too long", fmt.Sprintf("give %d to %d characters", s.minLength, s.maxLength))
}

func (d *document) wrongForm(s *Schema) {
	remedy := "write it in the form " + s.pattern.String()
	if s.about != "" {
		remedy = s.about
	}
	d.fault("form", "it is not written in the form that is wanted", remedy)
}

func (d *document) wrongCount(s *Schema, n int) {
	d.fault("length", fmt.Sprintf("the list has %d entries", n), fmt.Sprintf("give %d to %d", s.minItems, s.maxItems))
}

// expected says that the document cannot be read on.
func (d *document) expected(what string) bool {
	if d.at >= len(d.raw) {
		return d.syntax("the document ends where " + what + " is expected")
	}
	r, _ := utf8.DecodeRune(d.raw[d.at:])
	return d.syntax(fmt.Sprintf("%s is expected, and %q stands there", what, r))
}

func (d *document) syntax(says string) bool {
	d.faults = d.unreadable(ruleSyntax, d.at, says, "correct the JSON")
	return false
}

// unreadable is the one fault of a document that cannot be read, with its place.
func (d *document) unreadable(rule string, at int, says, remedy string) casefile.Faults {
	before := d.raw[:min(at, len(d.raw))]
	line := 1 + bytes.Count(before, []byte{'\n'})
	column := 1 + utf8.RuneCount(before[bytes.LastIndexByte(before, '\n')+1:])
	return casefile.Faults{{
		Field: d.where(), Rule: rule, Says: fmt.Sprintf("line %d, column %d: %s", line, column, says), Remedy: remedy, Line: line,
	}}
}

// badByte is the place of the first byte that is not UTF-8.
func badByte(raw []byte) int {
	for i := 0; i < len(raw); {
		r, size := utf8.DecodeRune(raw[i:])
		if r == utf8.RuneError && size <= 1 {
			return i
		}
		i += size
	}
	return len(raw)
}
