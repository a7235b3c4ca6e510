package regulation

import (
	"bytes"
	"cmp"
	"encoding/json"
	"io/fs"
	"slices"
	"strings"
	"sync"

	_ "embed"
)

// Sheet is a table of the book as it is written, for people who browse it.
type Sheet struct {
	Name    string
	Columns []string // in the order of the file; the first is the key of a row
	Rows    []SheetRow
}

// SheetRow is one row as it is written.
type SheetRow struct {
	Table  string
	Key    string
	Fields map[string]string
}

// Citation is what the row rests on; empty in a table of words, such as the catalog.
func (r *SheetRow) Citation() string { return r.Fields["citation"] }

// Sheets are the tables of the embedded book, in the order of TableNames, with every row that there is.
var Sheets = sync.OnceValues(func() ([]Sheet, error) {
	var all []Sheet
	for _, name := range TableNames() {
		raw, err := fs.ReadFile(Tables(), name+".csv")
		if err != nil {
			return nil, err
		}
		t, err := parse(name, raw)
		if err != nil {
			return nil, err
		}
		s := Sheet{Name: name, Columns: headers[name]}
		for _, r := range t.rows {
			s.Rows = append(s.Rows, SheetRow{name, r.get(headers[name][0]), r.fields})
		}
		all = append(all, s)
	}
	return all, nil
})

// Told is a story that holds the book to what it says: what was wrong with an aircraft, or who would act, and what must
// come of it.
type Told struct {
	File   string   `json:"file"` // of the stories, without its ending
	Title  string   `json:"title"`
	Source string   `json:"source"`         // what the outcome rests on, and where it was read
	Lines  []string `json:"lines"`          // KEYWORD: VALUE, as written
	Rows   []string `json:"rows,omitempty"` // that must be found, sorted
	Not    []string `json:"not,omitempty"`
}

//go:embed stories.jsonl
var toldStories []byte

// Stories are the stories that the book is tested with, in the order of their files. A test holds that they are those
// of testdata/scenarios, and writes them anew when it is asked to.
var Stories = sync.OnceValues(func() ([]Told, error) {
	var all []Told
	decoder := json.NewDecoder(bytes.NewReader(toldStories))
	for decoder.More() {
		var t Told
		if err := decoder.Decode(&t); err != nil {
			return nil, err
		}
		all = append(all, t)
	}
	return all, nil
})

// StoriesOf are the stories that speak of a row: first those in which it must be found, then those in which it must not.
func StoriesOf(row string) ([]Told, error) {
	all, err := Stories()
	if err != nil {
		return nil, err
	}
	has := func(list []string) bool { _, ok := slices.BinarySearch(list, row); return ok }
	found := slices.DeleteFunc(slices.Clone(all), func(t Told) bool { return !has(t.Rows) && !has(t.Not) })
	slices.SortStableFunc(found, func(a, b Told) int { return cmp.Compare(rank(has(a.Rows)), rank(has(b.Rows))) })
	return found, nil
}

func rank(must bool) int {
	if must {
		return 0
	}
	return 1
}

// Line is the value of the first line of a keyword; empty without one.
func (t *Told) Line(keyword string) string {
	for _, line := range t.Lines {
		if value, ok := strings.CutPrefix(line, keyword+": "); ok {
			return value
		}
	}
	return ""
}
