package techlog

import (
	"time"

	"tiedown/internal/casefile"
)

// FlightState is where an intended flight stands.
type FlightState string

// The states of an intended flight.
const (
	Planned   FlightState = "planned"
	Cancelled FlightState = "cancelled"
)

// Flight is one intended flight.
type Flight struct {
	ID        ID
	Aircraft  ID
	From      ID // base of departure
	To        ID // base of arrival
	Departs   time.Time
	Arrives   time.Time
	Rules     string // vfr or ifr
	Facts     casefile.FlightFacts
	Purpose   string
	State     FlightState
	PlannedBy string
	Light     casefile.Light // worked out from window and bases
	InAlaska  *bool
	Zone      string // of the base of departure: in it the flight has its date
	Hold      Hold
	Version   int
	Sequence  int       // counts from 1 whatever changed of it: its versions, and its holds between them
	ChangedAt time.Time // when that was last
}

// Hold is what stops an intended flight, as of the last change that could touch it.
type Hold struct {
	Verdict string
	Rows    []string // the rows that came out other than passed or noted, in order
	Rules   string   // digest of the book that was read
	At      time.Time
}

// Holds reports whether the flight may not go now.
func (h Hold) Holds() bool { return h.Verdict != "clear" && h.Verdict != "limited" }

// Same reports whether two holds say the same.
func (h Hold) Same(o Hold) bool {
	if h.Verdict != o.Verdict || h.Rules != o.Rules || len(h.Rows) != len(o.Rows) {
		return false
	}
	for i := range h.Rows {
		if h.Rows[i] != o.Rows[i] {
			return false
		}
	}
	return true
}

// Case is the flight as the engine reads it.
func (f *Flight) Case(zone *time.Location) casefile.Flight {
	light := f.Light
	facts := f.Facts
	if facts.InAlaska == nil {
		facts.InAlaska = f.InAlaska
	}
	return casefile.Flight{
		Rules: f.Rules, Departs: f.Departs.In(zone), Arrives: f.Arrives.In(zone), Light: &light, FlightFacts: facts,
	}
}

// Event is one thing that others must hear of. It is written in the transaction that makes it so.
type Event struct {
	ID       ID
	Place    int64  // among the organization's events, from 1, in the order of commits and without a gap; 0 before the commit
	Kind     string // squawk.filed, flight.planned, ...
	Aircraft ID     // zero: it is about no aircraft
	Subject  ID
	By       string // whose change it was, in words
	At       time.Time
	Changes  []HoldChange
}

// HoldChange is a flight whose verdict changed.
type HoldChange struct {
	Flight ID     `json:"flight"`
	Was    string `json:"was"`
	Is     string `json:"is"`
}
