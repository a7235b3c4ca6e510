package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"strings"
)

// results is the file with a line a mutant: what noticed it, or "survived".
type results struct {
	*os.File
	tried            map[string]bool // by what names a mutant
	killed, survived int
}

const survived = "survived"

func openResults(path string) (*results, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, err
	}
	r := &results{File: f, tried: map[string]bool{}}
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		killer, name, _ := strings.Cut(lines.Text(), "\t")
		r.note(killer, name)
	}
	return r, lines.Err()
}

func (r *results) note(killer, name string) {
	r.tried[name] = true
	if killer == survived {
		r.survived++
	} else {
		r.killed++
	}
}

func (r *results) has(m *mutant) bool { return r.tried[m.String()] }

func (r *results) tell(m *mutant, killer string) error {
	if killer == "" {
		killer = survived
	}
	r.note(killer, m.String())
	_, err := fmt.Fprintf(r.File, "%s\t%s\n", killer, m)
	return err
}

func (r *results) sum(out io.Writer, made int) {
	fmt.Fprintf(out, "%d mutants made, %d tried: %d killed, %d survived\n", made, r.killed+r.survived, r.killed, r.survived)
}
