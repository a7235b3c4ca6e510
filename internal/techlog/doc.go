// Package techlog holds the records of a fleet: who asks, where aircraft stand, what is wrong with them, which flights
// are intended and what holds them.
//
// It owns the types, the transitions that a squawk may make, who may do what, and the kinds of error. It does not own
// storage, HTTP, the clock or any decision of airworthiness.
package techlog
