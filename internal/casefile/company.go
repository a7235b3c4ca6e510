package casefile

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
)

// CompanyRule is one row of the rules that an organization keeps beside the regulation. It asks for equipment or for a
// condition, as a row of the requirements does, and can only restrict.
type CompanyRule struct {
	ID       string `json:"id"`                 // "company-" and a name
	Citation string `json:"citation"`           // where it stands in the organization's own documents
	Item     string `json:"item,omitempty"`     // what must work, "a|b" for either
	Quantity string `json:"quantity,omitempty"` // how many of it, as in the table of requirements
	Must     string `json:"must,omitempty"`     // in place of both: the condition that must hold
	When     string `json:"when,omitempty"`     // the conditions that bring it into play, in the tables' notation
	Words    string `json:"words"`              // what it asks, in the organization's own words
	From     string `json:"from,omitempty"`     // the first day on which it is in force
	To       string `json:"to,omitempty"`       // the first day on which it no longer is
}

// companyColumns are the columns of the rules as CSV, in order: the names of the fields in JSON.
var companyColumns = []string{"id", "citation", "item", "quantity", "must", "when", "words", "from", "to"}

func (r *CompanyRule) columns() []*string {
	return []*string{&r.ID, &r.Citation, &r.Item, &r.Quantity, &r.Must, &r.When, &r.Words, &r.From, &r.To}
}

// CompileCompanyRules puts an organization's rules beside those of the book. The error, if any, is of kind invalid and
// names every faulty rule by its field; the ruleset is then that of the book alone, so that the rest can be checked.
func CompileCompanyRules(company []CompanyRule, rules *airworthiness.Ruleset) (*airworthiness.Ruleset, error) {
	var bad Faults
	rows := make([]airworthiness.RequirementRow, len(company))
	for i := range company {
		rows[i] = company[i].compile(fmt.Sprintf("company_rules[%d].", i), &bad)
	}
	with, err := rules.WithCompany(rows)
	if err == nil {
		return with, bad.Err()
	}
	for _, fault := range unjoined(err) {
		at, says := "company_rules", fault.Error()
		for i := range company {
			if name, rest, _ := strings.Cut(says, ": "); name == company[i].ID || name == fmt.Sprintf("row %d", i+1) {
				at, says = fmt.Sprintf("company_rules[%d]", i), rest
			}
		}
		bad.Add(at, "company-rule", says, "correct the rule: an organization's rule asks for equipment or a condition, and can only restrict")
	}
	return rules, bad.Err()
}

func (r *CompanyRule) compile(at string, bad *Faults) airworthiness.RequirementRow {
	row := airworthiness.RequirementRow{
		Origin: airworthiness.Origin{ID: r.ID, Citation: r.Citation, Words: r.Words},
		Item:   r.Item, Quantity: r.Quantity, Must: r.Must, When: r.When,
	}
	row.From = compileDate(at+"from", r.From, bad).Value
	row.To = compileDate(at+"to", r.To, bad).Value
	return row
}

// unjoined is the errors that were joined into one.
func unjoined(err error) []error {
	joined, ok := err.(interface{ Unwrap() []error })
	if !ok {
		return []error{err}
	}
	return joined.Unwrap()
}

// ReadCompanyRules reads an organization's rules from CSV: a header that names the columns id, citation, item, quantity,
// must, when, words, from and to in this order, and a row a rule. It is strict, and the error tells every faulty field
// with its line, counted from 1. Whether the rules make sense CompileCompanyRules says.
func ReadCompanyRules(in io.Reader) ([]CompanyRule, error) {
	var rules []CompanyRule
	err := ReadCSV(in, companyColumns, func(record []string, line int, bad *Faults) {
		var rule CompanyRule
		for i, field := range rule.columns() {
			*field = record[i]
			if s := record[i]; s != strings.TrimSpace(s) || strings.ContainsAny(s, "\r\n") {
				*bad = append(*bad, Fault{companyColumns[i], "one-line", "a space before or after the text, or a line break in it", "write it on one line, without", line})
			}
		}
		for _, date := range []struct{ column, value string }{{"from", rule.From}, {"to", rule.To}} {
			var fault Faults
			compileDate(date.column, date.value, &fault)
			for _, f := range fault {
				f.Line = line
				*bad = append(*bad, f)
			}
		}
		rules = append(rules, rule)
	})
	return rules, err
}

// WriteCompanyRules writes what ReadCompanyRules reads.
func WriteCompanyRules(out io.Writer, rules []CompanyRule) error {
	w := csv.NewWriter(out)
	records := [][]string{companyColumns}
	for i := range rules {
		var record []string
		for _, field := range rules[i].columns() {
			record = append(record, *field)
		}
		records = append(records, record)
	}
	return w.WriteAll(records)
}

// ReadCSV reads records of exactly these columns, telling every broken one with its line. The error, if any, is of type
// Faults unless reading itself failed.
func ReadCSV(in io.Reader, columns []string, use func(record []string, line int, bad *Faults)) error {
	raw, err := io.ReadAll(in)
	if err != nil {
		return err
	}
	if at := brokenUTF8(raw); at >= 0 {
		return Faults{faultAt(raw, at, "utf-8", "the text is not UTF-8", "save the document as UTF-8")}
	}
	var bad Faults
	reader := csv.NewReader(strings.NewReader(string(raw)))
	reader.FieldsPerRecord = -1 // counted below, so that every record is told of
	header, err := reader.Read()
	if err != nil || !slices.Equal(header, columns) {
		return Faults{{document, "header", "line 1: the header must be " + strings.Join(columns, ","), "name the columns in this order", 1}}
	}
	for {
		record, err := reader.Read()
		switch {
		case errors.Is(err, io.EOF):
			return bad.Err()
		case err != nil: // a quote out of place: where the next record begins, nobody can tell
			line := 0
			if broken := (*csv.ParseError)(nil); errors.As(err, &broken) {
				line = broken.StartLine
			}
			return append(bad, Fault{document, "csv", err.Error(), "correct the quotes", line})
		}
		line, _ := reader.FieldPos(0)
		if len(record) != len(columns) {
			bad = append(bad, Fault{document, "columns", fmt.Sprintf("line %d: %d fields, want %d", line, len(record), len(columns)), "give a field for each column, empty or not", line})
			continue
		}
		use(record, line, &bad)
	}
}
