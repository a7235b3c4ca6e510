package inquiry

import (
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
)

// allOfThese settles the case one fact after another, once with the values that do best and once with those that do
// worst. It gives nothing where that comes to no end: then no fact that can be entered here settles the case.
func (s *search) allOfThese() *AllOfThese {
	best, worst := s.walk(better), s.walk(worse)
	if best == nil || worst == nil {
		return nil
	}
	all := &AllOfThese{Best: *best, Worst: *worst}
	if best.verdict().WorseThan(worst.verdict()) {
		all.Best, all.Worst = all.Worst, all.Best
	}
	for _, v := range slices.Concat(best.Values, worst.Values) {
		all.Facts = appendNew(all.Facts, v.Fact)
	}
	slices.Sort(all.Facts)
	return all
}

// verdict is the outcome's in the engine's words, from which it was written.
func (o *Outcome) verdict() airworthiness.Verdict {
	v, _ := airworthiness.ParseVerdict(o.Verdict)
	return v
}

// walk fills in the missing facts in the order of their names, each with the value that prefers says is best, until the
// case is settled.
func (s *search) walk(prefers func(a, b judged) bool) *Outcome {
	var with []choice
	now, err := s.judge(nil)
	for err == nil && now.verdict == airworthiness.Undetermined && s.left > 0 {
		f := s.next(now.open, with)
		if f == nil {
			return nil
		}
		s.add([]openFact{*f})
		at, reached := -1, judged{}
		for v := range f.values {
			if s.left <= 0 {
				break
			}
			j, err := s.judge(append(slices.Clone(with), choice{f, v}))
			if err == nil && (at < 0 || prefers(j, reached)) {
				at, reached = v, j
			}
		}
		if at < 0 {
			return nil
		}
		with, now = append(with, choice{f, at}), reached
	}
	if err != nil || now.verdict == airworthiness.Undetermined {
		return nil
	}
	o := outcome(with, now.verdict)
	return &o
}

// next is the first open fact that has values to try and has not been filled in.
func (s *search) next(open []openFact, with []choice) *openFact {
	slices.SortStableFunc(open, func(a, b openFact) int { return strings.Compare(a.name, b.name) })
	for i := range open {
		taken := slices.ContainsFunc(with, func(c choice) bool { return c.fact.name == open[i].name })
		if len(open[i].values) > 0 && !taken {
			return &open[i]
		}
	}
	return nil
}

// better prefers what leaves the flight the best verdict, and then what leaves less unknown.
func better(a, b judged) bool {
	if a.settled != b.settled {
		return b.settled.WorseThan(a.settled)
	}
	return a.unknown < b.unknown
}

// worse prefers what gives the flight the worst verdict, and then what leaves less unknown.
func worse(a, b judged) bool {
	if a.settled != b.settled {
		return a.settled.WorseThan(b.settled)
	}
	return a.unknown < b.unknown
}
