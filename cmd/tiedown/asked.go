package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"tiedown/internal/casefile"
	"tiedown/internal/contract"
	"tiedown/internal/inquiry"
	"tiedown/internal/regulation"
)

// evaluateForm is what evaluate writes: JSON unless one of these is asked for.
type evaluateForm struct{ explain, summary, settle, envelope bool }

// isOne says whether at most one form is asked for.
func (f evaluateForm) isOne() bool {
	n := 0
	for _, asked := range []bool{f.explain, f.summary, f.settle, f.envelope} {
		if asked {
			n++
		}
	}
	return n <= 1
}

// asked is a case with its answer and the book that it was read from.
type asked struct {
	written casefile.Case
	answer  casefile.Answer
	book    regulation.Book
}

// read decodes, checks and answers a case. Faults carry their lines.
func read(raw []byte) (asked, error) {
	written, lines, err := decodeCase(raw)
	if err != nil {
		return asked{}, err
	}
	a := asked{written: written}
	if a.book, err = regulation.Current(); err != nil {
		return asked{}, err
	}
	a.answer, err = judgeBy(a.book, a.written)
	var faults casefile.Faults
	if errors.As(err, &faults) {
		return asked{}, faults.WithLines(lines)
	}
	return a, err
}

// decodeCase decodes and checks a case, and says on which line each field begins.
func decodeCase(raw []byte) (casefile.Case, map[string]int, error) {
	lines, err := casefile.Lines(raw)
	if err != nil {
		return casefile.Case{}, nil, err
	}
	if err := contract.Check("Case", raw).WithLines(lines).Err(); err != nil {
		return casefile.Case{}, nil, err
	}
	c, err := casefile.Decode(raw)
	return c, lines, err
}

// judgeBy answers a case by one book.
func judgeBy(book regulation.Book, c casefile.Case) (casefile.Answer, error) {
	question, err := casefile.Compile(c, book.Ruleset)
	if err != nil {
		return casefile.Answer{}, err
	}
	return casefile.Judge(question, book.Ruleset, book.Digest), nil
}

// write writes the answer in the form that was asked for.
func (a asked) write(w io.Writer, form evaluateForm) error {
	switch {
	case form.explain:
		return a.answer.WriteText(w)
	case form.summary:
		_, err := fmt.Fprintln(w, a.answer.Summary)
		return err
	case form.settle:
		settling, err := inquiry.Settle(a.written, a.book.Ruleset)
		if err != nil {
			return err
		}
		return writeIndented(w, settling)
	case form.envelope:
		envelope, err := inquiry.EnvelopeOfCase(a.written, a.book.Ruleset, a.book.Digest)
		if err != nil {
			return err
		}
		return writeIndented(w, envelope)
	default:
		return a.answer.WriteJSON(w)
	}
}

func writeIndented(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
