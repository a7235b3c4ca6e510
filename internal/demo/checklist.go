package demo

import (
	"bytes"
	_ "embed"

	"tiedown/internal/walkaround"
)

// trainerChecklist is the walkaround of the club's trainer. Its limits are those of an invented aircraft. Common
// practice, without a published source that was read: at least 5.5 quarts of oil on a four-cylinder engine, and 100LL is
// blue. A strut that shows about four inches is common, too; hence the limits on either side of it.
//
//go:embed checklists/trainer.csv
var trainerChecklist []byte

// Checklist returns the walkaround of the club's trainer. known is the catalog of equipment.
func Checklist(known walkaround.Catalog) (walkaround.Checklist, error) {
	return walkaround.ReadCSV(bytes.NewReader(trainerChecklist), known)
}
