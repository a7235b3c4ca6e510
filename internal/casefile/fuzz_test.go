package casefile_test

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/regulation"
)

func book(tb testing.TB) regulation.Book {
	tb.Helper()
	b, err := regulation.Current()
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// full is a case with something in every field, as JSON.
func full(tb testing.TB) []byte {
	tb.Helper()
	var c casefile.Case
	fill(reflect.ValueOf(&c).Elem())
	raw, err := json.Marshal(c)
	if err != nil {
		tb.Fatal(err)
	}
	return raw
}

// fill puts something into every field of a value.
func fill(v reflect.Value) {
	if v.Type() == reflect.TypeFor[time.Time]() {
		v.Set(reflect.ValueOf(time.Date(2026, 6, 1, 14, 0, 0, 0, time.UTC)))
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		fill(v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i))
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		fill(v.Index(0))
	case reflect.String:
		v.SetString("x")
	case reflect.Int:
		v.SetInt(1)
	case reflect.Float64:
		v.SetFloat(1.5)
	case reflect.Bool:
		v.SetBool(true)
	default:
		panic("a field of kind " + v.Kind().String())
	}
}

// cases are the files of testdata/cases.
func cases(tb testing.TB) map[string][]byte {
	tb.Helper()
	names, err := filepath.Glob("../../testdata/cases/*.json")
	if err != nil {
		tb.Fatal(err)
	}
	files := map[string][]byte{}
	for _, name := range names {
		raw, err := os.ReadFile(name)
		if err != nil {
			tb.Fatal(err)
		}
		files[filepath.Base(name)] = raw
	}
	return files
}

// FuzzDecode holds that no input makes the reader panic, that what it refuses it refuses with faults, and that what it
// reads compiles or is refused with faults, judges, and comes back unchanged when written and read again.
func FuzzDecode(f *testing.F) {
	rules := book(f)
	f.Add(full(f))
	f.Add([]byte(`{"flight": {"departs": "2026-06-01T14:00:00Z", "altitude_ft": 1e3, "airspace": []}, "x": [1, {"a": null}]}`))
	f.Add([]byte("{\"a\": 1, \"a\": \"\xff\"} {"))
	for _, raw := range cases(f) {
		f.Add(raw)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		c, err := casefile.Decode(raw)
		if err != nil {
			mustBeFaults(t, err, true)
			return
		}
		if lines, err := casefile.Lines(raw); err != nil || lines[""] < 1 {
			t.Fatalf("it decodes, but has no lines: %v, %v", lines, err)
		}
		written, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		again, err := casefile.Decode(written)
		if err != nil {
			t.Fatalf("written as %s, it does not read back: %v", written, err)
		}
		rewritten, err := json.Marshal(again)
		if err != nil || string(rewritten) != string(written) {
			t.Fatalf("written as %s, read back as %s (%v)", written, rewritten, err)
		}
		q, err := casefile.Compile(c, rules.Ruleset)
		if err != nil {
			mustBeFaults(t, err, false)
			return
		}
		answer := casefile.Judge(q, rules.Ruleset, rules.Digest)
		if _, ok := airworthiness.ParseVerdict(answer.Verdict); !ok || answer.Caution == "" {
			t.Fatalf("the answer is %+v", answer)
		}
	})
}

// mustBeFaults holds that an error names its fields, and where the text is at hand, their lines.
func mustBeFaults(t *testing.T, err error, lined bool) {
	t.Helper()
	var faults casefile.Faults
	if !errors.As(err, &faults) || len(faults) == 0 {
		t.Fatalf("no faults, but %v", err)
	}
	for _, f := range faults {
		if f.Field == "" || f.Rule == "" || f.Says == "" || f.Remedy == "" || lined && f.Line < 1 {
			t.Fatalf("a fault that does not say enough: %+v", f)
		}
	}
}
