package oracle_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/regulation"
	"tiedown/internal/testrig/oracle"
)

// pair holds the two that are compared.
type pair struct {
	oracle oracle.Oracle
	rules  *airworthiness.Ruleset
}

func load(t testing.TB) pair {
	t.Helper()
	items, err := regulation.Tables().Open("items.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer items.Close()
	catalog, err := oracle.ReadCatalog(items)
	if err != nil {
		t.Fatal(err)
	}
	book, err := regulation.Load(regulation.Tables())
	if err != nil {
		t.Fatal(err)
	}
	return pair{oracle.New(catalog), book.Ruleset}
}

// ranks are the engine's verdicts in the order of the oracle's.
var ranks = map[airworthiness.Verdict]oracle.Verdict{
	airworthiness.Clear: oracle.Clear, airworthiness.Limited: oracle.Limited, airworthiness.DeferFirst: oracle.DeferFirst,
	airworthiness.Undetermined: oracle.Undetermined, airworthiness.Grounded: oracle.Grounded,
}

// engine answers many occasions of one aircraft.
type engine struct {
	rules    *airworthiness.Ruleset
	aircraft casefile.Aircraft
	policy   casefile.Policy
	plan     *airworthiness.Plan
	d        airworthiness.Determination
}

func (p pair) engine(a casefile.Aircraft, house oracle.House) (*engine, error) {
	rules, err := casefile.CompileCompanyRules(house.Rules, p.rules)
	if err != nil {
		return nil, err
	}
	plan, err := casefile.CompileAircraft(a, rules, "")
	return &engine{rules: rules, aircraft: a, policy: house.Policy, plan: plan}, err
}

func (e *engine) answer(defects []casefile.Defect, flight casefile.Flight) (oracle.Answer, error) {
	compiled, err := casefile.CompileDefects(defects, e.aircraft.Configuration, e.rules)
	if err != nil {
		return oracle.Answer{}, err
	}
	if err := e.policy.Apply(compiled); err != nil {
		return oracle.Answer{}, err
	}
	f, err := casefile.CompileFlight(flight, e.aircraft.Facts)
	if err != nil {
		return oracle.Answer{}, err
	}
	prepared := e.rules.Prepare(f)
	e.plan.Determine(&e.d, compiled, &prepared)
	a := oracle.Answer{Verdict: ranks[e.d.Verdict], Blocks: map[string]oracle.Verdict{}}
	for i := range e.d.Findings {
		finding := &e.d.Findings[i]
		if v := ranks[finding.Verdict]; v > oracle.Limited {
			citation, _, _ := strings.Cut(e.plan.Explain(finding).Citation, ";")
			a.Blocks[citation] = max(a.Blocks[citation], v)
		}
	}
	return a, nil
}

func same(a, b oracle.Answer) bool { return a.Verdict == b.Verdict && maps.Equal(a.Blocks, b.Blocks) }

// answers are what both say of one case.
type answers struct{ oracle, engine oracle.Answer }

func (a answers) agree() bool { return same(a.oracle, a.engine) }

// ask puts one case to both.
func (p pair) ask(c casefile.Case) (answers, error) {
	e, err := p.engine(c.Aircraft, oracle.House{Policy: c.Policy, Rules: c.CompanyRules})
	if err != nil {
		return answers{}, err
	}
	theirs, err := e.answer(c.Defects, c.Flight)
	return answers{p.oracle.Judge(c), theirs}, err
}

// small is a case on which the two part, after everything has been taken away that it can spare.
func (p pair) small(c casefile.Case) casefile.Case {
	return oracle.Shrink(c, func(c casefile.Case) bool {
		both, err := p.ask(c)
		return err == nil && !both.agree()
	})
}

// parted tells of a case on which the two part.
func (p pair) parted(c casefile.Case) string {
	small := p.small(c)
	both, err := p.ask(small)
	if err != nil {
		return err.Error()
	}
	return fmt.Sprintf("%s\n\nthe oracle says %v, the engine says %v:%s", written(small), both.oracle.Verdict, both.engine.Verdict, both.differences())
}

// differences lists the citations on which the two part.
func (a answers) differences() string {
	all := maps.Clone(a.oracle.Blocks)
	maps.Copy(all, a.engine.Blocks)
	var b strings.Builder
	for _, citation := range slices.Sorted(maps.Keys(all)) {
		if ours, theirs := a.oracle.Blocks[citation], a.engine.Blocks[citation]; ours != theirs {
			fmt.Fprintf(&b, "\n  %s: the oracle %v, the engine %v", citation, ours, theirs)
		}
	}
	return b.String()
}

// told is an answer in words.
func told(a oracle.Answer) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%v", a.Verdict)
	for _, citation := range slices.Sorted(maps.Keys(a.Blocks)) {
		fmt.Fprintf(&b, "\n  %-12v %s", a.Blocks[citation], citation)
	}
	return b.String()
}

func written(c casefile.Case) string {
	raw, err := json.MarshalIndent(c, "", " ")
	if err != nil {
		return err.Error()
	}
	return string(raw)
}
