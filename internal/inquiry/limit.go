package inquiry

import (
	"strconv"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// Limit is what one row, or one finding, holds against flights, as data. A flight on which a term of When does not hold
// is not touched by it; nor is one that holds to Must, or with no more aboard than Count serves; a relief of which every
// term holds lifts it. Otherwise the flight has the verdict; where that is limited, Binds says what it is bound to.
type Limit struct {
	Row      string             `json:"row"`
	Citation string             `json:"citation"`
	Words    string             `json:"words"`
	Status   string             `json:"status"`
	Step     string             `json:"step"`
	Defects  []string           `json:"defects,omitempty"`
	Says     string             `json:"says,omitempty"`
	Verdict  string             `json:"verdict"`
	Always   bool               `json:"always"` // whatever the flight
	Binds    string             `json:"binds,omitempty"`
	When     []casefile.Term    `json:"when"`
	Must     *casefile.Term     `json:"must,omitempty"`
	Count    *Count             `json:"count,omitempty"`
	Reliefs  []Relief           `json:"reliefs"`
	Missing  []casefile.Missing `json:"missing,omitempty"`
}

// Count is a row that wants as much as there are persons of some kind aboard.
type Count struct {
	Fact      string `json:"fact"`
	AtMost    int    `json:"at_most"`             // it is met for so many
	SurelyTo  *int   `json:"surely_to,omitempty"` // for more than this many nobody knows, as the list of units may not be complete
	EverySeat bool   `json:"every_seat"`          // it serves every seat: it does not matter if the number is not known
}

// Relief is a way out of a row. A flight on which every term of When holds takes it, and is then bound by Binds.
type Relief struct {
	Relief   string          `json:"relief"`
	Citation string          `json:"citation"`
	Words    string          `json:"words"`
	Binds    string          `json:"binds,omitempty"`
	When     []casefile.Term `json:"when"`
}

// verdict is what the limit says of a flight.
func (l *Limit) verdict(holds func(casefile.Term) airworthiness.Truth, aboard func(fact string) (int, bool)) airworthiness.Verdict {
	stated, _ := airworthiness.ParseVerdict(l.Verdict)
	if l.Always {
		return stated
	}
	bears, met := all(l.When, holds), l.met(holds, aboard)
	if bears == airworthiness.No || met == airworthiness.Yes {
		return airworthiness.Clear
	}
	v := airworthiness.Undetermined
	if bears == airworthiness.Yes && met == airworthiness.No {
		v = stated
	}
	for _, r := range l.Reliefs {
		switch all(r.When, holds) {
		case airworthiness.Yes:
			return pick(r.Binds == "", airworthiness.Clear, airworthiness.Limited)
		case airworthiness.Unknown:
			v = airworthiness.Undetermined // a missing fact may yet open the relief
		case airworthiness.No:
		}
	}
	return v
}

// met says whether what the row asks for is there.
func (l *Limit) met(holds func(casefile.Term) airworthiness.Truth, aboard func(fact string) (int, bool)) airworthiness.Truth {
	switch {
	case l.Must != nil:
		return holds(*l.Must)
	case l.Count != nil:
		return l.Count.met(aboard(l.Count.Fact))
	case l.Verdict == airworthiness.Undetermined.String():
		return airworthiness.Unknown
	default:
		return airworthiness.No
	}
}

func (c *Count) met(n int, known bool) airworthiness.Truth {
	switch {
	case !known:
		return pick(c.EverySeat, airworthiness.Yes, airworthiness.Unknown)
	case n <= c.AtMost:
		return airworthiness.Yes
	case c.SurelyTo != nil && n > *c.SurelyTo:
		return airworthiness.Unknown
	default:
		return airworthiness.No
	}
}

// all says whether every term holds.
func all(terms []casefile.Term, holds func(casefile.Term) airworthiness.Truth) airworthiness.Truth {
	t := airworthiness.Yes
	for _, term := range terms {
		t = t.And(holds(term))
	}
	return t
}

// limitOf writes a bar of the engine.
func limitOf(b *airworthiness.Bar, defect string) Limit {
	l := Limit{
		Row: b.Row, Citation: b.Citation, Words: b.Words, Status: b.Status, Step: b.Step.String(), When: casefile.Terms(b.When),
		Reliefs: []Relief{}, Always: !b.IsRow, Verdict: b.Verdict.String(),
	}
	if defect != "" {
		l.Defects = []string{defect}
	}
	for _, m := range b.Missing {
		if missing := (casefile.Missing{Fact: m.Fact, Asks: m.Asks}); l.Always || !ofFlight(airworthiness.Term{Fact: m.Fact}) {
			l.Missing = append(l.Missing, missing)
		}
	}
	if l.Always || b.Binds {
		l.Binds = b.Limitation
	}
	if l.Always {
		l.Says = b.Says
		return l
	}
	if b.Binds {
		return l
	}
	l.Verdict = pick(b.Met == airworthiness.No || b.Must != nil || b.Count != nil, airworthiness.Grounded, airworthiness.Undetermined).String()
	if b.Must != nil {
		must := casefile.TermOf(*b.Must)
		l.Must = &must
	}
	if c := b.Count; c != nil {
		l.Count = &Count{Fact: c.Fact, AtMost: c.Serves, EverySeat: c.EverySeat}
		if c.OnRecord >= 0 {
			l.Count.SurelyTo = &c.OnRecord
		}
	}
	for _, r := range b.Reliefs {
		l.Reliefs = append(l.Reliefs, Relief{Relief: r.ID, Citation: r.Citation, Words: r.Words, Binds: r.Limitation, When: casefile.Terms(r.When)})
	}
	return l
}

// asks is what a flight must hold to; nothing is an empty term.
func (l *Limit) asks() casefile.Term {
	if l.Must == nil {
		return casefile.Term{}
	}
	return *l.Must
}

// ways are the terms by any of which a flight keeps out of the row.
func (l *Limit) ways() []casefile.Term {
	var ways []casefile.Term
	for _, t := range l.When {
		if t.OfFlight() {
			ways = append(ways, t.Negated())
		}
	}
	if l.Must != nil {
		ways = append(ways, *l.Must)
	}
	if c := l.Count; c != nil && c.AtMost > 0 {
		ways = append(ways, casefile.Term{
			Fact: c.Fact, Comparison: "at-most", Value: strconv.Itoa(c.AtMost), Words: atMost(c.Fact, c.AtMost),
		})
	}
	return ways
}

// atMost says how many may be aboard.
func atMost(fact string, n int) string {
	who := map[string]string{
		"flight.occupants": "aged two or more aboard", "flight.persons": "aboard", "flight.required_crew": "required crewmembers",
	}[fact]
	return "not more than " + strconv.Itoa(n) + " " + who
}
