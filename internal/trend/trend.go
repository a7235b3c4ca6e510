// Package trend says whether measurements drift, how fast, and when they will reach a limit: the slow leak that is to be
// found before it grounds.
//
// It owns a robust slope with its uncertainty, and when it is worth an alarm. It does not own what is measured, nor its
// limits, nor whether a flight may be made.
//
// The slope is that of Theil and Sen: the median of the slopes between every two measurements (H. Theil, "A rank-invariant
// method of linear and polynomial regression analysis", 1950; P. K. Sen, "Estimates of the regression coefficient based on
// Kendall's tau", Journal of the American Statistical Association 63, 1968, pages 1379 to 1389). Nearly three in ten of the
// measurements may be wrong without moving it far. Its interval is Sen's, of those same slopes: how many of them lie outside
// follows from Kendall's S, without regard to how the measurements scatter. For a few measurements that all differ the
// distribution of S is counted out; otherwise it is taken as normal, its variance corrected for ties.
package trend

import (
	"cmp"
	"math"
	"slices"
)

// Point is one measurement.
type Point struct {
	At    float64 // when: hours of time in service, or days
	Value float64
}

// Slope is how fast a value changes, by the unit of Point.At.
type Slope struct {
	PerUnit   float64
	Low, High float64 // its interval
	Last      float64 // when the last measurement was made
	Level     float64 // what the line has then
	Points    int     // it rests on
}

// Drifts reports whether the interval leaves no doubt about the direction.
func (s Slope) Drifts() bool { return s.Low > 0 || s.High < 0 }

// exactUpTo is the number of measurements up to which the distribution of Kendall's S is counted out.
const exactUpTo = 40

// SlopeOf finds the slope of measurements in any order, and the interval that holds the true one with at least the given
// confidence, such as 0.95. False: there are too few for any such interval, or all were made at one moment. Measurements
// that are no numbers are left out.
func SlopeOf(points []Point, confidence float64) (Slope, bool) {
	p := slices.DeleteFunc(slices.Clone(points), func(p Point) bool { return !finite(p.At) || !finite(p.Value) })
	return slopeOf([][]Point{p}, confidence)
}

// slopeOf finds the slope that runs have in common: only measurements of the same run are compared.
func slopeOf(runs [][]Point, confidence float64) (Slope, bool) {
	if !(confidence > 0 && confidence < 1) {
		return Slope{}, false
	}
	var compared [][]Point
	var slopes []float64
	points := 0
	for _, run := range runs {
		if len(run) < 2 {
			continue
		}
		run = slices.SortedFunc(slices.Values(run), func(a, b Point) int { return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Value, b.Value)) })
		compared = append(compared, run)
		slopes = append(slopes, between(run)...)
		points += len(run)
	}
	slices.Sort(slopes)
	outside := outside(compared, len(slopes), 1-confidence)
	if outside < 0 {
		return Slope{}, false
	}
	s := Slope{PerUnit: median(slopes), Low: slopes[outside], High: slopes[len(slopes)-1-outside], Points: points}
	s.Last = lastOf(runs)
	s.Level = levelNow(runs, s.PerUnit, s.Last)
	return s, true
}

func lastOf(runs [][]Point) float64 {
	last := math.Inf(-1)
	for _, run := range runs {
		for i := range run {
			last = max(last, run[i].At)
		}
	}
	return last
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// between is the slopes between every two measurements made at different moments.
func between(p []Point) []float64 {
	var slopes []float64
	for i := range p {
		for j := range i {
			if slope := (p[i].Value - p[j].Value) / (p[i].At - p[j].At); finite(slope) { // between two of one moment it is not
				slopes = append(slopes, slope)
			}
		}
	}
	return slopes
}

func median(sorted []float64) float64 {
	half := len(sorted) / 2
	if len(sorted)%2 == 1 {
		return sorted[half]
	}
	return sorted[half-1]/2 + sorted[half]/2
}

// levelNow is what the line has at an instant: that of the last run. Where too few measurements follow a step to be sure
// of it, it is whichever of the last two runs lies further from where the slope heads: few measurements raise no alarm.
func levelNow(runs [][]Point, slope, now float64) float64 {
	last := len(runs) - 1
	is := level(runs[last], slope, now)
	if last == 0 || len(runs[last]) >= settled {
		return is
	}
	was := level(runs[last-1], slope, now)
	if slope < 0 {
		return max(is, was)
	}
	return min(is, was)
}

// level is what the line of a run has at an instant: it goes through the median of what the slope leaves.
func level(p []Point, slope, now float64) float64 {
	rest := make([]float64, len(p))
	for i := range p {
		rest[i] = p[i].Value + slope*(now-p[i].At)
	}
	slices.Sort(rest)
	return median(rest)
}

// outside is how many of the slopes lie outside the interval at either end, or -1 where even all of them are no interval.
// The true slope lies below the k-th smallest no more often than S is so large by chance. S of several runs is the sum of
// theirs.
func outside(runs [][]Point, slopes int, doubt float64) int {
	points, spread, alike := 0, 0.0, false
	for _, run := range runs {
		points += len(run)
		spread += variance(run)
		alike = alike || tied(run)
	}
	if points <= exactUpTo && !alike {
		return exactOutside(runs, doubt)
	}
	c := normalQuantile(1-doubt/2) * math.Sqrt(spread)
	// Sen counts the M1-th smallest and the (M2+1)-th: rounded outward.
	return int(math.Floor((float64(slopes)-c)/2)) - 1
}

// tied reports whether two measurements were made at one moment, or came out alike.
func tied(p []Point) bool { return len(ties(p, at)) > 0 || len(ties(p, value)) > 0 }

func at(p Point) float64    { return p.At }
func value(p Point) float64 { return p.Value }

// ties lists how many are alike, for each value that comes more than once.
func ties(p []Point, of func(Point) float64) []int {
	count := map[float64]int{}
	for i := range p {
		count[of(p[i])]++
	}
	var groups []int
	for _, n := range count {
		if n > 1 {
			groups = append(groups, n)
		}
	}
	return groups
}

// variance is that of Kendall's S with ties in both (M. G. Kendall, "Rank correlation methods", 4th edition, 1975).
func variance(p []Point) float64 {
	n := float64(len(p))
	sum := func(groups []int, of func(x float64) float64) float64 {
		total := 0.0
		for _, g := range groups {
			total += of(float64(g))
		}
		return total
	}
	pairs := func(x float64) float64 { return x * (x - 1) }
	triples := func(x float64) float64 { return x * (x - 1) * (x - 2) }
	whole := func(x float64) float64 { return x * (x - 1) * (2*x + 5) }
	t, u := ties(p, at), ties(p, value)
	v := (whole(n) - sum(t, whole) - sum(u, whole)) / 18
	if n > 2 {
		v += sum(t, triples) * sum(u, triples) / (9 * triples(n))
	}
	return max(v+sum(t, pairs)*sum(u, pairs)/(2*pairs(n)), 0)
}

// exactOutside counts out the distribution of the number of inversions among different measurements, run by run: the
// interval leaves out k at either end if no more than half the doubt lies in k inversions or fewer.
func exactOutside(runs [][]Point, doubt float64) int {
	chance := []float64{1}
	for _, run := range runs {
		for size := 2; size <= len(run); size++ {
			chance = oneMore(chance, size)
		}
	}
	below, k := 0.0, -1
	for _, c := range chance {
		if below += c; below > doubt/2 {
			break
		}
		k++
	}
	return k
}

// oneMore is how probable each number of inversions is once a run has grown to a size: the one that comes last may stand
// anywhere among the others.
func oneMore(chance []float64, size int) []float64 {
	next := make([]float64, len(chance)+size-1)
	for i, c := range chance {
		for more := range size {
			next[i+more] += c / float64(size)
		}
	}
	return next
}

// normalQuantile is the inverse of the standard normal distribution.
func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
