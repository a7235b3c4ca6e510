package oracle

import (
	"slices"
	"strings"
	"time"

	"tiedown/internal/casefile"
)

// permit is a special flight permit (14 CFR 21.197) as a flight states it.
type permit struct {
	ValidFrom        *time.Time `json:"valid_from"`
	ValidUntil       *time.Time `json:"valid_until"`
	Covers           []string   `json:"covers"`
	Kinds            []string   `json:"kinds"`
	OnlyRequiredCrew bool       `json:"only_required_crew"`
}

// permitGood says whether the flight has a permit and stays within it: its time (21.181(a)(2)), its kinds of operation
// and its rule on who is aboard.
func (s *scene) permitGood() truth {
	if s.more == nil || s.more.Flight.Permit == nil {
		return no
	}
	p := s.more.Flight.Permit
	if p.ValidFrom == nil || p.ValidUntil == nil || s.flight.Departs.Before(*p.ValidFrom) || s.flight.Arrives.After(*p.ValidUntil) {
		return no
	}
	good := certain(!p.OnlyRequiredCrew || s.flight.OnlyRequiredCrew)
	if len(p.Kinds) > 0 {
		for _, kind := range kinds {
			if !slices.Contains(p.Kinds, kind) {
				good = all(good, not(s.kind(kind)))
			}
		}
	}
	return good
}

// covered says whether the permit of the flight covers a squawk.
func (s *scene) covered(d casefile.Defect) truth {
	good := s.permitGood()
	if good == no || !slices.Contains(s.more.Flight.Permit.Covers, d.ID) {
		return no
	}
	return good
}

// lifted says whether a permit can stand in for a rule at all. It stands in for what makes an aircraft airworthy, not
// for the operating rules beside 91.205.
func lifted(citation string) bool {
	for _, prefix := range []string{
		"14 CFR 91.205(", "14 CFR 91.213(d)(2)(i)", "14 CFR 91.213(d)(2)(ii)", "CAR ", "old 14 CFR ", "14 CFR 27.",
	} {
		if strings.HasPrefix(citation, prefix) {
			return true
		}
	}
	return false
}

// underPermit is the verdict of a step about a squawk that the permit may cover. What a directive asks for stands where
// nobody has looked for it: a directive may bar the permit (14 CFR 39.23).
func (s *scene) underPermit(st step, d casefile.Defect, v Verdict) Verdict {
	if st.name == "regulation" || st.name == "directive" {
		return v
	}
	return unless(v, s.covered(d))
}

// excused is the verdict of a rule for which the permit may stand in, as far as the squawks go that it covers: every
// squawk that bears on what the rule asks for must be among them.
func (s *scene) excused(r rule) Verdict {
	v := r.judge(s)
	if v <= Limited || s.permitGood() == no || !lifted(r.citation) {
		return v
	}
	c := *s
	c.standIn = true
	return max(Limited, unless(v, all(s.permitGood(), certain(r.judge(&c) <= Limited))))
}

// standsIn says whether the permit stands in for units of some items: all squawks that bear on them are covered by it.
func (s *scene) standsIn(items []string) bool {
	if !s.standIn {
		return false
	}
	for _, d := range s.defects {
		if slices.Contains(s.more.Flight.Permit.Covers, d.ID) {
			continue
		}
		for item := range s.bornOn(d) {
			if slices.Contains(items, item) {
				return false
			}
		}
	}
	return true
}

// mended are units as they would be without the squawks that the permit covers.
func (s *scene) mended(units []unit) []unit {
	units = slices.Clone(units)
	for i := range units {
		units[i].works = true
		for _, d := range s.defects {
			fells := slices.ContainsFunc(s.felled(d), func(j int) bool { return s.units[j].ID == units[i].ID })
			if fells && !slices.Contains(s.more.Flight.Permit.Covers, d.ID) {
				units[i].works = false
			}
		}
	}
	return units
}
