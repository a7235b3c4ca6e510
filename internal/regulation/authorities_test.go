package regulation_test

import (
	"io/fs"
	"os"
	"path"
	"testing"
	"testing/fstest"

	"tiedown/internal/demo"
	"tiedown/internal/regulation"
	"tiedown/internal/testrig/scenario"
)

// ownTables are the tables that every authority has of its own. The catalog of items and the words of the conditions are
// the engine's, whoever asks.
var ownTables = []string{
	"practice", "terms", "eligibility", "type_certification", "requirements", "reliefs", "procedure",
	"permits", "tasks",
}

// TestOtherAuthoritiesFitTheSeam judges by books that other authorities might have written. They are samples: enough rows
// to show that what differs is data, from what has been read of those authorities, and no more.
func TestOtherAuthoritiesFitTheSeam(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"kind-as-flown", "two-gates"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			folder := os.DirFS(path.Join("testdata/books", name))
			book, err := regulation.Load(withOwnTables(t, folder))
			if err != nil {
				t.Fatal(err)
			}
			told, err := scenario.Load(folder)
			if err != nil {
				t.Fatal(err)
			}
			if len(told) == 0 {
				t.Fatal("no story")
			}
			for i := range told {
				question, err := told[i].Case(demo.Aircraft)
				if err != nil {
					t.Fatal(err)
				}
				if err := told[i].Check(question, book.Ruleset); err != nil {
					t.Error(err)
				}
			}
		})
	}
}

// withOwnTables is the embedded book with an authority's own tables in place of those.
func withOwnTables(t *testing.T, folder fs.FS) fstest.MapFS {
	t.Helper()
	tables := readTables(t)
	for _, name := range ownTables {
		raw, err := fs.ReadFile(folder, name+".csv")
		if err != nil {
			t.Fatal(err)
		}
		tables[name+".csv"] = &fstest.MapFile{Data: raw}
	}
	return tables
}
