package casefile_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/regulation"
)

// TestWhatIsToBeDoneIsWrittenOut: the words of the placards are those of 14 CFR 91.213(d)(3)(ii) and 91.207(f)(10)(i),
// eCFR title 14 issue 2026-08-24; weight and balance is from memory, and says so.
func TestWhatIsToBeDoneIsWrittenOut(t *testing.T) {
	t.Parallel()
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	trainer, err := demo.Aircraft("trainer")
	if err != nil {
		t.Fatal(err)
	}
	departs := time.Date(2027, 1, 15, 14, 0, 0, 0, time.UTC)
	question, err := casefile.Compile(casefile.Case{
		Aircraft: trainer,
		Defects: []casefile.Defect{
			{ID: "elt", Kind: "inoperative", Unit: "elt", Deferral: &casefile.Deferral{Method: "removed"}},
			{ID: "meter", Kind: "inoperative", Unit: "hour-meter"},
			{ID: "tire", Kind: "condition", Item: "tire"},
		},
		Flight: casefile.Flight{Rules: "vfr", Departs: departs, Arrives: departs.Add(time.Hour)},
	}, book.Ruleset)
	if err != nil {
		t.Fatal(err)
	}
	a := casefile.Judge(question, book.Ruleset, "")
	find := func(defect, row string) casefile.ToDo {
		for _, f := range a.Findings {
			if i := slices.IndexFunc(f.ToDo, func(t casefile.ToDo) bool { return t.Row == row }); i >= 0 && f.Defect == defect {
				return f.ToDo[i]
			}
		}
		t.Errorf("%s: nothing to do by %s", defect, row)
		return casefile.ToDo{}
	}
	if p := find("elt", "elt-placard"); p.Placard != "ELT not installed." || p.Where != "in view of the pilot" {
		t.Errorf("have %+v", p)
	}
	if p := find("meter", "placard-deactivated"); p.Placard != "Inoperative" || p.Where == "" || p.Status != "verified" {
		t.Errorf("have %+v", p)
	}
	if w := find("elt", "revise-weight-and-balance"); w.Status != "memory" || w.Entry == "" {
		t.Errorf("have %+v", w)
	}
	pm := find("tire", "pm-1")
	if pm.Citation != "14 CFR part 43 appendix A(c)(1)" || !strings.HasPrefix(pm.Entry, "43.9(a):") {
		t.Errorf("have %+v", pm)
	}
	pilot := slices.ContainsFunc(pm.By, func(who string) bool { return strings.Contains(who, "43.3(g)") })
	if lightSport := slices.ContainsFunc(pm.By, func(who string) bool { return strings.Contains(who, "light-sport") }); !pilot || lightSport {
		t.Errorf("a standard category airplane is maintained by %q", pm.By)
	}

	var text strings.Builder
	if err := a.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"placard: ELT not installed.\n", "where: in view of the pilot\n", "how well this row has been read: memory\n",
		"[14 CFR part 43 appendix A(c)(1), pm-1]",
	} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("the text lacks %q:\n%s", want, &text)
		}
	}
}
