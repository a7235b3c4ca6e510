package main

import (
	"bytes"
	"context"
	"fmt"

	"tiedown/internal/regulation"
	"tiedown/internal/walkaround"
)

// maxChecklist bounds a written checklist, in bytes.
const maxChecklist = 1 << 20

// checklist reads the checklist of a walkaround, as JSON or CSV, and prints it in the other form. Every fault is told at
// once, with its line.
func checklist(_ context.Context, p program) int {
	if len(p.args) != 1 {
		fmt.Fprintln(p.err, "usage: tiedown checklist FILE|-")
		return exitUsage
	}
	raw, err := p.read(p.args[0], maxChecklist)
	if err != nil {
		fmt.Fprintf(p.err, "tiedown: %v\n", err)
		return exitUsage
	}
	book, err := regulation.Current()
	if err != nil {
		return p.fail(err)
	}
	known := func(item string) bool { _, ok := book.Item(item); return ok }
	if bytes.HasPrefix(bytes.TrimSpace(raw), []byte("{")) {
		list, err := walkaround.ReadJSON(raw, known)
		if err != nil {
			return p.refuse(p.args[0], err)
		}
		return p.written(walkaround.WriteCSV(p.out, &list))
	}
	list, err := walkaround.ReadCSV(bytes.NewReader(raw), known)
	if err != nil {
		return p.refuse(p.args[0], err)
	}
	written, err := walkaround.WriteJSON(&list)
	if err == nil {
		_, err = p.out.Write(written)
	}
	return p.written(err)
}

// written is the exit code after something was printed.
func (p program) written(err error) int {
	if err != nil {
		return p.fail(err)
	}
	return exitOK
}
