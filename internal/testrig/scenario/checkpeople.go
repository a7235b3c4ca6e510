package scenario

import (
	"fmt"
	"slices"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// day is the day on which people act: that of the work, or else of the flight.
func (s *Story) day() airworthiness.Date {
	if s.people.on != 0 {
		return s.people.on
	}
	return s.Departs()
}

// checkPeople compares what a story says of people, work and records with what the rules say.
func (s *Story) checkPeople(c casefile.Case, rules *airworthiness.Ruleset) []error {
	var faults []error
	aircraft := &airworthiness.Aircraft{}
	if len(s.people.may)+len(s.people.tasks) > 0 && s.Aircraft != "" {
		plan, err := casefile.CompileAircraft(c.Aircraft, rules, "aircraft.")
		if err != nil {
			return []error{err}
		}
		compiled := plan.Aircraft()
		aircraft = &compiled
	}
	for _, m := range s.people.may {
		for _, item := range m.items {
			if err := s.checkMay(m, item, aircraft, rules); err != nil {
				faults = append(faults, err)
			}
		}
	}
	for _, t := range s.people.tasks {
		asked := t.finding
		if _, ok := rules.Item(asked.Item); asked.Item != "" && !ok {
			faults = append(faults, fmt.Errorf("task: %s is not in the catalog", asked.Item))
		}
		asked.Aircraft, asked.On = aircraft, s.day()
		rows := []string{}
		for _, todo := range rules.Tasks(asked) {
			rows = append(rows, todo.Row)
		}
		if !slices.Equal(rows, t.rows) {
			faults = append(faults, fmt.Errorf("task %s %s %s: want %v, have %v", asked.Step, asked.Outcome, asked.Item, t.rows, rows))
		}
	}
	return append(faults, s.checkPapers(rules)...)
}

func (s *Story) checkMay(m authority, item string, aircraft *airworthiness.Aircraft, rules *airworthiness.Ruleset) error {
	name := fmt.Sprintf("may %s %s %d %s", m.verb, m.action, m.number, item)
	if !slices.Contains(rules.Actions(), m.action) {
		return fmt.Errorf("%s: no row speaks of that action", name)
	}
	if _, ok := rules.Item(item); item != "" && !ok {
		return fmt.Errorf("%s: the item is not in the catalog", name)
	}
	person := *s.people.person
	person.Supervisor = s.people.supervisor
	work := s.people.work
	work.Number, work.Item = m.number, item
	if err := m.apply(&person, &work); err != nil {
		return err
	}
	have := rules.May(airworthiness.Occasion{
		Verb: m.verb, Action: m.action, Person: &person, Aircraft: aircraft, Work: work, On: s.day(),
	})
	said := have.Answer == m.answer
	for _, row := range m.rows {
		said = said && slices.Contains(ids(have.Rows), row)
	}
	for _, row := range m.without {
		said = said && !slices.Contains(ids(have.Rows), row)
	}
	for _, condition := range m.missing {
		said = said && slices.Contains(have.Missing, condition)
	}
	if !said {
		return fmt.Errorf("%s: want %s because %v, have %s because %v, missing %v", name, m.answer, m.rows, have.Answer, ids(have.Rows), have.Missing)
	}
	return nil
}

// compareToDo compares what is to be done.
func (s *Story) compareToDo(a casefile.Answer) []error {
	has := func(e expectation) bool {
		return slices.ContainsFunc(a.Findings, func(f casefile.Finding) bool {
			return (e.subject == "" || f.Defect == e.subject) &&
				slices.ContainsFunc(f.ToDo, func(t casefile.ToDo) bool { return t.Row == e.row })
		})
	}
	var faults []error
	for _, e := range s.people.todo {
		if !has(e) {
			faults = append(faults, fmt.Errorf("nothing to do by %s", e))
		}
	}
	for _, e := range s.people.todoNot {
		if has(e) {
			faults = append(faults, fmt.Errorf("something to do by %s", e))
		}
	}
	return faults
}
