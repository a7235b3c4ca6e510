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
		e.Says = "The no-MEL path is open to this aircraft."
	case fromProcedure:
		e.setOrigin(&p.rules.procedure[f.row].Origin)
		e.Says = map[Outcome]string{OutcomeUndone: "Not done yet.", OutcomeUnknown: "Not known to be done."}[f.Outcome]
	case fromRow:
		p.explainRow(&e, f)
	}
	p.explainOpen(&e, f)
	return e
}

func (e *Explanation) setOrigin(o *Origin) {
	e.Row, e.Citation, e.Words, e.Status = o.ID, o.Citation, o.Words, o.Status
}

func (p *Plan) explainStep(e *Explanation, f *Finding) {
	row := p.rules.steps[f.Step]
	e.Row, e.Citation, e.Words, e.Status = row.Step, row.Citation, row.Words, "verified"
	e.Says = stepSays[f.Step][f.Outcome]
	if f.Outcome == OutcomeUnknown && f.open.empty() {
		e.Missing = append(append(e.Missing, stepAsks[f.Step]...), p.unlisted[f.Step]...)
	}
}

// stepSays has the words for a step that came out without naming a row.
var stepSays = map[Step]map[Outcome]string{
	StepAircraft: {OutcomePassed: "Nothing required of the aircraft itself is missing."},
	StepNature: {
		OutcomePassed:   "An instrument or item of equipment.",
		OutcomeBreached: "A condition of the aircraft, not an instrument or item of equipment: it cannot be deferred. It must be repaired, or inspected and found within limits, by a person authorized to do so.",
		OutcomeUnknown:  "It is not known what item this is about.",
	},
	StepPath: {
		OutcomeBreached: "The no-MEL path is closed to this aircraft: an approved MEL, a repair or a special flight permit is needed.",
		OutcomeUnknown:  "It is not known whether the no-MEL path is open, or the aircraft's MEL governs and its entry is not on record here.",
	},
	StepTypeCertification: {
		OutcomePassed:  "No longer needed to meet the aircraft's confirmed VFR-day type-certification list, or not on it.",
		OutcomeUnknown: "No rated person has confirmed this aircraft's VFR-day type-certification list.",
	},
	StepEquipmentList: {
		OutcomePassed:  "Neither the equipment list nor the kinds-of-operation list requires it for this flight, or what still works is enough.",
		OutcomeUnknown: "The equipment list or the kinds-of-operation equipment list is not on record.",
	},
	StepRegulation: {
		OutcomePassed: "No operating rule requires it for this flight, or what still works is enough.",
	},
	StepDirective: {
		OutcomePassed:  "No airworthiness directive on record requires it to be operational.",
		OutcomeUnknown: "Nobody has recorded which airworthiness directives require equipment to be operational.",
	},
	StepDisposition: {OutcomePassed: "Removed or deactivated, placarded and recorded."},
	StepHazard:      {OutcomePassed: "A rated person has determined that it is no hazard."},
	StepLapse:       {OutcomePassed: "The deferral lasts beyond the end of this flight, or there is none yet."},
	StepPilot:       {OutcomeNoted: "The pilot in command decides last. This is an aid, not an approval."},
}

// stepAsks has the facts that would settle a step that came out unknown without naming a row or a list of the aircraft's.
var stepAsks = map[Step][]MissingFact{
	StepNature: {{"defects[].unit", "which installed unit it is"}, {"defects[].kind", "whether it is inoperative or a condition"}},
	StepPath:   {{"aircraft.facts.mel_authorized", "what the aircraft's approved MEL says of the item: it governs, and it is not kept here"}},
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
		e.Says = p.shortBy(row, f) + " A relief lifts it."
	case OutcomeLimited:
		e.Says = p.shortBy(row, f) + " It may go only within the limitation."
	case OutcomePassed, OutcomeUndone:
	}
	if f.relief >= 0 {
		relief := &p.rules.reliefs[f.relief]
		e.Relief, e.ReliefCite, e.Limitation = relief.ID, relief.Citation, relief.limitation
	} else if f.Outcome == OutcomeLimited {
		e.Limitation = p.limitation(row, f)
	}
	if f.Outcome == OutcomeUnknown && (f.open.empty() || len(row.items) > 0 && f.Need < 0) {
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
		if c.owner != ofFlight {
			return
		}
		if row.open.all.has(i) {
			ways = append(ways, c.fill(c.words.NotHolding))
		} else {
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
	return strings.NewReplacer("{}", strings.ReplaceAll(item, "-", " "), "{days}", days, "{key}", item).Replace(s)
}

// Rule is one compiled row of regulation, for people who browse the book.
type Rule struct {
	Table string
	Origin
}

// Rules lists every row of regulation with its citation, table by table.
func (r *Ruleset) Rules() []Rule {
	var rules []Rule
	for i := range r.eligibility {
		rules = append(rules, Rule{"eligibility", r.eligibility[i].Origin})
	}
	for i := range r.requirements {
		table := "requirements"
		if r.requirements[i].prefill {
			table = "type_certification"
		}
		rules = append(rules, Rule{table, r.requirements[i].Origin})
	}
	for i := range r.reliefs {
		rules = append(rules, Rule{"reliefs", r.reliefs[i].Origin})
	}
	for i := range r.procedure {
		rules = append(rules, Rule{"procedure", r.procedure[i].Origin})
	}
	return append(rules, r.peopleRules()...)
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
	default:
		return stepNames[f.Step]
	}
}
