package papers

import "slices"

// row is a row of a page: cells side by side, each with its share of the width.
type row struct {
	shares []float64
	cells  []cell
	weight float64 // of the rule below the row, mm
	laid   [][]laidLine
}

// cell is paragraphs below each other.
type cell []cellText

// cellText is a paragraph of a cell. A label stands above a value, in smaller letters.
type cellText struct {
	text  shown
	bold  bool
	label bool
}

// laidLine is a line of a cell as it is printed.
type laidLine struct {
	style style
	text  shown
}

const (
	cellPadding = 0.9 // mm above and below the text of a row
	columnGap   = 2.5 // mm between columns
	labelScale  = 0.8 // size of a label beside that of the text
	thinRule    = 0.15
	thickRule   = 0.5
)

// lay wraps the row's text for a width.
func (c *canvas) lay(r row, width, size float64) row {
	r.laid = make([][]laidLine, len(r.cells))
	for i, texts := range r.cells {
		w := width*r.shares[i] - columnGap
		for _, t := range texts {
			s := style{t.bold, size}
			if t.label {
				s.size *= labelScale
			}
			for _, line := range c.all(s, t.text, w) {
				r.laid[i] = append(r.laid[i], laidLine{s, line})
			}
		}
	}
	return r
}

func (c *canvas) layAll(rows []row, width, size float64) []row {
	laid := make([]row, len(rows))
	for i, r := range rows {
		laid[i] = c.lay(r, width, size)
	}
	return laid
}

func linesHeight(lines []laidLine) float64 {
	h := 0.0
	for _, l := range lines {
		h += l.style.line()
	}
	return h
}

// height is the height of a row that has been laid, in mm.
func (r row) height() float64 {
	h := 0.0
	for _, lines := range r.laid {
		h = max(h, linesHeight(lines))
	}
	return h + 2*cellPadding
}

func heights(rows []row) float64 {
	h := 0.0
	for _, r := range rows {
		h += r.height()
	}
	return h
}

// split takes off a row what fits into a height, and at least a line.
func (r row) split(height float64) (head, rest row) {
	head, rest = r, r
	head.laid, rest.laid = make([][]laidLine, len(r.laid)), make([][]laidLine, len(r.laid))
	head.weight = 0
	for i, lines := range r.laid {
		n := 0
		for n < len(lines) && linesHeight(lines[:n+1])+2*cellPadding <= height {
			n++
		}
		n = min(max(n, 1), len(lines))
		head.laid[i], rest.laid[i] = lines[:n], lines[n:]
	}
	if len(rest.laid[0]) == 0 && len(r.laid[0]) > 0 {
		first := r.laid[0][0]
		rest.laid[0] = []laidLine{first, {style{false, first.style.size}, "(continued)"}}
	}
	return head, rest
}

// paginate divides rows into pages of a height. A row goes to a page as a whole if it can.
func paginate(rows []row, height float64) [][]row {
	pages := [][]row{{}}
	left := height
	for queue := slices.Clone(rows); len(queue) > 0; {
		r := queue[0]
		last := &pages[len(pages)-1]
		switch h := r.height(); {
		case h <= left:
			*last = append(*last, r)
			left -= h
			queue = queue[1:]
		case len(*last) > 0:
			pages = append(pages, nil)
			left = height
		default: // taller than a page
			head, rest := r.split(left)
			*last = append(*last, head)
			queue[0] = rest
			pages = append(pages, nil)
		}
	}
	return pages
}

// rows draws rows below each other and returns where the next would be.
func (c *canvas) rows(rows []row, x, y, width float64) float64 {
	for _, r := range rows {
		at := x
		for i, lines := range r.laid {
			down := y + cellPadding
			for _, l := range lines {
				c.text(at, down, l.style, l.text)
				down += l.style.line()
			}
			at += width * r.shares[i]
		}
		y += r.height()
		if r.weight > 0 {
			c.rule(x, y, width, r.weight)
		}
	}
	return y
}
