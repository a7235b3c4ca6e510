package trend_test

import (
	"math"
	"slices"
	"testing"

	"tiedown/internal/trend"
)

// alternate reads x and y in turn.
func alternate(xy ...float64) []trend.Point {
	var points []trend.Point
	for i := 0; i < len(xy); i += 2 {
		points = append(points, trend.Point{At: xy[i], Value: xy[i+1]})
	}
	return points
}

// sen is the example of P. K. Sen, JASA 63, 1968. The paper's own list of its 21 slopes has mistakes, as the tests of the R
// package deming say; they give slope 4, intercept 6, and the fourth slope from either end, 26/7 and 35/8, as the interval.
// Counted out: of the 5040 orders of seven, 76 have at most three inversions and 174 at most four. The fourth slopes hold
// the true one in 97.0 percent of the cases, and the fifth, 15/4 and 46/11, in 93.1 percent.
var sen = alternate(1, 9, 2, 15, 3, 19, 4, 20, 10, 45, 12, 55, 18, 78)

// rain is example 9.1 of Hollander and Wolfe, "Nonparametric statistical methods" (as the R package NSM3 has it): the effect
// of cloud seeding over five years. The ten slopes, by hand: -0.15, -0.13, -0.08, -0.07, -0.0575, -0.055, -0.045, -1/30,
// 0.01, 0.04. What their median leaves at the fifth year, by hand: 1.0075, 1.03, 1.035, 1.10125, 1.10375.
var rain = alternate(1, 1.26, 2, 1.27, 3, 1.12, 4, 1.16, 5, 1.03)

func TestPublishedSlopes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name       string
		points     []trend.Point
		confidence float64
		want       trend.Slope
	}{
		{"Sen 1968", sen, 0.969, trend.Slope{PerUnit: 4, Low: 26.0 / 7, High: 35.0 / 8, Last: 18, Level: 6 + 4*18, Points: 7}},
		{"Sen 1968, 95 percent", sen, 0.95, trend.Slope{PerUnit: 4, Low: 26.0 / 7, High: 35.0 / 8, Last: 18, Level: 6 + 4*18, Points: 7}},
		{"Sen 1968, 93 percent", sen, 0.93, trend.Slope{PerUnit: 4, Low: 15.0 / 4, High: 46.0 / 11, Last: 18, Level: 6 + 4*18, Points: 7}},
		// Of 120 orders of five, one has no inversion and four have one: 5/120 of doubt at either end leave one slope out,
		// 1/120 leaves none out.
		{"Hollander and Wolfe, 90 percent", rain, 0.90, trend.Slope{PerUnit: -0.05625, Low: -0.13, High: 0.01, Last: 5, Level: 1.035, Points: 5}},
		{"Hollander and Wolfe, 95 percent", rain, 0.95, trend.Slope{PerUnit: -0.05625, Low: -0.15, High: 0.04, Last: 5, Level: 1.035, Points: 5}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			have, ok := trend.SlopeOf(c.points, c.confidence)
			if !ok || !near(have.PerUnit, c.want.PerUnit) || !near(have.Low, c.want.Low) || !near(have.High, c.want.High) ||
				!near(have.Level, c.want.Level) || have.Last != c.want.Last || have.Points != c.want.Points {
				t.Errorf("want %+v\nhave %+v, %v", c.want, have, ok)
			}
		})
	}
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a), math.Abs(b)) }

// TestNoIntervalFromTooFew holds that five orders of a hundred are needed before anything can be said at 95 percent: of
// four measurements, one order in 24 rises throughout by chance, and so does one that falls.
func TestNoIntervalFromTooFew(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		points []trend.Point
	}{
		{"none", nil},
		{"one", alternate(1, 5)},
		{"four, at 95 percent", alternate(1, 5, 2, 4, 3, 3, 4, 2)},
		{"all at one moment", alternate(1, 5, 1, 4, 1, 3, 1, 2, 1, 1, 1, 0)},
		{"none that is a number", alternate(1, math.NaN(), 2, math.Inf(1), math.NaN(), 3)},
	} {
		if s, ok := trend.SlopeOf(c.points, 0.95); ok {
			t.Errorf("%s: %+v", c.name, s)
		}
	}
	for _, confidence := range []float64{0, 1, -1, 2, math.NaN()} {
		for _, points := range [][]trend.Point{sen, tens[0].points} {
			if s, ok := trend.SlopeOf(points, confidence); ok {
				t.Errorf("confidence %v: %+v", confidence, s)
			}
		}
	}
}

// tens are ten moments and ten values of which some are alike: the groups of either, by their size.
var tens = []struct {
	name       string
	points     []trend.Point
	variance   float64
	from, till int // the slopes that bound the interval at 95 percent, counted from either end
}{
	// 10*9*25 = 2250, of which each pair of values takes 2*1*9 = 18, over 18. 1.96 times its root is 21.65, and of 45 slopes
	// (45 - 21.65)/2 = 11.7 lie outside.
	{"three pairs of values", alternate(1, 9, 2, 9, 3, 7, 4, 8, 5, 7, 6, 8, 7, 5, 8, 6, 9, 3, 10, 1), (2250 - 54) / 18.0, 11, 11},
	// Five pairs of moments take 90, and both together give (5*2)*(3*2)/(2*10*9). Of 40 slopes (40 - 21.23)/2 = 9.4.
	{
		"and five of moments", alternate(1, 9, 1, 9, 2, 7, 2, 8, 3, 7, 3, 8, 4, 5, 4, 6, 5, 3, 5, 1),
		(2250-54-90)/18.0 + 60.0/180, 9, 9,
	},
	// Groups of 3, 3 and 4 moments take 66, 66 and 156; one of 3 and one of 2 values 66 and 18. Threes give
	// (6+6+24)*6/(9*10*9*8), and pairs (6+6+12)*(6+2)/(2*10*9). Of 33 slopes (33 - 20.1)/2 = 6.4.
	{
		"threes and fours", alternate(1, 9, 1, 9, 1, 9, 2, 7, 2, 7, 2, 8, 3, 5, 3, 6, 3, 4, 3, 1),
		(2250-288-84)/18.0 + 36*6/6480.0 + 24*8/180.0, 6, 6,
	},
}

// TestTiesByHand holds the variance of Kendall's S with ties, and the interval that follows, against what is worked out by
// hand from the formulas of Kendall (1975) and Sen (1968).
func TestTiesByHand(t *testing.T) {
	t.Parallel()
	for _, c := range tens {
		if have := trend.Variance(c.points); !near(have, c.variance) {
			t.Errorf("%s: variance %v, want %v", c.name, have, c.variance)
		}
		var slopes []float64
		for _, a := range c.points {
			for _, b := range c.points {
				if b.At > a.At {
					slopes = append(slopes, (b.Value-a.Value)/(b.At-a.At))
				}
			}
		}
		slices.Sort(slopes)
		s, ok := trend.SlopeOf(c.points, 0.95)
		if low, high := slopes[c.from-1], slopes[len(slopes)-c.till]; !ok || s.Low != low || s.High != high {
			t.Errorf("%s: from %v to %v, want from %v to %v of %d", c.name, s.Low, s.High, low, high, len(slopes))
		}
	}
	if v := trend.Variance(alternate(1, 5, 1, 5)); v != 0 {
		t.Errorf("two that are alike: %v", v)
	}
}

// TestWhatIsNoNumberIsLeftOut holds that such measurements change nothing.
func TestWhatIsNoNumberIsLeftOut(t *testing.T) {
	t.Parallel()
	want, _ := trend.SlopeOf(sen, 0.95)
	none, much := math.NaN(), math.Inf(1)
	for _, p := range alternate(none, 1, 1, none, much, 1, -much, 1, 1, much, 1, -much, none, much) {
		if have, ok := trend.SlopeOf(append([]trend.Point{p}, sen...), 0.95); !ok || have != want {
			t.Errorf("with %v: %+v, want %+v", p, have, want)
		}
	}
}

func TestStatesHaveNames(t *testing.T) {
	t.Parallel()
	for state, name := range map[trend.State]string{trend.TooFew: "too-few", trend.Steady: "steady", trend.Drifting: "drifting", trend.Reaches: "reaches"} {
		if state.String() != name || trend.States()[state] != name {
			t.Errorf("%d is %s", state, state)
		}
	}
}

// TestTheNormalApproximationAgreesWithCounting holds that where ties make counting impossible the interval is that of nearly
// the same measurements without ties.
func TestTheNormalApproximationAgreesWithCounting(t *testing.T) {
	t.Parallel()
	var apart, tied []trend.Point
	for i := range 24 {
		x := float64(i)
		apart = append(apart, trend.Point{At: x, Value: 8 - 0.1*x + 0.4*math.Sin(5*x)})
	}
	tied = append(tied, apart...)
	tied[7].Value = tied[8].Value
	a, okA := trend.SlopeOf(apart, 0.95)
	b, okB := trend.SlopeOf(tied, 0.95)
	if !okA || !okB || math.Abs(a.Low-b.Low) > 0.02 || math.Abs(a.High-b.High) > 0.02 {
		t.Errorf("counted %+v, approximated %+v", a, b)
	}
}

// strut is the extension of a strut in inches, every 10 hours: it loses 0.05 in each time, and is read to the eighth.
func strut(n int, loses float64) []trend.Point {
	var points []trend.Point
	for i := range n {
		points = append(points, trend.Point{At: float64(10 * i), Value: math.Round(8*(4-loses*float64(i))) / 8})
	}
	return points
}

func TestAlarm(t *testing.T) {
	t.Parallel()
	low, high := 2.5, 5.0
	w := trend.Watch{Low: &low, High: &high, Now: 190, Ahead: 120, Confidence: 0.95}
	for _, c := range []struct {
		says   string
		watch  func(*trend.Watch)
		points []trend.Point
		want   trend.State
	}{
		{"a slow leak that reaches the limit in time", nil, strut(20, 0.05), trend.Reaches}, // 3.05 in at 190 h, 2.5 in 110 h later
		{"one too few to say anything", nil, strut(9, 0.15), trend.TooFew},
		{"one enough", nil, strut(10, 0.15), trend.Reaches},
		{"a leak so slow that the limit is far", func(w *trend.Watch) { w.Ahead = 20 }, strut(20, 0.05), trend.Drifting},
		{"nothing leaks", nil, strut(20, 0), trend.Steady},
		{"it only scatters", nil, scatter(20), trend.Steady},
		{"it gets longer, and there is no limit above", func(w *trend.Watch) { w.High = nil }, strut(20, -0.05), trend.Drifting},
		{"it gets longer, up to a limit", nil, strut(20, -0.05), trend.Reaches},
		{"it is out already", func(w *trend.Watch) { w.Now, w.Ahead = 390, 0 }, strut(40, 0.05), trend.Reaches},
		{"no confidence, no alarm", func(w *trend.Watch) { w.Confidence = 0 }, strut(20, 0.05), trend.TooFew},
	} {
		t.Run(c.says, func(t *testing.T) {
			t.Parallel()
			w := w
			if c.watch != nil {
				c.watch(&w)
			}
			if f := w.Look(c.points); f.State != c.want {
				t.Errorf("want %s, have %s: %+v", c.want, f.State, f)
			}
		})
	}
}

func scatter(n int) []trend.Point {
	var points []trend.Point
	for i := range n {
		points = append(points, trend.Point{At: float64(10 * i), Value: 3 + 0.4*float64(7*i%5-2)})
	}
	return points
}

// TestWhenALeakReachesItsLimit holds the line and what its interval makes of it.
func TestWhenALeakReachesItsLimit(t *testing.T) {
	t.Parallel()
	low := 20.0
	var points []trend.Point // a tire that loses exactly 0.5 psi a day from 30
	for i := range 12 {
		points = append(points, trend.Point{At: float64(i), Value: 30 - 0.5*float64(i)})
	}
	f := trend.Watch{Low: &low, Now: 11, Ahead: 10, Confidence: 0.95}.Look(points)
	if f.State != trend.Reaches || !f.Heads || f.Limit != low || !near(f.At, 20) || !near(f.Soonest, 20) || !near(f.Latest, 20) {
		t.Errorf("30 psi and 0.5 less a day are 20 psi on day 20: %+v", f)
	}
}
