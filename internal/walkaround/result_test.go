package walkaround_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/walkaround"
)

func tach() walkaround.Check {
	return walkaround.Check{ID: "tach", Station: walkaround.Cabin, Way: walkaround.Compare, Words: "Read the tach", Means: walkaround.OnRecord, Meter: walkaround.Tach}
}

func registration() walkaround.Check {
	return walkaround.Check{
		ID: "registration", Station: walkaround.Cabin, Way: walkaround.Paper, Words: "Registration certificate", Means: walkaround.OnRecord,
		Paper: "registration", Dated: true,
	}
}

// TestWhatAnAnswerComesTo is the judgement of single answers, way by way.
func TestWhatAnAnswerComesTo(t *testing.T) {
	t.Parallel()
	book := &walkaround.BookEntry{Meter: walkaround.Tach, Number: 4, Hours: 1234.5, At: noon.Add(-48 * time.Hour)}
	setting := walkaround.Setting{On: "2031-05-04", At: noon, Book: book}
	type answer = walkaround.Answer
	yes, no := true, false
	door := look("door", walkaround.Cabin)
	mogas := sump()
	mogas.Fuel, mogas.Color = "Mogas 95", "yellow"
	atLeast := oil()
	atLeast.AtMost, atLeast.Above, atLeast.Below = nil, "", walkaround.Condition
	for _, c := range []struct {
		what    string
		check   walkaround.Check
		said    answer
		outcome walkaround.Outcome
		class   walkaround.Class
		shows   string
	}{
		{"a good door", door, answer{Outcome: walkaround.Good}, walkaround.Good, "", ""},
		{"a loose door", door, answer{Outcome: walkaround.Finding, Note: "latch loose"}, walkaround.Finding, walkaround.Condition, ""},
		{"a skipped door", door, answer{Outcome: walkaround.Skipped, Note: "ice on it"}, walkaround.Skipped, "", ""},
		{"oil on the limit", oil(), answer{Value: new(5.5)}, walkaround.Good, "", ""},
		{"oil on the upper limit", oil(), answer{Value: new(8.0)}, walkaround.Good, "", ""},
		{"oil below", oil(), answer{Value: new(5.4)}, walkaround.Finding, walkaround.Servicing, "5.4 qt, at least 5.5 qt"},
		{"oil below, said to be good", oil(), answer{Outcome: walkaround.Good, Value: new(5.0)}, walkaround.Finding, walkaround.Servicing, "5 qt, at least 5.5 qt"},
		{"oil above", oil(), answer{Value: new(8.5)}, walkaround.Finding, walkaround.Condition, "8.5 qt, at most 8 qt"},
		{"oil that smells", oil(), answer{Outcome: walkaround.Finding, Value: new(6.0), Note: "smells of fuel"}, walkaround.Finding, walkaround.Servicing, ""},
		{"oil whose lack is a condition", atLeast, answer{Value: new(1.0)}, walkaround.Finding, walkaround.Condition, "1 qt, at least 5.5 qt"},
		{"no limit above", atLeast, answer{Value: new(99.0)}, walkaround.Good, "", ""},
		{"oil not read", oil(), answer{Outcome: walkaround.Skipped, Note: "dipstick hot"}, walkaround.Skipped, "", ""},
		{"good fuel", sump(), answer{Color: "Blue", Water: &no, Sediment: &no}, walkaround.Good, "", ""},
		{
			"clear fuel", sump(),
			answer{Color: "clear", Water: &no, Sediment: &no},
			walkaround.Finding, walkaround.Condition,
			"the sample is clear, fuel of the grade 100LL is blue",
		},
		{
			"everything wrong", sump(),
			answer{Color: "green", Water: &yes, Sediment: &yes},
			walkaround.Finding, walkaround.Condition,
			"the sample is green, fuel of the grade 100LL is blue; there is water in it; there is sediment in it",
		},
		{"another grade", mogas, answer{Color: "yellow", Water: &no, Sediment: &no}, walkaround.Good, "", ""},
		{"the tach agrees", tach(), answer{Value: new(1234.5)}, walkaround.Good, "", ""},
		{
			"the tach has gone on", tach(),
			answer{Value: new(1236.0)},
			walkaround.Finding, walkaround.OnRecord,
			"the recording tachometer shows 1236 h, the book has 1234.5 h of 2031-05-02T12:00:00Z: 1.5 h that no entry accounts for",
		},
		{"in date", registration(), answer{Present: &yes, Until: "2031-05-04"}, walkaround.Good, "", ""},
		{
			"out of date", registration(),
			answer{Present: &yes, Until: "2031-05-03"},
			walkaround.Finding, walkaround.OnRecord,
			"it was good until 2031-05-03, before 2031-05-04",
		},
		{"not aboard", registration(), answer{Present: &no}, walkaround.Finding, walkaround.OnRecord, "it is not aboard"},
	} {
		outcome, class, shows, faults := c.check.Judge(c.said, setting)
		if len(faults) > 0 || outcome != c.outcome || class != c.class || shows != c.shows {
			t.Errorf("%s: %s %s %q %v, want %s %s %q", c.what, outcome, class, shows, faults, c.outcome, c.class, c.shows)
		}
	}
}

func TestMuseumOfAnswers(t *testing.T) {
	t.Parallel()
	type answer = walkaround.Answer
	yes, no := true, false
	door := look("door", walkaround.Cabin)
	for _, c := range []struct {
		what  string
		check walkaround.Check
		said  answer
		want  []string
	}{
		{"nothing", door, answer{}, []string{"required outcome"}},
		{"a strange word", door, answer{Outcome: "fine"}, []string{"enum outcome"}},
		{"a finding without words", door, answer{Outcome: walkaround.Finding, Note: " "}, []string{"required note"}},
		{"skipped without a reason", oil(), answer{Outcome: walkaround.Skipped}, []string{"required note"}},
		{"too many words", door, answer{Outcome: walkaround.Good, Note: strings.Repeat("x", 2001)}, []string{"length note"}},
		{"a number for a look", door, answer{Outcome: walkaround.Good, Value: new(1.0)}, []string{"way value"}},
		{"a sample of a door", door, answer{Outcome: walkaround.Good, Color: "blue", Water: &no, Sediment: &no}, []string{"way color", "way sediment", "way water"}},
		{"a paper of a door", door, answer{Outcome: walkaround.Good, Present: &yes, Until: "2031-01-01"}, []string{"way present", "way until"}},
		{"no number", oil(), answer{Outcome: walkaround.Good}, []string{"required value"}},
		{"a number beyond all", oil(), answer{Value: new(1e9)}, []string{"range value"}},
		{"half a sample", sump(), answer{Color: "blue"}, []string{"required sediment", "required water"}},
		{"no color", sump(), answer{Water: &no, Sediment: &no}, []string{"required color"}},
		{"no hours", tach(), answer{}, []string{"required value"}},
		{"hours below nothing", tach(), answer{Value: new(-1.0)}, []string{"range value"}},
		{"hours too fine", tach(), answer{Value: new(1.234)}, []string{"precision value"}},
		{"no paper", registration(), answer{}, []string{"required present"}},
		{"no day", registration(), answer{Present: &yes}, []string{"required until"}},
		{"a day that is none", registration(), answer{Present: &yes, Until: "2031-02-29"}, []string{"date until"}},
	} {
		_, _, _, faults := c.check.Judge(c.said, walkaround.Setting{})
		wantRules(t, c.what, faults.Err(), c.want...)
	}
}

// TestSayingGoodMakesNothingGood holds that what is out of limits is a finding, whatever is said of it beside the number.
func TestSayingGoodMakesNothingGood(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		check := oil()
		value := rapid.Float64Range(-100, 100).Draw(t, "value")
		said := walkaround.Answer{Value: &value, Outcome: rapid.SampledFrom([]walkaround.Outcome{"", walkaround.Good}).Draw(t, "said")}
		outcome, class, shows, faults := check.Judge(said, walkaround.Setting{})
		if out := value < *check.AtLeast || value > *check.AtMost; len(faults) > 0 || (outcome == walkaround.Finding) != out || (class != "") != out || (shows != "") != out {
			t.Fatalf("%v: %s %s %q %v", value, outcome, class, shows, faults)
		}
	})
}

// TestEveryAnswerIsJudgedOrRefused holds that whatever is said of whatever check either comes to something, with a class
// if and only if something was found, or is refused with what is wrong with it; and that what was skipped says why.
func TestEveryAnswerIsJudgedOrRefused(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		check := checkAt(t, walkaround.Nose, "check")
		said := walkaround.Answer{
			Outcome: rapid.SampledFrom(append(walkaround.Outcomes(), "", "fine")).Draw(t, "outcome"), Note: rapid.SampledFrom([]string{"", "a note"}).Draw(t, "note"),
			Color: rapid.SampledFrom([]string{"", "blue", "yellow"}).Draw(t, "color"), Until: rapid.SampledFrom([]string{"", "2031-05-03", "2031-05-04", "May"}).Draw(t, "until"),
			Value: rapid.Ptr(rapid.Float64(), true).Draw(t, "value"), Water: rapid.Ptr(rapid.Bool(), true).Draw(t, "water"),
			Sediment: rapid.Ptr(rapid.Bool(), true).Draw(t, "sediment"), Present: rapid.Ptr(rapid.Bool(), true).Draw(t, "present"),
		}
		setting := walkaround.Setting{On: "2031-05-04", At: noon, Book: &walkaround.BookEntry{Hours: 100, At: noon}}
		outcome, class, shows, faults := check.Judge(said, setting)
		switch {
		case len(faults) > 0 && (outcome != "" || class != "" || shows != ""):
			t.Fatalf("refused and judged at once: %s %s %q %v", outcome, class, shows, faults)
		case len(faults) == 0 && !slices.Contains(walkaround.Outcomes(), outcome):
			t.Fatalf("neither judged nor refused: %q", outcome)
		case slices.Contains(walkaround.Classes(), class) != (outcome == walkaround.Finding), shows != "" && outcome != walkaround.Finding:
			t.Fatalf("%s of the class %q, %q", outcome, class, shows)
		case outcome == walkaround.Skipped && said.Note == "":
			t.Fatal("skipped without a reason")
		}
	})
}

func TestTheSameResult(t *testing.T) {
	t.Parallel()
	yes := true
	r := walkaround.Result{ID: id(1), Check: "oil-level", MadeAt: noon, Said: walkaround.Answer{Value: new(6.0), Replaces: ids(2)}}
	again := r
	again.Said.Value, again.MadeAt, again.By = new(6.0), noon.In(time.FixedZone("", 3600)), "somebody else"
	if !r.Same(&again) {
		t.Error("a result that is sent again is another")
	}
	for what, change := range map[string]func(*walkaround.Result){
		"identifier": func(r *walkaround.Result) { r.ID = id(9) },
		"check":      func(r *walkaround.Result) { r.Check = "door" },
		"instant":    func(r *walkaround.Result) { r.MadeAt = noon.Add(time.Second) },
		"outcome":    func(r *walkaround.Result) { r.Said.Outcome = walkaround.Good },
		"value":      func(r *walkaround.Result) { r.Said.Value = new(6.1) },
		"no value":   func(r *walkaround.Result) { r.Said.Value = nil },
		"color":      func(r *walkaround.Result) { r.Said.Color = "blue" },
		"water":      func(r *walkaround.Result) { r.Said.Water = &yes },
		"sediment":   func(r *walkaround.Result) { r.Said.Sediment = &yes },
		"present":    func(r *walkaround.Result) { r.Said.Present = &yes },
		"until":      func(r *walkaround.Result) { r.Said.Until = "2031-05-04" },
		"note":       func(r *walkaround.Result) { r.Said.Note = "x" },
		"replaces":   func(r *walkaround.Result) { r.Said.Replaces = ids(3) },
		"replaces 2": func(r *walkaround.Result) { r.Said.Replaces = ids(2, 3) },
	} {
		other := r
		change(&other)
		if r.Same(&other) {
			t.Errorf("with another %s it is the same", what)
		}
	}
}
