package dispatch

import (
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/daylight"
)

// Leg is how one leg comes out.
type Leg struct {
	Leg     int       `json:"leg"` // counted from 1
	Departs time.Time `json:"departs"`
	Arrives time.Time `json:"arrives"`
	Zone    string    `json:"zone"`
	Verdict string    `json:"verdict"`
	Permits bool      `json:"permits"`
	Stop    *Stop     `json:"stop,omitempty"` // where it ceases to be permitted; absent where it is permitted
}

// Stop is where a leg ceases to be permitted.
type Stop struct {
	At       time.Time          `json:"at"`       // the last whole minute until which it is permitted; its departure where no part of it is
	Part     bool               `json:"part"`     // a part of it is permitted: that which ends then
	Becomes  []string           `json:"becomes"`  // what is otherwise from then on, such as that night begins
	Verdict  string             `json:"verdict"`  // of what goes on longer than that
	Findings []casefile.Finding `json:"findings"` // what stands in its way
	Words    string             `json:"words"`
}

// Part is the largest part of a flight that is permitted.
type Part struct {
	Legs   int        `json:"legs"`            // whole legs, from the first on
	PartOf int        `json:"part_of"`         // the leg after these, of which a part is permitted too; 0: none
	Until  *time.Time `json:"until,omitempty"` // when the part from the first leg on ends; absent where there is none
	First  int        `json:"first"`           // the longest run of whole legs that are permitted, from this one
	Last   int        `json:"last"`            // to this one; 0 and 0: no leg is
	Words  string     `json:"words"`
}

// legs judges every leg by itself, and finds where those that are not permitted cease to be.
func (j *judge) legs() []Leg {
	found := make([]Leg, len(j.Legs))
	for i := range j.Legs {
		l := &j.Legs[i]
		v := j.decide(*l)
		found[i] = Leg{
			Leg: i + 1, Departs: l.Departs, Arrives: l.Arrives, Zone: l.Departs.Location().String(), Verdict: v.String(), Permits: v.Permits(),
		}
		if !v.Permits() {
			found[i].Stop = j.stop(i)
		}
	}
	return found
}

// stop finds where a leg that is not permitted ceases to be. It tries the part up to each whole minute, one after the
// other: nothing says that a longer part is never judged better than a shorter one.
func (j *judge) stop(i int) *Stop {
	c := newCut(j.Legs, i)
	last, part := c.written.Departs, false
	for end := c.first(); ; end = end.Add(time.Minute) {
		if !end.Before(c.written.Arrives) {
			end = c.written.Arrives
		}
		if v := j.decide(c.until(end)); !v.Permits() || end.Equal(c.written.Arrives) {
			return j.stopped(&c, i, last, end, part)
		}
		last, part = end, true
	}
}

// stopped tells of a leg that is permitted until last and no longer at next.
func (j *judge) stopped(c *cut, i int, last, next time.Time, part bool) *Stop {
	beyond := c.until(next)
	s := &Stop{At: last, Part: part, Becomes: []string{}, Verdict: j.decide(beyond).String(), Findings: j.inTheWay(beyond)}
	if part {
		s.Becomes = j.becomes(c, last, next)
	}
	s.Words = s.say(i+1, c.written.Departs.Location())
	return s
}

// inTheWay is what stands in the way of a leg, in words.
func (j *judge) inTheWay(l casefile.Flight) []casefile.Finding {
	found := []casefile.Finding{}
	e, err := casefile.CompileFlight(l, j.Facts)
	if err != nil {
		return found
	}
	prepared := j.Rules.Prepare(e)
	j.Plan.Decide(&j.answer, &j.standing, &prepared)
	for _, f := range casefile.InWords(j.Plan, &j.answer, j.Defects, "").Findings {
		if f.Blocks() {
			found = append(found, f)
		}
	}
	return found
}

// cut is a leg that may be cut off, with its dark worked out once.
type cut struct {
	written  casefile.Flight
	dark     daylight.Light
	inAlaska *bool
	routed   bool
	before   float64 // hours that the legs before it take, with which its own are counted
}

func newCut(legs []casefile.Flight, i int) cut {
	l := &legs[i]
	c := cut{written: *l, routed: len(l.Route) > 0}
	if l.Earlier != nil && i > 0 && legs[i-1].Hours != nil {
		c.before = *legs[i-1].Hours
	}
	if c.routed {
		route := places(l)
		c.dark = daylight.Along(route, l.Departs, l.Arrives)
		c.inAlaska = casefile.InAlaska(route)
	}
	return c
}

// first is the first whole minute after the departure.
func (c *cut) first() time.Time {
	return c.written.Departs.Truncate(time.Minute).Add(time.Minute)
}

// until is the part of the leg that ends at an instant. It takes no more time in service than there is until then. Light
// that was said and not worked out is that of the whole leg: where in it the light changes nobody knows.
func (c *cut) until(end time.Time) casefile.Flight {
	l := c.written
	l.Arrives = end
	window := end.Sub(l.Departs)
	if l.Hours != nil {
		hours := min(*l.Hours, c.before+window.Hours(), l.WindowHours())
		l.Hours = &hours
	}
	if c.routed {
		light := casefile.LightOf(c.dark.Until(end), window)
		l.Route, l.Light = nil, &light
		if l.InAlaska == nil {
			l.InAlaska = c.inAlaska
		}
	}
	return l
}

// largest is the largest part that is permitted, read from how the legs come out.
func largest(legs []Leg) Part {
	p := Part{}
	run := 0
	for i, l := range legs {
		if !l.Permits {
			run = 0
			continue
		}
		if run++; run > p.Last-p.First+1 || p.Last == 0 {
			p.First, p.Last = l.Leg-run+1, l.Leg
		}
		if i == p.Legs {
			p.Legs++
		}
	}
	if p.Legs > 0 {
		p.Until = &legs[p.Legs-1].Arrives
	}
	if p.Legs < len(legs) && legs[p.Legs].Stop.Part {
		p.PartOf, p.Until = p.Legs+1, &legs[p.Legs].Stop.At
	}
	p.Words = p.say(legs)
	return p
}

// becomes says what is otherwise of the longer of two parts of a leg: what the determination reads of it is compared.
func (j *judge) becomes(c *cut, last, next time.Time) []string {
	was, errWas := casefile.CompileFlight(c.until(last), j.Facts)
	is, errIs := casefile.CompileFlight(c.until(next), j.Facts)
	said := []string{}
	if errWas != nil || errIs != nil {
		return said
	}
	for _, change := range []struct {
		turned bool
		words  string
	}{
		{was.Night != airworthiness.Yes && is.Night == airworthiness.Yes, "night begins"},
		{was.Lights != airworthiness.Yes && is.Lights == airworthiness.Yes, "the sun sets"},
		{was.Day != airworthiness.Yes && is.Day == airworthiness.Yes, "night ends"},
		{airworthiness.DateOf(was.Ends) != airworthiness.DateOf(is.Ends), airworthiness.DateOf(is.Ends).String() + " begins"},
	} {
		if change.turned {
			said = append(said, change.words)
		}
	}
	for i := range j.Defects {
		d := &j.Defects[i]
		if d.Deferral != nil && d.Deferral.Until.Known && !d.Deferral.Until.Value.Before(was.Ends) && d.Deferral.Until.Value.Before(is.Ends) {
			said = append(said, "the deferral of squawk "+d.ID+" ends")
		}
	}
	if p := is.Permit; p != nil && p.ValidUntil.Known && !p.ValidUntil.Value.Before(was.Ends) && p.ValidUntil.Value.Before(is.Ends) {
		said = append(said, "the special flight permit ends")
	}
	if len(said) == 0 {
		_, most := was.TakesHours()
		said = append(said, hoursFlown(most.Value))
	}
	return said
}
