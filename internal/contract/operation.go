package contract

import (
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/textproto"
	"net/url"
	"slices"
	"unicode/utf8"

	"github.com/getkin/kin-openapi/openapi3"

	"tiedown/internal/casefile"
)

// Operation is one operation of the contract.
type Operation struct {
	ID          string
	Method      string
	Path        string  // as the contract writes it, such as /v1/bases/{base}
	Open        bool    // needs neither token nor session
	OfSession   bool    // needs a session: a token does not do
	Body        *Schema // nil when it takes no JSON
	File        *File   // nil when it takes no file
	MaxBytes    int64   // of JSON, where the contract allows more than usual; zero: as usual
	Conditional bool    // must say, in If-Match, from which version it was made

	inPath, inQuery, inHeader []parameter
}

// File is a body that is not JSON: it is taken as it comes.
type File struct {
	Types    []string // of media, sorted; what the body really is, its content says
	MaxBytes int64
}

type parameter struct {
	name     string
	where    string // name in faults, such as query.limit
	required bool
	schema   *Schema
}

func (c *compiler) operation(doc *openapi3.T, item *openapi3.PathItem, from *openapi3.Operation) (*Operation, error) {
	o := &Operation{ID: from.OperationID}
	security := from.Security
	if security == nil {
		security = &doc.Security
	}
	o.Open = len(*security) == 0
	o.OfSession = len(*security) == 1 && (*security)[0]["session"] != nil
	for _, ref := range slices.Concat(item.Parameters, from.Parameters) {
		if err := c.parameter(o, ref.Value); err != nil {
			return nil, fmt.Errorf("parameter %s: %w", ref.Value.Name, err)
		}
	}
	if from.RequestBody == nil {
		return o, nil
	}
	body := from.RequestBody.Value
	if file, ok := fileOf(body); ok {
		o.File = file
		return o, nil
	}
	media := body.Content["application/json"]
	if media == nil || len(body.Content) != 1 || !body.Required {
		return nil, errors.New("a body must be required and JSON alone, or files of limited size alone")
	}
	if more, given := body.Extensions["x-max-bytes"]; given {
		bytes, ok := more.(float64)
		if o.MaxBytes = int64(bytes); !ok || o.MaxBytes < 1 {
			return nil, fmt.Errorf("x-max-bytes %v is no number of bytes", more)
		}
	}
	schema, err := c.schema(media.Schema.Value)
	o.Body = schema
	return o, err
}

// fileOf reads a body of which every type is a file of the same limited size.
func fileOf(body *openapi3.RequestBody) (*File, bool) {
	f := File{Types: slices.Sorted(maps.Keys(body.Content))}
	for _, media := range body.Content {
		schema := media.Schema.Value
		if schema.Format != "binary" || schema.MaxLength == nil || f.MaxBytes != 0 && f.MaxBytes != int64(*schema.MaxLength) {
			return nil, false
		}
		f.MaxBytes = int64(*schema.MaxLength)
	}
	return &f, body.Required && f.MaxBytes > 0
}

func (c *compiler) parameter(o *Operation, from *openapi3.Parameter) error {
	schema, err := c.schema(from.Schema.Value)
	if err != nil {
		return err
	}
	if schema.kind == object || schema.kind == array {
		return errors.New("only single values are understood")
	}
	p := parameter{from.Name, from.In + "." + from.Name, from.Required, schema}
	switch from.In {
	case openapi3.ParameterInPath:
		o.inPath = append(o.inPath, p)
	case openapi3.ParameterInQuery:
		o.inQuery = append(o.inQuery, p)
	case openapi3.ParameterInHeader:
		p.name = textproto.CanonicalMIMEHeaderKey(from.Name)
		o.inHeader = append(o.inHeader, p)
		o.Conditional = o.Conditional || p.name == "If-Match" && p.required
	default:
		return fmt.Errorf("parameters in %s are not understood", from.In)
	}
	return nil
}

// CheckParameters holds a request's parameters against the contract. inPath gives those of the path by name. A query
// parameter that the contract does not know is a fault: a filter that is misspelt would otherwise pick everything.
func (o *Operation) CheckParameters(r *http.Request, inPath func(name string) string) casefile.Faults {
	var d document
	for i := range o.inPath {
		p := &o.inPath[i]
		d.parameter(p, inPath(p.name))
	}
	for i := range o.inHeader {
		p := &o.inHeader[i]
		d.single(p, r.Header[p.name])
	}
	if len(o.inQuery) > 0 || r.URL.RawQuery != "" {
		o.checkQuery(&d, r.URL.RawQuery)
	}
	return d.faults
}

func (o *Operation) checkQuery(d *document, raw string) {
	query, err := url.ParseQuery(raw)
	if err != nil {
		d.faultAt("query", "form", "the query is not written as a query is", "write %XX for characters that are not allowed in it")
		return
	}
	for i := range o.inQuery {
		d.single(&o.inQuery[i], query[o.inQuery[i].name])
	}
	for _, name := range slices.Sorted(maps.Keys(query)) {
		if !slices.ContainsFunc(o.inQuery, func(p parameter) bool { return p.name == name }) {
			o.unknownParameter(d, name)
		}
	}
}

func (o *Operation) unknownParameter(d *document, name string) {
	known := Schema{}
	for _, p := range o.inQuery {
		known.fields = append(known.fields, field{name: p.name})
	}
	remedy := "leave it out"
	if like, ok := nearest(name, known.names()); ok {
		remedy = "write " + like + " if that is meant, or leave it out"
	}
	d.faultAt("query."+fieldName(name), "unknown-parameter", "there is no such parameter", remedy)
}

// single holds a parameter that may be given once against the contract.
func (d *document) single(p *parameter, values []string) {
	switch {
	case len(values) == 1:
		d.parameter(p, values[0])
	case len(values) > 1:
		d.faultAt(p.where, "once", "it is given more than once", "give it once")
	case p.required:
		d.faultAt(p.where, "required", "it is missing", "add it: "+p.schema.about)
	}
}

// parameter holds one value as it is written in a URL or a header.
func (d *document) parameter(p *parameter, value string) {
	before := len(d.faults)
	d.plain(p.schema, []byte(value))
	for i := before; i < len(d.faults); i++ {
		d.faults[i].Field = p.where
	}
}

// plain holds a value that is written without quotes against its schema.
func (d *document) plain(s *Schema, value []byte) {
	switch s.kind {
	case text:
		if !utf8.Valid(value) {
			d.fault("characters", "it is not UTF-8", "send it as UTF-8")
			return
		}
		d.checkText(s, value)
	case number, whole:
		v := document{raw: value}
		written, plain, ok := v.digits()
		if !ok || v.at != len(value) {
			d.fault("type", "it is no number", "give "+s.wants())
			return
		}
		d.checkNumber(s, written, plain)
	default:
		if string(value) != "true" && string(value) != "false" {
			d.fault("type", "it is neither true nor false", "give true or false")
		}
	}
}
