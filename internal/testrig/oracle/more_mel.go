package oracle

import (
	"slices"
	"time"

	"tiedown/internal/casefile"
)

// mel is a minimum equipment list: what it allows to be inoperative, and on what conditions.
type mel struct {
	OnRecord     *bool    `json:"on_record"`
	Authority    string   `json:"authority"` // 91.213(a), or 91.213(c) where the letters' intervals bind
	LetterAboard *bool    `json:"letter_aboard"`
	Rows         []melRow `json:"rows"`
}

type melRow struct {
	Item                 string `json:"item"`
	Required             int    `json:"required"`
	Category             string `json:"category"`
	Days                 int    `json:"days"`
	OperationsProcedure  bool   `json:"operations_procedure"`
	MaintenanceProcedure bool   `json:"maintenance_procedure"`
	Proviso              string `json:"proviso"`
	OnlyWhen             string `json:"only_when"`
}

// melSteps are the questions about a squawk where a minimum equipment list governs.
var melSteps = []step{
	{"14 CFR 91.213(a)(2)", "letter aboard", letterAboard},
	{"14 CFR 91.213(a)(3)", "item in the MEL", inMEL},
	{"14 CFR 91.213(a)(5)", "conditions of the MEL", melConditions},
	{"14 CFR 91.213(a)(4)", "entry under the MEL", melEntry},
	{"14 CFR 91.213(a)", "placard under the MEL", melPlacard},
	{"14 CFR 91.213(a)(5)", "maintenance procedure", maintenanceProcedure},
	{"14 CFR 91.405(c)", "lapse under the MEL", melLapse},
	{"14 CFR 91.213(c)", "interval of the MEL", melInterval},
}

// melOf is the list that governs a squawk, or nothing: none governs, none is on record, or it is not about equipment.
func (s *scene) melOf(d casefile.Defect) *mel {
	if s.more == nil || known(s.MELAuthorized) != yes || s.equipment(d) != yes {
		return nil
	}
	m := s.more.Aircraft.Configuration.MEL
	if m == nil || known(m.OnRecord) != yes {
		return nil
	}
	return m
}

// rowsFor are the rows of a list for an item or one whose job it does.
func (s *scene) rowsFor(m *mel, d casefile.Defect) []melRow {
	jobs := s.catalog.jobs(d.Item, nil)
	if i := s.find(d.Unit); d.Unit != "" && i >= 0 {
		jobs = s.units[i].jobs
	}
	return slices.DeleteFunc(slices.Clone(m.Rows), func(r melRow) bool { return !slices.Contains(jobs, r.Item) })
}

// 14 CFR 91.213(a)(2): the letter of authorization is within the aircraft.
func letterAboard(s *scene, d casefile.Defect) Verdict {
	m := s.melOf(d)
	if m == nil {
		return Clear
	}
	return forbids(not(known(m.LetterAboard)))
}

// 14 CFR 91.213(a)(3)(ii): the list provides for the item.
func inMEL(s *scene, d casefile.Defect) Verdict {
	m := s.melOf(d)
	if m == nil || len(s.rowsFor(m, d)) > 0 {
		return Clear
	}
	return Grounded
}

// 14 CFR 91.213(a)(5): as many as the list asks for work, and its conditions hold.
func melConditions(s *scene, d casefile.Defect) Verdict {
	m := s.melOf(d)
	if m == nil {
		return Clear
	}
	v := Clear
	for _, row := range s.rowsFor(m, d) {
		units := s.serving(row.Item)
		enough := s.enough(row.Required, len(working(units)), len(units))
		if d.Unit == "" {
			enough = unknown // which one it is has not been said
		}
		v = max(v, forbids(not(all(enough, s.clause(row.OnlyWhen)))))
		if row.Proviso != "" || row.OperationsProcedure {
			v = max(v, Limited)
		}
	}
	return v
}

// 14 CFR 91.213(a)(4): the records that the pilot has describe the item.
func melEntry(s *scene, d casefile.Defect) Verdict {
	if s.melOf(d) == nil {
		return Clear
	}
	return done(yes, deferral(d).Recorded)
}

// The item is placarded (from memory).
func melPlacard(s *scene, d casefile.Defect) Verdict {
	if s.melOf(d) == nil {
		return Clear
	}
	return done(yes, deferral(d).Placarded)
}

// 14 CFR 91.213(a)(5): what the list marks (M) has been done.
func maintenanceProcedure(s *scene, d casefile.Defect) Verdict {
	m := s.melOf(d)
	if m == nil {
		return Clear
	}
	asks := slices.ContainsFunc(s.rowsFor(m, d), func(r melRow) bool { return r.MaintenanceProcedure })
	return done(certain(asks), s.said(d).Deferral.MaintenanceProcedureDone)
}

// 14 CFR 91.405(c): the deferral ends with the next required inspection under a list, too.
func melLapse(s *scene, d casefile.Defect) Verdict {
	if s.melOf(d) == nil || d.Deferral == nil {
		return Clear
	}
	if d.Deferral.Until == nil {
		return Undetermined
	}
	return forbids(certain(s.flight.Arrives.After(*d.Deferral.Until)))
}

// melInterval is the repair interval of the item's letter (FAA PL-25, second-hand): it binds under 91.213(c). The day of
// discovery does not count, and the last day counts to midnight. B and C may be extended once.
func melInterval(s *scene, d casefile.Defect) Verdict {
	m := s.melOf(d)
	if m == nil || m.Authority != "91.213(c)" || d.Deferral == nil {
		return Clear
	}
	v := Clear
	for _, row := range s.rowsFor(m, d) {
		days := map[string]int{"A": row.Days, "B": 3, "C": 10, "D": 120}[row.Category]
		if s.said(d).Deferral.Extended && (row.Category == "B" || row.Category == "C") {
			days *= 2
		}
		discovered, err := time.Parse(time.DateOnly, s.said(d).Deferral.Discovered)
		if err != nil || days == 0 {
			v = max(v, Undetermined)
			continue
		}
		v = max(v, forbids(certain(dateOf(s.flight.Arrives).After(discovered.AddDate(0, 0, days)))))
	}
	return v
}
