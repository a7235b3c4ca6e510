package hangar_test

import (
	"slices"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestOtherEquipmentAsksForItsWeightAndBalance holds that a flight is held when a unit is taken out, until the weight and
// balance data are of the equipment as it is then, and that the hold names the row.
func TestOtherEquipmentAsksForItsWeightAndBalance(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	id := c.plan(24, nil).Flight.ID
	c.holds(id, "clear")
	a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	a.Configuration.Units = slices.DeleteFunc(a.Configuration.Units, func(u casefile.Unit) bool { return u.ID == "taxi-light" })
	var changed techlog.Aircraft
	c.must(c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{
		Aircraft: c.aircraft, Version: 1, Configuration: &a.Configuration,
	}, nil, keep(&changed)))
	c.holds(id, "grounded")
	if rows := c.flight(id).Hold.Rows; !slices.Contains(rows, "91.9-a-equipment") {
		t.Errorf("held by %v", rows)
	}
	facts := changed.Facts
	papers := *facts.Papers
	papers.WeightBalance.Dated = changed.Configuration.EquipmentChanged
	facts.Papers = &papers
	c.must(c.service.ChangeAircraft(t.Context(), c.who, hangar.AircraftChange{
		Aircraft: c.aircraft, Version: 2, Facts: &facts,
	}, nil, keep(&changed)))
	c.holds(id, "clear")
}
