package upkeep

import (
	"time"

	"tiedown/internal/airworthiness"
)

// Limit is how long something serves from when it was done. Whichever ends first ends it; what is zero does not limit.
type Limit struct {
	CalendarMonths int // through the last day of the month so many months later, as 14 CFR 91.409(a) counts
	Months         int // through the same day so many months later, or the last day of a month that is shorter
	Days           int // through so many days later
	Hours          float64
	Cycles         int
	LifeShare      int // through so many percent of the useful life, or the day marked on the unit (14 CFR 91.207(c)(2))
}

func (l Limit) inDays() bool {
	return l.CalendarMonths > 0 || l.Months > 0 || l.Days > 0 || l.LifeShare > 0
}

// Given reports whether anything limits.
func (l Limit) Given() bool { return l.inDays() || l.Hours > 0 || l.Cycles > 0 }

// Through is the last day on which what was done serves. Not known: its date is not, or the limit is not in days.
func (l Limit) Through(w Work) Fact[Date] {
	if l.LifeShare > 0 {
		return l.lifeThrough(w)
	}
	if !w.On.Known || !l.inDays() {
		return Fact[Date]{}
	}
	var through Fact[Date]
	ends := func(limits bool, day Date) {
		if limits && (!through.Known || day < through.Value) {
			through = airworthiness.Given(day)
		}
	}
	done := w.On.Value
	ends(l.CalendarMonths > 0, done.ThroughMonths(l.CalendarMonths))
	ends(l.Months > 0, sameDay(done, l.Months))
	ends(l.Days > 0, done+Date(l.Days))
	return through
}

// lifeThrough is the last day at whose end no more than the share of the useful life has gone by. The life runs from the
// beginning of the day on which it was put in to the beginning of the day on which it expires.
func (l Limit) lifeThrough(w Work) Fact[Date] {
	if w.Through.Known || !w.On.Known || !w.Expires.Known {
		return w.Through
	}
	days := int64(w.Expires.Value-w.On.Value) * int64(l.LifeShare) / 100
	return airworthiness.Given(w.On.Value + Date(max(days, 0)) - 1)
}

// sameDay is the day of that number so many months later, or the last day of that month if it has no such day.
func sameDay(d Date, months int) Date {
	y, m, day := civil(d)
	return min(airworthiness.DateOf(time.Date(y, m+time.Month(months), day, 0, 0, 0, 0, time.UTC)), d.ThroughMonths(months))
}

func civil(d Date) (int, time.Month, int) { return midnight(d, time.UTC).Date() }

// midnight is when a day begins, in a zone.
func midnight(d Date, zone *time.Location) time.Time {
	y, m, day := time.Unix(int64(d)*24*60*60, 0).UTC().Date()
	return time.Date(y, m, day, 0, 0, 0, 0, zone)
}
