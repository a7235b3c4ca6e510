package engines

import (
	"strings"
	"testing"
	"time"

	"github.com/google/cel-go/cel"
	"github.com/google/cel-go/common/types"
	"github.com/google/cel-go/common/types/ref"

	"tiedown/internal/regulation"
)

// ready is every engine, ready for the workload. One operation of any benchmark is the whole of it: eight defects, four
// kinds of operation.
func ready(b *testing.B) engines {
	b.Helper()
	return compileBooks(b, regulation.Tables()).prepare(b, Workload())
}

func (t *Tiedown) judgeAll() {
	t.Stand()
	for i := range t.flights {
		t.Judge(i)
	}
}

func (t *Tiedown) decideAll() {
	t.Stand()
	for i := range t.flights {
		t.Decide(i)
	}
}

func (c *CEL) decideAll() {
	c.Stand()
	for i := range c.flights {
		c.Decide(i)
	}
}

func (c *CEL) judgeAll() {
	c.Stand()
	for i := range c.flights {
		c.Judge(i)
	}
}

func (o *OPA) judgeAll(b *testing.B) {
	for i := range o.inputs {
		if _, err := o.Judge(b.Context(), i); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkTiedown(b *testing.B) {
	e := ready(b).tiedown
	b.ReportAllocs()
	for b.Loop() {
		e.judgeAll()
	}
}

// BenchmarkCEL is the tables in CEL as a reader of CEL would write them: a program a row over facts.
func BenchmarkCEL(b *testing.B) {
	e := ready(b).cel
	b.ReportAllocs()
	for b.Loop() {
		e.judgeAll()
	}
}

// BenchmarkCELSettled gives CEL all the preparation that the engine itself has.
func BenchmarkCELSettled(b *testing.B) {
	e := ready(b).settled
	b.ReportAllocs()
	for b.Loop() {
		e.judgeAll()
	}
}

func BenchmarkOPA(b *testing.B) {
	e := ready(b).opa
	b.ReportAllocs()
	for b.Loop() {
		e.judgeAll(b)
	}
}

// BenchmarkRatios measures the engines by turns in one run and says how many times as long as the engine each baseline
// takes. Each engine's time is that of its least disturbed turn, which is kind to the baseline that makes garbage.
func BenchmarkRatios(b *testing.B) {
	e := ready(b)
	turns := []struct {
		name  string
		times int // in one turn, about as long for each engine
		judge func()
		best  time.Duration
	}{
		{"tiedown", 400, e.tiedown.judgeAll, 0},
		{"cel", 20, e.cel.judgeAll, 0},
		{"cel-settled", 40, e.settled.judgeAll, 0},
		{"tiedown-decides", 400, e.tiedown.decideAll, 0},
		{"cel-decides", 20, e.cel.decideAll, 0},
		{"cel-settled-decides", 40, e.settled.decideAll, 0},
		{"opa", 1, func() { e.opa.judgeAll(b) }, 0},
	}
	for b.Loop() {
		for i := range turns {
			turn := &turns[i]
			before := b.Elapsed()
			for range turn.times {
				turn.judge()
			}
			took := (b.Elapsed() - before) / time.Duration(turn.times)
			if turn.best == 0 || took < turn.best {
				turn.best = took
			}
		}
	}
	b.ReportMetric(0, "ns/op") // of all engines together: says nothing
	ours := float64(turns[0].best)
	b.ReportMetric(ours, "ns-tiedown")
	for _, turn := range turns[1:] {
		b.ReportMetric(float64(turn.best)/ours, "x-"+turn.name)
	}
}

// BenchmarkCELThreeValues compares three ways to ask CEL one row in three values: one program that answers with a number,
// two that answer whether the row holds and, if it does not, whether it fails, and CEL's own unknowns.
func BenchmarkCELThreeValues(b *testing.B) {
	const holds, fails = "a && b && c && d && e", "not_a || not_b || not_c || not_d || not_e"
	names := []string{"a", "b", "c", "d", "e"}
	var options []cel.EnvOption
	for _, name := range names {
		options = append(options, cel.Variable(name, cel.BoolType), cel.Variable("not_"+name, cel.BoolType))
	}
	env, err := cel.NewEnv(options...)
	if err != nil {
		b.Fatal(err)
	}
	program := func(expression string, of cel.EvalOption) cel.Program {
		ast, issues := env.Compile(expression)
		if issues.Err() != nil {
			b.Fatal(issues.Err())
		}
		p, err := env.Program(ast, cel.EvalOptions(of))
		if err != nil {
			b.Fatal(err)
		}
		return p
	}
	eval := func(b *testing.B, p cel.Program, activation any) ref.Val {
		b.Helper()
		out, _, err := p.Eval(activation)
		if err != nil {
			b.Fatal(err)
		}
		return out
	}
	one := program("("+fails+") ? 1 : (("+holds+") ? 2 : 0)", cel.OptOptimize)
	does, doesNot := program(holds, cel.OptOptimize), program(fails, cel.OptOptimize)
	unknowns := program(holds, cel.OptPartialEval)

	for _, row := range []struct {
		name         string
		yes, no      string
		patterns     []*cel.AttributePatternType
		want, wanted ref.Val
	}{
		{"holds", "abcde", "", nil, types.Int(2), types.True},
		{"fails", "abc", "de", nil, types.Int(1), types.False},
		{"unknown", "abc", "", []*cel.AttributePatternType{cel.AttributePattern("d"), cel.AttributePattern("e")}, types.Int(0), nil},
	} {
		known := map[string]any{}
		for _, name := range names {
			known[name] = types.Bool(strings.Contains(row.yes, name))
			known["not_"+name] = types.Bool(strings.Contains(row.no, name))
		}
		vars, err := cel.NewActivation(known)
		if err != nil {
			b.Fatal(err)
		}
		partial, err := cel.PartialVars(known, row.patterns...)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(row.name+"/one program", func(b *testing.B) {
			for b.Loop() {
				if out := eval(b, one, vars); out != row.want {
					b.Fatal(out)
				}
			}
		})
		b.Run(row.name+"/two programs", func(b *testing.B) {
			for b.Loop() {
				if eval(b, does, vars) != types.True && (eval(b, doesNot, vars) == types.True) != (row.wanted == types.False) {
					b.Fatal("the wrong answer")
				}
			}
		})
		b.Run(row.name+"/unknowns", func(b *testing.B) {
			for b.Loop() {
				if out := eval(b, unknowns, partial); types.IsUnknown(out) != (row.wanted == nil) {
					b.Fatal(out)
				}
			}
		})
	}
}
