package walkaround

import (
	"crypto/sha256"
	"encoding/json"
	"time"

	"tiedown/internal/techlog"
)

// Template is the checklist of a type, as of one version. Versions are never changed, only followed.
type Template struct {
	ID        techlog.ID
	Version   int // from 1
	Type      string
	Checklist Checklist
	At        time.Time
	By        string
}

// AirframeChecklist is how one airframe's checklist is made, as of one version; version 0: nobody has said. Versions are
// never changed, only followed.
type AirframeChecklist struct {
	Aircraft        techlog.ID
	Version         int
	Template        techlog.ID
	TemplateVersion int    // that the changes were made against; walkarounds take the latest
	Serial          string // of the airframe; empty: not known
	Changes         Changes
	At              time.Time
	By              string
}

// Composed is the checklist of one airframe as it was on one occasion, with all that it was made of.
type Composed struct {
	Template        techlog.ID `json:"template"`
	TemplateVersion int        `json:"template_version"`
	AirframeVersion int        `json:"airframe_version"`
	Revision        int        `json:"revision"` // of the configuration
	Serial          string     `json:"serial,omitempty"`
	Checklist
	Dropped []Dropped `json:"dropped,omitempty"`
}

// Digest names a composed checklist by what it says.
func (c *Composed) Digest() ([32]byte, error) {
	raw, err := json.Marshal(c)
	return sha256.Sum256(raw), err
}

// State is where a walkaround stands.
type State string

// The states of a walkaround. Results that arrive after it was completed are taken down as late.
const (
	Walking   State = "open"
	Completed State = "completed"
)

// States lists every state.
func States() []State { return []State{Walking, Completed} }

// Walkaround is one inspection of one aircraft.
type Walkaround struct {
	ID          techlog.ID
	Aircraft    techlog.ID
	Flight      techlog.ID // zero: for no flight
	Checklist   [32]byte   // digest of the composed checklist
	Place       string
	Moisture    *bool // visible moisture near freezing is met, as whoever started it says
	State       State
	StartedBy   string
	StartedAt   time.Time
	CompletedBy string
	CompletedAt time.Time // zero: not completed
	LeftOpen    []string  // checks that were not done when it was completed
	Version     int
}

// Filed is the squawk that was filed of a finding. A finding is filed once.
type Filed struct {
	Walkaround techlog.ID
	Result     techlog.ID
	Squawk     techlog.ID
	At         time.Time
	By         string
}

// Report is what one phone sent at once. Reports are only ever added.
type Report struct {
	Walkaround techlog.ID
	Number     int // of the walkaround, from 1
	At         time.Time
	By         string
	Late       bool // it arrived after the walkaround was completed
	Results    []Result
}
