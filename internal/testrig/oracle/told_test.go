package oracle_test

import (
	"os"
	"path/filepath"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/testrig/oracle"
	"tiedown/internal/testrig/scenario"
)

const testdata = "../../../testdata"

// TestTheOracleTellsTheStories holds the oracle against the engine on every story, where the edges of the rules are.
func TestTheOracleTellsTheStories(t *testing.T) {
	t.Parallel()
	p := load(t)
	stories, err := scenario.Load(os.DirFS(filepath.Join(testdata, "scenarios")))
	if err != nil {
		t.Fatal(err)
	}
	if len(stories) < 400 {
		t.Fatalf("only %d stories", len(stories))
	}
	refused := 0
	for _, story := range stories {
		c, err := story.Case(demo.Aircraft)
		if err != nil {
			t.Fatal(err)
		}
		both, err := p.ask(c)
		if err != nil {
			refused++ // a story may tell of what is refused
			continue
		}
		if !both.agree() {
			t.Errorf("%s:\n%s", story.Title, p.parted(c))
		}
	}
	if refused > len(stories)/10 {
		t.Errorf("%d of %d stories are refused", refused, len(stories))
	}
}

// TestTheOracleExpectsWhatTheWrittenCasesExpect holds the oracle against verdicts that were read from the regulation.
func TestTheOracleExpectsWhatTheWrittenCasesExpect(t *testing.T) {
	t.Parallel()
	p := load(t)
	files, err := filepath.Glob(filepath.Join(testdata, "cases", "*.json"))
	if err != nil {
		t.Fatal(err)
	}
	if len(files) < 30 {
		t.Fatalf("only %d cases", len(files))
	}
	for _, file := range files {
		raw, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		c, err := casefile.Decode(raw)
		if err != nil {
			t.Fatal(err)
		}
		if have := p.oracle.Judge(c); have.Verdict.String() != c.Expect.Verdict {
			t.Errorf("%s: want %s, have %s", file, c.Expect.Verdict, told(have))
		}
	}
}

// TestWhatPartsIsToldShortly holds that a case on which the two part is told without what does not matter.
func TestWhatPartsIsToldShortly(t *testing.T) {
	t.Parallel()
	p := load(t)
	for _, rule := range []string{
		"landing light for hire", "two-way radio", "rate of turn", "anticollision lights at night", "hazard", "placard inoperative",
		"oxygen above 15,000 ft", "flotation gear", "eligibility", "lapse",
	} {
		forgetful := pair{p.oracle.Without(rule), p.rules}
		small, found := forgetful.parting()
		if !found {
			t.Errorf("%s: nothing parts the two", rule)
			continue
		}
		if units, squawks := len(small.Aircraft.Configuration.Units), len(small.Defects); units > 3 || squawks > 1 {
			t.Errorf("%s: %d units and %d squawks are left:\n%s", rule, units, squawks, written(small))
		}
	}
}

// parting is the first random case on which the two part, made small.
func (p pair) parting() (casefile.Case, bool) {
	for seed := uint64(1); seed < 5000; seed++ {
		c := oracle.Seeded(seed).Case()
		both, err := p.ask(c)
		if err == nil && !both.agree() {
			return p.small(c), true
		}
	}
	return casefile.Case{}, false
}
