package casefile_test

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
)

const melHeader = "item,installed,required,category,days,operations_procedure,maintenance_procedure,proviso,only_when,document\n"

func TestReadMEL(t *testing.T) {
	t.Parallel()
	rows, err := casefile.ReadMEL(strings.NewReader(melHeader +
		"taxi-light,1,0,C,,false,true,\"by day, and dry\",!night,page 33-1\n" +
		"dme,,,,,,,,,\n" +
		"autopilot,1,0,A,5,true,false,\"line one\nline two\",,\n"))
	want := []casefile.MELRow{
		{
			Item: "taxi-light", Installed: ptr(1), Required: ptr(0), Category: "C", OperationsProcedure: ptr(false),
			MaintenanceProcedure: ptr(true), Proviso: "by day, and dry", OnlyWhen: "!night", Document: "page 33-1",
		},
		{Item: "dme"},
		{
			Item: "autopilot", Installed: ptr(1), Required: ptr(0), Category: "A", Days: ptr(5), OperationsProcedure: ptr(true),
			MaintenanceProcedure: ptr(false), Proviso: "line one\nline two",
		},
	}
	if err != nil || !reflect.DeepEqual(rows, want) {
		t.Errorf("have %+v, %v", rows, err)
	}
	if rows, err := casefile.ReadMEL(strings.NewReader(melHeader)); err != nil || len(rows) != 0 {
		t.Errorf("a list of nothing is %+v, %v", rows, err)
	}
}

func TestReadMELNamesEveryFault(t *testing.T) {
	t.Parallel()
	const row = "dme,1,0,C,,false,false,,,\n"
	fault := func(line int, field, rule string) string { return fmt.Sprintf("%d %s %s", line, field, rule) }
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"nothing", "", []string{fault(1, "document", "header")}},
		{"another header", "item,days\n" + row, []string{fault(1, "document", "header")}},
		{"not UTF-8", melHeader + "dme,1,0,C,,false,false,\xff,,\n", []string{fault(2, "document", "utf-8")}},
		{"a carriage return", strings.ReplaceAll(melHeader+row, "\n", "\r\n"), []string{fault(1, "document", "line-end")}},
		{"an open quote", melHeader + row + "adf,\"1,0\n", []string{fault(3, "document", "syntax")}},
		{"a field too few", melHeader + "dme,1,0,C\n", []string{fault(2, "rows[0]", "columns")}},
		{"a field too many", melHeader + "dme,1,0,C,,false,false,,,,\n", []string{fault(2, "rows[0]", "columns")}},
		{"no item", melHeader + ",1,0,C,,false,false,,,\n", []string{fault(2, "rows[0].item", "required")}},
		{"an item twice", melHeader + row + row, []string{fault(3, "rows[1].item", "unique")}},
		{"a stray space", melHeader + "dme,1,0,C,,false,false, x,,\n", []string{fault(2, "rows[0].proviso", "stray-space")}},
		{"no number", melHeader + "dme,one,0,C,,false,false,,,\n", []string{fault(2, "rows[0].installed", "type")}},
		{"a number written another way", melHeader + "dme,01,+0,C,,false,false,,,\n", []string{
			fault(2, "rows[0].installed", "type"), fault(2, "rows[0].required", "type"),
		}},
		{"neither true nor false", melHeader + "dme,1,0,C,,yes,TRUE,,,\n", []string{
			fault(2, "rows[0].operations_procedure", "type"), fault(2, "rows[0].maintenance_procedure", "type"),
		}},
		{"none installed", melHeader + "dme,0,0,C,,false,false,,,\n", []string{fault(2, "rows[0].installed", "range")}},
		{"more required than installed", melHeader + "dme,1,2,C,,false,false,,,\n", []string{fault(2, "rows[0].required", "at-most-installed")}},
		{"no such category", melHeader + "dme,1,0,E,,false,false,,,\n", []string{fault(2, "rows[0].category", "known-word")}},
		{"days of category B", melHeader + "dme,1,0,B,4,false,false,,,\n", []string{fault(2, "rows[0].days", "category-a")}},
		{"faults of two rows", melHeader + "dme,1,0,E,,false,false,,,\n" + row + "adf,x,0,A,0,false,false,\"a\nb\",,\n" + "clock,1\n", []string{
			fault(2, "rows[0].category", "known-word"), fault(3, "rows[1].item", "unique"), fault(4, "rows[2].installed", "type"),
			fault(4, "rows[2].days", "range"), fault(6, "rows[3]", "columns"),
		}},
	} {
		rows, err := casefile.ReadMEL(strings.NewReader(c.text))
		var faults casefile.Faults
		if !errors.As(err, &faults) || rows != nil {
			t.Errorf("%s: read as %+v, %v", c.name, rows, err)
			continue
		}
		var have []string
		for _, f := range faults {
			have = append(have, fault(f.Line, f.Field, f.Rule))
		}
		if !reflect.DeepEqual(have, c.want) {
			t.Errorf("%s: want %q, have %q", c.name, c.want, have)
		}
		mustBeFaults(t, err, true)
	}
}

func TestReadMELIsBounded(t *testing.T) {
	t.Parallel()
	var text strings.Builder
	text.WriteString(melHeader)
	for i := range 1001 {
		fmt.Fprintf(&text, "item-%d,1,0,C,,false,false,,,\n", i)
	}
	var faults casefile.Faults
	if _, err := casefile.ReadMEL(strings.NewReader(text.String())); !errors.As(err, &faults) || len(faults) != 1 || faults[0].Rule != "rows" {
		t.Errorf("%v", err)
	}
	broken := errors.New("the cable is out")
	if _, err := casefile.ReadMEL(cable{broken}); !errors.Is(err, broken) {
		t.Errorf("%v", err)
	}
}

type cable struct{ err error }

func (c cable) Read([]byte) (int, error) { return 0, c.err }

// TestWhatIsWrittenReadsBack holds WriteMEL against ReadMEL.
func TestWhatIsWrittenReadsBack(t *testing.T) {
	t.Parallel()
	word := rapid.StringMatching(`|[!-~é]([ -~é\n]*[!-~é])?`)
	flag := rapid.SampledFrom([]*bool{nil, ptr(true), ptr(false)})
	rapid.Check(t, func(t *rapid.T) {
		var rows []casefile.MELRow
		for i := range rapid.IntRange(0, 5).Draw(t, "rows") {
			r := casefile.MELRow{
				Item: fmt.Sprintf("item-%d", i), Category: rapid.SampledFrom([]string{"", "A", "B", "C", "D"}).Draw(t, "category"),
				OperationsProcedure: flag.Draw(t, "operations"), MaintenanceProcedure: flag.Draw(t, "maintenance"),
				Proviso: word.Draw(t, "proviso"), OnlyWhen: word.Draw(t, "only when"), Document: word.Draw(t, "document"),
			}
			if rapid.Bool().Draw(t, "counted") {
				r.Installed = ptr(rapid.IntRange(1, 9).Draw(t, "installed"))
				r.Required = ptr(rapid.IntRange(0, *r.Installed).Draw(t, "required"))
			}
			if r.Category == "A" {
				r.Days = ptr(rapid.IntRange(1, 200).Draw(t, "days"))
			}
			rows = append(rows, r)
		}
		var text bytes.Buffer
		if err := casefile.WriteMEL(&text, rows); err != nil {
			t.Fatal(err)
		}
		back, err := casefile.ReadMEL(bytes.NewReader(text.Bytes()))
		if err != nil || !reflect.DeepEqual(back, rows) {
			t.Fatalf("%s\nreads back as %+v, %v", &text, back, err)
		}
	})
}

// FuzzReadMEL holds that no input makes the reader panic, that what it refuses it refuses with faults and lines, and that
// what it reads comes back unchanged when written and read again.
func FuzzReadMEL(f *testing.F) {
	f.Add([]byte(melHeader + "taxi-light,1,0,C,,false,true,\"by day, and dry\",!night,page 33-1\ndme,,,,,,,,,\n"))
	f.Add([]byte(melHeader + "dme,1,2,E,4,yes,,\"a\n"))
	f.Add([]byte(melHeader + "\"\"\"\",,,A,5,,,\"\n\",,\n,\n"))
	f.Add([]byte("item\r\n\xff"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		rows, err := casefile.ReadMEL(bytes.NewReader(raw))
		if err != nil {
			mustBeFaults(t, err, true)
			return
		}
		var text bytes.Buffer
		if err := casefile.WriteMEL(&text, rows); err != nil {
			t.Fatal(err)
		}
		back, err := casefile.ReadMEL(&text)
		if err != nil || !reflect.DeepEqual(back, rows) {
			t.Fatalf("%q\nread as %+v\nand again as %+v, %v", raw, rows, back, err)
		}
	})
}
