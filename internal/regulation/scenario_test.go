package regulation_test

import (
	"os"
	"slices"
	"sync"
	"testing"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/regulation"
	"tiedown/internal/testrig/scenario"
)

// told is a story with the question that it asks.
type told struct {
	story    scenario.Story
	question casefile.Case
}

func (t *told) check(rules *airworthiness.Ruleset) error { return t.story.Check(t.question, rules) }

// allStories are the stories of testdata/scenarios. They are read once; the tests only look at them.
var allStories = sync.OnceValues(func() ([]*told, error) {
	read, err := scenario.Load(os.DirFS("../../testdata/scenarios"))
	if err != nil {
		return nil, err
	}
	var all []*told
	for _, s := range read {
		question, err := s.Case(demo.Aircraft)
		if err != nil {
			return nil, err
		}
		all = append(all, &told{s, question})
	}
	return all, nil
})

func stories(t *testing.T) []*told {
	t.Helper()
	all, err := allStories()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func current(t *testing.T) regulation.Book {
	t.Helper()
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	return book
}

// TestStories holds the book against every story. A story says what the regulation says, never what was printed.
func TestStories(t *testing.T) {
	t.Parallel()
	book := current(t)
	known := slices.Concat(airworthiness.StepNames(), ownDocumentRows)
	for _, rule := range book.Rules() {
		known = append(known, rule.ID)
	}
	for _, s := range stories(t) {
		if err := s.story.Names(func(row string) bool { return slices.Contains(known, row) || s.story.IsCompany(row) }); err != nil {
			t.Error(err)
		}
		if err := s.check(book.Ruleset); err != nil {
			t.Error(err)
		}
	}
}

// ownDocumentRows are the rows of findings that rest on an aircraft's own documents.
var ownDocumentRows = []string{"own:type-certification", "own:equipment-list", "own:directive", "own:mel", "own:item"}
