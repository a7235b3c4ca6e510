package inquiry

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// openFact is a missing fact with the values to try.
type openFact struct {
	name, asks string
	values     []factValue
}

type factValue struct {
	FactValue
	set func(*casefile.Case)
}

func (f *openFact) written() OpenFact {
	w := OpenFact{Fact: f.name, Asks: f.asks, Values: []FactValue{}}
	for _, v := range f.values {
		w.Values = append(w.Values, v.FactValue)
	}
	return w
}

// asker gathers the facts that the findings of one case ask for.
type asker struct {
	*search
	c    *casefile.Case
	open []openFact

	unitsAsked []airworthiness.Wants // what may be missing from the list of units
	left       []float64             // hours that what is due leaves
}

// ask takes up what a finding lacks. defect is the place of its squawk in the case, or -1.
func (a *asker) ask(plan *airworthiness.Plan, f *airworthiness.Finding, defect int) {
	wants := plan.Wants(f)
	a.left = hoursLeft(plan)
	due := plan.Explain(f).Item
	for _, m := range plan.Explain(f).Missing {
		switch name, list, of := cutFact(m.Fact); {
		case m.Fact == "flight.departs and flight.route":
			a.askLight(m.Asks)
		case m.Fact == "flight.rules and flight.departs":
			if a.c.Flight.Rules == "" {
				a.askPlain("flight.rules", m.Asks, wants)
			}
			if !a.isLit() {
				a.askLight(m.Asks)
			}
		case list == "aircraft.configuration.units":
			a.askServes(m.Asks, wants)
		case list == "defects":
			a.askDefect(of, m.Asks, defect, wants)
		case m.Fact == "aircraft.configuration.units_complete":
			a.unitsAsked = append(a.unitsAsked, wants)
		case list == "aircraft.configuration.mel.rows":
			a.askMELRows(of, m.Asks, defect, wants)
		case list == "aircraft.configuration.directives.rows":
			a.askBarred(m.Asks, defect)
		case m.Fact == "aircraft.configuration.mel.on_record":
			a.askMEL(m.Asks)
		case strings.HasPrefix(m.Fact, "aircraft.configuration.mel."):
			a.askOfMEL(m.Fact, m.Asks)
		case m.Fact == "aircraft.configuration.type_certification.confirmed":
			a.askConfirmation(m.Fact, m.Asks)
		case strings.HasPrefix(m.Fact, "aircraft.facts.papers."):
			a.askPaper(m.Fact, m.Asks)
		case strings.HasPrefix(m.Fact, "aircraft.facts.upkeep."):
			a.askUpkeep(m.Fact, m.Asks, due)
		case strings.HasPrefix(m.Fact, permitFacts):
			a.askPermit(strings.TrimPrefix(m.Fact, permitFacts), m.Asks)
		case strings.HasSuffix(name, ".on_record"):
			a.askList(strings.TrimSuffix(name, ".on_record"), m.Asks)
		case m.Fact == "flight.airspace" && a.c.Flight.Airspace != nil, m.Fact == "flight.cabin_ft" && a.isUnpressurized():
			a.askPlain("flight.altitude_ft", "the highest altitude, ft MSL", wants) // it decides, and it is what is missing
		default:
			a.askPlain(m.Fact, m.Asks, wants)
		}
	}
}

// isUnpressurized says whether the cabin is as high as the aircraft.
func (a *asker) isUnpressurized() bool {
	p := a.c.Aircraft.Facts.Pressurized
	return p != nil && !*p
}

// isLit says whether the light of the flight has been given, or follows from its route.
func (a *asker) isLit() bool {
	l := a.c.Flight.Light
	return len(a.c.Flight.Route) > 0 || l != nil && l.Day != nil && l.Night != nil
}

// isGiven says whether a field of the aircraft's or the flight's facts has been given: what is given is never changed.
func (a *asker) isGiven(group, field string) bool {
	var from any = a.c.Flight
	if group == "aircraft.facts" {
		from = a.c.Aircraft.Facts
	}
	var given map[string]any
	if err := json.Unmarshal([]byte(text(from)), &given); err != nil {
		panic(err) // it has just been written
	}
	_, ok := given[field]
	return ok
}

// cutFact cuts "defects[].unit" into the list and the field of its members.
func cutFact(fact string) (name, list, of string) {
	list, of, found := strings.Cut(fact, "[].")
	if !found {
		return fact, "", ""
	}
	return fact, list, of
}

// asked is every fact asked for, once.
func (a *asker) asked() []openFact {
	if len(a.unitsAsked) > 0 {
		a.add(a.unitsFact())
	}
	return a.open
}

// add takes a fact up, or its further values.
func (a *asker) add(f openFact) {
	i := slices.IndexFunc(a.open, func(g openFact) bool { return g.name == f.name })
	if i < 0 {
		a.open = append(a.open, f)
		return
	}
	for _, v := range f.values {
		if !slices.ContainsFunc(a.open[i].values, func(w factValue) bool { return w.Value == v.Value }) {
			a.open[i].values = append(a.open[i].values, v)
		}
	}
}

// text writes a value as JSON.
func text(v any) string {
	raw, err := json.Marshal(v)
	if err != nil {
		panic(err) // plain values only
	}
	return string(raw)
}

// askPlain asks for a field of the aircraft's or the flight's facts.
func (a *asker) askPlain(fact, asks string, wants airworthiness.Wants) {
	group, field := cutLast(fact)
	f := openFact{name: fact, asks: asks}
	if a.isGiven(group, field) {
		a.add(f)
		return
	}
	for _, v := range a.valuesOf(fact, field, wants) {
		f.values = append(f.values, factValue{FactValue{text(v.value), v.words}, setter(group, field, v.value)})
	}
	a.add(f)
}

func cutLast(path string) (group, field string) {
	i := strings.LastIndex(path, ".")
	if i < 0 {
		return "", path
	}
	return path[:i], path[i+1:]
}

// setter puts a value into a field of the aircraft's facts or of the flight.
func setter(group, field string, value any) func(*casefile.Case) {
	patch := text(map[string]any{field: value})
	return func(c *casefile.Case) {
		var err error
		switch group {
		case "aircraft.facts":
			err = json.Unmarshal([]byte(patch), &c.Aircraft.Facts)
		case "flight":
			err = json.Unmarshal([]byte(patch), &c.Flight)
		}
		if err != nil {
			panic(fmt.Sprintf("inquiry: %s.%s takes no %s", group, field, patch))
		}
	}
}

// askLight asks what light the flight meets, where nobody has said. A route says it.
func (a *asker) askLight(asks string) {
	f := openFact{name: "flight.light", asks: asks}
	given := a.c.Flight.Light
	if given == nil {
		given = &casefile.Light{}
	}
	for _, v := range []struct {
		day, night, lights bool
		words              string
	}{
		{true, false, false, "from sunrise to sunset"},
		{true, false, true, "partly after sunset or before sunrise, but not at night"},
		{true, true, true, "partly by day and partly at night"},
		{false, true, true, "wholly at night"},
	} {
		if len(a.c.Flight.Route) > 0 || contradicts(given.Day, v.day) || contradicts(given.Night, v.night) || contradicts(given.SunsetToSunrise, v.lights) {
			continue
		}
		l := casefile.Light{Day: &v.day, Night: &v.night, SunsetToSunrise: &v.lights}
		f.values = append(f.values, factValue{FactValue{text(l), v.words}, func(c *casefile.Case) { c.Flight.Light = &l }})
	}
	a.add(f)
}

func contradicts(given *bool, v bool) bool { return given != nil && *given != v }

// askDefect asks for a field of a squawk.
func (a *asker) askDefect(field, asks string, at int, wants airworthiness.Wants) {
	if at >= 0 {
		a.askOfDefect(field, asks, at)
		return
	}
	for i := range a.c.Defects { // a relief hangs on the removal of an item: on every squawk about one
		if slices.Contains(wants.Items, a.itemOf(i)) {
			a.askOfDefect(field, asks, i)
		}
	}
}

func (a *asker) askOfDefect(field, asks string, i int) {
	d := a.c.Defects[i]
	f := openFact{name: fmt.Sprintf("defects[%s].%s", d.ID, field), asks: asks}
	add := func(value any, words string, set func(*casefile.Defect)) {
		f.values = append(f.values, factValue{FactValue{text(value), words}, func(c *casefile.Case) { set(&c.Defects[i]) }})
	}
	switch field {
	case "unit":
		for _, u := range a.unitsFor(d.Item) {
			if d.Unit == "" {
				add(u.ID, "it is "+strings.TrimSpace(u.ID+" "+u.Where), func(d *casefile.Defect) { d.Unit, d.Item = u.ID, "" })
			}
		}
	case "kind":
		if d.Kind == "" {
			add("inoperative", "it is inoperative", func(d *casefile.Defect) { d.Kind = "inoperative" })
			add("condition", "it is a condition: damage, wear, a leak, a level out of limits", func(d *casefile.Defect) { d.Kind = "condition" })
		}
	case "deferral.method", "deferral.method_done":
		f.name = fmt.Sprintf("defects[%s].deferral.method", d.ID)
		if d.Deferral != nil && d.Deferral.Method == "" {
			add("removed", "it was removed", func(d *casefile.Defect) { d.Deferral.Method = "removed" })
			add("deactivated", "it was deactivated", func(d *casefile.Defect) { d.Deferral.Method = "deactivated" })
		}
	case "deferral.until":
		after, before := a.c.Flight.Arrives, a.c.Flight.Arrives.Add(-1)
		add(after, "not before the flight ends", func(d *casefile.Defect) { d.Deferral.Until = &after })
		add(before, "before the flight ends", func(d *casefile.Defect) { d.Deferral.Until = &before })
	case "deferral.discovered":
		on := airworthiness.DateOf(a.c.Flight.Departs)
		for _, v := range []candidate{{on.String(), "on the day of the flight"}, {(on - longAgo).String(), "longer ago than any interval lasts"}} {
			add(v.value, v.words, func(d *casefile.Defect) { d.Deferral.Discovered, _ = v.value.(string) })
		}
	case "deferral.extended_until":
		last := airworthiness.DateOf(a.c.Flight.Arrives)
		for _, v := range []candidate{{last.String(), "through the last day of the flight"}, {(last - 1).String(), "not through the last day of the flight"}} {
			add(v.value, v.words, func(d *casefile.Defect) { d.Deferral.ExtendedUntil, _ = v.value.(string) })
		}
	case "deferral.involves_maintenance":
		add(true, "it involves maintenance", func(d *casefile.Defect) { d.Deferral.InvolvesMaintenance = boolean(true) })
		add(false, "it involves none", func(d *casefile.Defect) { d.Deferral.InvolvesMaintenance = boolean(false) })
	case "deferral.removed_on":
		for _, v := range a.daysBefore("defects[].deferral.removed_on") {
			add(v.value, v.words, func(d *casefile.Defect) { d.Deferral.RemovedOn, _ = v.value.(string) })
		}
	}
	a.add(f)
}

// itemOf is the item that a squawk is about.
func (a *asker) itemOf(i int) string {
	d := a.c.Defects[i]
	for _, u := range a.c.Aircraft.Configuration.Units {
		if u.ID == d.Unit {
			return u.Item
		}
	}
	return d.Item
}

// unitsFor are the installed units that an item may be: those of it and those that do its job; all if none is named. They
// are in the order of their names.
func (a *asker) unitsFor(item string) []casefile.Unit {
	units := slices.DeleteFunc(slices.Clone(a.c.Aircraft.Configuration.Units), func(u casefile.Unit) bool {
		row, _ := a.rules.Item(u.Item)
		return item != "" && u.Item != item && !slices.Contains(u.Also, item) && !slices.Contains(row.ServesAs, item)
	})
	slices.SortFunc(units, func(x, y casefile.Unit) int { return strings.Compare(x.ID, y.ID) })
	return units
}
