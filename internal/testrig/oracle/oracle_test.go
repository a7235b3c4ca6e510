package oracle_test

import (
	"os"
	"runtime"
	"strconv"
	"sync"
	"sync/atomic"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/testrig/oracle"
)

// occasions is how many flights and sets of squawks each random aircraft is judged with.
const occasions = 25

// cases is how many random cases are judged: the ordinary number, or as many as TIEDOWN_ORACLE_CASES says.
func cases(t *testing.T) int {
	t.Helper()
	asked := os.Getenv("TIEDOWN_ORACLE_CASES")
	if asked == "" {
		return ordinarily
	}
	n, err := strconv.Atoi(asked)
	if err != nil || n < 1 {
		t.Fatalf("TIEDOWN_ORACLE_CASES is %q: want a number of cases", asked)
	}
	return n
}

// TestTheEngineAnswersAsTheOracleDoes holds the engine against the second reading of the rules: on the verdict, and on
// which citations stand in the way and how badly.
func TestTheEngineAnswersAsTheOracleDoes(t *testing.T) {
	t.Parallel()
	p := load(t)
	aircraft := uint64(cases(t)+occasions-1) / occasions
	var next, failed atomic.Uint64
	var verdicts [oracle.Grounded + 1]atomic.Uint64
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for seed := next.Add(1); seed <= aircraft && failed.Load() < 3; seed = next.Add(1) {
				told, err := p.compare(oracle.Seeded(seed), &verdicts)
				if err != nil {
					t.Errorf("seed %d: %v", seed, err)
				} else if told != "" {
					t.Errorf("seed %d: the two readings part:\n%s", seed, told)
				}
				if told != "" || err != nil {
					failed.Add(1)
				}
			}
		})
	}
	workers.Wait()
	for verdict := range verdicts {
		n := verdicts[verdict].Load()
		t.Logf("%7d %v", n, oracle.Verdict(verdict))
		if n < aircraft*occasions/100 && failed.Load() == 0 {
			t.Errorf("only %d of %d cases are %v: a hundredth is wanted", n, aircraft*occasions, oracle.Verdict(verdict))
		}
	}
}

// compare puts an aircraft with many squawks and flights to both, and tells of the first case on which they part.
func (p pair) compare(d *oracle.Dealer, verdicts *[oracle.Grounded + 1]atomic.Uint64) (string, error) {
	a := d.Aircraft()
	house := d.House(a)
	theirs, err := p.engine(a, house)
	if err != nil {
		return "", err
	}
	ours := p.oracle.Aircraft(a, house)
	for range occasions {
		defects, flight := d.Occasion(a)
		engine, err := theirs.answer(defects, flight)
		if err != nil {
			return "", err
		}
		answer := ours.Judge(defects, flight)
		if !same(answer, engine) {
			return p.parted(casefile.Case{Aircraft: a, Defects: defects, Flight: flight, Policy: house.Policy, CompanyRules: house.Rules}), nil
		}
		verdicts[answer.Verdict].Add(1)
	}
	return "", nil
}

// TestTheEngineAnswersAsTheOracleDoesToRapid is the same with cases that rapid draws, which it can make smaller by itself.
func TestTheEngineAnswersAsTheOracleDoesToRapid(t *testing.T) {
	t.Parallel()
	p := load(t)
	rapid.Check(t, func(t *rapid.T) {
		c := oracle.Drawn(t).Case()
		both, err := p.ask(c)
		if err != nil {
			t.Fatal(err)
		}
		if !both.agree() {
			t.Fatalf("the two readings part:\n%s", p.parted(c))
		}
	})
}

// TestEveryRuleIsMissedWhenItIsForgotten holds that the comparison can fail: an oracle that has forgotten one rule or one
// step parts from the engine, and the case that shows it can be told.
func TestEveryRuleIsMissedWhenItIsForgotten(t *testing.T) {
	t.Parallel()
	p := load(t)
	const patience = 6000 // aircraft
	missing := map[string]pair{}
	for _, name := range oracle.Names() {
		if _, twice := missing[name]; twice {
			t.Errorf("two rules are called %q", name)
		}
		missing[name] = pair{p.oracle.Without(name), p.rules}
	}
	for seed := uint64(1); seed <= patience && len(missing) > 0; seed++ {
		d := oracle.Seeded(seed)
		a := d.Aircraft()
		house := d.House(a)
		engine, err := p.engine(a, house)
		if err != nil {
			t.Fatal(err)
		}
		forgetful := map[string]*oracle.Aircraft{}
		for name, p := range missing {
			forgetful[name] = p.oracle.Aircraft(a, house)
		}
		for range 5 {
			defects, flight := d.Occasion(a)
			theirs, err := engine.answer(defects, flight)
			if err != nil {
				t.Fatal(err)
			}
			for name := range missing {
				if !same(forgetful[name].Judge(defects, flight), theirs) {
					delete(missing, name)
				}
			}
		}
	}
	for name := range missing {
		t.Errorf("nobody misses the rule %q", name)
	}
}
