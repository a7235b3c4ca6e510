package inquiry

import (
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// askPaper asks for a field of what goes along in the aircraft.
func (a *asker) askPaper(fact, asks string) {
	f := openFact{name: fact, asks: asks}
	set := func(f *openFact, value any, words string, change func(*casefile.Papers)) {
		f.values = append(f.values, factValue{FactValue{text(value), words}, func(c *casefile.Case) {
			papers := casefile.Papers{}
			if c.Aircraft.Facts.Papers != nil {
				papers = *c.Aircraft.Facts.Papers
			}
			change(&papers)
			c.Aircraft.Facts.Papers = &papers
		}})
	}
	aboard := map[string]func(*casefile.Papers) **bool{
		"airworthiness_certificate.aboard":    func(p *casefile.Papers) **bool { return &p.Airworthiness.Aboard },
		"airworthiness_certificate.displayed": func(p *casefile.Papers) **bool { return &p.Airworthiness.Displayed },
		"registration.aboard":                 func(p *casefile.Papers) **bool { return &p.Registration.Aboard },
		"operating_limitations.aboard":        func(p *casefile.Papers) **bool { return &p.Limitations.Aboard },
		"weight_and_balance.aboard":           func(p *casefile.Papers) **bool { return &p.WeightBalance.Aboard },
		"radio_licence.aboard":                func(p *casefile.Papers) **bool { return &p.RadioLicence.Aboard },
	}
	through := map[string]func(*casefile.Papers) *string{
		"registration.through":  func(p *casefile.Papers) *string { return &p.Registration.Through },
		"radio_licence.through": func(p *casefile.Papers) *string { return &p.RadioLicence.Through },
	}
	name := strings.TrimPrefix(fact, "aircraft.facts.papers.")
	if field, ok := aboard[name]; ok {
		for _, so := range []bool{true, false} {
			set(&f, so, yesOrNo(so), func(p *casefile.Papers) { *field(p) = boolean(so) })
		}
	} else if field, ok := through[name]; ok {
		for _, day := range a.lastDays() {
			set(&f, day.value, day.words, func(p *casefile.Papers) { *field(p), _ = day.value.(string) })
		}
	} else {
		a.askWeightBalance(asks, set)
		return
	}
	a.add(f)
}

// askWeightBalance tries weight and balance data of the present equipment, and of an earlier one, by what is not known of
// their dates: that of the data, that of the last change of equipment, or both.
func (a *asker) askWeightBalance(asks string, set func(*openFact, any, string, func(*casefile.Papers))) {
	dated, changed := "", a.c.Aircraft.Configuration.EquipmentChanged
	if p := a.c.Aircraft.Facts.Papers; p != nil {
		dated = p.WeightBalance.Dated
	}
	on := airworthiness.DateOf(a.c.Flight.Departs)
	if day, ok := airworthiness.ParseDate(dated + changed); ok {
		on = day // the one of the two that is known
	}
	if dated == "" {
		f := openFact{name: "aircraft.facts.papers.weight_and_balance.dated", asks: asks}
		for _, day := range []airworthiness.Date{on, on - 1} {
			set(&f, day.String(), "made on "+day.String(), func(p *casefile.Papers) { p.WeightBalance.Dated = day.String() })
		}
		a.add(f)
	}
	if changed == "" {
		f := openFact{name: "aircraft.configuration.equipment_changed", asks: "when equipment was last put in, taken out or changed"}
		for _, day := range []airworthiness.Date{on, on + 1} {
			f.values = append(f.values, factValue{FactValue{text(day.String()), "on " + day.String()}, func(c *casefile.Case) {
				c.Aircraft.Configuration.EquipmentChanged = day.String()
			}})
		}
		a.add(f)
	}
}

// askUpkeep asks for what is not on record of what comes due.
func (a *asker) askUpkeep(fact, asks, id string) {
	before := (airworthiness.DateOf(a.c.Flight.Departs) - 1).String()
	f := openFact{name: strings.Replace(fact, "[]", "["+id+"]", 1), asks: asks}
	add := func(value any, words string, change func(*casefile.Upkeep)) {
		f.values = append(f.values, factValue{FactValue{text(value), words}, func(c *casefile.Case) {
			record := casefile.Upkeep{}
			if c.Aircraft.Facts.Upkeep != nil {
				record = *c.Aircraft.Facts.Upkeep
			}
			record.Items = slices.Clone(record.Items)
			change(&record)
			c.Aircraft.Facts.Upkeep = &record
		}})
	}
	given := casefile.UpkeepItem{}
	if u := a.c.Aircraft.Facts.Upkeep; u != nil {
		if i := slices.IndexFunc(u.Items, func(it casefile.UpkeepItem) bool { return it.ID == id }); i >= 0 {
			given = u.Items[i]
		}
	}
	item := func(change func(*casefile.UpkeepItem)) func(*casefile.Upkeep) {
		return func(u *casefile.Upkeep) {
			if i := slices.IndexFunc(u.Items, func(it casefile.UpkeepItem) bool { return it.ID == id }); i >= 0 {
				change(&u.Items[i])
			}
		}
	}
	switch fact {
	case "aircraft.facts.upkeep.complete":
		further := casefile.UpkeepItem{
			ID: "further-directive", Kind: "directive", What: "a directive that is not on record yet", Citation: "its number",
			First: &casefile.DueAt{Through: before},
		}
		add(true, "complete as it is", func(u *casefile.Upkeep) { u.Complete = boolean(true) })
		add(map[string]any{"complete": true, "further_items": []casefile.UpkeepItem{further}}, "complete with a directive that has fallen due", func(u *casefile.Upkeep) {
			u.Complete = boolean(true)
			u.Items = append(u.Items, further)
		})
	case "aircraft.facts.upkeep.items[].permit_barred":
		for _, so := range []bool{false, true} {
			add(so, yesOrNo(so), item(func(it *casefile.UpkeepItem) { it.PermitBarred = boolean(so) }))
		}
	case "aircraft.facts.upkeep.items[]":
		if id == "" {
			a.askSchedule(add)
			break
		}
		whole := func(words string, change func(*casefile.UpkeepItem)) {
			it := given
			change(&it)
			add(it, words, item(change))
		}
		whole("nothing asks for it on this flight", func(it *casefile.UpkeepItem) { it.Ended = true })
		whole("it has fallen due", func(it *casefile.UpkeepItem) {
			it.First, it.Every, it.Done = &casefile.DueAt{Through: before}, nil, nil
		})
	}
	a.add(f)
}

// askSchedule tries a schedule of a progressive inspection that serves, and one by which something has fallen due.
func (a *asker) askSchedule(add func(any, string, func(*casefile.Upkeep))) {
	last := airworthiness.DateOf(a.c.Flight.Arrives)
	for _, s := range []struct {
		through airworthiness.Date
		words   string
	}{{last, "a schedule by which nothing is due before the flight has ended"}, {airworthiness.DateOf(a.c.Flight.Departs) - 1, "a schedule by which something has fallen due"}} {
		it := casefile.UpkeepItem{
			ID: "schedule", Kind: "program", What: "what the schedule asks for next", First: &casefile.DueAt{Through: s.through.String()},
		}
		add(it, s.words, func(u *casefile.Upkeep) { u.Items = append(u.Items, it) })
	}
}

// hoursLeft lists what the items that are limited by hours leave of them, with what a program may be exceeded by.
func hoursLeft(p *airworthiness.Plan) []float64 {
	var hours []float64
	for _, it := range p.Aircraft().Upkeep.Items {
		if it.InHours && it.HoursLeft.Known {
			hours = append(hours, it.HoursLeft.Value)
			if it.Kind == "program" {
				hours = append(hours, it.HoursLeft.Value+p.Overfly())
			}
		}
	}
	return hours
}
