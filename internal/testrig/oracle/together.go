package oracle

import (
	"slices"

	"tiedown/internal/casefile"
)

// hazardTogether is 14 CFR 91.213(d)(4) for the set (inferred): a determination is good for the combination that it was
// made for. One that has not considered another squawk which is, or may be, about an instrument or item of equipment is to
// be made again. Of two that were considered together, common practice may know what they bind the flight to.
func hazardTogether(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) || !deferral(d).HazardDetermined {
		return Clear
	}
	v := Clear
	for _, other := range s.defects {
		switch {
		case other.ID == d.ID || s.equipment(other) == no:
		case slices.Contains(d.Deferral.HazardConsidered, other.ID):
			v = max(v, s.side(d, other))
		default:
			v = max(v, DeferFirst)
		}
	}
	return v
}

// couple is what common practice (from memory) looks at together: things on either side that back each other up.
type couple struct {
	name          string
	first, second []string
	matters       func(*scene) truth // whether their being out together binds this flight at all
	binds         bool               // it limits the flight, beside being borne in mind
}

var (
	radio    = []string{"com-radio"}
	receiver = []string{"vor-receiver", "area-navigation-system"}
	attitude = []string{"attitude-indicator"}
)

var couples = []couple{
	{"two radios", radio, radio, always, false},
	{"two receivers", receiver, receiver, (*scene).ifr, true},
	{"attitude and turn", attitude, []string{"rate-of-turn-indicator"}, always, true},
	{"attitude and heading", attitude, []string{"heading-indicator"}, always, false},
	{"generator and battery", []string{"alternator", "standby-alternator"}, []string{"main-battery", "standby-battery"}, always, true},
	{"pitot heat and static source", []string{"pitot-heat"}, []string{"alternate-static-source"}, always, true},
	{"landing and taxi light", []string{"landing-light"}, []string{"taxi-light"}, func(s *scene) truth { return s.byNight }, true},
}

// side is what two squawks side by side, considered together, bind the flight to.
func (s *scene) side(d, other casefile.Defect) Verdict {
	v := Clear
	ours, theirs := s.lost(d), s.lost(other)
	for _, c := range couples {
		if !c.binds || c.name == s.off || !meet(c, ours, theirs) {
			continue
		}
		switch c.matters(s) {
		case yes:
			v = max(v, Limited)
		case unknown:
			v = max(v, Undetermined)
		case no:
		}
	}
	return v
}

// meet says whether two squawks put both sides of a couple out of work, each by a unit of its own.
func meet(c couple, ours, theirs []loss) bool {
	for _, a := range ours {
		for _, b := range theirs {
			if a.unit != "" && a.unit == b.unit {
				continue
			}
			if a.does(c.first) && b.does(c.second) || a.does(c.second) && b.does(c.first) {
				return true
			}
		}
	}
	return false
}

// loss is one thing that a squawk puts out of work: a unit, or one of which it has not been said which.
type loss struct {
	unit string
	jobs []string
}

func (l loss) does(items []string) bool {
	return slices.ContainsFunc(items, func(item string) bool { return slices.Contains(l.jobs, item) })
}

// lost is what a squawk puts out of work.
func (s *scene) lost(d casefile.Defect) []loss { return s.subject(d).lost }

func (s *scene) loses(d casefile.Defect, felled []int) []loss {
	if d.Unit == "" {
		if d.Item == "" {
			return nil
		}
		return []loss{{"", s.catalog.jobs(d.Item, nil)}}
	}
	var lost []loss
	for _, i := range felled {
		lost = append(lost, loss{s.units[i].ID, s.units[i].jobs})
	}
	return lost
}
