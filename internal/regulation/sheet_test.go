package regulation_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"flag"
	"os"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/regulation"
)

var update = flag.Bool("update", false, "write the stories that are shown with the book anew")

// TestTheStoriesAreThoseThatAreTested holds that the stories which people see beside a row are those of testdata, each
// with the rows that it is checked for: what a story says must be found, TestStories finds.
func TestTheStoriesAreThoseThatAreTested(t *testing.T) {
	t.Parallel()
	var want bytes.Buffer
	lines := json.NewEncoder(&want)
	lines.SetEscapeHTML(false)
	for _, s := range stories(t) {
		told := regulation.Told{
			File: strings.TrimSuffix(s.story.File, ".scenario"), Title: s.story.Title, Source: s.story.Source,
			Rows: sorted(s.story.Rows()), Not: sorted(s.story.RowsNot()),
		}
		for line := range strings.Lines(s.story.Text) {
			line = strings.TrimSuffix(line, "\n")
			if line != told.Title && !strings.HasPrefix(line, "source: ") {
				told.Lines = append(told.Lines, line)
			}
		}
		told.Not = slices.DeleteFunc(told.Not, func(row string) bool { return slices.Contains(told.Rows, row) })
		if err := lines.Encode(told); err != nil {
			t.Fatal(err)
		}
	}
	if *update {
		if err := os.WriteFile("stories.jsonl", want.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	have, err := os.ReadFile("stories.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(have, want.Bytes()) {
		t.Error("the stories beside the rows are not those of testdata/scenarios: go test ./internal/regulation -run TestTheStoriesAre -update")
	}
}

func sorted(rows []string) []string { return slices.Compact(slices.Sorted(slices.Values(rows))) }

// TestTheSheetsAreTheTables holds that whoever browses the book sees every row of every file, field by field, and that
// every row of law and of people has a story in which it must be found.
func TestTheSheetsAreTheTables(t *testing.T) {
	t.Parallel()
	sheets, err := regulation.Sheets()
	if err != nil {
		t.Fatal(err)
	}
	read := readTables(t)
	if len(sheets) != len(read) {
		t.Errorf("%d sheets of %d tables", len(sheets), len(read))
	}
	for _, s := range sheets {
		all, err := csv.NewReader(bytes.NewReader(read[s.Name+".csv"].Data)).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if len(s.Rows) != len(all)-1 || !slices.Equal(s.Columns, all[0]) {
			t.Fatalf("%s: %d rows and columns %v, the file has %d and %v", s.Name, len(s.Rows), s.Columns, len(all)-1, all[0])
		}
		for i, r := range s.Rows {
			for j, column := range s.Columns {
				if r.Fields[column] != all[i+1][j] || r.Key != all[i+1][0] || r.Table != s.Name {
					t.Errorf("%s, %s: %q, the file says %q", s.Name, r.Key, r.Fields[column], all[i+1][j])
				}
			}
			if !slices.Contains(slices.Concat(lawTables, peopleTables), s.Name) || r.Key == "preventive" { // told by its paragraphs
				continue
			}
			told, err := regulation.StoriesOf(r.Key)
			if err != nil || len(told) == 0 || !slices.Contains(told[0].Rows, r.Key) {
				t.Errorf("%s, %s: %d stories, %v", s.Name, r.Key, len(told), err)
			}
		}
	}
}
