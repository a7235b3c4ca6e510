package contract

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"regexp"
	"slices"
	"sort"

	"github.com/getkin/kin-openapi/openapi3"
)

// Schema is one schema of the contract, compiled.
type Schema struct {
	kind  kind
	about string // what is asked, in words

	// object
	fields    []field // sorted by name
	index     map[string]int
	required  []int // places in fields, in the order of the contract
	open      bool  // other fields may stand in it
	minFields int

	// array
	items              *Schema
	minItems, maxItems int

	// text
	minLength, maxLength int // in characters
	pattern              *regexp.Regexp
	enum                 []string
	format               format

	// number and whole
	min, max float64
}

type field struct {
	name   string
	schema *Schema
}

// kind is what a value must be.
type kind uint8

const (
	anything kind = iota
	object
	array
	text
	number
	whole
	truth
)

var kindWords = [...]string{
	anything: "a value", object: "an object", array: "a list", text: "a text", number: "a number", whole: "a whole number",
	truth: "true or false",
}

func (k kind) String() string { return kindWords[k] }

// format is what a text must be.
type format uint8

const (
	formless format = iota
	uuid
	date
	instant
)

var formats = map[string]format{"": formless, "uuid": uuid, "date": date, "date-time": instant}

// maxFields bounds the fields of an object, so that those which have been seen fit a word.
const maxFields = 64

// compiler turns schemas of the document into ours.
type compiler struct {
	known map[*openapi3.Schema]*Schema
}

// understood are the keywords that the compiler reads, or that ask nothing of a request.
var understood = []string{
	"Extensions", "Origin", "Type", "Title", "Format", "Description", "Enum", "Default", "Example", "ExternalDocs",
	"Min", "Max", "MinLength", "MaxLength", "Pattern", "MinItems", "MaxItems", "Items", "Required", "Properties", "MinProps",
	"AdditionalProperties",
}

func (c *compiler) schema(from *openapi3.Schema) (*Schema, error) {
	if s, ok := c.known[from]; ok {
		return s, nil
	}
	if err := refuseUnknown(from); err != nil {
		return nil, err
	}
	s := &Schema{about: about(from.Description)}
	c.known[from] = s // before its parts, so that a schema may contain itself
	switch {
	case from.Type == nil:
		return nil, errors.New("it has no type")
	case from.Type.Is("object"):
		return s, c.object(s, from)
	case from.Type.Is("array"):
		return s, c.array(s, from)
	case from.Type.Is("string"):
		return s, s.text(from)
	case from.Type.Is("number"):
		s.kind = number
		s.limits(from)
		return s, nil
	case from.Type.Is("integer"):
		s.kind = whole
		s.limits(from)
		return s, nil
	case from.Type.Is("boolean"):
		s.kind = truth
		return s, nil
	default:
		return nil, fmt.Errorf("type %v is not understood", from.Type)
	}
}

// refuseUnknown finds keywords that requests would not be held against.
func refuseUnknown(s *openapi3.Schema) error {
	v := reflect.ValueOf(s).Elem()
	for i := range v.NumField() {
		name := v.Type().Field(i).Name
		if !v.Field(i).IsZero() && !slices.Contains(understood, name) {
			return fmt.Errorf("the keyword %s is not understood", name)
		}
	}
	return nil
}

func (c *compiler) object(s *Schema, from *openapi3.Schema) error {
	s.kind = object
	s.open = from.AdditionalProperties.Has == nil || *from.AdditionalProperties.Has
	if from.AdditionalProperties.Schema != nil {
		return errors.New("additionalProperties as a schema is not understood")
	}
	if len(from.Properties) > maxFields {
		return fmt.Errorf("more than %d properties", maxFields)
	}
	for name, ref := range from.Properties {
		part, err := c.schema(ref.Value)
		if err != nil {
			return fmt.Errorf("property %s: %w", name, err)
		}
		s.fields = append(s.fields, field{name, part})
	}
	sort.Slice(s.fields, func(i, j int) bool { return s.fields[i].name < s.fields[j].name })
	s.index = make(map[string]int, len(s.fields))
	for i, f := range s.fields {
		s.index[f.name] = i
	}
	for _, name := range from.Required {
		i, ok := s.index[name]
		if !ok {
			return fmt.Errorf("the required property %s is not described", name)
		}
		s.required = append(s.required, i)
	}
	s.minFields = int(from.MinProps)
	return nil
}

func (c *compiler) array(s *Schema, from *openapi3.Schema) error {
	s.kind = array
	if from.Items == nil {
		return errors.New("a list without items")
	}
	items, err := c.schema(from.Items.Value)
	if err != nil {
		return fmt.Errorf("items: %w", err)
	}
	s.items, s.minItems, s.maxItems = items, int(from.MinItems), upTo(from.MaxItems)
	return nil
}

func (s *Schema) text(from *openapi3.Schema) error {
	s.kind = text
	form, ok := formats[from.Format]
	if !ok {
		return fmt.Errorf("format %s is not understood", from.Format)
	}
	s.format, s.minLength, s.maxLength = form, int(from.MinLength), upTo(from.MaxLength)
	for _, word := range from.Enum {
		w, ok := word.(string)
		if !ok {
			return fmt.Errorf("the value %v is no text", word)
		}
		s.enum = append(s.enum, w)
	}
	if from.Pattern == "" {
		return nil
	}
	pattern, err := regexp.Compile(from.Pattern)
	s.pattern = pattern
	return err
}

func (s *Schema) limits(from *openapi3.Schema) {
	s.min, s.max = math.Inf(-1), math.Inf(1)
	if from.Min != nil {
		s.min = *from.Min
	}
	if from.Max != nil {
		s.max = *from.Max
	}
}

func upTo(n *uint64) int {
	if n == nil {
		return math.MaxInt
	}
	return int(*n)
}
