package inquiry_test

import (
	"maps"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/casefile"
)

// settledBy says which sets settle a case, and with which verdicts.
func settledBy(t *testing.T, c casefile.Case) []string {
	t.Helper()
	rules := book(t).Ruleset
	s := settle(t, c, rules)
	holdSettling(t, c, s, rules)
	var sets []string
	for _, set := range s.Sets {
		verdicts := map[string]bool{}
		for _, o := range set.Outcomes {
			verdicts[o.Verdict] = true
		}
		sets = append(sets, strings.Join(set.Facts, " ")+": "+strings.Join(slices.Sorted(maps.Keys(verdicts)), " "))
	}
	return sets
}

// TestWhatSettlesTheOtherPaths leaves facts open that the MEL, a permit, an interval, the inspections, an organization's
// rule and its policy ask for. The rules are those of 14 CFR 91.213(a), (d)(3), (e), 21.181(a)(2), 39.23, 91.409 and
// 91.413, eCFR title 14 issue 2026-08-24; intervals PL-25, second-hand.
func TestWhatSettlesTheOtherPaths(t *testing.T) {
	t.Parallel()
	all := written(t)
	for _, want := range []struct {
		name, of string
		change   func(*casefile.Case)
		sets     []string
	}{
		{"an annual nobody entered", "trainer-landing-light-by-day", func(c *casefile.Case) {
			c.Aircraft.Facts.AnnualInspected = ""
		}, []string{"aircraft.facts.annual_inspected: clear grounded"}},
		{"few hours left, and nobody says how long it takes", "trainer-landing-light-by-day", func(c *casefile.Case) {
			hours, so := 99.5, true
			c.Aircraft.Facts.HoursSinceInspection, c.Flight.InstructionProvidedAircraft = &hours, &so
		}, []string{"flight.hours: clear grounded"}},
		{"a confirmation without its date", "trainer-landing-light-by-day", func(c *casefile.Case) {
			c.Aircraft.Configuration.TypeCertification.Confirmed.On = ""
		}, []string{"aircraft.configuration.type_certification.confirmed: clear"}},
		{"a letter nobody looked for", "mel-autopilot-listed", func(c *casefile.Case) {
			c.Aircraft.Configuration.MEL.LetterAboard = nil
		}, []string{"aircraft.configuration.mel.letter_aboard: clear grounded"}},
		{"an extension without its end", "mel-autopilot-charter-too-late", func(c *casefile.Case) {
			c.Defects[0].Deferral.Extended = true
		}, []string{"defects[autopilot].deferral.extended_until: grounded limited"}},
		{"a permit without its end", "trainer-tire-permit", func(c *casefile.Case) {
			c.Flight.SpecialFlightPermit.ValidUntil = nil
		}, []string{"flight.special_flight_permit.valid_until: grounded limited"}},
		{"a permit, and nobody says under which rules", "trainer-tire-permit", func(c *casefile.Case) {
			c.Flight.Rules = ""
		}, []string{"flight.rules: grounded limited"}},
		{"a rule of the organization's", "trainer-landing-light-by-day", func(c *casefile.Case) {
			c.Flight.OverWater = nil
			c.CompanyRules = []casefile.CompanyRule{{
				ID: "company-overland", Citation: "operations manual 4.4", Must: "controlled-airspace", When: "over-water", Words: "Over water in controlled airspace only.",
			}}
			c.Flight.Controlled = new(bool)
		}, []string{"flight.over_water: clear grounded"}},
	} {
		c := all[want.of].Copy()
		want.change(&c)
		if got := settledBy(t, c); !slices.Equal(got, want.sets) {
			t.Errorf("%s: settled by\n%q, want\n%q", want.name, got, want.sets)
		}
	}
}

// TestThePolicyCountsInSettling holds that whether a deactivation involved maintenance is asked where the policy follows
// the rule's text, and not where an entry is always made (14 CFR 91.213(d)(3)(ii), eCFR title 14 issue 2026-08-24).
func TestThePolicyCountsInSettling(t *testing.T) {
	t.Parallel()
	c := written(t)["trainer-landing-light-by-day"].Copy()
	c.Defects[0].Deferral.Recorded = false
	if got := settle(t, c, book(t).Ruleset); got.Verdict != "defer-first" {
		t.Errorf("by the stricter reading it is %s", got.Verdict)
	}
	c.Policy.Deactivation = "rule-text"
	want := []string{"defects[landing-light].deferral.involves_maintenance: clear defer-first"}
	if got := settledBy(t, c); !slices.Equal(got, want) {
		t.Errorf("settled by %q, want %q", got, want)
	}
}
