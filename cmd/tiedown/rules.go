package main

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/regulation"
)

// rules is about the book: what stands in it, what a row means, whether tables are sound, what a change of them changes.
func rules(ctx context.Context, p program) int {
	name := "list"
	if len(p.args) > 0 && !strings.HasPrefix(p.args[0], "-") {
		name, p.args = p.args[0], p.args[1:]
	}
	switch name {
	case "list":
		return p.listRules()
	case "explain":
		return p.explainRule()
	case "check":
		return p.checkTables()
	case "diff":
		return p.diffRules(ctx)
	case "company":
		return p.companyRules()
	default:
		fmt.Fprintln(p.err, "usage: tiedown rules [list|explain|check|diff|company]")
		return exitUsage
	}
}

// currentBook names the embedded book where a folder of tables is wanted.
const currentBook = "current"

// openBook loads the tables of a folder, or the embedded ones.
func openBook(name string) (regulation.Book, error) {
	if name == currentBook {
		return regulation.Current()
	}
	book, err := regulation.Load(os.DirFS(name))
	if err != nil {
		return book, fmt.Errorf("%s:\n%w", name, err)
	}
	return book, nil
}

// listRules prints the rows of the book, all or those that are asked for.
func (p program) listRules() int {
	flags := flag.NewFlagSet("rules list", flag.ContinueOnError)
	flags.SetOutput(p.err)
	asCSV := flags.Bool("csv", false, "as CSV instead of JSON")
	table := flags.String("table", "", "only rows of this table")
	status := flags.String("status", "", "only rows that have been read so well: verified, second-hand, infer or memory")
	item := flags.String("item", "", "only rows that name this item of the catalog")
	cites := flags.String("cites", "", "only rows whose citation holds this text")
	if err := flags.Parse(p.args); err != nil || flags.NArg() > 0 {
		return exitUsage
	}
	book, err := regulation.Current()
	if err != nil {
		return p.fail(err)
	}
	var rows []airworthiness.Rule
	for _, r := range book.AllRules() {
		if (*table == "" || r.Table == *table) && (*status == "" || r.Status == *status) &&
			(*item == "" || names(r, *item)) && strings.Contains(r.Citation, *cites) {
			rows = append(rows, r)
		}
	}
	if *asCSV {
		err = p.writeRulesCSV(rows)
	} else {
		err = p.writeRulesJSON(rows)
	}
	if err != nil {
		return p.fail(err)
	}
	return exitOK
}

// names says whether a row speaks of an item.
func names(r airworthiness.Rule, item string) bool {
	for _, word := range strings.FieldsFunc(strings.Join([]string{r.Item, r.First, r.Second, r.When, r.Must}, " "), func(c rune) bool {
		return c == ' ' || c == '|' || c == ':' || c == '/'
	}) {
		if word == item {
			return true
		}
	}
	return false
}

var ruleColumns = []string{"table", "id", "citation", "words", "status", "source", "from", "to"}

func ruleFields(r airworthiness.Rule) []string {
	return []string{r.Table, r.ID, r.Citation, r.Words, r.Status, r.Source, dateOrEmpty(r.From), dateOrEmpty(r.To)}
}

func dateOrEmpty(d airworthiness.Date) string {
	if d == 0 {
		return ""
	}
	return d.String()
}

func (p program) writeRulesCSV(rows []airworthiness.Rule) error {
	records := [][]string{ruleColumns}
	for _, r := range rows {
		records = append(records, ruleFields(r))
	}
	return csv.NewWriter(p.out).WriteAll(records)
}

func (p program) writeRulesJSON(rows []airworthiness.Rule) error {
	objects := make([]map[string]string, len(rows))
	for i, r := range rows {
		objects[i] = map[string]string{}
		for j, value := range ruleFields(r) {
			objects[i][ruleColumns[j]] = value
		}
	}
	e := json.NewEncoder(p.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(objects)
}

// checkTables loads the tables of a folder and tells every fault.
func (p program) checkTables() int {
	if len(p.args) != 1 {
		fmt.Fprintln(p.err, "usage: tiedown rules check DIR")
		return exitUsage
	}
	book, err := openBook(p.args[0])
	if err != nil {
		return p.fail(err)
	}
	fmt.Fprintf(p.out, "%s: sound, %d rows, %d items, digest %s\n", p.args[0], len(book.AllRules()), len(book.Items()), book.Digest)
	return exitOK
}
