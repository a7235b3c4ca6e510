// Package contract holds requests against the contract: the body as it is written, and the parameters in path, query
// and headers. Every fault is named at once, with the field, the rule that it breaks and what to do about it.
//
// It owns what a schema of the contract means for written JSON. It is stricter than JSON Schema where leniency would
// lose or change a fact: a field named twice, a text with control characters, a whole number with a fraction of zero, a
// time outside the years 1900 to 2199. It does not own the contract itself, checks that need more than one field or a
// record, nor the answer to a bad request.
package contract

import (
	"encoding/json"
	"fmt"
	"maps"
	"strings"
	"sync"

	"github.com/getkin/kin-openapi/openapi3"

	"tiedown/api"
	"tiedown/internal/casefile"
)

// Contract is the document, ready to hold requests against.
type Contract struct {
	schemas    map[string]*Schema
	operations []*Operation
	json       []byte
}

// Current is the embedded contract. It is read once; that it can be is held by a test.
var Current = sync.OnceValues(func() (*Contract, error) { return Load(api.Document) })

// Load reads a contract. It refuses a document that uses a keyword which requests would not be held against.
func Load(document []byte) (*Contract, error) {
	doc, err := openapi3.NewLoader().LoadFromData(document)
	if err != nil {
		return nil, fmt.Errorf("read the contract: %w", err)
	}
	c := &Contract{schemas: map[string]*Schema{}}
	if c.json, err = forReaders(doc); err != nil {
		return nil, fmt.Errorf("write the contract as JSON: %w", err)
	}
	reader := compiler{known: map[*openapi3.Schema]*Schema{}}
	for name, ref := range doc.Components.Schemas {
		if c.schemas[name], err = reader.schema(ref.Value); err != nil {
			return nil, fmt.Errorf("schema %s: %w", name, err)
		}
	}
	for path, item := range doc.Paths.Map() {
		for method, o := range item.Operations() {
			operation, err := reader.operation(doc, item, o)
			if err != nil {
				return nil, fmt.Errorf("%s %s: %w", method, path, err)
			}
			operation.Method, operation.Path = method, path
			c.operations = append(c.operations, operation)
		}
	}
	return c, nil
}

// forReaders writes the document without what is meant for our own generator.
func forReaders(doc *openapi3.T) ([]byte, error) {
	raw, err := doc.MarshalJSON()
	if err != nil {
		return nil, err
	}
	var all any
	if err := json.Unmarshal(raw, &all); err != nil {
		return nil, err
	}
	dropHints(all)
	return json.Marshal(all)
}

func dropHints(v any) {
	switch v := v.(type) {
	case map[string]any:
		maps.DeleteFunc(v, func(key string, _ any) bool { return strings.HasPrefix(key, "x-go-") })
		for _, part := range v {
			dropHints(part)
		}
	case []any:
		for _, part := range v {
			dropHints(part)
		}
	}
}

// JSON is the contract as a JSON document.
func (c *Contract) JSON() []byte { return c.json }

// Schema returns the named schema, or false.
func (c *Contract) Schema(name string) (*Schema, bool) {
	s, ok := c.schemas[name]
	return s, ok
}

// Operation returns the operation of a method and a path as the contract writes it, such as /v1/bases/{base}, or false.
func (c *Contract) Operation(method, path string) (*Operation, bool) {
	for _, o := range c.operations {
		if o.Method == method && o.Path == path {
			return o, true
		}
	}
	return nil, false
}

// Check holds JSON against a schema of the current contract. It panics if there is no schema of that name: names are
// constants of the program.
func Check(schema string, raw []byte) casefile.Faults {
	c, err := Current()
	if err != nil {
		panic(err)
	}
	s, ok := c.Schema(schema)
	if !ok {
		panic("contract: there is no schema " + schema)
	}
	return s.Check(raw)
}

// Rules that a body breaks when it cannot be read at all. Such a fault stands alone.
const (
	ruleSyntax      = "syntax"
	ruleUTF8        = "utf-8"
	ruleOneValue    = "one-value"
	ruleUniqueField = "unique-field"
	ruleDepth       = "depth"
)

// Unreadable reports whether the faults are one of a body that cannot be read as JSON, rather than of what it says.
func Unreadable(f casefile.Faults) bool {
	if len(f) != 1 {
		return false
	}
	switch f[0].Rule {
	case ruleSyntax, ruleUTF8, ruleOneValue, ruleUniqueField, ruleDepth:
		return true
	}
	return false
}

// about is the first sentence of a description, as a part of another sentence.
func about(description string) string {
	first, _, _ := strings.Cut(strings.TrimSpace(description), ". ")
	return strings.TrimSuffix(strings.Join(strings.Fields(first), " "), ".")
}
