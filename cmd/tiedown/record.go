package main

import (
	"fmt"
	"os"

	"tiedown/internal/casefile"
)

// maxRecord bounds a record, in bytes: a case with its answer.
const maxRecord = 16 * maxCase

// keepRecord writes a determination to a file, whole.
func keepRecord(name string, c casefile.Case, a casefile.Answer) error {
	record, err := casefile.NewRecord(c, a)
	if err != nil {
		return err
	}
	written, err := record.Write()
	if err != nil {
		return err
	}
	return os.WriteFile(name, written, 0o644)
}

// replay judges the case of a record again and compares the answers byte for byte. By another book than the record's the
// digests of the books differ, so there the findings are compared.
func (p program) replay(name string) int {
	raw, err := p.read(name, maxRecord)
	if err != nil {
		fmt.Fprintf(p.err, "tiedown: %v\n", err)
		return exitUsage
	}
	record, err := casefile.ReadRecord(raw)
	if err != nil {
		return p.refuse(name, err)
	}
	was, err := record.Answered()
	if err != nil {
		return p.fail(err)
	}
	again, err := read(record.Case)
	if err != nil {
		return p.fail(fmt.Errorf("the recorded case is no longer understood: %w", err))
	}
	if again.answer.Rules != record.Rules {
		fmt.Fprintf(p.out, "The book is another: recorded by %s, judged by %s.\n", record.Rules, again.answer.Rules)
		again.answer.Rules = record.Rules
	}
	same, err := record.Same(again.answer)
	if err != nil {
		return p.fail(err)
	}
	if same {
		fmt.Fprintf(p.out, "The same answer: %s.\n", again.answer.Verdict)
		return exitOK
	}
	p.tell(name, casefile.Compare(was, again.answer))
	return exitFailed
}

// tell prints how an answer differs.
func (p program) tell(name string, d casefile.Difference) {
	switch {
	case d.Was != d.Is:
		fmt.Fprintf(p.out, "%s: %s -> %s\n", name, d.Was, d.Is)
	case d.None():
		fmt.Fprintf(p.out, "%s: %s, told in other words\n", name, d.Is)
	default:
		fmt.Fprintf(p.out, "%s: %s, for other reasons\n", name, d.Is)
	}
	for _, f := range d.Gone {
		fmt.Fprintf(p.out, "  - %s\n", f.Line())
	}
	for _, f := range d.Come {
		fmt.Fprintf(p.out, "  + %s\n", f.Line())
	}
}
