package daylight

import "time"

// DateBounds is the date as Of takes it: its first instant, and that of the next date.
func DateBounds(year int, month time.Month, day int, zone *time.Location) (time.Time, time.Time) {
	return startOfDate(year, month, day, zone), startOfDate(year, month, day+1, zone)
}
