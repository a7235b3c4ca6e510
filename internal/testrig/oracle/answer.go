package oracle

// Verdict is the answer to a case, best first, in the words of the written form.
type Verdict int

// The verdicts. Clear and Limited permit the flight, the others hold it.
const (
	Clear Verdict = iota
	Limited
	DeferFirst
	Undetermined
	Grounded
)

func (v Verdict) String() string {
	return [...]string{"clear", "limited", "defer-first", "undetermined", "grounded"}[v]
}

// Answer is what the oracle says of a case: the verdict and, for each citation that stands in the way, how badly.
type Answer struct {
	Verdict Verdict
	Blocks  map[string]Verdict
}

// note takes in what one rule answered.
func (a *Answer) note(citation string, v Verdict) {
	a.Verdict = max(a.Verdict, v)
	if v > Limited {
		a.Blocks[citation] = max(a.Blocks[citation], v)
	}
}

// forbids is the verdict of a rule that stands in the way: for certain, perhaps, or not.
func forbids(stands truth) Verdict {
	switch stands {
	case yes:
		return Grounded
	case no:
		return Clear
	case unknown:
	}
	return Undetermined
}

// required is the verdict of something that the flight must have when a rule applies to it.
func required(applies, met truth) Verdict { return forbids(all(applies, not(met))) }

// unless is the verdict of a requirement that a relief lifts. A flight that needs the relief is bound to its conditions.
func unless(v Verdict, relief truth) Verdict {
	switch {
	case v <= Limited || relief == no:
		return v
	case relief == yes:
		return Limited
	}
	return Undetermined
}
