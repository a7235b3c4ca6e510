package calendar

import (
	"bytes"
	"fmt"
	"strings"
	"time"
	"unicode"

	ics "github.com/arran4/golang-ical"
)

// Feed is a calendar that programs ask for again and again.
type Feed struct {
	Name  string
	Words string        // what it holds, and what it is not
	Every time.Duration // how often it is worth asking again, in whole seconds: 1 s or more
	Events
}

// Events are those of a calendar, in the order that they are written in.
type Events []Event

// Status is how sure an event is.
type Status string

// The statuses of an event (RFC 5545, 3.8.1.11).
const (
	Confirmed Status = "CONFIRMED"
	Tentative Status = "TENTATIVE"
	Cancelled Status = "CANCELLED" // programs that have the event take it out
)

// Event is something that keeps an aircraft from being used for anything else, or did.
type Event struct {
	UID         string    // the same for as long as it is the same event, and no other's in the world
	Sequence    int       // counts up whenever the event changes (RFC 5545, 3.8.7.4)
	Changed     time.Time // when it last did
	From, Until time.Time // Until is later; of an event of whole days both are midnight in their own zone
	WholeDays   bool      // it has dates and no times of day
	Status      Status
	Busy        bool // the time is taken
	Summary     string
	Description string
	Location    string // empty: not said
}

// FreeBusy says of a span of time when something is not free. What no period covers is free.
type FreeBusy struct {
	UID         string
	Made        time.Time
	From, Until time.Time
	Busy        []Period
	Words       string
}

// Kind is how much a period is taken.
type Kind string

// The kinds of period (RFC 5545, 3.2.9).
const (
	Taken       Kind = "BUSY"
	Held        Kind = "BUSY-TENTATIVE"   // something is intended that may not take place
	Unavailable Kind = "BUSY-UNAVAILABLE" // nothing can take place
)

// Period is a span of time that is not free. Until is later than From.
type Period struct {
	From, Until time.Time
	Kind        Kind
}

// product names the program that wrote a calendar (RFC 5545, 3.7.3).
const product = "-//Tiedown//Availability//EN"

func begin() *ics.Calendar {
	c := &ics.Calendar{}
	c.SetVersion("2.0")
	c.SetProductId(product)
	c.SetCalscale("GREGORIAN")
	return c
}

// ICS writes the feed.
func (f Feed) ICS() []byte {
	c := begin()
	c.SetName(text(f.Name)) // NAME (RFC 7986), and X-WR-CALNAME for programs that are older
	c.SetDescription(text(f.Words))
	c.SetRefreshInterval(duration(f.Every))
	for i := range f.Events {
		f.Events[i].addTo(c)
	}
	if len(f.Events) == 0 {
		addNothing(c)
	}
	return written(c)
}

func (e *Event) addTo(c *ics.Calendar) {
	v := c.AddEvent(text(e.UID))
	v.SetSequence(e.Sequence)
	v.SetDtStampTime(e.Changed)
	v.SetModifiedAt(e.Changed)
	if e.WholeDays {
		v.SetAllDayStartAt(e.From)
		v.SetAllDayEndAt(e.Until)
	} else {
		v.SetStartAt(e.From)
		v.SetEndAt(e.Until)
	}
	v.SetStatus(ics.ObjectStatus(e.Status))
	v.SetTimeTransparency(transparency(e.Busy))
	v.SetSummary(text(e.Summary))
	v.SetDescription(text(e.Description))
	if e.Location != "" {
		v.SetLocation(text(e.Location))
	}
}

// addNothing puts in a component that says nothing, the time zone that every instant is written in: a calendar without any
// is none (RFC 5545, 3.6).
func addNothing(c *ics.Calendar) {
	standard := c.AddTimezone("Etc/UTC").AddStandard()
	standard.AddProperty(ics.ComponentPropertyDtStart, "19700101T000000")
	standard.AddProperty(ics.ComponentProperty(ics.PropertyTzoffsetfrom), "+0000")
	standard.AddProperty(ics.ComponentProperty(ics.PropertyTzoffsetto), "+0000")
}

func transparency(busy bool) ics.TimeTransparency {
	if busy {
		return ics.TransparencyOpaque
	}
	return ics.TransparencyTransparent
}

// ICS writes the times.
func (f FreeBusy) ICS() []byte {
	c := begin()
	v := c.AddBusy(text(f.UID))
	v.SetDtStampTime(f.Made)
	v.SetStartAt(f.From)
	v.SetEndAt(f.Until)
	if f.Words != "" {
		v.AddComment(text(f.Words))
	}
	for _, p := range f.Busy {
		kind := &ics.KeyValues{Key: string(ics.ParameterFbtype), Value: []string{string(p.Kind)}}
		v.AddProperty(ics.ComponentPropertyFreebusy, instant(p.From)+"/"+instant(p.Until), kind)
	}
	return written(c)
}

// written ends every line as the form asks (RFC 5545, 3.1), which the library does only where it is told to.
func written(c *ics.Calendar) []byte {
	var b bytes.Buffer
	if err := c.SerializeTo(&b, ics.WithNewLineWindows); err != nil {
		panic(err) // a buffer takes everything
	}
	return b.Bytes()
}

func instant(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// duration is a whole number of seconds (RFC 5545, 3.3.6).
func duration(d time.Duration) string { return fmt.Sprintf("PT%dS", int64(d/time.Second)) }

// text is what of a text can be written: the form has no room for control characters but the tab and the end of a line,
// which is one however it was written.
func text(s string) string {
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(strings.ToValidUTF8(s, string(unicode.ReplacementChar)))
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' && r != '\t' || r == 0x7f {
			return -1
		}
		return r
	}, s)
}
