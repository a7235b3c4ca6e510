package trend_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/trend"
)

// measurements draws values that scatter about a line, at different moments.
func measurements(t *rapid.T) []trend.Point {
	slope := float64(rapid.IntRange(-8, 8).Draw(t, "slope")) / 16
	var points []trend.Point
	at := 0.0
	for range rapid.IntRange(5, 30).Draw(t, "points") {
		at += float64(rapid.IntRange(1, 8).Draw(t, "later"))
		points = append(points, trend.Point{At: at, Value: 64 + slope*at + float64(rapid.IntRange(-64, 64).Draw(t, "scatter"))/32})
	}
	return points
}

func slopeOf(t *rapid.T, points []trend.Point) trend.Slope {
	s, ok := trend.SlopeOf(points, 0.95)
	if !ok {
		t.Fatalf("no slope of %v", points)
	}
	return s
}

func same(a, b trend.Slope) bool {
	near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-7 }
	return near(a.PerUnit, b.PerUnit) && near(a.Low, b.Low) && near(a.High, b.High) && near(a.Level, b.Level) && a.Last == b.Last && a.Points == b.Points
}

// TestShiftAndScale holds that it does not matter from where one measures, nor in which unit.
func TestShiftAndScale(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		points := measurements(t)
		by, later := float64(rapid.IntRange(-100, 100).Draw(t, "by")), float64(rapid.IntRange(-100, 100).Draw(t, "later"))
		unit := float64(int(1) << rapid.IntRange(0, 4).Draw(t, "unit"))
		var moved []trend.Point
		for _, p := range points {
			moved = append(moved, trend.Point{At: p.At + later, Value: unit*p.Value + by})
		}
		want := slopeOf(t, points)
		want.Last += later
		want.PerUnit, want.Low, want.High, want.Level = unit*want.PerUnit, unit*want.Low, unit*want.High, unit*want.Level+by
		if have := slopeOf(t, moved); !same(want, have) {
			t.Errorf("want %+v, have %+v", want, have)
		}
	})
}

// TestUpsideDown holds that a leak and a rise are judged alike.
func TestUpsideDown(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		points := measurements(t)
		var turned []trend.Point
		for _, p := range points {
			turned = append(turned, trend.Point{At: p.At, Value: -p.Value})
		}
		s := slopeOf(t, points)
		want := trend.Slope{PerUnit: -s.PerUnit, Low: -s.High, High: -s.Low, Last: s.Last, Level: -s.Level, Points: s.Points}
		if have := slopeOf(t, turned); !same(want, have) {
			t.Errorf("want %+v, have %+v", want, have)
		}
	})
}

// TestOrderDoesNotMatter holds that measurements may come in any order, and that the slope lies within its interval.
func TestOrderDoesNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		points := measurements(t)
		a, b := slopeOf(t, points), slopeOf(t, rapid.Permutation(points).Draw(t, "order"))
		if a != b {
			t.Errorf("%+v and %+v", a, b)
		}
		if a.Low > a.PerUnit || a.PerUnit > a.High {
			t.Errorf("outside of its interval: %+v", a)
		}
	})
}

// TestOutliersDoNotMoveItFar holds that of twelve measurements on a line two may be anything: of 66 slopes 45 stay what they
// are, which is more than half.
func TestOutliersDoNotMoveItFar(t *testing.T) {
	t.Parallel()
	low := 0.0
	rapid.Check(t, func(t *rapid.T) {
		var points []trend.Point
		for i := range 12 {
			points = append(points, trend.Point{At: float64(i), Value: 24 - 2*float64(i)})
		}
		for range 2 {
			points[rapid.IntRange(0, 11).Draw(t, "which")].Value = rapid.Float64Range(-1e9, 1e9).Draw(t, "wrong")
		}
		s := slopeOf(t, points)
		if s.PerUnit != -2 || s.Low > -2 || s.High < -2 {
			t.Errorf("want -2, have %+v", s)
		}
		if f := (trend.Watch{Low: &low, Now: 11, Ahead: 30, Confidence: 0.95}).Look(points); f.State == trend.Drifting {
			t.Errorf("a line that reaches its limit in a day drifts only: %+v", f)
		}
	})
}

// TestNoAlarmWithoutEnoughPoints holds it whatever was measured.
func TestNoAlarmWithoutEnoughPoints(t *testing.T) {
	t.Parallel()
	limit := 0.0
	rapid.Check(t, func(t *rapid.T) {
		var points []trend.Point
		for range rapid.IntRange(0, trend.LeastPoints-1).Draw(t, "points") {
			points = append(points, trend.Point{At: rapid.Float64().Draw(t, "at"), Value: rapid.Float64().Draw(t, "value")})
		}
		w := trend.Watch{Low: &limit, High: &limit, Now: rapid.Float64().Draw(t, "now"), Ahead: math.MaxFloat64, Confidence: 0.5}
		if f := w.Look(points); f.State != trend.TooFew {
			t.Errorf("%+v", f)
		}
	})
}
