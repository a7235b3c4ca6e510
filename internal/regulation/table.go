package regulation

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

var (
	originColumns = []string{"words", "status", "source", "from", "to"}

	// headers are the columns of each table, in order.
	headers = map[string][]string{
		"items":              {"item", "name", "synonyms", "jasc", "nature", "serves_as", "source"},
		"jasc":               {"code", "title", "chapter"},
		"conditions":         {"key", "holds", "not_holding", "holding", "fact"},
		"steps":              {"step", "citation", "words"},
		"practice":           {"step", "asked", "passed", "breached", "unknown"},
		"terms":              {"term", "words"},
		"eligibility":        append([]string{"id", "citation", "when"}, originColumns...),
		"type_certification": append([]string{"id", "citation", "item", "quantity", "must", "when"}, originColumns...),
		"requirements":       append([]string{"id", "citation", "item", "quantity", "must", "when"}, originColumns...),
		"reliefs":            append([]string{"id", "citation", "relieves", "when", "limitation"}, originColumns...),
		"procedure":          append([]string{"id", "step", "citation", "when", "must", "otherwise"}, originColumns...),
		"interactions":       append([]string{"id", "citation", "first", "second", "when", "limitation"}, originColumns...),
		"intervals":          append([]string{"id", "citation", "category", "days", "extension"}, originColumns...),
		"permits":            append([]string{"id", "citation", "lifts", "must"}, originColumns...),

		"preventive_maintenance": append([]string{"id", "citation", "number", "covers", "excludes", "part", "when"}, originColumns...),
		"who":                    append([]string{"id", "citation", "action", "may", "effect", "when", "who"}, originColumns...),
		"tasks":                  append([]string{"id", "citation", "for", "outcome", "item", "when", "by", "placard", "where", "entry"}, originColumns...),
		"records":                append([]string{"id", "citation", "record", "needs", "keep"}, originColumns...),

		"upkeep": append([]string{
			"id", "citation", "title", "record", "done_by", "when", "calendar_months", "days", "hours", "life_percent", "overfly_hours", "asks",
		}, originColumns...),
		"upkeep_stops": append([]string{"id", "citation", "stops", "when", "unless", "flights"}, originColumns...),
		"vor_checks":   append([]string{"id", "citation", "check", "degrees"}, originColumns...),
	}

	// blank names the columns that may be empty.
	blank = []string{
		"synonyms", "serves_as", "not_holding", "holding", "item", "quantity", "must", "when", "limitation", "from", "to",
		"breached", "unknown",
		"days", "extension", "lifts",
		"done_by", "calendar_months", "hours", "life_percent", "overfly_hours", "unless",
		"covers", "excludes", "who", "by", "placard", "where", "entry", "needs", "keep",
	}
)

// table is one parsed table; every row remembers its line.
type table struct {
	name string
	rows []row
}

type row struct {
	table  string
	line   int
	fields map[string]string
}

func (r row) get(column string) string { return r.fields[column] }

func (r row) fault(format string, args ...any) error {
	return fmt.Errorf("table %s, line %d: %s", r.table, r.line, fmt.Sprintf(format, args...))
}

// parse reads one table strictly: exact header, no missing field, no stray space, no row twice.
func parse(name string, raw []byte) (table, error) {
	t := table{name: name}
	if !utf8.Valid(raw) {
		return t, fmt.Errorf("table %s: not UTF-8", name)
	}
	reader := csv.NewReader(bytes.NewReader(raw))
	reader.FieldsPerRecord = len(headers[name])
	header, err := reader.Read()
	if err != nil || !slices.Equal(header, headers[name]) {
		return t, fmt.Errorf("table %s: the header must be %s", name, strings.Join(headers[name], ","))
	}
	var faults []error
	seen := map[string]bool{}
	for {
		record, err := reader.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return t, fmt.Errorf("table %s: %w", name, err)
		}
		line, _ := reader.FieldPos(0)
		r := row{name, line, map[string]string{}}
		for i, column := range header {
			r.fields[column] = record[i]
			faults = append(faults, r.checkField(column, record[i]))
		}
		if seen[record[0]] && header[0] != "id" { // rows that are in force at different times are told apart later
			faults = append(faults, r.fault("%s %q stands twice", header[0], record[0]))
		}
		seen[record[0]] = true
		t.rows = append(t.rows, r)
	}
	if len(t.rows) == 0 {
		faults = append(faults, fmt.Errorf("table %s: no rows", name))
	}
	return t, errors.Join(faults...)
}

func (r row) checkField(column, value string) error {
	switch {
	case value != strings.TrimSpace(value):
		return r.fault("column %s: stray space", column)
	case value == "" && !slices.Contains(blank, column):
		return r.fault("column %s: must not be empty", column)
	case strings.Contains(value, "  "):
		return r.fault("column %s: two spaces in a row", column)
	}
	return nil
}
