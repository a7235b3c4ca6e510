package airworthiness_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// TestThroughMonths holds the convention against dates worked out by hand: the last day of the Nth month after.
func TestThroughMonths(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		done   string
		months int
		want   string
	}{
		{"2025-03-04", 12, "2026-03-31"}, // the example of the convention
		{"2025-03-31", 12, "2026-03-31"},
		{"2025-03-01", 12, "2026-03-31"},
		{"2023-02-28", 12, "2024-02-29"}, // into a leap year
		{"2024-02-29", 12, "2025-02-28"}, // out of one
		{"2024-02-29", 24, "2026-02-28"},
		{"2026-12-31", 1, "2027-01-31"},
		{"2026-01-31", 1, "2026-02-28"},
		{"1999-02-10", 12, "2000-02-29"}, // 2000 is a leap year, 2100 is none
		{"2099-02-10", 12, "2100-02-28"},
		{"1969-12-31", 12, "1970-12-31"},
	} {
		if have := day(c.done).ThroughMonths(c.months); have != day(c.want) {
			t.Errorf("%s and %d months: want %s, have %s", c.done, c.months, c.want, have)
		}
	}
}

func TestThroughMonthsEndsTheMonth(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		date := rapid.Map(rapid.IntRange(-40000, 80000), func(n int) airworthiness.Date { return airworthiness.Date(n) })
		d, months := date.Draw(t, "done"), rapid.IntRange(1, 60).Draw(t, "months")
		civil := func(d airworthiness.Date) time.Time { return time.Unix(int64(d)*86400, 0).UTC() }
		end := d.ThroughMonths(months)
		done, last, next := civil(d), civil(end), civil(end+1)
		if count := (last.Year()-done.Year())*12 + int(last.Month()-done.Month()); count != months {
			t.Fatalf("%s and %d months: %s is %d calendar months later", d, months, end, count)
		}
		if next.Day() != 1 {
			t.Fatalf("%s and %d months: %s is not the last day of its month", d, months, end)
		}
		if later := date.Draw(t, "later"); later >= d && later.ThroughMonths(months) < end {
			t.Fatalf("done on %s instead of %s, and good for less long", later, d)
		}
		if first := d - airworthiness.Date(done.Day()-1); first.ThroughMonths(months) != end {
			t.Fatalf("done on %s or on %s, and not good for as long", first, d)
		}
		if end.ThroughMonths(months) != d.ThroughMonths(2*months) {
			t.Fatalf("%s: twice %d months are not %d", d, months, 2*months)
		}
	})
}
