package daylight

import (
	"math"
	"slices"
	"time"
)

// LongestWindow is the longest stretch of time that Along looks into. It bounds the cost, which grows with the length
// of the window and the number of places: some 25 microseconds a day, so 10 milliseconds for the longest (measured).
const LongestWindow = 400 * 24 * time.Hour

// Span is a stretch of time from From up to, but not including, To.
type Span struct{ From, To time.Time }

// Light is the dark of a flight. Spans are in order of time, don't overlap, and lie within the window asked about.
type Light struct {
	// Night is night in the sense of 14 CFR 1.1, from the end of evening civil twilight to the beginning of morning
	// civil twilight: the sun's centre more than 6 degrees below the horizon.
	Night []Span
	// SunDown is from sunset to sunrise, when 14 CFR 91.209 demands lighted position lights: the sun's centre more
	// than 50 minutes of arc below the horizon. It contains Night.
	SunDown []Span
}

// AnyNight reports whether any part is night.
func (l Light) AnyNight() bool { return len(l.Night) > 0 }

// AnySunDown reports whether any part lies between sunset and sunrise.
func (l Light) AnySunDown() bool { return len(l.SunDown) > 0 }

// NightTotal is how long it is night in all.
func (l Light) NightTotal() time.Duration { return total(l.Night) }

// SunDownTotal is how long the sun is down in all.
func (l Light) SunDownTotal() time.Duration { return total(l.SunDown) }

func total(spans []Span) time.Duration {
	var sum time.Duration
	for _, s := range spans {
		sum += s.To.Sub(s.From)
	}
	return sum
}

// Until is the dark of the part of the flight that ends at an instant.
func (l Light) Until(end time.Time) Light {
	return Light{Night: until(l.Night, end), SunDown: until(l.SunDown, end)}
}

func until(spans []Span, end time.Time) []Span {
	var kept []Span
	for _, s := range spans {
		if s.To.After(end) {
			s.To = end
		}
		if s.From.Before(s.To) {
			kept = append(kept, s)
		}
	}
	return kept
}

// Along works out the light on the ground below a flight from one instant to another over the places of a route.
// The flight follows the great circle from each place to the next at one speed throughout, and stays put if the
// route is one place or the same place again and again. Between exactly opposite places, where every great circle is
// as short, it sets off along the meridian to the north.
//
// Each span begins and ends within a second of the sun's crossing, and no dark or light part longer than a second is
// missed.
//
// What can't be worked out counts as dark, the side on which more is asked of the aircraft: with a place that isn't
// valid or a window longer than LongestWindow, the whole window is night and sun-down. Without any place, or with a
// window that ends no later than it begins, there is nothing to report on and the answer is the zero Light; it must
// not be read as a flight by day.
func Along(route []Place, from, to time.Time) Light {
	if len(route) == 0 || !from.Before(to) {
		return Light{}
	}
	window := to.Sub(from)
	if window > LongestWindow || slices.ContainsFunc(route, Place.unknown) {
		return Light{Night: []Span{{from, to}}, SunDown: []Span{{from, to}}}
	}
	journey := newJourney(route, from, window)
	return Light{
		Night:   journey.shade(civilAltitude).spans(from, window),
		SunDown: journey.shade(sunriseAltitude).spans(from, window),
	}
}

// journey is a route with a time for every point of it.
type journey struct {
	start time.Time
	legs  []leg
}

// leg is a stretch of one great circle, covered at one speed between two times since the start of the journey.
type leg struct {
	begin, end time.Duration
	from       vector  // straight up where the leg begins
	toward     vector  // along the ground there
	speed      float64 // radians a second

	atBegin, atEnd float64 // altitude of the sun's centre there, in degrees: every limit is held against the same
}

// newJourney spreads the window over the route in proportion to distance. The route has at least one place.
func newJourney(route []Place, start time.Time, window time.Duration) journey {
	distances := make([]float64, len(route)-1)
	var whole float64
	for i := range distances {
		distances[i] = angle(route[i].up(), route[i+1].up())
		whole += distances[i]
	}
	if whole == 0 {
		return journey{start, []leg{leg{end: window, from: route[0].up()}.under(start)}}
	}

	legs := make([]leg, 0, len(distances))
	var begin time.Duration
	var covered float64
	for i, distance := range distances {
		covered += distance
		end := time.Duration(float64(window) * (covered / whole))
		if begin < end {
			legs = append(legs, leg{
				begin: begin, end: end,
				from: route[i].up(), toward: heading(route[i], route[i+1]),
				speed: distance / (end - begin).Seconds(),
			}.under(start))
		}
		begin = end
	}
	return journey{start, legs}
}

// under is the leg with the sun over its ends.
func (l leg) under(start time.Time) leg {
	l.atBegin, l.atEnd = l.up(l.begin).elevation(start.Add(l.begin)), l.up(l.end).elevation(start.Add(l.end))
	return l
}

// up is straight up at a time since the start of the journey.
func (l leg) up(since time.Duration) vector {
	sin, cos := math.Sincos(l.speed * (since - l.begin).Seconds())
	return l.from.times(cos).plus(l.toward.times(sin))
}

// angle between two directions, in radians, exact for small angles too.
func angle(a, b vector) float64 {
	cross := vector{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x}
	return math.Atan2(cross.length(), a.dot(b))
}

// heading is the direction along the ground at p of the great circle to q.
func heading(p, q Place) vector {
	up, goal := p.up(), q.up()
	along := goal.plus(up.times(-up.dot(goal)))
	// In radians, about a centimetre: p and q are one place or opposite places, and rounding would choose the course.
	const tooClose = 1e-9
	length := along.length()
	if length < tooClose {
		return p.north()
	}
	return along.times(1 / length)
}
