package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"flag"

	"tiedown/internal/regulation"
)

// listRules prints every row of regulation.
func listRules(_ context.Context, p program) int {
	flags := flag.NewFlagSet("rules", flag.ContinueOnError)
	flags.SetOutput(p.err)
	asCSV := flags.Bool("csv", false, "as CSV instead of JSON")
	if err := flags.Parse(p.args); err != nil || flags.NArg() > 0 {
		return exitUsage
	}
	book, err := regulation.Current()
	if err != nil {
		return p.fail(err)
	}
	header := []string{"table", "id", "citation", "words", "status", "source", "from", "to"}
	var rows [][]string
	for _, r := range book.Rules() {
		from, to := "", ""
		if r.From != 0 {
			from = r.From.String()
		}
		if r.To != 0 {
			to = r.To.String()
		}
		rows = append(rows, []string{r.Table, r.ID, r.Citation, r.Words, r.Status, r.Source, from, to})
	}
	if *asCSV {
		w := csv.NewWriter(p.out)
		if err := w.WriteAll(append([][]string{header}, rows...)); err != nil {
			return p.fail(err)
		}
		return exitOK
	}
	objects := make([]map[string]string, len(rows))
	for i, row := range rows {
		objects[i] = map[string]string{}
		for j, column := range header {
			objects[i][column] = row[j]
		}
	}
	e := json.NewEncoder(p.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(objects); err != nil {
		return p.fail(err)
	}
	return exitOK
}
