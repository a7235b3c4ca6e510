package papers

// Measures of a page, in mm and points.
const (
	pageMargin = 12.0 // printers reach to within 6 mm of the edge; holes are punched in the rest
	barHeight  = 11.0
	footText   = 8.0
)

// sheet is the frame of a page: a bar with what it is and of which aircraft, and at the foot a caution and its number.
type sheet struct {
	width, height float64 // of the paper, mm
	title         shown
	aircraft      shown
	caution       shown
}

// inner is the width between the margins.
func (s sheet) inner() float64 { return s.width - 2*pageMargin }

var footStyle = style{true, footText}

// foot is the caution, wrapped, with room for the number of the page beside it.
func (s sheet) foot(c *canvas) []shown { return c.all(footStyle, s.caution, s.inner()-30) }

// body is the part of the page between bar and foot.
func (s sheet) body(c *canvas) box {
	top := pageMargin + barHeight + 2
	bottom := s.height - pageMargin - float64(len(s.foot(c)))*footStyle.line() - 3
	return box{pageMargin, top, s.inner(), bottom - top}
}

// begin begins page n of m.
func (s sheet) begin(c *canvas, n, m int) {
	c.addPage(s.width, s.height)
	bar := box{pageMargin, pageMargin, s.inner(), barHeight}
	c.fill(bar)
	title := style{true, 18}
	aircraft := style{true, 18}
	room := bar.w - 6 - 6 - c.width(title, s.title)
	if w := c.width(aircraft, s.aircraft); w > room {
		aircraft.size *= room / w
	}
	c.onBar(bar, bar.x+3, title, s.title)
	if aircraft.size >= footText { // else it stands on the page alone, not on the bar
		c.onBar(bar, bar.x+bar.w-3-c.width(aircraft, s.aircraft), aircraft, s.aircraft)
	}

	foot := s.foot(c)
	y := s.height - pageMargin - float64(len(foot))*footStyle.line()
	c.rule(pageMargin, y-1, s.inner(), thickRule)
	c.lines(pageMargin, y, footStyle, foot)
	number := show(pageNumber(n, m))
	c.text(s.width-pageMargin-c.width(footStyle, number), y, footStyle, number)
}
