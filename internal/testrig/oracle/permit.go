package oracle

import (
	"slices"
	"strings"

	"tiedown/internal/casefile"
)

// permitGood says whether the flight has a special flight permit (14 CFR 21.197) and stays within it: it has been issued
// (21.199), and its time (21.181(a)(2)), its kinds of operation and its rule on who is aboard are kept.
func (s *scene) permitGood() truth {
	if s.flight.SpecialFlightPermit == nil || s.off == thePermit {
		return no
	}
	if s.permit == unknown {
		s.permit = s.lookAtPermit(s.flight.SpecialFlightPermit)
	}
	return s.permit
}

func (s *scene) lookAtPermit(p *casefile.Permit) truth {
	issued, begun, ended := unknown, unknown, unknown
	if p.Issued != "" {
		issued = certain(p.Issued <= s.flight.Departs.Format("2006-01-02"))
	}
	if p.ValidFrom != nil {
		begun = certain(!s.flight.Departs.Before(*p.ValidFrom))
	}
	if p.ValidUntil != nil {
		ended = certain(s.flight.Arrives.After(*p.ValidUntil))
	}
	good := all(issued, begun, not(ended), some(not(known(p.OnlyRequiredCrew)), certain(s.flight.OnlyRequiredCrew)))
	if p.Kinds == nil {
		return all(good, unknown)
	}
	for _, kind := range kinds {
		if !slices.Contains(*p.Kinds, kind) {
			good = all(good, not(s.kind(kind)))
		}
	}
	return good
}

// names says whether a permit that may be good speaks of a squawk.
func (s *scene) names(d casefile.Defect) bool {
	return s.permitGood() != no && slices.Contains(s.flight.SpecialFlightPermit.Covers, d.ID)
}

// covered says whether the permit of the flight covers a squawk.
func (s *scene) covered(d casefile.Defect) truth {
	if !s.names(d) {
		return no
	}
	return s.permitGood()
}

// coveredCondition says whether a squawk is damage or the like that the permit covers. It goes along with the flight, so
// that what else is required of the unit is asked all the same.
func (s *scene) coveredCondition(d casefile.Defect) bool {
	return s.names(d) && s.equipment(d) == no && !s.cleared(d)
}

// lifted says whether a permit can stand in for a rule at all. It stands in for what makes an aircraft airworthy, not
// for the operating rules beside 91.205.
func lifted(citation string) bool {
	for _, prefix := range []string{
		"14 CFR 91.205(", "14 CFR 91.213(d)(2)(i)", "14 CFR 91.213(d)(2)(ii)", "CAR ", "old 14 CFR ", "14 CFR 27.",
	} {
		if strings.HasPrefix(citation, prefix) && !strings.HasPrefix(citation, "14 CFR 91.213(d)(2)(iii)") {
			return true
		}
	}
	return false
}

// underPermit is the verdict of a step about a squawk that the permit may cover. It does not stand in for what the
// operating rules and the organization require, nor for not knowing what the squawk is about, and what a directive asks
// for stands where nobody has looked for it: a directive may bar the permit (14 CFR 39.23). What has yet to be done can be
// done, whether or not the permit turns out to be good.
func (s *scene) underPermit(st step, d casefile.Defect, v Verdict) Verdict {
	switch {
	case st.name == "regulation", st.name == "directive", st.name == "company":
		return v
	case st.name == "nature" && v == Undetermined:
		return v
	case v == DeferFirst && s.covered(d) == unknown:
		return v
	}
	return unless(v, s.covered(d))
}

// excused is the verdict of a rule for which the permit may stand in.
func (s *scene) excused(r rule) Verdict {
	if !lifted(r.citation) {
		return r.judge(s)
	}
	return s.lift(r.judge)
}

// lift is the verdict of one requirement for which the permit may stand in. A rule that asks for several things puts each
// of them to it: that one of them was never there is no matter for the others.
func (s *scene) lift(judge func(*scene) Verdict) Verdict {
	v := judge(s)
	if v <= Limited || s.standIn || s.permitGood() == no {
		return v
	}
	return unless(v, all(s.permitGood(), certain(s.asBuilt(judge) <= Limited)))
}

// asBuilt is the verdict of a rule with the units in order that squawks bear on which the permit covers. It covers
// squawks, not what the aircraft never had.
func (s *scene) asBuilt(judge func(*scene) Verdict) Verdict {
	c := *s
	c.standIn = true
	return judge(&c)
}

// standsIn says whether the permit stands in for units of some items: some squawk bears on them, and all that do are
// covered by it.
func (s *scene) standsIn(items []string) bool {
	if !s.standIn {
		return false
	}
	stands := false
	for _, d := range s.defects {
		if !s.bears(d, items) {
			continue
		}
		if !s.names(d) {
			return false
		}
		stands = true
	}
	return stands
}

// bears says whether a squawk to which the tests of 14 CFR 91.213(d)(2) are put bears on some items.
func (s *scene) bears(d casefile.Defect, items []string) bool {
	if s.equipment(d) != yes && !s.coveredCondition(d) {
		return false
	}
	return d.Unit != "" && slices.ContainsFunc(s.lost(d), func(l loss) bool { return l.does(items) })
}
