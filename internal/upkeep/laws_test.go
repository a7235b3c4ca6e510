package upkeep_test

import (
	"cmp"
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
	"tiedown/internal/upkeep"
)

// tenth draws hours to the tenth, as meters have them.
func tenth(t *rapid.T, name string, least, most int) float64 {
	return float64(rapid.IntRange(least*10, most*10).Draw(t, name)) / 10
}

func anyDay(t *rapid.T, name string) upkeep.Date {
	return upkeep.Date(rapid.IntRange(int(day("1996-01-01")), int(day("2104-12-31"))).Draw(t, name))
}

// anyDemand draws limits, an allowance, and records at which hours, cycles and days rise together.
func anyDemand(t *rapid.T) upkeep.Demand {
	d := upkeep.Demand{Every: upkeep.Limit{
		CalendarMonths: rapid.SampledFrom([]int{0, 1, 12, 24}).Draw(t, "calendar months"), Months: rapid.SampledFrom([]int{0, 1, 12}).Draw(t, "months"),
		Days: rapid.SampledFrom([]int{0, 30, 90}).Draw(t, "days"), Hours: rapid.SampledFrom([]float64{0, 50, 100}).Draw(t, "hours"),
		Cycles: rapid.SampledFrom([]int{0, 500}).Draw(t, "cycles"),
	}}
	if d.Every.Hours > 0 && rapid.Bool().Draw(t, "allowance") {
		d.Allowance = 10
	}
	on, hours, cycles := anyDay(t, "first"), tenth(t, "meter", 0, 9000), float64(rapid.IntRange(0, 9000).Draw(t, "count"))
	for range rapid.IntRange(0, 6).Draw(t, "records") {
		on += upkeep.Date(rapid.IntRange(0, 500).Draw(t, "later"))
		hours = math.Round((hours+tenth(t, "flown", 0, 130))*10) / 10
		cycles += float64(rapid.IntRange(0, 700).Draw(t, "landed"))
		w := upkeep.Work{On: airworthiness.Given(on), At: upkeep.Reading{Hours: airworthiness.Given(hours), Cycles: airworthiness.Given(cycles)}}
		if d.Allowance > 0 && rapid.Bool().Draw(t, "stated") {
			w.Overflown = airworthiness.Given(tenth(t, "overflown", 0, 150))
		}
		d.Record.Work = append(d.Record.Work, w)
	}
	return d
}

// TestWhatIfItWereDone holds that what an item says would be due if it were done is what is due once it is done.
func TestWhatIfItWereDone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := anyDemand(t)
		if len(d.Record.Work) == 0 || !d.Every.Given() {
			return
		}
		w, on := last(d.Record.Work), day("2104-12-31")
		now := upkeep.Reading{Hours: airworthiness.Given(w.At.Hours.Value + tenth(t, "since", 0, 130)), Cycles: w.At.Cycles}
		d.ID, d.Kind, d.What, d.Record.Now = "own-1", upkeep.ByOwner, "own", now
		a := aircraftOf("")
		a.Own = []upkeep.Demand{d}
		foretold := itemOf(t, &a, d.ID, on).IfDone
		d.Record.Work = append(slices.Clone(d.Record.Work), upkeep.Work{On: airworthiness.Given(on), At: now})
		if due := d.Due(); !reflect.DeepEqual(due, foretold) {
			t.Errorf("foretold %+v, due %+v", foretold, due)
		}
	})
}

func last(work []upkeep.Work) upkeep.Work {
	return slices.MaxFunc(work, func(a, b upkeep.Work) int {
		return cmp.Or(cmp.Compare(a.At.Hours.Value, b.At.Hours.Value), cmp.Compare(a.On.Value, b.On.Value))
	})
}

// TestNothingIsDueBeforeItWasDone holds that what was done serves at least for the day on which it was done, and that its
// cycles are not used up at once. Its hours are where it was overflown by a whole interval.
func TestNothingIsDueBeforeItWasDone(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := anyDemand(t)
		if len(d.Record.Work) == 0 {
			return
		}
		due, w := d.Due(), last(d.Record.Work)
		if due.Through.Known && due.Through.Value < w.On.Value {
			t.Errorf("done on %s, due after %s", w.On.Value, due.Through.Value)
		}
		if due.Hours.Known && due.Hours.Value < w.At.Hours.Value {
			t.Errorf("done at %v h, due at %v h", w.At.Hours.Value, due.Hours.Value)
		}
		if due.Cycles.Known && due.Cycles.Value <= w.At.Cycles.Value {
			t.Errorf("done at %v cycles, due at %v", w.At.Cycles.Value, due.Cycles.Value)
		}
	})
}

// TestTheOrderOfRecordsDoesNotMatter holds it for what is due, for how it stands and for where it runs out.
func TestTheOrderOfRecordsDoesNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := anyDemand(t)
		other := d
		other.Record.Work = rapid.Permutation(d.Record.Work).Draw(t, "order")
		if a, b := d.Due(), other.Due(); !reflect.DeepEqual(a, b) {
			t.Errorf("%+v and %+v", a, b)
		}
	})
}

// TestLaterComplianceIsNeverDueEarlier holds that whoever does the next one later has no less time until the one after.
func TestLaterComplianceIsNeverDueEarlier(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := anyDemand(t)
		at := upkeep.Work{}
		if len(d.Record.Work) > 0 {
			at = last(d.Record.Work)
		}
		after := func(days int, hours float64) upkeep.Due {
			done := d
			done.Record.Work = append(slices.Clone(d.Record.Work), upkeep.Work{
				On: airworthiness.Given(at.On.Value + upkeep.Date(days)),
				At: upkeep.Reading{Hours: airworthiness.Given(at.At.Hours.Value + hours), Cycles: airworthiness.Given(at.At.Cycles.Value + hours)},
			})
			return done.Due()
		}
		days, hours := rapid.IntRange(0, 900).Draw(t, "days"), tenth(t, "hours", 0, 250)
		early := after(days, hours)
		late := after(days+rapid.IntRange(0, 900).Draw(t, "more days"), hours+tenth(t, "more hours", 0, 250))
		if early.Through.Value > late.Through.Value || early.Hours.Value > late.Hours.Value || early.Cycles.Value > late.Cycles.Value {
			t.Errorf("early: %+v, late: %+v", early, late)
		}
	})
}

// TestAnExcessIsAlwaysDeducted holds 14 CFR 91.409(b): hours flown on the way to the inspection count in the next hundred,
// whether the record says so or nobody says anything; and that being early leaves the whole hundred.
func TestAnExcessIsAlwaysDeducted(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		began := tenth(t, "began", 0, 9000)
		used := tenth(t, "used", 1, 110)
		a := aircraftOf("")
		inspected := upkeep.Work{Task: "hundred-hour-inspection", At: upkeep.Reading{Hours: airworthiness.Given(began + used)}}
		excess := max(used-100, 0)
		if rapid.Bool().Draw(t, "stated") {
			inspected.Overflown = airworthiness.Given(excess)
		}
		a.Log = []upkeep.Work{{Task: "annual-inspection", At: upkeep.Reading{Hours: airworthiness.Given(began)}}, inspected}
		a.Now.Hours = inspected.At.Hours
		left := itemOf(t, &a, "hundred-hour", day("2026-05-01")).Left.Hours
		if want := 100 - excess; !left.Known || left.Value < want-1e-6 || left.Value > want+1e-6 {
			t.Errorf("inspected after %v h: %v h left, want %v", used, left.Value, want)
		}
	})
}

// TestCalendarMonthsAreCountedByTheCalendar holds the arithmetic against a walk through the calendar, day by day: a month
// begins where the day is the first.
func TestCalendarMonthsAreCountedByTheCalendar(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		done := anyDay(t, "done")
		months := rapid.IntRange(1, 36).Draw(t, "months")
		through := upkeep.Limit{CalendarMonths: months}.Through(upkeep.Work{On: airworthiness.Given(done)}).Value
		begun, d := 0, done
		for begun <= months {
			d++
			if d.String()[8:] == "01" {
				begun++
			}
		}
		if through != d-1 {
			t.Errorf("%s and %d calendar months: %s, and by the calendar %s", done, months, through, d-1)
		}
		same := upkeep.Limit{Months: months}.Through(upkeep.Work{On: airworthiness.Given(done)}).Value
		if same > through || same.String()[:7] != through.String()[:7] || same.String()[8:] != min(done.String()[8:], through.String()[8:]) {
			t.Errorf("%s and %d months to the day: %s", done, months, same)
		}
	})
}

// TestHalfALifeIsNeverMoreThanHalf holds that a battery serves for whole days of the first half of its life, and all of them.
func TestHalfALifeIsNeverMoreThanHalf(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		in, life := anyDay(t, "put in"), rapid.IntRange(0, 4000).Draw(t, "life")
		through := upkeep.Limit{LifeShare: 50}.Through(upkeep.Work{On: airworthiness.Given(in), Expires: airworthiness.Given(in + upkeep.Date(life))})
		gone := int(through.Value + 1 - in) // days, at the end of the last
		if !through.Known || 2*gone > life || 2*(gone+1) <= life {
			t.Errorf("%d of %d days", gone, life)
		}
	})
}

// TestARunOutIsWhereTheSumSaysSo holds the projection against plain sums.
func TestARunOutIsWhereTheSumSaysSo(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := aircraftOf("")
		used := tenth(t, "used", 80, 105)
		since(used)(&a)
		var flights []upkeep.Flight
		sum, runsOut := int(used*10+0.5), ""
		into := 0
		for n := range rapid.IntRange(0, 12).Draw(t, "flights") {
			f := flightOf("for-hire")
			f.ID = string(rune('a' + n))
			f.On, f.Departs, f.Ends = f.On+upkeep.Date(n), f.Departs.AddDate(0, 0, n), f.Ends.AddDate(0, 0, n)
			f.Hours, f.WindowHours = airworthiness.Given(tenth(t, "hours", 1, 9)), airworthiness.Given(10.0)
			flights = append(flights, f)
			tenths := int(f.Hours.Value*10 + 0.5)
			if runsOut == "" && sum+tenths > 1000 {
				runsOut, into = f.ID, 1000-sum
			}
			sum += tenths
		}
		i := itemOf(t, &a, "hundred-hour", airworthiness.DateOf(departs))
		p := i.Project(&a, rapid.Permutation(flights).Draw(t, "order"))
		switch {
		case runsOut == "":
			if p.RunsOut != nil || len(p.Held) > 0 {
				t.Errorf("runs out without need: %+v", p)
			}
		case p.RunsOut == nil || p.RunsOut.Flight != runsOut || !p.RunsOut.Certain || p.RunsOut.Before != (into <= 0):
			t.Errorf("want it on %s, %d tenths into it, have %+v", runsOut, into, p.RunsOut)
		case into > 0 && int(p.RunsOut.Into.Value*10+0.5) != into:
			t.Errorf("want %d tenths, have %v h", into, p.RunsOut.Into)
		case len(p.Held) != len(flights)-slices.IndexFunc(flights, func(f upkeep.Flight) bool { return f.ID == runsOut }):
			t.Errorf("held %d of %d flights", len(p.Held), len(flights))
		}
	})
}
