package audit

import (
	"encoding/base64"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// The written form of a value is JSON with one way to write each value, so that equal values have equal digests
// wherever they come from: from whoever writes a row, or from the database that kept it.

// Null is the absence of a value.
const Null = "null"

// Truth writes a boolean.
func Truth(b bool) string { return strconv.FormatBool(b) }

// Integer writes a whole number.
func Integer(n int64) string { return strconv.FormatInt(n, 10) }

// Number writes a binary floating-point number in the fewest digits that read back as the same; what is no number is
// written as its name.
func Number(f float64) string {
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return Text(strconv.FormatFloat(f, 'g', -1, 64))
	}
	return strconv.FormatFloat(f, 'g', -1, 64)
}

// Instant writes a moment in UTC, to the microsecond: what lies beyond that is cut off, as the database does.
func Instant(t time.Time) string {
	return Text(instant(t))
}

const instantLayout = "2006-01-02T15:04:05.000000Z"

func instant(t time.Time) string { return t.UTC().Truncate(time.Microsecond).Format(instantLayout) }

// Date writes a day.
func Date(t time.Time) string { return Text(t.Format(time.DateOnly)) }

// Bytes writes bytes in base64.
func Bytes(b []byte) string { return Text(base64.StdEncoding.EncodeToString(b)) }

// List writes values that have been written.
func List(values []string) string { return "[" + strings.Join(values, ",") + "]" }

// Text writes a text. Whatever a terminal or a printer could take for an order, or would show in another order than it
// stands, is written as its number.
func Text(s string) string {
	var b strings.Builder
	b.Grow(len(s) + strings.Count(s, `"`) + 2) // of what is written otherwise than it stands, most is quotes
	writeText(&b, s)
	return b.String()
}

func writeText(b *strings.Builder, s string) {
	b.WriteByte('"')
	for plain := plainPrefix(s); plain < len(s); plain = plainPrefix(s) {
		b.WriteString(s[:plain])
		s = s[plain:]
		if c := s[0]; c == '"' || c == '\\' {
			b.WriteByte('\\')
			b.WriteByte(c)
			s = s[1:]
			continue
		}
		r, size := utf8.DecodeRuneInString(s)
		s = s[size:]
		if !isHidden(r) {
			b.WriteRune(r)
			continue
		}
		const digits = "0123456789abcdef"
		b.WriteString(`\u`)
		for shift := 12; shift >= 0; shift -= 4 {
			b.WriteByte(digits[r>>shift&0xf])
		}
	}
	b.WriteString(s)
	b.WriteByte('"')
}

// plainPrefix is how many bytes a text begins with that are written as they stand: most texts are that throughout.
func plainPrefix[T string | []byte](s T) int {
	for i := range len(s) {
		if c := s[i]; c < 0x20 || c >= 0x7f || c == '"' || c == '\\' {
			return i
		}
	}
	return len(s)
}

// isHidden reports control characters, marks of direction, separators of lines and the mark of byte order. The list is
// fixed: it must not change with an edition of Unicode.
func isHidden(r rune) bool {
	return r < 0x20 || 0x7f <= r && r <= 0x9f || r == 0x61c || 0x200e <= r && r <= 0x200f || 0x2028 <= r && r <= 0x202e ||
		0x2066 <= r && r <= 0x2069 || r == 0xfeff
}
