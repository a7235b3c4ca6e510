package walkaround_test

import (
	"testing"

	"tiedown/internal/walkaround"
)

func TestAFindingIsProposedAsASquawk(t *testing.T) {
	t.Parallel()
	lamp := walkaround.Check{
		ID: "landing-light", Station: walkaround.LeftWing, Way: walkaround.Operate, Words: "Landing light on and off", Means: walkaround.Inoperative,
		Item: "landing-light", Unit: "landing-light-1",
	}
	low := walkaround.Result{Class: walkaround.Servicing, Shows: "4.5 qt, at least 5.5 qt", Said: walkaround.Answer{Note: " none in the locker!"}}
	dark := walkaround.Result{Class: walkaround.Inoperative, Said: walkaround.Answer{Note: "stays dark"}}
	for _, c := range []struct {
		what  string
		check walkaround.Check
		found walkaround.Result
		want  walkaround.Proposal
	}{
		{"measured", oil(), low, walkaround.Proposal{
			Class: walkaround.Servicing, Kind: "condition", Item: "engine-oil",
			Words: "Nose, Oil level on the dipstick. 4.5 qt, at least 5.5 qt. None in the locker!",
		}},
		{"of a unit", lamp, dark, walkaround.Proposal{
			Class: walkaround.Inoperative, Kind: "inoperative", Unit: "landing-light-1", Words: "Left wing, Landing light on and off. Stays dark.",
		}},
		{"in other letters", oil(), walkaround.Result{Class: walkaround.Condition, Said: walkaround.Answer{Note: "Öl riecht"}}, walkaround.Proposal{
			Class: walkaround.Condition, Kind: "condition", Item: "engine-oil", Words: "Nose, Oil level on the dipstick. Öl riecht.",
		}},
	} {
		if got := c.check.Propose(&c.found); got != c.want {
			t.Errorf("%s:\n got %+v\nwant %+v", c.what, got, c.want)
		}
	}
}
