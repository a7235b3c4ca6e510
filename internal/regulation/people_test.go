package regulation_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
)

// peopleTables are the tables about people, work and records.
var peopleTables = []string{"preventive_maintenance", "who", "tasks", "records"}

func TestEveryRowAboutPeopleCitesAndNamesItsSource(t *testing.T) {
	t.Parallel()
	citation := regexp.MustCompile(`^(14|47) CFR (part 43 appendix A\(c\)|\d+\.\d+)`)
	sources := map[string]*regexp.Regexp{
		"verified":    regexp.MustCompile(`^eCFR title 14 issue \d{4}-\d{2}-\d{2}$`),
		"second-hand": regexp.MustCompile(`as quoted in`),
		"infer":       regexp.MustCompile(`^reading of 14 CFR`),
		"memory":      regexp.MustCompile(`^from memory$`),
	}
	for _, r := range rowsOf(t, peopleTables...) {
		if !citation.MatchString(r.fields["citation"]) {
			t.Errorf("%s: the citation %q names no section", r.key(), r.fields["citation"])
		}
		if rests, ok := sources[r.fields["status"]]; !ok || !rests.MatchString(r.fields["source"]) {
			t.Errorf("%s: %q does not rest on %q", r.key(), r.fields["status"], r.fields["source"])
		}
		if words := r.fields["words"]; !strings.HasSuffix(words, ".") && !strings.HasSuffix(words, ":") || strings.Contains(words, "§") {
			t.Errorf("%s: the words are no sentence: %q", r.key(), words)
		}
	}
}

// TestEveryRowAboutPeopleIsTold holds that some story says of each row that it must be found.
func TestEveryRowAboutPeopleIsTold(t *testing.T) {
	t.Parallel()
	told := []string{"preventive"} // it stands once for each paragraph, under the name of that
	for _, s := range stories(t) {
		told = append(told, s.story.Rows()...)
	}
	for _, r := range rowsOf(t, peopleTables...) {
		if !slices.Contains(told, r.fields["id"]) {
			t.Errorf("%s: no story says that it must be found", r.key())
		}
	}
}

// TestTheThirtyOneParagraphs holds that appendix A(c) is whole: its paragraphs run from 1 to 31 (14 CFR part 43 appendix
// A(c), eCFR title 14 issue 2026-08-24).
func TestTheThirtyOneParagraphs(t *testing.T) {
	t.Parallel()
	n := 0
	for _, rule := range current(t).Rules() {
		if rule.Table == "preventive_maintenance" {
			n++
		}
	}
	if n != 31 {
		t.Errorf("have %d paragraphs", n)
	}
}

// TestEveryActionHasAnAnswerForANobody holds that of somebody who holds nothing, and to whom nothing of the aircraft or the
// work is due, no action is ever permitted.
func TestEveryActionHasAnAnswerForANobody(t *testing.T) {
	t.Parallel()
	rules := current(t)
	for _, action := range rules.Actions() {
		for _, verb := range airworthiness.Verbs() {
			if a := rules.May(airworthiness.Occasion{Verb: verb, Action: action}); a.Answer == airworthiness.Yes {
				t.Errorf("nothing is known, and it is permitted to %s %s: %v", verb, action, a.Rows)
			}
		}
	}
}

func TestAnActionThatNobodySpeaksOfIsUnknown(t *testing.T) {
	t.Parallel()
	for _, o := range []airworthiness.Occasion{{Verb: "perform", Action: "magic"}, {Verb: "sing", Action: "repair"}, {}} {
		if a := current(t).May(o); a.Answer != airworthiness.Unknown || len(a.Rows) > 0 {
			t.Errorf("%+v: have %+v", o, a)
		}
	}
}
