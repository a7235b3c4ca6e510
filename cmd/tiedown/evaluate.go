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
	if err := flags.Parse(p.args); err != nil {
		return exitUsage
	}
	if flags.NArg() != 1 {
		fmt.Fprintln(p.err, "usage: tiedown evaluate [--explain] FILE|-")
		return exitUsage
	}
	name := flags.Arg(0)
	raw, err := p.read(name)
	if err != nil {
		fmt.Fprintf(p.err, "tiedown: %v\n", err)
		return exitUsage
	}
	answer, err := judge(raw)
	var faults casefile.Faults
	if errors.As(err, &faults) {
		p.printFaults(name, faults)
		return exitUsage
	}
	if err != nil {
		return p.fail(err)
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

// read reads a file, or standard input for "-".
func (p program) read(name string) ([]byte, error) {
	in := p.in
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		defer f.Close() //nolint:errcheck // only read
		in = f
	}
	raw, err := io.ReadAll(io.LimitReader(in, maxCase+1))
	if err != nil {
		return nil, err
	}
	if len(raw) > maxCase {
		return nil, fmt.Errorf("%s: a case has at most %d bytes", name, maxCase)
	}
	return raw, nil
}

// judge decodes, checks and answers a case. Faults carry their lines.
func judge(raw []byte) (casefile.Answer, error) {
	lines, err := casefile.Lines(raw)
	if err != nil {
		return casefile.Answer{}, err
	}
	if err := contract.Check("Case", raw).WithLines(lines).Err(); err != nil {
		return casefile.Answer{}, err
	}
	c, err := casefile.Decode(raw)
	if err != nil {
		return casefile.Answer{}, err
	}
	book, err := regulation.Current()
	if err != nil {
		return casefile.Answer{}, err
	}
	question, err := casefile.Compile(c, book.Ruleset)
	var faults casefile.Faults
	if errors.As(err, &faults) {
		return casefile.Answer{}, faults.WithLines(lines)
	}
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
