package engines

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/common/types"

	aw "tiedown/internal/airworthiness"
)

// CELBook is the tables as CEL programs, one a row, compiled once for all aircraft and flights.
//
// A row's program may be written over facts, which is the tables as a reader of CEL would write them. Or it may be
// settled: facts become conditions when an aircraft or a flight is prepared, through two programs a condition, and what a
// determination evaluates has nothing in it but boolean variables. That is how the engine itself does it, with CEL for
// its masks.
type CELBook struct {
	*book
	settled     bool
	conditions  []celCondition
	slots       map[string]int // variable -> its place in an activation's values
	eligibility []cel.Program
	rows        []cel.Program // same places as book.rows
	reliefs     []cel.Program
	procedure   []cel.Program
	pairs       []cel.Program
	kinds       []cel.Program    // rows of an aircraft's own documents: one kind of operation each
	relievedBy  map[string][]int // row -> places of its reliefs; those that bind the flight to nothing come first
}

type celCondition struct {
	key         string
	owner       owner
	expressions [2]string      // over facts, that it holds and that it does not; empty where Go counts
	programs    [2]cel.Program // of these, in a settled book
	slot        int            // of its two variables, which lie side by side; -1 where a program is written over facts
}

// What a row's program answers, as CEL's literals and as values.
const (
	celUnknown   = "0"
	celNo        = "1"
	celYes       = "2"
	celAvoidable = "3" // unknown, and for a flight's fact: a requirement that it can keep out of, a relief that it can claim
	celDone      = "4" // a step that was asked for and has been done
)

const (
	isUnknown types.Int = iota
	isNo
	isYes
	isAvoidable
	isDone
)

// CompileCEL compiles every row of the tables, over facts or settled.
func CompileCEL(tables fs.FS, settled bool) (*CELBook, error) {
	read, err := readBook(tables)
	if err != nil {
		return nil, err
	}
	b := &CELBook{book: read, settled: settled, slots: map[string]int{}, relievedBy: map[string][]int{}}
	var options []cel.EnvOption
	for name, of := range factTypes() {
		options = append(options, cel.Variable(name, of))
		b.slots[name] = len(b.slots)
	}
	for _, key := range b.book.conditions() {
		names, err := b.addCondition(key)
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			options = append(options, cel.Variable(name, cel.BoolType))
		}
	}
	env, err := cel.NewEnv(options...)
	if err != nil {
		return nil, err
	}
	if err := b.compileRows(env); err != nil {
		return nil, err
	}
	for _, binding := range []bool{false, true} {
		for i, relief := range b.book.reliefs {
			for _, id := range relief.relieves {
				if relief.limits == binding {
					b.relievedBy[id] = append(b.relievedBy[id], i)
				}
			}
		}
	}
	return b, nil
}

// addCondition gives a condition its variables, where programs ask for it by name.
func (b *CELBook) addCondition(key string) ([]string, error) {
	of, yes, no, err := condition(key)
	if err != nil {
		return nil, err
	}
	c := celCondition{key: key, owner: of, expressions: [2]string{yes, no}, slot: -1}
	var names []string
	if b.settled || yes == "" {
		c.slot = len(b.slots)
		names = []string{"yes_" + variable(key), "no_" + variable(key)}
		if of == ofUnits {
			names = append(names, "yes_configured_"+variable(key), "no_configured_"+variable(key))
		}
		for _, name := range names {
			b.slots[name] = len(b.slots)
		}
	}
	b.conditions = append(b.conditions, c)
	return names, nil
}

func compile(env *cel.Env, expression string) (cel.Program, error) {
	ast, issues := env.Compile(expression)
	if issues.Err() != nil {
		return nil, fmt.Errorf("%s: %w", expression, issues.Err())
	}
	return env.Program(ast, cel.EvalOptions(cel.OptOptimize))
}

func (b *CELBook) compileRows(env *cel.Env) error {
	var faults []error
	program := func(name, expression string) cel.Program {
		p, err := compile(env, expression)
		if err != nil {
			faults = append(faults, fmt.Errorf("%s: %w", name, err))
		}
		return p
	}
	for i := range b.conditions {
		c := &b.conditions[i]
		if c.slot < 0 || c.expressions[0] == "" {
			continue
		}
		for j, expression := range c.expressions {
			c.programs[j] = program(c.key, expression)
		}
	}
	all := func(rows []bookRow, expression func(*bookRow) string) []cel.Program {
		var programs []cel.Program
		for i := range rows {
			programs = append(programs, program(rows[i].id, expression(&rows[i])))
		}
		return programs
	}
	b.eligibility = all(b.book.eligibility, b.requirement)
	b.rows = all(b.book.rows, b.requirement)
	b.reliefs = all(b.book.reliefs, b.relief)
	b.procedure = all(b.book.procedure, b.step)
	b.pairs = all(b.book.pairs, b.requirement)
	var kinds []bookRow
	for _, kind := range aw.KindNames() {
		kinds = append(kinds, bookRow{id: kind, items: []string{"any"}, when: []term{{key: "kind:" + kind}}})
	}
	b.kinds = all(kinds, b.requirement)
	return errors.Join(faults...)
}

// clauses are the expressions that a row's conjunction becomes.
type clauses struct {
	holds, fails string
	avoidable    string // of one that neither holds nor fails: some condition of the flight is open
	claimable    string // likewise: no other condition is
}

func (b *CELBook) clauses(r *bookRow) clauses {
	var holds, fails []string
	var open [2][]string // conditions that are not the flight's, and that are
	for _, t := range b.ordered(r.when) {
		yes, no := b.truths(t.key, slices.Contains(r.lasting, t.key))
		if t.negated {
			yes, no = no, yes
		}
		holds, fails = append(holds, yes), append(fails, no)
		of := 0
		if b.condition(t.key).owner == ofFlight {
			of = 1
		}
		open[of] = append(open[of], yes)
	}
	c := clauses{holds: every(holds), fails: either(fails)}
	c.avoidable, c.claimable = "!"+every(open[1]), every(open[0])
	switch {
	case len(open[1]) == 0:
		c.avoidable = "false"
	case len(open[0]) == 0:
		c.avoidable = "true"
	}
	return c
}

// ordered puts the conditions of a settled book so that the aircraft's come last: rows that they rule out are not asked.
func (b *CELBook) ordered(terms []term) []term {
	if !b.settled {
		return terms
	}
	terms = slices.Clone(terms)
	slices.SortStableFunc(terms, func(x, y term) int {
		return int(b.condition(y.key).owner) - int(b.condition(x.key).owner)
	})
	return terms
}

func every(terms []string) string {
	if len(terms) == 0 {
		return "true"
	}
	return "(" + strings.Join(terms, " && ") + ")"
}

func either(terms []string) string {
	if len(terms) == 0 {
		return "false"
	}
	return "(" + strings.Join(terms, " || ") + ")"
}

// choose is a conditional expression, without the condition where it is a constant: CEL would evaluate it each time.
func choose(condition, then, otherwise string) string {
	switch condition {
	case "true":
		return then
	case "false":
		return otherwise
	default:
		return "(" + condition + " ? " + then + " : " + otherwise + ")"
	}
}

func (b *CELBook) condition(key string) *celCondition {
	return &b.conditions[slices.IndexFunc(b.conditions, func(c celCondition) bool { return c.key == key })]
}

// truths are the expressions that say that a condition holds and that it does not.
func (b *CELBook) truths(key string, lasting bool) (yes, no string) {
	switch c := b.condition(key); {
	case c.slot < 0:
		return "(" + c.expressions[0] + ")", "(" + c.expressions[1] + ")"
	case lasting:
		return "yes_configured_" + variable(key), "no_configured_" + variable(key)
	default:
		return "yes_" + variable(key), "no_" + variable(key)
	}
}

// requirement is one program a row, whatever comes of it: cheaper than to ask one whether the row holds and, when it does
// not, a second whether it fails.
func (b *CELBook) requirement(r *bookRow) string {
	c := b.clauses(r)
	open := choose(c.avoidable, celAvoidable, celUnknown)
	switch {
	case r.quantity == "note":
		return choose(c.holds, celYes, celNo)
	case r.must != "":
		met, short := b.truths(r.must, false)
		return choose(c.fails, celNo, choose(met, celNo, choose(c.holds, choose(short, celYes, celUnknown), open)))
	default:
		return choose(c.fails, celNo, choose(c.holds, celYes, open))
	}
}

func (b *CELBook) relief(r *bookRow) string {
	c := b.clauses(r)
	return choose(c.fails, celNo, choose(c.holds, celYes, choose(c.claimable, celAvoidable, celUnknown)))
}

func (b *CELBook) step(r *bookRow) string {
	c := b.clauses(r)
	done, undone := b.truths(r.must, false)
	return choose(c.fails, celNo, choose(done, celDone, choose(c.holds, choose(undone, celYes, celUnknown), celUnknown)))
}

// activation is what a row's program reads: one truth value a variable.
type activation struct {
	slots  map[string]int
	values []any
}

// ResolveName finds a variable for CEL.
func (a *activation) ResolveName(name string) (any, bool) {
	slot, ok := a.slots[name]
	if !ok {
		return nil, false
	}
	return a.values[slot], true
}

// Parent says that there is no outer activation.
func (a *activation) Parent() cel.Activation { return nil }

// put sets the two variables of a condition, which lie side by side.
func (a *activation) put(slot int, t aw.Truth) {
	a.values[slot], a.values[slot+1] = types.Bool(t == aw.Yes), types.Bool(t == aw.No)
}

func (b *CELBook) newActivation() *activation {
	a := &activation{b.slots, make([]any, len(b.slots))}
	for i := range a.values {
		a.values[i] = types.False
	}
	return a
}

// prepare puts the facts of one owner into an activation, as CEL's own values so that none is converted again, and, in a
// settled book, the conditions that they settle.
func (b *CELBook) prepare(a *activation, of owner, facts map[string]any) error {
	for name, fact := range facts {
		a.values[b.slots[name]] = types.DefaultTypeAdapter.NativeToValue(fact)
	}
	for i := range b.conditions {
		c := &b.conditions[i]
		if c.owner != of || c.slot < 0 {
			continue
		}
		for j, program := range c.programs {
			value, _, err := program.Eval(a)
			if err != nil {
				return fmt.Errorf("condition %s: %w", c.key, err)
			}
			a.values[c.slot+j] = value
		}
	}
	return nil
}
