package papers

import (
	"fmt"
	"image/color"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// quiet is the white border that a QR code needs on each side, in modules (ISO/IEC 18004, 6.3.8; from memory).
const quiet = 4

// smallestModule is the side of the smallest square of a code, in mm: three dots of a label printer with 203 dots an
// inch. Common practice.
const smallestModule = 0.375

// code is a QR code.
type code struct {
	side int // modules
	dark func(x, y int) bool
}

// encode makes the code of a text. A seventh of it may be lost and it can still be read (error correction level M).
func encode(text string) (code, error) {
	b, err := qr.Encode(text, qr.M, qr.Unicode)
	if err != nil {
		return code{}, fmt.Errorf("QR code of %q: %w", text, err)
	}
	return code{b.Bounds().Dx(), func(x, y int) bool { return b.At(x, y) == color.Black }}, nil
}

// smallest is the least side of the code with its quiet zone, in mm.
func (q code) smallest() float64 { return float64(q.side+2*quiet) * smallestModule }

// code draws a code, with its quiet zone, into the upper left of a square. Squares are joined along each row, so that no
// hairlines show between them.
func (c *canvas) code(q code, square box) {
	c.placed = append(c.placed, placed{page: c.page, box: square})
	c.pdf.SetFillColor(0, 0, 0)
	module := square.w / float64(q.side+2*quiet)
	for y := range q.side {
		for x := 0; x < q.side; x++ {
			n := 0
			for x+n < q.side && q.dark(x+n, y) {
				n++
			}
			if n > 0 {
				c.pdf.Rect(square.x+float64(x+quiet)*module, square.y+float64(y+quiet)*module, float64(n)*module, module, "F")
				x += n
			}
		}
	}
}

// Code is a QR code to be drawn on a screen or a page: dark squares on white, with the white border that it needs.
type Code struct {
	Side int    // of the whole, in modules, with its border
	Path string // of the dark squares, as the data of a path (SVG), in modules from the upper left corner
}

// CodeOf makes the code of a text. An error says that the text is too long for one.
func CodeOf(text string) (Code, error) {
	q, err := encode(text)
	if err != nil {
		return Code{}, err
	}
	var path strings.Builder
	for y := range q.side {
		for x := 0; x < q.side; x++ {
			n := 0
			for x+n < q.side && q.dark(x+n, y) {
				n++
			}
			if n > 0 {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", x+quiet, y+quiet, n, n)
				x += n
			}
		}
	}
	return Code{q.side + 2*quiet, path.String()}, nil
}
