package postgres

import (
	"strconv"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// uuid is an identifier as the driver writes it.
func idList(ids []techlog.ID) [][16]byte {
	list := make([][16]byte, len(ids))
	for i, id := range ids {
		list[i] = id
	}
	return list
}

func uuid(id techlog.ID) [16]byte { return id }

// into is an identifier as the driver fills it.
func into(id *techlog.ID) *[16]byte { return (*[16]byte)(id) }

// uuidOrNull is null for the zero identifier.
func uuidOrNull(id techlog.ID) *[16]byte {
	if id.IsZero() {
		return nil
	}
	return (*[16]byte)(&id)
}

// idOrZero is the zero identifier for null.
func idOrZero(id *[16]byte) techlog.ID {
	if id == nil {
		return techlog.ID{}
	}
	return *id
}

// instant is an instant as the database keeps it, to the microsecond. The driver would cut off the rest, too; here it
// is done in one place so that equal instants stay equal.
func instant(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }

// instantOrNull is null for the zero instant.
func instantOrNull(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return new(instant(t))
}

// given is the zero value for null.
func given[T any](v *T) T {
	if v == nil {
		return *new(T)
	}
	return *v
}

// filled is never nil: the driver writes a nil slice as null.
func filled[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

// writtenDate is a date as people write it; null is empty.
func writtenDate(t *time.Time) string {
	if t == nil {
		return ""
	}
	return t.Format(time.DateOnly)
}

// dateOrNull reads a date as people write it, YYYY-MM-DD; empty is null. field is what a fault names.
func dateOrNull(field, s string) (*time.Time, error) {
	if s == "" {
		return nil, nil
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return nil, casefile.Faults{{
			Field: field, Rule: "date", Says: strconv.Quote(s) + " is no date", Remedy: "write it as YYYY-MM-DD",
		}}
	}
	return &t, nil
}
