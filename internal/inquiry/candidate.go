package inquiry

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// candidate is a value to try, with what it means.
type candidate struct {
	value any
	words string
}

// valuesOf are the values to try for a field: one on either side of whatever the rules ask of it.
func (a *asker) valuesOf(fact, field string, wants airworthiness.Wants) []candidate {
	if words := airworthiness.Vocabulary(field); len(words) > 0 {
		if group, _ := cutLast(fact); group == "flight" { // lists of words
			return wordLists(words)
		}
		return each(words, func(w string) candidate { return candidate{w, w} })
	}
	switch fact {
	case "flight.rules":
		return []candidate{{"vfr", "under VFR"}, {"ifr", "under IFR"}}
	case "aircraft.facts.approved":
		return kinds()
	case "flight.occupants", "flight.persons", "flight.required_crew":
		return counts([]int{1, wants.Have, wants.Have + 1})
	case "aircraft.facts.engines", "aircraft.facts.tanks", "aircraft.facts.seats", "aircraft.facts.front_seats":
		return a.places(wants)
	case "flight.hours":
		return a.hours()
	case "flight.altitude_ft":
		return a.numbers("flight.altitude_ft", "flight.cabin_ft")
	}
	terms := a.about(fact)
	switch {
	case len(terms) == 0:
		return nil
	case slices.ContainsFunc(terms, func(t airworthiness.Term) bool { return t.Comparison == "within-days" }):
		return a.daysBefore(fact)
	case slices.ContainsFunc(terms, func(t airworthiness.Term) bool { return t.Comparison == "within-months" }):
		return a.monthsBefore(terms)
	case slices.ContainsFunc(terms, func(t airworthiness.Term) bool { return t.Comparison == "not-before" }):
		return a.lastDays()
	case slices.ContainsFunc(terms, func(t airworthiness.Term) bool { return t.Comparison == "after" }):
		return dates(terms)
	case slices.ContainsFunc(terms, func(t airworthiness.Term) bool { return t.Value == "true" }):
		return []candidate{{true, "yes"}, {false, "no"}}
	default:
		return a.numbers(fact)
	}
}

func each[T, U any](list []T, f func(T) U) []U {
	all := make([]U, len(list))
	for i, v := range list {
		all[i] = f(v)
	}
	return all
}

// about are the terms of the book that ask something of a fact.
func (a *asker) about(facts ...string) []airworthiness.Term {
	return slices.DeleteFunc(slices.Clone(a.terms), func(t airworthiness.Term) bool { return !slices.Contains(facts, t.Fact) })
}

// wordLists tries none of the words, each alone, and all where there are few: what a list holds can only bring rows in.
func wordLists(words []string) []candidate {
	all := []candidate{{[]string{}, "none"}}
	for _, w := range words {
		all = append(all, candidate{[]string{w}, w + " only"})
	}
	if len(words) <= 2 {
		all = append(all, candidate{words, strings.Join(words, " and ")})
	}
	return all
}

// kinds is every set of kinds of operation.
func kinds() []candidate {
	names := airworthiness.KindNames()
	var all []candidate
	for set := range 1 << len(names) {
		chosen := []string{}
		for i, name := range names {
			if set&(1<<i) != 0 {
				chosen = append(chosen, name)
			}
		}
		words := strings.Join(chosen, ", ")
		if words == "" {
			words = "none"
		}
		all = append(all, candidate{chosen, words})
	}
	slices.Reverse(all)
	return all
}

func counts(numbers []int) []candidate {
	numbers = slices.DeleteFunc(numbers, func(n int) bool { return n < 1 })
	slices.Sort(numbers)
	return each(slices.Compact(numbers), func(n int) candidate { return candidate{n, strconv.Itoa(n)} })
}

// mostPlaces bounds the numbers of engines, tanks and seats that are tried.
const mostPlaces = 8

// places tries as many as are on record, one more, and every smaller number.
func (a *asker) places(wants airworthiness.Wants) []candidate {
	most := 2
	for _, item := range wants.Items {
		most = max(most, len(a.unitsFor(item))+1)
	}
	var numbers []int
	for n := 1; n <= min(most, mostPlaces); n++ {
		numbers = append(numbers, n)
	}
	return counts(numbers)
}

// numbers tries one number between any two thresholds of the book, and one on either side of all.
func (a *asker) numbers(facts ...string) []candidate {
	type edge struct {
		at   float64
		from bool // the threshold itself lies above it
	}
	var edges []edge
	for _, t := range a.about(facts...) {
		if at, err := strconv.ParseFloat(t.Value, 64); err == nil {
			edges = append(edges, edge{at, t.Comparison == "at-least" || t.Comparison == "below"})
		}
	}
	if facts[0] == "flight.altitude_ft" {
		edges = append(edges, edge{classAFloorFt, true})
	}
	if len(edges) == 0 {
		return nil
	}
	slices.SortFunc(edges, func(x, y edge) int { return int(x.at - y.at) })
	all := []candidate{number(edges[0].at / 2)}
	for i, e := range edges {
		switch {
		case i > 0 && edges[i-1] == e:
		case e.from:
			all = append(all, number(e.at))
		default:
			all = append(all, number(e.at+1))
		}
	}
	return all
}

func number(n float64) candidate { return candidate{n, strconv.FormatFloat(n, 'f', -1, 64)} }

// dates tries one date between any two that the book asks about, and one on either side of all.
func dates(terms []airworthiness.Term) []candidate {
	days := each(terms, func(t airworthiness.Term) string { return t.Value })
	slices.Sort(days)
	all := []candidate{{days[0], "on or before " + days[0]}}
	for _, day := range slices.Compact(days) {
		if at, ok := airworthiness.ParseDate(day); ok {
			all = append(all, candidate{(at + 1).String(), "after " + day})
		}
	}
	return all
}

// daysBefore tries a day within the time that a rule allows before the flight, one beyond it, and one after the flight.
func (a *asker) daysBefore(fact string) []candidate {
	on := airworthiness.DateOf(a.c.Flight.Departs)
	last := airworthiness.DateOf(a.c.Flight.Arrives)
	var all []candidate
	for _, t := range a.about(fact) {
		_, after, _ := strings.Cut("/"+t.Value, "/")
		if _, days, found := strings.Cut(after, "/"); found {
			after = days
		}
		n, err := strconv.Atoi(after)
		if err != nil {
			continue
		}
		for _, v := range []candidate{
			{on.String(), "on the day of the flight"},
			{(last - airworthiness.Date(n) - 1).String(), fmt.Sprintf("more than %d days before the flight", n)},
		} {
			if !slices.ContainsFunc(all, func(c candidate) bool { return c.value == v.value }) {
				all = append(all, v)
			}
		}
	}
	return all
}

// askServes asks which engine, tank or seat each unit serves that does not say so.
func (a *asker) askServes(asks string, wants airworthiness.Wants) {
	for _, item := range wants.Items {
		for _, u := range a.unitsFor(item) {
			if len(u.Serves) > 0 {
				continue
			}
			at := slices.IndexFunc(a.c.Aircraft.Configuration.Units, func(v casefile.Unit) bool { return v.ID == u.ID })
			f := openFact{name: fmt.Sprintf("aircraft.configuration.units[%s].serves", u.ID), asks: asks}
			for n := 1; n <= min(wants.Places, mostPlaces); n++ {
				f.values = append(f.values, factValue{
					FactValue{text([]int{n}), fmt.Sprintf("it serves number %d", n)},
					func(c *casefile.Case) { c.Aircraft.Configuration.Units[at].Serves = []int{n} },
				})
			}
			a.add(f)
		}
	}
}

// askList asks for one of the aircraft's own documents: none, one without the items that are squawked, one with each.
func (a *asker) askList(name, asks string) {
	document := func(c *casefile.Case) *casefile.OwnList {
		config := &c.Aircraft.Configuration
		return map[string]*casefile.OwnList{
			"aircraft.configuration.type_certification": &config.TypeCertification, "aircraft.configuration.equipment_list": &config.EquipmentList,
			"aircraft.configuration.koel": &config.KOEL, "aircraft.configuration.directives": &config.Directives,
		}[name]
	}
	given := document(a.c)
	f := openFact{name: name, asks: asks}
	if given == nil {
		a.add(f)
		return
	}
	add := func(words string, on bool, more ...casefile.OwnRow) {
		l := *given
		l.OnRecord, l.Rows = &on, slices.Concat(given.Rows, more)
		f.values = append(f.values, factValue{FactValue{text(l), words}, func(c *casefile.Case) { *document(c) = l }})
	}
	add("on record, with nothing that is squawked beyond the rows given", true)
	var all []casefile.OwnRow
	for _, item := range a.squawked() {
		row := casefile.OwnRow{Item: item, Quantity: max(len(a.unitsFor(item)), 1)}
		all = append(all, row)
		add("on record, and it requires "+item, true, row)
	}
	if len(all) > 1 {
		add("on record, and it requires everything that is squawked", true, all...)
	}
	if name != "aircraft.configuration.type_certification" && len(given.Rows) == 0 { // every type has a VFR-day list
		add("there is no such document", false)
	}
	a.add(f)
}

// squawked are the items that the squawks are about, in the order of their names.
func (a *asker) squawked() []string {
	var items []string
	for i := range a.c.Defects {
		if item := a.itemOf(i); item != "" {
			items = appendNew(items, item)
		}
	}
	slices.Sort(items)
	return items
}

// mostAdded bounds the items that are tried one at a time as missing from the list of units.
const mostAdded = 5

// unitsFact asks whether the list of units is complete: as it is, or with what the findings miss.
func (a *asker) unitsFact() openFact {
	f := openFact{name: "aircraft.configuration.units_complete", asks: "whether the list of installed units is complete"}
	add := func(words string, more []casefile.Unit) {
		value := text(true)
		if len(more) > 0 {
			value = text(map[string]any{"units_complete": true, "further_units": more})
		}
		f.values = append(f.values, factValue{FactValue{value, words}, func(c *casefile.Case) {
			complete := true
			config := &c.Aircraft.Configuration
			config.UnitsComplete, config.Units = &complete, slices.Concat(config.Units, more)
		}})
	}
	add("complete as it is", nil)
	var items []string
	var all []casefile.Unit
	for _, wants := range a.unitsAsked {
		if len(wants.Items) == 0 || slices.Contains(items, wants.Items[0]) {
			continue
		}
		items = append(items, wants.Items[0])
		more := a.further(wants)
		all = append(all, more...)
		if len(items) <= mostAdded {
			add("complete with a working "+wants.Items[0]+" that is not listed yet", more)
		}
	}
	if len(items) > 1 {
		add("complete with all that is asked for: "+strings.Join(items, ", "), all)
	}
	return f
}

// further makes the units that a finding misses.
func (a *asker) further(wants airworthiness.Wants) []casefile.Unit {
	var units []casefile.Unit
	for n := 1; n <= min(wants.Need, mostPlaces); n++ {
		u := casefile.Unit{ID: fmt.Sprintf("further-%s-%d", wants.Items[0], n), Item: wants.Items[0]}
		if wants.Places > 0 {
			u.Serves = []int{n}
		}
		if !slices.ContainsFunc(a.c.Aircraft.Configuration.Units, func(v casefile.Unit) bool { return v.ID == u.ID }) {
			units = append(units, u)
		}
	}
	return units
}
