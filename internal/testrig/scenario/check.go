package scenario

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// Case makes the story into a question. find returns a demonstration aircraft by name.
func (s *Story) Case(find func(name string) (casefile.Aircraft, error)) (casefile.Case, error) {
	if s.Aircraft == "" {
		return casefile.Case{}, nil
	}
	a, err := find(s.Aircraft)
	if err != nil {
		return casefile.Case{}, fmt.Errorf("%s: %w", s.at(), err)
	}
	inspect(&a.Facts, s.flight.Departs)
	keep(&a, s.flight.Departs)
	for _, change := range s.changes {
		if err := change(&a); err != nil {
			return casefile.Case{}, fmt.Errorf("%s: %w", s.at(), err)
		}
	}
	defects := s.defects(a.Configuration)
	if err := s.consider(defects); err != nil {
		return casefile.Case{}, fmt.Errorf("%s: %w", s.at(), err)
	}
	flight := s.flight
	flight.SpecialFlightPermit = s.permit
	return casefile.Case{
		Story: s.Title, Source: s.Source, Aircraft: a, Defects: defects, Flight: flight, Policy: s.policy,
		CompanyRules: s.company,
	}, nil
}

// Check compares the story with what the rules make of its case. The error lists every difference.
func (s *Story) Check(c casefile.Case, rules *airworthiness.Ruleset) error {
	var faults []error
	if len(s.natures) > 0 {
		faults = s.checkNatures(rules)
	} else if s.verdict != "" || len(s.refused) > 0 {
		faults = s.checkCase(c, rules)
	}
	faults = append(faults, s.checkPeople(c, rules)...)
	if err := errors.Join(faults...); err != nil {
		return fmt.Errorf("%s\n%w", s.at(), err)
	}
	return nil
}

func (s *Story) checkCase(c casefile.Case, rules *airworthiness.Ruleset) []error {
	question, err := casefile.Compile(c, rules)
	if len(s.refused) > 0 {
		return s.checkRefusal(err)
	}
	if err != nil {
		return []error{err}
	}
	return s.compare(casefile.Judge(question, rules, ""))
}

func (s *Story) checkRefusal(err error) []error {
	var given casefile.Faults
	errors.As(err, &given)
	var faults []error
	for _, field := range s.refused {
		if !slices.ContainsFunc(given, func(f casefile.Fault) bool { return f.Field == field }) {
			faults = append(faults, fmt.Errorf("want %s refused, have: %w", field, err))
		}
	}
	return faults
}

func (s *Story) compare(a casefile.Answer) []error {
	var faults []error
	differ := func(format string, args ...any) { faults = append(faults, fmt.Errorf(format, args...)) }
	if a.Verdict != s.verdict {
		differ("want %s, have %s", s.verdict, a.Verdict)
	}
	for _, e := range s.because {
		if !slices.ContainsFunc(a.Findings, e.matches) {
			differ("no finding %s", e)
		}
	}
	for _, e := range s.becauseNot {
		if slices.ContainsFunc(a.Findings, e.matches) {
			differ("a finding %s", e)
		}
	}
	for _, fault := range s.compareToDo(a) {
		differ("%w", fault)
	}
	for _, fact := range s.missing {
		if !slices.ContainsFunc(a.Missing, func(m casefile.Missing) bool { return m.Fact == fact }) {
			differ("does not ask for %s", fact)
		}
	}
	for _, limit := range s.limits {
		if !slices.Contains(a.Limitations, limit) {
			differ("not limited to %q", limit)
		}
	}
	if len(faults) > 0 {
		var answer strings.Builder
		_ = a.WithoutPasses().WriteText(&answer) // a strings.Builder does not fail
		differ("the answer is:\n%s", &answer)
	}
	return faults
}

func (e expectation) matches(f casefile.Finding) bool {
	return f.Row == e.row &&
		(e.outcome == "" || f.Outcome == e.outcome) &&
		(e.relief == "" || f.Relief == e.relief) &&
		(e.subject == "" || f.Defect == e.subject)
}

func (e expectation) String() string {
	text := strings.TrimSpace(e.row + " " + e.outcome)
	if e.relief != "" {
		text += " by " + e.relief
	}
	if e.subject != "" {
		text += " for " + e.subject
	}
	return text
}

// checkNatures holds items of the catalog against their natures, and against what becomes of a report that one is
// inoperative.
func (s *Story) checkNatures(rules *airworthiness.Ruleset) []error {
	var faults []error
	for _, n := range s.natures {
		item, ok := rules.Item(n.item)
		switch {
		case !ok:
			faults = append(faults, fmt.Errorf("%s is not in the catalog", n.item))
		case item.Nature != n.nature:
			faults = append(faults, fmt.Errorf("%s: want %s, have %s", n.item, n.nature, item.Nature))
		}
	}
	if len(faults) > 0 {
		return faults
	}
	return s.checkReports(rules)
}

// checkReports reports every item inoperative on an aircraft of which nothing is known. Only the first question is
// looked at: is it about an instrument or item of equipment at all.
func (s *Story) checkReports(rules *airworthiness.Ruleset) []error {
	c := casefile.Case{Aircraft: casefile.Aircraft{Facts: casefile.Facts{Basis: "other"}}, Flight: ordinaryFlight()}
	for _, n := range s.natures {
		c.Defects = append(c.Defects, casefile.Defect{ID: n.item, Kind: "inoperative", Item: n.item})
	}
	question, err := casefile.Compile(c, rules)
	if err != nil {
		return []error{err}
	}
	flight := rules.Prepare(question.Flight)
	var d airworthiness.Determination
	question.Plan.Determine(&d, question.Defects, &flight)
	var faults []error
	asked := 0
	for _, f := range d.Findings {
		if f.Step != airworthiness.StepNature {
			continue
		}
		asked++
		n, want := s.natures[d.Order[f.Defect]], airworthiness.OutcomePassed
		if n.nature == "condition" {
			want = airworthiness.OutcomeBreached
		}
		if f.Outcome != want {
			faults = append(faults, fmt.Errorf("%s, reported inoperative: want %s, have %s", n.item, want, f.Outcome))
		}
	}
	if asked != len(s.natures) {
		faults = append(faults, fmt.Errorf("%d of %d reports were asked about", asked, len(s.natures)))
	}
	return faults
}

// Rows lists the rows and reliefs that the story says must be found.
func (s *Story) Rows() []string {
	var rows []string
	for _, e := range s.because {
		rows = append(rows, e.row)
		if e.relief != "" {
			rows = append(rows, e.relief)
		}
	}
	return append(rows, s.people.rows()...)
}

// RowsNot lists the rows that the story says must not be found, of whatever outcome and for whatever squawk it says so.
func (s *Story) RowsNot() []string {
	var rows []string
	for _, e := range slices.Concat(s.becauseNot, s.people.todoNot) {
		rows = append(rows, e.row)
	}
	for _, m := range s.people.may {
		rows = append(rows, m.without...)
	}
	return rows
}

// Departs is the civil date of the story's flight.
func (s *Story) Departs() airworthiness.Date { return airworthiness.DateOf(s.flight.Departs) }

// Names holds every row that the story names against those that there are, so that a row that must not be found can't
// be one that does not exist. known tells whether a row exists.
func (s *Story) Names(known func(row string) bool) error {
	var faults []error
	for _, e := range slices.Concat(s.because, s.becauseNot) {
		for _, row := range []string{e.row, e.relief} {
			if row != "" && !known(row) {
				faults = append(faults, fmt.Errorf("%s: there is no row %q", s.at(), row))
			}
		}
		if e.subject != "" && !slices.ContainsFunc(s.squawks, func(q squawk) bool { return q.defect.ID == e.subject }) {
			faults = append(faults, fmt.Errorf("%s: nothing is given about %q", s.at(), e.subject))
		}
	}
	for _, e := range slices.Concat(s.people.todo, s.people.todoNot) {
		if e.subject != "" && !slices.ContainsFunc(s.squawks, func(q squawk) bool { return q.defect.ID == e.subject }) {
			faults = append(faults, fmt.Errorf("%s: nothing is given about %q", s.at(), e.subject))
		}
	}
	for _, row := range s.people.named() {
		if !known(row) {
			faults = append(faults, fmt.Errorf("%s: there is no row %q", s.at(), row))
		}
	}
	return errors.Join(faults...)
}
