package airworthiness_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// rowOf is how a row came out on the plain airplane and flight with a change, with its limitation.
func rowOf(t *testing.T, row string, change func(*world)) (airworthiness.Outcome, airworthiness.Explanation) {
	t.Helper()
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	change(&w)
	a := judge(t, rules(t), w)
	for i := range a.Findings {
		if e := a.plan.Explain(&a.Findings[i]); e.Row == row {
			return e.Outcome, e
		}
	}
	return airworthiness.OutcomePassed, airworthiness.Explanation{}
}

// TestInspections holds each limit on both sides. The plain flight is on 1 June 2026.
func TestInspections(t *testing.T) {
	t.Parallel()
	const passed, breached, unknown = airworthiness.OutcomePassed, airworthiness.OutcomeBreached, airworthiness.OutcomeUnknown
	date := func(get func(*airworthiness.Aircraft) *airworthiness.Fact[airworthiness.Date], on string) func(*world) {
		return func(w *world) { *get(&w.aircraft) = airworthiness.Given(day(on)) }
	}
	annual := func(a *airworthiness.Aircraft) *airworthiness.Fact[airworthiness.Date] { return &a.AnnualInspected }
	elt := func(a *airworthiness.Aircraft) *airworthiness.Fact[airworthiness.Date] { return &a.ELTInspected }
	battery := func(a *airworthiness.Aircraft) *airworthiness.Fact[airworthiness.Date] { return &a.ELTBatteryDue }
	altimeter := func(a *airworthiness.Aircraft) *airworthiness.Fact[airworthiness.Date] { return &a.AltimeterTested }
	hours := func(since float64, hours airworthiness.Fact[float64]) func(*world) {
		return func(w *world) {
			w.aircraft.HoursSinceInspection, w.flight.Hours = airworthiness.Given(since), hours
			w.flight.ForHire = airworthiness.Yes
		}
	}
	ifr := func(w *world) { w.flight.IFR, w.flight.Controlled = airworthiness.Yes, airworthiness.Yes }
	underIFR := func(change func(*world)) func(*world) { return func(w *world) { ifr(w); change(w) } }
	open := airworthiness.Fact[float64]{}
	for _, c := range []struct {
		name   string
		rule   string // 14 CFR, eCFR title 14 issue 2026-08-24
		change func(*world)
		row    string
		want   airworthiness.Outcome
	}{
		{"annual of 1 June last year", "91.409(a)", date(annual, "2025-06-01"), "91.409-a", passed},
		{"annual of 31 May last year", "91.409(a)", date(annual, "2025-05-31"), "91.409-a", breached},
		{"annual on the day of the flight", "91.409(a)", date(annual, "2026-06-01"), "91.409-a", passed},
		{"annual on the day after", "91.409(a)", date(annual, "2026-06-02"), "91.409-a", unknown},
		{"ELT inspected a year ago", "91.207(d)", date(elt, "2025-06-01"), "91.207-d", passed},
		{"ELT inspected a year and a day ago", "91.207(d)", date(elt, "2025-05-31"), "91.207-d", breached},
		{"ELT battery due today", "91.207(c)(2)", date(battery, "2026-06-01"), "91.207-c-2", passed},
		{"ELT battery due yesterday", "91.207(c)(2)", date(battery, "2026-05-31"), "91.207-c-2", breached},
		{"altimeters tested two years ago", "91.411(a)", underIFR(date(altimeter, "2024-06-01")), "91.411-a-airplane", passed},
		{"altimeters tested two years and a day ago", "91.411(a)", underIFR(date(altimeter, "2024-05-31")), "91.411-a-airplane", breached},
		{"up to the hundredth hour", "91.409(b)", hours(98, airworthiness.Given(2.0)), "91.409-b-hire", passed},
		{"past the hundredth hour", "91.409(b)", hours(98.1, airworthiness.Given(2.0)), "91.409-b-hire", breached},
		{"the window fits", "91.409(b)", hours(97, open), "91.409-b-hire", passed},
		{"the window does not fit", "91.409(b)", hours(97.1, open), "91.409-b-hire", unknown},
		{"nothing left", "91.409(b)", hours(100, open), "91.409-b-hire", breached},
		{"no number of hours", "91.409(b)", hours(math.NaN(), open), "91.409-b-hire", unknown},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if have, e := rowOf(t, c.row, c.change); have != c.want {
				t.Errorf("%s: want %s, have %s: %+v", c.rule, c.want, have, e)
			}
		})
	}
}

// TestAKindOfOperationIsLimitedToTheHoursLeft holds that a limit which a flight can keep within binds a kind of operation
// instead of leaving it open, and that one which is spent does not.
func TestAKindOfOperationIsLimitedToTheHoursLeft(t *testing.T) {
	t.Parallel()
	const within = "only within 100 hours of time in service since the last annual or 100-hour inspection, of which 0.5 are left"
	envelope := func(since airworthiness.Fact[float64]) func(*world) {
		return func(w *world) {
			w.flight.Envelope = true
			w.flight.Hours, w.flight.WindowHours = airworthiness.Fact[float64]{}, airworthiness.Fact[float64]{}
			w.flight.InstructionProvidedAircraft, w.flight.ToPlaceOfInspection = airworthiness.Yes, airworthiness.Unknown
			w.aircraft.HoursSinceInspection = since
		}
	}
	outcome, e := rowOf(t, "91.409-b-instruction", envelope(airworthiness.Given(99.5)))
	if outcome != airworthiness.OutcomeLimited || e.Limitation != within {
		t.Errorf("half an hour left: %s, %q", outcome, e.Limitation)
	}
	if outcome, e = rowOf(t, "91.409-b-instruction", envelope(airworthiness.Given(110.0))); outcome != airworthiness.OutcomeBreached {
		t.Errorf("none left: %s, %q", outcome, e.Limitation)
	}
	if outcome, _ = rowOf(t, "91.409-b-instruction", envelope(airworthiness.Fact[float64]{})); outcome != airworthiness.OutcomeUnknown {
		t.Errorf("not counted: %s", outcome)
	}
	outcome, e = rowOf(t, "91.409-b-instruction", func(w *world) {
		envelope(airworthiness.Given(99.5))(w)
		w.flight.InstructionProvidedAircraft = airworthiness.Unknown
	})
	const either = within + ", or without instruction for hire in an aircraft that the instructor provides"
	if outcome != airworthiness.OutcomeLimited || e.Limitation != either {
		t.Errorf("half an hour left, and perhaps no instruction: %s, %q", outcome, e.Limitation)
	}
}

// TestAKindOfOperationDeclaresNothing holds that the status of an aircraft does not ask for the equipment of operations
// that no flight of its has declared.
func TestAKindOfOperationDeclaresNothing(t *testing.T) {
	t.Parallel()
	r := rules(t)
	for i, f := range r.KindsOfOperation(dated()) {
		if !f.Operations.Known || len(f.Operations.Value) != 0 {
			t.Errorf("%s declares %v", airworthiness.KindNames()[i], f.Operations)
		}
	}
	declared := dated()
	declared.Operations = airworthiness.Given([]string{"nvg"})
	for i, f := range r.KindsOfOperation(declared) {
		if !slices.Equal(f.Operations.Value, []string{"nvg"}) {
			t.Errorf("%s forgets what was declared", airworthiness.KindNames()[i])
		}
	}
}

// TestAnOlderInspectionNeverHelps holds that an earlier date or more hours never improve a verdict, so long as the
// inspections lie before the flight.
func TestAnOlderInspectionNeverHelps(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		before := judge(t, r, w)
		older := w
		for _, f := range []*airworthiness.Fact[airworthiness.Date]{
			&older.aircraft.AnnualInspected, &older.aircraft.ConditionInspected, &older.aircraft.AltimeterTested,
			&older.aircraft.TransponderTested, &older.aircraft.ELTInspected, &older.aircraft.ELTBatteryDue,
		} {
			if f.Known && f.Value > w.flight.On && f != &older.aircraft.ELTBatteryDue {
				return // the record says nothing of what was so before the flight
			}
			f.Value -= airworthiness.Date(rapid.IntRange(0, 900).Draw(t, "days older"))
		}
		older.aircraft.HoursSinceInspection.Value += float64(rapid.IntRange(0, 20).Draw(t, "hours more"))
		older.aircraft.ELTBatteryHours.Value += float64(rapid.IntRange(0, 2).Draw(t, "hours of use more"))
		if after := judge(t, r, older); before.Verdict.WorseThan(after.Verdict) {
			t.Fatalf("%s, and with older inspections %s:%s%s", before.Verdict, after.Verdict, tell(before.tell(w.defects)), tell(after.tell(w.defects)))
		}
	})
}

// TestEntryOfADeactivation holds when a deactivation that has not been entered is undone (91.213(d)(3)(ii); AC 91-67A).
func TestEntryOfADeactivation(t *testing.T) {
	t.Parallel()
	const passed, undone, unknown = airworthiness.OutcomePassed, airworthiness.OutcomeUndone, airworthiness.OutcomeUnknown
	for _, c := range []struct {
		ruleText   bool
		maintained airworthiness.Truth
		row        string
		want       airworthiness.Outcome
	}{
		{false, airworthiness.No, "record-deactivation", undone},
		{false, airworthiness.Unknown, "record-deactivation", undone},
		{false, airworthiness.Yes, "record-maintenance", passed},
		{true, airworthiness.No, "record-deactivation", passed},
		{true, airworthiness.No, "record-maintenance", passed},
		{true, airworthiness.Unknown, "record-maintenance", unknown},
		{true, airworthiness.Yes, "record-maintenance", undone},
	} {
		have, _ := rowOf(t, c.row, func(w *world) {
			d := inoperative("hour-meter")
			d.Deferral.Recorded = airworthiness.No
			d.Deferral.EntryByRuleText, d.Deferral.InvolvesMaintenance = c.ruleText, c.maintained
			w.defects = []airworthiness.Defect{d}
		})
		if have != c.want {
			t.Errorf("by the rule's text %v, maintenance %s: %s is %s, want %s", c.ruleText, c.maintained, c.row, have, c.want)
		}
	}
}
