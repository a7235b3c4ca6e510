package papers_test

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"tiedown/internal/papers"
)

// TestLetters holds what is printed for a letter. The code page is the published table of Windows-1252.
func TestLetters(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"Landing light":         "Landing light",
		" two\t words\n\nhere ": "two words here",
		"äöüß ÅØ éñ":            "\xe4\xf6\xfc\xdf \xc5\xd8 \xe9\xf1",
		"€ „quoted“ – —":        "\x80 \x84quoted\x93 \x96 \x97",
		"≤ 5° −3":               "<= 5\xb0 -3",
		"Лампа":                 "\xa4\xa4\xa4\xa4\xa4",
		"着陆灯":                   "\xa4\xa4\xa4",
		"עברית":                 "\xa4\xa4\xa4\xa4\xa4",
		"\u202e":                "\xa4", // turns the direction of text: seen, not obeyed
		"e\u0301":               "e\xa4",
		"\x00\x7f":              "\xa4\xa4",
		"\xff":                  "\xa4",
		"¤":                     "\xa4",
		"\u0081":                "\xa4", // no letter of the code page
		"":                      "",
	} {
		if got := papers.Show(in); got != want {
			t.Errorf("%q is shown as %q, want %q", in, got, want)
		}
	}
}

// FuzzLetters holds that no letter is dropped: each is shown as itself, as one like it, or as the mark.
func FuzzLetters(f *testing.F) {
	for _, s := range []string{"Landing light", "着陆灯", "\u202eabc", "\xff\xfe", "¤", " "} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		got := papers.Show(s)
		letters := 0
		for _, r := range s {
			if !unicode.IsSpace(r) {
				letters++
			}
		}
		if n := len(strings.ReplaceAll(got, " ", "")); n < letters {
			t.Fatalf("%q has %d letters, %q has %d", s, letters, got, n)
		}
		for _, b := range []byte(got) {
			if b < ' ' || b >= 0x7f && b < 0x80 || strings.IndexByte("\x81\x8d\x8f\x90\x9d\xa0\xad", b) >= 0 {
				t.Fatalf("%q is shown as %q: %#x is not seen", s, got, b)
			}
		}
		plain := strings.IndexFunc(s, func(r rune) bool { return r >= utf8.RuneSelf || r < ' ' || r == 0x7f }) < 0
		if plain && got != strings.Join(strings.Fields(s), " ") {
			t.Fatalf("%q is shown as %q", s, got)
		}
	})
}

// TestTheSameValuesGiveTheSameBytes holds that a paper is a function of its values: no clock, no chance.
func TestTheSameValuesGiveTheSameBytes(t *testing.T) {
	t.Parallel()
	label, _ := papers.LabelNamed("a4-8")
	for what, paper := range map[string]func(time.Time) ([]byte, error){
		"placard": func(at time.Time) ([]byte, error) {
			p := placard()
			p.Made = at
			return papers.Placards([]papers.Placard{p, p}, label, 3)
		},
		"list": func(at time.Time) ([]byte, error) {
			l := deferredList(30)
			l.AsOf = at
			return papers.DeferredItems(l, papers.A4)
		},
		"log page": func(at time.Time) ([]byte, error) {
			p := logPage()
			p.Made = at
			return papers.LogPages(p, papers.Letter)
		},
	} {
		for _, at := range []time.Time{made, {}} {
			first, second := bytesOf(t)(paper(at)), bytesOf(t)(paper(at))
			if !bytes.Equal(first, second) {
				t.Errorf("%s of %s: the same values give other bytes", what, at)
			}
			if year := []byte("/CreationDate (D:1970"); at.IsZero() && !bytes.Contains(first, year) {
				t.Errorf("%s without a date: it does not carry that of the beginning of time", what)
			}
			if !bytes.HasPrefix(first, []byte("%PDF-")) {
				t.Errorf("%s: %.10q is no PDF", what, first)
			}
		}
		if bytes.Equal(bytesOf(t)(paper(made)), bytesOf(t)(paper(made.AddDate(0, 0, 1)))) {
			t.Errorf("%s: the date is not on the paper", what)
		}
	}
}
