package airworthiness

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// TaskRow is one thing to do about a finding that stands in the way.
type TaskRow struct {
	Origin
	For     []string // names of the rows or steps whose findings bring it
	Outcome string   // how they came out: undone or breached
	Items   []string // catalog keys that it is limited to; none: every item
	When    string   // conditions on the aircraft and the work
	By      string   // who may: VERB:ACTION of the table of people; empty: nobody in particular
	Placard string   // the words of the placard
	Where   string   // where the placard goes
	Entry   string   // what is written down, and where
}

type task struct {
	TaskRow
	verb, action string
	people       []*who // the rows that permit it
	when         occasionClause
}

// ToDo is one thing to do, in words.
type ToDo struct {
	Action   string   // what
	By       []string // who may, with the citation; empty: nobody in particular
	Placard  string
	Where    string
	Entry    string
	Citation string
	Status   string // how well the row has been read
	Row      string
}

// preventiveWork is the action whose task stands once for each paragraph of 43 appendix A(c) that covers the item.
const preventiveWork = "preventive-maintenance"

// ToDo lists what would take a finding out of the way: one about a squawk, or about a paper or what is due. It is made for people, when an answer is put in
// words: judging never asks for it.
func (p *Plan) ToDo(d *Determination, f *Finding, defects []Defect) []ToDo {
	if f.Outcome != OutcomeUndone && f.Outcome != OutcomeBreached {
		return nil
	}
	if f.Defect < 0 {
		return p.rules.Tasks(Asked{Step: f.Step.String(), Row: p.RowID(f), Outcome: f.Outcome.String(), Aircraft: p.aircraft, On: d.on})
	}
	defect := &defects[d.Order[f.Defect]]
	item := defect.Item
	if u, ok := p.byID[defect.Unit]; ok && defect.Unit != "" {
		item = p.rules.items[p.units[u].item].Item
	}
	asked := Asked{Step: f.Step.String(), Row: p.RowID(f), Outcome: f.Outcome.String(), Item: item, Aircraft: p.aircraft, On: d.on}
	if defect.Deferral != nil && defect.Deferral.EntryByRuleText {
		asked.Policy = "rule-text"
	}
	return p.rules.Tasks(asked)
}

// Asked is a finding for which something is to be done.
type Asked struct {
	Step, Row, Outcome string
	Item               string // catalog key of what it is about
	Aircraft           *Aircraft
	Policy             string // how deactivation is read: see Work
	On                 Date
}

// Tasks lists what is to be done about a finding, in the order of the table. Equipment that the aircraft or the policy
// rules out brings nothing; what is not known of either brings the task.
func (r *Ruleset) Tasks(a Asked) []ToDo {
	var list []ToDo
	for i := range r.tasks {
		t := &r.tasks[i]
		if !t.concerns(&a) {
			continue
		}
		o := &Occasion{Verb: t.verb, Action: t.action, Person: &Person{}, Aircraft: a.Aircraft, On: a.On, Work: Work{Item: a.Item, Policy: a.Policy}}
		if o.Aircraft == nil {
			o.Aircraft = &Aircraft{}
		}
		if !t.when.possible(o) {
			continue
		}
		if t.action != preventiveWork {
			list = append(list, r.toDo(t, o))
			continue
		}
		for _, row := range r.preventiveFor(a.Item, o) {
			o.Work.Number, o.Work.Part = row.Number, row.Part
			list = append(list, r.toDo(t, o).under(row))
		}
	}
	return list
}

func (t *task) concerns(a *Asked) bool {
	return t.Outcome == a.Outcome && t.inForce(a.On) &&
		(slices.Contains(t.For, a.Row) || slices.Contains(t.For, a.Step)) &&
		(len(t.Items) == 0 || slices.Contains(t.Items, a.Item))
}

func (r *Ruleset) toDo(t *task, o *Occasion) ToDo {
	todo := ToDo{Action: t.Words, Placard: t.Placard, Where: t.Where, Entry: t.Entry, Citation: t.Citation, Status: t.Status, Row: t.ID}
	o.Work.Part = r.part(o)
	todo.By = phrases(t.people, o)
	return todo
}

// under says of work that it is a paragraph of 43 appendix A(c).
func (t ToDo) under(row *preventive) ToDo {
	t.Action += " " + row.Words
	t.Citation, t.Status, t.Row = row.Citation, row.Status, row.ID
	return t
}

// compileTasks comes last, as tasks name rows of all other tables.
func (r *Ruleset) compileTasks(rows []TaskRow, collect func(string, error)) {
	named := slices.Clone(StepNames())
	for _, rule := range r.Rules() {
		named = append(named, rule.ID)
	}
	if r.ownKept >= 0 {
		named = append(named, OwnItem)
	}
	for _, row := range rows {
		t := task{TaskRow: row}
		var err error
		t.when, err = r.occasionClause(row.When)
		collect(row.ID, err)
		for _, name := range row.For {
			if !slices.Contains(named, name) {
				collect(row.ID, fmt.Errorf("stands for %q, which is neither a row nor a step", name))
			}
		}
		if row.Outcome != OutcomeUndone.String() && row.Outcome != OutcomeBreached.String() {
			collect(row.ID, fmt.Errorf("outcome %q: want undone or breached", row.Outcome))
		}
		for _, item := range row.Items {
			if _, ok := r.itemIndex[item]; !ok {
				collect(row.ID, fmt.Errorf("item %q is not in the catalog", item))
			}
		}
		if (row.Placard == "") != (row.Where == "") {
			collect(row.ID, errors.New("a placard has words and a place"))
		}
		collect(row.ID, t.parseBy(r))
		r.tasks = append(r.tasks, t)
	}
}

func (t *task) parseBy(r *Ruleset) error {
	if t.By == "" {
		return nil
	}
	var ok bool
	t.verb, t.action, ok = strings.Cut(t.By, ":")
	t.people = r.permitting(t.verb, t.action)
	if !ok || len(t.people) == 0 {
		return fmt.Errorf("by %q: no row permits anybody that", t.By)
	}
	return nil
}
