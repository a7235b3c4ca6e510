package pages

import (
	"html/template"
	"math"
	"slices"
	"time"

	"tiedown/internal/chart"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// ageRow is one open deferral: how long it has stood, and how long it may yet.
type ageRow struct {
	Squawk  techlog.ID
	Mark    string // registration
	Label   string
	Item    string
	Since   int // whole days
	Left    int // whole days; less than 0: over by so many
	Over    bool
	Picture template.HTML
}

// deferralAges draws the open deferrals out of a list of work to one scale, what is over first, then what is to run out
// next.
func deferralAges(works []hangar.Work, now time.Time) []ageRow {
	var rows []ageRow
	var ages []chart.Age
	works = slices.DeleteFunc(slices.Clone(works), func(w hangar.Work) bool {
		return w.Squawk.State != techlog.Deferred || w.Squawk.Deferral == nil
	})
	slices.SortStableFunc(works, func(a, b hangar.Work) int { return a.Squawk.Deferral.Until.Compare(b.Squawk.Deferral.Until) })
	for i := range works {
		d := works[i].Squawk.Deferral
		left := d.Until.Sub(now).Hours() / 24
		row := ageRow{
			Squawk: works[i].Squawk.ID, Mark: works[i].Aircraft.Registration, Label: works[i].Squawk.Label(), Item: works[i].Subject.Item,
			Since: max(daysLeft(d.DeterminedAt, now), 0), Left: int(math.Trunc(left)), Over: left < 0,
		}
		rows = append(rows, row)
		ages = append(ages, chart.Age{
			Words: chart.Words{ID: "age-" + row.Squawk.String(), Title: row.Mark + ", " + row.Item + ": " + row.Says()},
			Since: max(now.Sub(d.DeterminedAt).Hours()/24, 0), Left: left,
		})
	}
	scale := chart.AgesOf(ages)
	for i := range rows {
		rows[i].Picture = picture(scale.Draw(ages[i]))
	}
	return rows
}

// Says is how it stands, in words.
func (r ageRow) Says() string {
	since := "deferred " + plural(r.Since, "day") + " ago"
	if r.Since == 0 {
		since = "deferred today"
	}
	switch {
	case r.Over && r.Left == 0:
		return since + ", run out today"
	case r.Over:
		return since + ", run out " + plural(-r.Left, "day") + " ago"
	case r.Left == 0:
		return since + ", less than a day left"
	default:
		return since + ", " + plural(r.Left, "day") + " left"
	}
}
