package oracle

import (
	"slices"

	"tiedown/internal/casefile"
)

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
		v = max(v, s.lift(func(s *scene) Verdict { return s.listedRow(row) }))
	}
	return v
}

func (s *scene) listedRow(row casefile.OwnRow) Verdict {
	return required(s.rowApplies(row), s.atLeast(max(1, row.Quantity), row.Item))
}

// deferrable is the scene for what binds the path without a minimum equipment list alone.
func (s *scene) deferrable() *scene {
	c := *s
	c.asked = s.askedOfLists
	return &c
}

// 14 CFR 91.213(d)(2)(i): the aircraft's own list of what its type certification asks for, for every flight.
func confirmedList(s *scene) Verdict {
	list := s.own.TypeCertification
	list.Rows = slices.Clone(list.Rows)
	for i := range list.Rows {
		list.Rows[i].Kinds = nil
	}
	return s.deferrable().listed(list)
}

// 14 CFR 91.213(d)(2)(ii): the equipment list. That of a light-sport aircraft binds by 91.327(d).
func listedEquipment(s *scene) Verdict { return s.deferrable().listed(s.own.EquipmentList) }

// 14 CFR 91.213(d)(2)(ii): the kinds of operation equipment list, for the kind of flight.
func kindsOfOperationList(s *scene) Verdict { return s.deferrable().listed(s.own.KOEL) }

// 14 CFR 91.213(d)(2)(iv), (b)(2): airworthiness directives that ask for an item to work. A special flight permit stands
// in for one only if the directive is known not to bar it (14 CFR 39.23).
func directiveRows(s *scene) Verdict {
	v := Clear
	for _, row := range s.own.Directives.Rows {
		judge := func(s *scene) Verdict { return s.listedRow(row) }
		stands := judge(s)
		if stands > Limited && lookedFor(s.own.Directives) == yes && s.permitGood() != no && s.asBuilt(judge) <= Limited {
			stands = unless(stands, all(s.permitGood(), not(known(row.PermitBarred))))
		}
		v = max(v, stands)
	}
	return v
}
