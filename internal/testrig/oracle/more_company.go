package oracle

import (
	"strconv"
	"strings"
)

// companyRule is one rule of an organization's own. It can only ask for more.
type companyRule struct {
	ID       string `json:"id"`
	Citation string `json:"citation"`
	Item     string `json:"item"`
	Quantity string `json:"quantity"`
	Must     string `json:"must"`
	When     string `json:"when"`
	From     string `json:"from"`
	To       string `json:"to"`
}

// judgeCompany is the verdict of a rule of the organization's own. No permit and no list stands in for it.
func (s *scene) judgeCompany(r companyRule) Verdict {
	day := s.flight.Departs.Format("2006-01-02")
	if r.From != "" && day < r.From || r.To != "" && day >= r.To {
		return Clear
	}
	if r.Item == "" {
		return required(s.clause(r.When), s.clause(r.Must))
	}
	return required(s.clause(r.When), s.quantity(r.Quantity, r.Item))
}

// quantity says whether as many units of an item work as the tables' notation asks for.
func (s *scene) quantity(quantity, item string) truth {
	switch quantity {
	case "all":
		return s.everyOneWorks(item)
	case "each-engine":
		return s.eachWorks(s.Engines, item)
	case "each-tank":
		return s.eachWorks(s.Tanks, item)
	case "each-seat":
		return s.eachWorks(s.Seats, item)
	case "each-front-seat":
		return s.placesServed(s.FrontSeats, item)
	case "each-occupant":
		return s.personsServed(s.flight.Occupants, true, item)
	case "each-person":
		return s.personsServed(s.flight.Persons, false, item)
	case "each-required-crew":
		return s.personsServed(s.flight.RequiredCrew, true, item)
	}
	n, err := strconv.Atoi(quantity)
	if err != nil {
		return unknown
	}
	return s.atLeast(n, item)
}

// clause is the truth of conditions in the tables' notation: all of them hold, those after "!" do not. A condition that
// the oracle has not learned is unknown.
func (s *scene) clause(words string) truth {
	result := yes
	for _, word := range strings.Fields(words) {
		key, negated := strings.CutPrefix(word, "!")
		t := s.condition(key)
		if negated {
			t = not(t)
		}
		result = all(result, t)
	}
	return result
}

func (s *scene) condition(key string) truth {
	name, value, _ := strings.Cut(key, ":")
	switch name {
	case "ifr":
		return s.ifr()
	case "night":
		return s.byNight
	case "lights":
		return s.sunsetToSunrise
	case "for-hire":
		return known(s.flight.ForHire)
	case "over-water":
		return known(s.flight.OverWater)
	case "controlled-airspace":
		return known(s.flight.Controlled)
	case "in-alaska":
		return s.inAlaska
	case "kind":
		return s.kind(value)
	case "category":
		return s.category(value)
	case "certificate":
		return s.certificate(value)
	case "navigates-by":
		return s.navigatesBy(value)
	case "works":
		return s.inOrder(value)
	case "installed":
		return s.fitted(value)
	}
	return unknown
}
