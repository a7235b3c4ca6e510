package trend_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/trend"
)

// oil is a level that falls by a tenth of a quart an hour and is filled up whenever it is below six: read each second hour.
func oil(hours int) []trend.Point {
	var points []trend.Point
	level := 8.0
	for at := 0; at <= hours; at += 2 {
		points = append(points, trend.Point{At: float64(at), Value: math.Round(level*10) / 10})
		if level < 5.9 {
			level = 8
		}
		level -= 0.2
	}
	return points
}

// TestAFillingIsNoRecovery holds that a level which is topped up again and again is seen to fall as fast as it does between
// the fillings, where all measurements taken together show next to nothing.
func TestAFillingIsNoRecovery(t *testing.T) {
	t.Parallel()
	points := oil(80)
	naive, _ := trend.SlopeOf(points, 0.95)
	runs := trend.Part(points)
	s, ok := runs.Slope(0.95)
	if !ok || math.Abs(s.PerUnit+0.1) > 1e-9 || s.Low > -0.1+1e-9 || s.High < -0.1-1e-9 || s.High >= 0 {
		t.Errorf("it falls by a tenth an hour: %+v", s)
	}
	if naive.High < 0 {
		t.Errorf("with the fillings it does not fall beyond doubt: %+v", naive)
	}
	steps := runs.Steps()
	if len(steps) != 3 || runs.Out() != 0 {
		t.Fatalf("filled up three times: %v, %d left out", steps, runs.Out())
	}
	for _, step := range steps { // from 5.8 to 7.8
		if math.Abs(step-2) > 1e-9 {
			t.Errorf("two quarts each time: %v", steps)
		}
	}
}

// TestWhatIsAStep holds what is taken for a filling, what for a slip of the pen, and what for neither.
func TestWhatIsAStep(t *testing.T) {
	t.Parallel()
	for what, c := range map[string]struct {
		values []float64
		of     []int
	}{
		"nothing":                                {nil, nil},
		"one measurement":                        {[]float64{30}, []int{0}},
		"nothing changes":                        {[]float64{30, 30, 30}, []int{0, 0, 0}},
		"whole pounds, one at a time":            {[]float64{30, 30, 30, 29, 29, 29, 28, 28}, []int{0, 0, 0, 0, 0, 0, 0, 0}},
		"filled up":                              {[]float64{30, 29, 28, 27, 26, 32, 31, 30}, []int{0, 0, 0, 0, 0, 1, 1, 1}},
		"filled up at last":                      {[]float64{30, 29, 28, 27, 26, 32}, []int{0, 0, 0, 0, 0, 1}},
		"a slip of the pen":                      {[]float64{30, 29, 82, 27, 26, 25}, []int{0, 0, trend.Outside, 0, 0, 0}},
		"a slip of the pen at the first":         {[]float64{92, 29, 28, 27, 26, 25}, []int{0, 1, 1, 1, 1, 1}},
		"let off at once":                        {[]float64{30, 30, 29, 29, 22, 22, 21}, []int{0, 0, 0, 0, 1, 1, 1}},
		"measured low, corrected, filled up":     {[]float64{8, 7.8, 7.6, 1.4, 7.4, 7.2, 7, 9}, []int{0, 0, 0, trend.Outside, 0, 0, 0, 1}},
		"two slips of the pen, one by the other": {[]float64{30, 30, 29, 60, 60, 29, 29, 28}, []int{0, 0, 0, 1, 1, 2, 2, 2}},
	} {
		var points []trend.Point
		for i, v := range c.values {
			points = append(points, trend.Point{At: float64(i), Value: v})
		}
		if r := trend.Part(points); !slices.Equal(r.Of, c.of) {
			t.Errorf("%s: want %v, have %v", what, c.of, r.Of)
		}
	}
}

// TestAGapOfManyDaysIsNoStep holds that what falls at its usual rate while nobody looks is no step.
func TestAGapOfManyDaysIsNoStep(t *testing.T) {
	t.Parallel()
	points := []trend.Point{{0, 40}, {1, 39}, {2, 38}, {3, 37}, {4, 36}, {20, 20}, {21, 19}}
	if r := trend.Part(points); len(r.Parts) != 1 {
		t.Errorf("%v", r.Of)
	}
}

// TestJustFilledUpRaisesNoAlarm holds that one measurement or two after a step, up or down, do not bring the alarm: they
// may be a slip of the pen; and that three do.
func TestJustFilledUpRaisesNoAlarm(t *testing.T) {
	t.Parallel()
	limit := 5.0
	w := func(now float64) trend.Watch { return trend.Watch{Low: &limit, Now: now, Ahead: 3, Confidence: 0.95} }
	points := make([]trend.Point, 0, 20)
	for at := range 15 {
		points = append(points, trend.Point{At: float64(at), Value: 9 - 0.25*float64(at)}) // 5.5 at the last
	}
	state := func(more ...trend.Point) trend.Finding {
		all := slices.Concat(points, more)
		return w(all[len(all)-1].At).LookAt(trend.Part(all))
	}
	if f := state(); f.State != trend.Reaches || math.Abs(f.At-16) > 1e-9 {
		t.Errorf("half a quart above the limit: %+v", f)
	}
	if f := state(trend.Point{At: 15, Value: 9}); f.State != trend.Drifting || math.Abs(f.Slope.Level-9) > 1e-9 {
		t.Errorf("just filled up: %+v", f)
	}
	high := slices.Clone(points)
	for i := range high {
		high[i].Value += 10
	}
	low := func(n int) trend.Finding {
		all := slices.Clone(high)
		for i := range n {
			all = append(all, trend.Point{At: float64(15 + i), Value: 5.75 - 0.25*float64(i)})
		}
		return w(all[len(all)-1].At).LookAt(trend.Part(all))
	}
	if f := low(2); f.State != trend.Drifting {
		t.Errorf("two low ones may be slips of the pen: %+v", f)
	}
	if f := low(3); f.State != trend.Reaches {
		t.Errorf("three are not: %+v", f)
	}
}

// TestHowOftenItIsWrong draws series and counts how many are said to drift: of those that do not, little more than the one in
// twenty that an interval of 95 percent allows; of leaks that fillings hide, most.
func TestHowOftenItIsWrong(t *testing.T) {
	t.Parallel()
	const series = 1000
	for what, c := range map[string]struct {
		points                          int
		leak, scatter, readTo, filledUp float64
		fewest, most                    int // said to drift
		mostTogether                    int // with all measurements compared
	}{
		"steady, twelve":                {12, 0, 0.1, 0, 0, 20, 100, 70},
		"steady, thirty":                {30, 0, 0.1, 0, 0, 20, 80, 70},
		"steady, read to a pound":       {30, 0, 0.6, 1, 0, 0, 50, 50},
		"leaking, read to a pound":      {60, 0.25, 0.6, 1, 5, 650, 1000, 50},
		"leaking, read to half a quart": {40, 0.2, 0.15, 0.5, 2, 350, 1000, 50},
		"leaking, read to a tenth":      {40, 0.1, 0.1, 0.1, 2, 990, 1000, 1000},
	} {
		random := rand.New(rand.NewPCG(7, 7))
		drift, together := 0, 0
		for range series {
			points := make([]trend.Point, c.points)
			lost := 0.0
			for i := range points {
				value := 32 - lost + random.NormFloat64()*c.scatter
				if c.readTo > 0 {
					value = math.Round(value/c.readTo) * c.readTo
				}
				points[i] = trend.Point{At: float64(i), Value: value}
				if lost += c.leak; c.filledUp > 0 && lost > c.filledUp {
					lost = 0
				}
			}
			if s, ok := trend.Part(points).Slope(0.95); ok && s.Drifts() {
				drift++
			}
			if s, ok := trend.SlopeOf(points, 0.95); ok && s.Drifts() {
				together++
			}
		}
		if drift < c.fewest || drift > c.most || together > c.mostTogether {
			t.Errorf("%s: %d of %d drift, %d with all measurements taken together", what, drift, series, together)
		}
	}
}

// TestRunsOfOneSayNothing holds that where each measurement follows a filling there is nothing to compare.
func TestRunsOfOneSayNothing(t *testing.T) {
	t.Parallel()
	r := trend.Runs{}
	for at := range 20 {
		r.Parts = append(r.Parts, []trend.Point{{At: float64(at), Value: float64(at % 3)}})
	}
	if _, ok := r.Slope(0.95); ok || r.Compared() != 0 {
		t.Error("a slope of measurements that are not compared")
	}
}

// TestWithoutStepsNothingChanges holds that measurements without a step are judged as they always were.
func TestWithoutStepsNothingChanges(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		points := measurements(t)
		runs := trend.Part(points)
		if len(runs.Of) != len(points) {
			t.Fatalf("%d measurements in %v", len(points), runs.Of)
		}
		in := 0
		for _, part := range runs.Parts {
			in += len(part)
		}
		if in+runs.Out() != len(points) {
			t.Errorf("%d in parts, %d out, of %d", in, runs.Out(), len(points))
		}
		if len(runs.Parts) == 1 && runs.Out() == 0 {
			if s, ok := runs.Slope(0.95); !ok || !same(s, slopeOf(t, points)) {
				t.Errorf("%+v, %+v", s, slopeOf(t, points))
			}
		}
	})
}

// TestOneMistypedValueMovesLittle holds that whatever is typed in place of one measurement in the middle, the slope stays
// within the interval of those that are right.
func TestOneMistypedValueMovesLittle(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		points := oil(80)
		i := rapid.IntRange(2, len(points)-3).Draw(t, "which")
		points[i].Value = float64(rapid.IntRange(-9999, 9999).Draw(t, "typed")) / 10
		s, ok := trend.Part(points).Slope(0.95)
		if !ok || math.Abs(s.PerUnit+0.1) > 0.01 || s.High >= 0 {
			t.Errorf("%+v", s)
		}
	})
}
