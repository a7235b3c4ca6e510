package casefile

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/upkeep"
)

// Upkeep is what is on record of an aircraft's meters, and of what its own papers ask for: directives, life limits, the
// schedule of a progressive inspection, and whatever the organization has set itself.
type Upkeep struct {
	ReadAt   *time.Time   `json:"read_at,omitempty"` // when the meters read so, and the facts' hours were so
	Hours    *float64     `json:"hours,omitempty"`   // time in service of the aircraft, all told (14 CFR 1.1)
	Cycles   *int         `json:"cycles,omitempty"`  // of the aircraft, all told
	Complete *bool        `json:"complete,omitempty"`
	Items    []UpkeepItem `json:"items,omitempty"`
}

// UpkeepItem is one thing that the aircraft's own papers ask for: by when it is due first, how often then, and what was
// done. Whichever of several limits comes first counts.
type UpkeepItem struct {
	ID       string       `json:"id"`
	Kind     string       `json:"kind"`
	What     string       `json:"what"`
	Citation string       `json:"citation,omitempty"` // number of the directive, page of the manual
	First    *DueAt       `json:"first,omitempty"`
	Every    *Every       `json:"every,omitempty"` // absent: once is enough
	Ended    bool         `json:"ended,omitempty"` // nothing asks for it again: a terminating action, a part taken out
	Part     *PartReading `json:"part,omitempty"`  // present: hours and cycles of the item are those of a part
	Done     []WorkDone   `json:"done,omitempty"`
	Stops    []string     `json:"stops,omitempty"` // of the organization's own: which flights; absent means all

	PermitBarred *bool `json:"permit_barred,omitempty"` // of a directive: it does not allow a special flight permit (14 CFR 39.23)
}

// DueAt is by when something is due: the last day, and what the meter may read.
type DueAt struct {
	Through string   `json:"through,omitempty"`
	Hours   *float64 `json:"hours,omitempty"`
	Cycles  *int     `json:"cycles,omitempty"`
}

// Every is how often something is due, counted from when it was done.
type Every struct {
	CalendarMonths int     `json:"calendar_months,omitempty"` // to the end of the month
	Months         int     `json:"months,omitempty"`          // to the day
	Days           int     `json:"days,omitempty"`
	Hours          float64 `json:"hours,omitempty"`
	Cycles         int     `json:"cycles,omitempty"`
}

// PartReading is what the meters of a part read: its own time in service and cycles, all told.
type PartReading struct {
	Hours  *float64 `json:"hours,omitempty"`
	Cycles *int     `json:"cycles,omitempty"`
}

// WorkDone is one time that it was done.
type WorkDone struct {
	On             string   `json:"on"`
	Hours          *float64 `json:"hours,omitempty"`           // on the item's meter
	Cycles         *int     `json:"cycles,omitempty"`          // on the item's meter
	OverflownHours *float64 `json:"overflown_hours,omitempty"` // flown beyond the limit on the way (14 CFR 91.409(d))
}

// upkeepStops has the flights that an organization's own item may stop, in words.
var upkeepStops = []struct{ term, flights string }{
	{"for-hire", "flights for hire"},
	{"instruction-provided-aircraft", "flight instruction for hire in an aircraft that the instructor provides"},
	{"ifr", "flights under IFR"},
	{"night", "flights at night"},
	{"over-water", "flights over water, beyond gliding distance from shore"},
}

// OwnRule is the citation of what an organization has set itself, where it names no paper.
const OwnRule = "the organization's own rule"

// UpkeepStops lists the flights that an organization's own item may stop.
func UpkeepStops() []string {
	var terms []string
	for _, s := range upkeepStops {
		terms = append(terms, s.term)
	}
	return terms
}

// CompileUpkeep turns facts and configuration into what bears on upkeep. Faults are those of CompileAircraft.
func CompileUpkeep(a Aircraft, rules *airworthiness.Ruleset, prefix string) (upkeep.Aircraft, error) {
	var bad Faults
	c := upkeep.Aircraft{
		Aircraft: compileFacts(a.Facts, prefix+"facts.", &bad),
		ELT:      installed(a.Configuration, "elt", rules), Transponder: installed(a.Configuration, "transponder", rules),
	}
	c.Progressive = c.OnProgram()
	if u := a.Facts.Upkeep; u != nil {
		c.Now = reading(u.Hours, u.Cycles)
		c.OwnComplete = truth(u.Complete)
		var told Faults // they are among those of the facts
		c.Own = compileOwn(u, "", &told)
	}
	return c, bad.Err()
}

// installed says whether some unit does the job of an item.
func installed(c Configuration, item string, rules *airworthiness.Ruleset) airworthiness.Truth {
	for _, u := range c.Units {
		row, _ := rules.Item(u.Item)
		if u.Item == item || slices.Contains(u.Also, item) || slices.Contains(row.ServesAs, item) {
			return airworthiness.Yes
		}
	}
	if truth(c.UnitsComplete) == airworthiness.Yes {
		return airworthiness.No
	}
	return airworthiness.Unknown
}

func reading(hours *float64, cycles *int) upkeep.Reading {
	r := upkeep.Reading{Hours: fact(hours)}
	if cycles != nil {
		r.Cycles = airworthiness.Given(float64(*cycles))
	}
	return r
}

// checkUpkeep refuses what no record of an aircraft can be.
func checkUpkeep(f Facts, prefix string, bad *Faults) {
	u := f.Upkeep
	if u == nil {
		return
	}
	if (u.Hours != nil || u.Cycles != nil) && u.ReadAt == nil {
		bad.Add(prefix+"read_at", "required", "it is not said when the meters read so", "give the instant of the reading, with its offset")
	}
	checkMeter(prefix, u.Hours, u.Cycles, bad)
	if u.Hours != nil && f.HoursSinceInspection != nil && *f.HoursSinceInspection > *u.Hours {
		bad.Add(prefix+"hours", "at-least-since-inspection", "the aircraft has flown less than since its last inspection",
			"correct hours, or hours_since_inspection")
	}
	compileOwn(u, prefix, bad)
}

func checkMeter(at string, hours *float64, cycles *int, bad *Faults) {
	if hours != nil && *hours < 0 {
		bad.Add(at+"hours", "range", "hours are counted from 0", "give the hours as 0 or more")
	}
	if cycles != nil && *cycles < 0 {
		bad.Add(at+"cycles", "range", "cycles are counted from 0", "give the cycles as 0 or more")
	}
}

// compileOwn turns what the aircraft's own papers ask for into demands.
func compileOwn(u *Upkeep, prefix string, bad *Faults) []upkeep.Demand {
	var demands []upkeep.Demand
	ids := map[string]bool{}
	for i := range u.Items {
		it, at := &u.Items[i], fmt.Sprintf("%sitems[%d].", prefix, i)
		if it.ID == "" || ids[it.ID] {
			bad.Add(at+"id", "unique", fmt.Sprintf("the item %q stands twice or has no name", it.ID), "give each item its own id")
		}
		ids[it.ID] = true
		demands = append(demands, it.compile(u, at, bad))
	}
	return demands
}

func (it *UpkeepItem) compile(u *Upkeep, at string, bad *Faults) upkeep.Demand {
	kind, ok := upkeep.ParseKind(it.Kind)
	if !ok || kind == upkeep.ByRegulation {
		bad.Add(at+"kind", "known-kind", fmt.Sprintf("%q is no kind of item", it.Kind), "use directive, life-limit, program or own")
	}
	if strings.TrimSpace(it.What) == "" {
		bad.Add(at+"what", "required", "it is not said what is due", "name it, such as inspection of the fuel selector")
	}
	if kind == upkeep.ByDirective && strings.TrimSpace(it.Citation) == "" {
		bad.Add(at+"citation", "required", "the directive is not named", "give its number")
	}
	d := upkeep.Demand{
		ID: it.ID, Kind: kind, What: it.What, Citation: it.Citation, Ended: it.Ended,
		First: it.First.compile(at+"first.", bad), Every: it.Every.compile(at+"every.", bad),
		Record: upkeep.Record{Now: reading(u.Hours, u.Cycles)}, Lacks: it.lacks(),
	}
	if it.Part != nil {
		checkMeter(at+"part.", it.Part.Hours, it.Part.Cycles, bad)
		d.Record.Now, d.Record.Meter = reading(it.Part.Hours, it.Part.Cycles), upkeep.OfPart
	}
	if !d.Every.Given() && it.First == nil && !it.Ended && len(it.Done) == 0 {
		bad.Add(at+"first", "due", "it is said neither by when it is due nor how often", "give first, every, or both")
	}
	if it.PermitBarred != nil && kind != upkeep.ByDirective {
		bad.Add(at+"permit_barred", "directive", "only a directive bars a special flight permit", "leave it out")
	}
	for n, w := range it.Done {
		d.Record.Work = append(d.Record.Work, w.compile(&d, fmt.Sprintf("%sdone[%d].", at, n), bad))
	}
	if kind == upkeep.ByOwner {
		d.Words, d.Stops = "The organization has set it itself.", it.ownStops(at, bad)
		if d.Citation == "" {
			d.Citation = OwnRule
		}
	} else if len(it.Stops) > 0 {
		bad.Add(at+"stops", "own", "which flights it stops is the regulation's to say", "leave it out, or make the item the organization's own")
	}
	return d
}

// lacks says what to supply where the record says too little.
func (it *UpkeepItem) lacks() string {
	if it.Part != nil {
		return "when it was last done, and what the part's meters read"
	}
	return "when it was last done, and what the aircraft's meters read"
}

func (w *WorkDone) compile(d *upkeep.Demand, at string, bad *Faults) upkeep.Work {
	if w.On == "" {
		bad.Add(at+"on", "required", "it is not said when it was done", "give the date of its completion")
	}
	checkMeter(at, w.Hours, w.Cycles, bad)
	done := upkeep.Work{On: compileDate(at+"on", w.On, bad), At: reading(w.Hours, w.Cycles), Overflown: fact(w.OverflownHours)}
	reached := func(field string, done, now airworthiness.Fact[float64]) {
		if done.Known && now.Known && done.Value > now.Value {
			bad.Add(at+field, "at-most-meter", "it was done at a reading that the meter has not reached", "correct the reading, or the meter's")
		}
	}
	reached("hours", done.At.Hours, d.Record.Now.Hours)
	reached("cycles", done.At.Cycles, d.Record.Now.Cycles)
	if w.OverflownHours != nil && d.Kind != upkeep.ByProgram {
		bad.Add(at+"overflown_hours", "program", "only an inspection by a program's schedule may be overflown", "leave it out")
	}
	if w.OverflownHours != nil && (*w.OverflownHours < 0 || *w.OverflownHours > d.Every.Hours) {
		bad.Add(at+"overflown_hours", "range", "it was overflown by less than nothing, or by more than the interval",
			"give the hours as 0 or more, up to the hours of the interval")
	}
	return done
}

func (f *DueAt) compile(at string, bad *Faults) upkeep.Due {
	if f == nil {
		return upkeep.Due{}
	}
	if f.Through == "" && f.Hours == nil && f.Cycles == nil {
		bad.Add(strings.TrimSuffix(at, "."), "required", "it has neither a day nor hours nor cycles", "give at least one of through, hours, cycles")
	}
	checkMeter(at, f.Hours, f.Cycles, bad)
	r := reading(f.Hours, f.Cycles)
	return upkeep.Due{Through: compileDate(at+"through", f.Through, bad), Hours: r.Hours, Cycles: r.Cycles}
}

// maxMonths bounds intervals: none is longer than two centuries.
const maxMonths = 2400

func (e *Every) compile(at string, bad *Faults) upkeep.Limit {
	if e == nil {
		return upkeep.Limit{}
	}
	l := upkeep.Limit{CalendarMonths: e.CalendarMonths, Months: e.Months, Days: e.Days, Hours: e.Hours, Cycles: e.Cycles}
	if !l.Given() {
		bad.Add(strings.TrimSuffix(at, "."), "required", "it has no interval", "give at least one of calendar_months, months, days, hours, cycles")
	}
	for _, n := range []struct {
		field string
		is    float64
		most  float64
	}{
		{"calendar_months", float64(e.CalendarMonths), maxMonths},
		{"months", float64(e.Months), maxMonths},
		{"days", float64(e.Days), 31 * maxMonths},
		{"hours", e.Hours, 1e6},
		{"cycles", float64(e.Cycles), 1e6},
	} {
		if n.is < 0 || n.is > n.most {
			bad.Add(at+n.field, "range", "the interval is less than nothing, or beyond all bounds", fmt.Sprintf("give a number up to %.0f", n.most))
		}
	}
	return l
}

// ownStops is which flights the organization has its own item stop.
func (it *UpkeepItem) ownStops(at string, bad *Faults) []upkeep.Stop {
	if len(it.Stops) == 0 {
		return []upkeep.Stop{upkeep.OwnStop(OwnRule, "", "every flight")}
	}
	var stops []upkeep.Stop
	for n, term := range it.Stops {
		i := slices.Index(UpkeepStops(), term)
		if i < 0 {
			bad.Add(fmt.Sprintf("%sstops[%d]", at, n), "known-flights", fmt.Sprintf("%q is no kind of flight", term), "use "+strings.Join(UpkeepStops(), ", "))
			continue
		}
		stops = append(stops, upkeep.OwnStop(OwnRule, term, upkeepStops[i].flights))
	}
	return stops
}
