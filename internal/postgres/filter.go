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

// among adds the condition that a column has one of some values.
func (f *filter) among(column string, values any) {
	f.sql.WriteString(` AND ` + column + ` = ANY (`)
	f.value(values)
	f.sql.WriteString(`)`)
}

// close closes what a condition has opened.
func (f *filter) close() { f.sql.WriteString(`)`) }

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

// whole makes the query for whatever meets the conditions, in an order.
func (f *filter) whole(order string) query {
	f.sql.WriteString(` ORDER BY ` + order)
	return f.all()
}

func (f *filter) value(value any) {
	f.args = append(f.args, value)
	f.sql.WriteString(`$` + strconv.Itoa(len(f.args)))
}
