package dispatch

import (
	"slices"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// The bounds of the search for squawks that have to go.
const (
	trials      = 2000 // times that the whole flight is judged
	setsLeading = 12   // sets listed
)

// Release is what would release a flight that is held. Nothing releases itself: somebody has to do and sign it, or to enter
// it, and then the flight is judged anew.
type Release struct {
	Conditions []Condition `json:"conditions"`  // everything that stands in the way
	Squawks    []Squawk    `json:"squawks"`     // the open squawks that stand in the way, in the order of their numbers
	Sets       [][]string  `json:"sets"`        // the smallest sets of squawks without which the flight is permitted; the small ones first
	MoreSets   int         `json:"more_sets"`   // found beyond those listed
	SearchedTo int         `json:"searched_to"` // every set of at most so many squawks was tried
	Beside     bool        `json:"beside"`      // without any squawk the flight is held all the same: Conditions without one, or a block, say why
	Earliest   *time.Time  `json:"earliest,omitempty"`
	NotKnown   []string    `json:"not_known"` // why there is no earliest moment, or why it may be later
	Words      string      `json:"words"`
}

// Condition is one thing that stands in the way, on some legs, with what would take it out of the way.
type Condition struct {
	Legs    []int            `json:"legs"`
	By      string           `json:"by"`      // how it is released: see the constants
	Finding casefile.Finding `json:"finding"` // with what is to be done, and what is missing
}

// How a condition is released.
const (
	ByDeferral = "deferral" // the steps of the deferral are done and signed
	ByRepair   = "repair"   // the squawk is repaired, and the aircraft returned to service
	ByFact     = "fact"     // a fact is supplied
	ByMeeting  = "meeting"  // what the row asks of the aircraft or the flight is met: an inspection, a paper, equipment, another time
)

// Squawk is an open squawk that stands in the way.
type Squawk struct {
	Squawk   string       `json:"squawk"`
	Verdict  string       `json:"verdict"` // the worst that it brings
	Alone    bool         `json:"alone"`   // without it alone the flight is permitted
	Expected *Expectation `json:"expected,omitempty"`
}

// release finds out what would release the flight.
func (j *judge) release() (*Release, error) {
	r := &Release{Conditions: []Condition{}, Squawks: []Squawk{}, Sets: [][]string{}, NotKnown: []string{}}
	for i := range j.Legs {
		for _, f := range j.inTheWay(j.Legs[i]) {
			r.add(i+1, f)
		}
	}
	r.gather(j)
	blocks := j.blocked(0)
	t := trial{judge: judge{Flight: j.Flight}, left: trials}
	r.Beside = blocks != nil || !t.without(j.Defects)
	for i := range r.Squawks {
		r.Squawks[i].Alone = !r.Beside && t.without(named(j.Defects, r.Squawks[i].Squawk))
	}
	if !r.Beside {
		t.sets(r)
	}
	j.judged += t.judged
	for _, b := range blocks {
		r.NotKnown = append(r.NotKnown, "whether the block is moved or cancelled: "+b.Words)
	}
	if err := r.when(j); err != nil {
		return nil, err
	}
	r.Words = r.say(j.Legs[0].Departs.Location())
	return r, nil
}

// add takes up a finding, or adds the leg to one that says the same.
func (r *Release) add(leg int, f casefile.Finding) {
	for i := range r.Conditions {
		g := &r.Conditions[i].Finding
		if g.Row == f.Row && g.Defect == f.Defect && g.Item == f.Item && g.Verdict == f.Verdict && g.Says == f.Says {
			r.Conditions[i].Legs = append(r.Conditions[i].Legs, leg)
			return
		}
	}
	r.Conditions = append(r.Conditions, Condition{Legs: []int{leg}, By: releasedBy(f), Finding: f})
}

func releasedBy(f casefile.Finding) string {
	switch {
	case f.Verdict == airworthiness.DeferFirst.String():
		return ByDeferral
	case f.Verdict == airworthiness.Undetermined.String():
		return ByFact
	case f.Defect != "":
		return ByRepair
	default:
		return ByMeeting
	}
}

// gather lists the squawks that stand in the way.
func (r *Release) gather(j *judge) {
	for _, c := range r.Conditions {
		id := c.Finding.Defect
		if id == "" {
			continue
		}
		i := slices.IndexFunc(r.Squawks, func(s Squawk) bool { return s.Squawk == id })
		if i < 0 {
			s := Squawk{Squawk: id, Verdict: airworthiness.Clear.String()}
			if e, ok := j.Expected[id]; ok {
				s.Expected = &e
			}
			i, r.Squawks = len(r.Squawks), append(r.Squawks, s)
		}
		was, _ := airworthiness.ParseVerdict(r.Squawks[i].Verdict)
		is, _ := airworthiness.ParseVerdict(c.Finding.Verdict)
		r.Squawks[i].Verdict = airworthiness.Worst(was, is).String()
	}
	slices.SortFunc(r.Squawks, func(a, b Squawk) int {
		if a.Squawk < b.Squawk {
			return -1
		}
		return 1
	})
}

func named(defects []airworthiness.Defect, id string) []airworthiness.Defect {
	i := slices.IndexFunc(defects, func(d airworthiness.Defect) bool { return d.ID == id })
	return defects[i : i+1]
}

// trial judges the flight without some of the squawks.
type trial struct {
	judge
	left int
}

// without says whether the flight is permitted once some squawks are gone.
func (t *trial) without(gone []airworthiness.Defect) bool {
	return t.with(slices.DeleteFunc(slices.Clone(t.Defects), func(d airworthiness.Defect) bool {
		return slices.ContainsFunc(gone, func(g airworthiness.Defect) bool { return g.ID == d.ID })
	}))
}

// with says whether the flight is permitted with these squawks alone.
func (t *trial) with(open []airworthiness.Defect) bool {
	t.left--
	t.Plan.Stand(&t.standing, open)
	return t.permits(t.Legs)
}

// sets finds the smallest sets of squawks that have to go. One more squawk never improves a verdict: so a squawk that holds
// the flight by itself is in every such set, and whatever has such a set in it is none of the smallest.
func (t *trial) sets(r *Release) {
	var core, others []airworthiness.Defect
	for i := range t.Defects {
		if t.with(t.Defects[i : i+1]) {
			others = append(others, t.Defects[i])
		} else {
			core = append(core, t.Defects[i])
		}
	}
	var found [][]airworthiness.Defect
	r.SearchedTo = len(core)
	for size := 0; size <= len(others); size++ {
		whole := combinations(others, size, func(set []airworthiness.Defect) bool {
			if slices.ContainsFunc(found, func(f []airworthiness.Defect) bool { return within(f, set) }) {
				return true
			}
			if t.left <= 0 {
				return false
			}
			if t.without(slices.Concat(core, set)) {
				found = append(found, slices.Clone(set))
				r.list(slices.Concat(core, set))
			}
			return true
		})
		if !whole {
			return
		}
		r.SearchedTo = len(core) + size
		if size == 0 && len(found) > 0 {
			r.SearchedTo = len(t.Defects) // no other set is without this one
			return
		}
	}
}

func (r *Release) list(set []airworthiness.Defect) {
	if len(r.Sets) == setsLeading {
		r.MoreSets++
		return
	}
	ids := make([]string, len(set))
	for i := range set {
		ids[i] = set[i].ID
	}
	slices.Sort(ids)
	r.Sets = append(r.Sets, ids)
}

func within(part, set []airworthiness.Defect) bool {
	return !slices.ContainsFunc(part, func(p airworthiness.Defect) bool {
		return !slices.ContainsFunc(set, func(d airworthiness.Defect) bool { return d.ID == p.ID })
	})
}

// combinations calls f for every set of so many, in order, until it says to stop. It reports whether it went through.
func combinations(all []airworthiness.Defect, size int, f func([]airworthiness.Defect) bool) bool {
	set := make([]airworthiness.Defect, 0, size)
	var pick func(from int) bool
	pick = func(from int) bool {
		if len(set) == size {
			return f(set)
		}
		for i := from; i <= len(all)-(size-len(set)); i++ {
			set = append(set, all[i])
			if !pick(i + 1) {
				return false
			}
			set = set[:len(set)-1]
		}
		return true
	}
	return pick(0)
}
