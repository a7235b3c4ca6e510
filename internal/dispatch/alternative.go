package dispatch

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// Alternatives are the other aircraft of an organization, each judged for the same legs and facts: those that may go come
// first, and with them those that are free and stand where the flight begins.
type Alternatives struct {
	Flight   string        `json:"flight"`
	Permits  int           `json:"permits"` // how many may make the flight
	Free     int           `json:"free"`    // how many of these have nothing else to do meanwhile
	Aircraft []Alternative `json:"aircraft"`
	More     bool          `json:"more"` // there are more aircraft than were looked at
	AsOf     time.Time     `json:"as_of"`
	Rules    string        `json:"rules"`
	Caution  string        `json:"caution"`
}

// Alternative is another aircraft for a flight.
type Alternative struct {
	Aircraft     string           `json:"aircraft"`
	Registration string           `json:"registration"`
	Type         string           `json:"type"`
	Base         string           `json:"base"`
	SameBase     bool             `json:"same_base"` // it is based where the flight begins
	Verdict      string           `json:"verdict"`   // the worst of the legs
	Permits      bool             `json:"permits"`
	Legs         []string         `json:"legs"` // the verdict of each leg
	Limitations  []string         `json:"limitations"`
	InTheWay     []InTheWay       `json:"in_the_way"` // why not
	Busy         []Busy           `json:"busy"`       // what it has to do meanwhile
	Faults       []casefile.Fault `json:"faults"`     // why the flight cannot be one of this aircraft, such as more persons than seats
}

// InTheWay is a row that stands in the way of a flight.
type InTheWay struct {
	Legs     []int  `json:"legs"`
	Row      string `json:"row"`
	Citation string `json:"citation"`
	Words    string `json:"words"`
	Defect   string `json:"defect,omitempty"` // the squawk that brings it about
	Verdict  string `json:"verdict"`
}

// Busy is what an aircraft has to do at the time of a flight.
type Busy struct {
	Kind  string     `json:"kind"` // flight, or block
	ID    string     `json:"id"`
	From  time.Time  `json:"from"`
	To    *time.Time `json:"to,omitempty"` // absent: until further notice
	Words string     `json:"words"`
}

// Answer takes up how one leg comes out for the aircraft.
func (a *Alternative) Answer(leg int, said *casefile.Answer) {
	was, known := airworthiness.ParseVerdict(a.Verdict)
	is, _ := airworthiness.ParseVerdict(said.Verdict)
	if known && len(a.Legs) > 0 {
		is = airworthiness.Worst(was, is)
	}
	a.Verdict, a.Permits = is.String(), is.Permits()
	a.Legs = append(a.Legs, said.Verdict)
	for _, l := range said.Limitations {
		if !slices.Contains(a.Limitations, l) {
			a.Limitations = append(a.Limitations, l)
		}
	}
	for _, f := range said.Findings {
		if f.Blocks() {
			a.blocked(leg, f)
		}
	}
}

func (a *Alternative) blocked(leg int, f casefile.Finding) {
	for i := range a.InTheWay {
		if w := &a.InTheWay[i]; w.Row == f.Row && w.Defect == f.Defect && w.Verdict == f.Verdict && w.Words == f.Words {
			if w.Legs[len(w.Legs)-1] != leg {
				w.Legs = append(w.Legs, leg)
			}
			return
		}
	}
	a.InTheWay = append(a.InTheWay, InTheWay{Legs: []int{leg}, Row: f.Row, Citation: f.Citation, Words: f.Words, Defect: f.Defect, Verdict: f.Verdict})
}

// Rank puts those first that may go first, and counts them. Nothing of it hangs on the order in which the aircraft come.
func (a *Alternatives) Rank() {
	severity := map[string]int{}
	for i, v := range airworthiness.Verdicts() {
		severity[v.String()] = i
	}
	a.Permits, a.Free = 0, 0
	for i := range a.Aircraft {
		if a.Aircraft[i].Permits {
			a.Permits++
			if len(a.Aircraft[i].Busy) == 0 {
				a.Free++
			}
		}
	}
	slices.SortFunc(a.Aircraft, func(x, y Alternative) int {
		return cmp.Or(
			first(x.Permits, y.Permits),
			first(len(x.Busy) == 0, len(y.Busy) == 0),
			first(len(x.Faults) == 0, len(y.Faults) == 0),
			cmp.Compare(severity[x.Verdict], severity[y.Verdict]),
			first(x.SameBase, y.SameBase),
			strings.Compare(x.Registration, y.Registration),
			strings.Compare(x.Aircraft, y.Aircraft),
		)
	})
}

// first puts what is so before what is not.
func first(x, y bool) int {
	switch {
	case x == y:
		return 0
	case x:
		return -1
	default:
		return 1
	}
}
