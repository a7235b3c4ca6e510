package casefile

import "time"

// EnvelopeCase is an aircraft with its open squawks, for asking which flights may be made. The flights depart on the date
// of Until, in its offset, and end no later than it; absent means now.
type EnvelopeCase struct {
	Aircraft Aircraft   `json:"aircraft"`
	Defects  []Defect   `json:"defects,omitempty"`
	Until    *time.Time `json:"until,omitempty"`
}
