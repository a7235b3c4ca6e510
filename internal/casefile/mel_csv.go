package casefile

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// melColumns are the columns of an MEL as CSV, in order: the fields of a row.
var melColumns = []string{
	"item", "installed", "required", "category", "days", "operations_procedure", "maintenance_procedure", "proviso", "only_when", "document",
}

// maxMELRows bounds an MEL.
const maxMELRows = 1000

// ReadMEL reads the rows of an MEL from CSV. It is strict: the header is that of WriteMEL, numbers and the words true and
// false are written in one way, nothing has stray spaces, no item stands twice. An empty field is an unknown fact, and for
// proviso and only_when says that there are none. The error, if any, is of type Faults: every fault at once, with its line.
// Whether items and conditions are those of the book is for Compile to say.
func ReadMEL(r io.Reader) ([]MELRow, error) {
	raw, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	if !utf8.Valid(raw) {
		return nil, Faults{faultAt(raw, brokenUTF8(raw), "utf-8", "the text is not UTF-8", "save the list as UTF-8")}
	}
	if at := bytes.IndexByte(raw, '\r'); at >= 0 {
		return nil, Faults{faultAt(raw, at, "line-end", "a carriage return", "end lines with a line feed alone")}
	}
	m := melReader{csv: csv.NewReader(bytes.NewReader(raw)), items: map[string]int{}}
	m.csv.FieldsPerRecord = -1
	m.read()
	if err := m.bad.Err(); err != nil {
		return nil, err
	}
	return m.rows, nil
}

// melReader reads row after row, noting every fault.
type melReader struct {
	csv    *csv.Reader
	line   int
	record []string
	items  map[string]int // the line of each item
	rows   []MELRow
	bad    Faults
}

func (m *melReader) read() {
	if header, err := m.csv.Read(); err != nil || !slices.Equal(header, melColumns) {
		m.line = 1
		m.fault(document, "header", "the header is another", "begin with "+strings.Join(melColumns, ","))
		return
	}
	for len(m.bad) < maxFaults {
		record, err := m.csv.Read()
		if errors.Is(err, io.EOF) {
			return
		}
		if broken := (*csv.ParseError)(nil); errors.As(err, &broken) {
			m.line = broken.Line
			m.fault(document, "syntax", broken.Err.Error(), "correct the quotes")
			return
		}
		m.line, _ = m.csv.FieldPos(0)
		switch {
		case len(record) != len(melColumns):
			m.fault(m.field(""), "columns", fmt.Sprintf("%d fields, not %d", len(record), len(melColumns)), "give every column, empty where nothing is known")
		case len(m.rows) == maxMELRows:
			m.fault(document, "rows", fmt.Sprintf("more than %d rows", maxMELRows), "send one aircraft's list")
			return
		}
		m.record = slices.Concat(record, make([]string, len(melColumns))) // what is missing is empty
		m.rows = append(m.rows, m.row())
	}
}

func (m *melReader) row() MELRow {
	row := MELRow{
		Item: m.text(0), Installed: m.number(1), Required: m.number(2), Category: m.text(3), Days: m.number(4),
		OperationsProcedure: m.flag(5), MaintenanceProcedure: m.flag(6), Proviso: m.text(7), OnlyWhen: m.text(8), Document: m.text(9),
	}
	first, twice := m.items[row.Item]
	switch {
	case row.Item == "":
		m.fault(m.field("item"), "required", "the row is about no item", "give the key of an item of the catalog")
	case twice:
		m.fault(m.field("item"), "unique", fmt.Sprintf("the item %q stands twice, first on line %d", row.Item, first), "keep one row an item")
	default:
		m.items[row.Item] = m.line
	}
	var bad Faults
	row.check(m.field("")+".", &bad)
	for _, f := range bad {
		m.fault(f.Field, f.Rule, f.Says, f.Remedy)
	}
	return row
}

// field is the path of a column in the row at hand.
func (m *melReader) field(column string) string {
	path := fmt.Sprintf("rows[%d]", len(m.rows))
	if column == "" {
		return path
	}
	return path + "." + column
}

func (m *melReader) fault(field, rule, says, remedy string) {
	m.bad = append(m.bad, Fault{Field: field, Rule: rule, Says: says, Remedy: remedy, Line: m.line})
}

func (m *melReader) text(column int) string {
	value := m.record[column]
	if strings.TrimSpace(value) != value {
		m.fault(m.field(melColumns[column]), "stray-space", "a space before or after the text", "take it out")
	}
	return value
}

func (m *melReader) number(column int) *int {
	value := m.record[column]
	if value == "" {
		return nil
	}
	n, err := strconv.Atoi(value)
	if err != nil || strconv.Itoa(n) != value {
		m.fault(m.field(melColumns[column]), "type", fmt.Sprintf("%q is no whole number", value), "give a whole number, or nothing")
		return nil
	}
	return &n
}

func (m *melReader) flag(column int) *bool {
	so := m.record[column] == "true"
	switch m.record[column] {
	case "true", "false":
		return &so
	case "":
	default:
		m.fault(m.field(melColumns[column]), "type", fmt.Sprintf("%q is neither true nor false", m.record[column]), "give true, false or nothing")
	}
	return nil
}

// WriteMEL writes the rows of an MEL as ReadMEL reads them.
func WriteMEL(w io.Writer, rows []MELRow) error {
	records := [][]string{melColumns}
	for _, r := range rows {
		records = append(records, []string{
			r.Item, written(r.Installed, strconv.Itoa), written(r.Required, strconv.Itoa), r.Category, written(r.Days, strconv.Itoa),
			written(r.OperationsProcedure, strconv.FormatBool), written(r.MaintenanceProcedure, strconv.FormatBool),
			r.Proviso, r.OnlyWhen, r.Document,
		})
	}
	return csv.NewWriter(w).WriteAll(records)
}

// written is a fact as text; nothing when it is unknown.
func written[T any](v *T, text func(T) string) string {
	if v == nil {
		return ""
	}
	return text(*v)
}
