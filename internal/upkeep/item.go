package upkeep

import (
	"slices"

	"tiedown/internal/airworthiness"
)

// Aircraft is what bears on the upkeep of one aircraft.
type Aircraft struct {
	airworthiness.Aircraft // its facts

	ELT, Transponder Truth // it is installed
	Progressive      Truth // it is inspected progressively (14 CFR 91.409(d))

	Now Reading // what its meters read
	Log []Work  // what was done, in any order; where nothing in it counts for a row, the facts speak

	Own         []Demand // of its own papers: directives, life limits, a program's schedule, the organization's own
	OwnComplete Truth    // somebody has confirmed that Own names all directives and life limits that there are
}

// State says how an item stands, apart from any flight. The zero value is pessimistic.
type State uint8

// The states.
const (
	NotKnown State = iota // its record says too little
	FallenDue
	Serves
	Done // nothing more comes due
)

// States lists the names of the states, in the order of their numbers.
func States() []string { return []string{"not-known", "due", "serves", "done"} }

func (s State) String() string { return States()[s] }

// Left is what is left until an item falls due: less than nothing once it has.
type Left struct {
	Days          Fact[int] // 0 on the last day on which it serves
	Hours, Cycles Fact[float64]
}

// Item is one demand on an aircraft as it stands on a day.
type Item struct {
	Demand
	State  State
	Due    Due
	Left   Left
	IfDone Due // when it would fall due next if it were done on this day

	on      Date
	done    Fact[Date] // when it was last done
	limited Due        // what of Due limits it, known or not
}

// Items lists what there is to keep up, as of a day: first by the book, in its order, then by the aircraft's own papers.
// What does not bind the aircraft is left out; what may bind it is not.
func (r *Rules) Items(a *Aircraft, on Date) []Item {
	var items []Item
	for i := range r.rows {
		row := &r.rows[i]
		d := row.demand(a)
		if d.Applies == airworthiness.No || !inForce(row.From, row.To, on) {
			continue
		}
		if row.Record != own {
			d.Record = r.record(row, a)
		}
		items = append(items, stand(d, on))
	}
	for _, d := range a.Own {
		items = append(items, stand(r.owned(d, on), on))
	}
	return items
}

// demand is what the row asks of an aircraft. One on the aircraft's own papers asks for the papers, as long as nobody has
// confirmed that they are all on record.
func (r *rule) demand(a *Aircraft) Demand {
	d := Demand{
		ID: r.ID, What: r.Title, Citation: r.Citation, Words: r.Words, Status: r.Status, Applies: r.when.of(a, nil),
		Every: r.Every, Allowance: r.Allowance, Lacks: r.Asks, Stops: r.stops,
	}
	if r.Record == own {
		d.Kind, _ = ParseKind(r.ID)
		d.Applies = d.Applies.And(a.onRecord(d.Kind).Not())
	}
	return d
}

// onRecord says whether what the aircraft's own papers ask for, of a kind, is on record: a schedule is, once there is an
// item of it.
func (a *Aircraft) onRecord(kind Kind) Truth {
	if kind != ByProgram {
		return a.OwnComplete
	}
	return airworthiness.TruthOf(slices.ContainsFunc(a.Own, func(d Demand) bool { return d.Kind == ByProgram }))
}

// record is what is on record for a row: whatever of the log counts for it, or else what the facts say.
func (r *Rules) record(row *rule, a *Aircraft) Record {
	if work := r.counting(row, a.Log); len(work) > 0 && row.Record != batteryUse {
		return Record{Work: work, Now: a.Now}
	}
	return a.fromFacts(row.Record)
}

// owned gives a demand of the aircraft's own papers what its kind's row says.
func (r *Rules) owned(d Demand, on Date) Demand {
	d.Applies = airworthiness.Yes
	row, ok := r.ownRow(d.Kind, on)
	if !ok {
		return d
	}
	d.Words, d.Status, d.Allowance, d.Stops = row.Words, row.Status, row.Allowance, row.stops
	if d.Citation == "" {
		d.Citation = row.Citation
	} else {
		d.Citation += "; " + row.Citation
	}
	return d
}

// stand works out how a demand stands on a day.
func stand(d Demand, on Date) Item {
	i := Item{Demand: d, Due: d.Due(), on: on}
	for _, w := range d.Record.Work {
		if w.On.Known && w.On.Value >= i.done.Value {
			i.done = w.On
		}
	}
	i.limited = d.limits()
	i.Left = i.left(d.Record.Now)
	i.IfDone = d.ifDone(on)
	switch {
	case d.over():
		i.State = Done
	case i.fallen():
		i.State = FallenDue
	case i.known():
		i.State = Serves
	}
	return i
}

// limits says what limits the demand: a known field does.
func (d *Demand) limits() Due {
	if len(d.Record.Work) == 0 && d.First.given() {
		return d.First
	}
	var l Due
	l.Through.Known, l.Hours.Known, l.Cycles.Known = d.Every.inDays(), d.Every.Hours > 0, d.Every.Cycles > 0
	return l
}

func (i *Item) left(now Reading) Left {
	var l Left
	if i.Due.Through.Known {
		l.Days = airworthiness.Given(int(i.Due.Through.Value - i.on))
	}
	l.Hours = until(i.Due.Hours, now.Hours)
	l.Cycles = until(i.Due.Cycles, now.Cycles)
	return l
}

func until(due, now Fact[float64]) Fact[float64] {
	if !due.Known || !now.Known {
		return Fact[float64]{}
	}
	return airworthiness.Given(round(due.Value - now.Value))
}

// fallen reports whether no flight at all is left. A battery that has been used for all its hours still serves: it is due
// when it has been used for more.
func (i *Item) fallen() bool {
	usedUp := func(left Fact[float64]) bool {
		return left.Known && (left.Value < 0 || left.Value == 0 && i.Record.Meter != OfBattery)
	}
	return i.Left.Days.Known && i.Left.Days.Value < 0 || usedUp(i.Left.Hours) || usedUp(i.Left.Cycles)
}

// known reports whether everything that limits the item is known, and something does.
func (i *Item) known() bool {
	l := &i.limited
	return l.given() && (!l.Through.Known || i.Left.Days.Known) && (!l.Hours.Known || i.Left.Hours.Known) &&
		(!l.Cycles.Known || i.Left.Cycles.Known)
}

// ifDone is when the demand would fall due next, were it done on a day. What serves as long as is marked on it has no answer.
func (d *Demand) ifDone(on Date) Due {
	if d.Ended || !d.Every.Given() {
		return Due{}
	}
	again := *d
	again.Record.Work = append(slices.Clone(d.Record.Work), Work{On: airworthiness.Given(on), At: d.Record.Now})
	due := again.Due()
	if d.Every.LifeShare > 0 {
		due.Through = Fact[Date]{}
	}
	switch d.Record.Meter {
	case OfBattery:
		due.Hours = Fact[float64]{} // the next battery has a count of its own
	case SinceLast:
		due.Hours = until(due.Hours, d.Record.Now.Hours) // the count starts anew
	default:
	}
	return due
}
