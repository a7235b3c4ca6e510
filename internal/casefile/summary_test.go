package casefile_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// TestThreeFormsSayTheSame holds that every finding that keeps a written case from going stands in the plain text with
// its citation, and is named in the summary with it or counted; and that every limitation is in all three.
func TestThreeFormsSayTheSame(t *testing.T) {
	t.Parallel()
	rules := book(t)
	named, counted := 0, 0
	for name, raw := range cases(t) {
		c, err := casefile.Decode(raw)
		if err != nil {
			t.Fatal(err)
		}
		q, err := casefile.Compile(c, rules.Ruleset)
		if err != nil {
			t.Fatal(err)
		}
		a := casefile.Judge(q, rules.Ruleset, rules.Digest)
		var b strings.Builder
		if err := a.WriteText(&b); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		var unnamed []string
		for _, f := range a.Findings {
			if !f.Blocks() {
				continue
			}
			if !strings.Contains(text, f.Citation) || !strings.Contains(text, f.Words) {
				t.Errorf("%s: the text leaves out %s", name, f.Row)
			}
			said := fmt.Sprintf("%s %s", casefile.Spoken(f.Citation), map[string]string{
				"breached": "is not met", "undone": "is still to be done", "unknown": "cannot be decided",
			}[f.Outcome])
			if strings.Contains(a.Summary, said) && strings.Contains(a.Summary, strings.TrimRight(f.Words, ".")) {
				named++
			} else if whole := f.Defect + said + f.Words; !slices.Contains(unnamed, whole) {
				unnamed = append(unnamed, whole)
			}
		}
		if len(unnamed) > 0 {
			counted++
			if !strings.Contains(a.Summary, fmt.Sprintf("And %d more.", len(unnamed))) {
				t.Errorf("%s: %d findings are neither named nor counted: %s", name, len(unnamed), a.Summary)
			}
		}
		for _, l := range a.Limitations {
			if !strings.Contains(a.Summary, strings.TrimRight(l, ".")) || !strings.Contains(text, l) {
				t.Errorf("%s: a limitation is left out: %s", name, l)
			}
			if !slices.ContainsFunc(a.LimitationsData, func(d casefile.Limitation) bool { return d.Words == l && d.Citation != "" && d.Row != "" }) {
				t.Errorf("%s: no data for the limitation %q", name, l)
			}
		}
		if strings.Contains(a.Summary, "\n") || !strings.HasSuffix(a.Summary, "The pilot in command decides last; this is an aid, not an approval.") {
			t.Errorf("%s: %q", name, a.Summary)
		}
		word, _, _ := strings.Cut(strings.ToLower(strings.ReplaceAll(a.Summary, "Defer first", "defer-first")), ":")
		if verdict, _, _ := strings.Cut(word, ","); verdict != a.Verdict {
			t.Errorf("%s: it is %s, and the summary begins %q", name, a.Verdict, verdict)
		}
	}
	if named < 30 || counted < 1 {
		t.Errorf("%d findings named, %d summaries that count: too few to hold anything", named, counted)
	}
}

func TestCitationsAreSpoken(t *testing.T) {
	t.Parallel()
	for citation, want := range map[string]string{
		"14 CFR 91.205(c)(4)":                "91.205, paragraph c 4",
		"14 CFR 91.405(c)":                   "91.405, paragraph c",
		"14 CFR 91.213; 1.1; 91.405(a)":      "91.213 and 1.1 and 91.405, paragraph a",
		"14 CFR 91.211(b)(1)(ii), (2)":       "91.211, paragraph b 1 ii, 2",
		"14 CFR 91.213(d)(3)(ii); AC 91-67A": "91.213, paragraph d 3 ii and AC 91-67A",
	} {
		if got := casefile.Spoken(citation); got != want {
			t.Errorf("%s is spoken %q, want %q", citation, got, want)
		}
	}
}

// TestLimitationsAreData judges kinds of operation as such, and single flights under a relief: what each answer is bound
// to is there as data. The rules are those of 14 CFR 91.205(c)(4), 91.215(b) and (d)(2), 91.211(a) and 91.207(e)(2);
// eCFR title 14 issue 2026-08-24.
func TestLimitationsAreData(t *testing.T) {
	t.Parallel()
	rules := book(t)
	byDay := find(t, "trainer-landing-light-by-day.json")
	radar := find(t, "trainer-transponder-low-and-outside.json")
	for _, want := range []struct {
		of        casefile.Case
		kind, row string
		words     string
		data      string
	}{
		{byDay, "night-vfr", "91.205-c-4", "not for hire", "flight.for_hire is false"},
		{radar, "day-vfr", "91.215-b-1-b", "not in Class B airspace, or as ATC has authorized, to the ultimate destination with its stops, or to a place of repair", "flight.airspace excludes class-b, or all: flight.atc_authorized includes transponder"},
		{radar, "day-vfr", "91.215-b-2", "not in the airspace within 30 NM of a listed airport, or as ATC has authorized, to the ultimate destination with its stops, or to a place of repair", "flight.airspace excludes mode-c-veil, or all: flight.atc_authorized includes transponder"},
		{
			radar, "day-vfr", "91.215-b-5-i", "below 10,000 ft MSL, or from 10,000 ft MSL up only at or below 2,500 ft above the surface, or as ATC has authorized, to the ultimate destination with its stops, or to a place of repair",
			"flight.altitude_ft below 10000, flight.below_2500_agl is true, or all: flight.atc_authorized includes transponder",
		},
		{radar, "day-vfr", "91.211-a-2", "not above 14,000 ft cabin pressure altitude", "flight.cabin_ft at-most 14000"},
		{find(t, "trainer-transponder-class-c-authorized.json"), "", "91.215-b-1-c", "as ATC has authorized, to the ultimate destination with its stops, or to a place of repair", "all: flight.atc_authorized includes transponder"},
		{find(t, "trainer-elt-ferry.json"), "", "91.207-a", "only from where the repair cannot be made to where it can, with only required crewmembers aboard", "all: flight.only_required_crew is true, flight.repair_impossible is true, flight.to_place_of_repair is true"},
	} {
		q, err := casefile.Compile(want.of, rules.Ruleset)
		if err != nil {
			t.Fatal(err)
		}
		flight := rules.Prepare(q.Flight)
		for i, kind := range airworthiness.KindNames() {
			if kind == want.kind {
				flight = rules.KindsOfOperation(airworthiness.Flight{On: q.Flight.On, Ends: q.Flight.Ends})[i]
			}
		}
		var d airworthiness.Determination
		q.Plan.Determine(&d, q.Defects, &flight)
		a := casefile.InWords(q.Plan, &d, q.Defects, "")
		i := slices.IndexFunc(a.LimitationsData, func(l casefile.Limitation) bool { return l.Row == want.row })
		if i < 0 {
			t.Errorf("%s: no limitation by %s: %+v", want.kind, want.row, a.LimitationsData)
			continue
		}
		l := a.LimitationsData[i]
		same := func(t casefile.Term) bool {
			return t.Fact == l.Fact && t.Comparison == l.Comparison && t.Value == l.Value
		}
		if terms := slices.Concat(l.AnyOf, l.AllOf); (len(terms) == 1) != (l.Fact != "") || len(terms) == 1 && !same(terms[0]) {
			t.Errorf("%s: a single term is not repeated: %+v", want.row, l)
		}
		if got := tellTerms(l); l.Words != want.words || got != want.data {
			t.Errorf("%s: %q, %s; want %q, %s", want.row, l.Words, got, want.words, want.data)
		}
	}
}

func tellTerms(l casefile.Limitation) string {
	tell := func(terms []casefile.Term) string {
		var said []string
		for _, t := range terms {
			said = append(said, t.Fact+" "+t.Comparison+" "+t.Value)
		}
		return strings.Join(said, ", ")
	}
	var ways []string
	if len(l.AnyOf) > 0 {
		ways = append(ways, tell(l.AnyOf))
	}
	if len(l.AllOf) > 0 {
		ways = append(ways, "all: "+tell(l.AllOf))
	}
	return strings.Join(ways, ", or ")
}

func find(t *testing.T, name string) casefile.Case {
	t.Helper()
	c, err := casefile.Decode(cases(t)[name])
	if err != nil {
		t.Fatal(err)
	}
	return c
}
