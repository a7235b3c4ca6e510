package casefile_test

import (
	"errors"
	"slices"
	"testing"

	"tiedown/internal/casefile"
)

// TestWeightAndBalanceServesTheEquipmentItIsOf holds that other units make the data of the earlier ones serve no longer,
// until somebody says of which day or revision they are.
func TestWeightAndBalanceServesTheEquipmentItIsOf(t *testing.T) {
	t.Parallel()
	fitted := func(changed, revision string, units ...string) casefile.Configuration {
		c := casefile.Configuration{EquipmentChanged: changed, EquipmentRevision: revision}
		for _, u := range units {
			c.Units = append(c.Units, casefile.Unit{ID: u, Item: u})
		}
		return c
	}
	before := fitted("2020-05-04", "7", "clock", "dme")
	for _, c := range []struct {
		name              string
		after             casefile.Configuration
		changed, revision string
	}{
		{"the same units, in another order", fitted("2020-05-04", "7", "dme", "clock"), "2020-05-04", "7"},
		{"a unit taken out", fitted("2020-05-04", "7", "clock"), "2026-11-25", ""},
		{"a unit put in", fitted("2020-05-04", "7", "clock", "dme", "adf"), "2026-11-25", ""},
		{"a unit taken out on a day that is stated", fitted("2026-11-20", "8", "clock"), "2026-11-20", "8"},
		{"the day that it was, corrected", fitted("2020-05-05", "7", "clock", "dme"), "2020-05-05", "7"},
	} {
		c.after.Succeed(before, "2026-11-25")
		if c.after.EquipmentChanged != c.changed || c.after.EquipmentRevision != c.revision {
			t.Errorf("%s: %q, %q", c.name, c.after.EquipmentChanged, c.after.EquipmentRevision)
		}
	}
}

// TestPapersAreRefusedWhole holds that every fault of papers and of what is due is told at once.
func TestPapersAreRefusedWhole(t *testing.T) {
	t.Parallel()
	a := casefile.Aircraft{
		Facts: casefile.Facts{
			Basis: "other",
			Papers: &casefile.Papers{
				Registration: casefile.Paper{Through: "2031-02-30"}, RadioLicence: casefile.Paper{Through: "soon"},
				WeightBalance: casefile.WeightBalance{Dated: "May"},
			},
			Upkeep: &casefile.Upkeep{Items: []casefile.UpkeepItem{
				{ID: "oil", Kind: "own", What: "oil change", First: &casefile.DueAt{Through: "2026-11-20"}, PermitBarred: ptr(true)},
			}},
		},
		Configuration: casefile.Configuration{EquipmentChanged: "never"},
	}
	_, err := casefile.CompileAircraft(a, book(t).Ruleset, "")
	want := []string{
		"facts.upkeep.items[0].permit_barred", "configuration.equipment_changed", "facts.papers.weight_and_balance.dated",
		"facts.papers.registration.through", "facts.papers.radio_licence.through",
	}
	var faults casefile.Faults
	if !errors.As(err, &faults) {
		t.Fatalf("accepted: %v", err)
	}
	var have []string
	for _, f := range faults {
		have = append(have, f.Field)
	}
	slices.Sort(have)
	slices.Sort(want)
	if !slices.Equal(have, want) {
		t.Errorf("want %q\nhave %q", want, have)
	}
}
