package upkeep_test

import (
	"slices"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/upkeep"
)

// planned is a flight in a plan: when it leaves and arrives, in local time, and the time in service that it takes.
type planned struct {
	departs, arrives string
	hours            float64 // 0: nobody has said
}

func zone(tb testing.TB, name string) *time.Location {
	tb.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		tb.Fatal(err)
	}
	return z
}

func (p planned) flight(tb testing.TB, id string, in *time.Location) upkeep.Flight {
	tb.Helper()
	at := func(s string) time.Time {
		t, err := time.ParseInLocation("2006-01-02 15:04", s, in)
		if err != nil {
			tb.Fatal(err)
		}
		return t
	}
	f := upkeep.Flight{ID: id}
	f.Departs, f.Ends = at(p.departs), at(p.arrives)
	f.On, f.WindowHours = airworthiness.DateOf(f.Departs), airworthiness.Given(f.Ends.Sub(f.Departs).Hours())
	if p.hours > 0 {
		f.Hours = airworthiness.Given(p.hours)
	}
	return f
}

// weekend is a busy one: 28 November 2026 is a Saturday.
var weekend = []planned{
	{"2026-11-28 09:00", "2026-11-28 11:00", 1.5},
	{"2026-11-28 13:00", "2026-11-28 16:00", 2.0},
	{"2026-11-29 09:00", "2026-11-29 12:00", 1.2},
}

func TestWhereAnItemRunsOut(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		says    string
		row     string
		set     func(*upkeep.Aircraft)
		flights []planned
		zone    string
		want    string // empty: it does not
	}{
		{
			"in the middle of a flight", "hundred-hour", since(97.1), weekend, "UTC",
			"The 100-hour inspection falls due 1.4 h into the second flight of Saturday 28 November 2026.",
		},
		{"where just enough is left, it does not", "hundred-hour", since(95.3), weekend, "UTC", ""},
		{
			"six minutes less, and it does", "hundred-hour", since(95.4), weekend, "UTC",
			"The 100-hour inspection falls due 1.1 h into the first flight of Sunday 29 November 2026.",
		},
		{
			"at the end of a flight, it is the next that has none", "hundred-hour", since(98.5), weekend, "UTC",
			"The 100-hour inspection has fallen due when the second flight of Saturday 28 November 2026 departs.",
		},
		{
			"long before", "hundred-hour", since(104), weekend, "UTC",
			"The 100-hour inspection has fallen due when the first flight of Saturday 28 November 2026 departs.",
		},
		{
			"a flight that does not say how long it takes may take its window", "hundred-hour", since(98.5),
			[]planned{{"2026-11-28 09:00", "2026-11-28 11:00", 0}},
			"UTC",
			"The 100-hour inspection may fall due, at the earliest 1.5 h into the first flight of Saturday 28 November 2026.",
		},
		{
			"and no more than that", "hundred-hour", since(98),
			[]planned{{"2026-11-28 09:00", "2026-11-28 11:00", 0}},
			"UTC", "",
		},
		{
			"with nothing left, even such a flight is too much", "hundred-hour", since(100),
			[]planned{{"2026-11-28 09:00", "2026-11-28 11:00", 0}},
			"UTC",
			"The 100-hour inspection has fallen due when the first flight of Saturday 28 November 2026 departs.",
		},
		{
			"where it was flown before is uncertain, so is where it runs out", "hundred-hour", since(97),
			[]planned{{"2026-11-28 09:00", "2026-11-28 11:00", 0}, {"2026-11-28 13:00", "2026-11-28 16:00", 2}},
			"UTC",
			"The 100-hour inspection may fall due, at the earliest 1 h into the second flight of Saturday 28 November 2026.",
		},
		{
			"it may have run out before the flight", "hundred-hour", since(98),
			[]planned{{"2026-11-28 09:00", "2026-11-28 11:00", 0}, {"2026-11-28 13:00", "2026-11-28 16:00", 2}},
			"UTC",
			"The 100-hour inspection may have fallen due when the second flight of Saturday 28 November 2026 departs.",
		},
		{
			"that it does may be certain, and not where", "hundred-hour", since(97),
			[]planned{{"2026-11-28 09:00", "2026-11-28 11:00", 0}, {"2026-11-28 13:00", "2026-11-28 17:00", 3.1}},
			"UTC",
			"The 100-hour inspection falls due on the second flight of Saturday 28 November 2026.",
		},
		{
			"a flight over midnight outlasts the month", "annual", annual("2025-11-03"),
			[]planned{{"2026-11-30 23:30", "2026-12-01 00:30", 0.9}},
			"UTC",
			"The annual inspection falls due at the end of 30 November 2026, 0.5 h after the departure of the first flight of Monday 30 November 2026.",
		},
		{
			"one that lands before midnight does not", "annual", annual("2025-11-03"),
			[]planned{{"2026-11-30 22:30", "2026-11-30 23:59", 1.2}},
			"UTC", "",
		},
		{
			"days are those of the zone of departure", "annual", annual("2025-11-03"),
			[]planned{{"2026-11-30 18:30", "2026-11-30 20:30", 1.2}},
			"America/New_York", "", // 23:30 to 01:30 in UTC
		},
		{
			"the day on which clocks go back has 25 hours", "annual", func(a *upkeep.Aircraft) { // 31 October is the last of the month
				a.AnnualInspected = upkeep.Fact[upkeep.Date]{}
				a.Own = append(a.Own, upkeep.Demand{ID: "annual", What: "overhaul", Kind: upkeep.ByOwner, First: upkeep.Due{Through: airworthiness.Given(day("2026-11-01"))}})
			},
			[]planned{{"2026-11-01 00:30", "2026-11-02 00:30", 9}},
			"America/New_York",
			"The overhaul falls due at the end of 1 November 2026, 24.5 h after the departure of the first flight of Sunday 1 November 2026.",
		},
		{
			"after the month it has fallen due", "annual", annual("2025-10-03"), weekend, "UTC",
			"The annual inspection has fallen due when the first flight of Saturday 28 November 2026 departs.",
		},
		{
			"by cycles, a flight is one", "own-1", demand("life-limit", "first 1000c", "2026-11-01 998c"), weekend, "UTC",
			"The own has fallen due when the first flight of Sunday 29 November 2026 departs.",
		},
		{
			"by hours or date, whichever comes first: the hours", "own-1", demand("directive", "first 2026-11-28 101h", "2026-11-01 99h"), weekend, "UTC",
			"The own falls due 0.5 h into the second flight of Saturday 28 November 2026.",
		},
		{
			"the date", "own-1", demand("directive", "first 2026-11-27 101h", "2026-11-01 99h"), weekend, "UTC",
			"The own has fallen due when the first flight of Saturday 28 November 2026 departs.",
		},
		{"a battery is not used by flying", "elt-battery-use", func(a *upkeep.Aircraft) { a.ELTBatteryHours = airworthiness.Given(0.9) }, weekend, "UTC", ""},
		{"of what is not known, nothing is foretold", "hundred-hour", func(*upkeep.Aircraft) {}, weekend, "UTC", ""},
	} {
		t.Run(c.says, func(t *testing.T) {
			t.Parallel()
			a := aircraftOf("")
			c.set(&a)
			var flights []upkeep.Flight
			for n, p := range c.flights {
				flights = append(flights, p.flight(t, string(rune('a'+n)), zone(t, c.zone)))
			}
			slices.Reverse(flights) // their order does not matter
			i := itemOf(t, &a, c.row, day("2026-10-31"))
			have := ""
			if out := i.Project(&a, flights).RunsOut; out != nil {
				have = out.Says(i)
			}
			if have != c.want {
				t.Errorf("want %s\nhave %s", c.want, have)
			}
		})
	}
}

func since(hours float64) func(*upkeep.Aircraft) {
	return func(a *upkeep.Aircraft) { a.HoursSinceInspection = airworthiness.Given(hours) }
}

func annual(on string) func(*upkeep.Aircraft) {
	return func(a *upkeep.Aircraft) { a.AnnualInspected = airworthiness.Given(day(on)) }
}

func demand(kind, limits, now string) func(*upkeep.Aircraft) {
	return func(a *upkeep.Aircraft) {
		d, err := parseDemand(kind, limits)
		if err != nil {
			panic(err)
		}
		_, d.Record.Now, _ = parseNow(now)
		a.Own = append(a.Own, d)
	}
}

// itemOf finds an item; where two have the same name, the last.
func itemOf(tb failer, a *upkeep.Aircraft, id string, on upkeep.Date) *upkeep.Item {
	tb.Helper()
	items := rules(tb).Items(a, on)
	for n := range slices.Backward(items) {
		if items[n].ID == id {
			return &items[n]
		}
	}
	tb.Fatalf("no item %s", id)
	return nil
}

// TestIfItWereDoneNow holds what would be due next where the count starts anew: of hours since the inspection, with what it
// was overflown by (14 CFR 91.409(b)), and of a battery.
func TestIfItWereDoneNow(t *testing.T) {
	t.Parallel()
	for used, want := range map[float64]float64{41.5: 100, 100: 100, 104: 96, 130: 90} {
		a := aircraftOf("")
		since(used)(&a)
		a.ELTBatteryHours = airworthiness.Given(0.5)
		if due := itemOf(t, &a, "hundred-hour", yesterday).IfDone.Hours; !due.Known || due.Value != want {
			t.Errorf("done after %v h, the next is due after %v h, want %v", used, due, want)
		}
		if due := itemOf(t, &a, "elt-battery-use", yesterday).IfDone; due != (upkeep.Due{}) {
			t.Errorf("a new battery is due by its own count: %+v", due)
		}
		a.ELTBatteryDue = airworthiness.Given(yesterday)
		if due := itemOf(t, &a, "elt-battery-life", yesterday).IfDone; due != (upkeep.Due{}) {
			t.Errorf("a new battery is due by its own mark: %+v", due)
		}
	}
}

// TestTheAllowanceHasItsEnd holds that on the way to the inspection no more than 10 hours are let go.
func TestTheAllowanceHasItsEnd(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		used float64
		held bool
	}{{100, false}, {109, false}, {109.1, true}} {
		a := aircraftOf("")
		since(c.used)(&a)
		f := flightOf("for-hire to-place-of-inspection") // takes one hour
		i := itemOf(t, &a, "hundred-hour", f.On)
		held := i.Project(&a, []upkeep.Flight{f}).Held
		if (len(held) > 0) != c.held || c.held && !held[0].Certain {
			t.Errorf("%v h used, one to go: held %v", c.used, held)
		}
	}
}

// TestOfNothingKnownNothingServes holds that an aircraft of which nothing is known has every item, none of them known, and
// that none lets a flight go for certain.
func TestOfNothingKnownNothingServes(t *testing.T) {
	t.Parallel()
	var a upkeep.Aircraft
	items := rules(t).Items(&a, day("2026-11-28"))
	if len(items) < 15 {
		t.Errorf("only %d items", len(items))
	}
	var unknown upkeep.Flight
	unknown.On, unknown.Departs, unknown.Ends = day("2026-11-28"), departs, departs.Add(time.Hour)
	for _, i := range items {
		if i.State != upkeep.NotKnown {
			t.Errorf("%s is %s", i.ID, i.State)
		}
		if i.Lacks == "" || i.Says() != "Not known: supply "+i.Lacks+"." {
			t.Errorf("%s does not say what to supply: %s", i.ID, i.Says())
		}
		if held := i.Project(&a, []upkeep.Flight{unknown}).Held; len(held) != 1 || held[0].Certain {
			t.Errorf("%s lets a flight go of which nothing is known, or surely stops it: %v", i.ID, held)
		}
	}
}
