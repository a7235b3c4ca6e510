package casefile_test

import (
	"testing"

	"tiedown/internal/casefile"
)

// TestAConfirmationIsWhole holds that a list with any part of its confirmation missing has not been confirmed, and that
// the answer asks for the confirmation (14 CFR 91.213(d)(2)(i)).
func TestAConfirmationIsWhole(t *testing.T) {
	t.Parallel()
	const fact = "aircraft.configuration.type_certification.confirmed"
	rules := book(t)
	whole := casefile.Confirmation{By: "R. Fennel", Certificate: "mechanic 0000002 (invented)", On: "2026-01-12", Document: "data sheet"}
	for name, c := range map[string]struct {
		change func(*casefile.Confirmation)
		asks   bool
	}{
		"whole":                    {func(*casefile.Confirmation) {}, false},
		"by nobody":                {func(c *casefile.Confirmation) { c.By = "" }, true},
		"without a certificate":    {func(c *casefile.Confirmation) { c.Certificate = "" }, true},
		"on no day":                {func(c *casefile.Confirmation) { c.On = "" }, true},
		"from no document":         {func(c *casefile.Confirmation) { c.Document = "" }, true},
		"nothing but an empty one": {func(c *casefile.Confirmation) { *c = casefile.Confirmation{} }, true},
	} {
		confirmed := whole
		c.change(&confirmed)
		question := sound()
		question.Aircraft.Configuration.TypeCertification = casefile.OwnList{OnRecord: ptr(true), Confirmed: &confirmed}
		q, err := casefile.Compile(question, rules.Ruleset)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		asks := false
		for _, m := range casefile.Judge(q, rules.Ruleset, "").Missing {
			asks = asks || m.Fact == fact
		}
		if asks != c.asks {
			t.Errorf("%s: asks for the confirmation: %v", name, asks)
		}
	}
}

// TestThePolicyReachesEveryDeferral holds that the policy bears on deferrals only, and that no policy is the strict one.
func TestThePolicyReachesEveryDeferral(t *testing.T) {
	t.Parallel()
	rules := book(t)
	for policy, want := range map[string]bool{"": false, "strict": false, "rule-text": true} {
		c := sound()
		c.Policy.Deactivation = policy
		c.Defects = append(c.Defects, casefile.Defect{ID: "more", Kind: "condition", Item: "tire", Deferral: &casefile.Deferral{}})
		c.Defects[0].Deferral = &casefile.Deferral{}
		q, err := casefile.Compile(c, rules.Ruleset)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range q.Defects {
			if d.Deferral.EntryByRuleText != want {
				t.Errorf("%q: %s is entered by the rule's text: %v", policy, d.ID, !want)
			}
		}
	}
}

// TestTheWindowBoundsTheHours holds that a flight is known to take no longer than its window.
func TestTheWindowBoundsTheHours(t *testing.T) {
	t.Parallel()
	c := sound()
	q, err := casefile.Compile(c, book(t).Ruleset)
	if err != nil {
		t.Fatal(err)
	}
	if want := c.Flight.Arrives.Sub(c.Flight.Departs).Hours(); !q.Flight.WindowHours.Known || q.Flight.WindowHours.Value != want || q.Flight.Hours.Known {
		t.Errorf("want a window of %v h and no hours, have %+v and %+v", want, q.Flight.WindowHours, q.Flight.Hours)
	}
}
