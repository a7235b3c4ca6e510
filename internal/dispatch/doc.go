// Package dispatch says of an intended flight more than yes or no: up to which minute it is permitted, when else it may
// leave, and what would release it.
//
// It owns the search, and what its answers are called. It decides nothing itself: every answer is found by putting cases to
// the determination, of a part of the flight, of the flight at another time, or of the aircraft without some of its squawks.
// It does not own the regulation, the sun, the records, or who may do what about a squawk. It reads no clock: now is given.
package dispatch
