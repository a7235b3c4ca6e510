package dispatch

import (
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/daylight"
)

// Flight is an intended flight with the aircraft as it stands.
type Flight struct {
	Plan    *airworthiness.Plan
	Rules   *airworthiness.Ruleset // with which the plan was made
	Facts   casefile.Facts         // of the aircraft
	Defects []airworthiness.Defect // the open squawks that bear on the flight
	// Legs are in the order in which they are flown. Each departs in the zone of the place that it leaves, in which it has
	// its date. A leg without a route is in the light that it says, and in an unknown one at any other time.
	Legs   []casefile.Flight
	Now    time.Time      // nothing departs earlier
	Base   *time.Location // zone of the aircraft's base, where expected days begin
	Blocks []Block        // times for which somebody keeps the aircraft from flying
	// Expected is what maintenance expects of squawks, by their identifiers.
	Expected map[string]Expectation
}

// Expectation is when maintenance expects that a squawk can be worked off, such as when its parts come.
type Expectation struct {
	On    string `json:"on"` // YYYY-MM-DD, at the aircraft's base
	Words string `json:"words"`
}

// Block is a time for which somebody keeps an aircraft from flying, whatever its state.
type Block struct {
	ID    string     `json:"id"`
	Kind  string     `json:"kind"`
	From  time.Time  `json:"from"`
	To    *time.Time `json:"to,omitempty"` // absent: until further notice
	Words string     `json:"words"`
}

// holds says whether the block overlaps a stretch of time.
func (b *Block) holds(from, to time.Time) bool {
	return b.From.Before(to) && (b.To == nil || b.To.After(from))
}

// blocked lists the blocks that hold a flight which leaves so much later, in the air or between its legs.
func (j *judge) blocked(by time.Duration) []Block {
	var found []Block
	from, to := j.Legs[0].Departs.Add(by), j.Legs[len(j.Legs)-1].Arrives.Add(by)
	for i := range j.Blocks {
		if j.Blocks[i].holds(from, to) {
			found = append(found, j.Blocks[i])
		}
	}
	return found
}

// judge puts parts of a flight to the determination.
type judge struct {
	*Flight
	standing airworthiness.Standing
	answer   airworthiness.Determination
	judged   int // legs put to the determination
}

// newJudge reads the flight. The error, if any, is of kind invalid and names every faulty field.
func newJudge(f *Flight) (*judge, error) {
	j := &judge{Flight: f}
	f.Plan.Stand(&j.standing, f.Defects)
	for i := range f.Legs {
		if _, err := casefile.CompileFlight(f.Legs[i], f.Facts); err != nil {
			return nil, err
		}
	}
	return j, nil
}

// decide judges one leg. What cannot be read as a leg is undetermined.
func (j *judge) decide(l casefile.Flight) airworthiness.Verdict {
	j.judged++
	e, err := casefile.CompileFlight(l, j.Facts)
	if err != nil {
		j.answer = airworthiness.Determination{}
		return airworthiness.Undetermined
	}
	prepared := j.Rules.Prepare(e)
	j.Plan.Decide(&j.answer, &j.standing, &prepared)
	return j.answer.Verdict
}

// whole judges every leg, and gives the worst verdict.
func (j *judge) whole(legs []casefile.Flight) airworthiness.Verdict {
	worst := airworthiness.Clear
	for i := range legs {
		worst = airworthiness.Worst(worst, j.decide(legs[i]))
	}
	return worst
}

// permits says whether every leg is permitted. It looks no further than the first that is not.
func (j *judge) permits(legs []casefile.Flight) bool {
	for i := range legs {
		if !j.decide(legs[i]).Permits() {
			return false
		}
	}
	return true
}

// shifted is a leg that leaves so much later, or earlier. Light that was said and not worked out is that of the leg's own
// time alone.
func shifted(l casefile.Flight, by time.Duration) casefile.Flight {
	l.Departs, l.Arrives = l.Departs.Add(by), l.Arrives.Add(by)
	if by != 0 && len(l.Route) == 0 {
		l.Light = nil
	}
	return l
}

// places are those of a leg's route.
func places(l *casefile.Flight) []daylight.Place {
	route := make([]daylight.Place, len(l.Route))
	for i, p := range l.Route {
		route[i] = daylight.Place{Lat: *p.Lat, Lon: *p.Lon}
	}
	return route
}
