package audit_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"tiedown/internal/audit"
)

// TestValues holds the written forms: a log that was written by them must be read by them for ever.
func TestValues(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ got, want string }{
		{audit.Text(`a "b" \ é 灯 <&>`), `"a \"b\" \\ é 灯 <&>"`},
		{audit.Text("a\nb\t\x00\x7f\u0085\u2028\u202e\ufeff"), `"a\u000ab\u0009\u0000\u007f\u0085\u2028\u202e\ufeff"`},
		{audit.Integer(-7), `-7`},
		{audit.Number(45.123456789), `45.123456789`},
		{audit.Number(-93), `-93`},
		{audit.Number(1e21), `1e+21`},
		{audit.Number(math.Copysign(0, -1)), `-0`},
		{audit.Number(math.NaN()), `"NaN"`},
		{audit.Number(math.Inf(-1)), `"-Inf"`},
		{audit.Truth(true), `true`},
		{audit.Instant(time.Date(2031, 5, 4, 7, 0, 0, 123456789, time.FixedZone("", -5*3600))), `"2031-05-04T12:00:00.123456Z"`},
		{audit.Date(time.Date(2031, 5, 4, 0, 0, 0, 0, time.UTC)), `"2031-05-04"`},
		{audit.Bytes([]byte{0, 255}), `"AP8="`},
		{audit.List([]string{audit.Text("a"), audit.Text("")}), `["a",""]`},
		{audit.List(nil), `[]`},
	} {
		if c.got != c.want {
			t.Errorf("%s, want %s", c.got, c.want)
		}
	}
}

func TestDocuments(t *testing.T) {
	t.Parallel()
	for raw, want := range map[string]string{
		`{ "b" : [ 1 , 2.50 , -0 , 1e2 , 100.0 , 0.001 ] , "a" : null }`: `{"a":null,"b":[1,25e-1,0,1e2,1e2,1e-3]}`,
		`{"a":1,"a":2}`:               `{"a":2}`,
		`"\u0041\u003c<\ud83d\ude00"`: `"A<<😀"`,
		`1e999999999`:                 `1e999999999`,
		`-120.340e-1`:                 `-12034e-3`,
		`[]`:                          `[]`,
		`{}`:                          `{}`,
		`true`:                        `true`,
	} {
		if got, err := audit.Document([]byte(raw)); err != nil || got != want {
			t.Errorf("%s: %s, want %s (%v)", raw, got, want, err)
		}
	}
	for _, raw := range []string{``, `{`, `1 2`, `nul`, `1e99999999999999999999`, `{"a":1}}`} {
		if got, err := audit.Document([]byte(raw)); err == nil {
			t.Errorf("%q is read as %s", raw, got)
		}
	}
}

// TestADocumentIsWrittenInOneWay: however its JSON is laid out, and however often it is written again.
func TestADocumentIsWrittenInOneWay(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		v := map[string]any{}
		for _, name := range rapid.SliceOfN(rapid.String(), 0, 5).Draw(t, "names") {
			v[name] = rapid.OneOf(
				rapid.Map(rapid.String(), func(s string) any { return s }), rapid.Map(rapid.Float64Range(-1e30, 1e30), func(f float64) any { return f }),
				rapid.Map(rapid.SliceOf(rapid.Int()), func(n []int) any { return n }), rapid.Just[any](nil),
			).Draw(t, "value")
		}
		raw, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		written, err := audit.Document(raw)
		if err != nil {
			t.Fatal(err)
		}
		var laidOut bytes.Buffer
		if err := json.Indent(&laidOut, raw, "", "   "); err != nil {
			t.Fatal(err)
		}
		for _, form := range [][]byte{laidOut.Bytes(), []byte(written)} {
			if again, err := audit.Document(form); err != nil || again != written {
				t.Fatalf("%s is written as %s, and as %s (%v)", form, again, written, err)
			}
		}
		var read map[string]any
		if err := json.Unmarshal([]byte(written), &read); err != nil {
			t.Fatalf("%s is no JSON: %v", written, err)
		}
	})
}

// TestTwoTextsAreNeverWrittenAlike, and the written form is one visible line.
func TestTwoTextsAreNeverWrittenAlike(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.String().Draw(t, "a"), rapid.String().Draw(t, "b")
		if (a == b) != (audit.Text(a) == audit.Text(b)) {
			t.Fatalf("%q and %q", a, b)
		}
		var back string
		if err := json.Unmarshal([]byte(audit.Text(a)), &back); err != nil || back != a {
			t.Fatalf("%q reads back as %q (%v)", a, back, err)
		}
		if written := audit.Text(a); strings.ContainsAny(written, "\n\r\x1b") || !utf8.ValidString(written) {
			t.Fatalf("%q", written)
		}
	})
}

// TestADocumentIsWrittenAsIfItHadBeenReadWhole holds the writer, which never builds what it writes, against the plain way:
// read everything, then write it with its names in order.
func TestADocumentIsWrittenAsIfItHadBeenReadWhole(t *testing.T) {
	t.Parallel()
	var piece func(depth int) *rapid.Generator[string]
	blank := rapid.SampledFrom([]string{"", "", " ", "\n\t", "\r "})
	text := rapid.OneOf(
		rapid.SampledFrom([]string{`"a"`, `"b"`, `"\u0061"`, `"a\"b"`, `"\\"`, `"\ud83d\ude00"`, `"\ud800"`, `"é"`, "\"\xff\"", `""`, `"\u202e"`}),
		rapid.Map(rapid.String(), func(s string) string { raw, _ := json.Marshal(s); return string(raw) }), // a text always can be
	)
	piece = func(depth int) *rapid.Generator[string] {
		plain := rapid.OneOf(text, rapid.SampledFrom([]string{"null", "true", "false", "0", "-0", "1.50", "1e2", "-12.5E-3"}))
		if depth == 0 {
			return plain
		}
		list := func(item *rapid.Generator[string], open, end string) *rapid.Generator[string] {
			return rapid.Custom(func(t *rapid.T) string {
				items := rapid.SliceOfN(item, 0, 4).Draw(t, "items")
				b := blank.Draw(t, "blank")
				return b + open + b + strings.Join(items, b+","+b) + b + end + b
			})
		}
		member := rapid.Custom(func(t *rapid.T) string {
			return text.Draw(t, "name") + blank.Draw(t, "blank") + ":" + blank.Draw(t, "blank") + piece(depth-1).Draw(t, "value")
		})
		return rapid.OneOf(plain, list(piece(depth-1), "[", "]"), list(member, "{", "}"))
	}
	rapid.Check(t, func(t *rapid.T) {
		raw := piece(3).Draw(t, "document")
		written, err := audit.Document([]byte(raw))
		if err != nil {
			t.Fatalf("%s: %v", raw, err)
		}
		d := json.NewDecoder(strings.NewReader(raw))
		d.UseNumber()
		var whole any
		if err := d.Decode(&whole); err != nil {
			t.Fatalf("%s: %v", raw, err)
		}
		if want := inOrder(t, whole); written != want {
			t.Fatalf("%s is written %s, want %s", raw, written, want)
		}
	})
}

// inOrder writes what has been read.
func inOrder(t *rapid.T, v any) string {
	var parts []string
	switch v := v.(type) {
	case map[string]any:
		for _, name := range slices.Sorted(maps.Keys(v)) {
			parts = append(parts, audit.Text(name)+":"+inOrder(t, v[name]))
		}
		return "{" + strings.Join(parts, ",") + "}"
	case []any:
		for _, item := range v {
			parts = append(parts, inOrder(t, item))
		}
		return "[" + strings.Join(parts, ",") + "]"
	case string:
		return audit.Text(v)
	case json.Number:
		written, err := audit.Document([]byte(v))
		if err != nil {
			t.Fatal(err)
		}
		return written
	}
	raw, _ := json.Marshal(v) // true, false or null
	return string(raw)
}
