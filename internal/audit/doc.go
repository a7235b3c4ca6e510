// Package audit is the log that makes a changed record show: what is entered for a record, the tree over the entries,
// what the installation signs of it, and the receipt that anybody can check.
//
// A record is written down as text, column by column, and the text's SHA-256 digest goes into an entry. The entries of an
// organization are the leaves of a Merkle tree (RFC 6962). The installation signs the tree's size and root now and then:
// a checkpoint. A receipt holds a record, its entry, the way from the entry to the root, and a checkpoint of that root.
//
// It owns these forms, their strict reading, the arithmetic of the tree and the comparison of records with entries. It
// does not own where records and entries are kept, who may see them, or the key's file.
package audit

import "golang.org/x/mod/sumdb/tlog"

// Hash is a SHA-256 hash of the tree.
type Hash = tlog.Hash
