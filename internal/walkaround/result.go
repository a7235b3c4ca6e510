package walkaround

import (
	"fmt"
	"math"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Answer is what somebody says of one check. Which fields it has, the check's way decides.
type Answer struct {
	Outcome  Outcome      `json:"outcome,omitempty"` // left out: what value, sample or paper come to
	Value    *float64     `json:"value,omitempty"`   // measured, in the check's unit; of a meter, hours
	Color    string       `json:"color,omitempty"`   // of the fuel
	Water    *bool        `json:"water,omitempty"`
	Sediment *bool        `json:"sediment,omitempty"`
	Present  *bool        `json:"present,omitempty"`  // the paper is aboard
	Until    string       `json:"until,omitempty"`    // last day on which the paper is good, YYYY-MM-DD
	Note     string       `json:"note,omitempty"`     // in the walker's words
	Replaces []techlog.ID `json:"replaces,omitempty"` // earlier results of the same check that this one settles
}

// Result is one answer as it was taken down. Results are only ever added.
type Result struct {
	ID      techlog.ID // made by the phone, so that a result that is sent again is known
	Check   string
	Said    Answer
	Outcome Outcome
	Class   Class  // of a finding
	Shows   string // what is wrong, in words with measurement and limit; empty: what the note says
	MadeAt  time.Time
	At      time.Time // when it arrived
	By      string
	Late    bool // it arrived after the walkaround was completed
}

// Same reports whether two results were sent as the same one.
func (r *Result) Same(o *Result) bool {
	return r.ID == o.ID && r.Check == o.Check && r.MadeAt.Equal(o.MadeAt) && r.Said.same(o.Said)
}

func (a Answer) same(o Answer) bool {
	if len(a.Replaces) != len(o.Replaces) {
		return false
	}
	for i := range a.Replaces {
		if a.Replaces[i] != o.Replaces[i] {
			return false
		}
	}
	return a.Outcome == o.Outcome && equal(a.Value, o.Value) && a.Color == o.Color && equal(a.Water, o.Water) &&
		equal(a.Sediment, o.Sediment) && equal(a.Present, o.Present) && a.Until == o.Until && a.Note == o.Note
}

// Is reports whether an answer is an outcome and says no more.
func (a Answer) Is(outcome Outcome) bool { return a.same(Answer{Outcome: outcome}) }

func equal[T comparable](a, b *T) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}

// Setting is what a result is held against beside its check.
type Setting struct {
	On   string     // civil date of the flight, or of the walkaround: papers have to be good on it
	At   time.Time  // of the reading of a meter
	Book *BookEntry // last entry of the meter that is compared; nil: there is none
}

// MaxNote bounds what is written with one result, in bytes.
const MaxNote = 2000

// Judge works out what an answer comes to. Faults, by the fields of the answer, are of one that does not fit its check, or
// says nothing.
func (c *Check) Judge(said Answer, setting Setting) (Outcome, Class, string, casefile.Faults) {
	var bad casefile.Faults
	c.room(said, &bad)
	c.asks(said, &bad)
	if len(bad) > 0 {
		return "", "", "", bad
	}
	if said.Outcome == Skipped {
		return Skipped, "", "", nil
	}
	class, shows := c.shows(said, setting)
	if shows == "" && said.Outcome == Finding {
		class = c.Means
	}
	if shows == "" && said.Outcome != Finding {
		return Good, "", "", nil
	}
	return Finding, class, shows, nil
}

// room faults what the way of a check has no room for.
func (c *Check) room(said Answer, bad *casefile.Faults) {
	for _, f := range [...]struct {
		field string
		given bool
		fits  bool
	}{
		{"value", said.Value != nil, c.Way == Measure || c.Way == Compare},
		{"color", said.Color != "", c.Way == Sample},
		{"water", said.Water != nil, c.Way == Sample},
		{"sediment", said.Sediment != nil, c.Way == Sample},
		{"present", said.Present != nil, c.Way == Paper},
		{"until", said.Until != "", c.Way == Paper},
	} {
		if f.given && !f.fits {
			bad.Add(f.field, "way", fmt.Sprintf("a check of the way %s has no %s", c.Way, f.field), "leave it out")
		}
	}
}

// asks faults what an answer leaves out or gives in the wrong form.
func (c *Check) asks(said Answer, bad *casefile.Faults) {
	if len(said.Note) > MaxNote {
		bad.Add("note", "length", "more than 2,000 bytes", "say it shorter")
	}
	switch {
	case said.Outcome != "":
		oneOf("outcome", said.Outcome, Outcomes(), bad)
	case c.Way == Look || c.Way == Operate:
		bad.Add("outcome", "required", "it does not say how the check came out", "use good, finding or skipped")
	}
	noted := strings.TrimSpace(said.Note) != ""
	if said.Outcome == Skipped {
		if !noted {
			bad.Add("note", "required", "the check was skipped, and nothing says why", "say why it was not done")
		}
		return
	}
	need := func(field string, given bool, remedy string) {
		if !given {
			bad.Add(field, "required", fmt.Sprintf("the %s is missing", field), remedy)
		}
	}
	switch c.Way {
	case Look, Operate:
		if said.Outcome == Finding && !noted {
			bad.Add("note", "required", "nothing is written about what was found", "say in a sentence what was seen")
		}
	case Measure:
		need("value", said.Value != nil, "give what was measured, in "+c.In)
		if said.Value != nil && !(math.Abs(*said.Value) <= maxValue) {
			bad.Add("value", "range", "the value is out of range", "give a number between -1,000,000 and 1,000,000")
		}
	case Compare:
		need("value", said.Value != nil, "give the hours that the meter shows")
		if said.Value != nil {
			hoursFaults("value", *said.Value, bad)
		}
	case Sample:
		need("color", said.Color != "", "say what color the sample has, such as blue or clear")
		need("water", said.Water != nil, "say whether there is water in it")
		need("sediment", said.Sediment != nil, "say whether there is sediment in it")
	case Paper:
		need("present", said.Present != nil, "say whether it is aboard")
		if c.Dated && said.Present != nil && *said.Present {
			need("until", said.Until != "", "give the last day on which it is good, YYYY-MM-DD")
		}
		if _, err := time.Parse(time.DateOnly, said.Until); said.Until != "" && err != nil {
			bad.Add("until", "date", fmt.Sprintf("%q is no date", said.Until), "write it as YYYY-MM-DD")
		}
	}
}

// shows is what a value, a sample, a meter or a paper has wrong with it; nothing if it is in order.
func (c *Check) shows(said Answer, setting Setting) (Class, string) {
	switch c.Way {
	case Measure:
		return c.measured(*said.Value)
	case Sample:
		return c.sampled(said)
	case Compare:
		if comparison := CompareToBook(c.Meter, setting.Book, *said.Value, setting.At); comparison.Differs != "" {
			return c.Means, comparison.Says()
		}
	case Paper:
		return c.lookedFor(said, setting.On)
	case Look, Operate:
	}
	return "", ""
}

func (c *Check) measured(value float64) (Class, string) {
	switch {
	case c.AtLeast != nil && value < *c.AtLeast:
		return or(c.Below, c.Means), fmt.Sprintf("%s, at least %s", quantity(value, c.In), quantity(*c.AtLeast, c.In))
	case c.AtMost != nil && value > *c.AtMost:
		return or(c.Above, c.Means), fmt.Sprintf("%s, at most %s", quantity(value, c.In), quantity(*c.AtMost, c.In))
	}
	return "", ""
}

// sampled holds a sample of fuel against its grade. Common practice, without a published source that was read: water is
// clear and settles below the fuel.
func (c *Check) sampled(said Answer) (Class, string) {
	var wrong []string
	if !strings.EqualFold(strings.TrimSpace(said.Color), c.color()) {
		wrong = append(wrong, fmt.Sprintf("the sample is %s, fuel of the grade %s is %s", said.Color, c.Fuel, c.color()))
	}
	if *said.Water {
		wrong = append(wrong, "there is water in it")
	}
	if *said.Sediment {
		wrong = append(wrong, "there is sediment in it")
	}
	if len(wrong) == 0 {
		return "", ""
	}
	return c.Means, strings.Join(wrong, "; ")
}

func (c *Check) lookedFor(said Answer, on string) (Class, string) {
	switch {
	case !*said.Present:
		return c.Means, "it is not aboard"
	case said.Until != "" && said.Until < on:
		return c.Means, fmt.Sprintf("it was good until %s, before %s", said.Until, on)
	}
	return "", ""
}

func or(a, b Class) Class {
	if a != "" {
		return a
	}
	return b
}
