package main

import (
	"os"
	"strings"
	"testing"
)

// TestAChecklistIsPrintedInItsOtherForm holds that the club's checklist comes back from both forms as it was, and that
// faults are told with their lines.
func TestAChecklistIsPrintedInItsOtherForm(t *testing.T) {
	t.Parallel()
	csv, err := os.ReadFile("../../internal/demo/checklists/trainer.csv")
	if err != nil {
		t.Fatal(err)
	}
	code, json, stderr := call(t, string(csv), []string{"checklist", "-"})
	if code != exitOK || strings.Count(json, `"id"`) != 90 {
		t.Fatalf("exit %d, %d checks: %s", code, strings.Count(json, `"id"`), stderr)
	}
	if code, again, stderr := call(t, json, []string{"checklist", "-"}); code != exitOK || again != string(csv) {
		t.Errorf("exit %d: %s\n%s", code, stderr, again)
	}
	for what, c := range map[string]struct {
		from string
		says []string
	}{
		"CSV":  {strings.Replace(strings.Replace(string(csv), "oil-level,nose", "Oil,nose", 1), "engine-oil", "no-such", 1), []string{"-:43: ", "no name of a check", "no-such"}},
		"JSON": {strings.Replace(json, `"means":"servicing"`, `"means":"bad","sort":1`, 1), []string{"-:36: ", "bad", "sort"}},
	} {
		code, out, stderr := call(t, c.from, []string{"checklist", "-"})
		if code != exitUsage || out != "" {
			t.Errorf("%s: exit %d, %s", what, code, out)
		}
		for _, says := range c.says {
			if !strings.Contains(stderr, says) {
				t.Errorf("%s: it does not say %q: %s", what, says, stderr)
			}
		}
	}
	if code, _, _ := call(t, "", []string{"checklist"}); code != exitUsage {
		t.Errorf("without a file: exit %d", code)
	}
}
