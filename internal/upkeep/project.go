package upkeep

import (
	"cmp"
	"slices"

	"tiedown/internal/airworthiness"
)

// Flight is one leg of a planned flight, by itself: what the legs before it take is counted here.
type Flight struct {
	ID   string
	Leg  int // of the flight, from 1; 0: it has one
	Legs int // so many
	airworthiness.Flight
}

// RunsOut says on which flight an item runs out, or may.
type RunsOut struct {
	Flight  string
	On      Date // civil date of its departure
	Nth     int  // which of the flights of that day, from 1
	Leg     int  // of the flight, from 1; 0: it has one
	By      By
	Certain bool          // it does, however long the flights take; false: it does if they take the whole of their windows
	Before  bool          // it has run out when the flight, or its leg, departs
	Into    Fact[float64] // hours into it, or its leg, at the earliest if it is not certain: of time in service, or by the clock where a date ends
}

// By is what runs out.
type By uint8

// What runs out.
const (
	ByDate By = iota
	ByHours
	ByCycles
)

// Bys lists the names of what runs out, in the order of their numbers.
func Bys() []string { return []string{"date", "hours", "cycles"} }

func (b By) String() string { return Bys()[b] }

// Held is a flight that an item stops, or may.
type Held struct {
	Flight  string
	Certain bool   // false: a fact is missing, of the item or of the flight
	Stops   []Stop // by which clauses
}

// Projection is an item over the planned flights.
type Projection struct {
	RunsOut *RunsOut // nil: not on any of them, or not known
	Held    []Held
}

// spent is what flights take of hours and cycles: at least, and at most.
type spent struct {
	least  float64
	most   Fact[float64]
	cycles float64
}

// Project goes through the planned flights in the order of their departure. Each takes the time in service that it says;
// one that does not say takes some, and no more than its window. Each counts as one cycle.
func (i *Item) Project(a *Aircraft, flights []Flight) Projection {
	ordered := slices.Clone(flights)
	slices.SortStableFunc(ordered, func(a, b Flight) int {
		return cmp.Or(a.Departs.Compare(b.Departs), cmp.Compare(a.ID, b.ID))
	})
	before := spent{most: airworthiness.Given(0.0)}
	var p Projection
	type place struct {
		on  Date
		nth int
	}
	nth, leaves := map[Date]int{}, map[string]place{}
	for n := range ordered {
		f := &ordered[n]
		if _, known := leaves[f.ID]; !known {
			nth[f.On]++
			leaves[f.ID] = place{f.On, nth[f.On]}
		}
		s := i.serve(f, before, 0)
		if s.serves != airworthiness.Yes {
			if p.RunsOut == nil && s.runsOut {
				p.RunsOut = &RunsOut{
					Flight: f.ID, On: leaves[f.ID].on, Nth: leaves[f.ID].nth, Leg: f.leg(), By: s.by, Certain: s.serves == airworthiness.No, Before: s.before, Into: s.into,
				}
			}
			if h, held := i.holds(a, f, before, s.serves); held {
				p.hold(h)
			}
		}
		before.add(f)
	}
	return p
}

// leg is which leg of its flight it is, if there are several.
func (f *Flight) leg() int {
	if f.Legs > 1 {
		return f.Leg
	}
	return 0
}

// hold adds a flight that is stopped, on any of its legs: certainly if on one of them it certainly is, and then by what
// certainly stops it.
func (p *Projection) hold(h Held) {
	i := slices.IndexFunc(p.Held, func(o Held) bool { return o.Flight == h.Flight })
	switch {
	case i < 0:
		p.Held = append(p.Held, h)
	case h.Certain && !p.Held[i].Certain:
		p.Held[i] = h
	case h.Certain == p.Held[i].Certain:
		for _, stop := range h.Stops {
			if !slices.ContainsFunc(p.Held[i].Stops, func(s Stop) bool { return s.ID == stop.ID && s.Flights == stop.Flights }) {
				p.Held[i].Stops = append(p.Held[i].Stops, stop)
			}
		}
	}
}

// holds says whether the item stops a flight that it does not serve, or may not.
func (i *Item) holds(a *Aircraft, f *Flight, before spent, serves Truth) (Held, bool) {
	stops, by := i.stopsOf(a, f)
	held := stops.And(serves.Not()).And(i.Applies)
	if i.Allowance > 0 {
		enRoute := f.ToPlaceOfInspection.And(i.serve(f, before, i.Allowance).serves)
		held = held.And(enRoute.Not())
	}
	return Held{Flight: f.ID, Certain: held == airworthiness.Yes, Stops: by}, held != airworthiness.No
}

// stopsOf says whether a flight is one of those that the item stops, and by which clauses: by those that surely speak of it,
// or else by those that may.
func (i *Item) stopsOf(a *Aircraft, f *Flight) (Truth, []Stop) {
	stops, by := airworthiness.No, map[Truth][]Stop{}
	for _, stop := range i.Stops {
		t := stop.stops(a, &f.Flight)
		stops, by[t] = stops.Or(t), append(by[t], stop)
	}
	return stops, by[stops]
}

// stops says whether a flight is one of those that the clause stops.
func (s *Stop) stops(a *Aircraft, f *airworthiness.Flight) Truth {
	if !inForce(s.from, s.to, f.On) {
		return airworthiness.No
	}
	t := s.when.of(a, f)
	if s.unless != nil {
		t = t.And(s.unless.of(a, f).Not())
	}
	return t
}

// service says whether an item serves for the whole of a flight, and if it does not, where it runs out.
type service struct {
	serves  Truth
	runsOut bool
	by      By
	before  bool
	into    Fact[float64]
}

// serve asks of an item whether it serves for the whole of a flight, with so many hours allowed beyond its limit.
func (i *Item) serve(f *Flight, before spent, allowance float64) service {
	if i.State == Done {
		return service{serves: airworthiness.Yes}
	}
	if !i.limited.given() {
		return service{}
	}
	whole := service{serves: airworthiness.Yes}
	if i.limited.Through.Known {
		whole = whole.and(i.serveDays(f))
	}
	if i.limited.Hours.Known {
		whole = whole.and(i.serveHours(f, before, allowance))
	}
	if i.limited.Cycles.Known {
		whole = whole.and(i.serveCycles(before))
	}
	return whole
}

// and takes what runs out first: what certainly does before what may, and what does earlier in the flight before what does
// later.
func (s service) and(o service) service {
	both := s
	switch {
	case !s.runsOut, o.runsOut && o.serves == airworthiness.No && s.serves != airworthiness.No:
		both = o
	case o.runsOut && o.serves == s.serves && o.sooner(&s):
		both = o
	}
	both.serves = s.serves.And(o.serves)
	return both
}

func (s *service) sooner(o *service) bool {
	if s.before != o.before {
		return s.before
	}
	return s.into.Known && (!o.into.Known || s.into.Value < o.into.Value)
}

// serveDays: a flight must end on or before the last day. What was done only after the flight says nothing of it.
func (i *Item) serveDays(f *Flight) service {
	through := i.Due.Through
	last := airworthiness.DateOf(f.Ends)
	switch {
	case !through.Known:
		return service{}
	case f.On > through.Value:
		return service{serves: airworthiness.No, runsOut: true, by: ByDate, before: true}
	case last > through.Value:
		into := midnight(through.Value+1, f.Ends.Location()).Sub(f.Departs).Hours()
		return service{serves: airworthiness.No, runsOut: true, by: ByDate, into: airworthiness.Given(round(into))}
	case i.done.Known && f.On < i.done.Value:
		return service{}
	default:
		return service{serves: airworthiness.Yes}
	}
}

// serveHours: the flight must end with no more on the meter than it may read.
func (i *Item) serveHours(f *Flight, before spent, allowance float64) service {
	if !i.Left.Hours.Known {
		return service{}
	}
	left := round(i.Left.Hours.Value + allowance)
	if i.Record.Meter == OfBattery {
		return service{serves: airworthiness.TruthOf(left >= 0), runsOut: left < 0, by: ByHours, before: true}
	}
	least, most := f.TakesHours()
	if before.most.Known && most.Known && round(before.most.Value+most.Value) <= left {
		return service{serves: airworthiness.Yes}
	}
	s := service{runsOut: true, by: ByHours}
	if round(before.least+least) > left || least == 0 && !f.Hours.Known && before.least >= left {
		s.serves = airworthiness.No
	}
	s.begin(left, before)
	return s
}

// begin says where in a flight so many hours run out: where they surely do, if that is known, or else where they do at the
// earliest.
func (s *service) begin(left float64, before spent) {
	flown := before.most
	if s.serves == airworthiness.No && flown != airworthiness.Given(before.least) {
		flown, s.before = Fact[float64]{}, before.least >= left
	}
	if flown.Known {
		into := round(left - flown.Value)
		s.before = into <= 0
		s.into = Fact[float64]{Value: max(into, 0), Known: into > 0}
	}
}

func (i *Item) serveCycles(before spent) service {
	if !i.Left.Cycles.Known {
		return service{}
	}
	left := i.Left.Cycles.Value - before.cycles
	return service{serves: airworthiness.TruthOf(left >= 1), runsOut: left < 1, by: ByCycles, before: left <= 0}
}

func (s *spent) add(f *Flight) {
	least, most := f.TakesHours()
	s.least = round(s.least + least)
	if s.most.Known && most.Known {
		s.most = airworthiness.Given(round(s.most.Value + most.Value))
	} else {
		s.most = Fact[float64]{}
	}
	s.cycles++
}
