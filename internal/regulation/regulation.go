// Package regulation is the book: the tables of rules that the determination reads, one row a clause, each with its
// citation, how well it has been read, and the dates between which it is in force.
//
// It owns turning those tables into a Ruleset and refusing a bad one. It does not own the decision.
package regulation

import (
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"sync"

	"tiedown/internal/airworthiness"
	"tiedown/internal/upkeep"
)

//go:embed tables/*.csv
var embedded embed.FS

// TableNames lists the tables of the book.
func TableNames() []string { return append(decisionTables(), upkeepTables...) }

// decisionTables are the tables of the determination, and of what people do about it.
func decisionTables() []string {
	return []string{
		"items", "jasc", "conditions", "steps", "practice", "terms", "eligibility", "type_certification", "requirements", "reliefs", "procedure",
		"interactions", "intervals", "permits", "preventive_maintenance", "who", "tasks", "records",
	}
}

// Book is the compiled regulation with what identifies it.
type Book struct {
	*airworthiness.Ruleset
	Upkeep *upkeep.Rules // what comes due, and when
	Digest string        // of the tables' bytes: two determinations with one digest read the same book
}

// AllRules lists every row of the book: those of the determination, of people, and of what comes due.
func (b Book) AllRules() []airworthiness.Rule { return slices.Concat(b.Rules(), b.Upkeep.Book()) }

// Current is the embedded book. It is read once; that it compiles is held by a test.
var Current = sync.OnceValues(func() (Book, error) { return Load(Tables()) })

// Tables is the embedded tables as a file system, NAME.csv each.
func Tables() fs.FS {
	tables, err := fs.Sub(embedded, "tables")
	if err != nil {
		panic(err) // the path is a constant of this file
	}
	return tables
}

// Load reads and compiles the tables of a file system. Every fault of every table is reported at once, each naming
// its table and row.
func Load(tables fs.FS) (Book, error) {
	digest := sha256.New()
	read := map[string]table{}
	var faults []error
	for _, name := range TableNames() {
		raw, err := fs.ReadFile(tables, name+".csv")
		if err != nil {
			faults = append(faults, fmt.Errorf("table %s: %w", name, err))
			continue
		}
		fmt.Fprintf(digest, "%s %d\n", name, len(raw))
		digest.Write(raw)
		t, err := parse(name, raw)
		faults = append(faults, err)
		read[name] = t
	}
	if err := errors.Join(faults...); err != nil {
		return Book{}, err
	}
	all, err := rows(read)
	if err != nil {
		return Book{}, err
	}
	rules, err := airworthiness.Compile(all)
	if err != nil {
		return Book{}, err
	}
	due, err := readUpkeep(read)
	if err != nil {
		return Book{}, err
	}
	return Book{rules, due, hex.EncodeToString(digest.Sum(nil))}, nil
}
