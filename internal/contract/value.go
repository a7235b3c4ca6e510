package contract

import (
	"errors"
	"regexp"
	"slices"
	"strconv"
	"time"
	"unicode/utf16"
	"unicode/utf8"
)

// quoted reads a text in quotes. What it returns is good until the next text is read.
func (d *document) quoted() ([]byte, bool) {
	d.at++
	start := d.at
	for d.at < len(d.raw) {
		switch c := d.raw[d.at]; {
		case c == '"':
			d.at++
			return d.raw[start : d.at-1], true
		case c == '\\':
			return d.escaped(start)
		case c < ' ':
			return nil, d.syntax("a line break or another control character stands inside a text; write \\n for it")
		default:
			d.at++
		}
	}
	return nil, d.expected("the closing quote of a text")
}

// escaped reads on in a text that has an escape at the present place.
func (d *document) escaped(start int) ([]byte, bool) {
	d.spare = append(d.spare[:0], d.raw[start:d.at]...)
	for d.at < len(d.raw) {
		switch c := d.raw[d.at]; {
		case c == '"':
			d.at++
			return d.spare, true
		case c == '\\':
			if !d.escape() {
				return nil, d.syntax("an escape that JSON does not know stands inside a text")
			}
		case c < ' ':
			return nil, d.syntax("a line break or another control character stands inside a text; write \\n for it")
		default:
			d.spare = append(d.spare, c)
			d.at++
		}
	}
	return nil, d.expected("the closing quote of a text")
}

var escapes = map[byte]byte{'"': '"', '\\': '\\', '/': '/', 'b': '\b', 'f': '\f', 'n': '\n', 'r': '\r', 't': '\t'}

func (d *document) escape() bool {
	if d.at+1 >= len(d.raw) {
		return false
	}
	c := d.raw[d.at+1]
	if c == 'u' {
		return d.codePoint()
	}
	plain, ok := escapes[c]
	d.spare = append(d.spare, plain)
	d.at += 2
	return ok
}

// codePoint reads \uXXXX, or two of them that make one character. Half a character is kept as an impossible byte, which
// no text may contain.
func (d *document) codePoint() bool {
	r, ok := d.hex()
	if !ok {
		return false
	}
	d.at += 6
	if !utf16.IsSurrogate(r) {
		d.spare = utf8.AppendRune(d.spare, r)
		return true
	}
	if second, ok := d.hex(); ok {
		if whole := utf16.DecodeRune(r, second); whole != utf8.RuneError {
			d.at += 6
			d.spare = utf8.AppendRune(d.spare, whole)
			return true
		}
	}
	d.spare = append(d.spare, 0xff)
	return true
}

// hex reads the code of an escape \uXXXX at the present place.
func (d *document) hex() (rune, bool) {
	if d.at+6 > len(d.raw) || d.raw[d.at] != '\\' || d.raw[d.at+1] != 'u' {
		return 0, false
	}
	n, err := strconv.ParseUint(string(d.raw[d.at+2:d.at+6]), 16, 32)
	return rune(n), err == nil
}

func (d *document) text(s *Schema) bool {
	words, ok := d.quoted()
	if ok {
		d.checkText(s, words)
	}
	return ok
}

// checkText holds a text against its schema.
func (d *document) checkText(s *Schema, words []byte) {
	if !printable(words) {
		d.fault("characters", "it contains a control character or half a character", "leave it out; only line breaks and tabs may stand in a text")
		return
	}
	if s.enum != nil && !contains(s.enum, words) {
		d.notAmong(s, words)
		return
	}
	if !s.rightLength(words) {
		d.wrongLength(s)
		return
	}
	if s.format != formless {
		d.checkFormat(s.format, words)
		return
	}
	if s.pattern != nil && !s.pattern.Match(words) {
		d.wrongForm(s)
	}
}

func contains(list []string, words []byte) bool {
	for _, w := range list {
		if w == string(words) {
			return true
		}
	}
	return false
}

// printable reports whether a text has no control character but line breaks and tabs, and no half characters.
func printable(words []byte) bool {
	for _, c := range words {
		if c < ' ' && c != '\n' && c != '\r' && c != '\t' || c == 0xff {
			return false
		}
	}
	return true
}

func (s *Schema) rightLength(words []byte) bool {
	if len(words) >= s.minLength && len(words) <= s.maxLength && s.minLength <= 1 {
		return true // as many bytes are at least as many characters, and one byte is at least one
	}
	n := utf8.RuneCount(words)
	return n >= s.minLength && n <= s.maxLength
}

// Years that dates and instants may lie in: what lies outside is a slip, and some could not be written back.
const (
	firstYear = 1900
	lastYear  = 2199
)

func (d *document) checkFormat(f format, words []byte) {
	switch f {
	case uuid:
		if !isUUID(words) {
			d.fault("format", "it is no UUID", "give the id as the server gave it")
		}
	case date:
		t, err := time.Parse(time.DateOnly, string(words))
		if err != nil {
			d.fault("format", "it is no date", "write it as YYYY-MM-DD")
			return
		}
		d.checkYear(t)
	case instant:
		t, err := time.Parse(time.RFC3339, string(words))
		if err != nil || !isInstant.Match(words) {
			d.fault("format", "it is no time with an offset", "write it as RFC 3339 does, such as 2026-11-26T20:00:00-05:00")
			return
		}
		d.checkYear(t)
	case formless:
	}
}

// isInstant is what time.Parse is lenient about: two digits for the hour, a point before fractions, and an offset of less
// than a day, without which a time could not be written back.
var isInstant = regexp.MustCompile(`^.{11}\d\d:\d\d:\d\d(\.\d{1,9})?(Z|[+-]([01]\d|2[0-3]):[0-5]\d)$`)

func (d *document) checkYear(t time.Time) {
	if y := t.Year(); y < firstYear || y > lastYear {
		d.fault("range", "the year lies outside 1900 to 2199", "correct the year")
	}
}

// isUUID reports whether words are a UUID in its usual written form.
func isUUID(words []byte) bool {
	if len(words) != 36 {
		return false
	}
	for i, c := range words {
		if i == 8 || i == 13 || i == 18 || i == 23 {
			if c != '-' {
				return false
			}
			continue
		}
		if !isHex(c) {
			return false
		}
	}
	return true
}

func isHex(c byte) bool { return '0' <= c && c <= '9' || 'a' <= c && c <= 'f' || 'A' <= c && c <= 'F' }

// digits reads a number as it is written, and tells whether it has no fraction and no exponent.
func (d *document) digits() (written []byte, plain, ok bool) {
	start := d.at
	if d.next() == '-' {
		d.at++
	}
	switch c := d.next(); {
	case c == '0':
		d.at++
	case '1' <= c && c <= '9':
		d.run()
	default:
		return nil, false, d.expected("a digit")
	}
	plain = true
	if d.next() == '.' {
		d.at++
		plain = false
		if !d.run() {
			return nil, false, d.expected("a digit after the decimal point")
		}
	}
	if c := d.next(); c == 'e' || c == 'E' {
		d.at++
		plain = false
		if c := d.next(); c == '+' || c == '-' {
			d.at++
		}
		if !d.run() {
			return nil, false, d.expected("a digit in the exponent")
		}
	}
	return d.raw[start:d.at], plain, true
}

// run steps over digits and reports whether there was one.
func (d *document) run() bool {
	start := d.at
	for c := d.next(); '0' <= c && c <= '9'; c = d.next() {
		d.at++
	}
	return d.at > start
}

func (d *document) number(s *Schema) bool {
	written, plain, ok := d.digits()
	if ok {
		d.checkNumber(s, written, plain)
	}
	return ok
}

func (d *document) checkNumber(s *Schema, written []byte, plain bool) {
	if s.kind == whole && !plain {
		d.fault("type", "it is no whole number", "write a whole number, without decimal point and exponent")
		return
	}
	n, err := strconv.ParseFloat(string(written), 64)
	if errors.Is(err, strconv.ErrRange) || n < s.min || n > s.max {
		d.outOfRange(s)
	}
}

// nearest is the word of a list that is most like another, if it is alike at all: at most one letter in three differs.
func nearest(word string, list []string) (string, bool) {
	best, least := "", len(word)/3+1
	for _, w := range list {
		if n := letters(word, w); n < least {
			best, least = w, n
		}
	}
	return best, best != ""
}

// letters counts the letters to add, drop or change to make one word of another (Levenshtein's distance).
func letters(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, diagonal+1)
		}
	}
	return row[len(b)]
}

func (s *Schema) names() []string {
	names := make([]string, len(s.fields))
	for i, f := range s.fields {
		names[i] = f.name
	}
	return slices.Clip(names)
}
