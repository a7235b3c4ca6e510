package hangar_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// enterMeters enters readings of the aircraft.
func (c *club) enterMeters(r hangar.MeterReading) []walkaround.BookEntry {
	c.t.Helper()
	var book []walkaround.BookEntry
	r.Aircraft = c.aircraft
	c.must(c.service.EnterMeters(c.t.Context(), c.who, r, nil, keep(&book)))
	return book
}

func (c *club) dueItem(id string) casefile.DueItem {
	c.t.Helper()
	l, err := c.service.Due(c.t.Context(), c.who, c.aircraft)
	if err != nil {
		c.t.Fatal(err)
	}
	i := slices.IndexFunc(l.Items, func(i casefile.DueItem) bool { return i.ID == id })
	if i < 0 {
		c.t.Fatalf("nothing is due by the name of %s", id)
	}
	return l.Items[i]
}

// lesson is a flight of a plan with whom the aircraft provides: the 100 hours of 14 CFR 91.409(b) bind it.
func lesson(hours float64) func(*hangar.FlightPlan) {
	return func(p *hangar.FlightPlan) {
		p.Facts.Hours, p.Facts.InstructionProvidedAircraft = &hours, new(true)
	}
}

// TestTheBookOfMetersHoldsFlights holds that an entry of the time in service holds in the same transaction the flights that
// it must, by every answer there is; that the hour meter, which is none (14 CFR 1.1), holds none; and that an entry which
// says that the one before was wrong releases them.
func TestTheBookOfMetersHoldsFlights(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	flight := c.plan(30, lesson(1.5)).Flight.ID
	c.holds(flight, "clear")
	before, err := c.store.StateVersion(t.Context(), c.who.Organization, c.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	c.wait(time.Hour)
	c.enterMeters(hangar.MeterReading{Hobbs: new(5000.0), Tach: new(4700.0)})
	c.wait(time.Hour)
	c.enterMeters(hangar.MeterReading{Hobbs: new(5001.0)})
	c.holds(flight, "clear")
	if now, _ := c.store.StateVersion(t.Context(), c.who.Organization, c.aircraft); now != before {
		t.Errorf("the hour meter moved the aircraft from version %d to %d", before, now)
	}
	c.enterMeters(hangar.MeterReading{TimeInService: new(4312.4)}) // as the facts have it
	c.holds(flight, "clear")
	c.status(c.who, c.aircraft)                                                                           // a plan is known
	c.enterMeters(hangar.MeterReading{TimeInService: new(4369.6), Because: "a sheet of paper turned up"}) // 98.7 h since the inspection
	c.holds(flight, "grounded")
	if stored := c.flight(flight).Hold; !slices.ContainsFunc(stored.Rows, func(r string) bool { return strings.HasPrefix(r, "91.409-b-") }) {
		t.Errorf("held by %v", stored.Rows)
	}
	if i := c.dueItem("hundred-hour"); len(i.Holds) != 1 || !i.Holds[0].Certain {
		t.Errorf("what is due: %+v", i)
	}
	var kept techlog.KeptDetermination
	c.must(c.service.KeepDetermination(t.Context(), c.who, flight, nil, keep(&kept)))
	if kept.Verdict != "grounded" {
		t.Errorf("the determination that was kept is %s", kept.Verdict)
	}
	verdict := func() string {
		t.Helper()
		status, err := c.status(c.who, c.aircraft)
		if err != nil {
			t.Fatal(err)
		}
		return status.Kinds[0].Verdict
	}
	if v := verdict(); v != "grounded" { // the oil is due after 50 h
		t.Errorf("the status is %s", v)
	}
	c.wait(time.Hour)
	c.enterMeters(hangar.MeterReading{TimeInService: new(4312.9), Because: "two digits were exchanged"})
	c.holds(flight, "clear")
	if v := verdict(); v != "limited" {
		t.Errorf("the status is %s", v)
	}
}

// TestWhatComesDueAgreesWithTheHoldsOverMeters holds that whatever is entered in the book of the time in service, the next
// flight is held by what comes due exactly where the list of it says so, by the stored hold and by another service that
// knows no plan.
func TestWhatComesDueAgreesWithTheHoldsOverMeters(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		c.aircraft = c.enter("trainer", fmt.Sprintf("N0%dTW", 100+n))
		hours := float64(rapid.IntRange(1, 15).Draw(rt, "hours")) / 10
		flight := c.plan(c.clock().Sub(noon).Hours()+4, lesson(hours)).Flight.ID
		reading := 4312.4
		for range rapid.IntRange(1, 4).Draw(rt, "entries") {
			c.wait(time.Duration(rapid.IntRange(1, 40).Draw(rt, "later")) * time.Minute)
			reading = min(max(reading+float64(rapid.IntRange(-50, 600).Draw(rt, "flown"))/10, 0), 4390)
			r := hangar.MeterReading{TimeInService: &reading, Because: "as the log has it"}
			if rapid.Bool().Draw(rt, "hour meter too") {
				r.Hobbs = &reading
			}
			c.enterMeters(r)
			stored := c.flight(flight).Hold
			for item, row := range map[string]string{"hundred-hour": "91.409-b-", "fuel-selector": "39.7-due", "oil-change": "own:item"} {
				held := slices.ContainsFunc(stored.Rows, func(r string) bool { return strings.HasPrefix(r, row) })
				if due := c.dueItem(item); (len(due.Holds) > 0) != held {
					rt.Errorf("at %v h, a flight of %v h: %s is held by what is due: %+v; the hold has %v", reading, hours, item, due.Holds, stored.Rows)
				}
			}
			fresh, err := c.serviceWith("").Flight(t.Context(), c.who, flight)
			if err != nil || !fresh.Flight.Hold.Same(stored) {
				rt.Errorf("the stored hold is %+v, judged anew %+v (%v)", stored, fresh.Flight.Hold, err)
			}
		}
	})
}

// TestPlannedCasesAreOfTheNewestReading holds that a flight as a written case has the hours that it is judged by.
func TestPlannedCasesAreOfTheNewestReading(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	flight := c.plan(30, lesson(1.5)).Flight.ID
	c.wait(time.Hour)
	c.enterMeters(hangar.MeterReading{TimeInService: new(4369.6)})
	c.holds(flight, "grounded")
	book, err := regulation.Current()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	err = hangar.PlannedCases(t.Context(), c.store, c.store, c.clock(), func(p hangar.PlannedCase) error {
		question, err := casefile.Compile(p.Case, book.Ruleset)
		if err != nil {
			return err
		}
		seen++
		if v := casefile.Judge(question, book.Ruleset, book.Digest).Verdict; v != p.Held {
			t.Errorf("held as %s, judged %s", p.Held, v)
		}
		return nil
	})
	if err != nil || seen != 1 {
		t.Errorf("%d cases, %v", seen, err)
	}
}
