package hangar

import (
	"slices"
	"time"

	"tiedown/internal/daylight"
	"tiedown/internal/techlog"
)

// DayLight is how light it is on the ground.
type DayLight string

// The lights. Between sunset and sunrise position lights are shown (14 CFR 91.209); night in the sense of 14 CFR 1.1 is the part
// of it without twilight.
const (
	Night    DayLight = "night"
	Twilight DayLight = "twilight"
	Day      DayLight = "day"
)

// LitSpan is a stretch of time with one light.
type LitSpan struct {
	From, Until time.Time
	Light       DayLight
}

// LitBetween says how light it is at a place from one instant to another, in the zone of the first: stretches in the order of
// time that leave no gap. Where the sun cannot be worked out, all of it is night. Nothing if it does not end after it begins.
func LitBetween(at techlog.Spot, from, until time.Time) []LitSpan {
	if !until.After(from) {
		return nil
	}
	dark := daylight.Along([]daylight.Place{{Lat: at.Lat, Lon: at.Lon}}, from, until)
	edges := []time.Time{from, until}
	for _, spans := range [][]daylight.Span{dark.Night, dark.SunDown} {
		for _, s := range spans {
			edges = append(edges, s.From, s.To)
		}
	}
	slices.SortFunc(edges, time.Time.Compare)
	within := func(spans []daylight.Span, at time.Time) bool {
		return slices.ContainsFunc(spans, func(s daylight.Span) bool { return !at.Before(s.From) && at.Before(s.To) })
	}
	var lit []LitSpan
	for i, edge := range edges[1:] {
		begins := edges[i]
		if !edge.After(begins) {
			continue
		}
		light := Day
		switch {
		case within(dark.Night, begins):
			light = Night
		case within(dark.SunDown, begins):
			light = Twilight
		}
		if n := len(lit); n > 0 && lit[n-1].Light == light {
			lit[n-1].Until = edge.In(from.Location())
			continue
		}
		lit = append(lit, LitSpan{begins.In(from.Location()), edge.In(from.Location()), light})
	}
	return lit
}
