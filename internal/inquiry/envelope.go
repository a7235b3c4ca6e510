package inquiry

import (
	"slices"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// Envelope is the largest set of flights that an aircraft may make with its open defects, on one day, for flights that
// end no later than an instant. Limits is the whole of it as data; Cells and Simple say the same in words. It is answered
// for flights without a special flight permit: what one would lift is between the permit and the flight that it is for.
type Envelope struct {
	On       string          `json:"on"`    // the day that they depart
	Until    time.Time       `json:"until"` // deferrals last at least so long, or the envelope says that they do not
	Permits  bool            `json:"permits"`
	Sentence string          `json:"sentence"`
	Simple   []SimpleFlights `json:"simple"`
	Cells    []Cell          `json:"cells"`
	Limits   []Limit         `json:"limits"`
	Rules    string          `json:"rules"`
	Caution  string          `json:"caution"`
}

// Cell is what holds of one kind of operation in one light, for flights that declare no operation with equipment of its
// own: of those the limits tell.
type Cell struct {
	Rules   string             `json:"flight_rules"`
	Light   string             `json:"light"`
	Verdict string             `json:"verdict"`
	Permits bool               `json:"permits"`
	Words   []string           `json:"words"`   // the limits, each in words
	Limits  []int              `json:"limits"`  // places in the envelope's limits of those that bear on the cell
	Missing []casefile.Missing `json:"missing"` // facts without which the cell is undetermined
}

// Standing is an aircraft with its defects and a day, in the engine's words.
type Standing struct {
	Plan    *airworthiness.Plan
	Defects []airworthiness.Defect
	On      airworthiness.Date // the day of the flights
	Until   time.Time          // the latest that they end
	Rules   string             // digest of the book
}

// EnvelopeOf works out which flights may be made. It asks the engine once, and samples nothing.
func EnvelopeOf(s Standing) Envelope {
	var standing airworthiness.Standing
	s.Plan.Stand(&standing, s.Defects)
	e := Envelope{
		On: s.On.String(), Until: s.Until, Simple: []SimpleFlights{}, Cells: []Cell{}, Limits: []Limit{}, Rules: s.Rules, Caution: s.Plan.Term(airworthiness.TermCaution),
	}
	order := standing.Order()
	for _, b := range s.Plan.Bars(&standing, s.On, s.Until) {
		defect := ""
		if b.Defect >= 0 {
			defect = s.Defects[order[b.Defect]].ID
		}
		e.add(limitOf(&b, defect))
	}
	for _, rules := range []string{"vfr", "ifr"} {
		for _, l := range lights {
			e.Cells = append(e.Cells, e.cell(rules, l))
		}
	}
	e.Permits = slices.ContainsFunc(e.Cells, func(c Cell) bool { return c.Permits })
	e.Simple = e.simple()
	e.Sentence = e.sentence()
	return e
}

// add takes a limit up, or adds its squawk to one that says the same: a row may be touched by several squawks.
func (e *Envelope) add(l Limit) {
	same := func(m Limit) bool {
		return m.Row == l.Row && m.Citation == l.Citation && m.Words == l.Words && m.Always == l.Always && m.Verdict == l.Verdict &&
			m.Says == l.Says && slices.EqualFunc(m.When, l.When, casefile.Term.Same) && len(m.Reliefs) == len(l.Reliefs) &&
			slices.Equal(m.Missing, l.Missing) && m.asks().Same(l.asks()) && m.Binds == l.Binds
	}
	if i := slices.IndexFunc(e.Limits, same); i >= 0 {
		e.Limits[i].Defects = append(e.Limits[i].Defects, l.Defects...)
		return
	}
	e.Limits = append(e.Limits, l)
}

// Verdict is what the envelope says of a flight on its day that ends when it says, from its data alone. It is what the
// engine says of the same flight, save of one under a special flight permit, which the envelope does not speak of.
func (e *Envelope) Verdict(f airworthiness.Flight) airworthiness.Verdict {
	holds := func(t casefile.Term) airworthiness.Truth { return truth(t.Engine(), &f) }
	aboard := func(fact string) (int, bool) {
		n := map[string]airworthiness.Fact[int]{
			"flight.occupants": f.Occupants, "flight.persons": f.Persons, "flight.required_crew": f.RequiredCrew,
		}[fact]
		return n.Value, n.Known && n.Value >= 0
	}
	worst := airworthiness.Clear
	for i := range e.Limits {
		worst = airworthiness.Worst(worst, e.Limits[i].verdict(holds, aboard))
	}
	return worst
}

// Admits says whether a flight is within the envelope. What is unknown never admits.
func (e *Envelope) Admits(f airworthiness.Flight) airworthiness.Truth {
	switch v := e.Verdict(f); {
	case v.Permits():
		return airworthiness.Yes
	case v == airworthiness.Undetermined:
		return airworthiness.Unknown
	default:
		return airworthiness.No
	}
}

// light is the light of one cell.
type light struct {
	name               string
	day, night, lights airworthiness.Truth
	words              map[string]string // for each of the flight rules
}

// lights are the parts of a day: the sun up; the sun down, but not yet night in the sense of 14 CFR 1.1; and night.
var lights = []light{
	{"sunrise-to-sunset", airworthiness.Yes, airworthiness.No, airworthiness.No, nil},
	{"twilight", airworthiness.Yes, airworthiness.No, airworthiness.Yes, nil},
	{"night", airworthiness.No, airworthiness.Yes, airworthiness.Yes, nil},
}

// cell judges every limit against the flights of one kind in one light.
func (e *Envelope) cell(rules string, l light) Cell {
	r := regionOf(rules, l)
	c := Cell{Rules: rules, Light: l.name, Words: []string{}, Limits: []int{}, Missing: []casefile.Missing{}}
	verdict := airworthiness.Clear
	for i := range e.Limits {
		limit := &e.Limits[i]
		v := r.verdict(limit)
		if v == airworthiness.Clear {
			continue
		}
		if v == airworthiness.Undetermined && limit.Count != nil && limit.Count.AtMost == 0 {
			v = limit.verdict(r.holds, func(string) (int, bool) { return 1, true }) // somebody is aboard
		}
		c.Limits = append(c.Limits, i)
		if words := r.say(limit); !limit.Always && !v.Permits() && len(words) > 0 {
			c.Words = appendNew(c.Words, words)
			v = airworthiness.Limited
		} else if v == airworthiness.Limited {
			c.Words = appendNew(c.Words, r.binding(limit))
		}
		if v == airworthiness.Undetermined {
			for _, m := range limit.Missing {
				c.Missing = appendNew(c.Missing, m)
			}
		}
		verdict = airworthiness.Worst(verdict, v)
	}
	if verdict == airworthiness.Limited && !r.satisfiable(e.Limits) {
		verdict = airworthiness.Grounded // each limit can be kept, but no flight keeps them all
	}
	c.Verdict, c.Permits = verdict.String(), verdict.Permits()
	return c
}

func appendNew[T comparable](list []T, v T) []T {
	if slices.Contains(list, v) {
		return list
	}
	return append(list, v)
}

// EnvelopeOfCase is the envelope of a case's aircraft and defects on the day of its flight, for flights that end no later
// than that one does; the other facts of the flight are not read. digest names the book. The error, if any, is of kind
// invalid and names every faulty field.
func EnvelopeOfCase(c casefile.Case, rules *airworthiness.Ruleset, digest string) (Envelope, error) {
	c.Flight = casefile.Flight{Departs: c.Flight.Departs, Arrives: c.Flight.Arrives}
	q, err := casefile.Compile(c, rules)
	if err != nil {
		return Envelope{}, err
	}
	return EnvelopeOf(Standing{q.Plan, q.Defects, q.Flight.On, q.Flight.Ends, digest}), nil
}
