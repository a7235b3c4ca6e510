package walkaround

import (
	"bytes"
	"slices"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Standing is how one check of a walkaround stands.
type Standing struct {
	Check   Check
	Applies bool   // to this flight
	Because string // why it applies, of a check that does not apply to every flight
	State   CheckState
	Results []Result // in the order of their identifiers, replaced ones as well
}

// CheckState is where a check stands.
type CheckState string

// The states of a check.
const (
	Open      CheckState = "open"      // nobody has said anything
	Done      CheckState = "done"      // in order
	Found     CheckState = "finding"   // something is wrong
	LeftOut   CheckState = "skipped"   // not done, and somebody says why
	Contested CheckState = "contested" // results say different things, and none of them settles the others
)

// CheckStates lists every state.
func CheckStates() []CheckState { return []CheckState{Open, Done, Found, LeftOut, Contested} }

// Review is a checklist with what has been said of it: what ends a walkaround.
type Review struct {
	Standings []Standing // in walking order; those that do not apply as well
}

// NewReview works out how every check stands. It does not matter in which order results came, or how often.
func NewReview(list *Checklist, flight Circumstances, results []Result) Review {
	said := make(map[string][]Result, len(results))
	for i := range results {
		r := &results[i]
		if of := said[r.Check]; !slices.ContainsFunc(of, func(o Result) bool { return o.ID == r.ID }) {
			said[r.Check] = append(of, *r)
		}
	}
	review := Review{Standings: make([]Standing, len(list.Checks))}
	for i := range list.Checks {
		s := &review.Standings[i]
		s.Check, s.Results = list.Checks[i], said[list.Checks[i].ID]
		slices.SortFunc(s.Results, func(a, b Result) int { return bytes.Compare(a.ID[:], b.ID[:]) })
		s.Applies, s.Because = flight.Apply(&s.Check)
		s.State = stateOf(Unreplaced(s.Results))
	}
	return review
}

// stateOf is what the results of one check come to that no other one settles.
func stateOf(standing []Result) CheckState {
	var outcome Outcome // of the first that was not skipped
	for i := range standing {
		switch standing[i].Outcome {
		case Skipped, outcome:
		default:
			if outcome != "" {
				return Contested
			}
			outcome = standing[i].Outcome
		}
	}
	switch {
	case len(standing) == 0:
		return Open
	case outcome == "":
		return LeftOut
	case outcome == Finding:
		return Found
	default:
		return Done
	}
}

// Unreplaced are the results of one check that no other one settles.
func Unreplaced(results []Result) []Result {
	if !slices.ContainsFunc(results, func(r Result) bool { return len(r.Said.Replaces) > 0 }) {
		return results
	}
	replaced := map[techlog.ID]bool{}
	for i := range results {
		for _, id := range results[i].Said.Replaces {
			replaced[id] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(results), func(r Result) bool { return replaced[r.ID] })
}

func (r *Review) pick(want func(*Standing) bool) []Standing {
	var picked []Standing
	for i := range r.Standings {
		if want(&r.Standings[i]) {
			picked = append(picked, r.Standings[i])
		}
	}
	return picked
}

// NotDone lists what was not done, item by item: what applies and is open, skipped or contested.
func (r *Review) NotDone() []Standing {
	return r.pick(func(s *Standing) bool {
		return s.Applies && (s.State == Open || s.State == LeftOut || s.State == Contested)
	})
}

// Blocking lists what keeps the walkaround from being completed: required checks of which nobody has said anything, not
// even why they were not done, and whatever is contested.
func (r *Review) Blocking() []Standing {
	return r.pick(func(s *Standing) bool {
		return s.Applies && (s.State == Open && s.Check.Required || s.State == Contested)
	})
}

// Findings lists what was found and not settled by another result since, in walking order. A check that does not apply
// to this flight may have found something all the same.
func (r *Review) Findings() []Result {
	var found []Result
	for i := range r.Standings {
		for _, result := range Unreplaced(r.Standings[i].Results) {
			if result.Outcome == Finding {
				found = append(found, result)
			}
		}
	}
	return found
}

// CompletionFaults are what keeps a walkaround from being completed, one a check.
func (r *Review) CompletionFaults() casefile.Faults {
	var bad casefile.Faults
	for _, s := range r.Blocking() {
		field := "complete." + s.Check.ID
		where := s.Check.Station.Name() + ": " + s.Check.Words
		if s.State == Contested {
			bad.Add(field, "contested", "results contradict each other. "+where, "look again, and send a result that replaces those")
			continue
		}
		bad.Add(field, "required-check", "it is not done. "+where, "do it, or send a result with the outcome skipped and a note that says why")
	}
	return bad
}
