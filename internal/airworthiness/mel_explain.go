package airworthiness

import (
	"fmt"
	"slices"
	"strings"
)

// explainUnlisted explains that the MEL does not provide for an item.
func (p *Plan) explainUnlisted(e *Explanation, f *Finding) {
	p.explainStep(e, f)
	e.Says = fmt.Sprintf("The MEL has no row for it: %s. It must work, or be repaired, or a special flight permit is needed.",
		p.rules.items[f.row].Name)
}

// explainMEL explains how a row of the MEL came out.
func (p *Plan) explainMEL(e *Explanation, f *Finding) {
	row := &p.mel.rows[f.row]
	name := p.rules.items[row.item].Name
	e.Row, e.Citation, e.Status = ownMEL, p.rules.steps[StepMEL].Citation, "record"
	e.Words = strings.TrimSpace(fmt.Sprintf("%s. %s", row.title(name), row.Document))
	e.Says = p.melCount(row, f)
	switch f.Outcome {
	case OutcomeBreached:
		e.Says = strings.TrimSpace(e.Says + " " + row.unmet(f.open))
	case OutcomeUnknown:
		e.Says = "A fact is missing. " + e.Says
		if f.permit == 0 {
			e.Missing = p.melMissing(row, f)
		}
	case OutcomeLimited:
		e.Says += " It may go only within the limitation."
		e.Limitation = strings.Join(row.limitations(name, f.open), "; ")
	case OutcomePassed, OutcomeRelieved, OutcomeUndone, OutcomeNoted:
	}
}

// title names the row as the list does: the item, and how many it counts in the aircraft.
func (row *planMELRow) title(name string) string {
	if !row.Installed.Known {
		return name
	}
	return fmt.Sprintf("%s, %d installed", name, row.Installed.Value)
}

// ownMEL names the findings that rest on a row of the aircraft's MEL.
const ownMEL = "own:mel"

func (p *Plan) melCount(row *planMELRow, f *Finding) string {
	if f.Need < 0 {
		return fmt.Sprintf("%d of %d on record works; how many the MEL requires is not known.", f.Have, len(row.providers))
	}
	return fmt.Sprintf("The MEL requires %d; %d of %d on record works.", f.Need, f.Have, len(row.providers))
}

// unmet says which conditions of the row the flight does not meet.
func (row *planMELRow) unmet(failing mask) string {
	var only []string
	failing.each(func(bit int) { only = append(only, row.terms[bit].says()) })
	if len(only) == 0 {
		return ""
	}
	return "It holds " + strings.Join(only, ", ") + "."
}

func (p *Plan) melMissing(row *planMELRow, f *Finding) []MissingFact {
	var missing []MissingFact
	if f.Need < 0 {
		missing = append(missing, MissingFact{melFact("required"), "how many must work"})
	} else if f.Have < f.Need {
		missing = append(missing, MissingFact{"aircraft.configuration.units_complete", "whether the list of installed units is complete"})
	}
	if row.Operations == Unknown {
		missing = append(missing, MissingFact{melFact("operations_procedure"), "whether the MEL asks for an operations procedure (O)"})
	}
	f.open.each(func(bit int) {
		t := &row.terms[bit]
		fact := MissingFact{Fact: t.fill(t.words.Fact), Asks: "whether " + t.condition.says()}
		if !slices.Contains(missing, fact) {
			missing = append(missing, fact)
		}
	})
	return missing
}

func melFact(column string) string { return "aircraft.configuration.mel.rows[]." + column }

// limitations are what the row binds the flight to.
func (row *planMELRow) limitations(name string, open mask) []string {
	var all []string
	open.each(func(bit int) { all = append(all, row.terms[bit].says()) })
	if row.Proviso != "" {
		all = append(all, fmt.Sprintf("MEL, %s: %s", name, row.Proviso))
	}
	if row.Operations == Yes {
		all = append(all, fmt.Sprintf("MEL, %s: its operations procedure (O) is followed", name))
	}
	return all
}

// explainInterval explains how the repair interval of a row of the MEL came out.
func (p *Plan) explainInterval(e *Explanation, f *Finding) {
	row := &p.mel.rows[f.row]
	if row.interval >= 0 {
		e.setOrigin(&p.rules.intervals[row.interval].Origin)
	} else {
		p.explainStep(e, f)
	}
	switch f.Outcome {
	case OutcomePassed:
		e.Says = "The flight ends within the repair interval."
	case OutcomeLimited:
		e.Says, e.Limitation = "The repair interval is over, and only its extension lasts until the flight ends.", withinExtension
	case OutcomeUndone, OutcomeRelieved:
		e.Says = "The repair interval is over before the flight ends."
	default:
		e.Says = "It is not known whether the repair interval lasts until the flight ends."
		if f.permit == 0 {
			e.Missing = f.intervalMissing()
		}
	}
}

// withinExtension binds a flight that goes on the extension of an interval: its last day is the operator's own record of
// what the program allows.
const withinExtension = "within the one extension that the approved MEL management program allows"

// What an interval lacks: a bit each in the Have of its finding.
const (
	lacksDiscovered int16 = 1 << iota
	lacksCategory
	lacksDays
	lacksExtended
	lacksExtendedUntil
)

var intervalAsks = []MissingFact{
	{"defects[].deferral.discovered", "on which day the defect was discovered and recorded"},
	{melFact("category"), "in which repair category the item is"},
	{melFact("days"), "how many days the MEL allows"},
	{"defects[].deferral.extended", "whether the interval has been extended"},
	{"defects[].deferral.extended_until", "until when the approved MEL management program extends the interval"},
}

func (f *Finding) intervalMissing() []MissingFact {
	var missing []MissingFact
	for bit, asks := range intervalAsks {
		if f.Have > 0 && f.Have&(1<<bit) != 0 {
			missing = append(missing, asks)
		}
	}
	return missing
}
