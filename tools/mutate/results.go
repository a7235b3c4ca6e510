package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"strings"
)

// results is the file with a line a mutant: what noticed it, or "survived". Of two lines about one the later counts.
type results struct {
	*os.File
	came  map[string]string // what came of each mutant
	again bool              // survivors are tried once more
}

const survived = "survived"

func openResults(path string, again bool) (*results, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, err
	}
	r := &results{File: f, came: map[string]string{}, again: again}
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		killer, name, _ := strings.Cut(lines.Text(), "\t")
		r.came[name] = killer
	}
	return r, lines.Err()
}

// has says that a mutant need not be tried.
func (r *results) has(m *mutant) bool {
	came, tried := r.came[m.String()]
	return tried && !(r.again && came == survived)
}

func (r *results) tell(m *mutant, killer string) error {
	if killer == "" {
		killer = survived
	}
	r.came[m.String()] = killer
	_, err := fmt.Fprintf(r.File, "%s\t%s\n", killer, m)
	return err
}

// sum tells the survivors, and how many there are of each.
func (r *results) sum(out io.Writer, s *source) {
	tried, alive := 0, 0
	for _, m := range s.mutants {
		came, ok := r.came[m.String()]
		if !ok {
			continue
		}
		tried++
		if came == survived {
			alive++
			fmt.Fprintln(out, m)
		}
	}
	fmt.Fprintf(out, "%d mutants made, %d tried: %d killed, %d survived\n", len(s.mutants), tried, tried-alive, alive)
}
