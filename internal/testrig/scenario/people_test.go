package scenario_test

import (
	"strings"
	"testing"

	"tiedown/internal/regulation"
	"tiedown/internal/testrig/scenario"
)

// somebody is the beginning of a story about people, to which the tests add a line.
const somebody = "story: x\nsource: x\naircraft: plain\nperson: private pilot airplane single-engine-land, owner\nfact: certificate = standard\n"

func TestParseRefusesPeople(t *testing.T) {
	t.Parallel()
	for line, says := range map[string]string{
		"may: perform repair":                            `want VERB ACTION ANSWER, have "perform repair"`,
		"may: sing repair yes because x":                 `want VERB ACTION ANSWER, have "sing repair yes because x"`,
		"may: perform repair perhaps":                    `want yes, no or unknown, have "perhaps"`,
		"may: perform repair 17":                         `want an answer, have "perform repair 17"`,
		"may: perform repair yes":                        `want ANSWER because ROW, have "perform repair yes"`,
		"may: perform repair yes because":                `want ANSWER because ROW, have "perform repair yes because"`,
		"may: perform repair yes despite x":              `want because, without or missing, have "despite"`,
		"but: perform repair yes because x":              `want PHRASES = VERB ACTION ANSWER, have "perform repair yes because x"`,
		"but: tall = perform repair yes because x":       `"tall" says nothing that is known here`,
		"but: work tall = perform repair yes because x":  `"tall" says nothing that is known here`,
		"supervisor: wise pilot":                         `no such grade of pilot "wise"`,
		"supervisor: private pilot kite":                 `no such rating "kite"`,
		"supervisor: mechanic wings":                     `a mechanic has no rating "wings"`,
		"supervisor: inspection authorization until May": `want a date YYYY-MM-DD, have "May"`,
		"work: on holiday":                               `"on holiday" says nothing that is known here`,
		"work: dated yesterday":                          `want a date YYYY-MM-DD, have "yesterday"`,
		"task: mel undone":                               `want STEP OUTCOME [about ITEM] = ROW/ROW, have "mel undone"`,
		"task: mel undone in vain = x":                   `want STEP OUTCOME [about ITEM] = ROW/ROW, have "mel undone in vain = x"`,
		"entry: work":                                    `want RECORD [with ELEMENT/ELEMENT] = OUTCOME, have "work"`,
		"entry: work = fine":                             `an entry is complete, unknown, or lacks ROW/ROW, not "fine"`,
		"discard: work":                                  `want RECORD, PHRASES = ANSWER, have "work"`,
		"discard: work, done long ago = yes":             `want a date YYYY-MM-DD, have "long ago"`,
		"discard: work, burnt = yes":                     `"burnt" says nothing that is known here`,
		"discard: work = perhaps":                        `want yes, no or unknown, have "perhaps"`,
		"to-do: service of tire":                         `want ROW [for SUBJECT], have "service of tire"`,
	} {
		if _, err := scenario.Parse("f", somebody+line+"\n"); err == nil || err.Error() != "f:6: "+says {
			t.Errorf("%s: want %s\nhave %v", line, says, err)
		}
	}
}

func TestStoriesAboutPeopleAreWhole(t *testing.T) {
	t.Parallel()
	const may = "may: perform repair no because x\n"
	for text, says := range map[string]string{
		"story: x\nsource: x\naircraft: plain\n" + may:                         "f:1: x: a story that asks who may names no person",
		"story: x\nsource: x\nperson: sport pilot\n" + may:                     "f:1: x: a story that asks who may names no aircraft",
		"story: x\nsource: x\nto-do: service\ntask: mel undone = mel-letter\n": "f:1: x: a story without a verdict has nothing to do: want task",
		somebody: "f:1: x: the story has no outcome: want then or refused",
	} {
		if _, err := scenario.Parse("f", text); err == nil || err.Error() != says {
			t.Errorf("%s: want %s\nhave %v", text, says, err)
		}
	}
}

// TestCheckSeesEveryDifferenceAboutPeople holds that a story about people that is not so is not passed.
func TestCheckSeesEveryDifferenceAboutPeople(t *testing.T) {
	t.Parallel()
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	const dim = "given: tire condition\nflight: day vfr\nthen: grounded\nbecause: nature breached\n"
	for _, c := range []struct{ name, line, says string }{
		{"as it is", "may: perform repair no because nobody-else-maintains", ""},
		{"another answer", "may: perform repair yes because nobody-else-maintains", "want yes because [nobody-else-maintains], have no"},
		{"another row", "may: perform repair no because mechanic-not-recent", "want no because [mechanic-not-recent]"},
		{"a row too many", "may: perform repair no because nobody-else-maintains without nobody-else-maintains", "have no because"},
		{"nothing missing", "may: perform repair unknown missing recent", "want unknown"},
		{"no such action", "may: perform magic no because x", "no row speaks of that action"},
		{"no such item", "may: perform preventive-maintenance of tyre no because preventive-listed-only", "not in the catalog"},
		{"a change for one line", "but: none pilot, airframe, recent, understands, work on airframe = perform repair yes because mechanic-repairs", ""},
		{"a task", "task: hazard undone = determine-hazard", ""},
		{"a task too few", "task: hazard undone = determine-hazard/mel-entry", "task hazard undone"},
		{"a task about no item", "task: nature breached about tyre = repair-condition", "tyre is not in the catalog"},
		{"a complete entry", "entry: major-repair with form = complete", ""},
		{"an incomplete entry", "entry: major-repair = complete", "lacks [major-work-form]"},
		{"an entry of no kind", "entry: diary = complete", "known false"},
		{"an element of no kind", "entry: major-repair with form/poem = complete", `no row asks for "poem"`},
		{"not to be kept", "discard: total-time, transferred = no", "have yes because [keep-total-time]"},
		{"kept by another row", "discard: total-time, transferred = yes because keep-work", "have yes because [keep-total-time]"},
		{"to do", dim + "to-do: pm-1 for tire", ""},
		{"not to do", dim + "to-do: pm-3 for tire", "nothing to do by pm-3 for tire"},
		{"to do all the same", dim + "to-do-not: pm-1", "something to do by pm-1"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			stories, err := scenario.Parse("f", somebody+c.line+"\n")
			if err != nil {
				t.Fatal(err)
			}
			question, err := stories[0].Case(plain)
			if err != nil {
				t.Fatal(err)
			}
			switch err = stories[0].Check(question, book.Ruleset); {
			case c.says == "" && err != nil:
				t.Error(err)
			case c.says != "" && (err == nil || !strings.Contains(err.Error(), c.says)):
				t.Errorf("want %s\nhave %v", c.says, err)
			}
		})
	}
}
