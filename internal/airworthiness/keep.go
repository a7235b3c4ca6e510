package airworthiness

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Upkeep is what the aircraft's own papers ask for at certain times, as the record stands: planned flights are not in it.
type Upkeep struct {
	Complete Truth // a person has confirmed that Items names every directive and life limit that there is
	Items    []UpkeepItem
}

// UpkeepItem is one thing that has to be done by a day, by a number of hours, or by a number of cycles.
type UpkeepItem struct {
	ID       string
	Kind     string // directive, life-limit, program or own
	What     string // in words, without an article
	Citation string // number of the directive, page of the manual, the organization's own rule
	Over     bool   // nothing more comes due

	InDays, InHours, InCycles bool // what limits it: where nothing does, it is not known when it is due

	Done       Fact[Date]    // the last time: it says nothing of the flights before
	Through    Fact[Date]    // the last day on which it serves
	HoursLeft  Fact[float64] // time in service, or of the part's own meter, that is left; less than nothing once it is overdue
	CyclesLeft Fact[float64]

	Barred Truth    // of a directive: it does not allow a special flight permit (39.23)
	Stops  []string // of an own item, the conditions of the flights that it stops; none: all
}

// The kinds of items.
const (
	itemDirective = "directive"
	itemLifeLimit = "life-limit"
	itemProgram   = "program"
	itemOwn       = "own"
)

var itemKinds = []string{itemDirective, itemLifeLimit, itemProgram, itemOwn}

// keptUp is the condition that the items of a kind serve for a flight; its argument is the kind, and for those of a program
// whether by hours or otherwise, as only the hours may be exceeded on the way (91.409(d)).
const keptUp = "kept-up"

// part is one limit of an item: each is judged, and told, by itself.
type part struct {
	item     *UpkeepItem // nil: what is not on record
	by       string      // hours, days or cycles; empty: nothing is known to limit it
	serves   record
	whatElse string // of what is not on record, its kind
}

// OnProgram says whether the aircraft is inspected progressively, which stands in for the annual and the 100-hour inspection
// (91.409(c)(3), (d)). As long as nobody has said so, nor when such an inspection was last complete, it is not: these are
// the general rule. That somebody has said the one and not the other is refused where cases are written.
func (a *Aircraft) OnProgram() Truth {
	if a.Progressive == Unknown && !a.ProgressiveComplete.Known {
		return No
	}
	return a.Progressive
}

// Annual is the day of the inspection that serves as the annual: once a program has been given up, it may be the last complete
// inspection under it (91.409(d)).
func (a *Aircraft) Annual() Fact[Date] {
	if last := a.ProgressiveComplete; a.Progressive == No && last.Known && (!a.AnnualInspected.Known || last.Value > a.AnnualInspected.Value) {
		return last
	}
	return a.AnnualInspected
}

// parts lists the limits of an item.
func (it *UpkeepItem) parts() []part {
	if it.Over {
		return nil
	}
	var parts []part
	if it.InDays {
		parts = append(parts, part{item: it, by: "days", serves: record{known: it.Through.Known, from: it.Done.Value, through: it.Through.Value}})
	}
	if it.InHours {
		parts = append(parts, part{item: it, by: "hours", serves: hoursRecord(it.HoursLeft)})
	}
	if it.InCycles {
		parts = append(parts, part{item: it, by: "cycles", serves: record{known: it.CyclesLeft.Known, cycles: true, left: it.CyclesLeft.Value}})
	}
	if parts == nil {
		parts = []part{{item: it}}
	}
	return parts
}

func hoursRecord(left Fact[float64]) record {
	return record{known: left.Known, hours: true, left: math.Round(left.Value*1e6) / 1e6}
}

// kept lists the limits that a condition on upkeep speaks of.
func (a *Aircraft) kept(arg string) []part {
	kind, by, _ := strings.Cut(arg, "/")
	var parts []part
	for i := range a.Upkeep.Items {
		if a.Upkeep.Items[i].Kind == kind {
			parts = append(parts, a.Upkeep.Items[i].parts()...)
		}
	}
	if by != "" {
		parts = slices.DeleteFunc(parts, func(p part) bool { return (p.by == "hours") != (by == "hours") })
	}
	if a.Upkeep.Complete != Yes && (kind == itemDirective || kind == itemLifeLimit) {
		parts = append(parts, part{whatElse: kind})
	}
	if scheduled := func(it UpkeepItem) bool { return it.Kind == itemProgram }; arg == itemProgram+"/calendar" &&
		a.OnProgram() != No && !slices.ContainsFunc(a.Upkeep.Items, scheduled) {
		parts = append(parts, part{whatElse: kind})
	}
	return parts
}

// keptUpBy reads a kind of items, and for those of a program by what.
func keptUpBy(arg string) (func(*Aircraft) record, error) {
	kind, by, cut := strings.Cut(arg, "/")
	if !slices.Contains(itemKinds, kind) || cut != (kind == itemProgram) || cut && by != "hours" && by != "calendar" {
		return nil, errors.New("want directive, life-limit, program/hours, program/calendar or own after the colon")
	}
	return func(a *Aircraft) record {
		all := record{several: true}
		for _, p := range a.kept(arg) {
			all.each = append(all.each, p.serves)
		}
		return all
	}, nil
}

// programHours reads by how many hours the schedule of a program may be exceeded.
func programHours(arg string) (func(*Aircraft) record, error) {
	more, err := strconv.ParseFloat(arg, 64)
	if err != nil || !(more > 0) {
		return nil, errors.New("want a number of hours above 0")
	}
	return func(a *Aircraft) record {
		least, open := math.MaxFloat64, false
		for _, p := range a.kept(itemProgram + "/hours") {
			if p.serves.known {
				least = min(least, p.serves.left)
			} else {
				open = true
			}
		}
		known := hoursRecord(Given(least + more))
		if !open {
			return known
		}
		// Where one item leaves too little, it does not matter what is not known of another.
		return record{several: true, each: []record{known, hoursRecord(Fact[float64]{})}}
	}, nil
}

// Overfly is by how many hours the schedule of a program may be exceeded on the way to where it can be done: 0 in a book that
// does not say.
func (r *Ruleset) Overfly() float64 {
	most := 0.0
	for i := range r.conditions {
		if arg, ok := strings.CutPrefix(r.conditions[i].key, "program-hours-within:"); ok {
			hours, _ := strconv.ParseFloat(arg, 64)
			most = max(most, hours)
		}
	}
	return most
}

// Overfly is that of the plan's rules.
func (p *Plan) Overfly() float64 { return p.rules.Overfly() }

// addKept keeps a row that asks for upkeep once for each limit that there is.
func (p *Plan) addKept(row *planRow, arg string, a *Aircraft) {
	for _, limit := range a.kept(arg) {
		one := *row
		one.part = &limit
		if limit.item != nil {
			one.barred = limit.item.Barred
		}
		p.addCheck(int32(len(p.rows)), one.must)
		p.rows = append(p.rows, one)
	}
}

// addOwnItems turns what the organization has set itself into rows, one for each kind of flight that it stops.
func (p *Plan) addOwnItems(a *Aircraft) error {
	for i := range a.Upkeep.Items {
		it := &a.Upkeep.Items[i]
		if !slices.Contains(itemKinds, it.Kind) {
			return fmt.Errorf("item %q: %q is no kind of item", it.ID, it.Kind)
		}
		if it.Kind != itemOwn {
			continue
		}
		if p.rules.ownKept < 0 {
			return fmt.Errorf("item %q: these rules know no items of an organization's own", it.ID)
		}
		stops := it.Stops
		if len(stops) == 0 {
			stops = []string{""}
		}
		for _, stop := range stops {
			if err := p.addOwnItem(it, stop); err != nil {
				return err
			}
		}
	}
	return nil
}

func (p *Plan) addOwnItem(it *UpkeepItem, stop string) error {
	row := planRow{need: -1, requirement: requirement{
		Origin: Origin{ID: OwnItem, Citation: it.Citation, Words: "The organization has set it itself.", Status: "record"},
		step:   StepAircraft, must: p.rules.ownKept,
	}}
	if stop != "" {
		condition, ok := p.rules.index[stop]
		if !ok || p.rules.conditions[condition].owner != ofFlight {
			return fmt.Errorf("item %q: these rules know no flights that are %q", it.ID, stop)
		}
		row.open.all.set(condition)
		row.when = row.open
	}
	for _, limit := range it.parts() {
		one := row
		one.part = &limit
		p.addCheck(int32(len(p.rows)), one.must)
		p.rows = append(p.rows, one)
	}
	return nil
}

// OwnItem is the name of the row of an item that the organization has set itself.
const OwnItem = "own:item"

// holds says whether what a row without equipment asks for is so.
func (p *Plan) holds(row *planRow, s *state, f *PreparedFlight) Truth {
	if row.part != nil {
		return row.part.serves.within(f)
	}
	return s.truth(row.must)
}

// bounds says whether a row without equipment is a limit in hours that a flight can keep within.
func (p *Plan) bounds(row *planRow) bool {
	if row.part != nil {
		return row.part.serves.bounds()
	}
	return row.must >= 0 && p.bounded.has(row.must)
}

// hoursOf is such a limit as a term of the flight.
func (p *Plan) hoursOf(row *planRow) Term {
	if row.part == nil {
		return p.hoursTerm(row.must, true)
	}
	left := row.part.serves.left
	return Term{
		Fact: "flight.hours", Comparison: "at-most", Value: strconv.FormatFloat(left, 'f', -1, 64),
		Words: fmt.Sprintf("only within the %.1f hours that are left for %s", left, row.part.item.What),
	}
}

// says is how a limit stands, in words.
func (p *part) says(met Truth) string {
	if p.whatElse == itemProgram {
		return "The schedule of the progressive inspection is not on record."
	}
	if p.item == nil {
		return "Nobody has confirmed that all that there are, are on record."
	}
	it := p.item
	says := strings.ToUpper(it.What[:1]) + it.What[1:]
	if met == Unknown {
		says += ": it is not known whether it serves for the flight"
	} else {
		says += ": it does not serve for the flight"
	}
	switch {
	case p.by == "days" && it.Through.Known:
		says += ", only through " + it.Through.Value.String()
	case p.by == "hours" && it.HoursLeft.Known && it.HoursLeft.Value < 0:
		says += fmt.Sprintf(", overdue by %.1f hours", -it.HoursLeft.Value)
	case p.by == "hours" && it.HoursLeft.Known:
		says += fmt.Sprintf(", %.1f hours are left", it.HoursLeft.Value)
	case p.by == "cycles" && it.CyclesLeft.Known:
		says += fmt.Sprintf(", %.0f cycles are left", it.CyclesLeft.Value)
	}
	return says + "."
}

// asks is the fact that would settle a limit which is not known to serve.
func (p *part) asks() MissingFact {
	switch {
	case p.whatElse == itemProgram:
		return MissingFact{"aircraft.facts.upkeep.items[]", "the schedule of the progressive inspection: what is inspected, and how often"}
	case p.item == nil:
		return MissingFact{"aircraft.facts.upkeep.complete", "whether every directive and life limit is on record"}
	case p.by == "hours" && p.item.HoursLeft.Known:
		return MissingFact{"flight.hours", "how much time in service the flight takes"}
	default:
		return MissingFact{"aircraft.facts.upkeep.items[]", "when " + p.item.What + " was last done, and what the meters read"}
	}
}

// explainPart tells a row on upkeep with its item.
func (p *Plan) explainPart(e *Explanation, f *Finding) {
	limit := p.rows[f.row].part
	if limit.item != nil {
		e.Item = limit.item.ID
		if e.Citation != limit.item.Citation && limit.item.Citation != "" {
			e.Citation += "; " + limit.item.Citation
		}
	}
	met := No
	if f.Outcome == OutcomeUnknown || f.Outcome == OutcomeLimited {
		met = Unknown
	}
	e.Says = limit.says(met)
	if f.Outcome == OutcomeLimited {
		e.Says += " It may go only within the limitation."
	}
}

// asksUpkeep says whether a condition asks for upkeep, and of which items.
func (r *Ruleset) asksUpkeep(condition int) (string, bool) {
	if condition < 0 {
		return "", false
	}
	return strings.CutPrefix(r.conditions[condition].key, keptUp+":")
}

// rowOf is the row of a finding, where a requirement decided.
func (p *Plan) rowOf(f *Finding) *planRow {
	if f.source != fromRow {
		return nil
	}
	return &p.rows[f.row]
}

// onDirective says whether a finding is on a directive that is due.
func (p *Plan) onDirective(f *Finding) bool {
	row := p.rowOf(f)
	return row != nil && row.part != nil && row.part.item != nil && row.part.item.Kind == itemDirective
}
