package notice

import (
	"fmt"
	"time"
)

// Wall is a time of the day as the clock on the wall shows it, in minutes since midnight: 0 to 1439.
type Wall int

const day Wall = 24 * 60

// ParseWall reads 22:00.
func ParseWall(s string) (Wall, bool) {
	t, err := time.Parse("15:04", s)
	if err != nil || len(s) != len("15:04") {
		return 0, false
	}
	return wallOf(t), true
}

func wallOf(t time.Time) Wall { return Wall(t.Hour()*60 + t.Minute()) }

func (w Wall) String() string { return fmt.Sprintf("%02d:%02d", w/60, w%60) }

// MarshalText writes 22:00.
func (w Wall) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// UnmarshalText reads 22:00.
func (w *Wall) UnmarshalText(text []byte) error {
	read, ok := ParseWall(string(text))
	if !ok {
		return fmt.Errorf("%q is no time of the day", text)
	}
	*w = read
	return nil
}

// Quiet is the hours in which a person wants to hear nothing: from From on and before Until, over midnight where From is
// the later. They are never the same.
type Quiet struct {
	From  Wall `json:"from"`
	Until Wall `json:"until"`
}

// Has reports whether the wall shows quiet hours at an instant, in the zone that the instant is in.
func (q Quiet) Has(t time.Time) bool {
	w := wallOf(t)
	if q.From < q.Until {
		return q.From <= w && w < q.Until
	}
	return q.From <= w || w < q.Until
}

// End is the first instant, from t on, at which the wall shows none of the quiet hours, in the zone that t is in. Where
// the clocks are put forward or back meanwhile, what the wall then shows counts.
func (q Quiet) End(t time.Time) time.Time {
	for q.Has(t) {
		t = showing(t, q.Until)
	}
	return t
}

// showing is the next instant at which the wall shows a time of the day, or at which the clocks are changed, whichever
// comes first.
func showing(t time.Time, w Wall) time.Time {
	left := time.Duration((w-wallOf(t)+day)%day) * time.Minute
	next := t.Add(left - time.Duration(t.Second())*time.Second - time.Duration(t.Nanosecond()))
	if _, changed := t.ZoneBounds(); !changed.IsZero() && changed.Before(next) {
		return changed.In(t.Location())
	}
	return next
}

// DigestDay is the day on the wall at an instant, as YYYY-MM-DD, and whether the hour of that day's digest has come.
func DigestDay(t time.Time, hour int) (string, bool) {
	return t.Format(time.DateOnly), t.Hour() >= hour
}
