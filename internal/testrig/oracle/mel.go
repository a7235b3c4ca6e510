package oracle

import (
	"slices"
	"time"

	"tiedown/internal/casefile"
)

// melSteps are the questions about a squawk where a minimum equipment list governs.
var melSteps = []step{
	{"14 CFR 91.213(a)(2)", "letter aboard", letterAboard},
	{"14 CFR 91.213(a)", "MEL aboard", listAboard},
	{"14 CFR 91.213(a)(3), (5)", "item in the MEL", inMEL},
	{"14 CFR 91.213(a)(3), (5)", "number required by the MEL", melNumber},
	{"14 CFR 91.213(a)(3), (5)", "conditions of the MEL", melConditions},
	{"14 CFR 91.213(a)(4)", "entry under the MEL", melEntry},
	{"14 CFR 91.213(a)(5)", "placard under the MEL", melPlacard},
	{"14 CFR 91.213(a)(5)", "maintenance procedure", maintenanceProcedure},
	{"14 CFR 91.405(c)", "lapse under the MEL", melLapse},
	{"14 CFR 91.213(c)", "interval of the MEL", melInterval},
	{"14 CFR 91.405(c)", "category of the MEL", melCategory},
}

// governs says whether a minimum equipment list that is on record governs a squawk.
func (s *scene) governs(d casefile.Defect) bool {
	return known(s.MELAuthorized) == yes && s.equipment(d) == yes && known(s.own.MEL.OnRecord) == yes
}

// rowsFor are the rows of the list that speak of what a squawk puts out of work, or of a job that it does.
func (s *scene) rowsFor(d casefile.Defect) []casefile.MELRow {
	var rows []casefile.MELRow
	for _, r := range s.own.MEL.Rows {
		item := []string{r.Item}
		bears := d.Unit == "" && r.Item == d.Item ||
			d.Unit != "" && slices.ContainsFunc(s.lost(d), func(l loss) bool { return l.does(item) })
		if bears {
			rows = append(rows, r)
		}
	}
	return rows
}

// 14 CFR 91.213(a)(2): the letter of authorization is within the aircraft. Under 91.213(c) there is none.
func letterAboard(s *scene, d casefile.Defect) Verdict {
	if !s.governs(d) {
		return Clear
	}
	return required(word(s.own.MEL.Authority, "letter"), known(s.own.MEL.LetterAboard))
}

// 14 CFR 91.213(a) (from memory): the list is within the aircraft.
func listAboard(s *scene, d casefile.Defect) Verdict {
	if !s.governs(d) {
		return Clear
	}
	return required(yes, known(s.own.MEL.Aboard))
}

// 14 CFR 91.213(a)(3)(ii): the list provides for the item, and for whatever does not work without it. That it provides
// for a job of its own does not say that the flight can do without the others.
func inMEL(s *scene, d casefile.Defect) Verdict {
	if !s.governs(d) {
		return Clear
	}
	items := []string{d.Item}
	if d.Unit != "" {
		items = nil
		for _, i := range s.felled(d) {
			items = append(items, s.units[i].Item)
		}
	}
	for _, item := range items {
		if !slices.ContainsFunc(s.own.MEL.Rows, func(r casefile.MELRow) bool { return r.Item == item }) {
			return Grounded
		}
	}
	return Clear
}

// 14 CFR 91.213(a)(3), (5): as many as the list asks for work. Without the unit they cannot be counted.
func melNumber(s *scene, d casefile.Defect) Verdict {
	if !s.governs(d) {
		return Clear
	}
	v := Clear
	for _, row := range s.rowsFor(d) {
		if d.Unit == "" || row.Required == nil {
			v = max(v, Undetermined)
			continue
		}
		units := s.serving(row.Item)
		v = max(v, forbids(not(s.enough(*row.Required, len(working(units)), len(units)))))
	}
	return v
}

// 14 CFR 91.213(a)(5): the conditions of the list hold. Those in words, and operations procedures, bind the flight.
func melConditions(s *scene, d casefile.Defect) Verdict {
	if !s.governs(d) || d.Unit == "" {
		return Clear
	}
	v := Clear
	for _, row := range s.rowsFor(d) {
		v = max(v, forbids(not(s.clause(row.OnlyWhen))))
		switch {
		case row.OperationsProcedure == nil:
			v = max(v, Undetermined)
		case *row.OperationsProcedure || row.Proviso != "":
			v = max(v, Limited)
		}
	}
	return v
}

// 14 CFR 91.213(a)(4): the records that the pilot has describe the item.
func melEntry(s *scene, d casefile.Defect) Verdict {
	return done(certain(s.governs(d)), deferral(d).Recorded)
}

// The item is placarded (from memory).
func melPlacard(s *scene, d casefile.Defect) Verdict {
	return done(certain(s.governs(d)), deferral(d).Placarded)
}

// 14 CFR 91.213(a)(5): what the list marks (M) has been done.
func maintenanceProcedure(s *scene, d casefile.Defect) Verdict {
	if !s.governs(d) {
		return Clear
	}
	asks := no
	for _, row := range s.rowsFor(d) {
		asks = some(asks, known(row.MaintenanceProcedure))
	}
	return done(asks, deferral(d).MaintenanceProcedureDone)
}

// 14 CFR 91.405(c): the deferral ends with the next required inspection under a list, too.
func melLapse(s *scene, d casefile.Defect) Verdict {
	if !s.governs(d) {
		return Clear
	}
	return s.lapsed(d)
}

// melInterval is the repair interval of the item's letter (FAA PL-25, second-hand): it binds the users of 91.213(c). The
// day of discovery does not count, and the last day counts to midnight. What has been extended, B and C once, binds the
// flight to the extension.
func melInterval(s *scene, d casefile.Defect) Verdict {
	v := Clear
	for _, row := range s.rowsWithInterval(d) {
		if row.Category == "" {
			continue
		}
		days := map[string]int{"A": 0, "B": 3, "C": 10, "D": 120}[row.Category]
		if row.Category == "A" && row.Days != nil {
			days = *row.Days
		}
		binds := word(s.own.MEL.Authority, "certificate")
		over := required(binds, s.withinInterval(days, d))
		extendable := d.Deferral.Extended && (row.Category == "B" || row.Category == "C")
		if over > Limited && extendable && s.withinInterval(days, d) == no && s.begunAfter(d.Deferral.Discovered) {
			over = s.extended(binds, d)
		}
		v = max(v, over)
	}
	return v
}

// extended is what an extension on record makes of a flight after the interval: until when it lasts is the approved
// program's to say.
func (s *scene) extended(binds truth, d casefile.Defect) Verdict {
	until, err := time.Parse(time.DateOnly, d.Deferral.ExtendedUntil)
	switch {
	case err != nil, binds == unknown:
		return Undetermined
	case dateOf(s.flight.Arrives).After(until):
		return Grounded
	default:
		return Limited
	}
}

// begunAfter says whether the flight does not leave before a day.
func (s *scene) begunAfter(date string) bool {
	day, err := time.Parse(time.DateOnly, date)
	return err == nil && !day.After(dateOf(s.flight.Departs))
}

// melCategory is that an interval without its letter is not known.
func melCategory(s *scene, d casefile.Defect) Verdict {
	v := Clear
	for _, row := range s.rowsWithInterval(d) {
		if row.Category == "" {
			v = max(v, required(word(s.own.MEL.Authority, "certificate"), unknown))
		}
	}
	return v
}

// rowsWithInterval are the rows of the list that a deferral may run out by.
func (s *scene) rowsWithInterval(d casefile.Defect) []casefile.MELRow {
	if !s.governs(d) || d.Deferral == nil {
		return nil
	}
	return s.rowsFor(d)
}

func (s *scene) withinInterval(days int, d casefile.Defect) truth {
	if days == 0 {
		return unknown
	}
	return s.within(days, d.Deferral.Discovered)
}
