package hangar

import "time"

// Departures are the instants at which the flights of a series depart.
func Departures(r Repeat, first time.Time) ([]time.Time, error) { return r.departures(first) }
