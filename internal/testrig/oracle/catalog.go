package oracle

import (
	"encoding/csv"
	"io"
	"slices"
	"strings"
)

// Catalog says of each item of the catalog what it is and whose job it does besides its own.
type Catalog map[string]entry

type entry struct {
	nature   string // equipment, condition or furnishing
	servesAs []string
}

// ReadCatalog reads the catalog of items, a CSV file with the columns item, nature and serves_as.
func ReadCatalog(r io.Reader) (Catalog, error) {
	rows, err := csv.NewReader(r).ReadAll()
	if err != nil {
		return nil, err
	}
	column := func(name string) int { return slices.Index(rows[0], name) }
	item, nature, servesAs := column("item"), column("nature"), column("serves_as")
	c := make(Catalog, len(rows))
	for _, row := range rows[1:] {
		c[row[item]] = entry{nature: row[nature], servesAs: strings.Fields(row[servesAs])}
	}
	return c, nil
}

// jobs lists the items whose job a unit does: its own, those that the catalog says, and those that its record adds.
func (c Catalog) jobs(item string, also []string) []string {
	todo := append([]string{item}, also...)
	var done []string
	for len(todo) > 0 {
		next := todo[0]
		todo = todo[1:]
		if !slices.Contains(done, next) {
			done = append(done, next)
			todo = append(todo, c[next].servesAs...)
		}
	}
	return done
}
