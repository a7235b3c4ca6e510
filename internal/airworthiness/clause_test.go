package airworthiness

import (
	"testing"

	"pgregory.net/rapid"
)

// TestAClauseIsAConjunction holds a clause against the conjunction of its terms, for every state of three conditions.
func TestAClauseIsAConjunction(t *testing.T) {
	t.Parallel()
	var c clause
	wanted, unwanted := []int{3, 64}, []int{127} // in both machine words
	for _, i := range wanted {
		c.all.set(i)
	}
	for _, i := range unwanted {
		c.none.set(i)
	}
	values := []Truth{No, Unknown, Yes}
	for _, x := range values {
		for _, y := range values {
			for _, z := range values {
				var s state
				s.put(3, x)
				s.put(64, y)
				s.put(127, z)
				want := x.And(y).And(z.Not())
				if got := c.holds(&s); got != want {
					t.Errorf("%s and %s and not %s is %s, want %s", x, y, z, got, want)
				}
				open := c.open(&s)
				for i, truth := range map[int]Truth{3: x, 64: y, 127: z} {
					if open.has(i) != (truth == Unknown) {
						t.Errorf("condition %d is %s, open %t", i, truth, open.has(i))
					}
				}
				if want == Unknown && open.empty() {
					t.Errorf("%s and %s and not %s: unknown, though nothing is open", x, y, z)
				}
			}
		}
	}
}

func TestAnEmptyClauseHolds(t *testing.T) {
	t.Parallel()
	var c clause
	if got := c.holds(&state{}); got != Yes {
		t.Errorf("a clause without conditions is %s, want yes", got)
	}
}

// TestAMaskIsASet holds a mask against a set of numbers.
func TestAMaskIsASet(t *testing.T) {
	t.Parallel()
	members := rapid.SliceOfDistinct(rapid.IntRange(0, maxConditions-1), func(i int) int { return i })
	rapid.Check(t, func(t *rapid.T) {
		a, b := members.Draw(t, "a"), members.Draw(t, "b")
		set := func(members []int) (mask, map[int]bool) {
			var m mask
			in := map[int]bool{}
			for _, i := range members {
				m.set(i)
				in[i] = true
			}
			return m, in
		}
		m, inA := set(a)
		n, inB := set(b)
		and, or, without, overlap := m.and(n), m.or(n), m.without(n), false
		last, seen := -1, 0
		m.each(func(i int) {
			if i <= last || !inA[i] {
				t.Fatalf("%d comes after %d", i, last)
			}
			last = i
			seen++
		})
		for i := range maxConditions {
			overlap = overlap || inA[i] && inB[i]
			if m.has(i) != inA[i] || and.has(i) != (inA[i] && inB[i]) || or.has(i) != (inA[i] || inB[i]) || without.has(i) != (inA[i] && !inB[i]) {
				t.Fatalf("%d of %v and %v", i, a, b)
			}
		}
		if seen != len(a) || m.overlaps(n) != overlap || m.empty() != (len(a) == 0) {
			t.Fatalf("%v and %v", a, b)
		}
	})
}

// TestEveryStepAndOutcomeHasItsWords holds the tables of words beside the enumerations.
func TestEveryStepAndOutcomeHasItsWords(t *testing.T) {
	t.Parallel()
	if len(outcomeNames) != int(OutcomeNoted)+1 {
		t.Errorf("%d names of outcomes", len(outcomeNames))
	}
	if len(severity) != len(verdictNames) || len(Verdicts()) != len(verdictNames) {
		t.Error("a verdict has no severity, no name or no place in the list")
	}
	for step := range steps {
		if len(mayBeAsked[step]) == 0 {
			t.Errorf("there is no way to ask the step %s", step)
		}
	}
	for name, words := range vocabulary {
		if len(words) == 0 {
			t.Errorf("the fact %s has no words", name)
		}
	}
}
