package chart

import "cmp"

// Left is how much is left of an interval.
type Left struct {
	Words
	Share   float64 // of the interval, from 0 to 1; less than 0: it is over
	Unknown bool    // nobody knows
}

// Draw draws it: a bar that is full at the beginning. What is over is drawn in slanted strokes, what is not known as an empty
// frame of dashes.
func (l *Left) Draw() Markup {
	const height, bar = 16.0, 12.0
	d := begin("left", height, l.Words)
	switch {
	case l.Unknown || !finite(l.Share):
		d.rect("frame-unknown", .004, 2, .992, bar)
		d.text("inside", .5, bar, middle, "?")
	case l.Share < 0:
		d.rect("frame-over", .004, 2, .992, bar)
		d.strokes("over", slanted(.004, 2, .992, bar, .06))
	default:
		d.rect("frame", .004, 2, .992, bar)
		class := "left"
		if l.Share < soon {
			class = "left soon"
		}
		d.rect(class, .004, 2, max(within(l.Share, 1)*.992, .012), bar)
		for _, quarter := range []float64{.25, .5, .75} {
			d.line("quarter", quarter, 2, quarter, 2+bar)
		}
	}
	return d.end()
}

// soon is the share below which a bar says that little is left. It is our choice, and only a manner of drawing.
const soon = .1

// Part is one reason of several that share something out.
type Part struct {
	Class string // of the style: it has a shape of its own in shapes
	Share float64
}

// Column is how one day is shared out, from the bottom; what the parts leave is free.
type Column struct {
	Label  string
	Strong bool // its label is drawn: a day that begins something
	Parts  []Part
}

// Columns is several days side by side.
type Columns struct {
	Words
	Columns []Column
}

// shapes tells reasons apart without color: how wide they stand, and how they are filled.
var shapes = map[string]struct {
	width  float64 // share of the column
	letter string
	lines  bool
}{
	"grounded": {1, "G", true}, "defer": {1, "D", true}, "unknown": {1, "?", false}, "blocked": {1, "B", false}, "held": {.7, "H", false}, "booked": {.7, "F", false},
}

// Draw draws it.
func (c *Columns) Draw() Markup {
	const height, top, bottom = 92.0, 2.0, 74.0
	d := begin("columns", height, c.Words)
	if len(c.Columns) == 0 {
		return d.end()
	}
	wide := 1 / float64(len(c.Columns))
	var frames, lines [][4]float64
	for i, column := range c.Columns {
		x, width := float64(i)*wide+wide*.05, wide*.9
		frames = append(frames, [4]float64{x, top, x + width, top}, [4]float64{x, bottom, x + width, bottom}, [4]float64{x, top, x, bottom}, [4]float64{x + width, top, x + width, bottom})
		at := bottom
		for n, p := range column.Parts {
			if !finite(p.Share) {
				continue
			}
			shape := shapes[p.Class]
			tall, across := min(within(p.Share, 1)*(bottom-top), at-top), width*cmp.Or(shape.width, 1)
			left := x + (width-across)/2
			d.rect("p-"+p.Class, left, at-tall, across, tall)
			if shape.lines && tall > 8 {
				lines = append(lines, slanted(left, at-tall, across, tall, wide*.46)...)
			}
			if tall > letters && !c.goesOn(i, n) {
				d.text("p-letter p-letter-"+p.Class, x+width/2, at-tall/2+4.5, middle, shape.letter)
			}
			at -= tall
		}
		if column.Strong {
			d.text("scale strong", x+width/2, height-4, middle, column.Label)
		}
	}
	d.strokes("frame", frames)
	d.strokes("p-lines", lines)
	return d.end()
}

// goesOn reports whether a part is that of the column before, so that it needs no letter of its own.
func (c *Columns) goesOn(column, part int) bool {
	return column > 0 && part < len(c.Columns[column-1].Parts) && c.Columns[column-1].Parts[part] == c.Columns[column].Parts[part]
}

// Letter is what stands in the parts of a class where there is room; empty if it has none.
func Letter(class string) string { return shapes[class].letter }

// Age is how long something has been put off, and for how long it may still be.
type Age struct {
	Words
	Since float64 // days
	Left  float64 // days; less than 0: it is over by so many
}

// Ages draw to one scale, so that they can be compared.
type Ages struct{ since, left float64 }

// AgesOf finds the scale for ages.
func AgesOf(all []Age) Ages {
	a := Ages{1, 1}
	for _, age := range all {
		if finite(age.Since) {
			a.since = max(a.since, min(age.Since, mostDays))
		}
		if finite(age.Left) {
			a.left = max(a.left, min(age.Left, mostDays))
		}
	}
	return a
}

// mostDays bounds the scale: ten years.
const mostDays = 3660

// Draw draws one: to the left of today how long ago it began, solid; to the right what is left, framed. What has passed since
// it was over is in slanted strokes.
func (a Ages) Draw(age Age) Markup {
	const height, bar = 24.0, 14.0
	d := begin("age", height, age.Words)
	// Both sides are drawn to one scale, and neither is less than a fifth of the picture.
	today := within(a.since/(a.since+a.left), 1)
	today = min(max(today, .2), .8)
	day := min(today/a.since, (1-today)/a.left) * .98
	since, left := within(age.Since, mostDays), min(age.Left, mostDays)
	d.line("axis", 0, height/2, 1, height/2)
	d.rect("since", today-since*day, 5, since*day, bar)
	switch {
	case !finite(age.Left):
	case left < 0:
		over := min(-left, since)
		d.rect("frame-over", today-over*day, 5, over*day, bar)
		d.strokes("over", slanted(today-over*day, 5, over*day, bar, .03))
		d.mark("overdue", diamond, today, height/2)
	default:
		d.rect("remains", today, 5, max(left*day, .01), bar)
	}
	d.line("today", today, 0, today, height)
	return d.end()
}
