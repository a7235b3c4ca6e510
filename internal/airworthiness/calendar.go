package airworthiness

import "time"

// ThroughMonths is the last day of the month that lies so many calendar months after d's own. What must have been done
// within the preceding 12 calendar months, and was done on 4 March 2025, is good through 31 March 2026: the convention
// for the limits of 14 CFR 91.207(d), 91.409(a), 91.411 and 91.413 (inferred from their words; from memory).
func (d Date) ThroughMonths(months int) Date {
	y, m, _ := time.Unix(int64(d)*86400, 0).UTC().Date()
	return DateOf(time.Date(y, m+time.Month(months)+1, 0, 0, 0, 0, 0, time.UTC)) // day 0 is the last of the month before
}
