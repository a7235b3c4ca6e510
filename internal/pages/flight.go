package pages

import (
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// mine is the visitor's own flight, as the address says it. What it does not say is assumed, as for an ordinary local flight,
// and stands on the page beside the answer as an assumption, so that nobody takes it for what was said.
type mine struct {
	Rules      string
	At         string // local time at the base of departure, 2006-01-02T15:04; empty: now
	Hours      string
	Aboard     string
	To         string // code of a base; empty: back to where it begins
	Hire       string // yes, no, or unknown
	Water      string
	Altitude   string
	Airspace   string // none, unknown, or one of the list
	Controlled string // yes, no, or unknown
	Nav        string // vor, gnss, both, or unknown
	Bases      []techlog.Base
	Said       url.Values // what the address says, to be carried along
	Faults     casefile.Faults
}

// fields of the visitor's flight in an address, each with what is assumed when nothing is said. That it enters controlled
// airspace is the stricter of the two.
var ordinary = []struct{ name, usual string }{
	{"rules", "vfr"},
	{"at", ""},
	{"hours", "2"},
	{"aboard", "1"},
	{"to", ""},
	{"hire", "no"},
	{"water", "no"},
	{"altitude", "3500"},
	{"airspace", "none"},
	{"controlled", "yes"},
	{"nav", "unknown"},
}

// sayNothing are the fields that say something when they are empty.
var sayNothing = []string{"at", "to"}

// choices of the fields that have some, in the order in which they are shown.
var choices = map[string][]struct{ Value, Words string }{
	"yes-no": {{"no", "No"}, {"yes", "Yes"}, {"unknown", "Not known"}},
	"nav":    {{"unknown", "Not known"}, {"gnss", "GNSS"}, {"vor", "VOR"}, {"both", "GNSS and VOR"}, {"neither", "Neither"}},
	"airspace": {
		{"none", "None of these"},
		{"unknown", "Not looked up"},
		{"class-a", "Class A"},
		{"class-b", "Class B"},
		{"class-c", "Class C"},
		{"class-d", "Class D"},
		{"above-class-b-or-c", "Above Class B or C"},
		{"mode-c-veil", "Within 30 NM of a Class B airport"},
	},
}

// readMine reads the visitor's flight out of an address.
func readMine(q url.Values, bases []techlog.Base) *mine {
	m := &mine{Said: url.Values{}, Bases: bases}
	into := map[string]*string{
		"rules": &m.Rules, "at": &m.At, "hours": &m.Hours, "aboard": &m.Aboard, "to": &m.To, "hire": &m.Hire, "water": &m.Water,
		"altitude": &m.Altitude, "airspace": &m.Airspace, "controlled": &m.Controlled, "nav": &m.Nav,
	}
	for _, f := range ordinary {
		said := strings.TrimSpace(q.Get(f.name))
		if (said != "" || q.Has(f.name) && slices.Contains(sayNothing, f.name)) && len(said) < 64 {
			m.Said.Set(f.name, said)
		}
		if said == "" {
			said = f.usual
		}
		*into[f.name] = said
	}
	m.check()
	return m
}

// check names what cannot be read, each by its field.
func (m *mine) check() {
	oneOf := func(field, said string, of ...string) {
		if !slices.Contains(of, said) {
			m.Faults.Add(field, "choice", "it is none of the choices", "choose one of them")
		}
	}
	oneOf("rules", m.Rules, "vfr", "ifr")
	oneOf("hire", m.Hire, "no", "yes", "unknown")
	oneOf("water", m.Water, "no", "yes", "unknown")
	oneOf("controlled", m.Controlled, "no", "yes", "unknown")
	for field, said := range map[string]string{"nav": m.Nav, "airspace": m.Airspace} {
		if !slices.ContainsFunc(choices[field], func(c struct{ Value, Words string }) bool { return c.Value == said }) {
			oneOf(field, said)
		}
	}
	number := func(field, said string, from, to float64, remedy string) {
		if n, err := strconv.ParseFloat(said, 64); err != nil || !(n >= from && n <= to) {
			m.Faults.Add(field, "range", fmt.Sprintf("%q is no such number", said), remedy)
		}
	}
	number("hours", m.Hours, 0.1, 24, "give hours between 0.1 and 24, such as 1.5")
	number("altitude", m.Altitude, -1500, 60000, "give feet above sea level between -1,500 and 60,000")
	if n, err := strconv.Atoi(m.Aboard); err != nil || n < 1 || n > 1000 {
		m.Faults.Add("aboard", "range", fmt.Sprintf("%q is no number of people", m.Aboard), "give a whole number, from 1")
	}
	if _, err := time.Parse(atForm, m.At); m.At != "" && err != nil {
		m.Faults.Add("at", "form", fmt.Sprintf("%q is no date and time", m.At), "write it as 2026-11-29T14:30")
	}
	if m.To != "" && !slices.ContainsFunc(m.Bases, func(b techlog.Base) bool { return b.Code == m.To }) {
		m.Faults.Add("to", "known-base", "there is no such base", "choose one of the list")
	}
}

// checkClock refuses a departure that the clocks of a base skip, or show twice.
func (m *mine) checkClock(bases ...techlog.Base) {
	for _, b := range bases {
		if m.At == "" || m.Fault("at") != nil {
			return
		}
		if _, twice := readWall("at", m.At, "", zoneOf(b), &m.Faults); twice != nil {
			m.Faults[len(m.Faults)-1].Remedy = "give a time before or after that hour, or plan the flight, where it can be said which is meant"
		}
	}
}

// Fault is what is wrong with a field.
func (m *mine) Fault(field string) *casefile.Fault { return faultOf(m.Faults, field) }

// Choices are those of a field.
func (m *mine) Choices(field string) []struct{ Value, Words string } { return choices[field] }

func faultOf(faults casefile.Faults, field string) *casefile.Fault {
	for i := range faults {
		if faults[i].Field == field {
			return &faults[i]
		}
	}
	return nil
}

// plan is the flight with an aircraft, from the aircraft's base. Nothing is asked of a flight with faults.
func (m *mine) plan(aircraft techlog.Aircraft, now time.Time) hangar.FlightPlan {
	base := m.base(aircraft.Base)
	zone := zoneOf(base)
	departs := now.In(zone).Truncate(time.Minute)
	if m.At != "" {
		departs, _ = time.ParseInLocation(atForm, m.At, zone) // it has been checked
	}
	arrives := departs.Add(m.length())
	to := base.ID
	if m.To != "" {
		to = m.Bases[slices.IndexFunc(m.Bases, func(b techlog.Base) bool { return b.Code == m.To })].ID
	}
	return hangar.FlightPlan{
		Aircraft: aircraft.ID, From: base.ID, To: to, Departs: departs.UTC(), Arrives: arrives.UTC(), Rules: m.Rules, Facts: m.facts(),
	}
}

// length is how long the flight is. What cannot be read as hours has been named.
func (m *mine) length() time.Duration {
	hours, _ := strconv.ParseFloat(m.Hours, 64)
	return time.Duration(hours * float64(time.Hour)).Round(time.Minute)
}

func (m *mine) base(id techlog.ID) techlog.Base { return baseIn(m.Bases, id) }

// facts are those of the flight.
func (m *mine) facts() casefile.FlightFacts {
	aboard, _ := strconv.Atoi(m.Aboard)
	altitude, _ := strconv.ParseFloat(m.Altitude, 64)
	crew := 1
	f := casefile.FlightFacts{
		ForHire: answered(m.Hire), OverWater: answered(m.Water), Controlled: answered(m.Controlled), Occupants: &aboard, Persons: &aboard, RequiredCrew: &crew,
		AltitudeFt: &altitude,
	}
	switch m.Airspace {
	case "unknown":
	case "none":
		f.Airspace = &[]string{}
	default:
		f.Airspace = &[]string{m.Airspace}
	}
	switch m.Nav {
	case "gnss", "vor":
		f.Navigation = &[]string{m.Nav}
	case "both":
		f.Navigation = &[]string{"gnss", "vor"}
	case "neither":
		f.Navigation = &[]string{}
	}
	return f
}

func answered(said string) *bool {
	switch said {
	case "yes", "no":
		is := said == "yes"
		return &is
	default:
		return nil
	}
}

// mineFact is one fact of the visitor's flight in words.
type mineFact struct {
	Words   string
	Assumed bool // nobody has said so
}

// Facts says the flight in words, each fact that bears on the answer.
func (m *mine) Facts() []mineFact {
	var all []mineFact
	add := func(field, words string) { all = append(all, mineFact{words, !m.Said.Has(field)}) }
	leaves := "leaving now"
	if at, err := time.Parse(atForm, m.At); err == nil {
		leaves = at.Format("Mon 2 Jan, 15:04") + " at the base"
	}
	add("rules", strings.ToUpper(m.Rules))
	add("at", leaves)
	add("hours", m.Hours+" h")
	add("aboard", m.Aboard+" aboard")
	if m.To != "" {
		add("to", "to "+m.To)
	} else {
		add("to", "back to its base")
	}
	add("hire", map[string]string{"no": "not for hire", "yes": "for hire", "unknown": "for hire or not is not known"}[m.Hire])
	add("water", map[string]string{"no": "not over water", "yes": "over water", "unknown": "over water or not is not known"}[m.Water])
	add("altitude", "up to "+thousands(m.Altitude)+" ft")
	add("controlled", map[string]string{
		"no": "no controlled airspace", "yes": "in controlled airspace", "unknown": "in controlled airspace or not is not known",
	}[m.Controlled])
	for _, c := range choices["airspace"] {
		if c.Value == m.Airspace {
			add("airspace", map[bool]string{true: "no special airspace", false: c.Words}[c.Value == "none"])
		}
	}
	if m.Rules == "ifr" {
		for _, c := range choices["nav"] {
			if c.Value == m.Nav {
				add("nav", "navigation: "+c.Words)
			}
		}
	}
	return all
}

// Assumed is what nobody has said of the flight, in words.
func (m *mine) Assumed() []string {
	var all []string
	for _, f := range m.Facts() {
		if f.Assumed {
			all = append(all, f.Words)
		}
	}
	return all
}

// Confirmed is the address by which a visitor says all of it.
func (m *mine) Confirmed() template.URL {
	q := url.Values{}
	for _, f := range ordinary {
		q.Set(f.name, f.usual)
		if m.Said.Has(f.name) {
			q.Set(f.name, m.Said.Get(f.name))
		}
	}
	return template.URL("?" + q.Encode()) //nolint:gosec // it is encoded
}

// thousands parts the thousands of a whole number.
func thousands(n string) string {
	if len(n) > 3 && !strings.ContainsAny(n, ".-") {
		return n[:len(n)-3] + "," + n[len(n)-3:]
	}
	return n
}

func query(pairs ...string) string {
	q := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		q.Set(pairs[i], pairs[i+1])
	}
	return q.Encode()
}
