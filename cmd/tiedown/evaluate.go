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
	var form evaluateForm
	flags.BoolVar(&form.explain, "explain", false, "answer in plain text instead of JSON")
	flags.BoolVar(&form.summary, "summary", false, "answer in one paragraph to be read aloud")
	flags.BoolVar(&form.settle, "settle", false, "answer with the smallest sets of facts that would settle an undetermined case")
	flags.BoolVar(&form.envelope, "envelope", false, "answer with the flights that may be made on the day of the case's flight, ending no later than it")
	record := flags.String("record", "", "keep case, book and answer in this file, to be judged again")
	again := flags.String("replay", "", "judge the case of this record again, and compare")
	if err := flags.Parse(p.args); err != nil {
		return exitUsage
	}
	if *again != "" && *record == "" && flags.NArg() == 0 && form == (evaluateForm{}) {
		return p.replay(*again)
	}
	if *again != "" || flags.NArg() != 1 || !form.isOne() {
		fmt.Fprintln(p.err, "usage: tiedown evaluate [--explain | --summary | --settle | --envelope] [--record FILE] FILE|-, or tiedown evaluate --replay FILE")
		return exitUsage
	}
	name := flags.Arg(0)
	raw, err := p.read(name, maxCase)
	if err != nil {
		fmt.Fprintf(p.err, "tiedown: %v\n", err)
		return exitUsage
	}
	asked, err := read(raw)
	if err != nil {
		return p.refuse(name, err)
	}
	if *record != "" {
		if err := keepRecord(*record, asked.written, asked.answer); err != nil {
			return p.fail(err)
		}
	}
	if err := asked.write(p.out, form); err != nil {
		return p.fail(err)
	}
	return verdictExit[asked.answer.Verdict]
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

// refuse tells why a file is not taken: its faults, each with its line, or else that the program failed.
func (p program) refuse(name string, err error) int {
	var faults casefile.Faults
	if errors.As(err, &faults) {
		p.printFaults(name, faults)
		return exitUsage
	}
	return p.fail(err)
}

func (p program) printFaults(name string, faults casefile.Faults) {
	for _, f := range faults {
		fmt.Fprintf(p.err, "%s:%d: %s: %s (%s). Remedy: %s.\n", name, f.Line, f.Field, f.Says, f.Rule, f.Remedy)
	}
}
