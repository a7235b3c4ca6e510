package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"tiedown/internal/casefile"
)

// call runs the program in this process.
func call(t *testing.T, in string, args []string, settings ...string) (int, string, string) {
	t.Helper()
	var out, stderr strings.Builder
	code := run(context.Background(), program{args: args, env: settings, in: strings.NewReader(in), out: &out, err: &stderr})
	return code, out.String(), stderr.String()
}

// TestEveryWrittenCase evaluates each case of testdata/cases: exit code, verdict and findings are those expected.
func TestEveryWrittenCase(t *testing.T) {
	t.Parallel()
	paths, err := filepath.Glob("../../testdata/cases/*.json")
	if err != nil || len(paths) < 30 {
		t.Fatalf("%d cases, want 30 or more (%v)", len(paths), err)
	}
	exits := map[string]int{"clear": 0, "limited": 0, "defer-first": 3, "undetermined": 4, "grounded": 5}
	seen := map[string]bool{}
	for _, path := range paths {
		raw, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var written casefile.Case
		if err := json.Unmarshal(raw, &written); err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		code, out, stderr := call(t, "", []string{"evaluate", path})
		var answer casefile.Answer
		if err := json.Unmarshal([]byte(out), &answer); err != nil {
			t.Errorf("%s: %v\n%s", path, err, stderr)
			continue
		}
		if answer.Verdict != written.Expect.Verdict || code != exits[written.Expect.Verdict] {
			t.Errorf("%s: %s with exit %d, want %s", path, answer.Verdict, code, written.Expect.Verdict)
		}
		seen[answer.Verdict] = true
		for _, want := range written.Expect.Findings {
			if !has(answer, want) {
				t.Errorf("%s: no finding %+v", path, want)
			}
		}
		if _, text, _ := call(t, "", []string{"evaluate", "--explain", path}); !strings.HasPrefix(text, strings.ToUpper(answer.Verdict)) ||
			!strings.Contains(text, "An aid, not an approval") {
			t.Errorf("%s: the plain text is %q", path, text)
		}
	}
	for verdict := range exits {
		if !seen[verdict] {
			t.Errorf("no case is %s", verdict)
		}
	}
}

func has(a casefile.Answer, want casefile.ExpectedFinding) bool {
	for _, f := range a.Findings {
		if f.Row == want.Row && f.Outcome == want.Outcome && (want.Defect == "" || f.Defect == want.Defect) {
			return true
		}
	}
	return false
}

func TestEvaluateNamesFieldAndLine(t *testing.T) {
	t.Parallel()
	const aircraft = `"aircraft": {"facts": {"category": "glider", "certificate": "standard", "basis": "other"}, "configuration": {}},`
	const flight = `"flight": {"rules": "vfr", "departs": "2027-01-15T10:00:00Z", "arrives": "2027-01-15T11:00:00Z"}`
	tests := []struct{ name, in, want string }{
		{"not JSON", "{\n\"story\": oops}", "-:2:"},
		{"unknown field", "{\n" + aircraft + "\n" + flight + ",\n\"pilot\": \"me\"}", "-:4: pilot"},
		{"missing part", "{\n" + aircraft + "\n\"defects\": []}", "flight"},
		{"unknown item", "{\n" + aircraft + "\n\"defects\": [\n{\"id\": \"1\", \"kind\": \"inoperative\", \"item\": \"flux-valve\"}],\n" + flight + "}", "-:4: defects[0].item"},
		{"unit not installed", "{\n" + aircraft + "\n\"defects\": [{\"id\": \"1\", \"kind\": \"inoperative\",\n\"unit\": \"lamp\"}],\n" + flight + "}", "-:4: defects[0].unit"},
		{"ends before it starts", "{\n" + aircraft + "\n\"flight\": {\"departs\": \"2027-01-15T10:00:00Z\",\n\"arrives\": \"2027-01-15T09:00:00Z\"}}", "-:4: flight.arrives"},
		{"no basis", "{\n\"aircraft\": {\"facts\": {\n\"category\": \"glider\", \"certificate\": \"standard\"}, \"configuration\": {}},\n" + flight + "}", "basis"},
		{"place without coordinates", "{\n" + aircraft + "\n\"flight\": {\"departs\": \"2027-01-15T10:00:00Z\", \"arrives\": \"2027-01-15T11:00:00Z\", \"route\": [\n{\"name\": \"home\"}]}}", "-:4: flight.route[0]"},
		{"number out of range", "{\n\"aircraft\": {\"facts\": {\"category\": \"glider\", \"certificate\": \"standard\", \"basis\": \"other\",\n\"engines\": -1}, \"configuration\": {}},\n" + flight + "}", "-:3: aircraft.facts.engines"},
		{"broken UTF-8", "{\n\"story\": \"\xff\"}", "UTF-8"},
		{"too long", `{"story": "` + strings.Repeat("x", maxCase) + `"}`, "at most"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			code, out, stderr := call(t, tt.in, []string{"evaluate", "-"})
			if code != exitUsage || out != "" || !strings.Contains(stderr, tt.want) {
				t.Errorf("exit %d, out %q, error %q; want exit 2 naming %q", code, out, stderr, tt.want)
			}
		})
	}
	if code, _, stderr := call(t, "", []string{"evaluate", "no-such-file"}); code != exitUsage || !strings.Contains(stderr, "no-such-file") {
		t.Errorf("a file that is not there: %d %q", code, stderr)
	}
	for _, args := range [][]string{{}, {"evaluate"}, {"evaluate", "a", "b"}, {"evaluate", "--loud", "a"}, {"fly"}, {"rules", "x"}} {
		if code, _, _ := call(t, "", args); code != exitUsage {
			t.Errorf("%v: exit %d, want 2", args, code)
		}
	}
}

func TestRulesAreListed(t *testing.T) {
	t.Parallel()
	code, out, _ := call(t, "", []string{"rules", "--csv"})
	rows, err := csv.NewReader(strings.NewReader(out)).ReadAll()
	if code != 0 || err != nil || len(rows) < 100 {
		t.Fatalf("exit %d, %d rows, %v", code, len(rows), err)
	}
	for _, row := range rows {
		if row[0] == "" || row[1] == "" || row[2] == "" || row[3] == "" {
			t.Errorf("a row without table, id, citation or words: %v", row)
		}
	}
	var objects []map[string]string
	if code, out, _ = call(t, "", []string{"rules"}); code != 0 || json.Unmarshal([]byte(out), &objects) != nil || len(objects) != len(rows)-1 {
		t.Errorf("JSON lists %d rows, CSV %d", len(objects), len(rows)-1)
	}
}
