package casefile_test

import (
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// fewest is how many cases there must be: a folder that has lost its files must not look green.
const fewest = 30

// TestCases judges every case of testdata/cases. What each expects is read from the regulation that it names as its
// source.
func TestCases(t *testing.T) {
	t.Parallel()
	rules := book(t)
	files := cases(t)
	if len(files) < fewest {
		t.Fatalf("%d cases, want at least %d", len(files), fewest)
	}
	outcomes := map[string]bool{}
	verdicts := map[string]int{}
	for name, raw := range files {
		c, err := casefile.Decode(raw)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if c.Source == "" || c.Story == "" || c.Expect == nil {
			t.Errorf("%s: a case without a story, a source or an expectation", name)
			continue
		}
		q, err := casefile.Compile(c, rules.Ruleset)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		answer := casefile.Judge(q, rules.Ruleset, rules.Digest)
		verdicts[c.Expect.Verdict]++
		for _, f := range c.Expect.Findings {
			outcomes[f.Outcome] = true
		}
		holdCase(t, name, c.Expect, answer)
	}
	for _, v := range airworthiness.Verdicts() {
		if verdicts[v.String()] == 0 {
			t.Errorf("no case expects %s", v)
		}
	}
	for _, outcome := range airworthiness.OutcomeNames() {
		if !outcomes[outcome] && outcome != "limited" { // only kinds of operation as such have open flights
			t.Errorf("no case expects a finding that is %s", outcome)
		}
	}
}

func holdCase(t *testing.T, name string, want *casefile.Expect, got casefile.Answer) {
	t.Helper()
	if got.Verdict != want.Verdict {
		t.Errorf("%s: %s, want %s:%s", name, got.Verdict, want.Verdict, against(got))
	}
	if len(want.Findings) == 0 {
		t.Errorf("%s: a case that expects no finding says only half", name)
	}
	for _, w := range want.Findings {
		if !has(got, w) {
			t.Errorf("%s: no finding %+v among:%s", name, w, against(got))
		}
	}
}

func has(a casefile.Answer, want casefile.ExpectedFinding) bool {
	for _, f := range a.Findings {
		if f.Row == want.Row && f.Outcome == want.Outcome && f.Defect == want.Defect {
			return true
		}
	}
	return false
}

// against lists what did not pass.
func against(a casefile.Answer) string {
	var s strings.Builder
	for _, f := range a.WithoutPasses().Findings {
		s.WriteString("\n  " + f.Row + " " + f.Outcome + " " + f.Verdict + " " + f.Defect + " " + f.Says)
	}
	return s.String()
}
