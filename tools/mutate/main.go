// Command mutate changes one thing at a time in a package and asks its tests whether they miss what was there.
//
// All mutants are built into one set of test binaries: each is a branch that an environment variable switches on, so that
// trying one costs no more than running the tests. The package must compile from itself and the standard library alone.
//
// It owns the mutants, their trial and the list of what came of it. It does not own the tests, nor the argument why a
// survivor does no harm: that is for a person to write.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"regexp"
	"strings"
	"time"
)

// settings say what to mutate, what must notice, and for how long.
type settings struct {
	root, dir string         // the module, and the package's folder within it
	files     *regexp.Regexp // of the package, those to mutate
	trials    []trial        // in the order in which they are asked; the first to fail kills
	share     int            // of each file, so many mutants of a hundred
	seed      uint64         // which they are
	slice     time.Duration  // stop after so long; 0: never
	limit     time.Duration  // a trial that takes longer has noticed
	results   string         // file with a line a mutant: what is in it is not tried again
	again     bool           // save what survived
	list      bool           // name the mutants, and try none
}

// trial is one run of a package's tests.
type trial struct {
	dir  string
	env  []string
	args []string
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "mutate:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, out io.Writer) error {
	s, err := parse(args)
	if err != nil {
		return err
	}
	source, err := load(s.root, s.dir, s.files)
	if err != nil {
		return err
	}
	if s.list {
		for _, m := range source.mutants {
			fmt.Fprintln(out, m)
		}
		return nil
	}
	built, err := build(ctx, s, source)
	if err != nil {
		return err
	}
	defer os.RemoveAll(built.folder)
	if err := built.sound(ctx); err != nil {
		return err
	}
	told, err := openResults(s.results, s.again)
	if err != nil {
		return err
	}
	defer told.Close()
	if s.slice > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, s.slice)
		defer cancel()
	}
	for _, m := range source.sample(s.share, s.seed) {
		if ctx.Err() != nil {
			break
		}
		if told.has(m) {
			continue
		}
		killer := built.try(ctx, m)
		if ctx.Err() != nil && killer != "" {
			break // cut short: a trial that was interrupted has noticed nothing
		}
		if err := told.tell(m, killer); err != nil {
			return err
		}
	}
	told.sum(out, source)
	return nil
}

func parse(args []string) (settings, error) {
	s := settings{}
	flags := flag.NewFlagSet("mutate", flag.ContinueOnError)
	flags.StringVar(&s.root, "root", ".", "folder of the module")
	flags.StringVar(&s.dir, "package", "", "folder of the package, from the root")
	files := flags.String("files", ".", "regular expression: mutate the files whose names match")
	flags.IntVar(&s.share, "share", 100, "of the mutants of each file, try so many of a hundred")
	flags.Uint64Var(&s.seed, "seed", 1, "which of them")
	flags.DurationVar(&s.slice, "for", 0, "stop after this long, to go on another time; 0: when all are tried")
	flags.DurationVar(&s.limit, "limit", time.Minute, "a trial that takes longer has noticed the mutant")
	flags.StringVar(&s.results, "results", "mutants.out", "file to add a line a mutant to; mutants in it are not tried again")
	flags.BoolVar(&s.list, "list", false, "name the mutants, and try none")
	flags.BoolVar(&s.again, "again", false, "try the survivors in the file of results again")
	flags.Func("test", `a trial: "[NAME=VALUE...] package-folder [flags of the test binary...]"; may be given many times`, func(v string) error {
		t, err := parseTrial(v)
		s.trials = append(s.trials, t)
		return err
	})
	if err := flags.Parse(args); err != nil {
		return s, err
	}
	if s.dir == "" || len(s.trials) == 0 {
		return s, errors.New("want -package and at least one -test")
	}
	var err error
	s.files, err = regexp.Compile(*files)
	return s, err
}

func parseTrial(v string) (trial, error) {
	var t trial
	for _, word := range strings.Fields(v) {
		switch {
		case t.dir == "" && strings.Contains(word, "="):
			t.env = append(t.env, word)
		case t.dir == "":
			t.dir = word
		default:
			t.args = append(t.args, word)
		}
	}
	if t.dir == "" {
		return t, fmt.Errorf("no package in %q", v)
	}
	return t, nil
}
