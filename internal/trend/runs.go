package trend

import (
	"math"
	"slices"
)

// Levels that are topped up rise at once and fall slowly: a filling is no recovery. Measurements are therefore compared with
// each other only between two steps, as R. M. Hirsch, J. R. Slack and R. A. Smith compare a month's with that month's alone
// ("Techniques of trend analysis for monthly water quality data", Water Resources Research 18, 1982, pages 107 to 121;
// from memory): slopes of all runs are put together, and so are their Kendall's S.

const (
	// stepScatter is how many times the scatter of what lies between two measurements a step is: our choice. With more,
	// fillings of a level that is read roughly are overlooked; with less, scatter is parted, and the interval is narrower
	// than it says. TestHowOftenItIsWrong has the figures.
	stepScatter = 3
	// stepFinest is how many times the finest difference on record a step is at least: what is read off in whole pounds or
	// half quarts changes by one of them without being filled.
	stepFinest = 2
	// madToDeviation turns a median of absolute deviations into the standard deviation of a normal distribution.
	madToDeviation = 1.4826
	// settled is the number of measurements after a step from which on they alone say where the level is: fewer may be a
	// slip of the pen.
	settled = 3
)

// Runs is a series of measurements in parts between which the level moved at once: it was filled up, let off or lost.
type Runs struct {
	Parts [][]Point
	Of    []int // the part of each measurement, in the order in which they were made; Outside for one that is in none
}

// Outside is the part of a measurement that is off by a step, where the next is back: a slip of the pen.
const Outside = -1

// Out is how many measurements are in no part.
func (r Runs) Out() int {
	out := 0
	for _, part := range r.Of {
		if part == Outside {
			out++
		}
	}
	return out
}

// Compared is how many measurements are compared with others.
func (r Runs) Compared() int {
	n := 0
	for _, part := range r.Parts {
		if len(part) > 1 {
			n += len(part)
		}
	}
	return n
}

// Part parts measurements, in the order in which they were made, at the steps: where two that follow each other differ by
// more than scatter and the usual rate explain, and the one after does not go back. Those that are no numbers are left out.
func Part(points []Point) Runs {
	p := slices.DeleteFunc(slices.Clone(points), func(p Point) bool { return !finite(p.At) || !finite(p.Value) })
	steps := stepsOf(p)
	var r Runs
	for i := range p {
		last := len(r.Parts) - 1
		switch {
		case last >= 0 && !steps(r.end(), p[i]):
			r.Parts[last] = append(r.Parts[last], p[i])
		case last >= 0 && i+1 < len(p) && !steps(r.end(), p[i+1]):
			r.Of = append(r.Of, Outside)
			continue
		default:
			r.Parts = append(r.Parts, []Point{p[i]})
			last++
		}
		r.Of = append(r.Of, last)
	}
	return r
}

// end is the last measurement so far.
func (r *Runs) end() Point {
	part := r.Parts[len(r.Parts)-1]
	return part[len(part)-1]
}

// Steps are how far the level moved at once, each time: up is more than nothing.
func (r Runs) Steps() []float64 {
	var steps []float64
	for i := 1; i < len(r.Parts); i++ {
		before := r.Parts[i-1]
		steps = append(steps, r.Parts[i][0].Value-before[len(before)-1].Value)
	}
	return steps
}

// stepsOf works out what is a step in a series.
func stepsOf(p []Point) func(a, b Point) bool {
	finest := finestOf(p)
	if finest == 0 {
		return func(_, _ Point) bool { return false }
	}
	var rates, rest []float64
	for i := 1; i < len(p); i++ {
		if rate := (p[i].Value - p[i-1].Value) / (p[i].At - p[i-1].At); finite(rate) {
			rates = append(rates, rate)
		}
	}
	usual := middle(rates)
	off := func(a, b Point) float64 { return math.Abs(b.Value - a.Value - usual*(b.At-a.At)) }
	for i := 1; i < len(p); i++ {
		rest = append(rest, off(p[i-1], p[i]))
	}
	least := max(stepScatter*madToDeviation*middle(rest), stepFinest*finest)
	return func(a, b Point) bool { return off(a, b) >= least*(1-rounding) }
}

// rounding is what decimal fractions lose in binary.
const rounding = 1e-9

// finestOf is the smallest difference between two values that differ; 0 if none do.
func finestOf(p []Point) float64 {
	values := make([]float64, len(p))
	for i := range p {
		values[i] = p[i].Value
	}
	slices.Sort(values)
	finest := 0.0
	for i := 1; i < len(values); i++ {
		if d := values[i] - values[i-1]; d > rounding*max(1, math.Abs(values[i])) && (finest == 0 || d < finest) {
			finest = d
		}
	}
	return finest
}

// middle is the median of values in any order; 0 of none.
func middle(values []float64) float64 {
	if len(values) == 0 {
		return 0
	}
	slices.Sort(values)
	return median(values)
}

// Slope finds the slope that the runs have in common, as SlopeOf does of one. A run of one measurement is compared with
// none, and does not count.
func (r Runs) Slope(confidence float64) (Slope, bool) { return slopeOf(r.Parts, confidence) }
