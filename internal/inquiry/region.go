package inquiry

import (
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// region is a set of flights: those whose rules and light are as given, and that keep to some terms.
type region struct {
	base  airworthiness.Flight
	kept  []casefile.Term
	binds []string // what reliefs bind them to
}

// way is one way out of a limit: terms to keep to, all of them, and what that binds a flight to beside.
type way struct {
	terms []casefile.Term
	binds string
}

// regionOf is every flight under the rules in a light.
func regionOf(rules string, l light) region {
	f := airworthiness.Flight{
		IFR: airworthiness.TruthOf(rules == "ifr"), Day: l.day, Night: l.night, Lights: l.lights,
		Operations: airworthiness.Given[[]string](nil), // an operation with equipment of its own is declared
	}
	if l.night == airworthiness.Yes && l.day == airworthiness.No {
		f.Dark = airworthiness.Yes // at night the sun is more than 6 degrees down
	}
	return region{base: f}
}

// with is the part of the region that takes a way out.
func (r region) with(w way) region {
	r.kept = slices.Concat(r.kept, w.terms)
	if w.binds != "" {
		r.binds = appendNew(slices.Clone(r.binds), w.binds)
	}
	return r
}

// holds says whether a term holds for every flight of the region, for none, or for some.
func (r region) holds(t casefile.Term) airworthiness.Truth {
	if known := truth(t.Engine(), &r.base); known != airworthiness.Unknown {
		return known
	}
	for _, k := range r.kept {
		if implied := follows(k, t); implied != airworthiness.Unknown {
			return implied
		}
	}
	return airworthiness.Unknown
}

// follows says whether a term follows from another that holds, or its opposite does.
func follows(from, t casefile.Term) airworthiness.Truth {
	not := t.Negated()
	switch {
	case from.Same(t), bounds(from, t):
		return airworthiness.Yes
	case from.Same(not), bounds(from, not):
		return airworthiness.No
	}
	return airworthiness.Unknown
}

// bounds says whether a bound on a number implies another. A cabin is never higher than the aircraft, so what bounds the
// altitude from above bounds the cabin.
func bounds(from, t casefile.Term) bool {
	same := from.Fact == t.Fact || from.Fact == "flight.altitude_ft" && t.Fact == "flight.cabin_ft"
	a, errA := strconv.ParseFloat(from.Value, 64)
	b, errB := strconv.ParseFloat(t.Value, 64)
	if !same || errA != nil || errB != nil {
		return false
	}
	above := func(c string) bool { return c == "above" || c == "at-least" }
	below := func(c string) bool { return c == "below" || c == "at-most" }
	switch {
	case below(from.Comparison) && below(t.Comparison):
		return a < b || a == b && (from.Comparison == "below" || t.Comparison == "at-most")
	case above(from.Comparison) && above(t.Comparison) && from.Fact == t.Fact:
		return a > b || a == b && (from.Comparison == "above" || t.Comparison == "at-least")
	}
	return false
}

// aboard is how many persons of some kind may be aboard: the bound that the region keeps to.
func (r region) aboard(fact string) (int, bool) {
	least, known := 0, false
	for _, k := range r.kept {
		if n, err := strconv.Atoi(k.Value); err == nil && k.Fact == fact && k.Comparison == "at-most" && (!known || n < least) {
			least, known = n, true
		}
	}
	return least, known
}

// verdict is what a limit says of the flights of the region: undetermined where it depends on which of them.
func (r region) verdict(l *Limit) airworthiness.Verdict {
	v := l.verdict(r.holds, r.aboard)
	ofFlights := !slices.ContainsFunc(l.When, func(t casefile.Term) bool { return !t.OfFlight() && r.holds(t) == airworthiness.Unknown })
	if v == airworthiness.Undetermined && l.Binds != "" && !l.Always && ofFlights {
		return airworthiness.Limited // those that it bears on are bound, the others go
	}
	return v
}

// ways are the terms by any of which a flight of the region keeps out of a limit.
func (r region) ways(l *Limit) []casefile.Term {
	return slices.DeleteFunc(l.ways(), func(t casefile.Term) bool { return r.holds(t) == airworthiness.No })
}

// reliefs are those that a flight of the region may take.
func (r region) reliefs(l *Limit) []Relief {
	return slices.DeleteFunc(slices.Clone(l.Reliefs), func(relief Relief) bool {
		return slices.ContainsFunc(relief.When, func(t casefile.Term) bool { return !t.OfFlight() || r.holds(t) == airworthiness.No })
	})
}

// say puts into words what a limit asks of the flights of the region, and is empty where they can do nothing about it.
func (r region) say(l *Limit) string {
	var ways []string
	for _, t := range r.ways(l) {
		if t.Words != "" {
			ways = appendNew(ways, t.Words)
		}
	}
	for _, relief := range r.reliefs(l) {
		if relief.Binds != "" {
			ways = appendNew(ways, relief.Binds)
		}
	}
	return strings.Join(ways, ", or ")
}

// binding puts into words what binds every flight of the region, by the relief that they all take.
func (r region) binding(l *Limit) string {
	for _, relief := range l.Reliefs {
		if all(relief.When, r.holds) == airworthiness.Yes {
			return relief.Binds
		}
	}
	if l.Binds != "" {
		return l.Binds
	}
	return l.Says
}

// effort bounds the search for a region within which every flight may be made, in limits looked at.
const effort = 20000

// search narrows the region until every limit lets all of its flights go, by the ways that allowed picks, in its order.
// It gives up after some effort, and then says so.
func (r region) search(limits []Limit, allowed func(region, *Limit) []way, left *int) (region, bool) {
	for i := range limits {
		if *left--; *left < 0 {
			return r, false
		}
		if r.verdict(&limits[i]).Permits() {
			continue
		}
		for _, way := range allowed(r, &limits[i]) {
			if narrower, ok := r.with(way).search(limits, allowed, left); ok {
				return narrower, true
			}
		}
		return r, false
	}
	return r, true
}

// satisfiable says whether some flight of the region keeps every limit. Where the search gives up it says yes, as each
// limit by itself can be kept: the data still says which flights.
func (r region) satisfiable(limits []Limit) bool {
	left := effort
	_, ok := r.search(limits, region.anyWay, &left)
	return ok || left < 0
}

// anyWay is every way out of a limit, reliefs included.
func (r region) anyWay(l *Limit) []way {
	var all []way
	for _, t := range r.ways(l) {
		all = append(all, way{terms: []casefile.Term{t}})
	}
	return append(all, r.lifts(l)...)
}

// lifts are the reliefs that a flight of the region may take, as ways out.
func (r region) lifts(l *Limit) []way {
	var all []way
	for _, relief := range r.reliefs(l) {
		all = append(all, way{relief.When, relief.Binds})
	}
	return all
}

// open says whether every flight of the region keeps every limit.
func (r region) open(limits []Limit) bool {
	return !slices.ContainsFunc(limits, func(l Limit) bool { return !r.verdict(&l).Permits() })
}

// pared is the region without any term that it can do without: a later way out may make an earlier one needless.
func (r region) pared(limits []Limit) region {
	for i := len(r.kept) - 1; i >= 0; i-- {
		wider := r
		wider.kept = slices.Delete(slices.Clone(r.kept), i, i+1)
		if wider.open(limits) {
			r = wider
		}
	}
	return r
}

// bound is the region with what binds its flights in any case.
func (r region) bound(limits []Limit) region {
	r.binds = slices.Clone(r.binds)
	for i := range limits {
		if r.verdict(&limits[i]) == airworthiness.Limited {
			r.binds = appendNew(r.binds, r.binding(&limits[i]))
		}
	}
	return r
}
