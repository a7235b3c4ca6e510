package casefile

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Airport is a line of a list of airports.
type Airport struct {
	Ident string
	Name  string
	Lat   float64 // degrees, north positive
	Lon   float64 // degrees, east positive
}

// airportColumns are the columns that are read, in any order; any others are passed over.
var airportColumns = []string{"ident", "name", "latitude_deg", "longitude_deg"}

const (
	maxAirports      = 100_000 // of one list
	maxAirportName   = 200     // bytes
	maxAirportFaults = 1000    // that are told one by one
)

// airportIdent is what identifies an airport: letters, digits, and the signs that lists part them with.
var airportIdent = regexp.MustCompile(`^[0-9A-Za-z][0-9A-Za-z._-]{0,15}$`)

// IsAirportIdent reports whether a word can identify an airport.
func IsAirportIdent(ident string) bool { return airportIdent.MatchString(ident) }

// ReadAirports reads a list of airports from CSV (RFC 4180) with a header, in UTF-8. Columns go by their names. It is strict: an
// airport stands once, has a name and coordinates, and nothing has stray spaces. The error is of type Faults: every fault at once,
// each with its line, up to a thousand.
func ReadAirports(raw []byte) ([]Airport, error) {
	if !utf8.Valid(raw) {
		return nil, Faults{faultAt(raw, brokenUTF8(raw), "utf-8", "the text is not UTF-8", "save the list as UTF-8")}
	}
	r := airportReader{csv: csv.NewReader(bytes.NewReader(bytes.TrimPrefix(raw, []byte("\ufeff")))), lines: map[string]int{}}
	r.csv.ReuseRecord = true
	if r.header() {
		r.rows()
	}
	if n := len(r.bad) - maxAirportFaults; n > 0 {
		r.bad = append(r.bad[:maxAirportFaults], Fault{
			Field: document, Rule: "more", Says: fmt.Sprintf("%d more faults are not told", n), Remedy: "correct these, and send the list again",
		})
	}
	if err := r.bad.Err(); err != nil {
		return nil, err
	}
	return r.airports, nil
}

// airportReader reads row after row, noting every fault.
type airportReader struct {
	csv      *csv.Reader
	at       [4]int // where each column stands
	lines    map[string]int
	airports []Airport
	bad      Faults
}

func (r *airportReader) header() bool {
	header, err := r.csv.Read()
	for i, name := range airportColumns {
		r.at[i] = slices.Index(header, name)
		if err != nil || r.at[i] < 0 || slices.Contains(header[r.at[i]+1:], name) {
			r.fault(1, document, "header", fmt.Sprintf("the column %s is missing, or there twice", name), "begin with a header that has "+strings.Join(airportColumns, ", ")+" once each")
		}
	}
	return r.bad == nil
}

func (r *airportReader) rows() {
	for n := 0; ; n++ {
		record, err := r.csv.Read()
		switch {
		case errors.Is(err, io.EOF):
			if n == 0 {
				r.fault(1, document, "required", "there is no airport", "give a line for each")
			}
			return
		case errors.Is(err, csv.ErrFieldCount):
			line, _ := r.csv.FieldPos(0)
			r.fault(line, document, "columns", "the line has other columns than the header", "give it as many fields")
			continue
		case err != nil:
			r.broken(err)
			return
		case n >= maxAirports:
			line, _ := r.csv.FieldPos(0)
			r.fault(line, document, "length", fmt.Sprintf("more than %d airports", maxAirports), "send a shorter list")
			return
		}
		r.row(record)
	}
}

// broken tells where the text is no CSV: nothing after it can be read.
func (r *airportReader) broken(err error) {
	line := 0
	var at *csv.ParseError
	if errors.As(err, &at) {
		line = at.Line
	}
	r.fault(line, document, "csv", "from here on the text is no CSV: "+err.Error(), "put fields with commas, quotes or line ends in quotes, and double the quotes in them")
}

func (r *airportReader) row(record []string) {
	before := len(r.bad)
	a := Airport{
		Ident: strings.Clone(r.text(record, 0)), Name: strings.Clone(r.text(record, 1)), Lat: r.degrees(record, 2, 90), Lon: r.degrees(record, 3, 180),
	}
	line := r.line(0)
	if !IsAirportIdent(a.Ident) {
		r.fault(line, "ident", "form", fmt.Sprintf("%q identifies no airport", a.Ident), "use 1 to 16 letters, digits, dots, hyphens and underscores")
	}
	if first, twice := r.lines[a.Ident]; twice {
		r.fault(line, "ident", "unique", fmt.Sprintf("%q stands on line %d already", a.Ident, first), "give each airport one line")
	} else {
		r.lines[a.Ident] = line
	}
	if a.Name == "" || len(a.Name) > maxAirportName || strings.ContainsFunc(a.Name, unicode.IsControl) {
		r.fault(r.line(1), "name", "name", "the name is missing, longer than 200 bytes, or has control characters", "give a name of one line")
	}
	if len(r.bad) == before {
		r.airports = append(r.airports, a)
	}
}

func (r *airportReader) line(column int) int {
	line, _ := r.csv.FieldPos(r.at[column])
	return line
}

func (r *airportReader) text(record []string, column int) string {
	value := record[r.at[column]]
	if strings.TrimSpace(value) != value {
		r.fault(r.line(column), airportColumns[column], "stray-space", "a space before or after the text", "take it out")
	}
	return value
}

// degrees reads a number as people write it, within bounds.
func (r *airportReader) degrees(record []string, column int, most float64) float64 {
	text := record[r.at[column]]
	value, err := strconv.ParseFloat(text, 64)
	if err != nil || strings.Trim(text, "+-.0123456789eE") != "" || !(value >= -most && value <= most) {
		r.fault(r.line(column), airportColumns[column], "range", fmt.Sprintf("%q is no number from %v to %v", text, -most, most), "give degrees, north and east positive")
	}
	return value
}

func (r *airportReader) fault(line int, field, rule, says, remedy string) {
	r.bad = append(r.bad, Fault{Field: field, Rule: rule, Says: says, Remedy: remedy, Line: line})
}
