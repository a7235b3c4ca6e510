package engines

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/open-policy-agent/opa/v1/ast"
	"github.com/open-policy-agent/opa/v1/rego"

	aw "tiedown/internal/airworthiness"
)

//go:embed decision.rego
var decision string

// OPABook is the tables in Rego, prepared once for all aircraft and flights: one rule a row, found by its key.
type OPABook struct {
	query rego.PreparedEvalQuery
}

// CompileOPA generates a rule for every row of the tables and prepares the query. The counting and the conditions come
// from b, which must be settled.
func CompileOPA(ctx context.Context, b *CELBook) (*OPABook, error) {
	query, err := rego.New(
		rego.Query("data.tiedown.decision"),
		rego.Module("decision.rego", decision),
		rego.Module("tables.rego", regoTables(b)),
	).PrepareForEval(ctx)
	return &OPABook{query}, err
}

// regoTables writes the rows that the decision asks for by key: applies and lifts over the conditions of the input, and
// answer over those of one defect.
func regoTables(b *CELBook) string {
	var s strings.Builder
	s.WriteString("package tiedown\n")
	chain := func(head string, branches []branch) {
		s.WriteString("\n" + head)
		for i, branch := range branches {
			if i > 0 {
				s.WriteString("\nelse")
			}
			fmt.Fprintf(&s, " := %s", branch.answer)
			if branch.when != "" {
				fmt.Fprintf(&s, " if { %s }", branch.when)
			}
			s.WriteString("\n")
		}
	}
	chain(`applies["always"]`, []branch{{`"yes"`, ""}})
	rows := b.book.rows
	for _, kind := range aw.KindNames() {
		rows = append(rows, bookRow{id: "kind:" + kind, when: []term{{key: "kind:" + kind}}})
	}
	for i := range rows {
		chain(fmt.Sprintf("applies[%q]", rows[i].id), b.regoRow(&rows[i]))
	}
	for i := range b.book.reliefs {
		r := &b.book.reliefs[i]
		yes := "free"
		if r.limits {
			yes = "bound"
		}
		chain(fmt.Sprintf("lifts[%q]", r.id), b.regoClause(r, yes, "claimable"))
	}
	for i := range b.book.pairs {
		r := &b.book.pairs[i]
		chain(fmt.Sprintf("plays[%q]", r.id), b.regoClause(r, "yes", "avoidable"))
		fmt.Fprintf(&s, "\nbinds[%q] := %t\n", r.id, r.limits)
	}
	var answers []string
	for i := range b.book.procedure {
		r := &b.book.procedure[i]
		chain(fmt.Sprintf("answer_%d(d)", i), b.regoStep(r))
		answers = append(answers, fmt.Sprintf("answer_%d(d)", i))
	}
	fmt.Fprintf(&s, "\nanswers(d) := [\n\t%s,\n]\n", strings.Join(answers, ",\n\t"))
	return s.String()
}

// branch is one answer of an else-chain, as Rego writes it; the last may have no condition.
type branch struct{ answer, when string }

// regoTerm is the expression that a condition is as wanted, or is known not to be.
func regoTerm(t term, lasting, wanted bool) string {
	of, key := "yes", t.key
	if t.negated == wanted {
		of = "no"
	}
	if lasting {
		key = "configured " + key
	}
	return fmt.Sprintf("input.%s[%q]", of, key)
}

// regoClause is a row's conjunction in three values: no, what it is called when it holds, what it is called when only the
// flight's conditions are open (any of a requirement's, all of a relief's), or unknown.
func (b *CELBook) regoClause(r *bookRow, yes, open string) []branch {
	var branches []branch
	var holds, flight, others []string
	for _, t := range r.when {
		lasting := slices.Contains(r.lasting, t.key)
		branches = append(branches, branch{`"no"`, regoTerm(t, lasting, false)})
		holds = append(holds, regoTerm(t, lasting, true))
		if b.condition(t.key).owner == ofFlight {
			flight = append(flight, regoTerm(t, lasting, true))
		} else {
			others = append(others, regoTerm(t, lasting, true))
		}
	}
	branches = append(branches, branch{`"` + yes + `"`, strings.Join(holds, "; ")})
	switch {
	case len(holds) == 0:
		return branches
	case open == "claimable":
		branches = append(branches, branch{`"` + open + `"`, strings.Join(others, "; ")})
		if len(others) == 0 {
			return branches
		}
	case len(others) == 0:
		return append(branches, branch{`"` + open + `"`, ""})
	default:
		for _, term := range flight {
			branches = append(branches, branch{`"` + open + `"`, "not " + term})
		}
	}
	return append(branches, branch{`"unknown"`, ""})
}

func (b *CELBook) regoRow(r *bookRow) []branch {
	clause := b.regoClause(r, "yes", "avoidable")
	if r.must == "" {
		return clause
	}
	must := term{key: r.must}
	branches := []branch{{`"no"`, regoTerm(must, false, true)}}
	for _, br := range clause {
		if br.answer == `"yes"` { // and whether what must hold does not is known
			unknown := branch{`"unknown"`, br.when}
			br.when = strings.TrimPrefix(br.when+"; "+regoTerm(must, false, false), "; ")
			branches = append(branches, br, unknown)
			continue
		}
		branches = append(branches, br)
	}
	return branches
}

// regoStep answers with step, row, outcome and verdict.
func (b *CELBook) regoStep(r *bookRow) []branch {
	of := func(t term, wanted bool) string {
		return "d" + strings.TrimPrefix(regoTerm(t, false, wanted), "input")
	}
	answer := func(outcome string, v aw.Verdict) string {
		return fmt.Sprintf("[%q, %q, %q, %q]", r.step, r.id, outcome, v)
	}
	must := term{key: r.must}
	var branches []branch
	var undone []string
	for _, t := range r.when {
		branches = append(branches, branch{answer("none", aw.Clear), of(t, false)})
		undone = append(undone, of(t, true))
	}
	undone = append(undone, of(must, false))
	return append(
		branches,
		branch{answer("done", aw.Clear), of(must, true)},
		branch{answer("undone", r.otherwise), strings.Join(undone, "; ")},
		branch{answer("unknown", aw.Undetermined), ""},
	)
}

// OPA judges with the tables as Rego rules. Everything that does not hang on a row is counted in Go and comes in with the
// input, which is made beforehand, one a flight, as OPA's own values.
type OPA struct {
	*OPABook
	inputs []ast.Value
}

// NewOPA prepares a case. The inputs hold what c, which must be settled, has counted.
func NewOPA(b *OPABook, c *CEL) (*OPA, error) {
	engine := &OPA{OPABook: b}
	c.Stand()
	for i := range c.flights {
		input, err := ast.InterfaceToValue(c.regoInput(i))
		if err != nil {
			return nil, err
		}
		engine.inputs = append(engine.inputs, input)
	}
	return engine, nil
}

// Judge evaluates the whole decision for one flight.
func (o *OPA) Judge(ctx context.Context, flight int) (rego.ResultSet, error) {
	return o.query.Eval(ctx, rego.EvalParsedInput(o.inputs[flight]))
}

// Answers judges every flight and puts the answers into the common form.
func (o *OPA) Answers(ctx context.Context) ([]Answer, error) {
	var answers []Answer
	for i := range o.inputs {
		results, err := o.Judge(ctx, i)
		if err != nil {
			return nil, err
		}
		raw, err := json.Marshal(results[0].Expressions[0].Value)
		if err != nil {
			return nil, err
		}
		var told struct {
			Verdict  string
			Findings [][5]string
		}
		if err := json.Unmarshal(raw, &told); err != nil {
			return nil, err
		}
		var a Answer
		a.Verdict, _ = aw.ParseVerdict(told.Verdict)
		for _, f := range told.Findings {
			finding := Finding{Defect: f[0], Row: f[2]}
			finding.Step, err = stepNamed(f[1])
			if err != nil {
				return nil, err
			}
			finding.Outcome = outcomeNamed(f[3])
			finding.Verdict, _ = aw.ParseVerdict(f[4])
			a.Findings = append(a.Findings, finding)
		}
		answers = append(answers, a.sorted())
	}
	return answers, nil
}
