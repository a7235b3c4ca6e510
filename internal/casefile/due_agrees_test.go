package casefile_test

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/regulation"
	"tiedown/internal/upkeep"
)

// judgedAlso has the items that the determination judges as well, by the beginning of its rows' names.
var judgedAlso = map[string]string{
	"annual": "91.409-a", "progressive-cycle": "91.409-d-whole", "program": "91.409-d-calendar", "hundred-hour": "91.409-b-", "light-sport-condition": "91.327-b", "light-sport-hundred-hour": "91.327-c-",
	"experimental-condition": "91.319-condition-inspection", "elt-inspection": "91.207-d", "elt-battery-use": "91.207-c-1",
	"elt-battery-life": "91.207-c-2", "vor-check": "91.171-a", "altimeter-test": "91.411-a-", "transponder-test": "91.413-a-",
}

// maybe draws a value, or none.
func maybe[T any](t *rapid.T, name string, draw func() T) *T {
	if rapid.IntRange(0, 5).Draw(t, name+" is known") == 0 {
		return nil
	}
	return ptr(draw())
}

func flag(t *rapid.T, name string) *bool {
	return maybe(t, name, func() bool { return rapid.Bool().Draw(t, name) })
}

// dated draws a day up to so many months back, often at the end of a month, sometimes after the flights.
func dated(t *rapid.T, name string, months int) string {
	switch rapid.IntRange(0, 7).Draw(t, name+" kind") {
	case 0:
		return ""
	case 1:
		return "2026-12-24"
	}
	month := time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC).AddDate(0, -rapid.IntRange(0, months+1).Draw(t, name+" months"), 0)
	last := month.AddDate(0, 1, -1).Day()
	return month.AddDate(0, 0, rapid.SampledFrom([]int{0, 1, last / 2, last - 2, last - 1}).Draw(t, name+" day")).Format(time.DateOnly)
}

func hoursOf(t *rapid.T, name string, least, most int) float64 {
	return float64(rapid.IntRange(least*10, most*10).Draw(t, name)) / 10
}

func anyAircraft(t *rapid.T) casefile.Aircraft {
	a := casefile.Aircraft{Facts: casefile.Facts{
		Category:        rapid.SampledFrom([]string{"airplane", "airplane", "rotorcraft", "glider", "balloon", ""}).Draw(t, "category"),
		Certificate:     rapid.SampledFrom([]string{"standard", "standard", "light-sport", "experimental", "provisional", "restricted", ""}).Draw(t, "certificate"),
		Basis:           "other",
		Seats:           maybe(t, "seats", func() int { return rapid.IntRange(1, 4).Draw(t, "seats") }),
		USRegistered:    flag(t, "us registered"),
		AnnualInspected: dated(t, "annual", 12), ConditionInspected: dated(t, "condition", 12), AltimeterTested: dated(t, "altimeter", 24),
		TransponderTested: dated(t, "transponder", 24), ELTInspected: dated(t, "elt", 12), ELTBatteryDue: dated(t, "battery", 2),
		VORChecked:             dated(t, "vor", 2),
		HoursSinceInspection:   maybe(t, "hours since", func() float64 { return hoursOf(t, "hours since", 90, 112) }),
		ELTBatteryHours:        maybe(t, "battery hours", func() float64 { return hoursOf(t, "battery hours", 0, 2) }),
		EngineDrivenElectrical: flag(t, "engine-driven electrical"),
	}}
	if rapid.IntRange(0, 3).Draw(t, "progressive") == 0 {
		if a.Facts.ProgressiveComplete = dated(t, "progressive", 12); a.Facts.ProgressiveComplete != "" {
			a.Facts.Progressive = ptr(rapid.Bool().Draw(t, "inspected progressively"))
		}
	}
	if rapid.Bool().Draw(t, "total hours") {
		a.Facts.Upkeep = &casefile.Upkeep{ReadAt: ptr(time.Date(2026, 11, 28, 0, 0, 0, 0, time.UTC)), Hours: ptr(hoursOf(t, "total", 200, 9000))}
	}
	for _, item := range []string{"elt", "transponder"} {
		if rapid.IntRange(0, 4).Draw(t, item+" installed") > 0 {
			a.Configuration.Units = append(a.Configuration.Units, casefile.Unit{ID: item, Item: item})
		}
	}
	a.Configuration.UnitsComplete = flag(t, "units complete")
	return a
}

// anyFlight draws a flight of the afternoon or over midnight at the end of November.
func anyFlight(t *rapid.T, day int, known bool) casefile.Flight {
	zone := time.FixedZone("", -5*3600)
	departs := time.Date(2026, 11, 28+day, rapid.IntRange(15, 23).Draw(t, "hour"), 0, 0, 0, zone)
	f := casefile.Flight{
		Rules: rapid.SampledFrom([]string{"vfr", "ifr", "ifr", ""}).Draw(t, "rules"), Departs: departs,
		Arrives: departs.Add(time.Duration(rapid.IntRange(30, 240).Draw(t, "minutes")) * time.Minute),
	}
	f.ForHire, f.InstructionProvidedAircraft, f.Controlled = flag(t, "for hire"), flag(t, "instruction"), flag(t, "controlled")
	f.Below2500AGL, f.InAlaska = flag(t, "below 2500"), flag(t, "alaska")
	for name, claimed := range map[string]*bool{
		"crew only": &f.OnlyRequiredCrew, "training": &f.TrainingWithin50NM, "to repair": &f.ToPlaceOfRepair,
		"impossible": &f.RepairImpossible, "to inspection": &f.ToPlaceOfInspection,
	} {
		*claimed = rapid.IntRange(0, 3).Draw(t, name) == 0
	}
	f.AltitudeFt = maybe(t, "altitude", func() float64 { return rapid.SampledFrom([]float64{3000, 9999, 10000, 12000}).Draw(t, "altitude") })
	f.Airspace = maybe(t, "airspace", func() []string {
		return rapid.SampledFrom([][]string{
			{}, {}, {"class-b"}, {"class-a"}, {"class-c", "class-d"}, {"mode-c-veil"}, {"above-class-b-or-c"}, {"listed-airport-10nm"},
		}).Draw(t, "airspace")
	})
	f.Navigation = maybe(t, "navigation", func() []string {
		return rapid.SampledFrom([][]string{{"vor"}, {"gnss"}, {"vor", "gnss"}}).Draw(t, "navigation")
	})
	if rapid.IntRange(0, 3).Draw(t, "atc") == 0 {
		f.ATCAuthorized = []string{"transponder"}
	}
	if rapid.IntRange(0, 4).Draw(t, "permit") == 0 {
		f.SpecialFlightPermit = &casefile.Permit{
			Number: "invented", Issued: "2026-11-20", ValidUntil: maybe(t, "valid until", func() time.Time { return f.Arrives.Add(2 * time.Hour) }),
			ValidFrom: ptr(f.Departs.Add(time.Duration(rapid.IntRange(-1, 1).Draw(t, "valid from")) * time.Hour)),
			Kinds:     ptr([]string{"day-vfr", "night-vfr", "day-ifr", "night-ifr"}), OnlyRequiredCrew: ptr(false),
		}
	}
	if known || rapid.Bool().Draw(t, "says its hours") {
		window := f.Arrives.Sub(f.Departs).Hours()
		f.Hours = ptr(math.Floor(window*10*rapid.Float64Range(0, 1).Draw(t, "share")) / 10)
	}
	return f
}

// TestWhatComesDueAgreesWithTheDetermination holds, for every item that both judge, that a flight which it stops is one on
// which the determination has a finding, a grave one where it surely stops it, and the other way round: for one flight and
// for those that follow others, by which time the hours have gone on.
func TestWhatComesDueAgreesWithTheDetermination(t *testing.T) {
	t.Parallel()
	b := book(t)
	rapid.Check(t, func(t *rapid.T) {
		a := anyAircraft(t)
		var written []casefile.Flight
		n := rapid.IntRange(1, 3).Draw(t, "flights")
		for day := range n {
			written = append(written, anyFlight(t, day, day < n-1))
		}
		stopped := stoppedBy(t, b, a, written)
		for i, f := range written {
			found := findings(t, b, a, f)
			for item, prefix := range judgedAlso {
				ours, theirs := stopped[fmt.Sprintf("%s %d", item, i)], worst(found, prefix)
				if item == "vor-check" && ours == "perhaps" && a.Facts.VORChecked > f.Departs.Format(time.DateOnly) {
					ours = theirs // the determination takes a check that comes after the flight for none
				}
				if f.SpecialFlightPermit != nil && ours == "perhaps" {
					ours = theirs // whether a permit serves is the determination's to say
				}
				if ours != theirs {
					t.Errorf("flight %d, %s: due says %q, the determination %q: %+v", i, item, ours, theirs, rowsOf(found, prefix))
				}
			}
			if since := a.Facts.HoursSinceInspection; since != nil && f.Hours != nil {
				a.Facts.HoursSinceInspection = ptr(math.Round((*since+*f.Hours)*10) / 10)
				if u := a.Facts.Upkeep; u != nil {
					a.Facts.Upkeep = &casefile.Upkeep{ReadAt: u.ReadAt, Hours: ptr(*u.Hours + *f.Hours)}
				}
			}
		}
	})
}

// stoppedBy says of every item and flight whether it stops it: "surely", "perhaps", or not at all.
func stoppedBy(t *rapid.T, b regulation.Book, a casefile.Aircraft, written []casefile.Flight) map[string]string {
	subject, err := casefile.CompileUpkeep(a, b.Ruleset, "")
	if err != nil {
		t.Fatal(err)
	}
	var flights []upkeep.Flight
	for i, f := range written {
		flight, err := casefile.CompileFlight(f, a.Facts)
		if err != nil {
			t.Fatal(err)
		}
		flights = append(flights, upkeep.Flight{ID: strconv.Itoa(i), Flight: flight})
	}
	stopped := map[string]string{}
	for _, i := range b.Upkeep.Items(&subject, airworthiness.DateOf(written[0].Departs)) {
		for _, h := range i.Project(&subject, flights).Held {
			stopped[i.ID+" "+h.Flight] = map[bool]string{true: "surely", false: "perhaps"}[h.Certain]
		}
	}
	return stopped
}

func findings(t *rapid.T, b regulation.Book, a casefile.Aircraft, f casefile.Flight) []casefile.Finding {
	q, err := casefile.Compile(casefile.Case{Aircraft: a, Flight: f}, b.Ruleset)
	if err != nil {
		t.Fatal(err)
	}
	return casefile.Judge(q, b.Ruleset, "").Findings
}

func rowsOf(found []casefile.Finding, prefix string) []casefile.Finding {
	return slices.DeleteFunc(slices.Clone(found), func(f casefile.Finding) bool { return !strings.HasPrefix(f.Row, prefix) })
}

// named reports whether a row has a name, or one that begins so where the name ends with a hyphen.
func named(row, name string) bool {
	return row == name || strings.HasSuffix(name, "-") && strings.HasPrefix(row, name)
}

// worst is what the findings by rows of a name come to.
func worst(found []casefile.Finding, prefix string) string {
	said := ""
	for _, f := range found {
		if !named(f.Row, prefix) || f.Row == "91.413-a-off" { // that one says what to do, and stops nothing
			continue
		}
		switch f.Verdict {
		case "grounded":
			return "surely"
		case "undetermined":
			said = "perhaps"
		}
	}
	return said
}

// TestTheDeterminationJudgesWhatItIsSaidTo holds that the rows which are compared above exist, and that whatever else the
// determination asks of inspections is compared.
func TestTheDeterminationJudgesWhatItIsSaidTo(t *testing.T) {
	t.Parallel()
	b := book(t)
	matched := map[string]bool{}
	for _, rule := range b.Rules() {
		if rule.Table != "requirements" || rule.Must == "" {
			continue
		}
		for item, prefix := range judgedAlso {
			if named(rule.ID, prefix) {
				matched[item] = true
			}
		}
		dated := slices.ContainsFunc([]string{"-within:", "elt-battery-"}, func(s string) bool { return strings.Contains(rule.Must, s) })
		if compared := slices.ContainsFunc(prefixes(), func(p string) bool { return strings.HasPrefix(rule.ID, p) }); dated && !compared {
			t.Errorf("%s asks for %s, and is compared with nothing", rule.ID, rule.Must)
		}
	}
	for item := range judgedAlso {
		if !matched[item] {
			t.Errorf("no row of the determination judges %s", item)
		}
	}
}

func prefixes() []string {
	var all []string
	for _, p := range judgedAlso {
		all = append(all, p)
	}
	return all
}
