package techlog

import "time"

// Upcoming is a thing of an aircraft that comes due, as it stands.
type Upcoming struct {
	Aircraft     ID
	Registration string
	Thing        string // upkeep:annual, paper:registration, deferral:ID or row:ID
	What         string // in words: annual inspection
	Says         string // by when, and why then
	Due          string // the last day on which it serves, or the first of a row, at the aircraft's base: YYYY-MM-DD
	Days         int    // until then: 0 on that day, less once it has passed
	Squawk       ID     // of a deferral
	Flights      []ID   // planned flights that are held by it already, of a row that comes into force
}

// Warning is that people were told ahead of something that comes due. It is given once for each day that the thing is due
// on, and each lead.
type Warning struct {
	ID ID
	Upcoming
	Lead int // days ahead, as the organization has set
	At   time.Time
}

// WarningLeads is how many days ahead an organization's people are told, the most first.
type WarningLeads struct {
	Version int // 0: the organization has not said, and the usual ones count
	Days    []int
	At      time.Time
	By      string
}
