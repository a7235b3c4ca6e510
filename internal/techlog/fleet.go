package techlog

import (
	"time"

	"tiedown/internal/casefile"
)

// Base is a place where aircraft stand and flights begin and end.
type Base struct {
	ID      ID
	Code    string // short name, unique in the organization
	Name    string
	Lat     float64 // degrees, north positive
	Lon     float64 // degrees, east positive
	Zone    string  // IANA time zone
	Version int
}

// Aircraft is one aircraft of the fleet.
type Aircraft struct {
	ID            ID
	Registration  string // unique in the organization
	Type          string // the type's name
	Base          ID
	Facts         casefile.Facts
	Configuration casefile.Configuration
	Revision      int // of the configuration, from 1
	Version       int // of the record, for If-Match
	PlanVersion   int // changes with the facts or the configuration
	StateVersion  int // changes with anything that a determination depends on
}

// ConfigurationRevision is one version of an aircraft's configuration. Revisions are never changed, only followed.
type ConfigurationRevision struct {
	Aircraft      ID
	Revision      int
	At            time.Time
	By            string
	Configuration casefile.Configuration
}
