package walkaround

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"tiedown/internal/casefile"
)

// columns are those of a checklist as CSV, in order: the names of the fields in JSON.
var columns = []string{
	"id", "station", "way", "words", "required", "when", "equipped", "serials", "means", "item", "unit", "in", "at_least", "at_most",
	"below", "above", "fuel", "color", "meter", "paper", "dated", "used_up",
}

// cell is one field of a check as text.
type cell struct {
	write func() string
	read  func(string) (rule, says, remedy string) // says what is wrong with the text; empty: nothing
}

// cells are the fields of a check in the order of the columns.
func (c *Check) cells() []cell {
	return []cell{
		text(&c.ID), text(&c.Station), text(&c.Way), text(&c.Words), flag(&c.Required), words(&c.When), text(&c.Equipped), text(&c.Serials),
		text(&c.Means), text(&c.Item), text(&c.Unit), text(&c.In), number(&c.AtLeast), number(&c.AtMost), text(&c.Below), text(&c.Above),
		text(&c.Fuel), text(&c.Color), text(&c.Meter), text(&c.Paper), flag(&c.Dated), flag(&c.UsedUp),
	}
}

func text[T ~string](v *T) cell {
	return cell{func() string { return string(*v) }, func(s string) (string, string, string) {
		*v = T(s)
		if s != strings.TrimSpace(s) || !oneLine(s) {
			return "one-line", "a space before or after the text, or a line break in it", "write it on one line, without"
		}
		return "", "", ""
	}}
}

func flag(v *bool) cell {
	return cell{func() string {
		if *v {
			return "true"
		}
		return ""
	}, func(s string) (string, string, string) {
		*v = s == "true"
		if s != "" && s != "true" {
			return "type", fmt.Sprintf("%q is not true", s), "write true, or nothing"
		}
		return "", "", ""
	}}
}

func words(v *[]Circumstance) cell {
	return cell{func() string {
		all := make([]string, len(*v))
		for i, w := range *v {
			all[i] = string(w)
		}
		return strings.Join(all, " ")
	}, func(s string) (string, string, string) {
		*v = nil
		for _, w := range strings.Fields(s) {
			*v = append(*v, Circumstance(w))
		}
		if s != strings.Join(strings.Fields(s), " ") {
			return "one-line", "stray spaces", "put one space between words"
		}
		return "", "", ""
	}}
}

func number(v **float64) cell {
	return cell{func() string {
		if *v == nil {
			return ""
		}
		return strconv.FormatFloat(**v, 'f', -1, 64)
	}, func(s string) (string, string, string) {
		*v = nil
		if s == "" {
			return "", "", ""
		}
		n, err := strconv.ParseFloat(s, 64)
		if err != nil || math.IsInf(n, 0) || math.IsNaN(n) || strings.ContainsAny(s, "xXpPeE_+") {
			return "type", fmt.Sprintf("%q is no number", s), "write a number such as 5.5, or nothing"
		}
		*v = &n
		return "", "", ""
	}}
}

// ReadCSV reads a checklist from CSV: a header of the columns in order, and a row a check. It is strict, and the error
// tells every fault at once, each with its line, counted from 1: what cannot be read, and what makes no checklist.
func ReadCSV(in io.Reader, known Catalog) (Checklist, error) {
	var list Checklist
	var lines []int
	broken := map[string]bool{} // fields that could not be read: nothing more is said of them
	err := casefile.ReadCSV(in, columns, func(record []string, line int, bad *casefile.Faults) {
		var c Check
		for i, cell := range c.cells() {
			if rule, says, remedy := cell.read(record[i]); rule != "" {
				field := fmt.Sprintf("checks[%d].%s", len(list.Checks), columns[i])
				broken[field] = true
				*bad = append(*bad, casefile.Fault{Field: field, Rule: rule, Says: says, Remedy: remedy, Line: line})
			}
		}
		list.Checks = append(list.Checks, c)
		lines = append(lines, line)
	})
	var unread casefile.Faults
	if err != nil && !errors.As(err, &unread) {
		return Checklist{}, err
	}
	if len(lines) == 0 && len(unread) > 0 {
		return Checklist{}, err // the header: there is no more to tell
	}
	faults := unread
	for _, f := range list.Faults(known) {
		if !broken[f.Field] {
			f.Line = lineOf(f.Field, lines)
			faults = append(faults, f)
		}
	}
	if err := faults.Err(); err != nil {
		return Checklist{}, err
	}
	return list, nil
}

// lineOf is the line of the check that a field belongs to; zero if it belongs to none.
func lineOf(field string, lines []int) int {
	inner, ok := strings.CutPrefix(field, "checks[")
	if !ok {
		return 0
	}
	place, _, _ := strings.Cut(inner, "]")
	i, err := strconv.Atoi(place)
	if err != nil || i >= len(lines) {
		return 0
	}
	return lines[i]
}

// WriteCSV writes what ReadCSV reads.
func WriteCSV(out io.Writer, list *Checklist) error {
	records := [][]string{columns}
	for i := range list.Checks {
		c := list.Checks[i]
		var record []string
		for _, cell := range c.cells() {
			record = append(record, cell.write())
		}
		records = append(records, record)
	}
	return csv.NewWriter(out).WriteAll(records)
}
