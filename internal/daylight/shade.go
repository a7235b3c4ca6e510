package daylight

import (
	"math"
	"slices"
	"time"
)

const (
	// fastestSun bounds, in degrees a second, how fast the sun's altitude changes at a place that stays put. The sun
	// goes round the sky at 15 degrees an hour, give or take a hundredth.
	fastestSun = 15.1 / 3600
	// resolution is the step at which the search for crossings stops.
	resolution = time.Second
)

// shade is when the sun is below a limit, as seen on a journey.
type shade struct {
	below     bool            // at the start
	crossings []time.Duration // since the start, in order: the sun goes to the other side of the limit
}

// shade follows the sun against a limit, a geometric altitude in degrees.
func (j journey) shade(limit float64) shade {
	var s shade
	for i, l := range j.legs {
		w := watch{j.start, l, limit, fastestSun + degrees(l.speed)}
		begin, end := look{l.begin, l.atBegin - limit}, look{l.end, l.atEnd - limit}
		if i == 0 {
			s.below = begin.below()
		}
		// Legs too short to be timed leave a gap between the last one and this.
		if begin.below() != s.belowAtEnd() {
			s.crossings = append(s.crossings, begin.since)
		}
		s.crossings = w.search(begin, end, s.crossings)
	}
	return s
}

func (s shade) belowAtEnd() bool {
	return s.below != (len(s.crossings)%2 == 1)
}

// state says how the sun stands to the limit over the whole journey.
func (s shade) state() State {
	switch {
	case len(s.crossings) > 0:
		return Crosses
	case s.below:
		return DownAllDay
	default:
		return UpAllDay
	}
}

// rise is the first crossing upward, and set the first downward, or zero if there is none.
func (s shade) rise(start time.Time) time.Time { return s.first(start, s.below) }

func (s shade) set(start time.Time) time.Time { return s.first(start, !s.below) }

// first is the first crossing, or the second if the first goes the other way.
func (s shade) first(start time.Time, firstWay bool) time.Time {
	i := 1
	if firstWay {
		i = 0
	}
	if i >= len(s.crossings) {
		return time.Time{}
	}
	return start.Add(s.crossings[i])
}

// spans are the parts of the window during which the sun is below the limit.
func (s shade) spans(start time.Time, window time.Duration) []Span {
	edges := slices.Clone(s.crossings)
	if s.below {
		edges = slices.Insert(edges, 0, 0)
	}
	if len(edges)%2 == 1 {
		edges = append(edges, window)
	}
	var spans []Span
	for pair := range slices.Chunk(edges, 2) {
		if pair[0] < pair[1] {
			spans = append(spans, Span{start.Add(pair[0]), start.Add(pair[1])})
		}
	}
	return spans
}

// watch looks at the sun from one leg.
type watch struct {
	start   time.Time // of the journey
	leg     leg
	limit   float64 // altitude in degrees
	fastest float64 // bound on the change of altitude, in degrees a second
}

// look is one look at the sun.
type look struct {
	since  time.Duration // since the start of the journey
	height float64       // of the sun's centre above the limit, in degrees
}

func (l look) below() bool { return l.height < 0 }

func (w watch) look(since time.Duration) look {
	return look{since, w.leg.up(since).elevation(w.start.Add(since)) - w.limit}
}

// search adds the crossings between a and b to found. It halves the time between them until the sun is too far from
// the limit to reach it and come back, or the resolution is reached; so it can't step over a short event, and it
// looks closely only where the sun is close to the limit.
func (w watch) search(a, b look, found []time.Duration) []time.Duration {
	sameSide := a.below() == b.below()
	apart := b.since - a.since
	switch {
	case sameSide && math.Abs(a.height+b.height) > w.fastest*apart.Seconds():
		return found
	case apart > resolution:
		middle := w.look(a.since + apart/2)
		return w.search(middle, b, w.search(a, middle, found))
	case sameSide:
		return found
	default:
		fraction := a.height / (a.height - b.height)
		return append(found, a.since+time.Duration(fraction*float64(apart)))
	}
}
