package pages

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"html/template"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// planView is the form by which a flight is planned or changed.
type planView struct {
	values   url.Values
	Faults   casefile.Faults
	Fleet    []techlog.Aircraft
	Bases    []techlog.Base
	Legs     []planLeg
	Zone     *time.Location // in which the times of the form are
	ZoneOf   string         // the place whose zone it is
	Assumed  []string       // of the visitor's flight, what nobody has said
	Judged   []told         // the answer, one a leg
	Dates    []seriesDate   // of a series
	Digest   string         // of what was judged
	Note     string         // why it is not planned yet
	Once     string
	Changing *techlog.Flight // the flight as it is now; nil: a new one
	Mark     string          // registration of its aircraft
	Version  int             // of the flight that the form was filled in from
	Stale    bool            // somebody has changed it meanwhile
	NowSays  weekFlight      // what it has become
}

// planLeg is one leg of the form, with the times that clocks strike twice.
type planLeg struct {
	N             int
	DepartsTwice  []time.Time
	ArrivesTwice  []time.Time
	FaultsOfPlace bool
}

// Number counts the legs from 1.
func (l planLeg) Number() int { return l.N + 1 }

// Field names a field of the leg.
func (l planLeg) Field(name string) string { return fmt.Sprintf("%s-%d", name, l.N) }

// Value is what a field says.
func (w *planView) Value(field string) string { return w.values.Get(field) }

// Is reports whether a field says a word, among others.
func (w *planView) Is(field, word string) bool { return slices.Contains(w.values[field], word) }

// Fault is what is wrong with a field.
func (w *planView) Fault(field string) *casefile.Fault { return faultOf(w.Faults, field) }

// Others are the faults that have no field on the form.
func (w *planView) Others() casefile.Faults {
	var others casefile.Faults
	for _, f := range w.Faults {
		if !w.has(f.Field) {
			others = append(others, f)
		}
	}
	return others
}

func (w *planView) has(field string) bool {
	if slices.Contains([]string{"aircraft", "rules", "purpose", "every", "interval", "weekdays", "until", "skip"}, field) {
		return true
	}
	for i := range w.Legs {
		for _, name := range []string{"from", "to", "departs", "arrives"} {
			if w.Legs[i].Field(name) == field {
				return true
			}
		}
	}
	return slices.ContainsFunc(askedFacts, func(a asked) bool { return a.Field == field }) ||
		slices.ContainsFunc(askedLists, func(l askedList) bool { return l.Field == field })
}

// Facts are those that the form asks for: those of every flight, or those that few need.
func (w *planView) Facts(rare bool) []asked {
	return slices.DeleteFunc(slices.Clone(askedFacts), func(a asked) bool { return a.rare != rare })
}

// Lists are the facts in words.
func (w *planView) Lists(rare bool) []askedList {
	return slices.DeleteFunc(slices.Clone(askedLists), func(l askedList) bool { return l.rare != rare })
}

// RareSaid reports whether something is said, or wrong, among the facts that few flights need.
func (w *planView) RareSaid() bool {
	said := func(field string) bool { return w.values.Get(field) != "" || w.Fault(field) != nil }
	return slices.ContainsFunc(askedFacts, func(a asked) bool { return a.rare && said(a.Field) }) ||
		slices.ContainsFunc(askedLists, func(l askedList) bool { return l.rare && said(l.Field) })
}

// Permit reports whether a special flight permit is on record with the flight.
func (w *planView) Permit() bool {
	return w.Changing != nil && w.Changing.Facts.SpecialFlightPermit != nil
}

// May reports whether the flight may be made as it was judged: not where nothing has been judged.
func (w *planView) May() bool {
	return len(w.Judged) > 0 && !slices.ContainsFunc(w.Judged, func(t told) bool { return !t.Answer.Permits || len(t.Blocks) > 0 })
}

// digest is of everything that tells one flight from another.
func (w *planView) digest() string {
	sum := sha256.New()
	names := make([]string, 0, len(w.values))
	for name := range w.values {
		if !slices.Contains([]string{"form_token", "once", "step", "judged", "version", "zone"}, name) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		fmt.Fprintf(sum, "%s=%q\x00", name, w.values[name])
	}
	fmt.Fprint(sum, w.Zone)
	return hex.EncodeToString(sum.Sum(nil)[:12])
}

// gather reads what the form chooses from, and works out in which zone its times are.
func (p *pages) gather(v *visit, w *planView) error {
	var err error
	if w.Fleet, err = p.wholeFleet(v); err != nil {
		return err
	}
	slices.SortStableFunc(w.Fleet, func(a, b techlog.Aircraft) int { return strings.Compare(a.Registration, b.Registration) })
	if w.Bases, err = p.bases(v); err != nil {
		return err
	}
	w.findZone()
	return nil
}

// findZone takes the zone of the base that the flight leaves from, or else of the aircraft's base, as the record does.
func (w *planView) findZone() {
	w.Zone, w.ZoneOf = nil, ""
	var base techlog.Base
	if i := w.baseCoded(w.values.Get("from-0")); i >= 0 {
		base = w.Bases[i]
	} else if a := w.aircraft(); a != nil {
		base = baseIn(w.Bases, a.Base)
	}
	if base.Zone != "" {
		w.Zone, w.ZoneOf = zoneOf(base), base.Code
	}
}

func (w *planView) baseCoded(code string) int {
	code = strings.TrimSpace(code)
	return slices.IndexFunc(w.Bases, func(b techlog.Base) bool { return strings.EqualFold(b.Code, code) && code != "" })
}

func (w *planView) aircraft() *techlog.Aircraft {
	id, _ := techlog.ParseID(w.values.Get("aircraft"))
	i := slices.IndexFunc(w.Fleet, func(a techlog.Aircraft) bool { return a.ID == id })
	if i < 0 {
		return nil
	}
	return &w.Fleet[i]
}

// countLegs finds the legs of the form: those up to the last of which something is said, at least one.
func (w *planView) countLegs(more int) {
	n := 1
	for i := range techlog.MaxLegs {
		for _, name := range []string{"from", "to", "departs", "arrives"} {
			if strings.TrimSpace(w.values.Get(fmt.Sprintf("%s-%d", name, i))) != "" {
				n = i + 1
			}
		}
	}
	w.Legs = nil
	for i := range min(n+more, techlog.MaxLegs) {
		w.Legs = append(w.Legs, planLeg{N: i})
	}
}

// coordinates are written "41.21, -95.48 Meadow strip".
var coordinates = regexp.MustCompile(`^\s*(-?\d{1,3}(?:\.\d+)?)\s*[,; ]\s*(-?\d{1,3}(?:\.\d+)?)(?:[,; ]+(.*))?$`)

// maxPlaceName bounds the name of a place, in bytes, and maxPurpose what a flight is for, as the contract does.
const (
	maxPlaceName = 200
	maxPurpose   = 500
)

// place reads a place: the code of a base, coordinates with a name, or the identifier of an airport.
func (w *planView) place(field string) hangar.PlacePlan {
	said := strings.TrimSpace(w.values.Get(field))
	if i := w.baseCoded(said); i >= 0 {
		return hangar.PlacePlan{Base: &w.Bases[i].ID}
	}
	if m := coordinates.FindStringSubmatch(said); m != nil {
		lat, _ := strconv.ParseFloat(m[1], 64) // it is digits
		lon, _ := strconv.ParseFloat(m[2], 64)
		name := strings.TrimSpace(m[3])
		if name == "" {
			name = m[1] + ", " + m[2]
		}
		return hangar.PlacePlan{Lat: &lat, Lon: &lon, Name: name}
	}
	if said == "" {
		w.Faults.Add(field, "required", "the place is missing", "write the code of a base, an airport's identifier, or coordinates and a name")
	}
	if len(said) > maxPlaceName {
		w.Faults.Add(field, "length", "it is longer than 200 bytes", "write an identifier, or coordinates and a short name")
	}
	said = strings.ToUpper(said)
	return hangar.PlacePlan{Airport: &said}
}

// plan reads the form. What is wrong stands in Faults.
func (w *planView) plan(now time.Time) hangar.FlightPlan {
	var p hangar.FlightPlan
	if w.Changing != nil {
		p.Facts = w.Changing.Facts
	}
	readFacts(w.values, &p.Facts, &w.Faults)
	p.Rules, p.Purpose = w.values.Get("rules"), strings.TrimSpace(w.values.Get("purpose"))
	if p.Rules != "vfr" && p.Rules != "ifr" {
		w.Faults.Add("rules", "required", "nobody has said under which rules", "choose VFR or IFR")
	}
	if len(p.Purpose) > maxPurpose {
		w.Faults.Add("purpose", "length", "it is longer than 500 bytes", "say it shorter")
	}
	a := w.aircraft()
	if a == nil {
		w.Faults.Add("aircraft", "required", "no aircraft is chosen", "choose one of the list")
	} else {
		p.Aircraft = a.ID
	}
	zone := cmp.Or(w.Zone, time.UTC)
	for i := range w.Legs {
		l := &w.Legs[i]
		leg := hangar.LegPlan{From: w.place(l.Field("from")), To: w.place(l.Field("to"))}
		leg.Departs, l.DepartsTwice = w.time(l.Field("departs"), zone)
		leg.Arrives, l.ArrivesTwice = w.time(l.Field("arrives"), zone)
		if !leg.Departs.IsZero() && !leg.Arrives.IsZero() && !leg.Arrives.After(leg.Departs) {
			w.Faults.Add(l.Field("arrives"), "after-departs", "the leg ends before it starts", "give an arrival after the departure")
		}
		p.Legs = append(p.Legs, leg)
	}
	if last := p.Legs[len(p.Legs)-1].Arrives; !last.IsZero() && !last.After(now) && w.Fault(w.Legs[len(w.Legs)-1].Field("arrives")) == nil {
		w.Faults.Add(w.Legs[len(w.Legs)-1].Field("arrives"), "future", "the flight has already ended", "plan flights that are still to come")
	}
	return p
}

func (w *planView) time(field string, zone *time.Location) (time.Time, []time.Time) {
	at, twice := readWall(field, strings.TrimSpace(w.values.Get(field)), w.values.Get(field+"-which"), zone, &w.Faults)
	return at.UTC(), twice
}

// planFaults gives the faults of a use case the names of the form's fields.
func planFaults(err error) casefile.Faults {
	faults := faultsOf(err)
	renamed := map[string]string{
		"controlled_airspace": "controlled", "over_30_minutes_above_12500": "over_30_minutes", "newly_acquired_to_installation": "newly_acquired",
		"atc_authorized": "atc", "legs": "from-0",
	}
	for i := range faults {
		name := strings.TrimPrefix(strings.TrimPrefix(faults[i].Field, "flight."), "repeat.")
		if rest, ok := strings.CutPrefix(name, "legs["); ok {
			n, field, _ := strings.Cut(rest, "].")
			field, _, _ = strings.Cut(field, ".")
			name = field + "-" + n
		}
		name, _, _ = strings.Cut(name, "[")
		faults[i].Field = cmp.Or(renamed[name], name)
	}
	return faults
}

// write fills the form in from a flight.
func (w *planView) write(f *techlog.Flight) {
	zone := zoneNamed(f.Zone)
	w.values = url.Values{"aircraft": {f.Aircraft.String()}, "rules": {f.Rules}, "purpose": {f.Purpose}}
	for i := range f.Legs {
		l := &f.Legs[i]
		for name, said := range map[string]string{"from": writtenPlace(l.From), "to": writtenPlace(l.To)} {
			w.values.Set(fmt.Sprintf("%s-%d", name, i), said)
		}
		for name, at := range map[string]time.Time{"departs": l.Departs.In(zone), "arrives": l.Arrives.In(zone)} {
			field := fmt.Sprintf("%s-%d", name, i)
			w.values.Set(field, at.Format(atForm))
			_, offset := at.Zone()
			if all := onTheWall(at.Add(time.Duration(offset)*time.Second).UTC(), zone); len(all) == 2 {
				w.values.Set(field+"-which", map[bool]string{true: "first", false: "second"}[all[0].Equal(at.Truncate(time.Minute))])
			}
		}
	}
	writeFacts(f.Facts, w.values)
}

// writtenPlace writes a place as the form reads it.
func writtenPlace(s techlog.Spot) string {
	if s.Ident != "" {
		return s.Ident
	}
	return plain(s.Lat) + ", " + plain(s.Lon) + " " + s.Name
}

// planLink leads to the form for a flight as a visitor has described it.
func planLink(aircraft techlog.ID, m *mine) template.URL {
	q := url.Values{"aircraft": {aircraft.String()}}
	for name, said := range m.Said {
		q[name] = said
	}
	return template.URL("/flights/new?" + q.Encode()) //nolint:gosec // it is encoded
}
