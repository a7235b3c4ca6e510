package main

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/token"
	"go/types"
	"path/filepath"
	"slices"
	"strings"
)

// finder walks one file and notes what can be changed in it.
type finder struct {
	*source
	file     *file
	function string
}

// find notes the mutants of a file.
func (s *source) find(f *file) {
	v := &finder{source: s, file: f}
	for _, d := range f.tree.Decls {
		v.function = "(package)"
		switch d := d.(type) {
		case *ast.FuncDecl:
			v.function = d.Name.Name
			if d.Recv != nil {
				v.function = strings.TrimPrefix(types.ExprString(d.Recv.List[0].Type), "*") + "." + d.Name.Name
			}
			v.early(d)
			v.walk(d.Body)
		case *ast.GenDecl:
			if d.Tok == token.VAR {
				v.walk(d)
			}
		}
	}
	slices.SortStableFunc(f.sites, func(a, b *site) int {
		if a.from != b.from {
			return a.from - b.from
		}
		return b.to - a.to // what holds the other comes first
	})
}

// add notes a site with its alternatives.
func (v *finder) add(kind siteKind, n ast.Node, alternatives ...alternative) *site {
	if len(alternatives) == 0 {
		return nil
	}
	s := &site{kind: kind, from: v.offset(n.Pos()), to: v.offset(n.End())}
	at := v.fset.Position(n.Pos())
	for _, a := range alternatives {
		m := &mutant{
			number: len(v.mutants) + 1, file: filepath.Base(v.file.path), line: at.Line, column: at.Column,
			function: v.function, change: a.says,
		}
		v.mutants = append(v.mutants, m)
		s.mutants = append(s.mutants, m)
		s.texts = append(s.texts, a.text)
	}
	v.file.sites = append(v.file.sites, s)
	return s
}

func (v *finder) offset(p token.Pos) int { return v.fset.Position(p).Offset }

func (v *finder) text(n ast.Node) string {
	return string(v.file.text[v.offset(n.Pos()):v.offset(n.End())])
}

// alternative is what may stand in a site's place, and the change in words.
type alternative struct{ text, says string }

func (v *finder) instead(n ast.Node, text string) alternative {
	return alternative{text, oneLine(v.text(n)) + " -> " + oneLine(text)}
}

func oneLine(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if len(s) > 90 {
		s = s[:90] + "…"
	}
	return s
}

// early lets a function return nothing at once.
func (v *finder) early(d *ast.FuncDecl) {
	if d.Body == nil || len(d.Body.List) == 0 {
		return
	}
	var zeros []string
	if d.Type.Results != nil {
		for _, r := range d.Type.Results.List {
			for range max(len(r.Names), 1) {
				zeros = append(zeros, "*new("+v.text(r.Type)+")")
			}
		}
	}
	first := d.Body.List[0]
	s := v.add(statement, first, alternative{"return " + strings.Join(zeros, ", "), "returns nothing at once"})
	s.kind, s.to = before, s.from
}

func (v *finder) walk(root ast.Node) {
	if root == nil {
		return
	}
	ast.Inspect(root, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BlockStmt:
			v.statements(n.List)
		case *ast.CaseClause:
			v.statements(n.Body)
			v.cases(n)
		case *ast.IfStmt:
			v.whole(n.Cond)
		case *ast.ForStmt:
			v.whole(n.Cond)
		case *ast.ReturnStmt:
			for _, r := range n.Results {
				v.whole(r)
			}
		case *ast.BinaryExpr:
			v.binary(n)
			return v.info.Types[n].Value == nil // what a constant is made of has no type of its own
		case *ast.UnaryExpr:
			v.literal(n)
			return v.info.Types[n].Value == nil
		case *ast.BasicLit:
			v.literal(n)
		case *ast.Ident:
			v.name(n)
		case *ast.GenDecl:
			return n.Tok == token.VAR
		case *ast.ArrayType:
			return false // its length is a constant
		case *ast.SelectorExpr:
			v.walk(n.X)
			return false
		case *ast.CompositeLit:
			v.composite(n)
			return false
		}
		return true
	})
}

// composite leaves out the keys, which are names of fields or constants.
func (v *finder) composite(n *ast.CompositeLit) {
	for _, e := range n.Elts {
		if pair, ok := e.(*ast.KeyValueExpr); ok {
			e = pair.Value
		}
		v.walk(e)
	}
}

// statements may be forgotten: assignments, calls and jumps.
func (v *finder) statements(list []ast.Stmt) {
	for _, s := range list {
		switch s := s.(type) {
		case *ast.AssignStmt:
			if s.Tok == token.DEFINE {
				continue
			}
		case *ast.ExprStmt, *ast.IncDecStmt:
		case *ast.BranchStmt:
			if s.Tok == token.FALLTHROUGH {
				continue
			}
		default:
			continue
		}
		v.add(statement, s, alternative{"", "drops " + oneLine(v.text(s))})
	}
}

// cases of a switch without a value are conditions.
func (v *finder) cases(n *ast.CaseClause) {
	for _, e := range n.List {
		v.whole(e)
	}
}

// whole negates a condition that is neither a comparison nor joined of several: these are changed part by part.
func (v *finder) whole(e ast.Expr) {
	if e == nil || !v.isBool(e) {
		return
	}
	if b, ok := ast.Unparen(e).(*ast.BinaryExpr); ok && b.Op != token.LAND && b.Op != token.LOR {
		return
	}
	if id, ok := e.(*ast.Ident); ok && v.info.Types[id].Value != nil {
		return // true and false are changed as names
	}
	v.add(condition, e, v.instead(e, "!("+v.text(e)+")"))
}

func (v *finder) isBool(e ast.Expr) bool {
	t, ok := v.info.Types[e]
	if !ok || t.IsType() || t.Type == nil {
		return false
	}
	b, ok := t.Type.Underlying().(*types.Basic)
	return ok && b.Info()&types.IsBoolean != 0
}

// opposites and margins of comparisons.
var (
	opposites = map[token.Token]string{
		token.EQL: "!=", token.NEQ: "==", token.LSS: ">=", token.LEQ: ">", token.GTR: "<=", token.GEQ: "<",
	}
	margins = map[token.Token]string{token.LSS: "<=", token.LEQ: "<", token.GTR: ">=", token.GEQ: ">"}
	sums    = map[token.Token]string{
		token.ADD: "-", token.SUB: "+", token.AND: "|", token.OR: "&", token.AND_NOT: "&",
	}
)

func (v *finder) binary(n *ast.BinaryExpr) {
	x, y := v.text(n.X), v.text(n.Y)
	with := func(op string) alternative {
		return alternative{x + " " + op + " " + y, oneLine(x+" "+n.Op.String()+" "+y) + ": " + n.Op.String() + " -> " + op}
	}
	t := v.info.Types[n]
	switch {
	case t.Value != nil:
	case n.Op == token.LAND:
		v.add(condition, n, with("||"), v.instead(n, x), v.instead(n, y))
	case n.Op == token.LOR:
		v.add(condition, n, with("&&"), v.instead(n, x), v.instead(n, y))
	case opposites[n.Op] != "":
		alternatives := []alternative{with(opposites[n.Op])}
		if m := margins[n.Op]; m != "" {
			alternatives = append(alternatives, with(m))
		}
		v.add(condition, n, alternatives...)
	case sums[n.Op] != "" && isNumber(t.Type):
		v.value(n, with(sums[n.Op]))
	}
}

func isNumber(t types.Type) bool {
	b, ok := t.Underlying().(*types.Basic)
	return ok && b.Info()&types.IsNumeric != 0
}

// value notes alternatives to an expression that is computed in any case.
func (v *finder) value(n ast.Expr, alternatives ...alternative) {
	t := v.info.Types[n].Type
	name := types.TypeString(types.Default(t), func(p *types.Package) string {
		if p == v.types {
			return ""
		}
		return p.Name()
	})
	if p, _, ok := strings.Cut(name, "."); ok && !v.imports(p) {
		return
	}
	if s := v.add(value, n, alternatives...); s != nil {
		s.name = name
	}
}

func (v *finder) imports(name string) bool {
	return slices.ContainsFunc(v.file.tree.Imports, func(i *ast.ImportSpec) bool {
		return strings.HasSuffix(strings.Trim(i.Path.Value, `"`), name)
	})
}

// literal is off by one, up and down.
func (v *finder) literal(n ast.Expr) {
	t := v.info.Types[n]
	if t.Value == nil || t.Value.Kind() != constant.Int || !isNumber(t.Type) {
		return
	}
	i, ok := constant.Int64Val(t.Value)
	if !ok {
		return
	}
	alternatives := []alternative{v.instead(n, fmt.Sprint(i+1))}
	if i != 0 {
		alternatives = append(alternatives, v.instead(n, fmt.Sprint(i-1)))
	}
	v.value(n, alternatives...)
}

// answers are the types whose constants are taken for one another.
var answers = []string{"Truth", "Verdict", "Outcome", "Step"}

// name takes one answer for another.
func (v *finder) name(n *ast.Ident) {
	c, ok := v.info.Uses[n].(*types.Const)
	if !ok {
		return
	}
	if c.Pkg() == nil { // true and false
		other := map[string]string{"true": "false", "false": "true"}[n.Name]
		if other != "" {
			v.value(n, v.instead(n, other))
		}
		return
	}
	named, ok := c.Type().(*types.Named)
	if !ok || !slices.Contains(answers, named.Obj().Name()) || c.Parent() != v.types.Scope() {
		return
	}
	alternatives := []alternative{}
	for _, other := range v.neighbors(c) {
		alternatives = append(alternatives, v.instead(n, other))
	}
	v.value(n, alternatives...)
}

// neighbors are the constants of the same type before and after, in a ring.
func (v *finder) neighbors(c *types.Const) []string {
	var all []*types.Const
	for _, name := range v.types.Scope().Names() {
		if other, ok := v.types.Scope().Lookup(name).(*types.Const); ok && types.Identical(other.Type(), c.Type()) {
			all = append(all, other)
		}
	}
	slices.SortFunc(all, func(a, b *types.Const) int {
		return constant.Sign(constant.BinaryOp(a.Val(), token.SUB, b.Val()))
	})
	at := slices.Index(all, c)
	next, last := all[(at+1)%len(all)].Name(), all[(at+len(all)-1)%len(all)].Name()
	if next == last {
		return []string{next}
	}
	return []string{next, last}
}
