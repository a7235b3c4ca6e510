package airworthiness

import (
	"fmt"
	"slices"
	"strings"
)

// Explanation is one finding in words. Every explanation carries a citation and the row's own words.
type Explanation struct {
	Step       Step
	Outcome    Outcome
	Verdict    Verdict
	Row        string // identifier of the row, or of the step
	Citation   string
	Words      string // the row's own words
	Status     string // how well the row has been read: verified, infer, memory, record
	Says       string // what it means here
	Item       string // identifier of the item of the aircraft's own papers, of a row on upkeep
	Limitation string // what a limited verdict binds the flight to
	Relief     string // identifier of the relief, which names the requirement it relieves
	ReliefCite string
	Missing    []MissingFact
}

// MissingFact is a fact that would settle an unknown finding.
type MissingFact struct {
	Fact string // where to supply it
	Asks string // what is asked
}

// Explain turns a finding of a determination made with this plan into words.
func (p *Plan) Explain(f *Finding) Explanation {
	e := Explanation{Step: f.Step, Outcome: f.Outcome, Verdict: f.Verdict}
	switch f.source {
	case fromDate:
		e.Row, e.Citation, e.Words, e.Status = "date", p.rules.steps[f.Step].Citation, p.rules.steps[f.Step].Words, "verified"
		e.Says = "The flight gives no date and end, so no row and no deferral can be compared with it."
		e.Missing = []MissingFact{{"flight.departs", "when the flight leaves"}, {"flight.arrives", "when it ends"}}
		return e
	case fromStep:
		p.explainStep(&e, f)
	case fromSubject:
		p.explainStep(&e, f)
		e.Says, e.Missing = "The squawk names no installed unit, so this cannot be counted.", []MissingFact{stepAsks[StepNature][0]}
	case fromEligibility:
		if f.row >= 0 {
			e.setOrigin(&p.rules.eligibility[f.row].Origin)
		} else {
			p.explainStep(&e, f)
		}
		e.Says = p.rules.practice[StepPath].Passed
	case fromProcedure:
		e.setOrigin(&p.rules.procedure[f.row].Origin)
		e.Says = map[Outcome]string{OutcomeUndone: "Not done yet.", OutcomeUnknown: "Not known to be done."}[f.Outcome]
		if f.Need >= 0 {
			e.Says = fmt.Sprintf("It considers %d of the %d other open squawks that are, or may be, about equipment.", f.Have, f.Need)
		}
	case fromInteraction:
		p.explainInteraction(&e, f)
	case fromRow:
		p.explainRow(&e, f)
	case fromMEL:
		p.explainMEL(&e, f)
	case fromUnlisted:
		p.explainUnlisted(&e, f)
	case fromInterval:
		p.explainInterval(&e, f)
	case fromFound:
		p.explainFound(&e, f)
	case fromPermit:
		e.setOrigin(&p.rules.permits[f.row].Origin)
		e.Says = "The special flight permit does not serve here."
	}
	if f.source != fromMEL && f.permit == 0 {
		p.explainOpen(&e, f)
	}
	p.explainPermit(&e, f)
	return e
}

func (e *Explanation) setOrigin(o *Origin) {
	e.Row, e.Citation, e.Words, e.Status = o.ID, o.Citation, o.Words, o.Status
}

func (p *Plan) explainStep(e *Explanation, f *Finding) {
	row := p.rules.steps[f.Step]
	e.Row, e.Citation, e.Words, e.Status = row.Step, row.Citation, row.Words, "verified"
	e.Says = p.rules.practice[f.Step].saying(f.Outcome)
	if p.bound == Yes && f.Outcome == OutcomePassed && melSays[f.Step] != "" {
		e.Says = melSays[f.Step]
	}
	if f.Outcome == OutcomeUnknown && f.open.empty() && f.permit == 0 {
		e.Missing = append(append(e.Missing, stepAsks[f.Step]...), p.unlisted[f.Step]...)
	}
}

// melSays has the words for a step that passed under an MEL, where they are others than those without one.
var melSays = map[Step]string{
	StepPath:        "The aircraft's MEL governs.",
	StepDisposition: "Placarded and recorded, with the maintenance procedure done where the MEL asks for one.",
}

// stepAsks has the facts that would settle a step that came out unknown without naming a row or a list of the aircraft's.
var stepAsks = map[Step][]MissingFact{
	StepNature: {{"defects[].unit", "which installed unit it is"}, {"defects[].kind", "whether it is inoperative or a condition"}},
	StepPath:   {{"aircraft.configuration.mel.on_record", "whether the aircraft's approved MEL has been entered: it governs"}},
}

func (p *Plan) explainRow(e *Explanation, f *Finding) {
	row := &p.rows[f.row]
	e.setOrigin(&row.Origin)
	if len(row.items) > 0 && e.Status == "record" {
		e.Words = strings.TrimSpace(fmt.Sprintf("Required: %s, %d. %s", p.itemNames(row), row.count, row.Words))
	}
	switch f.Outcome {
	case OutcomeNoted:
		e.Says = "Bear in mind."
		return
	case OutcomeBreached:
		e.Says = p.shortBy(row, f)
	case OutcomeUnknown:
		e.Says = "A fact is missing. " + p.shortBy(row, f)
	case OutcomeRelieved:
		e.Says = p.shortBy(row, f)
		if f.permit == 0 {
			e.Says += " A relief lifts it."
		}
	case OutcomeLimited:
		e.Says = p.shortBy(row, f) + " It may go only within the limitation."
	case OutcomePassed, OutcomeUndone:
	}
	if row.part != nil {
		p.explainPart(e, f)
	}
	if f.relief >= 0 && f.permit == 0 {
		relief := &p.rules.reliefs[f.relief]
		e.Relief, e.ReliefCite, e.Limitation = relief.ID, relief.Citation, relief.limitation
		if keep := p.limitation(row, f); f.Outcome == OutcomeLimited && keep != "" && !f.open.empty() {
			e.Limitation = keep + ", or " + relief.limitation // to keep out of the row is as good as to take the relief
		}
	} else if f.Outcome == OutcomeLimited {
		e.Limitation = p.limitation(row, f)
	}
	if f.Outcome == OutcomeUnknown && f.permit == 0 && (f.open.empty() || len(row.items) > 0 && f.Need < 0) {
		e.Missing = append(e.Missing, p.uncounted(row, f)...)
	}
}

func (p *Plan) shortBy(row *planRow, f *Finding) string {
	if len(row.items) == 0 {
		return "It must hold that: " + p.rules.conditions[row.must].says() + "."
	}
	name := p.itemNames(row)
	if f.Need < 0 {
		return fmt.Sprintf("%s: %d on record works; how many are needed is not known.", name, f.Have)
	}
	return fmt.Sprintf("%s: %d needed, %d of %d on record works.", name, f.Need, f.Have, len(row.providers))
}

// itemNames names what a row asks for.
func (p *Plan) itemNames(row *planRow) string {
	names := make([]string, len(row.items))
	for i, item := range row.items {
		names[i] = p.rules.items[item].Name
	}
	return strings.Join(names, " or ")
}

// uncounted names the facts that the count of a row lacks.
func (p *Plan) uncounted(row *planRow, f *Finding) []MissingFact {
	counts := map[quantity]MissingFact{
		eachEngine:       {"aircraft.facts.engines", "the number of engines"},
		eachTank:         {"aircraft.facts.tanks", "the number of fuel tanks"},
		eachSeat:         {"aircraft.facts.seats", "the number of seats"},
		eachFrontSeat:    {"aircraft.facts.front_seats", "the number of front seats"},
		eachOccupant:     {"flight.occupants", "how many persons aged two or more are aboard"},
		eachPerson:       {"flight.persons", "how many persons are aboard"},
		eachRequiredCrew: {"flight.required_crew", "how many crewmembers are required"},
	}
	if fact, ok := counts[row.quantity]; ok && f.Need < 0 {
		return []MissingFact{fact}
	}
	var missing []MissingFact
	if p.complete != Yes {
		missing = append(missing, MissingFact{"aircraft.configuration.units_complete", "whether the list of installed units is complete"})
	}
	if row.places != 0 {
		missing = append(missing, MissingFact{"aircraft.configuration.units[].serves", "which engine, tank or seat each " + p.itemNames(row) + " serves"})
	}
	return missing
}

// limitation is what keeps a flight out of a row.
func (p *Plan) limitation(row *planRow, f *Finding) string {
	if f.open.empty() {
		return fmt.Sprintf("not more than %d aboard", f.Have)
	}
	var ways []string
	f.open.each(func(i int) {
		c := &p.rules.conditions[i]
		if i == row.must && p.bounds(row) {
			ways = append(ways, p.hoursOf(row).Words)
			return
		}
		switch {
		case c.owner != ofFlight:
		case row.open.all.has(i):
			ways = append(ways, c.fill(c.words.NotHolding))
		case row.open.none.has(i):
			ways = append(ways, c.fill(c.words.Holding))
		}
	})
	slices.Sort(ways)
	return strings.Join(slices.Compact(ways), ", or ")
}

func (p *Plan) explainOpen(e *Explanation, f *Finding) {
	if f.Outcome != OutcomeUnknown {
		return
	}
	f.open.each(func(i int) {
		c := &p.rules.conditions[i]
		fact := MissingFact{Fact: c.fill(c.words.Fact), Asks: "whether " + c.says()}
		if row := p.rowOf(f); row != nil && row.part != nil && i == row.must {
			fact = row.part.asks()
		} else if p.bounded.has(i) {
			fact.Fact = "flight.hours" // the aircraft's hours are known: the flight's decide
		}
		if !slices.Contains(e.Missing, fact) {
			e.Missing = append(e.Missing, fact)
		}
	})
}

// says is the condition as a statement.
func (c *condition) says() string { return c.fill(c.words.Holds) }

// fill puts the condition's argument into a sentence.
func (c *condition) fill(s string) string {
	_, arg, _ := strings.Cut(c.key, ":")
	item, days, _ := strings.Cut(arg, "/")
	return strings.NewReplacer("{}", nameOf(item), "{days}", days, "{key}", item).Replace(s)
}

// RowID names the row of a finding, or its step where no row decided.
func (p *Plan) RowID(f *Finding) string {
	switch {
	case f.source == fromDate:
		return "date"
	case f.source == fromEligibility && f.row >= 0:
		return p.rules.eligibility[f.row].ID
	case f.source == fromRow:
		return p.rows[f.row].ID
	case f.source == fromProcedure:
		return p.rules.procedure[f.row].ID
	case f.source == fromInteraction:
		return p.rules.interactions[f.row].ID
	case f.source == fromMEL:
		return ownMEL
	case f.source == fromInterval && p.mel.rows[f.row].interval >= 0:
		return p.rules.intervals[p.mel.rows[f.row].interval].ID
	case f.source == fromPermit:
		return p.rules.permits[f.row].ID
	default:
		return stepNames[f.Step]
	}
}
