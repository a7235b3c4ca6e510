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

// 14 CFR 91.213(d)(2)(iv), (b)(2): airworthiness directives that ask for an item to work. A special flight permit stands
// in for one only if the directive is known not to bar it (14 CFR 39.23).
func directiveRows(s *scene) Verdict {
	v := Clear
	for i, row := range s.own.Directives.Rows {
		one := casefile.OwnList{Rows: []casefile.OwnRow{row}}
		stands := s.listed(one)
		if stands > Limited && s.permitGood() != no && s.mayStandIn(one) {
			stands = unless(stands, all(s.permitGood(), not(s.barsPermit(i))))
		}
		v = max(v, stands)
	}
	return v
}

// mayStandIn says whether what a list asks for would be met but for the squawks that the permit covers.
func (s *scene) mayStandIn(list casefile.OwnList) bool {
	c := *s
	c.standIn = true
	return c.listed(list) <= Limited
}

// barsPermit says whether a row of the directives bars a special flight permit.
func (s *scene) barsPermit(row int) truth {
	rows := s.more.Aircraft.Configuration.Directives.Rows
	if row >= len(rows) {
		return unknown
	}
	return known(rows[row].PermitBarred)
}
