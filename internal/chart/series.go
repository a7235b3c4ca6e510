package chart

import (
	"math"
	"slices"
)

// Point is one measurement of a series.
type Point struct {
	X, Y   float64
	Run    int  // measurements of one run are compared; 0: it is compared with none
	Filled bool // the level has risen at once since the one before
}

// Line is what measurements come to, from one place to another.
type Line struct{ X1, Y1, X2, Y2 float64 }

// Fan is where a line goes from a place on: to a value that is expected, and to the lowest and highest that it may have.
type Fan struct{ X, Y, Until, Expected, Low, High float64 }

// Tick is a place on the axis along a picture, with what stands there.
type Tick struct {
	X     float64
	Words string
}

// Series is measurements over time with what they are held against and what they come to.
type Series struct {
	Words
	Unit      string
	Points    []Point
	Low, High *float64 // limits
	Lines     []Line   // one a run
	Fan       *Fan     // nil: nothing is said of what is to come
	Now       float64
	Reaches   *Tick // when a limit is reached, by the line; nil: it is not, as far as the picture goes
	Limit     float64
	Ticks     []Tick
}

// Where the parts of a series stand, in pixels from the top, and in shares of the width.
const (
	seriesHeight = 268.0
	seriesTop    = 36.0
	seriesBottom = 226.0
	seriesLeft   = .08
	seriesRight  = .97
	letters      = 13.0 // height of a line of letters
)

// Draw draws it. Without a measurement it is empty.
func (s *Series) Draw() Markup {
	d := begin("series", seriesHeight, s.Words)
	xs, ys := s.scales()
	x := func(v float64) float64 { return seriesLeft + xs.at(v)*(seriesRight-seriesLeft) }
	y := func(v float64) float64 { return seriesBottom - ys.at(v)*(seriesBottom-seriesTop) }
	for _, v := range ys.ticks(4) {
		d.line("grid", 0, y(v), 1, y(v))
	}
	if f := s.Fan; f != nil {
		var corners [][2]float64
		for _, at := range append(f.edge(f.High, ys), backward(f.edge(f.Low, ys))...) {
			corners = append(corners, [2]float64{x(at[0]), y(at[1])})
		}
		d.area("band", corners...)
	}
	s.limits(d, y)
	if finite(s.Now) && s.Now >= xs.least && s.Now <= xs.most && s.Now != 0 {
		d.line("now", x(s.Now), 16, x(s.Now), seriesBottom)
		d.text("scale", x(s.Now), 12, sideOf(x(s.Now)), "now")
	}
	for _, l := range s.Lines {
		d.line("slope", x(l.X1), y(l.Y1), x(l.X2), y(l.Y2))
	}
	if f := s.Fan; f != nil {
		edge := f.edge(f.Expected, ys)
		d.line("slope ahead", x(f.X), y(f.Y), x(edge[1][0]), y(edge[1][1]))
	}
	for _, p := range s.Points {
		switch {
		case p.Run == 0:
			d.mark("left-out", cross, x(p.X), y(p.Y))
		case p.Filled:
			d.mark("filled", upward, x(p.X), y(p.Y))
		default:
			d.dot("point", x(p.X), y(p.Y), 3)
		}
	}
	if r := s.Reaches; r != nil {
		d.mark("reach", diamond, x(r.X), y(s.Limit))
	}
	for i, v := range ys.ticks(4) {
		label := Number(v)
		if i == 0 {
			label += " " + s.Unit
		}
		d.text("scale", 0, y(v)-3, start, label)
	}
	for _, t := range s.Ticks {
		if !finite(t.X) {
			continue
		}
		d.line("tick", x(t.X), seriesBottom+16, x(t.X), seriesBottom+22)
		d.text("scale", x(t.X), seriesBottom+34, sideOf(x(t.X)), t.Words)
	}
	return d.end()
}

// edge is where a line of the fan goes: from its place to where it ends or leaves the scale, and along the edge of the scale
// from there.
func (f *Fan) edge(to float64, ys scale) [][2]float64 {
	out := min(max(to, ys.least), ys.most)
	leaves := f.Until
	if out != to {
		leaves = f.X + (f.Until-f.X)*((out-f.Y)/(to-f.Y))
	}
	return [][2]float64{{f.X, f.Y}, {leaves, out}, {f.Until, out}}
}

func backward(all [][2]float64) [][2]float64 {
	slices.Reverse(all)
	return all
}

// limits draws the limits, each with its words on its own side.
func (s *Series) limits(d *drawing, y func(float64) float64) {
	for _, l := range []struct {
		at    *float64
		words string
		down  float64
	}{{s.High, "at most ", -5}, {s.Low, "at least ", letters}} {
		if l.at == nil || !finite(*l.at) {
			continue
		}
		d.line("limit", 0, y(*l.at), 1, y(*l.at))
		d.text("limit-words", 1, y(*l.at)+l.down, finish, l.words+Number(*l.at)+" "+s.Unit)
	}
}

// sideOf keeps words at a place from running out of the picture.
func sideOf(x float64) anchor {
	switch {
	case x < .15:
		return start
	case x > .85:
		return finish
	default:
		return middle
	}
}

// scales span everything that is drawn.
func (s *Series) scales() (xs, ys scale) {
	var along, up []float64
	for _, p := range s.Points {
		along, up = append(along, p.X), append(up, p.Y)
	}
	for _, l := range s.Lines {
		along, up = append(along, l.X1, l.X2), append(up, l.Y1, l.Y2)
	}
	if f := s.Fan; f != nil {
		along, up = append(along, f.X, f.Until), append(up, f.Y)
	}
	if s.Reaches != nil {
		along = append(along, s.Reaches.X)
	}
	if s.Now != 0 {
		along = append(along, s.Now)
	}
	for _, l := range []*float64{s.Low, s.High} {
		if l != nil {
			up = append(up, *l)
		}
	}
	return scaleOf(along...), scaleOf(up...)
}

// Spark draws the course of a series small, with its limits.
func (s *Series) Spark() Markup {
	const height, top, bottom = 44.0, 5.0, 39.0
	d := begin("spark", height, s.Words)
	bare := Series{Points: s.Points, Low: s.Low, High: s.High}
	xs, ys := bare.scales()
	x := func(v float64) float64 { return .02 + xs.at(v)*.94 }
	y := func(v float64) float64 { return bottom - ys.at(v)*(bottom-top) }
	for _, l := range []*float64{s.Low, s.High} {
		if l != nil {
			d.line("limit", 0, y(*l), 1, y(*l))
		}
	}
	last := Point{X: math.NaN()}
	for _, p := range s.Points {
		if p.Run == 0 || !finite(p.X, p.Y) {
			continue
		}
		if p.Run == last.Run {
			d.line("course", x(last.X), y(last.Y), x(p.X), y(p.Y))
		}
		last = p
	}
	d.dot("point", x(last.X), y(last.Y), 4)
	return d.end()
}
