package dispatch

import (
	"time"

	"tiedown/internal/airworthiness"
)

// Outlook is what can be said of an intended flight beyond its verdict.
type Outlook struct {
	Flight     string     `json:"flight"`  // its identifier
	Zone       string     `json:"zone"`    // in which the flight has its date
	Verdict    string     `json:"verdict"` // the worst of the legs
	Permits    bool       `json:"permits"` // and no block holds it
	Blocks     []Block    `json:"blocks"`  // that hold it, whatever its verdict
	Legs       []Leg      `json:"legs"`
	Part       Part       `json:"part"`
	Departures Departures `json:"departures"`
	Release    *Release   `json:"release,omitempty"` // of a flight that is held
	AsOf       time.Time  `json:"as_of"`
	Judged     int        `json:"judged"` // legs put to the determination for this answer
	Rules      string     `json:"rules"`
	Caution    string     `json:"caution"`
}

// Of finds out what can be said of a flight of at least one leg. The error, if any, is of kind invalid and names every
// faulty field. It costs at most one determination a minute of each leg that is not permitted, and those of the searches
// for departures and squawks, which are bounded.
func Of(f *Flight) (Outlook, error) {
	j, err := newJudge(f)
	if err != nil {
		return Outlook{}, err
	}
	v := j.whole(f.Legs)
	o := Outlook{Verdict: v.String(), Permits: v.Permits(), Blocks: []Block{}, AsOf: f.Now, Legs: j.legs(), Zone: f.Legs[0].Departs.Location().String(), Caution: f.Plan.Term(airworthiness.TermCaution)}
	if blocks := j.blocked(0); blocks != nil {
		o.Blocks, o.Permits = blocks, false
	}
	o.Part = largest(o.Legs)
	o.Departures = j.departures()
	if !o.Permits {
		r, err := j.release()
		if err != nil {
			return Outlook{}, err
		}
		o.Release = r
	}
	o.Judged = j.judged
	return o, nil
}
