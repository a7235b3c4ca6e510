package oracle_test

import (
	"os"
	"strings"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/testrig/oracle"
)

func differences(ours, theirs oracle.Answer) map[string]bool {
	diffs := map[string]bool{}
	for c, v := range ours.Blocks {
		if w := theirs.Blocks[c]; w != v {
			diffs[c+" oracle "+v.String()+" engine "+w.String()] = true
		}
	}
	for c, w := range theirs.Blocks {
		if _, ok := ours.Blocks[c]; !ok {
			diffs[c+" oracle clear engine "+w.String()] = true
		}
	}
	if len(diffs) == 0 && ours.Verdict != theirs.Verdict {
		diffs["verdict oracle "+ours.Verdict.String()+" engine "+theirs.Verdict.String()] = true
	}
	return diffs
}

func TestProbe(t *testing.T) {
	p := load(t)
	diffs := map[string]int{}
	example := map[string]casefile.Case{}
	agree, n := 0, 0
	for seed := range uint64(2000) {
		d := oracle.Seeded(seed)
		a := d.Aircraft()
		e, err := p.engine(a)
		if err != nil {
			t.Fatal(err)
		}
		for range 10 {
			defects, flight := d.Occasion(a)
			theirs, err := e.answer(defects, flight)
			if err != nil {
				t.Fatal(err)
			}
			ours := p.judge(a, defects, flight)
			n++
			if same(ours, theirs) {
				agree++
				continue
			}
			for k := range differences(ours, theirs) {
				diffs[k]++
				if diffs[k] == 1 {
					example[k] = casefile.Case{Aircraft: a, Defects: defects, Flight: flight}
				}
			}
		}
	}
	t.Log(agree, "of", n)
	want := os.Getenv("WANT")
	for _, k := range sortedKeys(diffs) {
		t.Logf("%6d %s", diffs[k], k)
		if want == "" || !strings.Contains(k, want) {
			continue
		}
		small := oracle.Shrink(example[k], func(c casefile.Case) bool {
			e, err := p.engine(c.Aircraft)
			if err != nil {
				return false
			}
			theirs, err := e.answer(c.Defects, c.Flight)
			return err == nil && differences(p.oracle.Judge(c), theirs)[k]
		})
		t.Logf("%s", compact(small))
	}
}
