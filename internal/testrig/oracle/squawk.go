package oracle

import (
	"slices"

	"tiedown/internal/casefile"
)

// judgeSquawk takes one squawk through the decision of 14 CFR 91.213.
func (s *scene) judgeSquawk(d casefile.Defect, off string, a *Answer) {
	for _, st := range steps {
		if st.name != off {
			a.note(st.citation, st.judge(s, d))
		}
	}
}

// step is one question about one squawk.
type step struct {
	citation string
	name     string
	judge    func(*scene, casefile.Defect) Verdict
}

// steps are all of them, in the order of the decision.
var steps = []step{
	{"14 CFR 91.7(a)", "nature", nature},
	{"14 CFR 91.213(a)", "path", path},
	{"14 CFR 91.213(d)(1)", "eligibility", eligibility},
	{"14 CFR 91.213(d)(2)(i)", "type certification", typeCertification},
	{"14 CFR 91.213(d)(2)(ii)", "equipment list", equipmentList},
	{"14 CFR 91.213(d)(2)(ii)", "kinds of operation equipment list", koel},
	{"14 CFR 91.213(d)(2)(iv)", "directives", directives},
	{"14 CFR 91.213(d)(3)", "disposition", disposition},
	{"14 CFR 91.213(d)(4)", "hazard", hazard},
	{"14 CFR 91.405(c)", "lapse", lapse},
}

// itemOf is the item that a squawk names, by its unit or by itself.
func (s *scene) itemOf(d casefile.Defect) string {
	if i := s.find(d.Unit); d.Unit != "" && i >= 0 {
		return s.units[i].Item
	}
	return d.Item
}

// jobsOf lists the items whose job what the squawk names does.
func (s *scene) jobsOf(d casefile.Defect) []string {
	if i := s.find(d.Unit); d.Unit != "" && i >= 0 {
		return s.units[i].jobs
	}
	return s.catalog.jobs(d.Item, nil)
}

// equipment says whether a squawk is about an instrument or item of equipment that is inoperative, which is all that
// 14 CFR 91.213 speaks of.
func (s *scene) equipment(d casefile.Defect) truth {
	ofNature := unknown
	if item := s.itemOf(d); item != "" {
		ofNature = certain(s.catalog[item].nature == "equipment")
	}
	return all(word(d.Kind, "inoperative"), ofNature)
}

// 14 CFR 91.7(a), 91.405(a): damage, wear, leaks and levels out of limits are repaired before flight.
func nature(s *scene, d casefile.Defect) Verdict {
	if s.catalog[s.itemOf(d)].nature == "furnishing" {
		return Clear
	}
	return forbids(not(s.equipment(d)))
}

// deferrable says whether the decision goes on for a squawk: it is about equipment, or may be.
func (s *scene) deferrable(d casefile.Defect) bool { return s.equipment(d) == yes }

// 14 CFR 91.213(a), (c), (d): where a minimum equipment list governs, what it says is not on record.
func path(s *scene, d casefile.Defect) Verdict {
	if !s.deferrable(d) || known(s.MELAuthorized) == no {
		return Clear
	}
	return Undetermined
}

// onNoMELPath says whether 14 CFR 91.213(d) is asked about a squawk.
func (s *scene) onNoMELPath(d casefile.Defect) bool {
	return s.deferrable(d) && known(s.MELAuthorized) != yes
}

// 14 CFR 91.213(d)(1): the aircraft that may use the path without a minimum equipment list.
func eligibility(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) {
		return Clear
	}
	light := some(s.category("glider"), s.category("balloon"), s.category("airship"))
	nonturbine := all(s.category("airplane"), not(s.engine("turbine")))
	trike := some(s.category("powered-parachute"), s.category("weight-shift-control"))
	without := some(s.category("rotorcraft"), nonturbine, light, trike)
	with := some(all(some(s.category("rotorcraft"), nonturbine), s.small()), light)
	return forbids(not(either(known(s.MMELExists), with, without)))
}

// bears says whether a squawk bears on an item: what it fells does that item's job.
func (s *scene) bears(d casefile.Defect, item string) bool {
	if slices.Contains(s.jobsOf(d), item) {
		return true
	}
	// What needs the unit is felled with it.
	felled := s.subjects(d)
	for i := 0; i < len(felled); i++ {
		for j, u := range s.units {
			if slices.Contains(u.Needs, s.units[felled[i]].ID) && !slices.Contains(felled, j) {
				felled = append(felled, j)
			}
		}
	}
	return slices.ContainsFunc(felled, func(i int) bool { return slices.Contains(s.units[i].jobs, item) })
}

// rowApplies says whether a line of the aircraft's own documents binds this flight.
func (s *scene) rowApplies(row casefile.OwnRow) truth {
	if len(row.Kinds) == 0 {
		return yes
	}
	applies := no
	for _, kind := range row.Kinds {
		applies = some(applies, s.kind(kind))
	}
	return applies
}

// ownList is the verdict of one of the aircraft's own documents about a squawk. Whether a document that nobody has
// looked for asks for the item is unknown.
func (s *scene) ownList(d casefile.Defect, list casefile.OwnList) Verdict {
	if !s.onNoMELPath(d) {
		return Clear
	}
	v := Clear
	for _, row := range list.Rows {
		if s.bears(d, row.Item) {
			v = max(v, required(s.rowApplies(row), s.atLeast(max(1, row.Quantity), row.Item)))
		}
	}
	if list.OnRecord == nil {
		v = max(v, Undetermined)
	}
	return v
}

// 14 CFR 91.213(d)(2)(i): equipment that the type certification asks for by day under VFR, for every flight. A list
// that a rated person has confirmed is the whole of it. Short of that, the list of the basis is from memory.
func typeCertification(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) {
		return Clear
	}
	if known(s.own.TypeCertification.OnRecord) == yes {
		return s.ownList(d, s.own.TypeCertification)
	}
	v := Undetermined
	for _, n := range s.basisList() {
		if s.bears(d, n.item) {
			v = max(v, required(n.applies, n.met))
		}
	}
	return v
}

// 14 CFR 91.213(d)(2)(ii): the equipment list, for the kind of flight.
func equipmentList(s *scene, d casefile.Defect) Verdict { return s.ownList(d, s.own.EquipmentList) }

// 14 CFR 91.213(d)(2)(ii): the kinds of operation equipment list, for the kind of flight.
func koel(s *scene, d casefile.Defect) Verdict { return s.ownList(d, s.own.KOEL) }

// 14 CFR 91.213(d)(2)(iv): airworthiness directives that ask for the item to work.
func directives(s *scene, d casefile.Defect) Verdict { return s.ownList(d, s.own.Directives) }

// disposed says whether the item has been removed or deactivated, placarded and entered in the records.
func disposed(f *casefile.Deferral) bool {
	return f != nil && f.Method != "" && f.MethodDone && f.Placarded && f.Recorded
}

// 14 CFR 91.213(d)(3): removed, placarded and recorded, or deactivated and placarded; AC 91-67A asks for the entry then too.
func disposition(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) || disposed(d.Deferral) {
		return Clear
	}
	return DeferFirst
}

// 14 CFR 91.213(d)(4): a rated person has determined that it is no hazard.
func hazard(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) || d.Deferral != nil && d.Deferral.HazardDetermined {
		return Clear
	}
	return DeferFirst
}

// 14 CFR 91.405(c): the deferral ends with the next required inspection.
func lapse(s *scene, d casefile.Defect) Verdict {
	if !s.onNoMELPath(d) || d.Deferral == nil {
		return Clear
	}
	if d.Deferral.Until == nil {
		return Undetermined
	}
	return forbids(certain(s.flight.Arrives.After(*d.Deferral.Until)))
}
