package walkaround_test

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

var noon = time.Date(2031, time.May, 4, 12, 0, 0, 0, time.UTC)

// known is a small catalog.
func known(item string) bool {
	return slices.Contains([]string{"engine-oil", "pitot-heat", "landing-light", "fuel-contamination", "main-strut", "ads-b-out"}, item)
}

func id(n int) techlog.ID { return techlog.ID{1, 14: byte(n >> 8), 15: byte(n)} }

// look is a check of the simplest way.
func look(name string, station walkaround.Station) walkaround.Check {
	return walkaround.Check{ID: name, Station: station, Way: walkaround.Look, Words: "Look at the " + name, Means: walkaround.Condition}
}

func oil() walkaround.Check {
	return walkaround.Check{
		ID: "oil-level", Station: walkaround.Nose, Way: walkaround.Measure, Words: "Oil level on the dipstick.", Required: true,
		Means: walkaround.Servicing, Item: "engine-oil", In: "qt", AtLeast: new(5.5), AtMost: new(8.0), Above: walkaround.Condition,
	}
}

func sump() walkaround.Check {
	return walkaround.Check{
		ID: "sump-left", Station: walkaround.LeftWing, Way: walkaround.Sample, Words: "Drain a sample from the left sump", Required: true,
		Means: walkaround.Condition, Item: "fuel-contamination", Fuel: "100LL",
	}
}

// rules lists rule and field of every fault of an error.
func rules(t testing.TB, err error) []string {
	t.Helper()
	var faults casefile.Faults
	if err != nil && !errors.As(err, &faults) {
		t.Fatalf("%v is no list of faults", err)
	}
	list := []string{}
	for _, f := range faults {
		if f.Says == "" || f.Remedy == "" {
			t.Errorf("%+v lacks words or remedy", f)
		}
		list = append(list, f.Rule+" "+f.Field)
	}
	return list
}

func wantRules(t testing.TB, what string, err error, want ...string) {
	t.Helper()
	got := rules(t, err)
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) {
		t.Errorf("%s:\n got %q\nwant %q", what, got, want)
	}
}

// checklists deals checklists without a fault.
func checklists() *rapid.Generator[walkaround.Checklist] {
	return rapid.Custom(func(t *rapid.T) walkaround.Checklist {
		var list walkaround.Checklist
		stations := rapid.Permutation(walkaround.Stations()).Draw(t, "stations")
		for _, station := range stations[:rapid.IntRange(1, len(stations)).Draw(t, "n")] {
			for range rapid.IntRange(1, 4).Draw(t, "checks") {
				list.Checks = append(list.Checks, checkAt(t, station, fmt.Sprintf("c-%d", len(list.Checks))))
			}
		}
		return list
	})
}

func checkAt(t *rapid.T, station walkaround.Station, name string) walkaround.Check {
	items := rapid.SampledFrom([]string{"", "engine-oil", "pitot-heat", "landing-light"})
	class := rapid.SampledFrom(walkaround.Classes())
	c := walkaround.Check{
		ID: name, Station: station, Way: rapid.SampledFrom(walkaround.Ways()).Draw(t, "way"),
		Words:    rapid.StringMatching(`[A-Z][a-z ,"';é]{0,20}[a-z]`).Draw(t, "words"),
		Required: rapid.Bool().Draw(t, "required"), Means: class.Draw(t, "means"), Item: items.Draw(t, "item"), Equipped: items.Draw(t, "equipped"),
		Unit:    rapid.SampledFrom([]string{"", "unit-1", "unit-2"}).Draw(t, "unit"),
		Serials: rapid.SampledFrom([]string{"", "1001..1999", "D-7 D-9..D-30"}).Draw(t, "serials"),
	}
	if rapid.Bool().Draw(t, "always") {
		all := rapid.Permutation(walkaround.CircumstanceNames()).Draw(t, "when")
		c.When = all[:rapid.IntRange(1, len(all)).Draw(t, "whens")]
	}
	switch c.Way {
	case walkaround.Measure:
		c.In, c.UsedUp = "in", rapid.Bool().Draw(t, "used up")
		if rapid.Bool().Draw(t, "low") {
			c.AtLeast, c.Below = new(rapid.Float64Range(-1e6, 0).Draw(t, "at least")), class.Draw(t, "below")
		}
		if rapid.Bool().Draw(t, "high") {
			c.AtMost, c.Above = new(rapid.Float64Range(0, 1e6).Draw(t, "at most")), class.Draw(t, "above")
		}
	case walkaround.Sample:
		c.Fuel = rapid.SampledFrom([]string{"100LL", "Mogas 95"}).Draw(t, "fuel")
		if c.Fuel != "100LL" {
			c.Color = "yellow"
		}
	case walkaround.Compare:
		c.Meter = rapid.SampledFrom([]walkaround.Meter{walkaround.Hobbs, walkaround.Tach}).Draw(t, "meter")
	case walkaround.Paper:
		c.Paper, c.Dated = "registration", rapid.Bool().Draw(t, "dated")
	case walkaround.Look, walkaround.Operate:
	}
	return c
}

func itoa(n int) string { return strconv.Itoa(n) }
