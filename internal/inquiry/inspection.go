package inquiry

import (
	"fmt"
	"slices"
	"strconv"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// longAgo is more days than any rule allows to go by.
const longAgo = 400

// longestMonth is the most days of a month.
const longestMonth = 31

// monthsBefore tries the day of the flight, and a day too long before it by each limit in calendar months.
func (a *asker) monthsBefore(terms []airworthiness.Term) []candidate {
	all := []candidate{{airworthiness.DateOf(a.c.Flight.Departs).String(), "on the day of the flight"}}
	last := airworthiness.DateOf(a.c.Flight.Arrives)
	for _, t := range terms {
		if n, err := strconv.Atoi(t.Value); err == nil {
			day := last - airworthiness.Date(longestMonth*(n+1))
			all = append(all, candidate{day.String(), fmt.Sprintf("before the preceding %d calendar months", n)})
		}
	}
	return all
}

// lastDays tries a last good day that the flight ends on, and one before.
func (a *asker) lastDays() []candidate {
	last := airworthiness.DateOf(a.c.Flight.Arrives)
	return []candidate{{last.String(), "the day on which the flight ends"}, {(last - 1).String(), "the day before"}}
}

// hours tries as much time in service as each limit in hours leaves, and as much as the flight's window allows.
func (a *asker) hours() []candidate {
	used := a.c.Aircraft.Facts.HoursSinceInspection
	window := a.c.Flight.WindowHours()
	if used == nil && len(a.left) == 0 {
		return nil
	}
	hours := slices.DeleteFunc(slices.Clone(a.left), func(left float64) bool { return left <= 0 || left >= window })
	for _, t := range a.about("aircraft.facts.hours_since_inspection") {
		if limit, err := strconv.ParseFloat(t.Value, 64); used != nil && err == nil && limit > *used && limit-*used < window {
			hours = append(hours, limit-*used)
		}
	}
	slices.Sort(hours)
	return each(slices.Compact(append(hours, window)), number)
}

// askConfirmation asks for the parts of a confirmation that nobody has given: in the place of each stands what it is.
func (a *asker) askConfirmation(fact, asks string) {
	confirmed := casefile.Confirmation{}
	if given := a.c.Aircraft.Configuration.TypeCertification.Confirmed; given != nil {
		confirmed = *given
	}
	for _, part := range []struct {
		of    *string
		words string
	}{
		{&confirmed.By, "a rated person"},
		{&confirmed.Certificate, "its kind and number"},
		{&confirmed.On, airworthiness.DateOf(a.c.Flight.Departs).String()},
		{&confirmed.Document, "the document that it was read from"},
	} {
		if *part.of == "" {
			*part.of = part.words
		}
	}
	a.add(openFact{name: fact, asks: asks, values: []factValue{{
		FactValue{text(confirmed), "confirmed as it stands, by a rated person"},
		func(c *casefile.Case) {
			with := confirmed
			c.Aircraft.Configuration.TypeCertification.Confirmed = &with
		},
	}}})
}

func boolean(b bool) *bool { return &b }
