package papers

// Mark is what stands for a letter that cannot be shown.
const Mark = "¤"

// Box is a rectangle of a page, in mm.
type Box struct{ X, Y, W, H float64 }

// Placed is something on a page.
type Placed struct {
	Page int
	Box
	Text  string // in the code page of the fonts
	OnBar bool
}

func (c *canvas) placedBoxes() []Placed {
	var all []Placed
	for _, p := range c.placed {
		all = append(all, Placed{p.page, Box(struct{ X, Y, W, H float64 }{p.box.x, p.box.y, p.box.w, p.box.h}), string(p.text), p.onBar})
	}
	return all
}

// PlacedPlacards is what Placards puts where.
func PlacedPlacards(list []Placard, on Label, start int) ([]Placed, error) {
	c, err := drawPlacards(list, on, start)
	if err != nil {
		return nil, err
	}
	return c.placedBoxes(), nil
}

// PlacedDeferred is what DeferredItems puts where.
func PlacedDeferred(list DeferredList, on Paper) []Placed {
	return drawDeferred(list, on).placedBoxes()
}

// PlacedLog is what LogPages puts where.
func PlacedLog(p LogPage, on Paper) []Placed { return drawLog(p, on).placedBoxes() }

// LabelBox is where a label lies on its page.
func LabelBox(l Label, place int) Box {
	b := l.at(place)
	return Box{b.x, b.y, b.w, b.h}
}

// Show is text as the fonts show it.
func Show(s string) string { return string(show(s)) }

// MarkNote is what a paper says on which the mark stands.
func MarkNote() string { return string(markNote) }
