package upkeep

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Says is how an item stands, in words.
func (i *Item) Says() string {
	switch i.State {
	case Done:
		return "Nothing more comes due."
	case Serves:
		return "Serves " + i.serves() + ": " + i.remains() + " left."
	case FallenDue:
		return "Has fallen due: it served " + i.serves() + "."
	default:
		says := "Not known: supply " + i.Lacks + "."
		if i.Lacks == "" {
			says = "Not known."
		}
		if served := i.serves(); served != "" {
			says = "Serves at most " + served + "; the rest is not known."
		}
		return says
	}
}

// serves says until when, by everything that is known to limit.
func (i *Item) serves() string {
	var by []string
	if i.Due.Through.Known {
		by = append(by, "through "+longDate(i.Due.Through.Value))
	}
	if h := i.Due.Hours; h.Known {
		by = append(by, i.meter(h.Value))
	}
	if c := i.Due.Cycles; c.Known {
		by = append(by, "to "+Number(c.Value)+" cycles")
	}
	says := strings.Join(by, " or ")
	if len(by) > 1 {
		says += ", whichever comes first"
	}
	return says
}

func (i *Item) meter(hours float64) string {
	switch i.Record.Meter {
	case SinceLast:
		return "for " + Number(hours) + " h after the last"
	case OfBattery:
		return "for " + Number(hours) + " h of use"
	case OfPart:
		return "to " + Number(hours) + " h of the part"
	default:
		return "to " + Number(hours) + " h of time in service"
	}
}

func (i *Item) remains() string {
	var left []string
	if d := i.Left.Days; d.Known {
		left = append(left, counted(float64(d.Value), "day"))
	}
	if h := i.Left.Hours; h.Known {
		left = append(left, Number(h.Value)+" h")
	}
	if c := i.Left.Cycles; c.Known {
		left = append(left, counted(c.Value, "cycle"))
	}
	verb := " are"
	if len(left) == 1 && (left[0] == "1 day" || left[0] == "1 cycle") {
		verb = " is"
	}
	return strings.Join(left, " and ") + verb
}

// Moves says how early and late compliance move what comes next.
func (d *Demand) Moves() string {
	switch {
	case d.Ended || !d.Every.Given():
		return "Once done, it does not come due again."
	case d.Every.LifeShare > 0:
		return "The next is due by what is marked on the new unit."
	case d.Record.Meter == OfBattery:
		return "A new battery starts from nothing."
	case d.Every.Hours > 0 && d.Allowance > 0:
		return "Done early, what was left is given up. Done late, what it was overflown by on the way counts in the next."
	case d.Every.CalendarMonths > 0:
		return "The next is counted from the month in which it is done: done early, the months that were left are given up."
	default:
		return "The next is counted from when it is done: done early, what was left is given up."
	}
}

// Says is where an item runs out, in words: "The 100-hour inspection falls due 1.4 h into the second flight of Saturday
// 28 November 2026."
func (r *RunsOut) Says(i *Item) string {
	flight := "the " + ordinal(r.Nth) + " flight of " + weekday(r.On)
	if r.Leg > 0 {
		flight = "the " + ordinal(r.Leg) + " leg of " + flight
	}
	switch {
	case r.Before && r.Certain:
		return fmt.Sprintf("The %s has fallen due when %s departs.", i.What, flight)
	case r.Before:
		return fmt.Sprintf("The %s may have fallen due when %s departs.", i.What, flight)
	case r.By == ByDate && r.Into.Known:
		return fmt.Sprintf("The %s falls due at the end of %s, %s h after the departure of %s.",
			i.What, longDate(i.Due.Through.Value), Number(r.Into.Value), flight)
	case r.Into.Known && r.Certain:
		return fmt.Sprintf("The %s falls due %s h into %s.", i.What, Number(r.Into.Value), flight)
	case r.Into.Known:
		return fmt.Sprintf("The %s may fall due, at the earliest %s h into %s.", i.What, Number(r.Into.Value), flight)
	case r.Certain:
		return fmt.Sprintf("The %s falls due on %s.", i.What, flight)
	default:
		return fmt.Sprintf("The %s may fall due on %s.", i.What, flight)
	}
}

// Number writes hours or cycles, to the hundredth.
func Number(x float64) string { return strconv.FormatFloat(math.Round(x*100)/100, 'f', -1, 64) }

func counted(n float64, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return Number(n) + " " + one + "s"
}

func longDate(d Date) string { return midnight(d, time.UTC).Format("2 January 2006") }

func weekday(d Date) string { return midnight(d, time.UTC).Format("Monday 2 January 2006") }

var ordinals = []string{"", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"}

func ordinal(n int) string {
	if n < len(ordinals) {
		return ordinals[n]
	}
	suffix := "th"
	if n%100 < 11 || n%100 > 13 {
		switch n % 10 {
		case 1:
			suffix = "st"
		case 2:
			suffix = "nd"
		case 3:
			suffix = "rd"
		}
	}
	return strconv.Itoa(n) + suffix
}
