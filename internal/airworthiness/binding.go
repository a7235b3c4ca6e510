package airworthiness

import (
	"slices"
	"strconv"
	"strings"
	"time"
)

// Binding is what a limited finding binds the flight to, as data.
type Binding struct {
	AnyOf  []Term // the flight keeps out of the row by one of these
	AllOf  []Term // or else what lets it go asks for all of these
	Beside string // what binds it beside AllOf, in words that no fact of a flight says
}

// Binding says what a finding of this determination, made with this plan, binds the flight to. It is empty for a finding
// that does not limit, and where what lets the flight go hangs on nothing that the flight decides.
func (p *Plan) Binding(d *Determination, f *Finding) Binding {
	switch {
	case f.Verdict != Limited:
		return Binding{}
	case f.permit&permitLifts != 0:
		return Binding{AllOf: p.rules.permitTerms(d.Permit)}
	case f.source == fromMEL:
		return p.mel.rows[f.row].binding(p.rules.items[p.mel.rows[f.row].item].Name, f.open)
	case f.source == fromRow:
		return p.rowBinding(f)
	default:
		return Binding{}
	}
}

func (p *Plan) rowBinding(f *Finding) Binding {
	row, ofFlights := &p.rows[f.row], p.rules.flightConditions.or(p.bounded)
	if row.part != nil {
		ofFlights = p.rules.flightConditions
	}
	var b Binding
	if f.relief >= 0 {
		b.AllOf = p.terms(p.rules.reliefs[f.relief].when, ofFlights)
	}
	switch {
	case f.Outcome != OutcomeLimited:
	case f.open.empty():
		b.AnyOf = []Term{{Fact: countFacts[row.quantity], Comparison: "at-most", Value: strconv.Itoa(int(f.Have)), Words: p.limitation(row, f)}}
	default:
		against := clause{all: row.open.none, none: row.open.all}
		b.AnyOf = p.terms(against, f.open.and(ofFlights))
		if p.bounds(row) && f.open.has(row.must) {
			b.AnyOf = append(b.AnyOf, p.hoursOf(row))
			slices.SortFunc(b.AnyOf, compareTerms)
		}
	}
	return b
}

// binding is what the row of an MEL binds a flight to whose conditions are open.
func (row *planMELRow) binding(name string, open mask) Binding {
	var b Binding
	open.each(func(bit int) { b.AllOf = append(b.AllOf, row.terms[bit].term()) })
	slices.SortFunc(b.AllOf, compareTerms)
	if len(b.AllOf) > 0 {
		b.Beside = strings.Join(row.limitations(name, mask{}), "; ")
	}
	return b
}

// permitTerms is what a special flight permit binds a flight to, save its limitations, which are words.
func (r *Ruleset) permitTerms(p *Permit) []Term {
	instant := func(fact, comparison, words string, at time.Time) Term {
		value := at.Format(time.RFC3339)
		return Term{Fact: fact, Comparison: comparison, Value: value, Words: words + value}
	}
	all := []Term{
		instant("flight.departs", "at-least", "departing not before ", p.ValidFrom.Value),
		instant("flight.arrives", "at-most", "ending not after ", p.ValidUntil.Value),
	}
	for i, condition := range r.kinds {
		if p.Kinds.Value&(1<<i) == 0 {
			all = append(all, r.conditions[condition].term(false))
		}
	}
	if p.OnlyRequiredCrew == Yes {
		all = append(all, Term{Fact: "flight.only_required_crew", Comparison: "is", Value: "true", Words: "with only required crewmembers aboard"})
	}
	slices.SortFunc(all, compareTerms)
	return all
}
