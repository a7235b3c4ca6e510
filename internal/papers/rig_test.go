package papers_test

import (
	"image"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"

	"pgregory.net/rapid"

	"tiedown/internal/papers"
	"tiedown/internal/testrig/printed"
)

// made is when the papers of the tests are made out: before noon, by a clock that is five hours behind.
var made = time.Date(2026, 11, 25, 9, 30, 0, 0, time.FixedZone("EST", -5*3600))

// The margins that must stay white, in mm: of a label, and of a page.
const (
	white      = 1.5
	pageMargin = 12
)

const url = "https://hangar.example/v1/squawks/019ac3b4-7d5e-7c3a-8b1f-2e4d6c8a0b1c"

// placard is one with everything on it.
func placard() papers.Placard {
	return papers.Placard{
		Registration: "N012TW", Item: "Exhaust gas temperature gauge", Place: "panel, lower right", Method: papers.Deactivated,
		Squawk: "00002", URL: url, Made: made, Until: made.AddDate(0, 2, 0),
	}
}

func deferredItem() papers.DeferredItem {
	return papers.DeferredItem{
		Squawk: "00002", Item: "Exhaust gas temperature gauge", Unit: "egt", Place: "panel, lower right", Basis: "14 CFR 91.213(d)",
		Method: papers.Deactivated, Placard: "EGT inoperative", Entry: "airframe log, page 41",
		DeterminedBy: "J. Larkspur, mechanic, certificate 0000001", DeterminedAt: made.Add(-time.Hour), Since: made.AddDate(0, 0, -3),
		Until: made.AddDate(0, 2, 0), Limitations: []string{"Not for night VFR (14 CFR 91.205(c)(4))"},
	}
}

func deferredList(n int) papers.DeferredList {
	l := papers.DeferredList{Registration: "N012TW", Type: "Tansy 140 Trainer", AsOf: made, NotDeferred: []string{"00007 Beacon"}}
	for i := range n {
		d := deferredItem()
		d.Squawk = strconv.Itoa(10000 + i)
		l.Items = append(l.Items, d)
	}
	return l
}

func logPage() papers.LogPage {
	return papers.LogPage{
		Registration: "N012TW", Type: "Tansy 140 Trainer", Serial: "TW-0012", TotalTime: "3,412.6 h", Squawk: "00002",
		Discrepancy: "EGT needle rests on the peg in flight.", ReportedAt: made, Work: "Gauge removed, probe leads capped and secured.",
		Completed: made, DoneBy: "A. Teasel", Signer: "J. Larkspur", Number: "0000001", Kind: "Mechanic, airframe and powerplant", Made: made,
	}
}

// bytesOf fails the test if a paper could not be made.
func bytesOf(t *testing.T) func([]byte, error) []byte {
	return func(raw []byte, err error) []byte {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return raw
	}
}

// text draws words of many scripts, words without end, nothing at all, and what is no text.
func text(longest int) *rapid.Generator[string] {
	word := rapid.OneOf(
		rapid.StringMatching(`[A-Za-z0-9.,/()-]{1,12}`),
		rapid.StringMatching(`W{1,60}`),
		rapid.StringOfN(rapid.RuneFrom([]rune("áÅßœ€—“Ž")), 1, 10, -1),
		rapid.StringOfN(rapid.RuneFrom(nil, unicode.Hebrew, unicode.Arabic, unicode.Han, unicode.Cyrillic, unicode.So), 1, 8, -1),
		rapid.SampledFrom([]string{"\u202eabc", "e\u0301", "\x00", "\x7f", "\xff\xfe", "\u00ad", "¤", "\n", "\t", "\u200b", "👩‍✈️", "≤ 5°", `\)(`}),
	)
	return rapid.Map(rapid.SliceOfN(word, 0, longest), func(words []string) string { return strings.Join(words, " ") })
}

// solid is text without white space: how it is broken into lines makes no difference.
func solid(s string) string { return strings.Join(strings.Fields(s), "") }

// failing is a test, of whichever kind.
type failing interface {
	Helper()
	Fatalf(format string, args ...any)
}

// holdsTogether fails unless everything lies inside the box of its page and nothing lies on anything else.
func holdsTogether(t failing, all []papers.Placed, inside papers.Box) {
	t.Helper()
	const rounding = 0.01 // mm: positions are written in hundredths of a point
	for i, p := range all {
		if p.X < inside.X-rounding || p.Y < inside.Y-rounding || p.X+p.W > inside.X+inside.W+rounding || p.Y+p.H > inside.Y+inside.H+rounding {
			t.Fatalf("page %d: %q at %+v is outside of %+v", p.Page, p.Text, p.Box, inside)
		}
		for _, q := range all[:i] {
			if p.Page != q.Page || p.OnBar || q.OnBar {
				continue
			}
			if p.X+p.W > q.X+rounding && q.X+q.W > p.X+rounding && p.Y+p.H > q.Y+rounding && q.Y+q.H > p.Y+rounding {
				t.Fatalf("page %d: %q at %+v lies on %q at %+v", p.Page, p.Text, p.Box, q.Text, q.Box)
			}
		}
	}
}

// saysAll fails unless every character of the texts is on the pages, as often as it stands in them.
func saysAll(t failing, all []papers.Placed, texts ...string) {
	t.Helper()
	var left [256]int
	for _, p := range all {
		for _, b := range []byte(p.Text) {
			left[b]++
		}
	}
	for _, s := range texts {
		for _, b := range []byte(solid(papers.Show(s))) {
			if left[b]--; left[b] < 0 {
				t.Fatalf("some of %q is not on the paper", s)
			}
		}
	}
}

func within(b papers.Box, margin float64) papers.Box {
	return papers.Box{X: b.X + margin, Y: b.Y + margin, W: b.W - 2*margin, H: b.H - 2*margin}
}

const dpi = 120

// inkOnlyIn fails unless a page has ink in a box, and none outside of it.
func inkOnlyIn(t *testing.T, page *image.Gray, inside papers.Box) {
	t.Helper()
	const perMM = dpi / 25.4
	ink := 0
	bounds := page.Bounds()
	for y := bounds.Min.Y; y < bounds.Max.Y; y++ {
		for x, gray := range page.Pix[page.PixOffset(bounds.Min.X, y):][:bounds.Dx()] {
			if gray > 192 {
				continue
			}
			ink++
			// A dot on the edge of the box counts as inside.
			if float64(x) < math.Floor(inside.X*perMM)-1 || float64(x) > math.Ceil((inside.X+inside.W)*perMM)+1 ||
				float64(y) < math.Floor(inside.Y*perMM)-1 || float64(y) > math.Ceil((inside.Y+inside.H)*perMM)+1 {
				t.Fatalf("ink at %.1f, %.1f mm, outside of %+v", float64(x)/perMM, float64(y)/perMM, inside)
			}
		}
	}
	if ink < 100 {
		t.Fatalf("%d dots of ink only", ink)
	}
}

// printedWith fails unless the text of a PDF has all these words, however they are broken into lines.
func printedWith(t *testing.T, d *printed.Document, words ...string) {
	t.Helper()
	all := solid(d.Text())
	for _, w := range words {
		if !strings.Contains(all, solid(w)) {
			t.Errorf("%q is not on the paper:\n%s", w, d.Text())
		}
	}
}

func pictures(d *printed.Document) []*image.Gray { return d.Pages(dpi) }

// codeOn is what the code on a label says.
func codeOn(d *printed.Document, page int, b papers.Box) string {
	return d.Code(page, printed.Area{X: b.X, Y: b.Y, W: b.W, H: b.H})
}
