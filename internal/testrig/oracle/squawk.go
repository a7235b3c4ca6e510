package oracle

import (
	"slices"
	"strings"

	"tiedown/internal/casefile"
)

// step is one question about one squawk, which the decision of 14 CFR 91.213 takes it through.
type step struct {
	citation string
	name     string
	judge    func(*scene, casefile.Defect) Verdict
}

// steps are all of them, in the order of the decision.
var steps = []step{
	{"14 CFR 91.213", "nature", nature},
	{"14 CFR 91.213(d)(1)", "path", path},
	{"14 CFR 91.213(d)(1)", "eligibility", eligibility},
	{"14 CFR 91.213(d)(2)(i)", "type certification", typeCertification},
	{"14 CFR 91.213(d)(2)(ii)", "document of required equipment", equipmentDocuments},
	{"14 CFR 91.213(d)(2)(iii)", "regulation", regulation},
	{"14 CFR 91.213(d)(2)(iv)", "directive", directive},
	{"the organization's own rules", "company", company},
	{"14 CFR 91.213(d)(3)", "out of use", outOfUse},
	{"14 CFR 91.213(d)(3)(i)", "placard at the control", placardAtControl},
	{"14 CFR 91.213(d)(3)(i)", "record of removal", recordOfRemoval},
	{"14 CFR 91.213(d)(3)(ii)", "placard inoperative", placardInoperative},
	{"14 CFR 91.213(d)(3)(ii)", "record of deactivation", recordOfDeactivation},
	{"14 CFR 91.213(d)(4)", "hazard", hazard},
	{"14 CFR 91.213(d)(4)", "hazard of the set", hazardTogether},
	{"14 CFR 91.405(c)", "lapse", lapse},
}

// equipment says whether a squawk is about an instrument or item of equipment that is inoperative, which is all that
// 14 CFR 91.213 speaks of. Furnishings go the same way.
func (s *scene) equipment(d casefile.Defect) truth { return s.subject(d).equipment }

func (s *scene) isEquipment(d casefile.Defect) truth {
	item := d.Item
	if i := s.find(d.Unit); d.Unit != "" && i >= 0 {
		item = s.units[i].Item
	}
	kind := unknown
	if item != "" {
		kind = not(s.neverEquipment(item))
	}
	return all(word(d.Kind, "inoperative"), kind)
}

// neverEquipment says whether an item is one of which there are only conditions, such as a tire.
func (s *scene) neverEquipment(item string) truth {
	return certain(s.catalog[item].nature == "condition")
}

// 14 CFR 91.213, 1.1, 91.405(a): damage, wear, leaks and levels out of limits are not inoperative equipment: they are
// repaired before flight.
func nature(s *scene, d casefile.Defect) Verdict {
	if s.cleared(d) {
		return Clear
	}
	return forbids(not(s.equipment(d)))
}

// cleared says whether a condition has been cleared: repaired or found within limits, by a person rated for it, by data
// that are named, and approved for return to service (14 CFR 43.5, 43.7, 43.9). Only a condition can be.
func (s *scene) cleared(d casefile.Defect) bool {
	f := d.Found
	if f == nil || s.off == theClearing || s.equipment(d) != no {
		return false
	}
	return (f.Result == "repaired" || f.Result == "within-limits") && f.Rated && strings.TrimSpace(f.Data) != "" && f.Approved
}

// 14 CFR 91.213(a), (c), (d): where a minimum equipment list governs, what it says is not on record.
func path(s *scene, d casefile.Defect) Verdict {
	if s.equipment(d) != yes || known(s.MELAuthorized) == no || s.governs(d) {
		return Clear
	}
	return Undetermined
}

// onNoMELPath says whether 14 CFR 91.213(d) is asked about a squawk: it is about equipment, and no MEL is known to govern.
func (s *scene) onNoMELPath(d casefile.Defect) bool {
	return s.equipment(d) == yes && known(s.MELAuthorized) != yes
}

// 14 CFR 91.213(d)(1): the aircraft that may use the path without a minimum equipment list.
func eligibility(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) || known(s.MELAuthorized) == unknown {
		return Clear
	}
	light := some(s.category("glider"), s.category("balloon"), s.category("airship"))
	nonturbine := all(s.category("airplane"), not(s.engine("turbine")))
	trike := some(s.category("powered-parachute"), s.category("weight-shift-control"))
	without := some(s.category("rotorcraft"), nonturbine, light, trike)
	with := some(all(some(s.category("rotorcraft"), nonturbine), s.small()), light)
	return forbids(not(either(known(s.MMELExists), with, without)))
}

// counted is the verdict of one test of 14 CFR 91.213(d)(2) about a squawk, beside the rows that the test has. It is
// open where nobody has looked for the document, and where no unit is named, so that nothing can be counted.
func (s *scene) counted(d casefile.Defect, lookedFor truth) Verdict {
	if s.onNoMELPath(d) && (d.Unit == "" || lookedFor != yes) {
		return Undetermined
	}
	return Clear
}

// confirmed says whether a rated person has confirmed the aircraft's own type certification list: by name and certificate,
// when, and from which document.
func (s *scene) confirmed() truth {
	list := s.own.TypeCertification
	c := list.Confirmed
	if known(list.OnRecord) == yes && (c == nil || c.By == "" || c.Certificate == "" || c.On == "" || c.Document == "") {
		return unknown
	}
	return known(list.OnRecord)
}

func lookedFor(list casefile.OwnList) truth { return certain(list.OnRecord != nil) }

// 14 CFR 91.213(d)(2)(i): part of the type certification equipment. Without a list that a rated person has confirmed,
// that an item is not part of it is not known; that it is part of it, the list of the basis may say.
func typeCertification(s *scene, d casefile.Defect) Verdict {
	if s.onBasisList(s.bornOn(d)) > Limited {
		return Clear // which that list answers for
	}
	return s.counted(d, s.confirmed())
}

// 14 CFR 91.213(d)(2)(ii): required by the equipment list or the kinds of operation equipment list.
func equipmentDocuments(s *scene, d casefile.Defect) Verdict {
	return s.counted(d, all(lookedFor(s.own.EquipmentList), lookedFor(s.own.KOEL)))
}

// asksOfUnit says whether it is asked of the unit of a squawk, or of its item, what requires it to work whatever path the
// deferral takes: on the path without a list, under a list (91.213(b)(2), (3)), and under a special flight permit.
func (s *scene) asksOfUnit(d casefile.Defect) bool {
	if d.Unit == "" && s.coveredCondition(d) {
		return d.Item == "" || s.neverEquipment(d.Item) == no
	}
	return s.onNoMELPath(d) || s.governs(d) || s.equipment(d) == yes && s.names(d) || s.coveredCondition(d)
}

// 14 CFR 91.213(d)(2)(iii), (b)(3): required by part 91 for this flight.
func regulation(s *scene, d casefile.Defect) Verdict {
	if s.asksOfUnit(d) && d.Unit == "" {
		return Undetermined
	}
	return Clear
}

// 14 CFR 91.213(d)(2)(iv), (b)(2): required by a directive. Of what is no equipment no units are counted: that a directive
// speaks of it at all, for whatever kind of flight, is enough not to know.
func directive(s *scene, d casefile.Defect) Verdict {
	switch {
	case !s.asksOfUnit(d) && !s.coveredCondition(d):
		return Clear
	case lookedFor(s.own.Directives) != yes, s.asksOfUnit(d) && d.Unit == "":
		return Undetermined
	case d.Unit == "" && s.directiveNames(d.Item):
		return Undetermined
	}
	return Clear
}

func (s *scene) directiveNames(item string) bool {
	return slices.ContainsFunc(s.own.Directives.Rows, func(r casefile.OwnRow) bool { return r.Item == item })
}

// done is the verdict of one step of a deferral that may not bind it.
func done(binds truth, did bool) Verdict {
	switch all(binds, certain(!did)) {
	case yes:
		return DeferFirst
	case no:
		return Clear
	case unknown:
	}
	return Undetermined
}

// method says whether a squawk is deferred by a method. A squawk that nobody has begun to defer is to be deactivated.
func method(d casefile.Defect, want string) truth {
	if d.Deferral == nil {
		return certain(want == "deactivated")
	}
	return word(d.Deferral.Method, want)
}

func deferral(d casefile.Defect) casefile.Deferral {
	if d.Deferral == nil {
		return casefile.Deferral{}
	}
	return *d.Deferral
}

// 14 CFR 91.213(d)(3): removed or deactivated.
func outOfUse(s *scene, d casefile.Defect) Verdict {
	f := deferral(d)
	switch {
	case !s.onNoMELPath(d) || f.MethodDone && f.Method != "":
		return Clear
	case f.MethodDone:
		return Undetermined // which of the two has been done is not known
	}
	return DeferFirst
}

// 14 CFR 91.213(d)(3)(i): after removal, the cockpit control is placarded.
func placardAtControl(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) {
		return Clear
	}
	return done(method(d, "removed"), deferral(d).Placarded)
}

// 14 CFR 91.213(d)(3)(i), 43.9: the removal is entered in the records.
func recordOfRemoval(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) {
		return Clear
	}
	return done(method(d, "removed"), deferral(d).Recorded)
}

// 14 CFR 91.213(d)(3)(ii): what is deactivated is placarded inoperative.
func placardInoperative(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) {
		return Clear
	}
	return done(method(d, "deactivated"), deferral(d).Placarded)
}

// 14 CFR 91.213(d)(3)(ii), AC 91-67A: the deactivation is entered in the records.
func recordOfDeactivation(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) {
		return Clear
	}
	return done(all(method(d, "deactivated"), s.entryAsked(d)), deferral(d).Recorded)
}

// entryAsked says whether a deactivation is entered in the records: always by AC 91-67A, or, where the policy is the
// text of the rule, if it involves maintenance. A deferral that nobody has begun is told of with all that it may need.
func (s *scene) entryAsked(d casefile.Defect) truth {
	if s.house.Policy.Deactivation != "rule-text" || s.off == thePolicy || d.Deferral == nil {
		return yes
	}
	return known(d.Deferral.InvolvesMaintenance)
}

// 14 CFR 91.213(d)(4): a rated person has determined that it is no hazard.
func hazard(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) || deferral(d).HazardDetermined {
		return Clear
	}
	return DeferFirst
}

// 14 CFR 91.405(c): the deferral ends with the next required inspection.
func lapse(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) {
		return Clear
	}
	return s.lapsed(d)
}

func (s *scene) lapsed(d casefile.Defect) Verdict {
	if d.Deferral == nil {
		return Clear
	}
	if d.Deferral.Until == nil {
		return Undetermined
	}
	return forbids(certain(s.flight.Arrives.After(*d.Deferral.Until)))
}
