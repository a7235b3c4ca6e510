package papers

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// The fonts are the ones that every reader of PDF has (ISO 32000-1, 9.6.2.2). They show the 217 printable characters of
// the Windows code page 1252: English and the languages of western Europe. Everything else is shown as the sign mark,
// one for one, and the paper says what the sign means: a reader sees that something is missing, and where.
const mark = '\xa4' // ¤ in the code page

// markNote is what a paper says on which the mark stands.
const markNote = "\xa4 stands for a character that cannot be printed here; the record has it."

// upper are the characters of the code page between 0x80 and 0x9f. Zero: none.
var upper = [32]rune{
	'€', 0, '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', 0, 'Ž', 0,
	0, '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', 0, 'ž', 'Ÿ',
}

// likes are characters that the code page has under another name.
var likes = map[rune]string{
	'−': "-", '‐': "-", '‑': "-", '‒': "\x96", '―': "\x97", '≤': "<=", '≥': ">=", '≠': "<>", '≈': "~", '→': "->", '←': "<-",
	'′': "'", '″': `"`, 'Ω': "ohm", 'μ': "\xb5", '⁄': "/", '­': "-",
}

// shown is text in the code page of the fonts, in one line: white space is one blank, and none at the ends.
type shown string

// show writes text as the fonts can show it.
func show(s string) shown {
	var b strings.Builder
	blank := false
	for _, r := range s {
		if unicode.IsSpace(r) {
			blank = b.Len() > 0
			continue
		}
		if blank {
			b.WriteByte(' ')
			blank = false
		}
		writeLetter(&b, r)
	}
	return shown(b.String())
}

func writeLetter(b *strings.Builder, r rune) {
	if like, ok := likes[r]; ok {
		b.WriteString(like)
		return
	}
	switch {
	case r == utf8.RuneError, r < ' ', r == 0x7f, r == '¤':
		b.WriteByte(mark) // the mark itself too: it must not be taken for one that stands for something
	case r < 0x80, r >= 0xa0 && r <= 0xff:
		b.WriteByte(byte(r))
	default:
		b.WriteByte(upperLetter(r))
	}
}

func upperLetter(r rune) byte {
	for i, u := range upper {
		if u == r && u != 0 {
			return byte(0x80 + i)
		}
	}
	return mark
}

// marked reports whether a character of the text could not be shown.
func (s shown) marked() bool { return strings.IndexByte(string(s), mark) >= 0 }

// orElse is the text, or words that say that there is none: a blank on a paper could be taken for "none needed".
func (s shown) orElse(words shown) shown {
	if s == "" {
		return words
	}
	return s
}
