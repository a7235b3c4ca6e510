package oracle

import (
	"slices"
	"time"

	"tiedown/internal/casefile"
)

// mel deals a minimum equipment list where one may govern: when things are calm it provides for most of what is fitted.
func (d *Dealer) mel(f casefile.Facts, units []casefile.Unit) casefile.MEL {
	if f.MELAuthorized != nil && !*f.MELAuthorized {
		return casefile.MEL{}
	}
	m := casefile.MEL{OnRecord: usual(d, new(true), new(true), new(false), nil)}
	if m.OnRecord == nil || !*m.OnRecord {
		return m
	}
	m.Authority, m.LetterAboard, m.Aboard = d.word("letter", "letter", "certificate"), d.mostly(true), d.mostly(true)
	provides := usual(d, 95, 60)
	for _, u := range units {
		listed := slices.ContainsFunc(m.Rows, func(r casefile.MELRow) bool { return r.Item == u.Item })
		if !listed && d.chance(provides) {
			m.Rows = append(m.Rows, d.melRow(u.Item))
		}
	}
	return m
}

func (d *Dealer) melRow(item string) casefile.MELRow {
	r := casefile.MELRow{
		Item:                 item,
		Installed:            new(2),
		Required:             maybe(d, usual(d, 0, 0, 1, 2)),
		Category:             d.word("A", "B", "C", "C", "D"),
		OperationsProcedure:  maybe(d, d.chance(15)),
		MaintenanceProcedure: maybe(d, d.chance(25)),
	}
	if r.Category == "A" {
		r.Days = maybe(d, pick(d, 1, 3, 60))
	}
	if d.chance(15) {
		r.Proviso = "within gliding distance of an airport"
	}
	if d.chance(20) {
		r.OnlyWhen = pick(d, flightClauses...)
	}
	return r
}

// flightClauses are conditions of the flight in the tables' notation.
var flightClauses = []string{
	"!ifr", "!night", "!ifr !night", "!kind:night-ifr", "!for-hire", "!over-water", "!controlled-airspace", "ifr", "!lights",
	"!in-alaska", "only-required-crew", "!navigates-by:vor", "!altitude-from:10000", "!altitude-above:12500",
	"!cabin-above:12500", "!operation:nvg",
}

// confirmation deals who has confirmed a list of the type certification.
func (d *Dealer) confirmation() *casefile.Confirmation {
	c := usual(d, &casefile.Confirmation{By: "a mechanic", Certificate: "mechanic 1", On: "2025-01-01", Document: "data sheet"}, nil)
	if c != nil && !d.calm {
		switch d.intN(24) {
		case 0:
			c.By = ""
		case 1:
			c.Certificate = ""
		case 2:
			c.On = ""
		case 3:
			c.Document = ""
		}
	}
	return c
}

// found deals what became of a condition: it is mostly cleared, or lacks something.
func (d *Dealer) found() *casefile.Found {
	if d.chance(30) {
		return nil
	}
	f := &casefile.Found{Result: pick(d, "repaired", "within-limits"), Rated: d.chance(96), Approved: d.chance(96)}
	if d.chance(96) {
		f.Data = "maintenance manual"
	}
	if d.chance(4) {
		f.Result = ""
	}
	return f
}

// consider has the hazard determination of each deferral look at the others: at all of them, at some or at none.
func (d *Dealer) consider(defects []casefile.Defect) {
	for i := range defects {
		if defects[i].Deferral == nil {
			continue
		}
		looks := usual(d, 100, 0, 50, 97)
		for j := range defects {
			if i != j && d.chance(looks) {
				defects[i].Deferral.HazardConsidered = append(defects[i].Deferral.HazardConsidered, defects[j].ID)
			}
		}
	}
}

// couple makes two squawks what common practice looks at together, deferred in view of each other.
func (d *Dealer) couple(a casefile.Aircraft, defects []casefile.Defect) {
	if len(defects) < 2 {
		return
	}
	c := pick(d, couples...)
	sides := [][]string{c.first, c.second}
	for i, side := range sides {
		for _, u := range a.Configuration.Units {
			if slices.Contains(side, u.Item) && (i == 0 || u.ID != defects[0].Unit) {
				defects[i].Kind, defects[i].Unit, defects[i].Item = "inoperative", u.ID, ""
				defects[i].Deferral, defects[i].Found = d.deferral(100), nil
			}
		}
	}
}

// permit deals a special flight permit, mostly for this very flight and all that is wrong.
func (d *Dealer) permit(defects []casefile.Defect, f casefile.Flight) *casefile.Permit {
	covers := usual(d, 97, 60)
	p := &casefile.Permit{Number: "SFP 1", OnlyRequiredCrew: maybe(d, usual(d, false, true))}
	for _, squawk := range defects {
		if d.chance(covers) {
			p.Covers = append(p.Covers, squawk.ID)
		}
	}
	if issued := maybe(d, f.Departs.AddDate(0, 0, usual(d, -3, 0, 1)).Format(time.DateOnly)); issued != nil {
		p.Issued = *issued
	}
	p.ValidFrom = maybe(d, f.Departs.Add(time.Duration(usual(d, -24, 0, 1))*time.Hour))
	p.ValidUntil = maybe(d, f.Arrives.Add(time.Duration(usual(d, 24, 0, 2, -30))*time.Minute))
	if p.ValidFrom != nil && p.ValidUntil != nil && !p.ValidUntil.After(*p.ValidFrom) {
		p.ValidUntil = nil
	}
	p.Kinds = maybe(d, usual(d, kinds, subset(d, 60, kinds...)))
	return p
}

// inspections deals when an aircraft was inspected and tested.
func (d *Dealer) inspections(f *casefile.Facts) {
	yearly := func() string {
		return d.word(usual(d, "2025-09-10", "2025-05-31", "2025-06-01", "2025-06-30", "2026-06-01", "2026-06-02"))
	}
	biennial := func() string {
		return d.word(usual(d, "2025-09-10", "2024-05-31", "2024-06-01", "2024-06-30", "2026-06-01", "2026-06-02"))
	}
	f.AnnualInspected, f.ConditionInspected, f.ELTInspected = yearly(), yearly(), yearly()
	if d.chance(12) {
		f.ProgressiveComplete = usual(d, yearly(), yearly(), "")
		if f.ProgressiveComplete != "" {
			f.Progressive = new(d.chance(80))
		}
	}
	f.AltimeterTested, f.TransponderTested = biennial(), biennial()
	f.ELTBatteryDue = d.word(usual(d, "2027-01-31", "2026-05-31", "2026-06-01", "2026-06-02"))
	f.ELTBatteryHours = maybe(d, usual(d, 0.2, 0, 1, 1.1))
	f.HoursSinceInspection = maybe(d, usual(d, 40.0, 95, 98, 99, 100, 100.5, 105, 108, 109.5, 110, 111))
}

// operation deals what bears on inspections, and what equipment of its own an operation asks for.
func (d *Dealer) operation(f *casefile.Flight) {
	window := f.Arrives.Sub(f.Departs).Hours()
	f.Hours = maybe(d, window*pick(d, 0.5, 0.5, 1))
	if d.chance(20) {
		f.Hours = nil
	}
	f.InstructionProvidedAircraft = d.fact(15)
	f.ToPlaceOfInspection = d.chance(30)
	f.NewlyAcquiredToInstallation = d.chance(10)
	f.UnderWay = d.chance(15)
	f.Operations = subset(d, usual(d, 1, 10), "cat-ii", "cat-iii", "nvg", "abroad")
	if d.chance(10) {
		f.Earlier = &casefile.EarlierLegs{Legs: pick(d, 1, 2), WindowHours: pick(d, 0.5, 2, 10)}
		if f.Hours != nil {
			f.Hours = new(*f.Hours + f.Earlier.WindowHours*pick(d, 0.5, 1))
		}
	}
}

// House deals how an organization reads the rules, and the rules that it keeps beside them.
func (d *Dealer) House(a casefile.Aircraft) House {
	h := House{Policy: casefile.Policy{Deactivation: pick(d, "", "strict", "rule-text")}}
	if !d.chance(25) {
		return h
	}
	for i := range 1 + d.intN(3) {
		h.Rules = append(h.Rules, d.companyRule(i, a.Configuration.Units))
	}
	return h
}

func (d *Dealer) companyRule(i int, units []casefile.Unit) casefile.CompanyRule {
	r := casefile.CompanyRule{
		ID:       "company-" + string(rune('a'+i)),
		Citation: pick(d, "Club rule 1", "Club rule 2"),
		Words:    "A rule of the club's.",
	}
	if d.chance(70) {
		r.When = pick(d, "night", "ifr", "for-hire", "night !ifr", "kind:night-vfr", "over-water", "category:airplane",
			"installed:dme", "works:autopilot", "!works:autopilot", "!installed:dme", "certificate:standard", "altitude-from:10000",
			"navigates-by:gnss", "operation:nvg", "installed:taxi-light !only-required-crew")
	}
	if d.chance(15) {
		r.From = pick(d, "2026-06-01", "2026-06-02", "2020-01-01")
	} else if d.chance(15) {
		r.To = pick(d, "2026-06-01", "2026-06-02")
	}
	if d.chance(15) {
		r.Must = pick(d, "ifr", "controlled-airspace", "only-required-crew", "works:dme", "installed:taxi-light", "kind:day-vfr")
		return r
	}
	r.Item = pick(d, "dme", "taxi-light", "safety-belt", "oxygen-system", "tachometer", "fuel-quantity-gauge", "vor-receiver|gps-navigator")
	if len(units) > 0 && d.chance(70) {
		r.Item = units[d.intN(len(units))].Item
	}
	r.Quantity = pick(d, "1", "1", "2", "all", "each-engine", "each-tank", "each-seat", "each-front-seat", "each-occupant",
		"each-person", "each-required-crew")
	return r
}
