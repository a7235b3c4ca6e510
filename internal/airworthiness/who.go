package airworthiness

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// WhoRow says who may do what, who may not, or that nobody else may.
type WhoRow struct {
	Origin
	Actions []string
	May     []string // what is asked of the actions; see Verbs
	Effect  string   // permits; bars: says why somebody may not; otherwise: nobody whom no other row permits
	When    string
	Who     string // whom a row that permits speaks of, in words
}

type who struct {
	WhoRow
	when   occasionClause
	phrase string // whom a row that permits speaks of, with the citation
}

// Authority is the answer to an occasion, with the rows that say so.
type Authority struct {
	Answer  Truth
	Rows    []Origin // of Yes those that permit, of No those that bar, of Unknown those that a missing fact leaves open
	Missing []string // conditions that are not known and would settle an unknown answer
}

// May says whether a person may do something. A row that permits must hold in full; where none does and none may, the
// answer is no. An action or a verb that no row speaks of is unknown: silence is not an answer, and never permission.
func (r *Ruleset) May(o Occasion) Authority {
	if o.Person == nil {
		o.Person = &Person{}
	}
	if o.Aircraft == nil {
		o.Aircraft = &Aircraft{}
	}
	o.Work.Part = r.part(&o)
	var permits, open, bars, otherwise, doubt Authority
	for i := range r.who {
		row := &r.who[i]
		if !row.concerns(&o) {
			continue
		}
		switch holds := row.when.holds(&o); {
		case row.Effect == "permits" && holds == Yes:
			permits.Rows = append(permits.Rows, r.withReasons(row, &o)...)
		case row.Effect == "permits" && holds == Unknown:
			open.doubt(row, &o)
		case row.Effect == "bars" && holds == Yes:
			bars.Rows = append(bars.Rows, r.withReasons(row, &o)...)
		case row.Effect == "otherwise" && holds == Yes:
			otherwise.Rows = append(otherwise.Rows, row.Origin)
		case row.Effect == "otherwise" && holds == Unknown:
			doubt.doubt(row, &o)
		}
	}
	switch {
	case len(permits.Rows) > 0:
		permits.Answer = Yes
		return permits
	case len(open.Rows) > 0:
		return open
	case len(bars.Rows) > 0:
		bars.Answer = No
		return bars
	case len(otherwise.Rows) > 0:
		otherwise.Answer = No
		return otherwise
	}
	return doubt
}

// doubt adds a row that a missing fact leaves open.
func (a *Authority) doubt(row *who, o *Occasion) {
	a.Rows = append(a.Rows, row.Origin)
	a.Missing = append(a.Missing, row.when.open(o)...)
	slices.Sort(a.Missing)
	a.Missing = slices.Compact(a.Missing)
}

// withReasons is a row with the paragraphs of 43 appendix A(c) on which it rests.
func (r *Ruleset) withReasons(row *who, o *Occasion) []Origin {
	rows := []Origin{row.Origin}
	if slices.ContainsFunc(row.when, func(t occasionTerm) bool { return t.key == "listed" }) {
		_, listed := r.listed(o)
		rows = append(rows, listed...)
	}
	return rows
}

func (w *who) concerns(o *Occasion) bool {
	return slices.Contains(w.Actions, o.Action) && slices.Contains(w.May, o.Verb) && w.inForce(o.On)
}

// permitting lists the rows that may permit to do something.
func (r *Ruleset) permitting(verb, action string) []*who {
	var rows []*who
	for i := range r.who {
		row := &r.who[i]
		if row.Effect == "permits" && slices.Contains(row.Actions, action) && slices.Contains(row.May, verb) {
			rows = append(rows, row)
		}
	}
	return rows
}

// phrases says in words whom rows permit: every row that the aircraft and the work do not rule out.
func phrases(rows []*who, o *Occasion) []string {
	var people []string
	for _, row := range rows {
		if row.inForce(o.On) && row.when.possible(o) {
			people = append(people, row.phrase)
		}
	}
	return people
}

// WhoMay says in words whom the rows permit to do something, with the citation: every row that neither the aircraft nor the
// work rules out, whoever acts. Empty: nobody.
func (r *Ruleset) WhoMay(o Occasion) []string {
	if o.Aircraft == nil {
		o.Aircraft = &Aircraft{}
	}
	o.Person = &Person{}
	o.Work.Part = r.part(&o)
	return phrases(r.permitting(o.Verb, o.Action), &o)
}

// Actions lists what the rows about people speak of, in the order of the table.
func (r *Ruleset) Actions() []string {
	var actions []string
	for i := range r.who {
		for _, action := range r.who[i].Actions {
			if !slices.Contains(actions, action) {
				actions = append(actions, action)
			}
		}
	}
	return actions
}

func (r *Ruleset) compileWho(rows []WhoRow, collect func(string, error)) {
	for _, row := range rows {
		when, err := r.occasionClause(row.When)
		collect(row.ID, err)
		collect(row.ID, row.check())
		r.who = append(r.who, who{row, when, fmt.Sprintf("%s (%s)", row.Who, row.Citation)})
	}
}

func (w *WhoRow) check() error {
	for _, verb := range w.May {
		if !slices.Contains(Verbs(), verb) {
			return fmt.Errorf("may %q: want one of %s", verb, strings.Join(Verbs(), ", "))
		}
	}
	switch w.Effect {
	case "permits":
		if !w.wasRead() {
			return errors.New("what has not been read may forbid, never permit")
		}
		if w.Who == "" {
			return errors.New("a row that permits says whom")
		}
	case "bars", "otherwise":
		if w.Who != "" {
			return errors.New("only a row that permits says whom")
		}
	default:
		return fmt.Errorf("effect %q: want permits, bars or otherwise", w.Effect)
	}
	return nil
}

// compilePeople compiles the tables about people and records.
func (r *Ruleset) compilePeople(t Tables, collect func(string, error)) {
	r.compilePreventive(t.Preventive, collect)
	r.compileWho(t.Who, collect)
	r.compileRecords(t.Records, collect)
}
