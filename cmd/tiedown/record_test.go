package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tiedown/internal/casefile"
)

// TestEveryWrittenCaseIsJudgedAgain records each case and replays it: the same bytes.
func TestEveryWrittenCaseIsJudgedAgain(t *testing.T) {
	t.Parallel()
	paths, err := filepath.Glob("../../testdata/cases/*.json")
	if err != nil || len(paths) < 30 {
		t.Fatalf("%d cases, want 30 or more (%v)", len(paths), err)
	}
	dir := t.TempDir()
	for _, path := range paths {
		record := filepath.Join(dir, filepath.Base(path))
		plain, out, _ := call(t, "", []string{"evaluate", path})
		code, recorded, stderr := call(t, "", []string{"evaluate", "--record", record, path})
		if code != plain || recorded != out {
			t.Errorf("%s: to record changes the answer: exit %d, %s", path, code, stderr)
		}
		if code, out, stderr := call(t, "", []string{"evaluate", "--replay", record}); code != 0 || !strings.HasPrefix(out, "The same answer: ") {
			t.Errorf("%s: exit %d, %s%s", path, code, out, stderr)
		}
	}
}

// TestAReplayTellsWhatDiffers changes a record in every way, as if another program had made it.
func TestAReplayTellsWhatDiffers(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "record.json")
	if code, _, stderr := call(t, "", []string{"evaluate", "--record", file, "../../testdata/cases/trainer-landing-light-night-private.json"}); code != 0 {
		t.Fatalf("exit %d, %s", code, stderr)
	}
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := casefile.ReadRecord(raw)
	if err != nil {
		t.Fatal(err)
	}
	answered, err := kept.Answered()
	if err != nil {
		t.Fatal(err)
	}
	asked, err := casefile.Decode(kept.Case)
	if err != nil {
		t.Fatal(err)
	}
	another := func(change func(c *casefile.Case, a *casefile.Answer)) string {
		c, a := asked, answered
		a.Findings = append([]casefile.Finding(nil), answered.Findings...)
		change(&c, &a)
		r, err := casefile.NewRecord(c, a)
		if err != nil {
			t.Fatal(err)
		}
		written, err := r.Write()
		if err != nil {
			t.Fatal(err)
		}
		return string(written)
	}
	for _, c := range []struct {
		name, in, out, stderr string
		code                  int
	}{
		{"as it is", string(raw), "The same answer: clear.\n", "", 0},
		{"another verdict", another(func(_ *casefile.Case, a *casefile.Answer) { a.Verdict = "grounded" }), "-: grounded -> clear\n", "", 1},
		{"a finding that has gone", another(func(_ *casefile.Case, a *casefile.Answer) {
			a.Findings = append(a.Findings, casefile.Finding{Row: "91.205-b-1", Outcome: "breached", Citation: "14 CFR 91.205(b)(1)"})
		}), "-: clear, for other reasons\n  - aircraft and flight: 91.205-b-1 breached, 14 CFR 91.205(b)(1)\n", "", 1},
		{"other words", another(func(_ *casefile.Case, a *casefile.Answer) { a.Findings[0].Says = "All is well." }), "-: clear, told in other words\n", "", 1},
		{"another book, the same answer", another(func(_ *casefile.Case, a *casefile.Answer) { a.Rules = "of old" }), "The book is another: recorded by of old, judged by " + answered.Rules + ".\nThe same answer: clear.\n", "", 0},
		{"another book, another answer", another(func(_ *casefile.Case, a *casefile.Answer) { a.Rules, a.Verdict = "of old", "limited" }), "-: limited -> clear\n", "", 1},
		{"a case that nobody understands any more", another(func(c *casefile.Case, _ *casefile.Answer) { c.Aircraft.Facts.Category = "ornithopter" }), "", "no longer understood", 1},
		{"tampered with", strings.Replace(string(raw), `"verdict":"clear"`, `"verdict":"limited"`, 1), "", "its digest is another", 2},
		{"cut short", string(raw[:len(raw)/2]), "", "ends too soon", 2},
		{"a field that a record has not", strings.Replace(string(raw), `{"rules"`, `{"signed":true,"rules"`, 1), "", "signed", 2},
	} {
		code, out, stderr := call(t, c.in, []string{"evaluate", "--replay", "-"})
		if code != c.code || !strings.Contains(out, c.out) || !strings.Contains(stderr, c.stderr) || (c.code == 2) != (stderr != "" && out == "" && c.code == 2) {
			t.Errorf("%s: exit %d, %q, %q; want exit %d, %q, %q", c.name, code, out, stderr, c.code, c.out, c.stderr)
		}
	}
	if code, _, _ := call(t, "", []string{"evaluate", "--replay", file, "--record", file, file}); code != exitUsage {
		t.Errorf("both at once: exit %d", code)
	}
	if code, _, _ := call(t, "", []string{"evaluate", "--replay", "no-such-file"}); code != exitUsage {
		t.Errorf("a record that is not there: exit %d", code)
	}
	if again, err := os.ReadFile(file); err != nil || !bytes.Equal(again, raw) {
		t.Error("a replay changes the record")
	}
}
