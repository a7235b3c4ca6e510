package casefile

import (
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/upkeep"
)

// DueList is everything that comes due on an aircraft, as of an instant, and on which planned flights it runs out.
type DueList struct {
	Aircraft     string     `json:"aircraft"`
	Registration string     `json:"registration"`
	AsOf         time.Time  `json:"as_of"`
	On           string     `json:"on"`   // the day of that instant, in the zone of the aircraft's base
	Zone         string     `json:"zone"` // of the base
	ReadAt       *time.Time `json:"read_at,omitempty"`
	Hours        *float64   `json:"hours,omitempty"`
	Cycles       *int       `json:"cycles,omitempty"`
	Reading      DueReading `json:"reading"`
	Flights      int        `json:"flights"` // planned flights that were gone through
	Items        []DueItem  `json:"items"`
	Rules        string     `json:"rules"`
	Caution      string     `json:"caution"`
}

// DueReading is which reading of the time in service was counted with.
type DueReading struct {
	Source string         `json:"source"`
	Entry  int            `json:"entry,omitempty"` // number in the book
	By     string         `json:"by,omitempty"`    // who entered it
	Flight string         `json:"flight,omitempty"`
	Says   string         `json:"says"`
	Later  []LaterReading `json:"later"` // other meters that were read since: they are not time in service
}

// LaterReading is a meter that was read after the time in service was entered.
type LaterReading struct {
	Meter string    `json:"meter"`
	Hours float64   `json:"hours"`
	At    time.Time `json:"at"`
}

// DueItem is one thing that comes due.
type DueItem struct {
	ID       string      `json:"id"`
	Kind     string      `json:"kind"`
	What     string      `json:"what"`
	Citation string      `json:"citation"`
	Words    string      `json:"words"`
	Status   string      `json:"status,omitempty"` // how well its row has been read
	State    string      `json:"state"`
	MayApply bool        `json:"may_apply,omitempty"` // whether it binds the aircraft is not known
	Says     string      `json:"says"`
	Missing  string      `json:"missing,omitempty"` // what to supply
	Meter    string      `json:"meter"`
	Due      DueBy       `json:"due"`
	Left     Remaining   `json:"left"`
	IfDone   DueBy       `json:"if_done"` // when it would be due next if it were done now
	Moves    string      `json:"moves"`
	Stops    []DueStop   `json:"stops"`
	RunsOut  *DueRunsOut `json:"runs_out,omitempty"`
	Holds    []DueHold   `json:"holds"`
}

// DueBy is by when: the last day, and what the meter may read. What is absent does not limit, or is not known.
type DueBy struct {
	Through string   `json:"through,omitempty"`
	Hours   *float64 `json:"hours,omitempty"`
	Cycles  *int     `json:"cycles,omitempty"`
}

// Remaining is what is left: less than nothing once it is overdue.
type Remaining struct {
	Days   *int     `json:"days,omitempty"`
	Hours  *float64 `json:"hours,omitempty"`
	Cycles *int     `json:"cycles,omitempty"`
}

// DueStop is one kind of flight that an item stops once it has run out.
type DueStop struct {
	Row      string `json:"row"`
	Citation string `json:"citation"`
	Flights  string `json:"flights"`
}

// DueRunsOut is the flight on which an item runs out.
type DueRunsOut struct {
	Flight    string   `json:"flight"`
	On        string   `json:"on"`
	Nth       int      `json:"nth"`
	Leg       int      `json:"leg,omitempty"`
	By        string   `json:"by"`
	Certain   bool     `json:"certain"`
	Before    bool     `json:"before"`
	IntoHours *float64 `json:"into_hours,omitempty"`
	Says      string   `json:"says"`
}

// DueHold is a planned flight that an item stops, or may.
type DueHold struct {
	Flight  string   `json:"flight"`
	Certain bool     `json:"certain"`
	Rows    []string `json:"rows"`
}

// WriteDueItem puts an item and its projection over planned flights into words.
func WriteDueItem(i *upkeep.Item, p upkeep.Projection) DueItem {
	d := DueItem{
		ID: i.ID, Kind: i.Kind.String(), What: i.What, Citation: i.Citation, Words: i.Words, Status: i.Status,
		State: i.State.String(), MayApply: i.Applies == airworthiness.Unknown, Says: i.Says(), Meter: i.Record.Meter.String(),
		Due: dueBy(i.Due), IfDone: dueBy(i.IfDone), Moves: i.Moves(), Stops: []DueStop{}, Holds: []DueHold{},
		Left: Remaining{Hours: known(i.Left.Hours), Cycles: whole(i.Left.Cycles), Days: known(i.Left.Days)},
	}
	if i.State == upkeep.NotKnown {
		d.Missing = i.Lacks
	}
	for _, s := range i.Stops {
		d.Stops = append(d.Stops, DueStop{Row: s.ID, Citation: s.Citation, Flights: s.Flights})
	}
	if out := p.RunsOut; out != nil {
		d.RunsOut = &DueRunsOut{
			Flight: out.Flight, On: out.On.String(), Nth: out.Nth, Leg: out.Leg, By: out.By.String(), Certain: out.Certain, Before: out.Before,
			IntoHours: known(out.Into), Says: out.Says(i),
		}
	}
	for _, h := range p.Held {
		hold := DueHold{Flight: h.Flight, Certain: h.Certain, Rows: []string{}}
		for _, s := range h.Stops {
			hold.Rows = append(hold.Rows, s.ID)
		}
		d.Holds = append(d.Holds, hold)
	}
	return d
}

func dueBy(d upkeep.Due) DueBy {
	by := DueBy{Hours: known(d.Hours), Cycles: whole(d.Cycles)}
	if d.Through.Known {
		by.Through = d.Through.Value.String()
	}
	return by
}

func known[T any](f airworthiness.Fact[T]) *T {
	if !f.Known {
		return nil
	}
	return &f.Value
}

func whole(f airworthiness.Fact[float64]) *int {
	if !f.Known {
		return nil
	}
	return new(int(f.Value))
}
