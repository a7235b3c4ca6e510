package casefile

import (
	"slices"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/upkeep"
)

// Papers is what is on record of the documents that go along with an aircraft. An absent field is an unknown fact: nobody
// has looked. The MEL and its letter stand in the configuration.
type Papers struct {
	Airworthiness Certificate   `json:"airworthiness_certificate,omitzero"`
	Registration  Paper         `json:"registration,omitzero"`
	Limitations   Aboard        `json:"operating_limitations,omitzero"`
	WeightBalance WeightBalance `json:"weight_and_balance,omitzero"`
	RadioLicence  Paper         `json:"radio_licence,omitzero"`
}

// Aboard says whether a paper is in the aircraft.
type Aboard struct {
	Aboard   *bool      `json:"aboard,omitempty"`
	LookedAt *time.Time `json:"looked_at,omitempty"` // when somebody last found on a walkaround that it was otherwise
}

// Certificate is an airworthiness certificate: it does not run out.
type Certificate struct {
	Aboard    *bool      `json:"aboard,omitempty"`
	LookedAt  *time.Time `json:"looked_at,omitempty"`
	Displayed *bool      `json:"displayed,omitempty"`
}

// Paper is one that runs out.
type Paper struct {
	Aboard   *bool      `json:"aboard,omitempty"`
	LookedAt *time.Time `json:"looked_at,omitempty"`
	Through  string     `json:"through,omitempty"` // its last day
}

// WeightBalance is the record of weight and balance: of a day, or for the equipment of a revision.
type WeightBalance struct {
	Aboard      *bool      `json:"aboard,omitempty"`
	LookedAt    *time.Time `json:"looked_at,omitempty"`
	Dated       string     `json:"dated,omitempty"`
	ForRevision string     `json:"for_revision,omitempty"`
}

// compilePapers reads what goes along in the aircraft.
func compilePapers(e *airworthiness.Aircraft, a Aircraft, prefix string, bad *Faults) {
	changed := compileDate(prefix+"configuration.equipment_changed", a.Configuration.EquipmentChanged, bad)
	p := a.Facts.Papers
	if p == nil {
		return
	}
	at := prefix + "facts.papers."
	dated := compileDate(at+"weight_and_balance.dated", p.WeightBalance.Dated, bad)
	e.Papers = airworthiness.Papers{
		Airworthiness: truth(p.Airworthiness.Aboard), Displayed: truth(p.Airworthiness.Displayed),
		Registration: truth(p.Registration.Aboard), Limitations: truth(p.Limitations.Aboard),
		WeightBalance: truth(p.WeightBalance.Aboard), RadioLicence: truth(p.RadioLicence.Aboard),
		WeightBalanceFits:   p.WeightBalance.fits(dated, changed, a.Configuration.EquipmentRevision),
		RegistrationThrough: compileDate(at+"registration.through", p.Registration.Through, bad),
		RadioThrough:        compileDate(at+"radio_licence.through", p.RadioLicence.Through, bad),
	}
}

// fits says whether the record is of the equipment as it is now: it names its revision, or was made no earlier than the
// equipment was last changed.
func (w *WeightBalance) fits(dated, changed airworthiness.Fact[airworthiness.Date], revision string) airworthiness.Truth {
	switch {
	case w.ForRevision != "" && revision != "":
		return airworthiness.TruthOf(w.ForRevision == revision)
	case dated.Known && changed.Known:
		return airworthiness.TruthOf(dated.Value >= changed.Value)
	default:
		return airworthiness.Unknown
	}
}

// Succeed says of a configuration that takes the place of another when its equipment was last changed: on a day, where
// the units are not the same and it does not say so itself. Weight and balance of the earlier equipment serve no longer.
func (c *Configuration) Succeed(before Configuration, day string) {
	fitted := func(units []Unit) []string {
		var all []string
		for _, u := range units {
			all = append(all, u.ID+" "+u.Item)
		}
		slices.Sort(all)
		return all
	}
	if slices.Equal(fitted(c.Units), fitted(before.Units)) {
		return
	}
	if c.EquipmentChanged == before.EquipmentChanged {
		c.EquipmentChanged = day
	}
	if c.EquipmentRevision == before.EquipmentRevision {
		c.EquipmentRevision = ""
	}
}

// judgedUpkeep is what the determination asks of upkeep, as the record stands: planned flights do not count. Faults are
// those of the facts.
func judgedUpkeep(u *Upkeep, rules *airworthiness.Ruleset) airworthiness.Upkeep {
	if u == nil {
		return airworthiness.Upkeep{}
	}
	judged := airworthiness.Upkeep{Complete: truth(u.Complete)}
	var told Faults
	for i, d := range compileOwn(u, "", &told) {
		if d.Kind == upkeep.ByProgram {
			d.Allowance = rules.Overfly()
		}
		item := d.Judged()
		item.Barred, item.Stops = truth(u.Items[i].PermitBarred), u.Items[i].Stops
		judged.Items = append(judged.Items, item)
	}
	return judged
}
