package postgres

import (
	"strconv"
	"strings"
)

// filter builds a list's query out of constant clauses. Values only ever go as arguments.
type filter struct {
	sql  strings.Builder
	args []any
}

// filtered begins with a query that ends in a condition.
func filtered(sql string, args ...any) *filter {
	f := &filter{args: args}
	f.sql.WriteString(sql)
	return f
}

// and adds a condition on one value.
func (f *filter) and(condition string, value any) {
	f.sql.WriteString(` AND ` + condition)
	f.value(value)
}

// when adds a condition without a value, so that an index over just such rows serves.
func (f *filter) when(condition string) { f.sql.WriteString(` AND ` + condition) }

// first makes the query for the first records in an order.
func (f *filter) first(limit int, order string) query {
	f.sql.WriteString(` ORDER BY ` + order + ` LIMIT `)
	f.value(limit)
	return ask(f.sql.String(), f.args...)
}

// all makes the query for whatever meets the conditions.
func (f *filter) all() query { return ask(f.sql.String(), f.args...) }

func (f *filter) value(value any) {
	f.args = append(f.args, value)
	f.sql.WriteString(`$` + strconv.Itoa(len(f.args)))
}
