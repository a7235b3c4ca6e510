package main

import (
	"fmt"
	"strings"
)

// siteKind says what stands at a site, and so how a mutant is switched on there.
type siteKind uint8

const (
	condition siteKind = iota // a condition: only the one chosen is evaluated
	value                     // a value: both are, as neither does anything
	statement                 // a statement that is left out
	before                    // a place before which a return is set
)

// site is a place in a file with the mutants that change it.
type site struct {
	kind     siteKind
	from, to int
	name     string // of a value, its type
	mutants  []*mutant
	texts    []string // what each puts in its place
}

// write gives the file with every mutant in it.
func (f *file) write() string {
	var w writer
	w.file = f
	w.copy(0, len(f.text))
	return w.String()
}

type writer struct {
	strings.Builder
	file *file
	next int // the first site that is not written yet
}

// copy writes a part of the file, with the sites that lie in it.
func (w *writer) copy(from, to int) {
	for w.next < len(w.file.sites) {
		s := w.file.sites[w.next]
		if s.from >= to || s.to > to {
			break
		}
		w.next++
		w.Write(w.file.text[from:s.from])
		w.site(s)
		from = s.to
	}
	w.Write(w.file.text[from:to])
}

func (w *writer) site(s *site) {
	switch s.kind {
	case before:
		fmt.Fprintf(w, "if theMutant == %d { %s }; ", s.mutants[0].number, s.texts[0])
	case statement:
		fmt.Fprintf(w, "if theMutant != %d { ", s.mutants[0].number)
		w.copy(s.from, s.to)
		w.WriteString(" }")
	case value:
		for i, m := range s.mutants {
			fmt.Fprintf(w, "mutated[%s](%d, %s, ", s.name, m.number, s.texts[i])
		}
		w.copy(s.from, s.to)
		w.WriteString(strings.Repeat(")", len(s.mutants)))
	case condition:
		w.WriteString("(")
		first := s.mutants[0].number
		for i, m := range s.mutants {
			fmt.Fprintf(w, "theMutant == %d && (%s) || ", m.number, s.texts[i])
		}
		fmt.Fprintf(w, "(theMutant < %d || theMutant > %d) && (", first, first+len(s.mutants)-1)
		w.copy(s.from, s.to)
		w.WriteString("))")
	}
}

// switchboard is the file that switches one mutant on.
func switchboard(pkg string) string {
	return "package " + pkg + `

import (
	"os"
	"strconv"
)

var theMutant = func() int { n, _ := strconv.Atoi(os.Getenv("MUTANT")); return n }()

func mutated[T any](number int, changed, as T) T {
	if theMutant == number {
		return changed
	}
	return as
}
`
}
