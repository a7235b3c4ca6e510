package inquiry_test

import (
	"slices"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// houseRules are rules that an organization may have made for itself.
var houseRules = []casefile.CompanyRule{
	{ID: "company-intercom", Citation: "operations manual 4.2", Item: "intercom", Quantity: "1", When: "for-hire", Words: "An intercom with passengers for hire."},
	{ID: "company-two-radios", Citation: "operations manual 4.3", Item: "com-radio", Quantity: "2", When: "night controlled-airspace", Words: "Two radios in controlled airspace at night."},
	{ID: "company-low", Citation: "operations manual 4.4", Must: "below-2500-agl", When: "altitude-from:10000 !over-water", Words: "High up only over high ground."},
	{ID: "company-guided", Citation: "operations manual 4.5", Must: "controlled-airspace", When: "instruction-provided-aircraft", Words: "Instruction in controlled airspace."},
	{ID: "company-belts", Citation: "operations manual 4.6", Item: "safety-belt", Quantity: "each-person", When: "for-hire", Words: "A belt for every person."},
}

// drawHouse draws an organization's rules and its policy.
func drawHouse(t *rapid.T, c *casefile.Case) {
	for _, rule := range houseRules {
		if chance(t, 25, rule.ID) {
			c.CompanyRules = append(c.CompanyRules, rule)
		}
	}
	if chance(t, 20, "rule text") {
		c.Policy.Deactivation = "rule-text"
	}
}

// drawRecords draws inspections that have run out, or leave few hours.
func drawRecords(t *rapid.T, f *casefile.Facts) {
	for _, day := range []*string{&f.AnnualInspected, &f.ConditionInspected, &f.AltimeterTested, &f.TransponderTested, &f.ELTInspected} {
		if *day != "" && chance(t, 2, "overdue") {
			*day = "2023-05-31"
		}
	}
	if f.HoursSinceInspection != nil && chance(t, 30, "few hours left") {
		hours := rapid.SampledFrom([]float64{70, 98.9, 99.7, 100, 108.4, 109.6, 120}).Draw(t, "hours")
		f.HoursSinceInspection = &hours
	}
	if chance(t, 25, "something comes due") {
		drawItems(t, f)
	}
}

// drawItems draws what comes due by the aircraft's own papers: some of it has, and some leaves few hours.
func drawItems(t *rapid.T, f *casefile.Facts) {
	read, reads, so := day.Add(-time.Hour), 1000.0, true
	u := casefile.Upkeep{ReadAt: &read, Hours: &reads, Complete: &so}
	for i := range rapid.IntRange(1, 2).Draw(t, "items") {
		it := casefile.UpkeepItem{
			ID: string(rune('a' + i)), Kind: rapid.SampledFrom([]string{"directive", "life-limit", "program", "program", "own", "own"}).Draw(t, "kind of item"),
			What: "work", Citation: "a paper",
		}
		left := reads + rapid.SampledFrom([]float64{50, 1.5, 0.5, 0, -4, -8.5, -11}).Draw(t, "hours left")
		it.First = &casefile.DueAt{Hours: &left}
		if chance(t, 30, "by date too") {
			it.First.Through = rapid.SampledFrom([]string{"2031-01-31", "2020-01-31"}).Draw(t, "through")
		}
		if it.Kind == "own" {
			it.Stops = rapid.SampledFrom([][]string{nil, {"ifr"}, {"night"}, {"for-hire", "over-water"}}).Draw(t, "stops")
		}
		u.Items = append(u.Items, it)
	}
	f.Upkeep = &u
}

// conditionsOfFlights are what a row of an MEL may hold under only.
var conditionsOfFlights = []string{
	"", "", "", "!ifr !night", "!night", "for-hire", "!altitude-from:10000", "!airspace:class-b !over-water", "!lights", "!operation:cat-ii", "!cabin-above:12500",
}

// drawMEL puts the aircraft under an MEL with rows for much of what is wrong.
func drawMEL(t *rapid.T, c *casefile.Case, sound bool) {
	so := true
	maybe := func(percent int, label string) *bool {
		b := chance(t, percent, label)
		if !sound && chance(t, 15, label+" not said") {
			return nil
		}
		return &b
	}
	c.Aircraft.Facts.MELAuthorized = &so
	mel := casefile.MEL{OnRecord: maybe(98, "mel"), Authority: rapid.SampledFrom(airworthiness.Vocabulary("mel_authority")).Draw(t, "authority"), LetterAboard: maybe(85, "letter"), Aboard: maybe(95, "list aboard")}
	if !sound && chance(t, 10, "authority not said") {
		mel.Authority = ""
	}
	if mel.OnRecord == nil || *mel.OnRecord {
		for _, item := range melItems(c) {
			if chance(t, 10, "not listed") {
				continue
			}
			required := rapid.SampledFrom([]int{0, 0, 0, 1, 2}).Draw(t, "required")
			row := casefile.MELRow{
				Item: item, Required: &required, Category: rapid.SampledFrom([]string{"B", "C", "D"}).Draw(t, "category"),
				OperationsProcedure: maybe(20, "operations"), MaintenanceProcedure: maybe(10, "maintenance"),
				OnlyWhen: rapid.SampledFrom(conditionsOfFlights).Draw(t, "only when"),
			}
			if chance(t, 20, "proviso") {
				row.Proviso = "the other works"
			}
			if !sound && chance(t, 10, "row incomplete") {
				row.Required, row.Category = nil, ""
			}
			mel.Rows = append(mel.Rows, row)
		}
	}
	c.Aircraft.Configuration.MEL = mel
	for i := range c.Defects {
		if d := c.Defects[i].Deferral; d != nil {
			d.Discovered = rapid.SampledFrom([]string{"2026-05-31", "2026-05-25", "2026-05-25", "2026-01-01"}).Draw(t, "discovered")
			if chance(t, 60, "extended") {
				d.Extended, d.ExtendedUntil = true, rapid.SampledFrom([]string{"2026-06-03", "2026-06-03", "2026-05-30"}).Draw(t, "extended until")
			}
		}
	}
}

// bothRadios puts every radio that receives and sends out of use, as it must be.
func bothRadios(units []casefile.Unit) []casefile.Defect {
	var defects []casefile.Defect
	for _, u := range units {
		if u.Item == "nav-com-radio" {
			until := day.Add(48 * time.Hour)
			defects = append(defects, casefile.Defect{ID: u.ID, Kind: "inoperative", Unit: u.ID, Deferral: &casefile.Deferral{
				Method: "deactivated", MethodDone: true, Placarded: true, Recorded: true, HazardDetermined: true, Until: &until,
			}})
		}
	}
	return defects
}

// melItems are the items of everything that is squawked, and of what needs it, each once.
func melItems(c *casefile.Case) []string {
	var items, lost []string
	for _, d := range c.Defects {
		lost = append(lost, d.Unit)
		if d.Item != "" {
			items = append(items, d.Item)
		}
	}
	for range c.Aircraft.Configuration.Units {
		for _, u := range c.Aircraft.Configuration.Units {
			needs := slices.ContainsFunc(u.Needs, func(id string) bool { return slices.Contains(lost, id) })
			if needs && !slices.Contains(lost, u.ID) {
				lost = append(lost, u.ID)
			}
		}
	}
	for _, u := range c.Aircraft.Configuration.Units {
		if slices.Contains(lost, u.ID) {
			items = append(items, u.Item)
		}
	}
	slices.Sort(items)
	return slices.Compact(items)
}

// drawConsidered lets each hazard determination be made in view of the other squawks, mostly.
func drawConsidered(t *rapid.T, defects []casefile.Defect) {
	for i := range defects {
		d := defects[i].Deferral
		for j := range defects {
			if d != nil && i != j && chance(t, 85, "considered") {
				d.HazardConsidered = append(d.HazardConsidered, defects[j].ID)
			}
		}
	}
}
