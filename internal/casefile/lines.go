package casefile

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"
)

const (
	// maxDepth bounds how deeply a document may nest. A case nests six deep.
	maxDepth = 64
	// maxFaults bounds the faults told at once: whoever sends more has sent something else.
	maxFaults = 100
	// document is the field of a fault that is about the document as a whole.
	document = "document"
)

// Lines says on which line, counted from 1, each field of a JSON document begins, by its path: "defects[0].unit". The
// document itself is the path "". The error, if any, is of type Faults: broken UTF-8, broken syntax, more than one value,
// a field that stands twice, or nesting deeper than 64.
func Lines(raw []byte) (map[string]int, error) {
	root, err := parse(raw)
	if err != nil {
		return nil, err
	}
	lines := map[string]int{}
	root.visit("", func(path string, n *node) { lines[path] = n.line })
	return lines, nil
}

// Decode reads a case. It is strict: a field that a case does not have, or a value of the wrong type, is a fault that
// names the field and its line, beside those of Lines. What decodes may still not be a sensible case: Compile says.
func Decode(raw []byte) (Case, error) {
	root, err := parse(raw)
	if err != nil {
		return Case{}, err
	}
	c, err := strictly(raw)
	if err == nil && root.plain() {
		return c, nil
	}
	var bad Faults
	root.check(wrap{}, "", &bad)
	if err != nil && len(bad) == 0 {
		bad.Add(document, "case", err.Error(), "send a case")
	}
	return Case{}, bad.Err()
}

func strictly(raw []byte) (Case, error) {
	var c Case
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	err := d.Decode(&c)
	return c, err
}

// WithLines gives each fault the line of its field, or else of the nearest field around it.
func (f Faults) WithLines(lines map[string]int) Faults {
	placed := make(Faults, len(f))
	for i, fault := range f {
		for path := fault.Field; fault.Line == 0; path = around(path) {
			fault.Line = lines[path]
			if path == "" {
				break
			}
		}
		placed[i] = fault
	}
	return placed
}

// around is the path of the field that holds another.
func around(path string) string { return path[:max(strings.LastIndexAny(path, ".["), 0)] }

// node is one value of a document.
type node struct {
	kind    byte // '{', '[' or 's' for a scalar
	key     string
	line    int    // where its key stands, or else the value itself
	literal []byte // of a scalar
	inner   []node
}

// visit calls f for a node and all within it, with their paths.
func (n *node) visit(path string, f func(path string, n *node)) {
	f(path, n)
	for i := range n.inner {
		n.inner[i].visit(n.path(path, i), f)
	}
}

// path is that of the i-th value within a node.
func (n *node) path(path string, i int) string {
	switch {
	case n.kind == '[':
		return fmt.Sprintf("%s[%d]", path, i)
	case path == "":
		return n.inner[i].key
	default:
		return path + "." + n.inner[i].key
	}
}

// parse reads a document into a tree that remembers its lines.
func parse(raw []byte) (node, error) {
	if at := brokenUTF8(raw); at >= 0 {
		return node{}, Faults{faultAt(raw, at, "utf-8", "the text is not UTF-8", "save the document as UTF-8")}
	}
	var whole json.RawMessage
	if err := json.Unmarshal(raw, &whole); err != nil {
		return node{}, Faults{syntaxFault(raw, err)}
	}
	p := parser{raw: raw, decoder: json.NewDecoder(bytes.NewReader(raw)), line: 1}
	p.decoder.UseNumber()
	root := p.value(p.token(), "", 0)
	return root, p.bad.Err()
}

// brokenUTF8 is where the text stops being UTF-8, or -1.
func brokenUTF8(raw []byte) int {
	for at := 0; at < len(raw); {
		r, size := utf8.DecodeRune(raw[at:])
		if r == utf8.RuneError && size <= 1 {
			return at
		}
		at += size
	}
	return -1
}

func syntaxFault(raw []byte, err error) Fault {
	at := len(raw)
	if syntax := (*json.SyntaxError)(nil); errors.As(err, &syntax) && int(syntax.Offset) <= len(raw) {
		at = max(int(syntax.Offset)-1, 0)
	}
	if strings.Contains(err.Error(), "after top-level value") {
		return faultAt(raw, at, "one-value", "something follows the document", "send one JSON object and nothing after it")
	}
	if strings.Contains(err.Error(), "unexpected end") {
		return faultAt(raw, len(raw), "syntax", "the document ends too soon", "close what has been opened")
	}
	return faultAt(raw, at, "syntax", err.Error(), "correct the JSON")
}

// faultAt is a fault at a place of the text. Columns count characters.
func faultAt(raw []byte, at int, rule, says, remedy string) Fault {
	start := bytes.LastIndexByte(raw[:at], '\n') + 1
	line, column := 1+bytes.Count(raw[:at], []byte{'\n'}), 1+utf8.RuneCount(raw[start:at])
	return Fault{
		Field: document, Rule: rule, Says: fmt.Sprintf("line %d, column %d: %s", line, column, says), Remedy: remedy, Line: line,
	}
}

// parser walks the tokens of a document whose syntax is known to be right.
type parser struct {
	raw     []byte
	decoder *json.Decoder
	at      int // up to where lines have been counted
	line    int
	bad     Faults
}

// lexeme is a token with its line and its text.
type lexeme struct {
	token json.Token
	line  int
	text  []byte
}

func (p *parser) token() lexeme {
	start := int(p.decoder.InputOffset())
	token, err := p.decoder.Token()
	if err != nil {
		return lexeme{json.Delim(0), p.line, nil} // not reached: the syntax has been checked
	}
	end := int(p.decoder.InputOffset())
	text := bytes.TrimLeft(p.raw[start:end], " \t\r\n,:")
	p.line += bytes.Count(p.raw[p.at:end-len(text)], []byte{'\n'})
	p.at = end - len(text)
	return lexeme{token, p.line, text}
}

func (p *parser) value(first lexeme, path string, depth int) node {
	delim, isDelim := first.token.(json.Delim)
	if !isDelim {
		return node{kind: 's', line: first.line, literal: first.text}
	}
	n := node{kind: byte(delim), line: first.line}
	if depth == maxDepth {
		p.fault(path, first.line, "depth", fmt.Sprintf("values nest deeper than %d", maxDepth), "send a case: it nests six deep")
		return n
	}
	seen := map[string]int{}
	for len(p.bad) < maxFaults && (len(p.bad) == 0 || p.bad[len(p.bad)-1].Rule != "depth") {
		next := p.token()
		if next.token == json.Delim('}') || next.token == json.Delim(']') || next.token == json.Delim(0) {
			break
		}
		i := len(n.inner)
		if n.kind == '[' {
			n.inner = append(n.inner, node{})
			n.inner[i] = p.value(next, n.path(path, i), depth+1)
			continue
		}
		key, _ := next.token.(string)
		n.inner = append(n.inner, node{key: key})
		at := n.path(path, i)
		if line, twice := seen[key]; twice {
			p.fault(at, next.line, "unique-field", fmt.Sprintf("the field stands twice, first on line %d", line), "keep one of them")
		} else {
			seen[key] = next.line
		}
		n.inner[i] = p.value(p.token(), at, depth+1)
		n.inner[i].key, n.inner[i].line = key, next.line
	}
	return n
}

func (p *parser) fault(path string, line int, rule, says, remedy string) {
	p.bad = append(p.bad, Fault{Field: orDocument(path), Rule: rule, Says: fmt.Sprintf("line %d: %s", line, says), Remedy: remedy, Line: line})
}

func orDocument(path string) string {
	if path == "" {
		return document
	}
	return path
}

// wrap is what stands around one value when nothing else of the case is there.
type wrap struct{ before, after string }

func (w wrap) member(key string) wrap {
	quoted, err := json.Marshal(key)
	if err != nil {
		return w // not reached: a string always has a form
	}
	return wrap{w.before + "{" + string(quoted) + ":", "}" + w.after}
}

func (w wrap) element() wrap { return wrap{w.before + "[", "]" + w.after} }

// check asks the decoder about one value at a time, each alone in an otherwise empty case, so that every fault can be
// told with its field and its line. The decoder itself stops at the first, and does not say where it stands.
func (n *node) check(w wrap, path string, bad *Faults) {
	if len(*bad) >= maxFaults {
		return
	}
	alone := string(n.literal)
	switch n.kind {
	case '{':
		alone = "{}"
	case '[':
		alone = "[]"
	}
	if _, err := strictly([]byte(w.before + alone + w.after)); err != nil {
		*bad = append(*bad, n.fault(path, err))
		return
	}
	for i := range n.inner {
		inner, around, at := &n.inner[i], w.element(), n.path(path, i)
		if n.kind == '{' {
			around = w.member(inner.key)
			if _, err := strictly([]byte(around.before + "null" + around.after)); err != nil || !plainKey(inner.key) {
				*bad = append(*bad, Fault{orDocument(at), "known-field", "a case has no such field", "correct its name, or leave it out", inner.line})
				continue
			}
		}
		inner.check(around, at, bad)
	}
}

// plain says whether every key within a node is plain.
func (n *node) plain() bool {
	return !slices.ContainsFunc(n.inner, func(inner node) bool { return !plainKey(inner.key) || !inner.plain() })
}

// plainKey says whether a key is written as the fields of a case are. The decoder would take "Unit" for "unit".
func plainKey(key string) bool {
	return !strings.ContainsFunc(key, func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '_'
	})
}

// wants says what a field of a type wants, by the kind of its Go type.
var wants = map[string]string{
	"bool": "true or false", "int": "a whole number", "float64": "a number", "string": "text", "slice": "a list", "struct": "an object",
}

func (n *node) fault(path string, err error) Fault {
	f := Fault{Field: orDocument(path), Line: n.line}
	if mismatch := (*json.UnmarshalTypeError)(nil); errors.As(err, &mismatch) {
		want := wants[mismatch.Type.Kind().String()]
		f.Rule, f.Says = "type", fmt.Sprintf("%s was given where %s is wanted", mismatch.Value, want)
		f.Remedy = "give " + want
		return f
	}
	f.Rule, f.Says = "time", "this is no time with its offset"
	f.Remedy = "write it like 2026-06-01T14:00:00-05:00"
	return f
}
