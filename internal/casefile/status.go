package casefile

import "time"

// Status says what an aircraft may do as it stands: one cell a kind of operation.
type Status struct {
	Aircraft     string       `json:"aircraft"`
	Registration string       `json:"registration"`
	AsOf         time.Time    `json:"as_of"`
	OpenSquawks  int          `json:"open_squawks"`
	Kinds        []KindStatus `json:"kinds"`
	Notes        []Note       `json:"notes"`
	Rules        string       `json:"rules"`
	Caution      string       `json:"caution"`
}

// KindStatus is one cell: what is left open about the flight has become a limitation.
type KindStatus struct {
	Kind            string       `json:"kind"`
	Verdict         string       `json:"verdict"`
	Permits         bool         `json:"permits"`
	Limitations     []string     `json:"limitations"`
	LimitationsData []Limitation `json:"limitations_data"`
	Missing         []Missing    `json:"missing"`
	Findings        []Finding    `json:"findings"`
}
