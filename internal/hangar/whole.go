package hangar

import (
	"iter"

	"tiedown/internal/techlog"
)

// Whole goes over a whole list that is read page by page, limit records at a time. After an error there is nothing more. id is
// the identifier that the next page begins after.
func Whole[T any](limit int, id func(*T) techlog.ID, read func(Page) ([]T, error)) iter.Seq2[*T, error] {
	return func(yield func(*T, error) bool) {
		for page := (Page{Limit: limit}); ; {
			some, err := read(page)
			if err != nil {
				yield(nil, err)
				return
			}
			for i := range some {
				if !yield(&some[i], nil) {
					return
				}
			}
			if len(some) < limit {
				return
			}
			page.After = id(&some[len(some)-1])
		}
	}
}

// WholeFleet goes over every aircraft of an organization.
func WholeFleet(limit int, read func(Page) ([]techlog.Aircraft, error)) iter.Seq2[*techlog.Aircraft, error] {
	return Whole(limit, func(a *techlog.Aircraft) techlog.ID { return a.ID }, read)
}

// WholePlan goes over flights.
func WholePlan(limit int, read func(Page) ([]techlog.Flight, error)) iter.Seq2[*techlog.Flight, error] {
	return Whole(limit, func(f *techlog.Flight) techlog.ID { return f.ID }, read)
}
