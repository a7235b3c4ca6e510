package walkaround

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// BookEntry is one entry of the book of a meter. Entries are only ever added.
type BookEntry struct {
	Aircraft   techlog.ID
	Meter      Meter
	Number     int // of the meter, from 1
	Hours      float64
	At         time.Time
	By         string
	Walkaround techlog.ID // zero: not read on a walkaround
	Flight     techlog.ID // zero: not read after a flight
	Because    string     // why it contradicts the entry before; empty: it does not
}

// Difference is how a reading contradicts the book.
type Difference string

// The differences.
const (
	Gap         Difference = "gap"         // hours that no entry accounts for
	StepBack    Difference = "step-back"   // fewer hours than the book has
	Implausible Difference = "implausible" // more hours than have passed since the last entry
)

const (
	// maxHours bounds what a meter shows.
	maxHours = 200_000
	// readingTolerance is how far a reading may lie above the book without being a gap: one step of a display in tenths.
	readingTolerance = 0.1
	// fastest is how many hours a meter counts in one hour at most. A recording tachometer counts more than the clock
	// above the engine speed that it is made for [memory]; twenty percent over is more than an engine turns.
	fastest = 1.2
	// hundredth is the finest step of a reading; half of it tells readings apart.
	hundredth = 0.01
)

// Comparison is a reading held against the book.
type Comparison struct {
	Meter   Meter
	Book    *BookEntry // nil: there is none
	Hours   float64
	Differs Difference // empty: it agrees
}

// CompareToBook holds what a meter shows on a walkaround against the last entry: since then nobody has flown, as far as
// the book knows.
func CompareToBook(meter Meter, book *BookEntry, hours float64, at time.Time) Comparison {
	c := CompareAdvance(meter, book, hours, at)
	if c.Differs == "" && book != nil && hours > book.Hours+readingTolerance+hundredth/2 {
		c.Differs = Gap
	}
	return c
}

// CompareAdvance holds a reading after a flight against the last entry.
func CompareAdvance(meter Meter, book *BookEntry, hours float64, at time.Time) Comparison {
	c := Comparison{Meter: meter, Book: book, Hours: hours}
	if book == nil {
		return c
	}
	passed := max(at.Sub(book.At).Hours(), 0)
	switch {
	case hours < book.Hours-hundredth/2:
		c.Differs = StepBack
	case hours > book.Hours+passed*fastest+readingTolerance+hundredth/2:
		c.Differs = Implausible
	}
	return c
}

// Advances reports whether the reading belongs in the book: it agrees, and is more than what stands there.
func (c Comparison) Advances() bool {
	return c.Differs == "" && (c.Book == nil || c.Hours > c.Book.Hours+hundredth/2)
}

// Says is the difference in words; empty if there is none.
func (c Comparison) Says() string {
	if c.Differs == "" {
		return ""
	}
	by := hoursText(math.Abs(c.Hours - c.Book.Hours))
	where := fmt.Sprintf("the %s shows %s h, the book has %s h of %s", c.Meter.Name(), hoursText(c.Hours), hoursText(c.Book.Hours), c.Book.At.UTC().Format(time.RFC3339))
	switch c.Differs {
	case StepBack:
		return where + ": " + by + " h fewer"
	case Implausible:
		return where + ": " + by + " h more than then, and less time has passed"
	default:
		return where + ": " + by + " h that no entry accounts for"
	}
}

// hoursFaults tells what is wrong with hours as they are written.
func hoursFaults(field string, hours float64, bad *casefile.Faults) {
	switch {
	case !(hours >= 0 && hours <= maxHours):
		bad.Add(field, "range", "the hours are out of range", "give hours between 0 and 200,000")
	case math.Abs(hours*100-math.Round(hours*100)) > 1e-6:
		bad.Add(field, "precision", "the hours have more than two decimals", "give hundredths of an hour at most")
	}
}

// EntryFaults tells what is wrong with an entry in the book: hours that are none, and hours that contradict the book
// without a word that says why.
func EntryFaults(field string, c Comparison, because string) casefile.Faults {
	var bad casefile.Faults
	hoursFaults(field, c.Hours, &bad)
	if len(bad) == 0 && c.Differs != "" && because == "" {
		bad.Add(field, string(c.Differs), c.Says(), "read it again; if it is right, say in because why the book is not")
	}
	return bad
}

// Sum adds hours in the air to those on the book.
func Sum(book, air float64) float64 { return math.Round((book+air)*100) / 100 }

func hoursText(h float64) string {
	return strconv.FormatFloat(math.Round(h*100)/100, 'f', -1, 64)
}

// quantity is a number with its unit.
func quantity(v float64, unit string) string {
	return strconv.FormatFloat(v, 'f', -1, 64) + " " + unit
}
