package scenario

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
)

// readMEL reads what is known of the MEL as a whole, or "ITEM = PART, PART", one of its rows.
func (s *Story) readMEL(value string) error {
	change := func(f func(*casefile.MEL)) {
		s.changes = append(s.changes, func(a *casefile.Aircraft) error {
			f(&a.Configuration.MEL)
			return nil
		})
	}
	switch word, rest, _ := strings.Cut(value, " "); {
	case value == "unknown":
		change(func(m *casefile.MEL) { *m = casefile.MEL{} })
	case value == "none":
		change(func(m *casefile.MEL) { *m = casefile.MEL{OnRecord: yes(false)} })
	case value == "on-record":
		change(func(m *casefile.MEL) { *m = casefile.MEL{OnRecord: yes(true), Aboard: yes(true)} })
	case value == "aboard":
		change(func(m *casefile.MEL) { m.Aboard = yes(true) })
	case value == "not aboard":
		change(func(m *casefile.MEL) { m.Aboard = yes(false) })
	case value == "aboard unknown":
		change(func(m *casefile.MEL) { m.Aboard = nil })
	case value == "letter aboard":
		change(func(m *casefile.MEL) { m.LetterAboard = yes(true) })
	case value == "letter not aboard":
		change(func(m *casefile.MEL) { m.LetterAboard = yes(false) })
	case value == "letter unknown":
		change(func(m *casefile.MEL) { m.LetterAboard = nil })
	case value == "authority unknown":
		change(func(m *casefile.MEL) { m.Authority = "" })
	case word == "authority":
		change(func(m *casefile.MEL) { m.Authority = rest })
	case word == "without":
		s.changes = append(s.changes, func(a *casefile.Aircraft) error { return strikeMELRow(&a.Configuration.MEL, rest) })
	default:
		row, err := readMELRow(value)
		if err != nil {
			return err
		}
		change(func(m *casefile.MEL) {
			m.Rows = slices.DeleteFunc(slices.Clone(m.Rows), func(r casefile.MELRow) bool { return r.Item == row.Item })
			m.Rows = append(m.Rows, row)
		})
	}
	return nil
}

func strikeMELRow(m *casefile.MEL, item string) error {
	kept := slices.DeleteFunc(slices.Clone(m.Rows), func(r casefile.MELRow) bool { return r.Item == item })
	if len(kept) == len(m.Rows) {
		return fmt.Errorf("mel: without %s: it has no such row", item)
	}
	m.Rows = kept
	return nil
}

// readMELRow reads "ITEM = PART, PART".
func readMELRow(value string) (casefile.MELRow, error) {
	item, parts, err := equation(value)
	row := casefile.MELRow{Item: item, OperationsProcedure: yes(false), MaintenanceProcedure: yes(false)}
	if err != nil {
		return row, err
	}
	for part := range strings.SplitSeq(parts, ", ") {
		if err := readMELPart(&row, part); err != nil {
			return row, fmt.Errorf("mel, %q: %w", part, err)
		}
	}
	return row, nil
}

func readMELPart(row *casefile.MELRow, part string) error {
	flags := map[string]func(){
		"operations": func() { row.OperationsProcedure = yes(true) }, "operations unknown": func() { row.OperationsProcedure = nil },
		"maintenance": func() { row.MaintenanceProcedure = yes(true) }, "maintenance unknown": func() { row.MaintenanceProcedure = nil },
	}
	if set, ok := flags[part]; ok {
		set()
		return nil
	}
	word, rest, _ := strings.Cut(part, " ")
	numbers := map[string]**int{"installed": &row.Installed, "required": &row.Required, "days": &row.Days}
	texts := map[string]*string{"category": &row.Category, "proviso": &row.Proviso, "only-when": &row.OnlyWhen}
	switch number, text := numbers[word], texts[word]; {
	case rest == "":
		return errors.New("no part of a row")
	case number != nil:
		n, err := strconv.Atoi(rest)
		if err != nil {
			return errors.New("want a whole number")
		}
		*number = &n
	case text != nil:
		*text = rest
	default:
		return errors.New("no part of a row")
	}
	return nil
}

// readPermit reads "NUMBER, PART, PART".
func (s *Story) readPermit(value string) error {
	number, parts, _ := strings.Cut(value, ", ")
	p := &casefile.Permit{Number: number}
	for part := range strings.SplitSeq(parts, ", ") {
		if err := readPermitPart(p, part); parts != "" && err != nil {
			return fmt.Errorf("permit, %q: %w", part, err)
		}
	}
	s.permit = p
	return nil
}

func readPermitPart(p *casefile.Permit, part string) error {
	switch part {
	case "only-required-crew":
		p.OnlyRequiredCrew = yes(true)
		return nil
	case "others allowed":
		p.OnlyRequiredCrew = yes(false)
		return nil
	}
	word, rest, _ := strings.Cut(part, " ")
	switch word {
	case "issued":
		p.Issued = rest
	case "covers":
		p.Covers = list(rest)
	case "kinds":
		kinds := list(rest)
		p.Kinds = &kinds
	case "limitation":
		p.Limitations = append(p.Limitations, rest)
	case "from", "until":
		t, err := moment(rest)
		if err != nil {
			return err
		}
		if word == "from" {
			p.ValidFrom = &t
		} else {
			p.ValidUntil = &t
		}
	default:
		return errors.New("no part of a permit")
	}
	return nil
}

// moment reads "DATE HH:MM", in UTC.
func moment(value string) (time.Time, error) {
	t, err := time.Parse("2006-01-02 15:04", value)
	if err != nil {
		return t, fmt.Errorf("want a moment YYYY-MM-DD HH:MM, have %q", value)
	}
	return t, nil
}

// readFound reads "SUBJECT [RESULT], PART, PART", about a squawk that has been given.
func (s *Story) readFound(value string) error {
	parts := strings.Split(value, ", ")
	subject, result, _ := strings.Cut(parts[0], " ")
	at := slices.IndexFunc(s.squawks, func(q squawk) bool { return q.defect.ID == subject })
	if at < 0 {
		return fmt.Errorf("found: nothing is given about %q", subject)
	}
	f := &casefile.Found{Result: result}
	for _, part := range parts[1:] {
		switch word, rest, _ := strings.Cut(part, " "); {
		case part == "rated":
			f.Rated = true
		case part == "approved":
			f.Approved = true
		case word == "data" && rest != "":
			f.Data = rest
		default:
			return fmt.Errorf("found: %q is nothing that clears a condition", part)
		}
	}
	s.squawks[at].defect.Found = f
	return nil
}
