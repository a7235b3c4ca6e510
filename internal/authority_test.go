package internal_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestOnlyTheBookKnowsTheAuthority holds that what shipped code says to people names no authority's rule: those words
// come from the tables, so that another authority's book needs no other program.
func TestOnlyTheBookKnowsTheAuthority(t *testing.T) {
	t.Parallel()
	american := regexp.MustCompile(`\bCFR\b|\bFAA\b|\b(?:91|43|65)\.\d|\bAC \d`)
	for _, p := range packages(t) {
		switch {
		case p.ImportPath == "internal/regulation", p.ImportPath == "internal/demo", p.ImportPath == "internal/papers", strings.HasPrefix(p.ImportPath, "internal/testrig/"),
			strings.HasPrefix(p.ImportPath, "api/"):
			continue // the book, an American club, its printed forms, the tests' own, and what is generated from the contract
		}
		for _, name := range p.GoFiles {
			file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, name), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(file, func(n ast.Node) bool {
				if literal, ok := n.(*ast.BasicLit); ok && literal.Kind == token.STRING && american.MatchString(literal.Value) {
					t.Errorf("%s/%s says %s", p.ImportPath, name, literal.Value)
				}
				return true
			})
		}
	}
}
