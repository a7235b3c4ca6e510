package engines

import (
	"bytes"
	"fmt"
	"io/fs"
	"slices"
	"testing"
	"testing/fstest"

	aw "tiedown/internal/airworthiness"
	"tiedown/internal/regulation"
)

// randomCases is how many cases are dealt beside the workload, and moreCases how many for those engines that are quick.
const (
	randomCases = 200
	moreCases   = 1500
)

// books is every engine's book, compiled from tables that the baselines may read differently from the engine.
type books struct {
	tiedown      *aw.Ruleset
	cel, settled *CELBook
	opa          *OPABook
}

func compileBooks(tb testing.TB, tables fs.FS) books {
	tb.Helper()
	current, err := regulation.Current()
	if err != nil {
		tb.Fatal(err)
	}
	b := books{tiedown: current.Ruleset}
	if b.cel, err = CompileCEL(tables, false); err != nil {
		tb.Fatal(err)
	}
	if b.settled, err = CompileCEL(tables, true); err != nil {
		tb.Fatal(err)
	}
	if b.opa, err = CompileOPA(tb.Context(), b.settled); err != nil {
		tb.Fatal(err)
	}
	return b
}

// engines is every engine, ready for one case.
type engines struct {
	tiedown      *Tiedown
	cel, settled *CEL
	opa          *OPA
}

func (b books) prepare(tb testing.TB, c Case) engines {
	tb.Helper()
	e := b.prepareWithoutOPA(tb, c)
	var err error
	if e.opa, err = NewOPA(b.opa, e.settled); err != nil {
		tb.Fatal(err)
	}
	return e
}

func (b books) prepareWithoutOPA(tb testing.TB, c Case) engines {
	tb.Helper()
	var e engines
	var err error
	if e.tiedown, err = NewTiedown(b.tiedown, c); err != nil {
		tb.Fatal(err)
	}
	if e.cel, err = NewCEL(b.cel, c); err != nil {
		tb.Fatal(err)
	}
	if e.settled, err = NewCEL(b.settled, c); err != nil {
		tb.Fatal(err)
	}
	return e
}

// disagreements tells where a baseline says anything else than the engine does: another verdict, or another multiset of
// findings.
func (e engines) disagreements(tb testing.TB) []string {
	tb.Helper()
	inOPA, err := e.opa.Answers(tb.Context())
	if err != nil {
		tb.Fatal(err)
	}
	want := e.tiedown.Answers()
	return slices.Concat(
		differences("CEL", want, e.cel.Answers()),
		differences("settled CEL", want, e.settled.Answers()),
		differences("OPA", want, inOPA),
	)
}

func differences(engine string, want, got []Answer) []string {
	if len(want) != len(got) {
		return []string{fmt.Sprintf("%s answers for %d flights of %d", engine, len(got), len(want))}
	}
	var told []string
	for i := range want {
		if want[i].Verdict != got[i].Verdict {
			told = append(told, fmt.Sprintf("flight %d: tiedown says %s, %s %s", i, want[i].Verdict, engine, got[i].Verdict))
		}
		for _, f := range without(want[i].Findings, got[i].Findings) {
			told = append(told, fmt.Sprintf("flight %d: %s does not find %v", i, engine, f))
		}
		for _, f := range without(got[i].Findings, want[i].Findings) {
			told = append(told, fmt.Sprintf("flight %d: only %s finds %v", i, engine, f))
		}
	}
	return told
}

// without is the multiset of findings that are in a and not in b.
func without(a, b []Finding) []Finding {
	b = slices.Clone(b)
	var rest []Finding
	for _, f := range a {
		if i := slices.Index(b, f); i >= 0 {
			b = slices.Delete(b, i, i+1)
		} else {
			rest = append(rest, f)
		}
	}
	return rest
}

// cases are the workload and the random ones.
func cases(b *book, random uint64) []Case {
	items := bearing(b)
	all := []Case{Workload()}
	for seed := range random {
		all = append(all, newDeal(seed).deal(items))
	}
	return all
}

// TestSameAnswers holds all engines against each other: every verdict and every finding, over the workload and the random
// cases.
func TestSameAnswers(t *testing.T) {
	t.Parallel()
	b := compileBooks(t, regulation.Tables())
	for i, c := range cases(b.cel.book, randomCases) {
		for _, told := range b.prepare(t, c).disagreements(t) {
			t.Errorf("case %d, %s", i, told)
		}
	}
}

// TestSameAnswersInCEL holds CEL against the engine over more cases, so that the bounds of every row are met.
func TestSameAnswersInCEL(t *testing.T) {
	t.Parallel()
	b := compileBooks(t, regulation.Tables())
	for i, c := range cases(b.cel.book, moreCases) {
		e := b.prepareWithoutOPA(t, c)
		want := e.tiedown.Answers()
		for _, told := range slices.Concat(differences("CEL", want, e.cel.Answers()), differences("settled CEL", want, e.settled.Answers())) {
			t.Errorf("case %d, %s", i, told)
		}
	}
}

// TestCasesReachEverything holds that the cases are worth comparing: every verdict and outcome occurs, and four rows of
// five do.
func TestCasesReachEverything(t *testing.T) {
	t.Parallel()
	b := compileBooks(t, regulation.Tables())
	verdicts, outcomes, rows := map[aw.Verdict]int{}, map[aw.Outcome]int{}, map[string]int{}
	for _, c := range cases(b.cel.book, randomCases) {
		e, err := NewTiedown(b.tiedown, c)
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range e.Answers() {
			verdicts[a.Verdict]++
			for _, f := range a.Findings {
				outcomes[f.Outcome]++
				rows[f.Row]++
			}
		}
	}
	for _, v := range aw.Verdicts() {
		if verdicts[v] == 0 {
			t.Errorf("no flight is %s", v)
		}
	}
	for i, name := range aw.OutcomeNames() {
		if outcomes[aw.Outcome(i)] == 0 {
			t.Errorf("no finding is %s", name)
		}
	}
	var missing []string
	for _, r := range slices.Concat(b.cel.book.rows, b.cel.book.procedure, b.cel.book.pairs) {
		if rows[r.id] == 0 {
			missing = append(missing, r.id)
		}
	}
	if whole := len(b.cel.book.rows) + len(b.cel.book.procedure) + len(b.cel.book.pairs); len(missing)*5 > whole {
		t.Errorf("%d of %d rows occur in no finding: %v", len(missing), whole, missing)
	}
}

// TestABrokenRowIsNoticed breaks one row of each table, for the baselines only: the comparison must tell.
func TestABrokenRowIsNoticed(t *testing.T) {
	t.Parallel()
	for _, broken := range []struct{ table, from, to string }{
		{"requirements", "landing-light,1,,powered certificate:standard night for-hire,", "landing-light,1,,powered certificate:standard for-hire,"},
		{"requirements", "approved:day-vfr,kind:day-vfr,", "approved:day-ifr,kind:day-vfr,"},
		{"type_certification", "fuel-quantity-gauge,each-tank,,basis:part-23-before-64,", "fuel-quantity-gauge,1,,basis:part-23-before-64,"},
		{"reliefs", "91.207-a 91.205-b-15 91.207-c-1 91.207-c-2 91.207-d,training-within-50nm,", "91.207-a 91.205-b-15 91.207-c-1 91.207-c-2 91.207-d,!training-within-50nm,"},
		{"procedure", "91.213(d)(4),,hazard-determined,", "91.213(d)(4),removed,hazard-determined,"},
		{"procedure", "91.213(d)(4),hazard-determined,hazard-considered,", "91.213(d)(4),removed,hazard-considered,"},
		{"interactions", "vor-receiver|area-navigation-system,ifr,", "vor-receiver|area-navigation-system,!ifr,"},
		{"eligibility", "category:airplane small !engine:turbine,", "category:airplane small engine:turbine,"},
	} {
		t.Run(broken.table+" "+broken.to, func(t *testing.T) {
			t.Parallel()
			tables := fstest.MapFS{}
			for _, name := range regulation.TableNames() {
				raw, err := fs.ReadFile(regulation.Tables(), name+".csv")
				if err != nil {
					t.Fatal(err)
				}
				if name == broken.table {
					whole := raw
					if raw = bytes.Replace(raw, []byte(broken.from), []byte(broken.to), 1); bytes.Equal(raw, whole) {
						t.Fatalf("the table has no row %q to break", broken.from)
					}
				}
				tables[name+".csv"] = &fstest.MapFile{Data: raw}
			}
			b := compileBooks(t, tables)
			noticed := map[string]bool{}
			for _, c := range cases(b.cel.book, randomCases) {
				e := b.prepare(t, c)
				want := e.tiedown.Answers()
				inOPA, err := e.opa.Answers(t.Context())
				if err != nil {
					t.Fatal(err)
				}
				noticed["CEL"] = noticed["CEL"] || len(differences("CEL", want, e.cel.Answers())) > 0
				noticed["settled CEL"] = noticed["settled CEL"] || len(differences("settled CEL", want, e.settled.Answers())) > 0
				noticed["OPA"] = noticed["OPA"] || len(differences("OPA", want, inOPA)) > 0
			}
			for engine, noticed := range noticed {
				if !noticed {
					t.Errorf("%s answers as if the row were whole", engine)
				}
			}
		})
	}
}
