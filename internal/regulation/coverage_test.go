package regulation_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io/fs"
	"maps"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"tiedown/internal/regulation"
)

// TestEveryRowMatters deletes each row of each table in turn. Either the book refuses to load without it, or a story
// comes out differently: a row that nothing misses is a row that nobody has checked.
func TestEveryRowMatters(t *testing.T) {
	t.Parallel()
	tables := readTables(t)
	var deletions []spoiled
	for _, name := range regulation.TableNames() {
		if slices.Contains(upkeepTables, name) {
			continue // held by TestEveryUpkeepRowMatters
		}
		all := records(t, name, tables[name+".csv"].Data)
		for i := range all[1:] {
			deletions = append(deletions, spoiled{name, all[i+1][0], slices.Delete(slices.Clone(all), i+1, i+2)})
		}
	}
	unnoticed(t, deletions, nil)
}

// TestEveryConditionMatters goes on where the deletion of rows stops: it takes one condition out of a row, one
// requirement out of a relief, one item out of several, or lowers or raises how many are wanted.
func TestEveryConditionMatters(t *testing.T) {
	t.Parallel()
	tables := readTables(t)
	var loosened []spoiled
	for _, name := range slices.Concat(lawTables, peopleTables) {
		all := records(t, name, tables[name+".csv"].Data)
		for i, record := range all[1:] {
			for column, header := range all[0] {
				for _, value := range looser(header, record[column]) {
					other := slices.Clone(all)
					other[i+1] = slices.Clone(record)
					other[i+1][column] = value
					loosened = append(loosened, spoiled{name, fmt.Sprintf("%s, %s: %q", record[0], header, value), other})
				}
			}
		}
	}
	unnoticed(t, loosened, equivalent)
}

// equivalent are the changes that no story can notice, each with the reason.
var equivalent = map[string]string{
	`requirements: 91.205-b-11, when: "certificate:standard category:airplane small part-23 certificated-after:1996-03-11"`: engineDriven,
	`requirements: 91.205-b-14-front, when: "certificate:standard category:airplane small manufactured-after:1978-07-18"`:   engineDriven,
	`requirements: 91.205-b-14-all, when: "certificate:standard category:airplane small manufactured-after:1986-12-12"`:     engineDriven,
	`requirements: 91.205-b-15, when: "certificate:standard category:airplane us-registered"`:                               engineDriven,

	`reliefs: transponder-absent, when: "atc-authorized:transponder"`: "transponder-inoperative stands before it",
	`reliefs: adsb-absent, when: "atc-authorized:ads-b"`:              "adsb-inoperative stands before it",

	`who: hazard-not-rated, when: "pilot-at-least:sport"`: "it is asked only of a pilot who is known not to be rated",

	`reliefs: adsb-inoperative-transmit, when: "atc-authorized:ads-b"`: "91.225-f itself asks whether ADS-B Out is installed",
}

const engineDriven = "an airplane is engine-driven (14 CFR 1.1 Airplane)"

// looser lists what a field is changed to, one thing at a time.
func looser(column, value string) []string {
	var others []string
	one := func(separator string, least int) {
		terms := strings.Split(value, separator)
		for i := range terms {
			if len(terms) > least {
				others = append(others, strings.Join(slices.Delete(slices.Clone(terms), i, i+1), separator))
			}
		}
	}
	switch {
	case value == "":
	case column == "when":
		one(" ", 0)
	case column == "relieves", column == "lifts":
		one(" ", 1)
	case column == "days":
		others = append(others, value+"0")
	case column == "covers" || column == "excludes" || column == "action" || column == "may" || column == "for":
		one(" ", 1)
	case column == "needs":
		one("|", 1)
	case column == "item" && strings.Contains(value, " "):
		one(" ", 1)
	case column == "extension":
		others = append(others, map[string]string{"yes": "no", "no": "yes"}[value])
	case column == "item", column == "first", column == "second":
		one("|", 1)
	case column == "quantity" && value == "1":
		others = append(others, "2")
	case column == "quantity" && value != "note":
		others = append(others, "1")
	}
	return others
}

// spoiled is the book with one table changed.
type spoiled struct {
	table  string
	change string // names it; begins with the key of the row
	rows   [][]string
}

// unnoticed fails the test with every change that neither the loader nor a story notices, save those with a reason.
func unnoticed(t *testing.T, changes []spoiled, but map[string]string) {
	t.Helper()
	tables, all := readTables(t), stories(t)
	passed := make([]bool, len(changes))
	faults := make([]error, len(changes))
	next := make(chan int)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			heard := audience(slices.Clone(all))
			for i := range next {
				passed[i], faults[i] = changes[i].passes(tables, heard)
			}
		})
	}
	for i := range changes {
		next <- i
	}
	close(next)
	workers.Wait()

	var free []string
	for i, change := range changes {
		name := change.table + ": " + change.change
		_, tolerated := but[name]
		switch {
		case faults[i] != nil:
			t.Error(faults[i])
		case passed[i] && !tolerated:
			free = append(free, name)
		case !passed[i] && tolerated:
			t.Errorf("%s is noticed after all: take it off the list", name)
		}
	}
	if len(free) > 0 {
		t.Errorf("%d of %d changes go unnoticed:\n%s", len(free), len(changes), strings.Join(free, "\n"))
	}
	t.Logf("%d changes, %d stories", len(changes), len(all))
}

// passes reports whether the book loads with the change and no story breaks.
func (s spoiled) passes(tables fstest.MapFS, heard audience) (bool, error) {
	changed, err := s.apply(tables)
	if err != nil {
		return false, err
	}
	book, err := regulation.Load(changed)
	if err != nil {
		return false, nil //nolint:nilerr // the book refuses to load: the change is noticed
	}
	key, _, _ := strings.Cut(s.change, ",")
	return !heard.notice(key, book), nil
}

// audience are the stories in the order in which they are asked: those that noticed something last come first.
type audience []*told

// notice reports whether a story breaks. The stories that mention the row are asked first: mostly one of them breaks.
func (a audience) notice(key string, book regulation.Book) bool {
	mentions := func(s *told) bool { return strings.Contains(s.story.Text, key) }
	breaks := func(s *told) bool { return s.check(book.Ruleset) != nil }
	if slices.ContainsFunc(a, func(s *told) bool { return mentions(s) && breaks(s) }) {
		return true
	}
	i := slices.IndexFunc(a, func(s *told) bool { return !mentions(s) && breaks(s) })
	if i < 0 {
		return false
	}
	first := a[i]
	copy(a[1:i+1], a[:i])
	a[0] = first
	return true
}

func (s spoiled) apply(tables fstest.MapFS) (fs.FS, error) {
	var raw bytes.Buffer
	if err := csv.NewWriter(&raw).WriteAll(s.rows); err != nil {
		return nil, err
	}
	changed := maps.Clone(tables)
	changed[s.table+".csv"] = &fstest.MapFile{Data: raw.Bytes()}
	return changed, nil
}

// TestARowThatNothingMissesIsFound holds that the tests above can fail.
func TestARowThatNothingMissesIsFound(t *testing.T) {
	t.Parallel()
	const free = "91.205-b-18,14 CFR 91.205(b)(18),hour-meter,1,,category:powered-lift night,An hour meter.,memory,from memory,,\n"
	tables := readTables(t)
	added := exhibit{table: "requirements", old: "91.205-c-2,", new: free + "91.205-c-2,"}.spoil(t, tables)
	rows, heard := records(t, "requirements", added["requirements.csv"].Data), audience(slices.Clone(stories(t)))
	if passed, err := (spoiled{"requirements", "91.205-b-18", rows}).passes(tables, heard); err != nil || !passed {
		t.Errorf("a row that no story speaks of is noticed: %v", err)
	}
	if passed, err := (spoiled{"requirements", "91.205-b-1", slices.Delete(rows, 1, 2)}).passes(tables, heard); err != nil || passed {
		t.Errorf("a row that a story speaks of is not noticed: %v", err)
	}
}

// readTables reads the embedded tables into memory, to be changed.
func readTables(t *testing.T) fstest.MapFS {
	t.Helper()
	tables := fstest.MapFS{}
	for _, name := range regulation.TableNames() {
		raw, err := fs.ReadFile(regulation.Tables(), name+".csv")
		if err != nil {
			t.Fatal(err)
		}
		tables[name+".csv"] = &fstest.MapFile{Data: raw}
	}
	return tables
}

func records(t *testing.T, name string, raw []byte) [][]string {
	t.Helper()
	all, err := csv.NewReader(bytes.NewReader(raw)).ReadAll()
	if err != nil {
		t.Fatalf("table %s: %v", name, err)
	}
	return all
}
