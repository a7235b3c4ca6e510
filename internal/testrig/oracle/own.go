package oracle

import "tiedown/internal/casefile"

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

// listed is the verdict of what one of the aircraft's own documents asks for.
func (s *scene) listed(list casefile.OwnList) Verdict {
	v := Clear
	for _, row := range list.Rows {
		v = max(v, required(s.rowApplies(row), s.atLeast(max(1, row.Quantity), row.Item)))
	}
	return v
}

// withoutMEL is the scene for what a minimum equipment list takes the place of: where one governs, an item that is
// inoperative is not asked about there.
func (s *scene) withoutMEL() *scene {
	if known(s.MELAuthorized) != yes {
		return s
	}
	c := *s
	c.asked = nil
	return &c
}

// 14 CFR 91.213(d)(2)(i): the aircraft's own list of what its type certification asks for, for every flight.
func confirmedList(s *scene) Verdict { return s.withoutMEL().listed(s.own.TypeCertification) }

// 14 CFR 91.213(d)(2)(ii): the equipment list. That of a light-sport aircraft binds by 91.327(d).
func listedEquipment(s *scene) Verdict { return s.withoutMEL().listed(s.own.EquipmentList) }

// 14 CFR 91.213(d)(2)(ii): the kinds of operation equipment list, for the kind of flight.
func kindsOfOperationList(s *scene) Verdict { return s.withoutMEL().listed(s.own.KOEL) }

// 14 CFR 91.213(d)(2)(iv), (b)(2): airworthiness directives that ask for an item to work.
func directiveRows(s *scene) Verdict { return s.listed(s.own.Directives) }
