package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/regulation"
)

// comparison judges cases in two ways and tells where the answers differ.
type comparison struct {
	program
	was, is                   func(casefile.Case) (casefile.Answer, error)
	all                       bool // tell changes of the findings, too
	judged, verdicts, reasons int
	failed                    int
}

// diffRules judges written cases and planned flights by two books, or with two aircraft, and tells every verdict that
// changes and why. It changes nothing. Exit 0 if no verdict changes, 1 if one does.
func (p program) diffRules(ctx context.Context) int {
	flags := flag.NewFlagSet("rules diff", flag.ContinueOnError)
	flags.SetOutput(p.err)
	aircraft := flags.Bool("aircraft", false, "A and B are two aircraft, facts and configuration, by the current book")
	cases := flags.String("cases", "", "folder of written cases to judge")
	registration := flags.String("registration", "", "of planned flights only those of this aircraft")
	all := flags.Bool("all", false, "tell the flights, too, whose verdict stays and whose findings change")
	if err := flags.Parse(p.args); err != nil {
		return exitUsage
	}
	if flags.NArg() != 2 {
		fmt.Fprintln(p.err, "usage: tiedown rules diff [--cases DIR] [--registration N] [--all] A B, where A and B are folders of tables or current,\n"+
			"       or tiedown rules diff --aircraft [--cases DIR] [--registration N] [--all] A.json B.json.\n"+
			"       Planned flights are judged where TIEDOWN_DATABASE_URL or TIEDOWN_STATE_DIR is set.")
		return exitUsage
	}
	planned := p.hasDatabase()
	switch {
	case *cases == "" && !planned:
		fmt.Fprintln(p.err, "tiedown: nothing to judge: give --cases, or set TIEDOWN_DATABASE_URL or TIEDOWN_STATE_DIR")
		return exitUsage
	case *aircraft && planned && *registration == "":
		fmt.Fprintln(p.err, "tiedown: whose planned flights are to be judged with the two aircraft? Give --registration")
		return exitUsage
	}
	c := comparison{program: p, all: *all}
	pick := c.books
	if *aircraft {
		pick = c.aircraft
	}
	err := pick(flags.Arg(0), flags.Arg(1))
	if err == nil && *cases != "" {
		err = c.judgeWritten(*cases)
	}
	if err == nil && planned {
		err = c.judgePlanned(ctx, *registration)
	}
	if err != nil {
		return p.fail(err)
	}
	return c.conclude()
}

// books judges by two books.
func (c *comparison) books(was, is string) error {
	earlier, err := openBook(was)
	if err != nil {
		return err
	}
	later, err := openBook(is)
	c.was, c.is = by(earlier), by(later)
	return err
}

func by(book regulation.Book) func(casefile.Case) (casefile.Answer, error) {
	return func(written casefile.Case) (casefile.Answer, error) { return judgeBy(book, written) }
}

// aircraft judges by the current book, with each of two aircraft in place of the case's own.
func (c *comparison) aircraft(was, is string) error {
	book, err := regulation.Current()
	if err != nil {
		return err
	}
	with := func(name string) (func(casefile.Case) (casefile.Answer, error), error) {
		a, err := readAircraft(name)
		return func(written casefile.Case) (casefile.Answer, error) {
			written.Aircraft = a
			return judgeBy(book, written)
		}, err
	}
	if c.was, err = with(was); err != nil {
		return err
	}
	c.is, err = with(is)
	return err
}

// readAircraft reads facts and configuration, strictly.
func readAircraft(name string) (casefile.Aircraft, error) {
	raw, err := os.ReadFile(name)
	if err != nil {
		return casefile.Aircraft{}, err
	}
	// As a case around it, the decoder of cases tells every fault with its line.
	c, err := casefile.Decode([]byte(`{"aircraft":` + string(raw) + `}`))
	if err != nil {
		return casefile.Aircraft{}, fmt.Errorf("%s: %w", name, err)
	}
	return c.Aircraft, nil
}

// judgeWritten judges every case of a folder.
func (c *comparison) judgeWritten(dir string) error {
	files, err := filepath.Glob(filepath.Join(dir, "*.json"))
	if err != nil {
		return err
	}
	if len(files) == 0 {
		return fmt.Errorf("%s: no written cases (*.json)", dir)
	}
	for _, file := range files {
		raw, err := c.read(file, maxCase)
		if err != nil {
			return err
		}
		written, _, err := decodeCase(raw)
		if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		c.judge(filepath.Base(file), written)
	}
	return nil
}

// judgePlanned judges the planned flights on record.
func (c *comparison) judgePlanned(ctx context.Context, registration string) error {
	return c.lookAtRecords(ctx, func(ctx context.Context, h *house) error {
		return hangar.PlannedCases(ctx, h.store, h.store, now(), func(planned hangar.PlannedCase) error {
			if registration == "" || planned.Registration == registration {
				c.judge(fmt.Sprintf("%s, %s, %s, %s", planned.Organization.Name, planned.Registration,
					planned.Case.Flight.Departs.Format("2006-01-02 15:04 MST"), planned.Purpose), planned.Case)
				if planned.Leg > 0 {
					c.judged-- // a flight counts once, whatever its legs
				}
			}
			return nil
		})
	})
}

// judge judges one case in both ways and tells what differs.
func (c *comparison) judge(name string, written casefile.Case) {
	was, wasErr := c.was(written)
	is, isErr := c.is(written)
	c.judged++
	if wasErr != nil || isErr != nil {
		c.cannot(name, was, is, wasErr, isErr)
		return
	}
	d := casefile.Compare(was.WithoutPasses(), is.WithoutPasses())
	switch {
	case d.Was != d.Is:
		c.verdicts++
	case d.None():
		return
	default:
		c.reasons++
	}
	if c.all || d.Was != d.Is {
		c.tell(name, d)
	}
}

// cannot tells of a case that can't be judged in one of the ways, or in either.
func (c *comparison) cannot(name string, was, is casefile.Answer, wasErr, isErr error) {
	if wasErr != nil && isErr != nil && wasErr.Error() == isErr.Error() {
		c.failed++
		fmt.Fprintf(c.err, "tiedown: %s: cannot be judged: %v\n", name, wasErr)
		return
	}
	c.verdicts++
	said := func(a casefile.Answer, err error) string {
		if err != nil {
			return "cannot be judged"
		}
		return a.Verdict
	}
	fmt.Fprintf(c.out, "%s: %s -> %s\n", name, said(was, wasErr), said(is, isErr))
	for _, err := range []error{wasErr, isErr} {
		if err != nil {
			fmt.Fprintf(c.out, "  ! %v\n", err)
		}
	}
}

func (c *comparison) conclude() int {
	fmt.Fprintf(c.out, "%d flights judged: %d verdicts change, %d more change in their findings alone.\n", c.judged, c.verdicts, c.reasons)
	switch {
	case c.failed > 0:
		return c.fail(fmt.Errorf("%d of %d flights cannot be judged", c.failed, c.judged))
	case c.verdicts > 0:
		return exitFailed
	default:
		return exitOK
	}
}
