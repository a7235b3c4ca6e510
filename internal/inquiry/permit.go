package inquiry

import (
	"fmt"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// permitFacts is where the facts of a special flight permit stand.
const permitFacts = "flight.special_flight_permit."

// askPermit asks for a field of the flight's special flight permit.
func (a *asker) askPermit(field, asks string) {
	given := a.c.Flight.SpecialFlightPermit
	ask := func(field string, given bool, values ...permitValue) {
		f := openFact{name: permitFacts + field, asks: asks}
		for _, v := range values {
			if !given {
				f.values = append(f.values, factValue{FactValue{text(v.value), v.words}, func(c *casefile.Case) { v.set(c.Flight.SpecialFlightPermit) }})
			}
		}
		a.add(f)
	}
	switch field {
	case "issued":
		on := airworthiness.DateOf(a.c.Flight.Departs)
		issued := func(day airworthiness.Date, words string) permitValue {
			return permitValue{day.String(), words, func(p *casefile.Permit) { p.Issued = day.String() }}
		}
		ask(field, given.Issued != "", issued(on, "by the day of the flight"), issued(on+1, "after it"))
	case "valid_until": // the time stated in the permit: either end may be missing
		a.askWindow(ask, given)
	case "kinds":
		kinds := func(names []string, words string) permitValue {
			return permitValue{names, words, func(p *casefile.Permit) { p.Kinds = &names }}
		}
		ask(field, given.Kinds != nil, kinds(airworthiness.KindNames(), "every kind of operation"), kinds([]string{}, "none"))
	case "only_required_crew":
		alone := func(so bool, words string) permitValue {
			return permitValue{so, words, func(p *casefile.Permit) { p.OnlyRequiredCrew = &so }}
		}
		ask(field, given.OnlyRequiredCrew != nil, alone(true, "nobody else may be aboard"), alone(false, "others may be aboard"))
	}
}

type permitValue struct {
	value any
	words string
	set   func(*casefile.Permit)
}

func (a *asker) askWindow(ask func(string, bool, ...permitValue), given *casefile.Permit) {
	departs, arrives := a.c.Flight.Departs, a.c.Flight.Arrives
	from := func(at time.Time, words string) permitValue {
		return permitValue{at, words, func(p *casefile.Permit) { p.ValidFrom = &at }}
	}
	until := func(at time.Time, words string) permitValue {
		return permitValue{at, words, func(p *casefile.Permit) { p.ValidUntil = &at }}
	}
	if given.ValidFrom == nil {
		ask("valid_from", false, from(departs, "when the flight departs"), from(departs.Add(1), "after it departs"))
	}
	if given.ValidUntil == nil {
		ask("valid_until", false, until(arrives, "when the flight ends"), until(arrives.Add(-1), "before it ends"))
	}
}

// askBarred asks of the directives that bear on a squawk whether they allow a special flight permit.
func (a *asker) askBarred(asks string, defect int) {
	for i, row := range a.c.Aircraft.Configuration.Directives.Rows {
		if row.PermitBarred != nil || defect < 0 || !a.bearsOn(row.Item, defect) {
			continue
		}
		f := openFact{name: fmt.Sprintf("aircraft.configuration.directives.rows[%d].permit_barred", i), asks: asks}
		for _, barred := range []bool{false, true} {
			f.values = append(f.values, factValue{
				FactValue{text(barred), pick(barred, "it bars one", "it allows one")},
				func(c *casefile.Case) {
					if rows := c.Aircraft.Configuration.Directives.Rows; i < len(rows) {
						rows[i].PermitBarred = &barred
					}
				},
			})
		}
		a.add(f)
	}
}
