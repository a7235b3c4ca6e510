package demo_test

import (
	"bytes"
	"testing"

	"tiedown/internal/demo"
	"tiedown/internal/regulation"
	"tiedown/internal/walkaround"
)

// TestTheTrainersWalkaround holds that the club's checklist is whole: ninety checks, each of which fits its trainer.
func TestTheTrainersWalkaround(t *testing.T) {
	t.Parallel()
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	list, err := demo.Checklist(func(item string) bool { _, ok := book.Item(item); return ok })
	if err != nil {
		t.Fatal(err)
	}
	if n := len(list.Checks); n != 90 {
		t.Errorf("%d checks", n)
	}
	trainer := club(t)["trainer"]
	composed, dropped := walkaround.Compose(list, walkaround.Changes{}, walkaround.Airframe{Installed: walkaround.InstalledIn(trainer.Configuration)})
	if len(composed.Checks) != len(list.Checks) {
		t.Errorf("the trainer lacks %v", dropped)
	}
	ways := map[walkaround.Way]bool{}
	for i, c := range composed.Checks {
		ways[c.Way] = true
		if c.Unit != list.Checks[i].Unit {
			t.Errorf("%s is about the unit %s, which the trainer does not have", c.ID, list.Checks[i].Unit)
		}
	}
	if len(ways) != len(walkaround.Ways()) {
		t.Errorf("only these ways are used: %v", ways)
	}
	var written bytes.Buffer
	if err := walkaround.WriteCSV(&written, &list); err != nil {
		t.Fatal(err)
	}
	if again, err := walkaround.ReadCSV(&written, func(string) bool { return true }); err != nil || len(again.Checks) != len(list.Checks) {
		t.Errorf("written again it reads as %d checks, %v", len(again.Checks), err)
	}
}
