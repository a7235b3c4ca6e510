package main

import (
	"bytes"
	"fmt"

	"tiedown/internal/casefile"
	"tiedown/internal/regulation"
)

// maxCompanyRules bounds the rules of an organization, in bytes.
const maxCompanyRules = 1 << 20

// companyRules reads an organization's rules from CSV, holds them against the book, and prints them as the server takes
// them. Every fault is told at once, with its line.
func (p program) companyRules() int {
	if len(p.args) != 1 {
		fmt.Fprintln(p.err, "usage: tiedown rules company FILE|-")
		return exitUsage
	}
	raw, err := p.read(p.args[0], maxCompanyRules)
	if err != nil {
		fmt.Fprintf(p.err, "tiedown: %v\n", err)
		return exitUsage
	}
	rules, err := casefile.ReadCompanyRules(bytes.NewReader(raw))
	if err == nil {
		var book regulation.Book
		if book, err = regulation.Current(); err == nil {
			_, err = casefile.CompileCompanyRules(rules, book.Ruleset)
		}
	}
	if err != nil {
		return p.refuse(p.args[0], err)
	}
	if err := writeIndented(p.out, map[string]any{"rules": rules}); err != nil {
		return p.fail(err)
	}
	return exitOK
}
