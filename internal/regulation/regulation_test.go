package regulation_test

import (
	"testing"

	"tiedown/internal/regulation"
)

func TestTheBookCompiles(t *testing.T) {
	t.Parallel()
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d items, %d rules, digest %s", len(book.Items()), len(book.Rules()), book.Digest)
}
