package papers

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Method says how an inoperative item was put out of use. The zero value: not settled yet.
type Method string

// The methods of 14 CFR 91.213(d)(3).
const (
	Deactivated Method = "deactivated"
	Removed     Method = "removed"
)

// Placard is what stands on the placard of one inoperative item.
type Placard struct {
	Registration string
	Item         string // name of the item
	Place        string // where the unit is, such as "left wing tip"
	Method       Method
	ELT          bool      // the item is the emergency locator transmitter
	Words        string    // words on the placard as the deferral's record has them; printed if they say more
	Squawk       string    // its reference
	URL          string    // of the squawk, for the code
	Made         time.Time // on which the placard is made out, in the zone in which it is read
	Until        time.Time // end of the deferral; zero: not deferred yet, and a line is left to write on
}

// Headline is the word that the regulation asks for: "Inoperative" on an item that was deactivated (14 CFR
// 91.213(d)(3)(ii), 43.11(b)), "ELT not installed." in place of an ELT that was removed (91.207(f)(10)). For the cockpit
// control of any other item that was removed the regulation gives no words (91.213(d)(3)(i)): it reads inoperative too.
func (p Placard) Headline() string {
	if p.ELT && p.Method == Removed {
		return "ELT not installed."
	}
	return "INOPERATIVE"
}

// PutOn says where the placard goes: on the instrument or the cockpit control of the item (14 CFR 43.11(b)), on the
// cockpit control of one that was removed (91.213(d)(3)(i)), in view of the pilot for an ELT (91.207(f)(10)).
func (p Placard) PutOn(short bool) string {
	switch {
	case p.Method == Removed && p.ELT:
		return "Put in view of the pilot"
	case p.Method == Removed:
		return "Put on the cockpit control"
	case short:
		return "Put on instrument or control"
	default:
		return "Put on the instrument, or on the cockpit control"
	}
}

// ErrDoesNotFit says that a placard cannot be printed on a label without cutting something off.
var ErrDoesNotFit = errors.New("the placard does not fit on the label")

// ErrNoSuchPlace says that a sheet has no place of that number.
var ErrNoSuchPlace = errors.New("the sheet has no such place")

// Placards prints placards on labels. On sheets the first goes to the place start, counted from 1 along the rows, so
// that a sheet which has been used in part can be used again. On single labels start is 1. Errors: ErrDoesNotFit,
// ErrNoSuchPlace.
func Placards(list []Placard, on Label, start int) ([]byte, error) {
	c, err := drawPlacards(list, on, start)
	if err != nil {
		return nil, err
	}
	return c.bytes()
}

func drawPlacards(list []Placard, on Label, start int) (*canvas, error) {
	places := 1
	if on.Sheet != nil {
		places = on.Sheet.Places()
	}
	if len(list) == 0 || start < 1 || start > places {
		return nil, fmt.Errorf("%w: %d of %d", ErrNoSuchPlace, start, places)
	}
	c := newCanvas("Placard "+list[0].Registration+" "+list[0].Squawk, list[0].Made)
	for i, p := range list {
		place := (start - 1 + i) % places
		if i == 0 || place == 0 {
			c.addPage(on.page())
		}
		if err := c.placard(p, on.at(place)); err != nil {
			return nil, err
		}
	}
	return c, nil
}

// page is the size of the page that is printed on, in mm.
func (l Label) page() (width, height float64) {
	if l.Sheet == nil {
		return l.Width, l.Height
	}
	return l.Sheet.Paper.Width, l.Sheet.Paper.Height
}

func (l Label) at(place int) box {
	if l.Sheet == nil {
		return box{0, 0, l.Width, l.Height}
	}
	return l.Sheet.at(place, l)
}

// Measures of a placard, in mm and points. Printers put a page up to a millimetre off, and knives are no better: that
// much and a half more stays white all around.
const (
	cropSafe     = 1.5 // mm
	placardGap   = 1.2 // mm between the parts
	smallestItem = 7.0 // points, for the name of the item
	easyItem     = 9.0 // points, down to which the bar goes across
	largestItem  = 30.0
	largestText  = 14.0
)

// SmallestText is the smallest size of letters on a placard, in points. The name of the item is never below 7.
const SmallestText = 5.5

// placard draws one placard into the box of its label: in a roomy layout as long as the letters are easy to read,
// then with the bar across, then in any layout, then in fewer words, and last with words broken inside.
func (c *canvas) placard(p Placard, label box) error {
	q, err := encode(p.URL)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrDoesNotFit, err)
	}
	roomy, across, all := layouts(label.within(cropSafe), q.smallest())
	for _, try := range []struct {
		layouts    []layout
		smallest   float64
		text       []paragraph
		breakWords bool
	}{
		{roomy, easyItem, p.paragraphs(false), false},
		{across, easyItem, p.paragraphs(false), false},
		{all, smallestItem, p.paragraphs(false), false},
		{all, smallestItem, p.paragraphs(true), false},
		{all, smallestItem, p.paragraphs(true), true},
	} {
		for _, size := range sizes(largestItem, try.smallest) {
			for _, l := range try.layouts {
				if blocks, ok := c.blocks(try.text, l.text, size, try.breakWords); ok && c.draw(p, l, blocks, q) {
					return nil
				}
			}
		}
	}
	return ErrDoesNotFit
}

// layout says where the parts of a placard are.
type layout struct{ bar, text, code box }

// layouts are the ways to divide a label, those with a larger code first: with the bar across, and the code beside the
// text or, on an upright label, below it; and, for flat labels, with the code beside bar and text. The roomy ones have a
// headline to be seen from afar and a code that is easy to aim at.
func layouts(inner box, smallestCode float64) (roomy, across, all []layout) {
	divide, shares := beside, []float64{0.4, 0.33, 0.28, 0}
	if inner.h > inner.w {
		divide, shares = below, []float64{0.6, 0.5, 0.4, 0.3, 0}
	}
	for _, barShare := range []float64{0.22, 0.17} {
		bar := min(inner.h*barShare, 18)
		for _, share := range shares {
			side := max(inner.w*share, smallestCode)
			if l := divide(inner, bar, side); l.fits(inner) {
				across = append(across, l)
				if share >= 0.28 && barShare > 0.2 {
					roomy = append(roomy, l)
				}
			}
			if l := flat(inner, bar, side); l.fits(inner) {
				all = append(all, l)
			}
		}
	}
	return roomy, across, append(slices.Clone(across), all...)
}

func (l layout) fits(inner box) bool {
	return l.text.w > 0 && l.text.h > 0 && l.code.h <= inner.h && l.code.y >= inner.y
}

func beside(inner box, bar, side float64) layout {
	top := inner.y + bar + placardGap
	rest := inner.h - bar - placardGap
	left := inner.w - side - placardGap
	if side > rest {
		left = 0 // the code does not go below the bar
	}
	return layout{
		box{inner.x, inner.y, inner.w, bar}, box{inner.x, top, left, rest}, box{inner.x + inner.w - side, top, side, side},
	}
}

func below(inner box, bar, side float64) layout {
	top := inner.y + bar + placardGap
	return layout{
		box{inner.x, inner.y, inner.w, bar},
		box{inner.x, top, inner.w, inner.h - bar - side - 2*placardGap},
		box{inner.x + inner.w - side, inner.y + inner.h - side, side, side},
	}
}

func flat(inner box, bar, side float64) layout {
	left := inner.w - side - placardGap
	return layout{
		box{inner.x, inner.y, left, bar},
		box{inner.x, inner.y + bar + placardGap, left, inner.h - bar - placardGap},
		box{inner.x + inner.w - side, inner.y + (inner.h-side)/2, side, side},
	}
}

// draw draws a placard by a layout, or reports that the headline would be too small.
func (c *canvas) draw(p Placard, l layout, blocks []block, q code) bool {
	headline := show(p.Headline())
	head := style{true, l.bar.h / mmPerPoint * 0.8}
	if w := c.width(head, headline); w > l.bar.w*0.92 {
		head.size *= l.bar.w * 0.92 / w
	}
	if head.size < smallestItem {
		return false
	}
	c.fill(l.bar)
	c.onBar(l.bar, l.bar.x+(l.bar.w-c.width(head, headline))/2, head, headline)
	y := l.text.y
	for _, b := range blocks {
		y = c.lines(l.text.x, y, b.style, b.lines) + paragraphGap(b.style)
	}
	c.code(q, l.code)
	return true
}

// paragraph is one part of the text below the headline.
type paragraph struct {
	text shown
	item bool // the name of the item, in large letters
	bold bool
}

// block is a paragraph, wrapped.
type block struct {
	style style
	lines []shown
}

func paragraphGap(s style) float64 { return s.size * 0.15 * mmPerPoint }

// paragraphs are what a placard says below its headline. In short nothing is left out, but it is said in fewer words.
func (p Placard) paragraphs(short bool) []paragraph {
	list := []paragraph{{text: show(p.Item).orElse("Item not on record"), item: true}}
	if place := show(p.Place); place != "" {
		list = append(list, paragraph{text: place, bold: true})
	}
	if p.Method == Removed && !p.ELT {
		list = append(list, paragraph{text: "Item removed", bold: true})
	}
	if p.saysMore() {
		list = append(list, paragraph{text: show(p.Words), bold: true})
	}
	made, expires := show(p.Made.Format(time.DateOnly)), shown("____-__-__")
	if !p.Until.IsZero() {
		expires = instant(p.Until)
	}
	reference := show(p.Registration).orElse("aircraft not on record") + "  Squawk " + show(p.Squawk).orElse("not on record")
	list = append(list, paragraph{text: reference, bold: true})
	if short {
		list = append(list, paragraph{text: show(p.PutOn(true))}, paragraph{text: made + " to " + expires})
	} else {
		list = append(list, paragraph{text: show(p.PutOn(false))}, paragraph{text: "Made out " + made}, paragraph{text: "Expires " + expires})
	}
	if slices.ContainsFunc(list, func(g paragraph) bool { return g.text.marked() }) {
		list = append(list, paragraph{text: markNote})
	}
	return list
}

// saysMore reports whether the words on record say anything that the placard does not say already.
func (p Placard) saysMore() bool {
	fold := func(s string) string {
		return strings.ToLower(strings.Trim(strings.Join(strings.Fields(s), " "), ". "))
	}
	words, headline, item := fold(p.Words), fold(p.Headline()), fold(p.Item)
	return words != "" && words != headline && words != item+" "+headline && words != headline+" "+item
}

// instant is a time as papers show it: with the zone, as the paper travels.
func instant(t time.Time) shown { return show(t.Format("2006-01-02 15:04 MST")) }

// blocks wraps paragraphs into a box, or reports that they do not fit.
func (c *canvas) blocks(paragraphs []paragraph, into box, itemSize float64, breakWords bool) ([]block, bool) {
	var blocks []block
	textSize := min(max(itemSize*0.55, SmallestText), largestText)
	height := 0.0
	for _, g := range paragraphs {
		s := style{g.bold, textSize}
		if g.item {
			s = style{true, itemSize}
		}
		lines, ok := c.wrap(s, g.text, into.w, breakWords)
		if !ok {
			return nil, false
		}
		height += float64(len(lines)) * s.line()
		if height > into.h {
			return nil, false
		}
		height += paragraphGap(s)
		blocks = append(blocks, block{s, lines})
	}
	return blocks, true
}
