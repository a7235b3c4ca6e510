package airworthiness

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// PracticeRow says how an authority asks one step of the decision, and in which words. Beside the rows of its rules this
// is all in which one authority differs from another: whether a step is asked at all, whether what a list holds counts
// for every flight or for the kind that is flown, and whether an answer is the engine's to give.
type PracticeRow struct {
	Step     string
	Asked    string // yes, no, always, as-flown, refer
	Passed   string // what it means that the step asks nothing more
	Breached string // what it means that it stands in the way
	Unknown  string // what it means that a fact is missing
}

// TermRow gives one of the engine's terms in an authority's words.
type TermRow struct {
	Term  string
	Words string
}

// The ways to ask a step.
const (
	askedYes      = "yes"
	askedNo       = "no"       // this authority does not ask it
	askedAlways   = "always"   // what the aircraft's own list holds counts for every flight, whatever kinds it names
	askedAsFlown  = "as-flown" // it counts for the kinds of operation that it names
	askedReferred = "refer"    // whether it counts is contested: a person must say, so the engine leaves it open
)

// mayBeAsked lists the ways in which each step may be asked. What makes an answer pessimistic cannot be left out: what
// the squawk is about, what the rules require, and that the pilot decides last.
var mayBeAsked = [steps][]string{
	StepAircraft:          {askedYes},
	StepNature:            {askedYes},
	StepPath:              {askedYes, askedNo},
	StepMEL:               {askedYes, askedNo},
	StepTypeCertification: {askedAlways, askedAsFlown, askedReferred},
	StepEquipmentList:     {askedAlways, askedAsFlown, askedReferred},
	StepRegulation:        {askedAsFlown},
	StepCompany:           {askedAsFlown},
	StepDirective:         {askedAlways, askedAsFlown},
	StepDisposition:       {askedYes, askedNo},
	StepHazard:            {askedYes, askedNo},
	StepLapse:             {askedYes, askedNo},
	StepPilot:             {askedYes},
}

// TermCaution is the term for what stands on every answer.
const TermCaution = "caution"

// terms are what the engine's answers need words for.
var terms = []string{TermCaution}

func (r *Ruleset) compilePractice(rows []PracticeRow, collect func(string, error)) {
	for _, row := range rows {
		step, err := parseStep(row.Step)
		collect(row.Step, err)
		switch {
		case err != nil:
		case r.practice[step].Step != "":
			collect(row.Step, errors.New("the practice stands twice"))
		case !slices.Contains(mayBeAsked[step], row.Asked):
			collect(row.Step, fmt.Errorf("asked %q is none of %s", row.Asked, strings.Join(mayBeAsked[step], ", ")))
		default:
			r.practice[step] = row
		}
	}
	for s := range r.practice {
		if r.practice[s].Step == "" {
			collect(stepNames[s], errors.New("the step has no practice"))
		}
	}
}

func (r *Ruleset) compileTerms(rows []TermRow, collect func(string, error)) {
	r.said = map[string]string{}
	for _, row := range rows {
		if !slices.Contains(terms, row.Term) {
			collect(row.Term, errors.New("no answer uses the term"))
		}
		r.said[row.Term] = row.Words
	}
	for _, term := range terms {
		if r.said[term] == "" {
			collect(term, errors.New("the term has no words"))
		}
	}
}

// Term gives one of the engine's terms in the authority's words.
func (r *Ruleset) Term(term string) string { return r.said[term] }

// Term gives one of the engine's terms in the words of the authority whose rules the plan was compiled against.
func (p *Plan) Term(term string) string { return p.rules.Term(term) }

// asks says whether the authority asks a step at all.
func (r *Ruleset) asks(s Step) bool { return r.practice[s].Asked != askedNo }

// refers says that a breach of the step is not the engine's to find.
func (r *Ruleset) refers(s Step) bool { return r.practice[s].Asked == askedReferred }

// saying is what it means that a step came out so without naming a row.
func (p *PracticeRow) saying(o Outcome) string {
	switch o {
	case OutcomePassed, OutcomeNoted:
		return p.Passed
	case OutcomeBreached:
		return p.Breached
	case OutcomeUnknown:
		return p.Unknown
	case OutcomeRelieved, OutcomeLimited, OutcomeUndone:
	}
	return ""
}
