package casefile

import (
	"strings"
	"time"

	"tiedown/internal/airworthiness"
)

// PaperNow is how one paper of an aircraft stands on a day.
type PaperNow struct {
	Paper    string   // as a check of a walkaround names it: see LooksFor
	Musts    []string // what rows of the book ask for that are about it
	State    PaperState
	Through  string     // its last day; empty: it does not run out, or nobody has read it
	LookedAt *time.Time // when somebody last found on a walkaround that it was otherwise than on record
	Lacks    []string   // what is not known, or not so
	Abroad   bool       // asked for on flights abroad alone
}

// PaperState is how a paper stands.
type PaperState string

// The states. The zero value is none, and read as unknown.
const (
	PaperGood    PaperState = "good"    // aboard, and in date where it runs out
	PaperUnknown PaperState = "unknown" // a fact is missing: it counts as not aboard
	PaperOver    PaperState = "over"    // its last day has gone by, or it is of other equipment than is installed
	PaperMissing PaperState = "missing" // not aboard
)

// PapersOn says how the papers of an aircraft stand on a day (YYYY-MM-DD), in the order of the book.
func (a *Aircraft) PapersOn(on string) []PaperNow {
	p := a.Facts.Papers
	if p == nil {
		p = &Papers{}
	}
	one := func(paper string, aboard *bool, looked *time.Time, musts ...string) PaperNow {
		n := PaperNow{Paper: paper, Musts: musts, State: PaperGood, LookedAt: looked}
		switch {
		case aboard == nil:
			n.lack(PaperUnknown, "whether it is aboard")
		case !*aboard:
			n.lack(PaperMissing, "it is not aboard")
		}
		return n
	}
	certificate := one("airworthiness-certificate", p.Airworthiness.Aboard, p.Airworthiness.LookedAt, "airworthiness-certificate-aboard", "airworthiness-certificate-displayed")
	switch shown := p.Airworthiness.Displayed; {
	case shown == nil:
		certificate.lack(PaperUnknown, "whether it is displayed at the entrance, to be read")
	case !*shown:
		certificate.lack(PaperMissing, "it is not displayed at the entrance, to be read")
	}
	registration := one("registration", p.Registration.Aboard, p.Registration.LookedAt, "registration-aboard", "registration-in-force")
	registration.through(p.Registration.Through, on)
	limitations := one("operating-limitations", p.Limitations.Aboard, p.Limitations.LookedAt, "operating-limitations-aboard")
	weight := one("weight-and-balance", p.WeightBalance.Aboard, p.WeightBalance.LookedAt, "weight-and-balance-aboard", "weight-and-balance-fits")
	var told Faults
	dated, changed := compileDate("", p.WeightBalance.Dated, &told), compileDate("", a.Configuration.EquipmentChanged, &told)
	switch p.WeightBalance.fits(dated, changed, a.Configuration.EquipmentRevision) {
	case airworthiness.No:
		weight.lack(PaperOver, "it is of other equipment than is installed now")
	case airworthiness.Yes:
	case airworthiness.Unknown:
		weight.lack(PaperUnknown, "whether it is of the equipment that is installed now: its day or revision, or when equipment was last changed")
	}
	radio := one("radio-licence", p.RadioLicence.Aboard, p.RadioLicence.LookedAt, "radio-licence-aboard", "radio-licence-in-force")
	radio.through(p.RadioLicence.Through, on)
	radio.Abroad = true
	return []PaperNow{certificate, registration, limitations, weight, radio}
}

// lack takes in what is not known or not so. The worst state stands.
func (n *PaperNow) lack(state PaperState, what string) {
	order := string(PaperGood + PaperUnknown + PaperOver + PaperMissing)
	if strings.Index(order, string(state)) > strings.Index(order, string(n.State)) {
		n.State = state
	}
	n.Lacks = append(n.Lacks, what)
}

// through takes in the last day of a paper that runs out.
func (n *PaperNow) through(last, on string) {
	switch n.Through = last; {
	case last == "":
		n.lack(PaperUnknown, "until when it is good")
	case last < on:
		n.lack(PaperOver, "it has run out")
	}
}
