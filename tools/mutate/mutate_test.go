package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestMutantsAreTried mutates a small package of which one limit is tested and the other is not.
func TestMutantsAreTried(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, text := range map[string]string{
		"go.mod": "module small\n\ngo 1.26\n",
		"p/p.go": `package p

type Truth uint8

const (
	Unknown Truth = iota
	No
	Yes
)

var calls int

func Within(n int) Truth {
	calls++
	if n > 0 && n < 10 {
		return Yes
	}
	return No
}
`,
		"p/p_test.go": `package p

import "testing"

func TestWithin(t *testing.T) {
	for n, want := range map[int]Truth{0: No, 1: Yes, 5: Yes, 20: No} {
		if got := Within(n); got != want {
			t.Errorf("%d: %d", n, got)
		}
	}
}
`,
	} {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	var out strings.Builder
	results := filepath.Join(dir, "results")
	args := []string{"-root", dir, "-package", "p", "-results", results, "-test", "p"}
	if err := run(t.Context(), args, &out); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(out.String()), "\n")
	survivors := strings.Join(lines[:len(lines)-1], "\n")
	for change, survives := range map[string]bool{
		"drops calls++": true, "n < 10: < -> <=": true, "10 -> 11": true, "10 -> 9": true,
		"n > 0: > -> >=": false, "n < 10: < -> >=": false, "&& -> ||": false, "-> n > 0": false, "-> n < 10": false,
		"Yes -> No": false, "No -> Unknown": false, "returns nothing at once": false,
	} {
		if strings.Contains(survivors, change) != survives {
			t.Errorf("%q survives %t:\n%s", change, !survives, survivors)
		}
	}
	tried, err := os.ReadFile(results)
	if err != nil || len(strings.Split(strings.TrimSpace(string(tried)), "\n")) != 17 {
		t.Errorf("%v: tried were\n%s", err, tried)
	}

	// What has been tried is not tried again, and a trial that fails anyway is refused.
	if err := run(t.Context(), args, &out); err != nil {
		t.Error(err)
	}
	if again, err := os.ReadFile(results); err != nil || string(again) != string(tried) {
		t.Errorf("%v: the second time the results are\n%s", err, again)
	}
	if err := run(t.Context(), append(args, "-test", "p -test.run=("), &out); err == nil || !strings.Contains(err.Error(), "fails without any mutant") {
		t.Errorf("a trial that cannot pass: %v", err)
	}
}

func TestASampleIsSeeded(t *testing.T) {
	t.Parallel()
	s := &source{files: []*file{{path: "/a.go"}}}
	for i := range 50 {
		s.mutants = append(s.mutants, &mutant{number: i + 1, file: "a.go"})
	}
	one, same, other := s.sample(20, 1), s.sample(20, 1), s.sample(20, 2)
	if len(one) != 10 || len(other) != 10 {
		t.Fatalf("of 50 a fifth is %d", len(one))
	}
	equal := func(a, b []*mutant) bool {
		for i := range a {
			if a[i] != b[i] {
				return false
			}
		}
		return true
	}
	if !equal(one, same) || equal(one, other) {
		t.Error("a seed does not settle the sample")
	}
}
