package airworthiness

import (
	"slices"
	"strings"
)

// Rule is one row of the rules, for people who browse the book. What its table does not have is empty.
type Rule struct {
	Table string
	Origin
	Step       string   // of the decision, for a row of procedure
	Item       string   // what must work, "a|b" for either
	Quantity   string   // how many of it
	Must       string   // what must hold
	When       string   // the conditions that bring it into play, in the tables' notation
	Otherwise  string   // the verdict while it has not been done
	Relieves   []string // names of the requirements that it lifts
	Limitation string   // what it binds the flight to
	First      string   // items on the one side of two squawks
	Second     string   // and on the other
}

// Rules lists every row, table by table in the order of the files; those of an organization come last.
func (r *Ruleset) Rules() []Rule { return r.book }

// Citation is that of the row of an id, in the first table that has it; empty in a book without such a row.
func (r *Ruleset) Citation(id string) string {
	i := slices.IndexFunc(r.book, func(rule Rule) bool { return rule.ID == id })
	if i < 0 {
		return ""
	}
	return r.book[i].Citation
}

// keepRules keeps the tables as written, for browsing.
func (r *Ruleset) keepRules(t *Tables) {
	for _, row := range t.Eligibility {
		r.book = append(r.book, Rule{Table: "eligibility", Origin: row.Origin, When: row.When})
	}
	r.keepRequirements("type_certification", t.TypeCertification)
	r.keepRequirements("requirements", t.Requirements)
	for _, row := range t.Reliefs {
		r.book = append(r.book, Rule{Table: "reliefs", Origin: row.Origin, When: row.When, Relieves: row.Relieves, Limitation: row.Limitation})
	}
	for _, row := range t.Procedure {
		r.book = append(r.book, Rule{
			Table: "procedure", Origin: row.Origin, Step: row.Step, When: row.When, Must: row.Must, Otherwise: row.Otherwise.String(),
		})
	}
	for _, row := range t.Interactions {
		r.book = append(r.book, Rule{
			Table: "interactions", Origin: row.Origin, First: row.First, Second: row.Second, When: row.When, Limitation: row.Limitation,
		})
	}
	for _, row := range t.Intervals {
		r.book = append(r.book, Rule{Table: "intervals", Origin: row.Origin})
	}
	for _, row := range t.Permits {
		r.book = append(r.book, Rule{Table: "permits", Origin: row.Origin, Must: row.Must, Relieves: row.Lifts})
	}
	for _, row := range t.Preventive {
		r.book = append(r.book, Rule{Table: "preventive_maintenance", Origin: row.Origin, When: row.When})
	}
	for _, row := range t.Who {
		r.book = append(r.book, Rule{Table: "who", Origin: row.Origin, When: row.When})
	}
	for _, row := range t.Tasks {
		r.book = append(r.book, Rule{Table: "tasks", Origin: row.Origin, When: row.When})
	}
	for _, row := range t.Records {
		r.book = append(r.book, Rule{Table: "records", Origin: row.Origin})
	}
}

func (r *Ruleset) keepRequirements(table string, rows []RequirementRow) {
	for _, row := range rows {
		r.book = append(r.book, Rule{
			Table: table, Origin: row.Origin, Item: row.Item, Quantity: row.Quantity, Must: row.Must, When: row.When,
		})
	}
}

// InWords says each condition of a clause as a statement, in its order. A condition that the rules do not use is left as
// it is written.
func (r *Ruleset) InWords(clause string) []string {
	var says []string
	for _, term := range strings.Fields(clause) {
		key, negated := strings.CutPrefix(term, "!")
		said := key
		if i, ok := r.index[key]; ok {
			said = r.conditions[i].says()
		}
		if negated {
			said = "not so: " + said
		}
		says = append(says, said)
	}
	return says
}

// Relieved lists the names of the reliefs that lift a requirement.
func (r *Ruleset) Relieved(requirement string) []string {
	var names []string
	for i := range r.book {
		if row := &r.book[i]; slices.Contains(row.Relieves, requirement) && !slices.Contains(names, row.ID) {
			names = append(names, row.ID)
		}
	}
	return names
}
