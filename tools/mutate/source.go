package main

import (
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// source is the package with its mutants.
type source struct {
	fset    *token.FileSet
	types   *types.Package
	info    *types.Info
	files   []*file
	mutants []*mutant
}

// file is one file with the places that are mutated in it.
type file struct {
	path   string
	text   []byte
	tree   *ast.File
	mutate bool
	sites  []*site
}

// mutant is one change.
type mutant struct {
	number       int // from 1
	file         string
	line, column int
	function     string
	change       string
}

// String names the mutant in the file of results.
func (m *mutant) String() string {
	return fmt.Sprintf("%s:%d:%d\t%s\t%s", m.file, m.line, m.column, m.function, m.change)
}

// load reads and checks the package, and finds its mutants.
func load(root, dir string, wanted *regexp.Regexp) (*source, error) {
	s := &source{fset: token.NewFileSet(), info: &types.Info{
		Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}, Defs: map[*ast.Ident]types.Object{},
	}}
	paths, err := filepath.Glob(filepath.Join(root, dir, "*.go"))
	if err != nil {
		return nil, err
	}
	var trees []*ast.File
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		f := &file{mutate: wanted.MatchString(filepath.Base(path))}
		if f.path, err = filepath.Abs(path); err != nil {
			return nil, err
		}
		if f.text, err = os.ReadFile(path); err != nil {
			return nil, err
		}
		if f.tree, err = parser.ParseFile(s.fset, f.path, f.text, parser.SkipObjectResolution); err != nil {
			return nil, err
		}
		s.files = append(s.files, f)
		trees = append(trees, f.tree)
	}
	check := types.Config{Importer: importer.ForCompiler(s.fset, "source", nil)}
	if s.types, err = check.Check(dir, s.fset, trees, s.info); err != nil {
		return nil, err
	}
	for _, f := range s.files {
		if f.mutate {
			s.find(f)
		}
	}
	return s, nil
}

// sample takes a share of each file's mutants, in their order.
func (s *source) sample(share int, seed uint64) []*mutant {
	if share >= 100 {
		return s.mutants
	}
	byFile := map[string][]*mutant{}
	for _, m := range s.mutants {
		byFile[m.file] = append(byFile[m.file], m)
	}
	var taken []*mutant
	for _, f := range s.files {
		of := byFile[filepath.Base(f.path)]
		r := rand.New(rand.NewPCG(seed, uint64(len(of)))) //nolint:gosec // a sample, not a secret
		r.Shuffle(len(of), func(i, j int) { of[i], of[j] = of[j], of[i] })
		taken = append(taken, of[:(len(of)*share+99)/100]...)
	}
	slices.SortFunc(taken, func(a, b *mutant) int { return a.number - b.number })
	return taken
}
