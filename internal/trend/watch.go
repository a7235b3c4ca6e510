package trend

// LeastPoints is the number of measurements below which nothing is said. R. O. Gilbert, "Statistical methods for
// environmental pollution monitoring", 1987, lets the normal approximation stand from ten (from memory).
const LeastPoints = 10

// State says what measurements come to. The zero value raises no alarm, and gives no comfort either.
type State uint8

// The states.
const (
	TooFew   State = iota // nothing can be said
	Steady                // no direction is beyond doubt
	Drifting              // it changes, and reaches no limit within the time looked ahead
	Reaches               // it changes, and reaches a limit within that time: an alarm
)

// States lists the names of the states, in the order of their numbers.
func States() []string { return []string{"too-few", "steady", "drifting", "reaches"} }

func (s State) String() string { return States()[s] }

// Watch says what measurements are held against.
type Watch struct {
	Low, High  *float64 // limits; nil: there is none
	Now        float64  // the moment that is looked ahead from, by the unit of Point.At
	Ahead      float64  // how far
	Confidence float64  // of the slope's interval, such as 0.95
}

// Finding is what measurements come to.
type Finding struct {
	State State
	Slope Slope   // zero where there are too few
	Limit float64 // that the line heads for, unless State is too-few or steady or there is none
	Heads bool    // there is such a limit

	At      float64 // when the line reaches it: not before Now
	Soonest float64 // with the steepest slope of the interval
	Latest  float64 // with the flattest
}

// Look holds measurements, in any order, against limits. It raises an alarm only where there are enough of them, their
// slope is beyond doubt, and its line reaches a limit within the time looked ahead.
func (w Watch) Look(points []Point) Finding {
	slope, _ := SlopeOf(points, w.Confidence)
	return w.find(slope)
}

// LookAt holds measurements between steps against limits, as Look does.
func (w Watch) LookAt(runs Runs) Finding {
	slope, _ := runs.Slope(w.Confidence)
	return w.find(slope)
}

func (w Watch) find(slope Slope) Finding {
	if slope.Points < LeastPoints {
		return Finding{}
	}
	f := Finding{State: Steady, Slope: slope}
	if !slope.Drifts() {
		return f
	}
	f.State = Drifting
	limit, flat, steep := w.High, slope.Low, slope.High
	if slope.PerUnit < 0 {
		limit, flat, steep = w.Low, slope.High, slope.Low
	}
	if limit == nil {
		return f
	}
	f.Limit, f.Heads = *limit, true
	reaches := func(perUnit float64) float64 { return max(slope.Last+(*limit-slope.Level)/perUnit, w.Now) }
	f.At, f.Soonest, f.Latest = reaches(slope.PerUnit), reaches(steep), reaches(flat)
	if f.At <= w.Now+w.Ahead {
		f.State = Reaches
	}
	return f
}
