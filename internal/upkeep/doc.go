// Package upkeep says what comes due on an aircraft and when: inspections and tests, batteries, airworthiness directives,
// life-limited parts and whatever else somebody has set an interval for; and on which planned flight each will run out.
//
// It owns the arithmetic of calendar months, days, hours of time in service and cycles, how early and late compliance move
// what comes next, and which flights an item that has run out stops. It does not own the intervals, which are rows of the
// book, nor the determination of a flight, which is airworthiness': it reads the same facts and must come to the same dates.
//
// Unknown is never "not due": what nobody has recorded is not known, and stops whatever it would stop if it were due.
package upkeep

import (
	"math"

	"tiedown/internal/airworthiness"
)

// Date is a civil date.
type Date = airworthiness.Date

// Fact is a value that may not be known.
type Fact[T any] = airworthiness.Fact[T]

// Truth is a fact in three values.
type Truth = airworthiness.Truth

// Reading is what meters read at one moment: time in service in hours, and cycles, a whole number.
type Reading struct {
	Hours, Cycles Fact[float64]
}

// Meter says what the readings of an item count.
type Meter uint8

// The meters.
const (
	OfAircraft Meter = iota // time in service and cycles of the aircraft, all told
	OfPart                  // of one part, all told: it moves with the aircraft's
	SinceLast               // since the inspection before: the aircraft's own total is not known
	OfBattery               // hours for which a battery has been in use: flights do not move it
)

// Meters lists the names of the meters, in the order of their numbers.
func Meters() []string { return []string{"aircraft", "part", "since-last", "battery"} }

func (m Meter) String() string { return Meters()[m] }

// Work is one thing that was done, as its record has it. What the record leaves out is not known.
type Work struct {
	Task string // such as annual-inspection; rows say which tasks count for them
	On   Fact[Date]
	At   Reading // what the item's meter read

	Overflown Fact[float64] // hours flown beyond the limit on the way to where it was done (14 CFR 91.409(b))
	Expires   Fact[Date]    // end of the useful life of what was put in
	Through   Fact[Date]    // last day on which it serves, as marked on it

	Check        string        // how VOR receivers were checked: see Rules.Tolerates
	ErrorDegrees Fact[float64] // the greatest bearing error found
}

// Record is everything on record of one item, in any order, and what its meter reads now.
type Record struct {
	Work  []Work
	Now   Reading
	Meter Meter
}

// Due is when something falls due, by whichever comes first. What is not known either does not limit it or cannot be
// told: an item says which.
type Due struct {
	Through Fact[Date]    // the last day on which a flight may end
	Hours   Fact[float64] // what the meter may read when a flight ends, at most
	Cycles  Fact[float64]
}

func (d Due) given() bool { return d.Through.Known || d.Hours.Known || d.Cycles.Known }

// round takes out what adding tenths in binary puts in, down to the millionth of an hour.
func round(x float64) float64 { return math.Round(x*1e6) / 1e6 }
