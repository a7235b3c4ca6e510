package papers

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// box is a rectangle of a page in mm: its upper left corner, its width and its height.
type box struct{ x, y, w, h float64 }

// within is the box without a margin.
func (b box) within(margin float64) box {
	return box{b.x + margin, b.y + margin, b.w - 2*margin, b.h - 2*margin}
}

// style is a font and its size.
type style struct {
	bold bool
	size float64 // points
}

const mmPerPoint = mmPerInch / 72

// A line takes 1.2 of the font's size, in mm. Capitals with accents reach 0.94 above the base line and descenders 0.21
// below it (the metrics of the font), so that lines never touch.
const (
	leading = 1.2
	ascent  = 0.96
)

func (s style) line() float64 { return s.size * leading * mmPerPoint }

// placed is something that was put on a page, for whoever wants to know where.
type placed struct {
	page  int
	box   box
	text  shown // empty: a filled rectangle or a code
	onBar bool  // text on a filled rectangle
}

// canvas draws on the pages of one document.
type canvas struct {
	pdf    *fpdf.Fpdf
	page   int
	placed []placed
	widths [2][256]float64 // of the letters, as parts of the font's size: regular and bold
}

// newCanvas begins a document. made is the date that it carries: the zero time is as good as any other.
func newCanvas(title string, made time.Time) *canvas {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm"})
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetMargins(0, 0, 0)
	pdf.SetCatalogSort(true)
	if made.IsZero() {
		made = time.Unix(0, 0) // the library would take the zero time for now
	}
	pdf.SetCreationDate(made.UTC())
	pdf.SetModificationDate(made.UTC())
	pdf.SetProducer("Tiedown", false)
	pdf.SetTitle(plain(title), false)
	pdf.SetLang("en-US")
	c := &canvas{pdf: pdf}
	c.measure()
	return c
}

// plain is a title in ASCII: the library cannot write every text as the name of a document. On the paper it is whole.
func plain(title string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '?'
		}
		return r
	}, title)
}

// bytes ends the document.
func (c *canvas) bytes() ([]byte, error) {
	var b bytes.Buffer
	if err := c.pdf.Output(&b); err != nil {
		return nil, fmt.Errorf("write the PDF: %w", err)
	}
	return b.Bytes(), nil
}

// addPage begins a page, in mm.
func (c *canvas) addPage(width, height float64) {
	c.pdf.AddPageFormat("P", fpdf.SizeType{Wd: width, Ht: height})
	c.page++
}

func (c *canvas) set(s style) {
	bold := ""
	if s.bold {
		bold = "B"
	}
	c.pdf.SetFont("Helvetica", bold, s.size)
}

// width is how wide a text is, in mm.
func (c *canvas) width(s style, text shown) float64 {
	widths := &c.widths[0]
	if s.bold {
		widths = &c.widths[1]
	}
	w := 0.0
	for _, letter := range []byte(text) {
		w += widths[letter]
	}
	return w * s.size * mmPerPoint
}

// measure reads the widths of the letters, as parts of the size: texts are measured many times before they fit.
func (c *canvas) measure() {
	const size = 100
	for i, bold := range []bool{false, true} {
		c.set(style{bold, size})
		for letter := range 256 {
			c.widths[i][letter] = c.pdf.GetStringWidth(string([]byte{byte(letter)})) / (size * mmPerPoint)
		}
	}
}

// text writes one line whose upper left corner is at x, y.
func (c *canvas) text(x, y float64, s style, text shown) {
	if text == "" {
		return
	}
	c.set(s)
	c.placed = append(c.placed, placed{page: c.page, box: box{x, y, c.width(s, text), s.line()}, text: text})
	c.pdf.Text(x, y+ascent*s.size*mmPerPoint, string(text))
}

// lines writes lines below each other and returns where the next one would stand.
func (c *canvas) lines(x, y float64, s style, lines []shown) float64 {
	for _, line := range lines {
		c.text(x, y, s, line)
		y += s.line()
	}
	return y
}

// fill fills a rectangle with black.
func (c *canvas) fill(b box) {
	c.placed = append(c.placed, placed{page: c.page, box: b})
	c.pdf.SetFillColor(0, 0, 0)
	c.pdf.Rect(b.x, b.y, b.w, b.h, "F")
}

// onBar writes one line in white on a bar that has been filled, in the middle of its height.
func (c *canvas) onBar(bar box, x float64, s style, text shown) {
	// The capitals are 0.72 of the size high.
	base := bar.y + bar.h/2 + 0.36*s.size*mmPerPoint
	c.placed = append(c.placed, placed{c.page, box{x, base - 0.72*s.size*mmPerPoint, c.width(s, text), 0.72 * s.size * mmPerPoint}, text, true})
	c.set(s)
	c.pdf.SetTextColor(255, 255, 255)
	c.pdf.Text(x, base, string(text))
	c.pdf.SetTextColor(0, 0, 0)
}

// rule draws a line across.
func (c *canvas) rule(x, y, w, weight float64) {
	c.pdf.SetLineWidth(weight)
	c.pdf.Line(x, y, x+w, y)
}

// frame draws the outline of a box.
func (c *canvas) frame(b box, weight float64) {
	c.pdf.SetLineWidth(weight)
	c.pdf.Rect(b.x, b.y, b.w, b.h, "D")
}
