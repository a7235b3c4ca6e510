package walkaround_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/walkaround"
)

func TestMetersAgainstTheBook(t *testing.T) {
	t.Parallel()
	book := &walkaround.BookEntry{Meter: walkaround.Hobbs, Number: 7, Hours: 2000.0, At: noon}
	for _, c := range []struct {
		what     string
		book     *walkaround.BookEntry
		hours    float64
		after    time.Duration
		walked   walkaround.Difference // on a walkaround
		flown    walkaround.Difference // after a flight
		advances bool                  // on a walkaround
	}{
		{"the first reading", nil, 17.3, 0, "", "", true},
		{"as in the book", book, 2000.0, time.Hour, "", "", false},
		{"one step of the display more", book, 2000.1, time.Hour, "", "", true},
		{"two steps more", book, 2000.2, time.Hour, walkaround.Gap, "", false},
		{"a flight that nobody entered", book, 2001.4, 5 * time.Hour, walkaround.Gap, "", false},
		{"one step back", book, 1999.9, time.Hour, walkaround.StepBack, walkaround.StepBack, false},
		{"two digits exchanged", book, 2200.0, 24 * time.Hour, walkaround.Implausible, walkaround.Implausible, false},
		{"more than the time that has passed", book, 2002.6, 2 * time.Hour, walkaround.Implausible, walkaround.Implausible, false},
		{"as fast as an engine turns", book, 2002.4, 2 * time.Hour, walkaround.Gap, "", false},
		{"read before the entry", book, 2000.1, -time.Hour, "", "", true},
		{"read before the entry, and more", book, 2000.5, -time.Hour, walkaround.Implausible, walkaround.Implausible, false},
	} {
		walked := walkaround.CompareToBook(walkaround.Hobbs, c.book, c.hours, noon.Add(c.after))
		flown := walkaround.CompareAdvance(walkaround.Hobbs, c.book, c.hours, noon.Add(c.after))
		if walked.Differs != c.walked || flown.Differs != c.flown || walked.Advances() != c.advances {
			t.Errorf("%s: %q %q %v, want %q %q %v", c.what, walked.Differs, flown.Differs, walked.Advances(), c.walked, c.flown, c.advances)
		}
		if (walked.Says() == "") != (c.walked == "") {
			t.Errorf("%s: it says %q", c.what, walked.Says())
		}
	}
}

func TestEntriesInTheBook(t *testing.T) {
	t.Parallel()
	book := &walkaround.BookEntry{Meter: walkaround.Tach, Hours: 100, At: noon}
	for _, c := range []struct {
		what    string
		hours   float64
		because string
		want    []string
	}{
		{"a flight", 101.2, "", nil},
		{"a step back", 99.9, "", []string{"step-back hours"}},
		{"a step back with a reason", 0.0, "tachometer replaced", nil},
		{"a typo", 1012, "", []string{"implausible hours"}},
		{"no hours at all", math.NaN(), "because", []string{"range hours"}},
		{"too fine", 100.001, "", []string{"precision hours"}},
		{"too many", 1e6, "because", []string{"range hours"}},
	} {
		comparison := walkaround.CompareAdvance(walkaround.Tach, book, c.hours, noon.Add(2*time.Hour))
		wantRules(t, c.what, walkaround.EntryFaults("hours", comparison, c.because).Err(), c.want...)
	}
	if got := walkaround.Sum(1234.56, 1.1); got != 1235.66 {
		t.Errorf("1234.56 and 1.1 are %v", got)
	}
}

// TestTheBookOnlyGoesOn holds that whatever is read, in whatever order: what enters the book by itself never goes back,
// never runs faster than an engine turns, and whatever does not enter it says why.
func TestTheBookOnlyGoesOn(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		first := rapid.IntRange(0, 1_000_000).Draw(t, "first")
		book := &walkaround.BookEntry{Meter: walkaround.Tach, Number: 1, Hours: float64(first) / 100, At: noon}
		at := noon
		for range rapid.IntRange(1, 30).Draw(t, "readings") {
			at = at.Add(time.Duration(rapid.IntRange(0, 300).Draw(t, "minutes")) * time.Minute)
			hours := math.Round(book.Hours*100+float64(rapid.IntRange(-300, 800).Draw(t, "hundredths"))) / 100
			if hours < 0 {
				continue
			}
			compare := walkaround.CompareAdvance
			if rapid.Bool().Draw(t, "walkaround") {
				compare = walkaround.CompareToBook
			}
			c := compare(walkaround.Tach, book, hours, at)
			agrees := c.Differs == "" && math.Abs(hours-book.Hours) < 0.005
			if c.Advances() == (c.Differs != "" || agrees) {
				t.Fatalf("%+v neither enters the book nor says why", c)
			}
			if !c.Advances() {
				continue
			}
			if passed := at.Sub(book.At).Hours(); hours < book.Hours || hours-book.Hours > passed*1.2+0.11 {
				t.Fatalf("from %v to %v in %v hours", book.Hours, hours, passed)
			}
			book = &walkaround.BookEntry{Meter: walkaround.Tach, Number: book.Number + 1, Hours: hours, At: at}
		}
	})
}
