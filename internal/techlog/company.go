package techlog

import (
	"time"

	"tiedown/internal/casefile"
)

// CompanyRules are what an organization asks beyond the regulation, and how it reads the regulation where that leaves a
// choice. Versions are never changed, only followed. Version 0 asks nothing: the organization has written none.
type CompanyRules struct {
	Version int
	Rules   []casefile.CompanyRule
	Policy  casefile.Policy
	At      time.Time
	By      string
}

// KeptDetermination is a determination as it was given to somebody for a flight.
type KeptDetermination struct {
	ID      ID
	Flight  ID
	At      time.Time
	By      string
	Verdict string
	Record  string // JSON of the case, the book's digest and the answer, letter by letter
}
