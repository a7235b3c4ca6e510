// Package chart draws pictures of figures: measurements over time, what is left of an interval, how a day is lit, what keeps
// an aircraft from flying, how old deferrals are. Values go in, SVG comes out.
//
// It owns where things stand in a picture and by which shape each is told from the others. It does not own what a value
// means, nor any color: every shape has a class, and the style sheet of whoever shows it has the colors. A picture is no
// place to read a value off: whoever shows one puts a table or a sentence with the same values behind it.
//
// A picture fits whatever width it is given, with letters of one size: what lies along it is in shares of its width, its
// height is in pixels. Whatever is no number is left out, so that neither NaN nor an infinity gets into the markup, and
// nothing lies outside of the picture. Words are escaped.
package chart

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
)

// Markup is a picture as SVG, to be put into a page as it is.
type Markup string

// Words are what a picture says to whoever does not see it.
type Words struct {
	ID    string // tells the picture from others of the page; letters, digits and hyphens are kept
	Title string
	Says  string // what it comes to; may be empty
}

// drawing is a picture under way. Places along it are shares of its width, from 0 to 1; places down it are pixels from the
// top.
type drawing struct {
	out    strings.Builder
	height float64
}

func (d *drawing) add(markup string) { d.out.WriteString(markup) }

// begin opens a picture of a kind.
func begin(kind string, height float64, w Words) *drawing {
	d := &drawing{height: height}
	id := cleanID(w.ID)
	labels, desc := id+"-t", ""
	if w.Says != "" {
		labels += " " + id + "-d"
		desc = `<desc id="` + id + `-d">` + html.EscapeString(w.Says) + `</desc>`
	}
	d.add(fmt.Sprintf(`<svg class="chart c-%s" role="img" width="100%%" height="%s" aria-labelledby="%s"><title id="%s-t">%s</title>%s`,
		kind, number(height), labels, id, html.EscapeString(w.Title), desc))
	return d
}

func (d *drawing) end() Markup {
	d.add(`</svg>`)
	return Markup(d.out.String())
}

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	if !finite(x1, y1, x2, y2) {
		return
	}
	d.add(`<line class="` + class + `" x1="` + share(x1) + `" y1="` + d.down(y1) + `" x2="` + share(x2) + `" y2="` + d.down(y2) + `"/>`)
}

func (d *drawing) dot(class string, x, y, radius float64) {
	if !finite(x, y) {
		return
	}
	d.add(`<circle class="` + class + `" cx="` + share(x) + `" cy="` + d.down(y) + `" r="` + number(radius) + `"/>`)
}

// rect is a rectangle. One without extent is not drawn.
func (d *drawing) rect(class string, x, y, width, height float64) {
	if !finite(x, y, width, height) || width <= 0 || height <= 0 {
		return
	}
	x, y = within(x, 1), within(y, d.height)
	width, height = min(width, 1-x), min(height, d.height-y)
	d.add(`<rect class="` + class + `" x="` + share(x) + `" y="` + number(y) + `" width="` + share(width) + `" height="` + number(height) + `"/>`)
}

// anchor is which part of words stands at their place.
type anchor string

const (
	start  anchor = "start"
	middle anchor = "middle"
	finish anchor = "end"
)

func (d *drawing) text(class string, x, y float64, a anchor, words string) {
	if !finite(x, y) {
		return
	}
	d.add(`<text class="` + class + `" x="` + share(x) + `" y="` + d.down(y) + `" text-anchor="` + string(a) + `">` + html.EscapeString(words) + `</text>`)
}

// mark is a small shape of a given path, about a place.
func (d *drawing) mark(class, path string, x, y float64) {
	if !finite(x, y) {
		return
	}
	d.add(`<svg x="` + share(x) + `" y="` + d.down(y) + `" overflow="visible"><path class="` + class + `" d="` + path + `"/></svg>`)
}

// Shapes of marks, about their middle.
const (
	upward  = "M-6 4h12L0-7z"
	cross   = "M-4-4l8 8M4-4l-8 8"
	diamond = "M0-7 7 0 0 7-7 0z"
)

// area is a surface with corners; it stretches with the picture.
func (d *drawing) area(class string, corners ...[2]float64) {
	for _, c := range corners {
		if !finite(c[0], c[1]) {
			return
		}
	}
	d.add(`<svg width="100%" height="` + number(d.height) + `" viewBox="0 0 1000 ` + number(d.height) + `" preserveAspectRatio="none"><polygon class="` + class + `" points="`)
	for i, c := range corners {
		if i > 0 {
			d.add(" ")
		}
		d.add(number(within(c[0], 1)*1000) + "," + d.down(c[1]))
	}
	d.add(`"/></svg>`)
}

// strokes are straight lines as one path, which takes little room in a page. Each goes from one place to another.
func (d *drawing) strokes(class string, all [][4]float64) {
	var path strings.Builder
	for _, s := range all {
		if finite(s[:]...) {
			path.WriteString("M" + number(within(s[0], 1)*1000) + " " + d.down(s[1]) + "L" + number(within(s[2], 1)*1000) + " " + d.down(s[3]))
		}
	}
	if path.Len() > 0 {
		d.add(`<svg width="100%" height="` + number(d.height) + `" viewBox="0 0 1000 ` + number(d.height) + `" preserveAspectRatio="none"><path class="strokes ` + class + `" d="` + path.String() + `"/></svg>`)
	}
}

// slanted are the slanted strokes that fill a stretch: what is over, or closed off.
func slanted(x, y, width, height, every float64) [][4]float64 {
	if !finite(x, y, width, height, every) || every <= 0 || width <= 0 {
		return nil
	}
	var all [][4]float64
	strokes := min(width/every, mostStrokes)
	for n := 0.0; n < strokes; n++ {
		at := x + n*width/strokes
		all = append(all, [4]float64{at, y + height, min(at+width/strokes*.6, x+width), y})
	}
	return all
}

// mostStrokes bounds how much one stretch adds to a page.
const mostStrokes = 60

func (d *drawing) down(y float64) string { return number(within(y, d.height)) }

// share is a place along the picture.
func share(x float64) string { return number(within(x, 1)*100) + "%" }

func within(x, most float64) float64 { return min(max(x, 0), most) }

// number is one of the markup, to a tenth of a pixel or a hundredth of a percent.
func number(x float64) string { return strconv.FormatFloat(math.Round(x*100)/100+0, 'f', -1, 64) }

func finite(all ...float64) bool {
	for _, x := range all {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// cleanID keeps of an identifier what needs no escaping anywhere.
func cleanID(id string) string {
	id = strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return -1
	}, id)
	return "chart-" + id
}

// scale turns values into shares of a stretch.
type scale struct{ least, most float64 }

// scaleOf spans values; those that are no numbers do not count. Equal values stand in the middle.
func scaleOf(values ...float64) scale {
	s := scale{math.Inf(1), math.Inf(-1)}
	for _, v := range values {
		if finite(v) {
			s.least, s.most = min(s.least, v), max(s.most, v)
		}
	}
	switch {
	case s.least > s.most:
		return scale{0, 1}
	case s.least == s.most:
		by := max(math.Abs(s.least)*.1, .5)
		return scale{max(s.least-by, -math.MaxFloat64), min(s.most+by, math.MaxFloat64)}
	}
	return s
}

// at is where a value stands, from 0 to 1. Halves are taken, as the whole of a span may be more than a number holds.
func (s scale) at(v float64) float64 {
	if !finite(v) {
		return math.NaN()
	}
	return within((v/2-s.least/2)/(s.most/2-s.least/2), 1)
}

// ticks are round values within a scale, about so many.
func (s scale) ticks(about int) []float64 {
	rough := (s.most/2 - s.least/2) / float64(about) * 2
	if !finite(rough) || rough <= 0 {
		return nil
	}
	power := math.Pow(10, math.Floor(math.Log10(rough)))
	step := 10 * power
	for _, round := range []float64{1, 2, 5} {
		if round*power >= rough {
			step = round * power
			break
		}
	}
	var all []float64
	for v := math.Ceil(s.least/step) * step; v <= s.most && len(all) < 2*about+2; v += step {
		if !finite(v) || len(all) > 0 && v <= all[len(all)-1] {
			return all
		}
		all = append(all, math.Round(v/step)*step+0)
	}
	return all
}

// Number writes a value as pictures and their tables do: as short as it can be to six digits.
func Number(v float64) string {
	if !finite(v) {
		return "not a number"
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return strconv.FormatFloat(rounded, 'g', -1, 64)
}
