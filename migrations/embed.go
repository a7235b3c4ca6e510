// Package migrations is the database's schema, as steps up and down.
//
// It owns the tables, the constraints that keep the laws of the record, and row-level security. It does not own how the
// steps are run or how the tables are read and written: that is the store.
package migrations

import "embed"

// Files are the steps: NNNN_verb_noun.up.sql and its .down.sql, each of them one transaction.
//
//go:embed *.sql
var Files embed.FS
