package upkeep_test

import (
	"bytes"
	"encoding/csv"
	"io/fs"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"tiedown/internal/regulation"
)

// TestEveryUpkeepRowMatters deletes each row of the tables on what comes due, and each term of a row. Either the book
// refuses to load, or a story comes out differently.
func TestEveryUpkeepRowMatters(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"upkeep", "upkeep_stops", "vor_checks"} {
		raw, err := fs.ReadFile(regulation.Tables(), name+".csv")
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(bytes.NewReader(raw)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for i := range rows[1:] {
			if goesUnnoticed(t, name, slices.Delete(slices.Clone(rows), i+1, i+2)) {
				t.Errorf("%s: nothing misses the row %s", name, rows[i+1][0])
			}
			for column, header := range rows[0] {
				for _, value := range changed(header, rows[i+1][column]) {
					other := slices.Clone(rows)
					other[i+1] = slices.Clone(rows[i+1])
					other[i+1][column] = value
					if goesUnnoticed(t, name, other) {
						t.Errorf("%s: nothing notices that %s, %s, is %q", name, rows[i+1][0], header, value)
					}
				}
			}
		}
	}
}

// changed lists what a field is changed to, one thing at a time.
func changed(column, value string) []string {
	var others []string
	switch column {
	case "when", "unless", "done_by", "stops":
		for _, separator := range []string{" | ", " "} {
			terms := strings.Split(value, separator)
			for i := range terms {
				if rest := strings.Join(slices.Delete(slices.Clone(terms), i, i+1), separator); value != "" && len(terms) > 1 && !strings.HasPrefix(rest, "| ") && !strings.HasSuffix(rest, " |") && !strings.Contains(rest, "| |") {
					others = append(others, rest)
				}
			}
		}
		if value != "" && column != "done_by" && column != "stops" {
			others = append(others, "")
		}
	case "calendar_months", "days", "hours", "life_percent", "overfly_hours", "degrees":
		if value != "" {
			others = append(others, value+"1")
		}
	}
	return others
}

func goesUnnoticed(t *testing.T, name string, rows [][]string) bool {
	t.Helper()
	tables := fstest.MapFS{}
	for _, table := range regulation.TableNames() {
		raw, err := fs.ReadFile(regulation.Tables(), table+".csv")
		if err != nil {
			t.Fatal(err)
		}
		tables[table+".csv"] = &fstest.MapFile{Data: raw}
	}
	var raw bytes.Buffer
	if err := csv.NewWriter(&raw).WriteAll(rows); err != nil {
		t.Fatal(err)
	}
	tables[name+".csv"] = &fstest.MapFile{Data: raw.Bytes()}
	book, err := regulation.Load(tables)
	if err != nil {
		return false
	}
	for _, s := range slices.Concat(inMonths, inDays, inHours, ofOwnPapers) {
		if s.check(book.Upkeep) != nil {
			return false
		}
	}
	for i := range stopStories {
		if stopStories[i].check(book.Upkeep) != nil {
			return false
		}
	}
	return true
}
