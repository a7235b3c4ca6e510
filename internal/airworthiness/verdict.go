package airworthiness

// Verdict is the answer for one flight. The zero value is Undetermined, so that a forgotten answer reads as no.
type Verdict uint8

// The verdicts. Their order of severity is that of Worst, not of these numbers.
const (
	Undetermined Verdict = iota // a fact is missing: treated as no
	Clear                       // may go
	Limited                     // may go within the stated limitations
	DeferFirst                  // may go once the deferral steps are done and signed
	Grounded                    // may not go
)

var verdictNames = [...]string{
	Undetermined: "undetermined", Clear: "clear", Limited: "limited", DeferFirst: "defer-first", Grounded: "grounded",
}

// severity ranks the verdicts from best to worst.
var severity = [...]uint8{Clear: 0, Limited: 1, DeferFirst: 2, Undetermined: 3, Grounded: 4}

// Verdicts lists every verdict, best first.
func Verdicts() []Verdict { return []Verdict{Clear, Limited, DeferFirst, Undetermined, Grounded} }

func (v Verdict) String() string { return verdictNames[v.named()] }

// ParseVerdict returns the verdict of that name, or false.
func ParseVerdict(s string) (Verdict, bool) {
	for v, name := range verdictNames {
		if name == s {
			return Verdict(v), true
		}
	}
	return Undetermined, false
}

// WorseThan reports whether v is strictly more severe than w. What is no verdict counts as Undetermined.
func (v Verdict) WorseThan(w Verdict) bool { return severity[v.named()] > severity[w.named()] }

func (v Verdict) named() Verdict {
	if int(v) < len(verdictNames) {
		return v
	}
	return Undetermined
}

// Permits reports whether the flight may go now: clear, or limited within its limitations.
func (v Verdict) Permits() bool { return v == Clear || v == Limited }

// Worst returns the more severe of two verdicts.
func Worst(a, b Verdict) Verdict {
	if b.WorseThan(a) {
		return b
	}
	return a
}

// Truth is a fact in three values. The zero value is Unknown.
type Truth uint8

// The three values of a fact.
const (
	Unknown Truth = iota
	No
	Yes
)

// TruthOf turns a known bool into a Truth.
func TruthOf(b bool) Truth {
	if b {
		return Yes
	}
	return No
}

// Not is Yes for No, No for Yes and Unknown for Unknown.
func (t Truth) Not() Truth {
	switch t {
	case Yes:
		return No
	case No:
		return Yes
	default:
		return Unknown
	}
}

// And is No if either is No, Yes if both are Yes, else Unknown.
func (t Truth) And(u Truth) Truth {
	switch {
	case t == No || u == No:
		return No
	case t == Yes && u == Yes:
		return Yes
	default:
		return Unknown
	}
}

// Or is Yes if either is Yes, No if both are No, else Unknown.
func (t Truth) Or(u Truth) Truth { return t.Not().And(u.Not()).Not() }

func (t Truth) String() string { return [...]string{"unknown", "no", "yes"}[t] }
