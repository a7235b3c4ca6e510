package postgres

import (
	"encoding/json"
	"fmt"
	"strings"

	"tiedown/internal/audit"
	"tiedown/internal/techlog"
)

// ledger is a table of records that the log vouches for: whenever the program writes one, it enters a digest of the row
// in the same transaction. What the columns name is covered by the digest, and nothing else of the table.
type ledger struct {
	table   string
	columns []column // the first is the organization

	once bool // a change may bring along a record that is there already, and never changes
}

// column is a column that a digest covers.
type column struct {
	name string
	kind kind
	sql  string // how it is read; empty: by its name
	part part
	// before is the written value that rows have from before the column was added: such a value is not written down, so
	// that their digests stay. Empty: the column was always there.
	before string
}

// part is what a column is for, beside being covered.
type part int

const (
	plain   part = iota
	key          // names the record within its organization, alone or with others
	version      // counts the record's versions, from 1
)

// kind is how a column's values are written down.
type kind struct {
	sql   string // type in the database, or in place of a domain the type that it is of
	write func(any) (string, error)
}

// The kinds of column. Each takes what the program hands to the driver, and what it gets back.
var (
	uuids = kind{"uuid", orAbsent(writeID)}
	texts = kind{"text", func(v any) (string, error) {
		if s, ok := v.(string); ok {
			return audit.Text(s), nil
		}
		return unwritten(v)
	}}
	integers = kind{"integer", func(v any) (string, error) {
		switch v := v.(type) {
		case int:
			return audit.Integer(int64(v)), nil
		case int32:
			return audit.Integer(int64(v)), nil
		case int64:
			return audit.Integer(v), nil
		}
		return unwritten(v)
	}}
	numbers = kind{"double precision", func(v any) (string, error) {
		if f, ok := v.(float64); ok {
			return audit.Number(f), nil
		}
		return unwritten(v)
	}}
	truths   = kind{"boolean", orAbsent(audit.Truth)}
	instants = kind{"timestamp with time zone", orAbsent(audit.Instant)}
	dates    = kind{"date", orAbsent(audit.Date)}
	digests  = kind{"bytea", func(v any) (string, error) {
		if b, ok := v.([]byte); ok && b != nil {
			return audit.Bytes(b), nil
		}
		return unwritten(v)
	}}
	lists = kind{"text[]", func(v any) (string, error) {
		var written []string
		switch v := v.(type) {
		case []string:
			for _, s := range v {
				written = append(written, audit.Text(s))
			}
		case *[]string:
			return orNull(v, func(v []string) string {
				for _, s := range v {
					written = append(written, audit.Text(s))
				}
				return audit.List(written)
			}), nil
		case []any:
			for _, item := range v {
				one, err := texts.write(item)
				if err != nil {
					return "", err
				}
				written = append(written, one)
			}
		default:
			return unwritten(v)
		}
		return audit.List(written), nil
	}}
	// words are lists out of a closed set.
	words     = kind{"role[]", lists.write}
	uuidLists = kind{"uuid[]", func(v any) (string, error) {
		var written []string
		switch v := v.(type) {
		case [][16]byte:
			for _, id := range v {
				written = append(written, writeID(id))
			}
		case []any:
			for _, item := range v {
				one, err := uuids.write(item)
				if err != nil {
					return "", err
				}
				written = append(written, one)
			}
		default:
			return unwritten(v)
		}
		return audit.List(written), nil
	}}
	documents = kind{"jsonb", func(v any) (string, error) {
		if raw, ok := v.(string); ok { // as it comes from the database
			return audit.Document([]byte(raw))
		}
		raw, err := json.Marshal(v)
		if err != nil {
			return "", err
		}
		return audit.Document(raw)
	}}
)

func writeID(id [16]byte) string { return audit.Text(techlog.ID(id).String()) }

// orAbsent writes a value that the program has as such, or as a pointer that may be nil.
func orAbsent[T any](write func(T) string) func(any) (string, error) {
	return func(v any) (string, error) {
		switch v := v.(type) {
		case *T:
			return orNull(v, write), nil
		case T:
			return write(v), nil
		}
		return unwritten(v)
	}
}

func orNull[T any](v *T, write func(T) string) string {
	if v == nil {
		return audit.Null
	}
	return write(*v)
}

// unwritten writes null, and refuses what no column of the kind holds.
func unwritten(v any) (string, error) {
	if v == nil {
		return audit.Null, nil
	}
	return "", fmt.Errorf("a value of %T is none of its column", v)
}

// covers gives a column that is covered and no more.
func covers(name string, k kind) column { return column{name: name, kind: k} }

// named gives a column that names the record.
func named(name string, k kind) column { return column{name: name, kind: k, part: key} }

// counted is the column that counts a record's versions.
func counted() column { return column{name: "version", kind: integers, part: version} }

// later gives a column that was added to a table whose rows had been entered before: before is what they have in it, as
// it is written down.
func later(c column, before string) column {
	c.before = before
	return c
}

// ledgerOf makes the ledger of a table whose rows lead with the organization.
func ledgerOf(table string, columns ...column) ledger {
	return ledger{table: table, columns: append([]column{covers("organization", uuids)}, columns...)}
}

// changes reports whether records have versions.
func (l ledger) changes() bool {
	for _, c := range l.columns {
		if c.part == version {
			return true
		}
	}
	return false
}

// record writes a row down, from the values of the ledger's columns, and tells its key and its version.
func (l ledger) record(values []any) (r audit.Record, named string, counted int, err error) {
	r = audit.Record{Table: l.table, Columns: make([]audit.Column, 0, len(l.columns))}
	var keys []string
	for i, c := range l.columns {
		written, err := c.kind.write(values[i])
		if err != nil {
			return r, "", 0, fmt.Errorf("%s.%s: %w", l.table, c.name, err)
		}
		if c.before == "" || c.before != written {
			r.Columns = append(r.Columns, audit.Column{Name: c.name, Value: written})
		}
		switch c.part {
		case plain:
		case key:
			keys = append(keys, strings.Trim(written, `"`))
		case version:
			if _, err := fmt.Sscan(written, &counted); err != nil {
				return r, "", 0, fmt.Errorf("%s.%s: %w", l.table, c.name, err)
			}
		}
	}
	return r, strings.Join(keys, keySeparator), counted, nil
}

const keySeparator = "/"

// selectRows reads the key of every row of an organization, and what the digest covers, in the order of the keys.
func (l ledger) selectRows() string {
	columns := make([]string, len(l.columns))
	var keys []string
	for i, c := range l.columns {
		columns[i] = c.read()
		if c.part == key {
			keys = append(keys, c.source()+"::text")
		}
	}
	named := "(" + strings.Join(keys, " || '"+keySeparator+"' || ") + `) COLLATE "C"`
	return "SELECT " + named + ", " + strings.Join(columns, ", ") + " FROM " + l.table +
		" WHERE " + l.columns[0].source() + " = $1 ORDER BY 1"
}

// selectRow reads one of them, by its key.
func (l ledger) selectRow() string {
	columns := make([]string, len(l.columns))
	where := []string{l.columns[0].source() + " = $1"}
	for i, c := range l.columns {
		columns[i] = c.read()
		if c.part == key {
			where = append(where, fmt.Sprintf("%s = $%d", c.source(), len(where)+1))
		}
	}
	return "SELECT " + strings.Join(columns, ", ") + " FROM " + l.table + " WHERE " + strings.Join(where, " AND ")
}

func (c column) source() string {
	if c.sql != "" {
		return c.sql
	}
	return c.name
}

// read is how a column is read: a document as its text, whose numbers are as exact as the database has them.
func (c column) read() string {
	switch c.kind.sql {
	case documents.sql:
		return c.source() + "::text"
	case words.sql:
		return c.source() + "::text[]"
	}
	return c.source()
}
