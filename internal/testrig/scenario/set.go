package scenario

import (
	"fmt"
	"slices"
	"strings"

	"tiedown/internal/casefile"
)

// everySquawk stands for all the squawks of a story.
const everySquawk = "all"

// consideration names the squawks that the hazard determination of one was made in view of.
type consideration struct {
	subject string
	others  []string
}

// readConsidered reads "all", or "SUBJECT = OTHER/OTHER".
func (s *Story) readConsidered(value string) error {
	if value == everySquawk {
		s.considered = append(s.considered, consideration{everySquawk, nil})
		return nil
	}
	subject, others, err := equation(value)
	if err != nil {
		return fmt.Errorf("want all, or SUBJECT = OTHER/OTHER, have %q", value)
	}
	s.considered = append(s.considered, consideration{subject, list(others)})
	return nil
}

// consider gives the hazard determinations of a story the squawks that they were made in view of.
func (s *Story) consider(defects []casefile.Defect) error {
	named := func(id string) bool {
		return slices.ContainsFunc(defects, func(d casefile.Defect) bool { return d.ID == id })
	}
	for _, c := range s.considered {
		for _, id := range append(c.others, c.subject) {
			if id != everySquawk && !named(id) {
				return fmt.Errorf("considered: nothing is given about %q", id)
			}
		}
		for i := range defects {
			d := &defects[i]
			switch {
			case c.subject != everySquawk && c.subject != d.ID:
			case d.Deferral == nil || !d.Deferral.HazardDetermined:
				if c.subject == d.ID {
					return fmt.Errorf("considered: nobody has determined anything about %q", d.ID)
				}
			case c.subject == everySquawk:
				d.Deferral.HazardConsidered = without(defects, d.ID)
			default:
				d.Deferral.HazardConsidered = c.others
			}
		}
	}
	return nil
}

// without lists the names of all squawks but one.
func without(defects []casefile.Defect, id string) []string {
	var others []string
	for _, d := range defects {
		if d.ID != id {
			others = append(others, d.ID)
		}
	}
	return others
}

// readCompany reads "ID = ITEM QUANTITY", "ID = must CONDITION" or "ID = note", and then any of "when CONDITIONS", "from
// DATE" and "to DATE" in this order.
func (s *Story) readCompany(value string) error {
	id, right, err := equation(value)
	if err != nil {
		return err
	}
	rule := casefile.CompanyRule{
		ID: id, Citation: "operations manual of the story", Words: "The organization asks for it.",
	}
	words := strings.Fields(right)
	switch {
	case words[0] == "note":
		rule.Quantity, words = "note", words[1:]
	case len(words) < 2:
		return fmt.Errorf("want ID = ITEM QUANTITY, ID = must CONDITION or ID = note, have %q", value)
	case words[0] == "must":
		rule.Must, words = words[1], words[2:]
	default:
		rule.Item, rule.Quantity, words = words[0], words[1], words[2:]
	}
	if len(words) > 0 && words[0] == "when" {
		end := slices.IndexFunc(words, func(w string) bool { return w == "from" || w == "to" })
		if end < 0 {
			end = len(words)
		}
		rule.When, words = strings.Join(words[1:end], " "), words[end:]
	}
	for _, date := range []struct {
		word  string
		field *string
	}{{"from", &rule.From}, {"to", &rule.To}} {
		if len(words) >= 2 && words[0] == date.word {
			*date.field, words = words[1], words[2:]
		}
	}
	if len(words) > 0 {
		return fmt.Errorf("company: nothing is meant by %q", strings.Join(words, " "))
	}
	s.company = append(s.company, rule)
	return nil
}

// IsCompany says whether a row is one of the organization's own in this story.
func (s *Story) IsCompany(row string) bool {
	return slices.ContainsFunc(s.company, func(r casefile.CompanyRule) bool { return r.ID == row })
}
