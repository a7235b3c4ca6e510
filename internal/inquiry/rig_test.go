package inquiry_test

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/inquiry"
	"tiedown/internal/regulation"
)

func book(tb testing.TB) regulation.Book {
	tb.Helper()
	b, err := regulation.Current()
	if err != nil {
		tb.Fatal(err)
	}
	return b
}

// written are the cases of testdata/cases by name.
func written(tb testing.TB) map[string]casefile.Case {
	tb.Helper()
	names, err := filepath.Glob("../../testdata/cases/*.json")
	if err != nil || len(names) < 30 {
		tb.Fatalf("%d cases (%v)", len(names), err)
	}
	all := map[string]casefile.Case{}
	for _, name := range names {
		raw, err := os.ReadFile(name)
		if err != nil {
			tb.Fatal(err)
		}
		c, err := casefile.Decode(raw)
		if err != nil {
			tb.Fatalf("%s: %v", name, err)
		}
		all[strings.TrimSuffix(filepath.Base(name), ".json")] = c
	}
	return all
}

// aircraft are those of the written cases, in the order of their names.
func aircraft(tb testing.TB) []casefile.Aircraft {
	tb.Helper()
	all := written(tb)
	var names []string
	for name := range all {
		names = append(names, name)
	}
	slices.Sort(names)
	found := make([]casefile.Aircraft, len(names))
	for i, name := range names {
		found[i] = all[name].Aircraft
	}
	return found
}

// day is when the random flights are made.
var day = time.Date(2026, 6, 1, 14, 0, 0, 0, time.UTC)

// evenly draws a number from 0 to 127, each as often as another: rapid's own numbers favor the small ones.
var evenly = rapid.Map(rapid.SliceOfN(rapid.Bool(), 7, 7), func(bits []bool) int {
	n := 0
	for _, bit := range bits {
		n *= 2
		if bit {
			n++
		}
	}
	return n
})

// chance is true about that many times in a hundred.
func chance(t *rapid.T, percent int, label string) bool {
	return evenly.Draw(t, label) >= 128-percent*128/100
}

// drawCase draws an aircraft of the written cases with defects on it. Half of them are sound, with defects that are
// deferred as they must be; of the others facts are taken away and units are out.
func drawCase(t *rapid.T, fleet []casefile.Aircraft, rules *airworthiness.Ruleset) casefile.Case {
	c := casefile.Case{
		Aircraft: rapid.SampledFrom(fleet).Draw(t, "aircraft"), Flight: casefile.Flight{Departs: day, Arrives: day.Add(2 * time.Hour)},
	}
	c = c.Copy()
	config := &c.Aircraft.Configuration
	drawHouse(t, &c)
	drawRecords(t, &c.Aircraft.Facts)
	sound := chance(t, 50, "sound")
	if !sound {
		spoil(t, &c.Aircraft)
	}
	for i := range rapid.SampledFrom([]int{0, 1, 1, 1, 2, 3}).Draw(t, "defects") {
		if !sound {
			c.Defects = append(c.Defects, drawDefect(t, config.Units, rules, i))
			continue
		}
		if light := slices.DeleteFunc(slices.Clone(config.Units), heavy); len(light) > 0 {
			until := day.Add(48 * time.Hour)
			c.Defects = append(c.Defects, casefile.Defect{
				ID: fmt.Sprintf("squawk-%c", 'a'+i), Kind: "inoperative", Unit: rapid.SampledFrom(light).Draw(t, "unit").ID,
				Deferral: &casefile.Deferral{
					Method: rapid.SampledFrom([]string{"removed", "deactivated"}).Draw(t, "method"), MethodDone: true, Placarded: true,
					Recorded: true, HazardDetermined: true, RemovedOn: "2026-05-20", Until: &until,
				},
			})
		}
	}
	if chance(t, 15, "both radios") {
		c.Defects = bothRadios(c.Aircraft.Configuration.Units)
	}
	if chance(t, 30, "under an mel") {
		drawMEL(t, &c, sound)
	}
	drawConsidered(t, c.Defects)
	return c
}

// spoil takes facts and units away from an aircraft.
func spoil(t *rapid.T, a *casefile.Aircraft) {
	forgetful := rapid.SampledFrom([]int{0, 2, 10, 40}).Draw(t, "forgetful")
	forget(t, reflect.ValueOf(&a.Facts).Elem(), forgetful)
	if a.Facts.Basis == "" {
		a.Facts.Basis = "other"
	}
	config := &a.Configuration
	for _, l := range []*casefile.OwnList{&config.TypeCertification, &config.EquipmentList, &config.KOEL, &config.Directives} {
		if chance(t, forgetful, "list not looked at") {
			l.OnRecord = nil
		}
	}
	if chance(t, forgetful, "units not complete") {
		config.UnitsComplete = nil
	}
	if chance(t, 20, "units out") {
		config.Units = withoutSome(t, config.Units)
	}
}

// withoutSome takes units out, and with them what needs them.
func withoutSome(t *rapid.T, units []casefile.Unit) []casefile.Unit {
	left := slices.DeleteFunc(slices.Clone(units), func(casefile.Unit) bool { return chance(t, 10, "out") })
	for i := range left {
		left[i].Needs = slices.DeleteFunc(slices.Clone(left[i].Needs), func(id string) bool {
			return !slices.ContainsFunc(left, func(u casefile.Unit) bool { return u.ID == id })
		})
		if chance(t, 10, "place not said") {
			left[i].Serves = nil
		}
	}
	return left
}

func drawDefect(t *rapid.T, units []casefile.Unit, rules *airworthiness.Ruleset, i int) casefile.Defect {
	d := casefile.Defect{ID: fmt.Sprintf("squawk-%c", 'a'+i), Kind: rapid.SampledFrom([]string{"inoperative", "inoperative", "inoperative", "inoperative", "inoperative", "inoperative", "inoperative", "condition", ""}).Draw(t, "kind")}
	switch {
	case len(units) > 0 && chance(t, 90, "unit"):
		d.Unit = rapid.SampledFrom(units).Draw(t, "which unit").ID
		if light := slices.DeleteFunc(slices.Clone(units), heavy); len(light) > 0 && chance(t, 70, "light") {
			d.Unit = rapid.SampledFrom(light).Draw(t, "which light unit").ID
		}
	case chance(t, 80, "item"):
		d.Item = rapid.SampledFrom(rules.Items()).Draw(t, "which item").Item
	}
	if chance(t, 80, "deferred") {
		until := rapid.SampledFrom([]time.Time{day.Add(48 * time.Hour), day.Add(48 * time.Hour), day.Add(48 * time.Hour), day.Add(time.Hour)}).Draw(t, "until")
		d.Deferral = &casefile.Deferral{
			Method: rapid.SampledFrom([]string{"removed", "deactivated", "deactivated", ""}).Draw(t, "method"), MethodDone: chance(t, 95, "done"),
			Placarded: chance(t, 95, "placarded"), Recorded: chance(t, 95, "recorded"), HazardDetermined: chance(t, 95, "hazard"),
			RemovedOn: rapid.SampledFrom([]string{"2026-05-20", "2026-01-20", ""}).Draw(t, "removed on"), Until: &until,
		}
		if chance(t, 5, "end not said") {
			d.Deferral.Until = nil
		}
	}
	return d
}

// heavy says whether a unit is one that few flights can do without.
func heavy(u casefile.Unit) bool {
	return !slices.Contains([]string{
		"transponder", "altitude-encoder", "ads-b-out", "elt", "landing-light", "beacon", "anticollision-light", "intercom",
		"cabin-heater", "hour-meter", "autopilot", "vor-receiver", "nav-com-radio", "oxygen-system", "position-light", "safety-belt",
	}, u.Item)
}

// forget empties fields of a struct, each about that many times in a hundred.
func forget(t *rapid.T, v reflect.Value, percent int) {
	for i := range v.NumField() {
		if chance(t, percent, v.Type().Field(i).Name) {
			v.Field(i).SetZero()
		}
	}
}

// drawFlight draws a flight of which everything is known.
func drawFlight(t *rapid.T, a casefile.Aircraft) casefile.Flight {
	flag := func(percent int, label string) *bool { b := chance(t, percent, label); return &b }
	f := casefile.Flight{Rules: rapid.SampledFrom([]string{"vfr", "vfr", "ifr"}).Draw(t, "rules"), Departs: day, Arrives: day.Add(2 * time.Hour)}
	f.Light = rapid.SampledFrom([]*casefile.Light{
		lit(true, false, false), lit(true, false, false), lit(true, false, true), lit(true, true, true), lit(false, true, true),
	}).Draw(t, "light")
	f.ForHire, f.OverWater, f.Controlled = flag(30, "hire"), flag(20, "water"), flag(50, "controlled")
	f.Below2500AGL, f.InAlaska, f.Dark = flag(20, "agl"), flag(10, "alaska"), flag(20, "dark")
	f.Over30MinAbove12500 = flag(20, "30 minutes")
	f.OnlyRequiredCrew, f.TrainingWithin50NM = chance(t, 30, "crew only"), chance(t, 20, "training")
	f.ToPlaceOfRepair, f.RepairImpossible, f.UnderWay = chance(t, 30, "to repair"), chance(t, 40, "no repair"), chance(t, 10, "under way")
	f.InstructionProvidedAircraft, f.ToPlaceOfInspection = flag(20, "instruction"), chance(t, 30, "to inspection")
	f.NewlyAcquiredToInstallation = chance(t, 10, "newly acquired")
	if chance(t, 50, "hours said") {
		hours := rapid.SampledFrom([]float64{0.3, 1, 1.5, 2}).Draw(t, "hours")
		f.Hours = &hours
	}
	for _, operation := range airworthiness.Vocabulary("operations") {
		if chance(t, 4, operation) {
			f.Operations = append(f.Operations, operation)
		}
	}
	seats := 4
	if a.Facts.Seats != nil {
		seats = *a.Facts.Seats
	}
	occupants := rapid.IntRange(1, seats).Draw(t, "occupants")
	persons, crew := occupants+rapid.IntRange(0, 1).Draw(t, "infants"), rapid.IntRange(1, 2).Draw(t, "crew")
	f.Occupants, f.Persons, f.RequiredCrew = &occupants, &persons, &crew
	altitude := rapid.SampledFrom([]float64{3000, 3000, 9999, 10000, 12500, 12501, 14001, 15001, 18000, 24000, 25001, 35001}).Draw(t, "altitude")
	cabin := altitude * rapid.SampledFrom([]float64{1, 0.4}).Draw(t, "cabin")
	f.AltitudeFt, f.CabinFt = &altitude, &cabin
	some := func(fact string, percent int) *[]string {
		words := slices.DeleteFunc(airworthiness.Vocabulary(fact), func(string) bool { return !chance(t, percent, fact) })
		return &words
	}
	f.Airspace, f.Navigation, f.ATCAuthorized = some("airspace", 6), some("navigation", 50), *some("atc_authorized", 20)
	return f
}

func lit(day, night, lights bool) *casefile.Light {
	return &casefile.Light{Day: &day, Night: &night, SunsetToSunrise: &lights}
}

// judged is what the engine says of a case.
func judged(t fataler, c casefile.Case, rules *airworthiness.Ruleset) casefile.Answer {
	t.Helper()
	q, err := casefile.Compile(c, rules)
	if err != nil {
		t.Fatal(err)
	}
	return casefile.Judge(q, rules, "")
}

type fataler interface {
	Helper()
	Fatal(args ...any)
}

// envelope is what may be flown with a case's aircraft and defects.
func envelope(t fataler, c casefile.Case, rules *airworthiness.Ruleset) inquiry.Envelope {
	t.Helper()
	e, err := inquiry.EnvelopeOfCase(c, rules, "")
	if err != nil {
		t.Fatal(err)
	}
	return e
}
