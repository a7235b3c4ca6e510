package regulation_test

import (
	"testing"

	"tiedown/internal/regulation"
)

// peopleMuseum holds one fault each of the tables about people, work and records.
var peopleMuseum = []exhibit{
	{
		"a paragraph without its number", "preventive_maintenance", "A(c)(1),1,", "A(c)(1),one,",
		`table preventive_maintenance, line 2: column number: want the number of a paragraph, have "one"`,
	},
	{
		"a paragraph missing", "preventive_maintenance", "A(c)(31),31,", "A(c)(31),30,",
		"preventive maintenance (31): the paragraph has no row",
	},
	{
		"a paragraph too many", "preventive_maintenance", "pm-31,",
		"pm-32,14 CFR part 43 appendix A(c)(32),32,,,airframe,,More.,memory,from memory,,\npm-31,",
		"preventive maintenance: want the 31 paragraphs of 43 appendix A(c), have 32 rows",
	},
	{
		"a paragraph on nothing", "preventive_maintenance", "tire inner-tube", "tyre inner-tube",
		`pm-1: item "tyre" is not in the catalog`,
	},
	{
		"a paragraph for no mechanic", "preventive_maintenance", ",airframe,", ",wings,",
		`pm-1: part "wings": want airframe or powerplant`,
	},
	{
		"an unknown condition of people", "who", "owns-or-operates", "borrows",
		`pilot-preventive: condition "borrows": it has no meaning`,
	},
	{
		"a condition of people twice", "who", "pilot-at-least:student !pilot:sport owns-or-operates", "owns-or-operates owns-or-operates",
		`pilot-preventive: condition "owns-or-operates" stands twice`,
	},
	{
		"a grade of pilot that there is not", "who", "pilot-at-least:student", "pilot-at-least:wise",
		`pilot-preventive: condition "pilot-at-least:wise": want one of student, sport, recreational, private, commercial, airline-transport after the colon`,
	},
	{
		"a policy that there is not", "who", "policy:strict", "policy:lax",
		`deactivate-no-pilot: condition "policy:lax": want strict or rule-text after the colon`,
	},
	{
		"a paragraph of 21.191 that there is not", "who", "experimental-under:g/i/k/l", "experimental-under:g/z",
		`condition-own-experimental: condition "experimental-under:g/z": want paragraphs of the rule on experimental certificates after the colon, such as g/i`,
	},
	{
		"a condition of people with an argument", "who", "owns-or-operates", "owns-or-operates:half",
		`pilot-preventive: condition "owns-or-operates:half": it takes no argument, but has "half"`,
	},
	{
		"a verb that there is not", "who", "preventive-maintenance,perform,permits", "preventive-maintenance,sing,permits",
		`pilot-preventive: may "sing": want one of perform, approve, determine, answer-for`,
	},
	{
		"an effect that there is not", "who", "preventive-maintenance,perform,permits", "preventive-maintenance,perform,hints",
		`pilot-preventive: effect "hints": want permits, bars or otherwise`,
	},
	{
		"a permission from memory", "who", "129 or 135.\",verified", "129 or 135.\",memory",
		"pilot-preventive: what has not been read may forbid, never permit",
	},
	{
		"a permission from hearsay", "who", "129 or 135.\",verified", "129 or 135.\",second-hand",
		"pilot-preventive: what has not been read may forbid, never permit",
	},
	{
		"a permission for nobody", "who", "a sport pilot who owns or operates the light-sport category aircraft,", ",",
		"sport-preventive: a row that permits says whom",
	},
	{
		"a bar that names a person", "who", "pilot:sport !certificate:light-sport,,", "pilot:sport !certificate:light-sport,a pilot,",
		"sport-not-standard: only a row that permits says whom",
	},
	{
		"a task for a finding that there is not", "tasks", ",out-of-use,", ",out-of-order,",
		`deactivate-item: stands for "out-of-order", which is neither a row nor a step`,
	},
	{
		"a task for a finding that asks nothing", "tasks", ",undone,", ",passed,",
		`deactivate-item: outcome "passed": want undone or breached`,
	},
	{
		"a task about an item that there is not", "tasks", ",undone,elt,", ",undone,beeper,",
		`elt-placard: item "beeper" is not in the catalog`,
	},
	{
		"a task that nobody may do", "tasks", "perform:deactivate", "perform:magic",
		`deactivate-item: by "perform:magic": no row permits anybody that`,
	},
	{
		"a placard without a place", "tasks", "Inoperative,at its cockpit control,", "Inoperative,,",
		"placard-removed: a placard has words and a place",
	},
	{
		"a record that needs nothing", "records", "work,completed,,", "work,,,",
		`work-completed: record "work": want what it needs, or how long it is kept`,
	},
	{
		"a record kept in no way", "records", "until-cleared", "until-lost",
		`keep-defect-list: keep "until-lost": want year-or-superseded, with-aircraft or until-cleared`,
	},
}

func TestMuseumOfPeople(t *testing.T) {
	t.Parallel()
	tables := readTables(t)
	for _, e := range peopleMuseum {
		t.Run(e.name, func(t *testing.T) {
			t.Parallel()
			if _, err := regulation.Load(e.spoil(t, tables)); err == nil || err.Error() != e.says {
				t.Errorf("want\n%s\nhave\n%v", e.says, err)
			}
		})
	}
}
