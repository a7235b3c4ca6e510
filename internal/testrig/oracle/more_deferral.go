package oracle

import (
	"slices"

	"tiedown/internal/casefile"
)

// cleared says whether a condition has been cleared: repaired or found within limits, by a person rated for it, by data
// that are named, and approved for return to service (14 CFR 43.5, 43.7, 43.9). Only a condition can be.
func (s *scene) cleared(d casefile.Defect) bool {
	found := s.said(d).Found
	if found == nil || s.equipment(d) != no {
		return false
	}
	return (found.Result == "repaired" || found.Result == "within-limits") && found.Rated && found.Data != "" && found.Approved
}

var hazardOfTheSet = step{"14 CFR 91.213(d)(4)", "hazard of the set", hazardTogether}

// hazardTogether is 14 CFR 91.213(d)(4) for the set (inferred): a determination that has not considered another squawk
// which is, or may be, about an instrument or item of equipment is to be made again.
func hazardTogether(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) || !deferral(d).HazardDetermined {
		return Clear
	}
	for _, other := range s.defects {
		if other.ID != d.ID && s.equipment(other) != no && !slices.Contains(s.said(d).Deferral.HazardConsidered, other.ID) {
			return DeferFirst
		}
	}
	return Clear
}

// confirmed says whether a rated person has confirmed the aircraft's own type certification list.
func (s *scene) confirmed() truth {
	onRecord := known(s.own.TypeCertification.OnRecord)
	if s.more != nil && onRecord == yes && s.more.Aircraft.Configuration.TypeCertification.Confirmed == nil {
		return unknown
	}
	return onRecord
}

// entryAsked says whether a deactivation is entered in the records: always by AC 91-67A, or, where the policy is the
// text of the rule, if it involves maintenance.
func (s *scene) entryAsked(d casefile.Defect) truth {
	if s.more == nil || s.more.Policy.Deactivation != "rule-text" {
		return yes
	}
	return known(s.said(d).Deferral.InvolvesMaintenance)
}
