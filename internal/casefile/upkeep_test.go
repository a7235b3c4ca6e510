package casefile_test

import (
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/upkeep"
)

// read reads a record of upkeep as it would be written.
func read(t *testing.T, written string) casefile.Upkeep {
	t.Helper()
	var u casefile.Upkeep
	d := json.NewDecoder(strings.NewReader(written))
	d.DisallowUnknownFields()
	if err := d.Decode(&u); err != nil {
		t.Fatal(err)
	}
	return u
}

// TestEveryFaultOfUpkeepIsToldAtOnce holds that a record is refused with everything that is wrong with it.
func TestEveryFaultOfUpkeepIsToldAtOnce(t *testing.T) {
	t.Parallel()
	u := read(t, `{
		"hours": 30.5, "cycles": -1,
		"items": [
			{"id": "a", "kind": "directive", "what": "inspection of the fuel selector"},
			{"id": "a", "kind": "bulletin", "what": " ", "first": {}},
			{"id": "", "kind": "regulation", "what": "annual", "every": {}},
			{"id": "b", "kind": "life-limit", "what": "bungee", "first": {"through": "2026-02-30", "hours": -1, "cycles": -2}, "part": {"hours": -3}, "stops": ["night"]},
			{"id": "c", "kind": "own", "what": "oil", "every": {"months": 2401, "hours": -50, "days": -1}, "stops": ["ifr", "sundays"],
				"done": [{"on": "", "hours": 31}, {"on": "tuesday", "overflown_hours": -2}]}
		]}`)
	a := sound().Aircraft
	a.Facts.HoursSinceInspection, a.Facts.Upkeep = ptr(31.0), &u
	_, err := casefile.CompileAircraft(a, book(t).Ruleset, "aircraft.")
	var bad casefile.Faults
	if !errors.As(err, &bad) {
		t.Fatal(err)
	}
	var have []string
	for _, f := range bad {
		have = append(have, f.Rule+" "+strings.TrimPrefix(f.Field, "aircraft.facts.upkeep."))
		if f.Says == "" || f.Remedy == "" {
			t.Errorf("%+v", f)
		}
	}
	want := []string{
		"required read_at", "range cycles", "at-least-since-inspection hours",
		"required items[0].citation", "due items[0].first",
		"unique items[1].id", "known-kind items[1].kind", "required items[1].what", "required items[1].first",
		"unique items[2].id", "known-kind items[2].kind", "required items[2].every", "due items[2].first",
		"range items[3].first.hours", "range items[3].first.cycles", "date items[3].first.through", "range items[3].part.hours", "own items[3].stops",
		"range items[4].every.months", "range items[4].every.days", "range items[4].every.hours",
		"required items[4].done[0].on", "at-most-meter items[4].done[0].hours",
		"date items[4].done[1].on", "program items[4].done[1].overflown_hours", "range items[4].done[1].overflown_hours",
		"known-flights items[4].stops[1]",
	}
	if !slices.Equal(have, want) {
		t.Errorf("want %q\nhave %q", want, have)
	}
	if _, again := casefile.CompileUpkeep(a, book(t).Ruleset, "aircraft."); again == nil || again.Error() != err.Error() {
		t.Errorf("read for upkeep, the faults are others: %v", again)
	}
}

// TestARecordOfUpkeepIsRead holds what every field of the written form means.
func TestARecordOfUpkeepIsRead(t *testing.T) {
	t.Parallel()
	u := read(t, `{
		"read_at": "2026-11-20T09:00:00-05:00", "hours": 4312.4, "cycles": 5120, "complete": true,
		"items": [
			{"id": "selector", "kind": "directive", "what": "fuel selector", "citation": "directive 2031-01 (invented)", "every": {"months": 12, "hours": 100},
				"done": [{"on": "2026-02-10", "hours": 4270.9}]},
			{"id": "seat-rail", "kind": "directive", "what": "seat rail", "citation": "directive 2030-09 (invented)", "first": {"through": "2026-12-31"}},
			{"id": "hose", "kind": "life-limit", "what": "fuel hose", "every": {"calendar_months": 96, "hours": 1000, "cycles": 3000}, "part": {"hours": 988, "cycles": 1200},
				"done": [{"on": "2019-05-06", "hours": 0, "cycles": 0}]},
			{"id": "phase", "kind": "program", "what": "phase 2", "every": {"hours": 50}, "done": [{"on": "2026-11-01", "hours": 4300, "overflown_hours": 4}]},
			{"id": "old", "kind": "directive", "what": "crankcase", "citation": "directive 2001-02 (invented)", "ended": true},
			{"id": "oil", "kind": "own", "what": "oil change", "every": {"days": 120}, "done": [{"on": "2026-11-01"}], "stops": ["for-hire", "night"]},
			{"id": "wash", "kind": "own", "what": "washing", "citation": "house rule 3", "first": {"hours": 4400, "cycles": 6000}}
		]}`)
	a := sound().Aircraft
	a.Facts.Upkeep = &u
	subject, err := casefile.CompileUpkeep(a, book(t).Ruleset, "")
	if err != nil {
		t.Fatal(err)
	}
	day, _ := airworthiness.ParseDate("2026-11-25")
	have := map[string]string{}
	for _, i := range book(t).Upkeep.Items(&subject, day) {
		var stops []string
		for _, s := range i.Stops {
			stops = append(stops, s.ID)
		}
		have[i.ID] = i.Citation + ": " + i.Says() + " " + strings.Join(stops, " ")
	}
	for id, want := range map[string]string{
		"selector":  "directive 2031-01 (invented); 14 CFR 39.7: Serves through 10 February 2027 or to 4370.9 h of time in service, whichever comes first: 77 days and 58.5 h are left. directive-every",
		"seat-rail": "directive 2030-09 (invented); 14 CFR 39.7: Serves through 31 December 2026: 36 days are left. directive-every",
		"hose":      "14 CFR 91.403(c): Serves through 31 May 2027 or to 1000 h of the part or to 3000 cycles, whichever comes first: 187 days and 12 h and 1800 cycles are left. life-limit-every",
		"phase":     "14 CFR 91.409(d): Serves to 4346 h of time in service: 33.6 h are left. progressive-every",
		"old":       "directive 2001-02 (invented); 14 CFR 39.7: Nothing more comes due. directive-every",
		"oil":       "the organization's own rule: Serves through 1 March 2027: 96 days are left. own-for-hire own-night",
		"wash":      "house rule 3: Serves to 4400 h of time in service or to 6000 cycles, whichever comes first: 87.6 h and 880 cycles are left. own",
	} {
		if have[id] != want {
			t.Errorf("%s:\nwant %s\nhave %s", id, want, have[id])
		}
	}
	for _, id := range []string{"directive", "life-limit"} {
		if have[id] != "" {
			t.Errorf("everything is on record, and yet %s is asked for: %s", id, have[id])
		}
	}
}

// TestWhetherATransponderIsInstalled holds that a unit which does the job counts, and that without a complete list nobody
// knows.
func TestWhetherATransponderIsInstalled(t *testing.T) {
	t.Parallel()
	b := book(t)
	for name, c := range map[string]struct {
		units    []casefile.Unit
		complete *bool
		want     airworthiness.Truth
	}{
		"itself":                   {[]casefile.Unit{{ID: "x", Item: "transponder"}}, nil, airworthiness.Yes},
		"a unit that does its job": {[]casefile.Unit{{ID: "x", Item: "beacon", Also: []string{"transponder"}}}, nil, airworthiness.Yes},
		"none, all being listed":   {nil, ptr(true), airworthiness.No},
		"none, and more may be":    {nil, ptr(false), airworthiness.Unknown},
		"none, who knows":          {[]casefile.Unit{{ID: "x", Item: "beacon"}}, nil, airworthiness.Unknown},
	} {
		a := sound().Aircraft
		a.Configuration.Units, a.Configuration.UnitsComplete = c.units, c.complete
		subject, err := casefile.CompileUpkeep(a, b.Ruleset, "")
		if err != nil || subject.Transponder != c.want {
			t.Errorf("%s: %v, %v", name, subject.Transponder, err)
		}
	}
}

// TestWhatAnItemOfTheHouseMayStop holds that each of its words has a meaning: that it stops some flights, and not all.
func TestWhatAnItemOfTheHouseMayStop(t *testing.T) {
	t.Parallel()
	for _, term := range casefile.UpkeepStops() {
		d := upkeep.Demand{ID: "x", Kind: upkeep.ByOwner, Stops: []upkeep.Stop{upkeep.OwnStop("rule", term, "some flights")}}
		d.First.Through = airworthiness.Given(airworthiness.Date(1))
		a := upkeep.Aircraft{Own: []upkeep.Demand{d}}
		held := func(truth airworthiness.Truth) int {
			f := airworthiness.Flight{On: 20000, IFR: truth, Night: truth, ForHire: truth, OverWater: truth, InstructionProvidedAircraft: truth}
			items := book(t).Upkeep.Items(&a, 20000)
			return len(items[len(items)-1].Project(&a, []upkeep.Flight{{ID: "f", Flight: f}}).Held)
		}
		if held(airworthiness.Yes) != 1 || held(airworthiness.No) != 0 || held(airworthiness.Unknown) != 1 {
			t.Errorf("%s: %d, %d, %d", term, held(airworthiness.Yes), held(airworthiness.No), held(airworthiness.Unknown))
		}
	}
}
