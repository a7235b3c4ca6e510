package casefile

import "time"

// TrendList is what the measurements of an aircraft's walkarounds come to.
type TrendList struct {
	Aircraft     string    `json:"aircraft"`
	Registration string    `json:"registration"`
	AsOf         time.Time `json:"as_of"`
	Trends       []Trend   `json:"trends"`
}

// TrendSeries is one of them with its measurements, oldest first.
type TrendSeries struct {
	Aircraft     string       `json:"aircraft"`
	Registration string       `json:"registration"`
	AsOf         time.Time    `json:"as_of"`
	Trend        Trend        `json:"trend"`
	Points       []TrendPoint `json:"points"`
}

// Trend is what the measurements of one check come to. Hours are those of time in service (14 CFR 1.1).
type Trend struct {
	Check   string   `json:"check"`
	Station string   `json:"station"`
	Item    string   `json:"item,omitempty"`
	Unit    string   `json:"unit,omitempty"` // installed unit
	Words   string   `json:"words"`
	In      string   `json:"in"` // unit of measurement
	AtLeast *float64 `json:"at_least,omitempty"`
	AtMost  *float64 `json:"at_most,omitempty"`

	By           string     `json:"by"` // what slopes and times are counted in
	Because      string     `json:"because,omitempty"`
	Measurements int        `json:"measurements"`
	Compared     int        `json:"compared"`
	LeftOut      int        `json:"left_out"`
	LastAt       time.Time  `json:"last_at"`
	LastValue    float64    `json:"last_value"`
	State        string     `json:"state"`
	Flagged      bool       `json:"flagged"`
	Says         string     `json:"says"`
	Slope        *Slope     `json:"slope,omitempty"`
	Reaches      *Reaching  `json:"reaches,omitempty"`
	Added        *ToppingUp `json:"added,omitempty"`
}

// Slope is how fast a value changes, in its unit by the hour or day, with the interval that holds the true one with a
// confidence.
type Slope struct {
	PerUnit    float64 `json:"per_unit"`
	Low        float64 `json:"low"`
	High       float64 `json:"high"`
	Confidence float64 `json:"confidence"`
	Level      float64 `json:"level"` // what the line has at the last measurement
}

// Reaching is when the line reaches the limit that it heads for: in so many hours or days from now, 0 if it has.
type Reaching struct {
	Limit    float64 `json:"limit"`
	Soonest  float64 `json:"soonest"`
	Expected float64 `json:"expected"`
	Latest   float64 `json:"latest"`
}

// ToppingUp is what a level rose by at once.
type ToppingUp struct {
	Times   int      `json:"times"`
	Amount  float64  `json:"amount"`
	PerUnit *float64 `json:"per_unit,omitempty"` // by the hour or day
}

// TrendPoint is one measurement.
type TrendPoint struct {
	At         time.Time `json:"at"`
	Hours      *float64  `json:"hours,omitempty"` // time in service then
	Value      float64   `json:"value"`
	Run        int       `json:"run"` // measurements of the same run are compared; 0: of none
	Walkaround string    `json:"walkaround"`
	Result     string    `json:"result"`
}

// Note is something to know about an aircraft that is no defect and changes no verdict.
type Note struct {
	Kind  string `json:"kind"`
	Says  string `json:"says"`
	Trend *Trend `json:"trend,omitempty"`
}
