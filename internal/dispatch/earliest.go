package dispatch

import (
	"fmt"
	"time"

	"tiedown/internal/airworthiness"
)

// when works out the earliest moment at which the flight may be released, from what maintenance expects of squawks. A
// squawk that can be deferred waits for nothing but the hands that do it; one that has to be repaired waits for what is
// expected of it, and where nothing is, nobody knows when. The set that may go first counts. It is never before now, and
// never says that anything happens by itself.
func (r *Release) when(j *judge) error {
	if r.Beside {
		for _, c := range r.Conditions {
			switch {
			case c.Finding.Defect != "":
			case c.By == ByFact:
				r.NotKnown = append(r.NotKnown, fmt.Sprintf("what %s [%s] asks for", c.Finding.Citation, c.Finding.Row))
			default:
				r.NotKnown = append(r.NotKnown, fmt.Sprintf("when %s [%s] will be met", c.Finding.Citation, c.Finding.Row))
			}
		}
		return nil
	}
	var why []string
	for _, set := range r.Sets {
		at := j.Now
		var lacks []string
		for _, id := range set {
			from, known, err := r.from(j, id)
			switch {
			case err != nil:
				return err
			case !known:
				lacks = append(lacks, "when squawk "+id+" will be worked off: nobody has entered what is expected")
			case from.After(at):
				at = from
			}
		}
		if lacks != nil {
			if why == nil {
				why = lacks
			}
			continue
		}
		if r.Earliest == nil || at.Before(*r.Earliest) {
			r.Earliest = &at
		}
	}
	if r.Earliest == nil {
		r.NotKnown = append(r.NotKnown, why...)
	}
	return nil
}

// from is when a squawk may be out of the way, as far as that is known.
func (r *Release) from(j *judge, id string) (time.Time, bool, error) {
	for _, s := range r.Squawks {
		if s.Squawk == id && s.Verdict == airworthiness.DeferFirst.String() {
			return j.Now, true, nil
		}
	}
	e, ok := j.Expected[id]
	if !ok {
		return time.Time{}, false, nil
	}
	on, err := time.ParseInLocation(time.DateOnly, e.On, j.Base)
	return on, true, err
}
