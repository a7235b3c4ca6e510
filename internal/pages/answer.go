package pages

import (
	"cmp"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// told is an answer as a page tells it: the verdict in one glance, and why below.
type told struct {
	Number int    // of the leg, from 1
	Leg    string // from where to where; empty: the flight has one leg
	Answer casefile.Answer
	From   time.Time // in the zone of the base where the flight begins
	Until  time.Time
	AsOf   time.Time
	Why    []reason
	Sun    *sunView // how light it is on its day; nil: that is not drawn

	Blocks   []techlog.Block // that hold the flight, whatever the verdict
	Overlaps []techlog.ID    // other flights that are planned with the aircraft at the same time
	Zone     *time.Location

	Assumed []string // of the flight, what nobody has said

	Actions string // aircraft that one may walk around or report on from here; empty: none
	Walks   bool   // a walkaround is offered
}

// SameDay says whether the flight ends on the date on which it begins.
func (t told) SameDay() bool { return t.From.Format(time.DateOnly) == t.Until.Format(time.DateOnly) }

// reason is everything about one squawk, or about the aircraft itself, that stands in the way.
type reason struct {
	Label    string // of the squawk; empty: the aircraft and the flight
	Squawk   techlog.ID
	About    string
	Findings []casefile.Finding
	ToDo     []casefile.ToDo
}

// tell puts the answers for a flight, one a leg, into the order of a page. open are the squawks that are open on its
// aircraft.
func (p *pages) tell(held hangar.HeldFlight, zone *time.Location, open *hangar.DeferredItems) []told {
	ids, about := map[string]techlog.ID{}, map[string]string{}
	for _, list := range [][]hangar.DeferredItem{open.Items, open.NotDeferred} {
		for i := range list {
			label := list[i].Squawk.Label()
			ids[label], about[label] = list[i].Squawk.ID, list[i].Item
		}
	}
	legs := make([]told, len(held.Answers))
	for i, a := range held.Answers {
		leg := &held.Flight.Legs[i]
		legs[i] = told{
			Zone: zone, Number: i + 1, Answer: a, From: leg.Departs.In(zone), Until: leg.Arrives.In(zone), AsOf: p.Now().In(zone), Why: reasons(a, ids, about),
			Sun: sunOf(leg, zone, i+1),
		}
		if len(held.Answers) > 1 {
			legs[i].Leg = placeOf(leg.From) + " to " + placeOf(leg.To)
		}
	}
	return legs
}

// placeOf names where a leg starts or ends.
func placeOf(s techlog.Spot) string { return cmp.Or(s.Ident, s.Name) }

// hindered adds to an answer what keeps a flight from going whatever its verdict: blocks, and other flights.
func (p *pages) hindered(v *visit, t *told, held hangar.HeldFlight) error {
	t.Overlaps = held.Overlaps
	if len(held.Flight.Hold.Blocks) == 0 {
		return nil
	}
	all, err := p.Service.Blocks(v, v.who, hangar.BlockFilter{
		Aircraft: held.Flight.Aircraft, EndsAfter: held.Flight.Departs, BeginsBefore: held.Flight.Arrives,
	}, hangar.Page{Limit: blocksShown})
	if err != nil {
		return err
	}
	for i := range all {
		if all[i].Holds(&held.Flight) {
			t.Blocks = append(t.Blocks, all[i])
		}
	}
	return nil
}

// blocksShown is how many blocks a page looks through.
const blocksShown = 100

// reasons puts what holds a flight together by what it is about, the worst first.
func reasons(a casefile.Answer, ids map[string]techlog.ID, about map[string]string) []reason {
	var all []reason
	at := map[string]int{}
	for _, f := range a.Findings {
		if !f.Blocks() {
			continue
		}
		i, known := at[f.Defect]
		if !known {
			i = len(all)
			at[f.Defect] = i
			all = append(all, reason{Label: f.Defect, Squawk: ids[f.Defect], About: about[f.Defect]})
		}
		all[i].Findings = append(all[i].Findings, f)
		for _, t := range f.ToDo {
			all[i].ToDo = addToDo(all[i].ToDo, t)
		}
	}
	return all
}

// addToDo adds what is to be done, unless it is there.
func addToDo(list []casefile.ToDo, t casefile.ToDo) []casefile.ToDo {
	for _, known := range list {
		if known.Action == t.Action && known.Citation == t.Citation {
			return list
		}
	}
	return append(list, t)
}
