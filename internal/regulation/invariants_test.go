package regulation_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
)

// tableRow is one row of a table by column, as the file has it.
type tableRow struct {
	table  string
	fields map[string]string
}

func (r tableRow) key() string { return r.table + ": " + r.fields["id"] }

// rowsOf reads tables into rows by column.
func rowsOf(t *testing.T, names ...string) []tableRow {
	t.Helper()
	tables := readTables(t)
	var rows []tableRow
	for _, name := range names {
		all := records(t, name, tables[name+".csv"].Data)
		for _, record := range all[1:] {
			fields := map[string]string{}
			for i, column := range all[0] {
				fields[column] = record[i]
			}
			rows = append(rows, tableRow{name, fields})
		}
	}
	return rows
}

// lawTables are the tables whose rows are clauses of law.
var lawTables = []string{"eligibility", "type_certification", "requirements", "reliefs", "procedure", "interactions", "intervals", "permits"}

// upkeepTables are the tables on what comes due.
var upkeepTables = []string{"upkeep", "upkeep_stops", "vor_checks"}

func TestEveryRowCitesAndNamesItsSource(t *testing.T) {
	t.Parallel()
	citation := regexp.MustCompile(`^((old )?14 CFR \d+\.\d+|47 CFR \d+\.\d+|CAR \d+\.\d+)`)
	// What each status rests on. Only "memory" may rest on memory, and nothing is verified but against a text.
	sources := map[string]*regexp.Regexp{
		"verified":    regexp.MustCompile(`^(eCFR title 14 issue \d{4}-\d{2}-\d{2}|image of the printed section)`),
		"second-hand": regexp.MustCompile(`copies of the CFR|as quoted in`),
		"infer":       regexp.MustCompile(`reading of|eCFR title 14 issue`),
		"memory":      regexp.MustCompile(`^from memory$`),
	}
	for _, r := range rowsOf(t, slices.Concat(lawTables, upkeepTables)...) {
		if !citation.MatchString(r.fields["citation"]) {
			t.Errorf("%s: the citation %q names no section", r.key(), r.fields["citation"])
		}
		if rests, ok := sources[r.fields["status"]]; !ok || !rests.MatchString(r.fields["source"]) {
			t.Errorf("%s: %q does not rest on %q", r.key(), r.fields["status"], r.fields["source"])
		}
		if words := r.fields["words"]; !strings.HasSuffix(words, ".") || strings.Contains(words, "§") {
			t.Errorf("%s: the words are no sentence: %q", r.key(), words)
		}
	}
}

// TestOnlyWhatHasBeenReadPermits holds that neither memory nor hearsay opens anything. The loader refuses both.
func TestOnlyWhatHasBeenReadPermits(t *testing.T) {
	t.Parallel()
	for _, r := range rowsOf(t, "eligibility", "reliefs", "permits") {
		if r.table == "permits" && r.fields["lifts"] == "" {
			continue // what must hold for a permit to serve forbids
		}
		if status := r.fields["status"]; status != "verified" && status != "infer" {
			t.Errorf("%s permits, and is %s", r.key(), status)
		}
	}
}

// TestAReliefStandsInTheSectionItRelieves holds that no rule loosens another: a relief cites the section of every
// requirement that it lifts. 91.205(b)(15) asks for an ELT only where 91.207 does.
func TestAReliefStandsInTheSectionItRelieves(t *testing.T) {
	t.Parallel()
	requirements := map[string]string{}
	for _, r := range rowsOf(t, "requirements", "type_certification") {
		requirements[r.fields["id"]] = r.fields["citation"]
	}
	section := regexp.MustCompile(`\d+\.\d+`)
	for _, r := range rowsOf(t, "reliefs") {
		relieved := strings.Fields(r.fields["relieves"])
		if len(relieved) == 0 {
			t.Errorf("%s relieves nothing", r.key())
		}
		for _, id := range relieved {
			cited, ok := requirements[id]
			if !ok {
				t.Errorf("%s relieves %s, which is not a requirement", r.key(), id)
			}
			if id != "91.205-b-15" && !slices.Contains(section.FindAllString(r.fields["citation"], -1), section.FindString(cited)) {
				t.Errorf("%s cites %s and relieves %s of %s", r.key(), r.fields["citation"], id, cited)
			}
		}
	}
}

// TestEveryConditionHasAMeaningAndAUse holds the words for conditions against the engine and against the rows.
func TestEveryConditionHasAMeaningAndAUse(t *testing.T) {
	t.Parallel()
	used := map[string]bool{
		"mel-authorized": true, // asked by the step "path" itself, for which no row stands
	}
	for _, r := range rowsOf(t, lawTables...) {
		for _, term := range strings.Fields(r.fields["when"] + " " + r.fields["must"]) {
			name, _, _ := strings.Cut(strings.TrimPrefix(term, "!"), ":")
			used[name] = true
		}
	}
	for _, r := range rowsOf(t, "conditions") {
		key := r.fields["key"]
		if !slices.Contains(airworthiness.ConditionNames(), key) {
			t.Errorf("condition %s has words, and no meaning", key)
		}
		if !used[key] {
			t.Errorf("condition %s has words, and no row uses it", key)
		}
	}
}

// TestWindowsAreToldOnBothSides holds that for every row with a date there is a story on the first day that it is in
// force and one on the day before, and for one with an end a story on the last day and one on the day after: windows are
// half open.
func TestWindowsAreToldOnBothSides(t *testing.T) {
	t.Parallel()
	told := map[airworthiness.Date]bool{}
	for _, s := range stories(t) {
		told[s.story.Departs()] = true
	}
	for _, r := range rowsOf(t, lawTables...) {
		for _, column := range []string{"from", "to"} {
			if r.fields[column] == "" {
				continue
			}
			day, ok := airworthiness.ParseDate(r.fields[column])
			if !ok {
				t.Errorf("%s: %s is no date", r.key(), column)
			}
			if !told[day] || !told[day-1] {
				t.Errorf("%s: no story on %s, or none on %s", r.key(), day, day-1)
			}
		}
	}
}

// TestEveryRowIsTold holds that some story says of each row that it must be found. That the book refuses to load
// without a row does not show that the row is right.
func TestEveryRowIsTold(t *testing.T) {
	t.Parallel()
	var told []string
	for _, s := range stories(t) {
		told = append(told, s.story.Rows()...)
	}
	for _, r := range rowsOf(t, lawTables...) {
		if !slices.Contains(told, r.fields["id"]) {
			t.Errorf("%s: no story says that it must be found", r.key())
		}
	}
	for _, step := range airworthiness.StepNames() {
		if !slices.Contains(told, step) {
			t.Errorf("no story says how the step %s comes out", step)
		}
	}
}

// TestEveryStorySaysWhereItWasRead holds that no story rests on what the engine printed.
func TestEveryStorySaysWhereItWasRead(t *testing.T) {
	t.Parallel()
	read := regexp.MustCompile(`eCFR title 14 issue \d{4}-\d{2}-\d{2}|from memory|second-hand|copies of the CFR|image of the printed section|90 FR \d+|common practice|stricter than 14 CFR`)
	for _, s := range stories(t) {
		if !read.MatchString(s.story.Source) {
			t.Errorf("%s:%d: the source %q says not where it was read", s.story.File, s.story.Line, s.story.Source)
		}
	}
}

// TestTheBookKeepsItsOrder holds that rules are listed table by table, each in the order of its file.
func TestTheBookKeepsItsOrder(t *testing.T) {
	t.Parallel()
	var want []string
	for _, r := range rowsOf(t, slices.Concat(lawTables, peopleTables, upkeepTables)...) {
		want = append(want, r.key())
	}
	var have []string
	for _, rule := range current(t).AllRules() {
		have = append(have, rule.Table+": "+rule.ID)
	}
	if !slices.Equal(want, have) {
		t.Errorf("want %v, have %v", want, have)
	}
}
