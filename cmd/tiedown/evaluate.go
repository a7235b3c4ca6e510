package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/contract"
	"tiedown/internal/regulation"
)

// maxCase bounds a written case, in bytes.
const maxCase = 1 << 20

// verdictExit is evaluate's exit code for each verdict.
var verdictExit = map[string]int{
	airworthiness.Clear.String():        exitOK,
	airworthiness.Limited.String():      exitOK,
	airworthiness.DeferFirst.String():   3,
	airworthiness.Undetermined.String(): 4,
	airworthiness.Grounded.String():     5,
}

// evaluate judges one written case.
func evaluate(_ context.Context, p program) int {
	flags := flag.NewFlagSet("evaluate", flag.ContinueOnError)
	flags.SetOutput(p.err)
	explain := flags.Bool("explain", false, "answer in plain text instead of JSON")
	record := flags.String("record", "", "keep case, book and answer in this file, to be judged again")
	again := flags.String("replay", "", "judge the case of this record again, and compare")
	if err := flags.Parse(p.args); err != nil {
		return exitUsage
	}
	if *again != "" && *record == "" && flags.NArg() == 0 {
		return p.replay(*again)
	}
	if *again != "" || flags.NArg() != 1 {
		fmt.Fprintln(p.err, "usage: tiedown evaluate [--explain] [--record FILE] FILE|-, or tiedown evaluate --replay FILE")
		return exitUsage
	}
	name := flags.Arg(0)
	raw, err := p.read(name, maxCase)
	if err != nil {
		fmt.Fprintf(p.err, "tiedown: %v\n", err)
		return exitUsage
	}
	asked, answer, err := judge(raw)
	var faults casefile.Faults
	if errors.As(err, &faults) {
		p.printFaults(name, faults)
		return exitUsage
	}
	if err != nil {
		return p.fail(err)
	}
	if *record != "" {
		if err := keepRecord(*record, asked, answer); err != nil {
			return p.fail(err)
		}
	}
	write := answer.WriteJSON
	if *explain {
		write = answer.WriteText
	}
	if err := write(p.out); err != nil {
		return p.fail(err)
	}
	return verdictExit[answer.Verdict]
}

// read reads a file of at most limit bytes, or standard input for "-".
func (p program) read(name string, limit int) ([]byte, error) {
	in := p.in
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		defer f.Close() //nolint:errcheck // only read
		in = f
	}
	raw, err := io.ReadAll(io.LimitReader(in, int64(limit)+1))
	if err != nil {
		return nil, err
	}
	if len(raw) > limit {
		return nil, fmt.Errorf("%s: it has at most %d bytes", name, limit)
	}
	return raw, nil
}

// judge decodes, checks and answers a case by the current book. Faults carry their lines.
func judge(raw []byte) (casefile.Case, casefile.Answer, error) {
	c, lines, err := decodeCase(raw)
	if err != nil {
		return c, casefile.Answer{}, err
	}
	book, err := regulation.Current()
	if err != nil {
		return c, casefile.Answer{}, err
	}
	answer, err := judgeBy(book, c)
	var faults casefile.Faults
	if errors.As(err, &faults) {
		return c, answer, faults.WithLines(lines)
	}
	return c, answer, err
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

func (p program) printFaults(name string, faults casefile.Faults) {
	for _, f := range faults {
		fmt.Fprintf(p.err, "%s:%d: %s: %s (%s). Remedy: %s.\n", name, f.Line, f.Field, f.Says, f.Rule, f.Remedy)
	}
}
