package audit

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Document writes a JSON document. Names are in the order of their bytes, of a name that stands twice the last value
// counts, and a number is its decimal digits and exponent: 100, 1e2 and 100.0 are one number. It fails on what is no
// JSON.
func Document(raw []byte) (string, error) {
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	var v any
	if err := d.Decode(&v); err != nil {
		return "", fmt.Errorf("a document cannot be read: %w", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return "", errors.New("a document goes on after its end")
	}
	var b strings.Builder
	if err := writeDocument(&b, v); err != nil {
		return "", err
	}
	return b.String(), nil
}

func writeDocument(b *strings.Builder, v any) error {
	switch v := v.(type) {
	case nil:
		b.WriteString(Null)
	case bool:
		b.WriteString(Truth(v))
	case string:
		b.WriteString(Text(v))
	case json.Number:
		n, err := decimal(string(v))
		if err != nil {
			return err
		}
		b.WriteString(n)
	case []any:
		b.WriteByte('[')
		for i, item := range v {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := writeDocument(b, item); err != nil {
				return err
			}
		}
		b.WriteByte(']')
	case map[string]any:
		b.WriteByte('{')
		for i, name := range slices.Sorted(maps.Keys(v)) {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(Text(name) + ":")
			if err := writeDocument(b, v[name]); err != nil {
				return err
			}
		}
		b.WriteByte('}')
	}
	return nil
}

// decimal writes a number of JSON without a point: -1.50e3 is -15e2. Zero is 0. Nothing is computed in binary, and no
// exponent makes it long.
func decimal(s string) (string, error) {
	digits, negative := strings.CutPrefix(s, "-")
	mantissa, exponent := digits, 0
	if i := strings.IndexAny(digits, "eE"); i >= 0 {
		var err error
		if exponent, err = strconv.Atoi(digits[i+1:]); err != nil {
			return "", fmt.Errorf("the number %.40s has an exponent out of range", s)
		}
		mantissa = digits[:i]
	}
	whole, fraction, _ := strings.Cut(mantissa, ".")
	exponent -= len(fraction)
	digits = strings.TrimLeft(whole+fraction, "0")
	trimmed := strings.TrimRight(digits, "0")
	exponent += len(digits) - len(trimmed)
	switch {
	case trimmed == "":
		return "0", nil
	case negative:
		trimmed = "-" + trimmed
	}
	if exponent == 0 {
		return trimmed, nil
	}
	return trimmed + "e" + strconv.Itoa(exponent), nil
}
