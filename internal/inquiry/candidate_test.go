package inquiry_test

import (
	"maps"
	"math/rand/v2"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/inquiry"
)

// neverOpen has the facts that no written case leaves open, each with the reason: there is nothing to try.
var neverOpen = map[string]string{
	"flight.only_required_crew":             "claimed or not",
	"flight.training_within_50nm":           "claimed or not",
	"flight.to_place_of_repair":             "claimed or not",
	"flight.repair_impossible":              "claimed or not",
	"flight.to_place_of_inspection":         "claimed or not",
	"flight.newly_acquired_to_installation": "claimed or not",
	"flight.atc_authorized":                 "what is not listed is not authorized",
	"flight.operations":                     "declared, or not made",
	"flight.under_way":                      "claimed or not",

	"aircraft.facts.progressive_complete":   "no program is entered without it",
	"aircraft.facts.progressive_inspection": "nor that day without it",

	"defects[].deferral.placarded":                  "absent: not done",
	"defects[].deferral.recorded":                   "absent: not done",
	"defects[].deferral.hazard_determined":          "absent: not done",
	"defects[].deferral.maintenance_procedure_done": "absent: not done",
	"defects[].deferral.hazard_considered":          "who is not listed has not been considered",
	"defects[].deferral.extended":                   "claimed or not",
	"policy.deactivation":                           "absent: strict",

	"aircraft.facts.basis":                    "a case without it is none",
	"aircraft.facts.type_certificate_applied": "only a note asks for it",
}

// askedAs has the facts that are asked for under another name.
var askedAs = map[string]string{
	"flight.departs and flight.route":                 "flight.light",
	"flight.rules and flight.departs":                 "flight.rules",
	"defects[].deferral.method_done":                  "defects[].deferral.method",
	"aircraft.configuration.equipment_list.on_record": "aircraft.configuration.equipment_list",
	"flight.kind":                    "flight.rules",
	"flight.light.day":               "flight.light",
	"flight.light.night":             "flight.light",
	"flight.light.sunset_to_sunrise": "flight.light",
	"aircraft.configuration.type_certification.on_record": "aircraft.configuration.type_certification",
}

// beyondConditions are the facts that findings ask for beside those of the conditions.
var beyondConditions = []string{
	"aircraft.configuration.type_certification", "aircraft.configuration.type_certification.confirmed", "aircraft.configuration.koel",
	"aircraft.configuration.directives", "aircraft.configuration.directives.rows[].permit_barred", "aircraft.configuration.units[].serves",
	"aircraft.configuration.mel", "aircraft.configuration.mel.rows[].required", "aircraft.configuration.mel.rows[].operations_procedure",
	"aircraft.configuration.mel.rows[].category", "aircraft.configuration.mel.rows[].days", "defects[].unit", "defects[].kind",
	"aircraft.facts.upkeep.complete", "aircraft.facts.upkeep.items[].permit_barred",
	"defects[].deferral.discovered", "defects[].deferral.extended_until", "flight.hours", "flight.occupants", "flight.persons",
	"flight.required_crew", "aircraft.facts.engines", "aircraft.facts.tanks", "aircraft.facts.front_seats",
	"flight.special_flight_permit.issued", "flight.special_flight_permit.valid_from", "flight.special_flight_permit.valid_until",
	"flight.special_flight_permit.kinds", "flight.special_flight_permit.only_required_crew",
}

// oneAnswer has the facts that may have one value: another answer leaves the question as it is, or there is only one unit,
// or place, that it can be.
var oneAnswer = []string{
	"aircraft.configuration.units_complete", "aircraft.configuration.type_certification.confirmed", "aircraft.configuration.units[].serves",
	"flight.occupants",                                         // in an aircraft with one seat
	"defects[].unit", "flight.persons", "flight.required_crew", // with none at work, it is short for anybody
	"aircraft.configuration.equipment_list", "aircraft.configuration.koel", "aircraft.configuration.directives", // with rows, it exists
	"aircraft.configuration.mel", // with a row for everything that is squawked
}

var member = regexp.MustCompile(`\[[^\]]+\]`)

// TestEveryMissingFactHasValues takes facts away from the written cases and holds that, whatever a finding then asks for,
// there are values on either side of it to try; and that it has been so for every fact that a condition of the book, or
// the engine beside them, can ask for, save those that are never open.
func TestEveryMissingFactHasValues(t *testing.T) {
	t.Parallel()
	rules := book(t).Ruleset
	all := written(t)
	names := slices.Sorted(maps.Keys(all))
	random := rand.New(rand.NewPCG(1, 2))
	tried, failed := map[string]bool{}, map[string]bool{}
	for range 20000 {
		c := without(random, all[names[random.IntN(len(names))]].Copy())
		if len(c.CompanyRules) > 0 {
			c.CompanyRules = nil // they are compiled for a settling, not here
		}
		open, err := inquiry.OpenFacts(c, rules)
		if err != nil {
			continue // no case at all
		}
		for _, f := range open {
			fact := member.ReplaceAllString(f.Fact, "[]")
			least := 2
			if slices.Contains(oneAnswer, fact) {
				least = 1
			}
			if why := nothingToTry(&c, fact); why != "" && len(f.Values) == 0 {
				continue
			}
			if len(f.Values) < least && !failed[fact] {
				t.Errorf("%s, %s, has the values %s: %s", f.Fact, f.Asks, tell(f.Values), c.Story)
				failed[fact] = true
			}
			tried[fact] = true
		}
	}
	want := slices.Clone(beyondConditions)
	for _, term := range rules.Terms() {
		if !strings.HasPrefix(term.Fact, "defects") || neverOpen[term.Fact] == "" {
			want = append(want, term.Fact)
		}
	}
	for _, fact := range want {
		if as, ok := askedAs[fact]; ok {
			fact = as
		}
		if tried[fact] == (neverOpen[fact] != "") {
			t.Errorf("%s: tried %t, never open as %q", fact, tried[fact], neverOpen[fact])
		}
	}
}

// nothingToTry says why there are no values for a fact of this case.
func nothingToTry(c *casefile.Case, fact string) string {
	config := &c.Aircraft.Configuration
	switch {
	case fact == "aircraft.configuration.mel" && config.MEL.OnRecord != nil:
		return "an MEL governs, and there is none"
	case fact == "aircraft.configuration.type_certification" && config.TypeCertification.OnRecord != nil:
		return "every type has such a list, and there is none"
	case fact == "defects[].unit":
		return "no installed unit is of that item"
	case fact == "flight.light" && len(c.Flight.Route) > 0:
		return "the route says it"
	case fact == "aircraft.configuration.units_complete":
		return ""
	}
	return ""
}

// without takes some of what is known away from a case.
func without(random *rand.Rand, c casefile.Case) casefile.Case {
	often := []float64{0.02, 0.1, 0.4}[random.IntN(3)]
	lose := func(v any) {
		s := reflect.ValueOf(v).Elem()
		for i := range s.NumField() {
			if random.Float64() < often && s.Type().Field(i).Name != "Basis" {
				s.Field(i).SetZero()
			}
		}
	}
	chance := func(p float64) bool { return random.Float64() < p }
	lose(&c.Aircraft.Facts)
	lose(&c.Flight.FlightFacts)
	if chance(0.2) {
		c.Aircraft.Facts.Basis = "part-23-before-64"
	}
	loseKeeping(random, &c, lose)
	config := &c.Aircraft.Configuration
	for _, l := range []*casefile.OwnList{&config.TypeCertification, &config.EquipmentList, &config.KOEL, &config.Directives} {
		if chance(often) {
			l.OnRecord = nil
		}
	}
	if chance(0.3) {
		config.TypeCertification.Confirmed = nil
	}
	if chance(often) {
		config.UnitsComplete = nil
	}
	if config.MEL.OnRecord != nil {
		lose(&config.MEL)
		for i := range config.MEL.Rows {
			item := config.MEL.Rows[i].Item
			lose(&config.MEL.Rows[i])
			config.MEL.Rows[i].Item = item
			if chance(0.2) {
				config.MEL.Rows[i].Category, config.MEL.Rows[i].Days = "A", nil
			}
		}
	}
	for i := range config.Units {
		if chance(often) {
			config.Units[i].Serves = nil
		}
	}
	if chance(often) {
		c.Flight.Light, c.Flight.Route = nil, nil
	}
	if chance(often) {
		c.Flight.Rules = ""
	}
	if chance(0.3) {
		c.Policy.Deactivation = "rule-text"
	}
	for i := range c.Defects {
		d := &c.Defects[i]
		if chance(0.4) && len(config.Units) > 0 {
			d.Unit, d.Item = config.Units[random.IntN(len(config.Units))].ID, ""
			if special := slices.DeleteFunc(slices.Clone(config.Units), ordinary); len(special) > 0 && chance(0.8) {
				d.Unit = special[random.IntN(len(special))].ID
				f := &c.Aircraft.Facts
				f.PumpFedFuel, f.ControllablePropeller, f.CowlFlaps, f.ElectricalSystem = nil, nil, nil, nil
			}
		}
		if chance(often) {
			d.Kind = ""
		}
		if chance(often) && d.Unit != "" {
			d.Unit, d.Item = "", "intercom"
		}
		if d.Deferral != nil {
			d.Deferral.Extended = chance(0.5)
			lose(d.Deferral)
		}
	}
	if chance(0.1) && len(c.Defects) > 0 {
		spareGauge(&c)
	}
	if so := true; chance(0.1) {
		used := 99.0
		c.Aircraft.Facts.HoursSinceInspection, c.Flight.ForHire, c.Flight.Hours = &used, &so, nil
	}
	if chance(0.2) {
		c.Flight.SpecialFlightPermit = permitFor(c)
		lose(c.Flight.SpecialFlightPermit)
		c.Flight.SpecialFlightPermit.Number = "SF-0001"
		if len(c.Defects) > 0 && c.Defects[0].Unit != "" && chance(0.5) {
			for _, u := range config.Units {
				if u.ID == c.Defects[0].Unit {
					on := true
					config.Directives.OnRecord = &on
					config.Directives.Rows = append(config.Directives.Rows, casefile.OwnRow{Item: u.Item})
				}
			}
		}
	}
	return c
}

// loseKeeping takes from papers and upkeep, and adds items of which too little is known.
func loseKeeping(random *rand.Rand, c *casefile.Case, lose func(any)) {
	if papers := c.Aircraft.Facts.Papers; papers != nil {
		lose(papers)
	}
	if so := true; random.IntN(8) == 0 {
		c.Aircraft.Facts.ProgressiveComplete, c.Aircraft.Facts.Progressive = c.Flight.Departs.AddDate(0, -2, 0).Format(time.DateOnly), &so
		if random.IntN(2) == 0 {
			given := false
			c.Aircraft.Facts.ProgressiveComplete, c.Aircraft.Facts.Progressive = c.Flight.Departs.AddDate(-3, 0, 0).Format(time.DateOnly), &given
		}
	}
	if random.IntN(10) == 0 {
		c.Flight.Operations = []string{"abroad"}
	}
	if random.IntN(5) == 0 {
		kind := []string{"directive", "life-limit", "program", "own"}[random.IntN(4)]
		left := float64(random.IntN(3)) / 2
		read, reads, so := c.Flight.Departs, 1000.0, true
		it := casefile.UpkeepItem{ID: "a", Kind: kind, What: "work", Citation: "paper", First: &casefile.DueAt{Hours: new(reads + left)}}
		if random.IntN(2) == 0 {
			it.First, it.Every = nil, &casefile.Every{Days: 30}
		}
		c.Aircraft.Facts.Upkeep = &casefile.Upkeep{ReadAt: &read, Hours: &reads, Complete: &so, Items: []casefile.UpkeepItem{it}}
		if since := c.Aircraft.Facts.HoursSinceInspection; since != nil && *since > reads {
			c.Aircraft.Facts.Upkeep = nil
		}
	}
}

// ordinary says whether a unit is none of those that the lists by certification basis ask for under conditions.
func ordinary(u casefile.Unit) bool {
	return !slices.Contains([]string{"manifold-pressure-gauge", "fuel-pressure-gauge", "cylinder-head-temperature-gauge", "master-switch", "alternator"}, u.Item)
}

// spareGauge gives the aircraft one fuel gauge more than it has tanks, says of none which tank it serves, and squawks one.
func spareGauge(c *casefile.Case) {
	config := &c.Aircraft.Configuration
	for i := range config.Units {
		if config.Units[i].Item == "fuel-quantity-gauge" {
			config.Units[i].Serves = nil
			c.Defects[0].Unit, c.Defects[0].Item = config.Units[i].ID, ""
		}
	}
	config.Units = append(config.Units, casefile.Unit{ID: "spare-gauge", Item: "fuel-quantity-gauge"})
}

// permitFor is a special flight permit for everything that is wrong.
func permitFor(c casefile.Case) *casefile.Permit {
	from, until, kinds, others := c.Flight.Departs.Add(-time.Hour), c.Flight.Arrives.Add(time.Hour), []string{"day-vfr", "night-vfr", "day-ifr", "night-ifr"}, false
	p := casefile.Permit{Issued: "2000-01-01", ValidFrom: &from, ValidUntil: &until, Kinds: &kinds, OnlyRequiredCrew: &others}
	for _, d := range c.Defects {
		p.Covers = append(p.Covers, d.ID)
	}
	return &p
}
