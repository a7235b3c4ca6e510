package scenario

import (
	"fmt"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
)

// taskExpectation is one "task:" line.
type taskExpectation struct {
	finding airworthiness.Asked
	rows    []string
}

// entry is one "entry:" line.
type entry struct {
	record string
	has    []string
	known  bool
	lacks  []string
}

// discard is one "discard:" line.
type discard struct {
	kept   airworthiness.Kept
	answer airworthiness.Truth
	rows   []string
}

func (s *Story) readToDo(value string) error {
	e, err := readSubject(value)
	s.people.todo = append(s.people.todo, e)
	return err
}

func (s *Story) readToDoNot(value string) error {
	e, err := readSubject(value)
	s.people.todoNot = append(s.people.todoNot, e)
	return err
}

// readSubject reads "ROW [for SUBJECT]".
func readSubject(value string) (expectation, error) {
	row, subject, _ := strings.Cut(value, " for ")
	if strings.Contains(row, " ") || strings.Contains(subject, " ") {
		return expectation{}, fmt.Errorf("want ROW [for SUBJECT], have %q", value)
	}
	return expectation{row: row, subject: subject}, nil
}

// readTask reads "STEP OUTCOME [about ITEM] = ROW/ROW".
func (s *Story) readTask(value string) error {
	left, right, ok := strings.Cut(value, " = ")
	words := strings.Fields(left)
	if !ok || len(words) != 2 && (len(words) != 4 || words[2] != "about") {
		return fmt.Errorf("want STEP OUTCOME [about ITEM] = ROW/ROW, have %q", value)
	}
	t := taskExpectation{airworthiness.Asked{Step: words[0], Outcome: words[1]}, list(right)}
	if len(words) == 4 {
		t.finding.Item = words[3]
	}
	s.people.tasks = append(s.people.tasks, t)
	return nil
}

// readEntry reads "RECORD [with ELEMENT/ELEMENT] = complete, unknown or lacks ROW/ROW".
func (s *Story) readEntry(value string) error {
	left, right, ok := strings.Cut(value, " = ")
	record, elements, with := strings.Cut(left, " with ")
	if !ok || strings.Contains(record, " ") {
		return fmt.Errorf("want RECORD [with ELEMENT/ELEMENT] = OUTCOME, have %q", value)
	}
	e := entry{record: record, known: true}
	if with {
		e.has = list(elements)
	}
	switch rows, lacks := strings.CutPrefix(right, "lacks "); {
	case lacks:
		e.lacks = list(rows)
	case right == "unknown":
		e.known = false
	case right != "complete":
		return fmt.Errorf("an entry is complete, unknown, or lacks ROW/ROW, not %q", right)
	}
	s.people.entries = append(s.people.entries, e)
	return nil
}

// readDiscard reads "RECORD, PHRASES = ANSWER [because ROW/ROW]".
func (s *Story) readDiscard(value string) error {
	left, right, ok := strings.Cut(value, " = ")
	if !ok {
		return fmt.Errorf("want RECORD, PHRASES = ANSWER, have %q", value)
	}
	phrases := strings.Split(left, ", ")
	d := discard{kept: airworthiness.Kept{Record: phrases[0]}}
	truths := map[string]*airworthiness.Truth{
		"superseded": &d.kept.Superseded, "repaired": &d.kept.Repaired, "approved": &d.kept.Approved,
		"transferred": &d.kept.Transferred,
	}
	for _, phrase := range phrases[1:] {
		word, date, _ := strings.Cut(phrase, " ")
		var err error
		switch word {
		case "done":
			err = readDate(date, &d.kept.Done)
		case "on":
			var day airworthiness.Fact[airworthiness.Date]
			err = readDate(date, &day)
			d.kept.On = day.Value
		default:
			err = readTruth(truths, phrase)
		}
		if err != nil {
			return err
		}
	}
	word, rows, because := strings.Cut(right, " because ")
	var err error
	if d.answer, err = readAnswer(word); err != nil {
		return err
	}
	if because {
		d.rows = list(rows)
	}
	s.people.discards = append(s.people.discards, d)
	return nil
}

func ids(rows []airworthiness.Origin) []string {
	names := []string{}
	for _, row := range rows {
		names = append(names, row.ID)
	}
	return names
}

func (s *Story) checkPapers(rules *airworthiness.Ruleset) []error {
	var faults []error
	for _, e := range s.people.entries {
		for _, element := range e.has {
			if !slices.Contains(rules.Elements(), element) {
				faults = append(faults, fmt.Errorf("entry of %s: no row asks for %q", e.record, element))
			}
		}
		lacks, known := rules.EntryLacks(e.record, e.has, s.day())
		if known != e.known || !slices.Equal(ids(lacks), append([]string{}, e.lacks...)) {
			faults = append(faults, fmt.Errorf("entry of %s with %v: known %v, lacks %v", e.record, e.has, known, ids(lacks)))
		}
	}
	for _, d := range s.people.discards {
		have := rules.MayDiscard(d.kept)
		if have.Answer != d.answer || len(d.rows) > 0 && !slices.Equal(ids(have.Rows), d.rows) {
			faults = append(faults, fmt.Errorf("discard %s: have %s because %v", d.kept.Record, have.Answer, ids(have.Rows)))
		}
	}
	return faults
}
