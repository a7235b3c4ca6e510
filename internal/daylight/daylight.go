// Package daylight says where the sun stands: when it rises and sets at a place, when civil twilight begins and
// ends, and which part of a flight falls at night or needs lighted position lights.
//
// It owns the sun's position, the two limits that the operating rules use, and the finding of the instants at which
// the sun crosses them. It does not own what a flight needs at night, which is for the airworthiness rules; nor the
// Alaskan terms of 14 CFR 91.209; nor terrain, haze or the height of the eye, which the almanac's sunrise leaves out.
//
// Sunrise, sunset and twilight are those of the U.S. Naval Observatory's almanac: a level horizon at the ground, the
// sun's upper edge and average refraction for sunrise and sunset, the sun's centre for twilight. For the years 1950 to
// 2100 the sun's height is right to 0.01 degree. Below 60 degrees of latitude that is a few seconds. Where the sun
// skims the horizon it takes longer to pass: a minute or two at 78 degrees on the first and last days of the midnight
// sun and of the polar night, up to three quarters of an hour at a pole, and on such a day the sun may be found just
// across a limit that it just misses, or the other way about.
package daylight

import (
	"math"
	"time"
)

// The two limits, as geometric altitudes of the sun's centre in degrees.
const (
	// sunriseAltitude is 50 minutes of arc below the horizon: 34 of refraction and 16 of the sun's semi-diameter
	// (U.S. Naval Observatory, Rise, Set, and Twilight Definitions).
	sunriseAltitude = -50.0 / 60
	// civilAltitude bounds civil twilight (same source), and with it night in the sense of 14 CFR 1.1.
	civilAltitude = -6.0
)

// Place is a point on the ground in geodetic degrees: north and east positive, Lat from -90 to 90, Lon from -180 to 180.
type Place struct{ Lat, Lon float64 }

// Valid reports whether both coordinates are finite and in range.
func (p Place) Valid() bool {
	return math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 180
}

func (p Place) unknown() bool { return !p.Valid() }

// Altitude is the angle in degrees, from -90 to 90, of the sun's centre above the horizon of p at an instant. It is
// geometric, so refraction doesn't raise it. It is within 0.01 degree for the years 1950 to 2100, and NaN where p
// isn't valid.
func Altitude(p Place, at time.Time) float64 {
	if p.unknown() {
		return math.NaN()
	}
	return p.up().elevation(at)
}

// State says how the sun stands to a limit over one date. The zero value is Unknown.
type State int

const (
	// Unknown means that nothing was worked out: the place isn't valid, or the zone skipped the date.
	Unknown State = iota
	// Crosses means that the sun crosses the limit at least once, upward, downward or both.
	Crosses
	// UpAllDay means that the sun stays above the limit from the date's start to its end.
	UpAllDay
	// DownAllDay means that the sun stays below the limit from the date's start to its end.
	DownAllDay
)

// String names the state in plain words.
func (s State) String() string {
	switch s {
	case Crosses:
		return "crosses"
	case UpAllDay:
		return "up all day"
	case DownAllDay:
		return "down all day"
	default:
		return "unknown"
	}
}

// Day is the sun over one local calendar date at a place.
//
// Each time is that of the first such event on the date, in the zone of the date, and zero where the date has none.
// A date may have one event without the other, the sunset before the sunrise, or near the poles two of a kind: the
// times alone don't say whether it is light at some instant. Along does.
type Day struct {
	// Sun is about sunrise and sunset; Civil about the beginning and end of civil twilight, so that UpAllDay there
	// means that night never falls.
	Sun, Civil State
	// Sunrise and Sunset are when the sun's upper edge crosses the horizon.
	Sunrise, Sunset time.Time
	// CivilDawn and CivilDusk are when morning civil twilight begins and evening civil twilight ends.
	CivilDawn, CivilDusk time.Time
}

// Of works out the day at p for a calendar date in zone, or in UTC if zone is nil. Months and days out of range
// carry over as in time.Date. The date runs from its first local instant to that of the next date, so it may be 23
// or 25 hours long. The zero Day answers for a place that isn't valid and for a date that the zone skipped.
func Of(p Place, year int, month time.Month, day int, zone *time.Location) Day {
	if zone == nil {
		zone = time.UTC
	}
	start, end := startOfDate(year, month, day, zone), startOfDate(year, month, day+1, zone)
	if p.unknown() || !start.Before(end) {
		return Day{}
	}
	journey := newJourney([]Place{p}, start, end.Sub(start))
	sun, civil := journey.shade(sunriseAltitude), journey.shade(civilAltitude)
	return Day{
		Sun: sun.state(), Sunrise: sun.rise(start), Sunset: sun.set(start),
		Civil: civil.state(), CivilDawn: civil.rise(start), CivilDusk: civil.set(start),
	}
}

// startOfDate is the first instant at which the zone's clocks show the date or, if they skip it, a later one.
// time.Date can't tell, for a change of clocks may skip midnight, strike it twice or skip the whole date.
func startOfDate(year int, month time.Month, day int, zone *time.Location) time.Time {
	midnight := time.Date(year, month, day, 0, 0, 0, 0, time.UTC)
	// No zone is a whole day away from UTC, so the date is still to come here.
	at := midnight.AddDate(0, 0, -1).In(zone)
	for {
		_, offset := at.Zone()
		_, change := at.ZoneBounds()
		if local := midnight.Add(-time.Duration(offset) * time.Second); at.Before(local) {
			at = local.In(zone)
		}
		if change.IsZero() || at.Before(change) {
			return at
		}
		at = change
	}
}
