package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"tiedown/internal/airworthiness"
)

// explainRule tells a row whole: every version of it, its conditions in words, and the stories that speak of it.
func (p program) explainRule() int {
	flags := flag.NewFlagSet("rules explain", flag.ContinueOnError)
	flags.SetOutput(p.err)
	from := flags.String("book", currentBook, "folder of the tables, or current")
	told := flags.String("stories", filepath.Join("testdata", "scenarios"), "folder of stories to look for the row in; left out when it is not there")
	if err := flags.Parse(p.args); err != nil {
		return exitUsage
	}
	if flags.NArg() != 1 {
		fmt.Fprintln(p.err, "usage: tiedown rules explain [--book DIR] [--stories DIR] ID")
		return exitUsage
	}
	book, err := openBook(*from)
	if err != nil {
		return p.fail(err)
	}
	id := flags.Arg(0)
	found := false
	for _, r := range book.AllRules() {
		if r.ID == id {
			found = true
			p.explain(r, book.Ruleset)
		}
	}
	if !found {
		fmt.Fprintf(p.err, "tiedown: the book has no row %q; tiedown rules list names them\n", id)
		return exitUsage
	}
	stories, err := storiesOf(*told, id)
	if err != nil {
		return p.fail(err)
	}
	for _, s := range stories {
		fmt.Fprintf(p.out, "  told in       %s\n", s)
	}
	return exitOK
}

// explain prints one version of a row.
func (p program) explain(r airworthiness.Rule, rules *airworthiness.Ruleset) {
	line := func(what, says string) {
		if says != "" {
			fmt.Fprintf(p.out, "  %-13s %s\n", what, says)
		}
	}
	fmt.Fprintf(p.out, "%s  [%s]\n", r.ID, r.Table)
	line("words", r.Words)
	line("citation", r.Citation)
	line("read", r.Status+"; "+r.Source)
	line("in force", window(r.From, r.To))
	line("step", r.Step)
	if r.Item != "" {
		line("wants", r.Quantity+" of "+itemNames(rules, r.Item))
	} else {
		line("wants", r.Quantity)
	}
	line("first", itemNames(rules, r.First))
	line("second", itemNames(rules, r.Second))
	for i, says := range rules.InWords(r.When) {
		line([]string{"when", "and"}[min(i, 1)], says)
	}
	line("must", strings.Join(rules.InWords(r.Must), ""))
	line("otherwise", r.Otherwise)
	line("limited to", r.Limitation)
	line("relieves", strings.Join(r.Relieves, ", "))
	line("relieved by", strings.Join(rules.Relieved(r.ID), ", "))
}

// window says when a row is in force; it no longer is on the day on which it ends.
func window(from, to airworthiness.Date) string {
	switch {
	case from == 0 && to == 0:
		return "always"
	case to == 0:
		return "from " + from.String()
	case from == 0:
		return "before " + to.String()
	default:
		return "from " + from.String() + ", before " + to.String()
	}
}

// itemNames names the items of "a|b" as people do.
func itemNames(rules *airworthiness.Ruleset, items string) string {
	if items == "" {
		return ""
	}
	var named []string
	for _, key := range strings.Split(items, "|") {
		if row, ok := rules.Item(key); ok {
			key = row.Name + " (" + key + ")"
		}
		named = append(named, key)
	}
	return strings.Join(named, " or ")
}

// storiesOf lists the stories that name a row, by file and title. A folder that is not there holds none.
func storiesOf(dir, id string) ([]string, error) {
	files, err := filepath.Glob(filepath.Join(dir, "*.scenario"))
	if err != nil {
		return nil, err
	}
	names := regexp.MustCompile(`(?m)^because(-not)?: (.* )?` + regexp.QuoteMeta(id) + `( |$)`)
	var found []string
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return nil, err
		}
		for _, story := range strings.Split("\n"+string(text), "\nstory: ")[1:] {
			if title, rest, _ := strings.Cut(story, "\n"); names.MatchString(rest) {
				found = append(found, filepath.Base(file)+": "+title)
			}
		}
	}
	return found, nil
}
