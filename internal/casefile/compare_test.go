package casefile_test

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"tiedown/internal/casefile"
)

func TestCompare(t *testing.T) {
	t.Parallel()
	f := func(row, outcome string) casefile.Finding { return casefile.Finding{Row: row, Outcome: outcome} }
	answer := func(verdict string, findings ...casefile.Finding) casefile.Answer {
		return casefile.Answer{Verdict: verdict, Findings: findings}
	}
	reworded := f("a", "passed")
	reworded.Says = "in other words"
	for _, c := range []struct {
		name       string
		was, is    casefile.Answer
		gone, come []casefile.Finding
		none       bool
	}{
		{"the same", answer("clear", f("a", "passed")), answer("clear", f("a", "passed")), nil, nil, true},
		{"another order", answer("clear", f("a", "passed"), f("b", "noted")), answer("clear", f("b", "noted"), f("a", "passed")), nil, nil, true},
		{"other words", answer("clear", f("a", "passed")), answer("clear", reworded), nil, nil, true},
		{"another verdict", answer("clear"), answer("grounded"), nil, nil, false},
		{"one more", answer("clear", f("a", "passed")), answer("clear", f("a", "passed"), f("a", "passed")), nil, []casefile.Finding{f("a", "passed")}, false},
		{"one fewer", answer("clear", f("a", "passed"), f("b", "passed")), answer("clear", f("b", "passed")), []casefile.Finding{f("a", "passed")}, nil, false},
		{"another outcome", answer("clear", f("a", "passed")), answer("clear", f("a", "noted")), []casefile.Finding{f("a", "passed")}, []casefile.Finding{f("a", "noted")}, false},
	} {
		d := casefile.Compare(c.was, c.is)
		if !reflect.DeepEqual(d.Gone, c.gone) || !reflect.DeepEqual(d.Come, c.come) || d.None() != c.none || d.Was != c.was.Verdict || d.Is != c.is.Verdict {
			t.Errorf("%s: %+v", c.name, d)
		}
	}
}

// FuzzReadRecord holds that nothing makes the reader panic, and that what it takes for a record is one, whole.
func FuzzReadRecord(f *testing.F) {
	c, err := casefile.Decode(full(f))
	if err != nil {
		f.Fatal(err)
	}
	r, err := casefile.NewRecord(c, casefile.Answer{Verdict: "clear", Rules: "a book"})
	if err != nil {
		f.Fatal(err)
	}
	whole, err := r.Write()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add([]byte(strings.Replace(string(whole), "a book", "another", 1)))
	f.Add([]byte(`{"rules":"","case":null,"answer":null,"digest":""}`))
	f.Fuzz(func(t *testing.T, raw []byte) {
		r, err := casefile.ReadRecord(raw)
		if err != nil {
			return
		}
		again, err := r.Write()
		if err != nil {
			t.Fatal(err)
		}
		if other, err := casefile.ReadRecord(again); err != nil || !reflect.DeepEqual(other, r) && json.Valid(r.Case) {
			t.Fatalf("a record that is not read again: %v", err)
		}
	})
}

// TestARecordIsOneForm holds that the same case and answer give the same bytes, however the case was written.
func TestARecordIsOneForm(t *testing.T) {
	t.Parallel()
	raw := full(t)
	var spaced strings.Builder
	e := json.NewEncoder(&spaced)
	e.SetIndent("  ", "   ")
	if err := e.Encode(json.RawMessage(raw)); err != nil {
		t.Fatal(err)
	}
	var forms []string
	for _, text := range []string{string(raw), spaced.String()} {
		c, err := casefile.Decode([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		r, err := casefile.NewRecord(c, casefile.Answer{Verdict: "clear", Rules: "a book", Caution: "<&>"})
		if err != nil {
			t.Fatal(err)
		}
		written, err := r.Write()
		if err != nil {
			t.Fatal(err)
		}
		forms = append(forms, string(written))
	}
	if forms[0] != forms[1] {
		t.Errorf("two forms:\n%s%s", forms[0], forms[1])
	}
	if !strings.Contains(forms[0], "<&>") {
		t.Error("signs are written as escapes")
	}
}
