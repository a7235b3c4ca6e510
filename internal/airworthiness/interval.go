package airworthiness

import (
	"errors"
	"fmt"
	"slices"
)

// IntervalRow is one repair category of MELs: how long an item may stay inoperative where the letter binds.
type IntervalRow struct {
	Origin
	Category   string // A, B, C or D
	Days       int    // consecutive calendar days after the day of discovery; 0 where the row of the MEL states them
	Extendable bool   // an approved management program may extend it, once; until when stands in the program's own record
}

func (r *Ruleset) compileIntervals(rows []IntervalRow, collect func(string, error)) {
	for _, row := range rows {
		if !slices.Contains(vocabulary["mel_category"], row.Category) {
			collect(row.ID, fmt.Errorf("no such repair category %q", row.Category))
		}
		if r.interval(row.Category) >= 0 {
			collect(row.ID, fmt.Errorf("the repair category %s stands twice", row.Category))
		}
		if row.Days < 0 || (row.Category == "A") != (row.Days == 0) {
			collect(row.ID, errors.New("want a number of days from 1, save for category A, whose days the MEL states"))
		}
		r.intervals = append(r.intervals, row)
	}
}

// interval is the place of a repair category in the table, or -1.
func (r *Ruleset) interval(category string) int32 {
	return int32(slices.IndexFunc(r.intervals, func(row IntervalRow) bool { return row.Category == category }))
}

// Interval gives the row of a repair category, or false.
func (r *Ruleset) Interval(category string) (IntervalRow, bool) {
	i := r.interval(category)
	if i < 0 {
		return IntervalRow{}, false
	}
	return r.intervals[i], true
}

// judgeIntervals asks whether the flight ends within the interval of each row of the MEL that speaks of the squawk. The
// letters bind those who use an MEL under 91.213(c), not those of 91.213(a): for these 91.405(c) holds alone. It reports
// whether anything has been asked.
func (p *Plan) judgeIntervals(d *Determination, s *subject, f *PreparedFlight) bool {
	bound := p.facts.truth(p.rules.letterBound)
	if p.mel == nil || bound == No || s.Deferral == nil {
		return false // nothing has been deferred, so nothing has run out
	}
	asked := false
	for _, i := range p.melRows(s) {
		lasts := p.withinInterval(&p.mel.rows[i], s.Deferral, f)
		if lasts.within == Yes && !lasts.extended {
			p.tellInterval(d, s, i, OutcomePassed, Clear)
			asked = true
			continue
		}
		finding := p.tellInterval(d, s, i, OutcomeUnknown, Undetermined)
		asked = true
		if lasts.within == Unknown {
			finding.Have = lasts.lacks
		}
		switch {
		case bound == Unknown:
			finding.open.set(p.rules.letterBound)
		case lasts.within == Yes:
			finding.Outcome, finding.Verdict = OutcomeLimited, Limited
		case lasts.within == No:
			finding.Outcome, finding.Verdict = OutcomeUndone, Grounded
		}
	}
	return asked
}

func (p *Plan) tellInterval(d *Determination, s *subject, row int32, outcome Outcome, verdict Verdict) *Finding {
	record := d.next
	if outcome == OutcomePassed {
		record = d.pass
	}
	finding := record(StepLapse, s.place)
	finding.source, finding.row, finding.Outcome, finding.Verdict = fromInterval, row, outcome, verdict
	return finding
}

// lasting is how the interval of a row stands to a flight.
type lasting struct {
	within   Truth
	extended bool  // only its extension makes it so, or may
	lacks    int16 // the facts that are missing
}

// withinInterval says whether the flight's last day is within a row's interval. The day of discovery is not counted; the
// last day counts to its end at midnight.
func (p *Plan) withinInterval(row *planMELRow, deferral *Deferral, f *PreparedFlight) lasting {
	var lacks int16
	if !deferral.Discovered.Known {
		lacks = lacksDiscovered
	}
	if row.interval < 0 || !p.rules.intervals[row.interval].inForce(f.On) {
		return lasting{lacks: lacks | lacksCategory}
	}
	interval := &p.rules.intervals[row.interval]
	days := interval.Days
	if days == 0 {
		days = row.Days.Value
		if !row.Days.Known || days < 1 {
			lacks |= lacksDays
		}
	}
	switch {
	case lacks != 0:
		return lasting{lacks: lacks}
	case f.within(days, deferral.Discovered.Value):
		return lasting{within: Yes}
	case !interval.Extendable || f.On < deferral.Discovered.Value:
		return lasting{within: No}
	default:
		return deferral.extends(f)
	}
}

// extends says whether the extension on record lasts until the flight's last day, to its end at midnight. How long one
// lasts is the approved program's to say: no rule here supplies it.
func (d *Deferral) extends(f *PreparedFlight) lasting {
	l := lasting{within: d.Extended, extended: true}
	if d.Extended == Unknown {
		l.lacks = lacksExtended
	}
	if d.ExtendedUntil.Known {
		l.within = l.within.And(TruthOf(f.lastDay <= d.ExtendedUntil.Value))
	} else {
		l.within = l.within.And(Unknown)
		l.lacks |= lacksExtendedUntil
	}
	return l
}
