package casefile_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
)

// TestWhatWasNotThereIsNotAboardUntilItIsFound holds, in whatever order looks arrive, that a paper whose newest look did not
// find it is not aboard, and that no look moves its last day to later. Where all looks come in the order in which they were
// made, the newest says whether it is aboard.
func TestWhatWasNotThereIsNotAboardUntilItIsFound(t *testing.T) {
	t.Parallel()
	names := []string{"airworthiness-certificate", "registration", "operating-limitations", "flight-manual", "weight-and-balance", "radio-licence"}
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(names).Draw(t, "paper")
		p := casefile.Papers{Registration: casefile.Paper{Aboard: maybe(t, "aboard", func() bool { return rapid.Bool().Draw(t, "aboard") }), Through: dated(t, "through", 3)}}
		through := p.Registration.Through
		var newest casefile.Look
		ordered := true
		for i := range rapid.IntRange(1, 6).Draw(t, "looks") {
			l := casefile.Look{
				Paper: name, Present: rapid.Bool().Draw(t, "present"), Until: dated(t, "until", 3), On: "2026-11-28",
				At: time.Date(2026, 11, 1, rapid.IntRange(0, 9).Draw(t, "hour"), 0, 0, 0, time.UTC),
			}
			if i == 0 || l.At.After(newest.At) || l.At.Equal(newest.At) && !l.Present {
				newest = l
			} else {
				ordered = false
			}
			p, _ = p.After(l)
		}
		aboard := map[string]*bool{
			"airworthiness-certificate": p.Airworthiness.Aboard, "registration": p.Registration.Aboard, "operating-limitations": p.Limitations.Aboard,
			"flight-manual": p.Limitations.Aboard, "weight-and-balance": p.WeightBalance.Aboard, "radio-licence": p.RadioLicence.Aboard,
		}[name]
		if aboard == nil || *aboard && !newest.Present || ordered && *aboard != newest.Present {
			t.Errorf("the newest look says %v, and aboard is %v", newest.Present, aboard)
		}
		if name == "registration" && through != "" && p.Registration.Through > through {
			t.Errorf("the registration went through %s, and now through %s", through, p.Registration.Through)
		}
	})
	if _, changed := new(casefile.Papers).After(casefile.Look{Paper: "noise-certificate", Present: true}); changed || casefile.LooksFor("noise-certificate") {
		t.Error("a paper that nobody keeps a record of moved the record")
	}
}
