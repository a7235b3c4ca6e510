package airworthiness

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
)

// record is what a condition on inspections has to compare a flight with: a last good day, or hours of time in service.
// It is made once a configuration.
type record struct {
	known         bool
	from, through Date // a day on which it was done, and the last on which that serves

	hours  bool    // it counts time in service instead of days
	cycles bool    // it counts flights, each leg one
	left   float64 // of what it counts, so much is left: hours to the millionth

	several bool     // it stands for several, all of which must serve
	each    []record // these
}

type makeRecord func(arg string) (func(*Aircraft) record, error)

// recordConditions compare the aircraft's inspection records with the day of the flight, or with the time that it takes.
var recordConditions = map[string]makeRecord{
	"annual-within":               months((*Aircraft).Annual),
	"progressive-within":          months(func(a *Aircraft) Fact[Date] { return a.ProgressiveComplete }),
	"condition-inspection-within": months(func(a *Aircraft) Fact[Date] { return a.ConditionInspected }),
	"altimeter-test-within":       months(func(a *Aircraft) Fact[Date] { return a.AltimeterTested }),
	"transponder-test-within":     months(func(a *Aircraft) Fact[Date] { return a.TransponderTested }),
	"elt-inspection-within":       months(func(a *Aircraft) Fact[Date] { return a.ELTInspected }),
	"elt-battery-in-life":         through(func(a *Aircraft) Fact[Date] { return a.ELTBatteryDue }),
	"inspection-hours-within":     timeInService(func(a *Aircraft) Fact[float64] { return a.HoursSinceInspection }),
	"registration-in-force":       through(func(a *Aircraft) Fact[Date] { return a.Papers.RegistrationThrough }),
	"radio-licence-in-force":      through(func(a *Aircraft) Fact[Date] { return a.Papers.RadioThrough }),
	keptUp:                        keptUpBy,
	"program-hours-within":        programHours,
}

// months reads a limit in calendar months: up to the last day of the month.
func months(get func(*Aircraft) Fact[Date]) makeRecord {
	return func(arg string) (func(*Aircraft) record, error) {
		n, err := strconv.Atoi(arg)
		if err != nil || n < 1 {
			return nil, errors.New("want a number of calendar months from 1")
		}
		return func(a *Aircraft) record {
			done := get(a)
			return record{known: done.Known, from: done.Value, through: done.Value.ThroughMonths(n)}
		}, nil
	}
}

// through reads a last good day as it stands on the unit.
func through(get func(*Aircraft) Fact[Date]) makeRecord {
	return func(arg string) (func(*Aircraft) record, error) {
		return func(a *Aircraft) record {
			due := get(a)
			return record{known: due.Known, through: due.Value}
		}, noArgument(arg)
	}
}

// timeInService reads a limit in hours of time in service.
func timeInService(get func(*Aircraft) Fact[float64]) makeRecord {
	return func(arg string) (func(*Aircraft) record, error) {
		limit, err := strconv.ParseFloat(arg, 64)
		if err != nil || !(limit > 0) {
			return nil, errors.New("want a number of hours above 0")
		}
		return func(a *Aircraft) record {
			used := get(a)
			return record{known: used.Known, hours: true, left: math.Round((limit-used.Value)*1e6) / 1e6}
		}, nil
	}
}

// within says whether the record serves for the whole flight. An inspection made after the flight leaves open what was
// so before it.
func (r *record) within(f *PreparedFlight) Truth {
	switch {
	case r.several:
		all := Yes
		for i := range r.each {
			all = all.And(r.each[i].within(f))
		}
		return all
	case !r.known:
		return Unknown
	case r.hours:
		return r.lasts(&f.Flight)
	case r.cycles:
		return TruthOf(r.left >= float64(1+f.EarlierLegs))
	case f.lastDay > r.through:
		return No
	case f.On < r.from:
		return Unknown
	default:
		return Yes
	}
}

// lasts says whether the hours used and those of the flight stay within the limit. A flight of which nobody has said how
// long it takes is known to take some time, and no more than its window.
func (r *record) lasts(f *Flight) Truth {
	least, most := f.TakesHours()
	switch {
	case most.Known && most.Value <= r.left:
		return Yes
	case least > r.left || !f.Hours.Known && r.left <= 0:
		return No
	default:
		return Unknown
	}
}

// TakesHours bounds the time in service that the flight takes, in hours: at most what is said, or its window.
func (f *Flight) TakesHours() (least float64, most Fact[float64]) {
	most = f.WindowHours
	if f.Hours.Known {
		most = f.Hours
		if f.WindowHours.Known {
			most.Value = min(most.Value, f.WindowHours.Value)
		}
		least = most.Value
	}
	return least, most
}

// settleRecords evaluates the conditions on inspections.
func (p *Plan) settleRecords(d *Determination, f *PreparedFlight) {
	for n, i := range p.rules.byOwner[ofRecords] {
		d.state.put(i, p.records[n].within(f))
	}
}

// addRecords makes the aircraft's records, in the order of their conditions.
func (p *Plan) addRecords(a *Aircraft) {
	for _, i := range p.rules.byOwner[ofRecords] {
		r := p.rules.conditions[i].record(a)
		p.records = append(p.records, r)
		if r.bounds() {
			p.bounded.set(i)
		}
	}
}

// bounds says whether it is a limit in hours that a flight can keep within.
func (r *record) bounds() bool { return r.hours && r.known && r.left > 0 }

// hoursLeft is how much time in service a limit in hours leaves.
func (p *Plan) hoursLeft(condition int) float64 {
	return p.records[slices.Index(p.rules.byOwner[ofRecords], condition)].left
}

// keepsWithin says what keeps a flight within a limit in hours.
func (p *Plan) keepsWithin(condition int) string {
	c := &p.rules.conditions[condition]
	return fmt.Sprintf("%s, of which %.1f are left", c.fill(c.words.Holding), p.hoursLeft(condition))
}

// check is a row without equipment: what must hold, or -1 for a note.
type check struct {
	row  int32
	must int16
}

func (p *Plan) addCheck(row int32, must int) {
	p.checks = append(p.checks, check{row, int16(must)})
	if must >= 0 {
		p.musts.set(must)
	}
}
