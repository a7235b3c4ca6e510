package main

import (
	"encoding/json"
	"strings"
	"testing"

	"tiedown/internal/inquiry"
)

// TestOneCaseIsAnsweredInEveryForm asks about one written case in each form. The exit code is the verdict's in all.
func TestOneCaseIsAnsweredInEveryForm(t *testing.T) {
	t.Parallel()
	const path = "../../testdata/cases/trainer-lists-not-looked-at.json"
	ask := func(form string) string {
		t.Helper()
		code, out, stderr := call(t, "", []string{"evaluate", form, path})
		if code != verdictExit["undetermined"] {
			t.Errorf("%s: exit %d, %s", form, code, stderr)
		}
		return out
	}
	if out := ask("--summary"); strings.Count(out, "\n") != 1 || !strings.HasPrefix(out, "Undetermined") || !strings.Contains(out, "91.213, paragraph d 2 iv") {
		t.Errorf("summary: %q", out)
	}
	var s inquiry.Settling
	if err := json.Unmarshal([]byte(ask("--settle")), &s); err != nil || len(s.Sets) != 1 || len(s.Sets[0].Facts) != 3 { // both lists, and who has confirmed the first
		t.Errorf("settle: %v, %+v", err, s)
	}
	var e inquiry.Envelope
	if err := json.Unmarshal([]byte(ask("--envelope")), &e); err != nil || len(e.Cells) != 6 || e.Permits || e.On != "2026-06-01" {
		t.Errorf("envelope: %v, %+v", err, e)
	}
	if code, _, _ := call(t, "", []string{"evaluate", "--settle", "--envelope", path}); code != exitUsage {
		t.Errorf("two forms at once: exit %d", code)
	}
}
