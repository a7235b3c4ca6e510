package audit_test

import (
	"errors"
	"slices"
	"testing"

	"tiedown/internal/audit"
)

func each[T any](items []T) func() (T, bool, error) {
	return func() (T, bool, error) {
		if len(items) == 0 {
			var none T
			return none, false, nil
		}
		next := items[0]
		items = items[1:]
		return next, true, nil
	}
}

func row(key string, digest byte) audit.Row { return audit.Row{Key: key, Digest: [32]byte{digest}} }

func line(key string, number int64, version int, digest byte) audit.Line {
	return audit.Line{Key: key, Number: number, Version: version, Digest: [32]byte{digest}}
}

func TestMatch(t *testing.T) {
	t.Parallel()
	unreadable := audit.Row{Key: "b", Fault: errors.New("no date")}
	for name, c := range map[string]struct {
		changes bool
		rows    []audit.Row
		entries []audit.Line
		want    []string
	}{
		"nothing":            {false, nil, nil, nil},
		"as entered":         {false, []audit.Row{row("a", 1), row("b", 2)}, []audit.Line{line("a", 7, 0, 1), line("b", 3, 0, 2)}, nil},
		"of versions":        {true, []audit.Row{row("a", 3)}, []audit.Line{line("a", 1, 4, 1), line("a", 2, 5, 2), line("a", 9, 6, 3)}, nil},
		"at first of none":   {true, []audit.Row{row("a", 2)}, []audit.Line{line("a", 1, 0, 1), line("a", 2, 2, 2)}, nil},
		"altered":            {false, []audit.Row{row("a", 1), row("b", 9)}, []audit.Line{line("a", 0, 0, 1), line("b", 1, 0, 2)}, []string{"base b: the record was altered: it is not as entry 1 says"}},
		"an earlier version": {true, []audit.Row{row("a", 1)}, []audit.Line{line("a", 0, 1, 1), line("a", 1, 2, 2)}, []string{"base a: the record was altered: it is not as entry 1 says"}},
		"unreadable":         {false, []audit.Row{unreadable}, []audit.Line{line("b", 1, 0, 2)}, []string{"base b: the record was altered: no date"}},
		"not entered":        {false, []audit.Row{row("a", 1), row("b", 2), row("c", 3)}, []audit.Line{line("b", 1, 0, 2)}, []string{"base a: there is no entry of it in the log", "base c: there is no entry of it in the log"}},
		"missing":            {true, []audit.Row{row("b", 2)}, []audit.Line{line("a", 0, 1, 1), line("a", 1, 2, 1), line("b", 2, 1, 2), line("c", 3, 1, 2)}, []string{"base a: the record is missing that entry 1 is about", "base c: the record is missing that entry 3 is about"}},
		"a version left out": {true, []audit.Row{row("a", 3)}, []audit.Line{line("a", 1, 1, 1), line("a", 9, 3, 3)}, []string{"base a: entry 1 is about version 1, and the next, 9, about version 3"}},
		"entered twice":      {false, []audit.Row{row("a", 1)}, []audit.Line{line("a", 1, 0, 1), line("a", 2, 0, 1)}, []string{"base a: entries 1 and 2 are both about it, and it never changes"}},
		"of no version":      {false, []audit.Row{row("a", 1)}, []audit.Line{line("a", 1, 3, 1)}, []string{"base a: entry 1 is about version 3 of a record that never changes"}},
	} {
		var got []string
		err := audit.Match("base", c.changes, each(c.rows), each(c.entries), func(f audit.Fault) { got = append(got, f.String()) })
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q (%v)", name, got, c.want, err)
		}
	}
}

func TestMatchStopsWhereItCannotRead(t *testing.T) {
	t.Parallel()
	broken := errors.New("the connection was lost")
	ignore := func(audit.Fault) {}
	noRow := func() (audit.Row, bool, error) { return audit.Row{}, false, broken }
	noLine := func() (audit.Line, bool, error) { return audit.Line{}, false, broken }
	if err := audit.Match("base", true, noRow, each([]audit.Line{line("a", 1, 1, 1)}), ignore); !errors.Is(err, broken) {
		t.Errorf("without rows: %v", err)
	}
	if err := audit.Match("base", true, each([]audit.Row{row("a", 1)}), noLine, ignore); !errors.Is(err, broken) {
		t.Errorf("without entries: %v", err)
	}
}
