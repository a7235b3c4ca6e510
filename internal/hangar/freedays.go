package hangar

import (
	"slices"
	"time"

	"tiedown/internal/airworthiness"
)

// DayUse is what a part of a day comes to for an aircraft.
type DayUse string

// The uses, in the order in which one counts before the others: somebody keeps it from flying; no kind of operation is open to
// it, as the records are, because something grounds it, or a deferral is not signed, or a fact is missing; a flight is planned
// that is held; a flight is planned that may go. What is left is free.
const (
	UseBlocked      DayUse = "blocked"
	UseGrounded     DayUse = "grounded"
	UseDefer        DayUse = "defer"
	UseUndetermined DayUse = "unknown"
	UseHeld         DayUse = "held"
	UseBooked       DayUse = "booked"
)

// DayUses lists them, the first that counts first.
func DayUses() []DayUse {
	return []DayUse{UseBlocked, UseGrounded, UseDefer, UseUndetermined, UseHeld, UseBooked}
}

// FreeDay is one day of an aircraft.
type FreeDay struct {
	From, Until time.Time // in the zone of the aircraft's base; the first may begin in the middle of its day
	Hours       map[DayUse]float64
}

// Whole is how many hours the day has, and Free how many of them are left.
func (d *FreeDay) Whole() float64 { return d.Until.Sub(d.From).Hours() }

// Free is what no use takes.
func (d *FreeDay) Free() float64 {
	free := d.Whole()
	for _, hours := range d.Hours {
		free -= hours
	}
	return max(free, 0)
}

// Days shares out the span of time by the days of a zone. Each moment counts once, by the first of DayUses that it is taken
// for.
func (f *FreeBusy) Days(zone *time.Location) []FreeDay {
	var days []FreeDay
	for from := f.From.In(zone); from.Before(f.Until); {
		until := earlier(time.Date(from.Year(), from.Month(), from.Day()+1, 0, 0, 0, 0, zone), f.Until.In(zone))
		if !until.After(from) { // clocks that skip midnight
			until = earlier(from.Add(time.Hour), f.Until.In(zone))
		}
		days = append(days, FreeDay{from, until, f.share(from, until)})
		from = until
	}
	return days
}

// share is how many hours of a stretch each use takes.
func (f *FreeBusy) share(from, until time.Time) map[DayUse]float64 {
	edges := []time.Time{from, until}
	for i := range f.Busy {
		for _, edge := range []time.Time{f.Busy[i].From, f.Busy[i].Until} {
			if edge.After(from) && edge.Before(until) {
				edges = append(edges, edge)
			}
		}
	}
	slices.SortFunc(edges, time.Time.Compare)
	hours := map[DayUse]float64{}
	for i, edge := range edges[1:] {
		if use := f.useAt(edges[i]); use != "" && edge.After(edges[i]) {
			hours[use] += edge.Sub(edges[i]).Hours()
		}
	}
	return hours
}

// useAt is what a moment is taken for; empty: nothing.
func (f *FreeBusy) useAt(at time.Time) DayUse {
	first := len(DayUses())
	for i := range f.Busy {
		if b := &f.Busy[i]; !at.Before(b.From) && at.Before(b.Until) {
			first = min(first, slices.Index(DayUses(), b.Use()))
		}
	}
	if first == len(DayUses()) {
		return ""
	}
	return DayUses()[first]
}

// Use is what a period is taken for.
func (b *BusyPeriod) Use() DayUse {
	switch {
	case b.Block != nil:
		return UseBlocked
	case b.Kind == Held:
		return UseHeld
	case b.Kind == Taken:
		return UseBooked
	}
	worst := airworthiness.Clear
	for i := range b.Stops {
		if v, known := airworthiness.ParseVerdict(b.Stops[i].Verdict); known && v.WorseThan(worst) {
			worst = v
		}
	}
	switch worst {
	case airworthiness.Grounded:
		return UseGrounded
	case airworthiness.DeferFirst:
		return UseDefer
	default:
		return UseUndetermined // nobody has said why, which is no permission
	}
}
