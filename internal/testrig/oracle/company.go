package oracle

import (
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/casefile"
)

// company is what an organization's own rules ask about a squawk: which unit it is, so that they can be counted. No
// permit and no list stands in for them.
func company(s *scene, d casefile.Defect) Verdict {
	if len(s.house.Rules) > 0 && s.asksOfUnit(d) && d.Unit == "" {
		return Undetermined
	}
	return Clear
}

// judgeCompany is the verdict of a rule of the organization's own. It can only ask for more.
func (s *scene) judgeCompany(r casefile.CompanyRule) Verdict {
	day := s.flight.Departs.Format("2006-01-02")
	if r.From != "" && day < r.From || r.To != "" && day >= r.To {
		return Clear
	}
	if r.Quantity == "note" {
		return Clear
	}
	if r.Item == "" {
		return required(s.appliesWhen(r.When, nil), s.condition(r.Must))
	}
	items := strings.Split(r.Item, "|")
	c := *s
	c.asItStands = s.hangsOnUnits(r.When, items)
	return required(s.appliesWhen(r.When, items), c.quantity(r.Quantity, items))
}

// appliesWhen says whether the conditions that bring a rule into play hold. Other equipment that they ask for is asked of
// the aircraft as it was built: that it has failed or gone is no way out of a rule.
func (s *scene) appliesWhen(when string, items []string) truth {
	result := yes
	for _, word := range strings.Fields(when) {
		name, item, _ := strings.Cut(word, ":")
		switch {
		case name == "works", name == "installed" && !slices.Contains(items, item):
			units := s.serving(item)
			result = all(result, s.enough(1, len(units), len(units)))
		default:
			result = all(result, s.clause(word))
		}
	}
	return result
}

// hangsOnUnits says whether it hangs on the units of the aircraft, as they stand, whether a rule applies.
func (s *scene) hangsOnUnits(when string, items []string) bool {
	return slices.ContainsFunc(strings.Fields(when), func(word string) bool {
		name, _, _ := strings.Cut(strings.TrimPrefix(word, "!"), ":")
		about := name == "works" || name == "installed"
		return about && (word[0] == '!' || s.appliesWhen(word, items) != yes || slices.Contains(items, strings.TrimPrefix(word, "installed:")))
	})
}

// quantity says whether as many units of some items work as the tables' notation asks for.
func (s *scene) quantity(quantity string, items []string) truth {
	switch quantity {
	case "all":
		return s.everyOneWorks(items...)
	case "each-engine":
		return s.eachWorks(s.Engines, items...)
	case "each-tank":
		return s.eachWorks(s.Tanks, items...)
	case "each-seat":
		return s.eachWorks(s.Seats, items...)
	case "each-front-seat":
		return s.placesServed(s.FrontSeats, items...)
	case "each-occupant":
		return s.personsServed(s.flight.Occupants, true, items...)
	case "each-person":
		return s.personsServed(s.flight.Persons, false, items...)
	case "each-required-crew":
		return s.personsServed(s.flight.RequiredCrew, true, items...)
	}
	n, err := strconv.Atoi(quantity)
	if err != nil {
		return unknown
	}
	return s.atLeast(n, items...)
}

// clause is the truth of conditions in the tables' notation: all of them hold, those after "!" do not.
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

// words are the conditions without an argument.
var words = map[string]func(*scene) truth{
	"ifr":                   (*scene).ifr,
	"day":                   func(s *scene) truth { return s.byDay },
	"night":                 func(s *scene) truth { return s.byNight },
	"lights":                func(s *scene) truth { return s.sunsetToSunrise },
	"dark":                  func(s *scene) truth { return s.dark },
	"in-alaska":             func(s *scene) truth { return s.inAlaska },
	"for-hire":              func(s *scene) truth { return known(s.flight.ForHire) },
	"over-water":            func(s *scene) truth { return known(s.flight.OverWater) },
	"controlled-airspace":   func(s *scene) truth { return known(s.flight.Controlled) },
	"below-2500-agl":        func(s *scene) truth { return known(s.flight.Below2500AGL) },
	"cabin-over-30-minutes": func(s *scene) truth { return known(s.flight.Over30MinAbove12500) },
	"only-required-crew":    func(s *scene) truth { return certain(s.flight.OnlyRequiredCrew) },
	"training-within-50nm":  func(s *scene) truth { return certain(s.flight.TrainingWithin50NM) },
	"to-place-of-repair":    func(s *scene) truth { return certain(s.flight.ToPlaceOfRepair) },
	"repair-impossible":     func(s *scene) truth { return certain(s.flight.RepairImpossible) },
	"under-way":             func(s *scene) truth { return certain(s.flight.UnderWay) },
}

// condition is the truth of one condition. One that the oracle has not learned is unknown.
func (s *scene) condition(key string) truth {
	if w, ok := words[key]; ok {
		return w(s)
	}
	name, value, _ := strings.Cut(key, ":")
	switch name {
	case "altitude-from", "altitude-above", "cabin-above":
		return s.height(name, value)
	case "kind":
		return s.kind(value)
	case "category":
		return s.category(value)
	case "certificate":
		return s.certificate(value)
	case "navigates-by":
		return s.navigatesBy(value)
	case "airspace":
		return s.enters(value)
	case "operation":
		return s.operates(value)
	case "works":
		return s.inOrder(value)
	case "installed":
		return s.fitted(value)
	}
	return unknown
}

func (s *scene) height(name, value string) truth {
	feet, err := strconv.ParseFloat(value, 64)
	switch {
	case err != nil:
		return unknown
	case name == "altitude-from":
		return s.altitudeFrom(feet)
	case name == "altitude-above":
		return s.altitudeAbove(feet)
	}
	return s.cabinAbove(feet)
}
