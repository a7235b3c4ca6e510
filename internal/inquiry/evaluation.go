package inquiry

import "tiedown/internal/casefile"

// Evaluation is a determination in words, with what would settle it if that was asked.
type Evaluation struct {
	casefile.Answer
	Settling *Settling `json:"settling,omitempty"`
}
