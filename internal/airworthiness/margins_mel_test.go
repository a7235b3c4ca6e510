package airworthiness_test

import (
	"fmt"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
)

// underMEL is the plain airplane under an MEL, with the plain flight.
func underMEL(authority string, defects ...airworthiness.Defect) world {
	w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: defects}
	w.aircraft.MELAuthorized, w.aircraft.MEL = airworthiness.Yes, plainMEL()
	w.aircraft.MEL.Authority = authority
	return w
}

// TestTheIntervalUnderACertificate holds what is told of an interval of 14 CFR 91.213(c), on its last day and after, and
// that a decision tells the same.
func TestTheIntervalUnderACertificate(t *testing.T) {
	t.Parallel()
	r := rules(t)
	const before = "nature passed, path passed, mel passed, "
	const after = "regulation passed, directive passed, "
	for _, c := range []struct {
		name      string
		category  string
		days, ago int
		deferred  bool
		want      string
		verdict   airworthiness.Verdict
		deciding  int
	}{
		{"the last day of category A", "A", 1, 1, true, "lapse passed, ", airworthiness.Clear, 0},
		{"the day after", "A", 1, 2, true, "lapse undone, ", airworthiness.Grounded, 1},
		{"the last day of category C", "C", 0, 10, true, "lapse passed, ", airworthiness.Clear, 0},
		{"nothing has been deferred", "C", 0, 10, false, "", airworthiness.DeferFirst, 2},
	} {
		d := inoperative("intercom")
		d.Deferral.Discovered, d.Deferral.Extended = airworthiness.Given(plainFlight().On-airworthiness.Date(c.ago)), airworthiness.No
		if !c.deferred {
			d.Deferral = nil
		}
		w := underMEL("certificate", d)
		w.aircraft.MEL.Rows[0].Category = c.category
		if c.days > 0 {
			w.aircraft.MEL.Rows[0].Days = airworthiness.Given(c.days)
		}
		a := judge(t, r, w)
		want := before + after + c.want + "disposition passed"
		if !c.deferred {
			want = before + after + "disposition undone, disposition undone, lapse passed"
		}
		if got := a.tale(); got != want || a.Verdict != c.verdict {
			t.Errorf("%s: %s: %s, want %s: %s", c.name, a.Verdict, got, c.verdict, want)
		}
		flight := r.Prepare(w.flight)
		var standing airworthiness.Standing
		var brief airworthiness.Determination
		a.plan.Stand(&standing, w.defects)
		a.plan.Decide(&brief, &standing, &flight)
		if brief.Verdict != c.verdict || len(brief.Findings) != c.deciding {
			t.Errorf("%s: decided %s with %d findings, want %s with %d", c.name, brief.Verdict, len(brief.Findings), c.verdict, c.deciding)
		}
	}
}

// TestTheFirstUnitUnderAnMEL: the row of the list is found for the unit that stands first, too; and where the list is not
// on record, what a directive asks for is told all the same (91.213(b)(2)).
func TestTheFirstUnitUnderAnMEL(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := underMEL("letter", inoperative("airspeed-indicator"))
	if got, verdict := outcome(t, r, w, "own:mel"); got != passed || verdict != airworthiness.Grounded {
		t.Errorf("%s, %s", got, verdict)
	}
	a := judge(t, r, w)
	if rows := a.at(airworthiness.StepMEL); len(rows) != 1 || rows[0].Have != 0 || rows[0].Need != 0 {
		t.Errorf("the list says %+v", rows)
	}
	w = underMEL("letter", inoperative("intercom"))
	w.aircraft.MEL.OnRecord = airworthiness.Unknown
	w.aircraft.Directives.Rows = []airworthiness.OwnRow{{Item: "intercom", Document: "invented directive"}}
	if got, verdict := outcome(t, r, w, "own:directive"); got != breached || verdict != airworthiness.Grounded {
		t.Errorf("without the list on record: %s, %s", got, verdict)
	}
}

// TestAnMELSaysWhatItHoldsFor holds the words of a row's conditions, as they are and turned round.
func TestAnMELSaysWhatItHoldsFor(t *testing.T) {
	t.Parallel()
	r := rules(t)
	for only, says := range map[string]string{"!night": "It holds not at night.", "night": "It holds only at night."} {
		w := underMEL("letter", inoperative("intercom"))
		if only == "!night" {
			w.flight = plainFlights()[1]
		}
		w.aircraft.MEL.Rows[0].OnlyWhen = only
		if e := explained(t, r, w, "own:mel"); e.Outcome != breached || !strings.HasSuffix(e.Says, says) {
			t.Errorf("%s: %s, %q", only, e.Outcome, e.Says)
		}
	}
	tables := small()
	tables.Conditions[3].NotHolding = ""
	book := compiled(t, tables)
	for clause, wrong := range map[string]bool{"night": false, "!night": true} {
		if err := book.FlightClause(clause); (err != nil) != wrong {
			t.Errorf("%s: it says %v", clause, err)
		}
	}
}

// TestAUnitThatIsAConditionByNature: of such a unit under a permit the rows count that it falls under, be it the first on
// the record or not; a directive that bars the permit still binds (39.23).
func TestAUnitThatIsAConditionByNature(t *testing.T) {
	t.Parallel()
	r := rules(t)
	tire := airworthiness.Unit{ID: "tire-unit", Item: "tire"}
	for _, first := range []bool{true, false} {
		w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{inoperative("tire-unit")}}
		if first {
			w.aircraft.Units = append([]airworthiness.Unit{tire}, w.aircraft.Units...)
		} else {
			w.aircraft.Units = append(w.aircraft.Units, tire)
		}
		w.flight.Permit = plainPermit("tire-unit")
		w.aircraft.Directives.Rows = []airworthiness.OwnRow{{Item: "tire", Document: "invented directive", Barred: airworthiness.Yes}}
		if got, verdict := outcome(t, r, w, "own:directive"); got != breached || verdict != airworthiness.Grounded {
			t.Errorf("first %t: %s, %s", first, got, verdict)
		}
	}
}

// TestAFlightWithoutADayUnderAPermit: whether the permit has been issued by then is not known.
func TestAFlightWithoutADayUnderAPermit(t *testing.T) {
	t.Parallel()
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	w.defects = []airworthiness.Defect{{ID: "tire", Kind: airworthiness.KindCondition, Item: "tire"}}
	w.flight.Permit, w.flight.On = plainPermit("tire"), 0
	if e := explained(t, rules(t), w, "nature"); !strings.Contains(e.Says, "The special flight permit may lift it: whether the permit has been issued") ||
		facts(e.Missing) != "flight.special_flight_permit.issued" {
		t.Errorf("it says %q and asks for %q", e.Says, facts(e.Missing))
	}
	if got, verdict := outcome(t, rules(t), w, "nature"); got != open || verdict != airworthiness.Undetermined {
		t.Errorf("%s, %s", got, verdict)
	}
}

// TestARowOnPermitsFromMemory may ask for something, but lifts nothing.
func TestARowOnPermitsFromMemory(t *testing.T) {
	t.Parallel()
	tables := small()
	for _, must := range []string{"issued", "window", "kinds", "crew", "covers"} {
		tables.Permits = append(tables.Permits, airworthiness.PermitRow{Origin: airworthiness.Origin{ID: must, Status: "memory"}, Must: must})
	}
	compiled(t, tables)
	tables.Permits[0].Must, tables.Permits[0].Lifts = "", []string{"path"}
	if _, err := airworthiness.Compile(tables); err == nil || !strings.Contains(err.Error(), "may forbid, never permit") {
		t.Errorf("it says %v", err)
	}
}

// TestEveryConditionOfALargeBookCounts holds the masks of conditions: as many as a ruleset may have, each one by itself
// brings its row into play or keeps it out, and each that must hold is missed.
func TestEveryConditionOfALargeBookCounts(t *testing.T) {
	t.Parallel()
	const most = 180
	tables := small()
	for i := range most {
		row := tables.Requirements[0]
		row.ID, row.When = fmt.Sprintf("above-%d", i), fmt.Sprintf("cabin-above:%d", i)
		tables.Requirements = append(tables.Requirements, row)
		row.ID, row.When = fmt.Sprintf("not-above-%d", i), fmt.Sprintf("!cabin-above:%d", i)
		tables.Requirements = append(tables.Requirements, row)
		row.ID, row.When, row.Item, row.Quantity, row.Must = fmt.Sprintf("must-%d", i), "", "", "", fmt.Sprintf("cabin-above:%d", i)
		tables.Requirements = append(tables.Requirements, row)
	}
	r := compiled(t, tables)
	for _, cabin := range []airworthiness.Fact[float64]{{}, airworthiness.Given(-1.0), airworthiness.Given(90.5), airworthiness.Given(1000.0)} {
		w := world{aircraft: known(), flight: dated()}
		w.flight.CabinFt = cabin
		a := judge(t, r, w)
		got := map[string]airworthiness.Outcome{}
		for i := range a.Findings {
			got[a.plan.RowID(&a.Findings[i])] = a.Findings[i].Outcome
		}
		for i := range most {
			above := airworthiness.Unknown
			if cabin.Known {
				above = airworthiness.TruthOf(cabin.Value > float64(i))
			}
			for row, holds := range map[string]airworthiness.Truth{"above": above, "not-above": above.Not(), "must": above.Not()} {
				name := fmt.Sprintf("%s-%d", row, i)
				o, told := got[name]
				want := map[airworthiness.Truth]airworthiness.Outcome{airworthiness.Yes: breached, airworthiness.Unknown: open}[holds]
				if told != (holds != airworthiness.No) || told && o != want {
					t.Errorf("cabin %+v: %s is told %t, %s", cabin, name, told, o)
				}
			}
		}
	}
}

// TestWhatAPermitSaysOfASquawkThatItLeavesOut: one note, where something stands in the way of that squawk.
func TestWhatAPermitSaysOfASquawkThatItLeavesOut(t *testing.T) {
	t.Parallel()
	r := rules(t)
	tire := airworthiness.Defect{ID: "tire", Kind: airworthiness.KindCondition, Item: "tire"}
	for _, c := range []struct {
		name    string
		defect  airworthiness.Defect
		notes   int
		verdict airworthiness.Verdict
	}{
		{"it grounds", tire, 1, airworthiness.Grounded},
		{"it limits", removed("elt"), 0, airworthiness.Limited},
		{"it does nothing", inoperative("intercom"), 0, airworthiness.Clear},
	} {
		w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{c.defect}}
		w.flight.Permit = plainPermit("spar")
		a := judge(t, r, w)
		notes := 0
		for i := range a.Findings {
			if row := a.plan.RowID(&a.Findings[i]); strings.HasPrefix(row, "permit-") {
				notes++
				if row != "permit-covers" {
					t.Errorf("%s: it notes %s", c.name, row)
				}
			}
		}
		if notes != c.notes || a.Verdict != c.verdict {
			t.Errorf("%s: %d notes, %s; want %d, %s", c.name, notes, a.Verdict, c.notes, c.verdict)
		}
	}
}

// TestAPermitAndTheAircraftsOwnLists: what an equipment list may hold is lifted, known or not; what another directive may
// hold is not, even where the one that is known allows the permit (39.23).
func TestAPermitAndTheAircraftsOwnLists(t *testing.T) {
	t.Parallel()
	r := rules(t)
	for _, c := range []struct {
		name      string
		directive bool
		known     airworthiness.Truth
		lists     airworthiness.Truth
		verdict   airworthiness.Verdict
	}{
		{"all is known, and a directive allows it", true, airworthiness.Yes, airworthiness.Yes, airworthiness.Limited},
		{"a directive allows it, and nobody has looked for others", true, airworthiness.Unknown, airworthiness.Yes, airworthiness.Grounded},
		{"nobody has looked for directives", false, airworthiness.Unknown, airworthiness.Yes, airworthiness.Undetermined},
		{"nobody has looked into the equipment list", false, airworthiness.Yes, airworthiness.Unknown, airworthiness.Limited},
	} {
		w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{inoperative("intercom")}}
		w.flight.Permit, w.aircraft.Directives.OnRecord, w.aircraft.EquipmentList.OnRecord = plainPermit("intercom"), c.known, c.lists
		if c.directive {
			w.aircraft.Directives.Rows = []airworthiness.OwnRow{{Item: "intercom", Document: "invented directive", Barred: airworthiness.No}}
		}
		if a := judge(t, r, w); a.Verdict != c.verdict {
			t.Errorf("%s: %s, want %s:%s", c.name, a.Verdict, c.verdict, tell(a.tell(w.defects)))
		}
	}
}

// TestAnIntervalHasItsDays: before a row on intervals is in force nobody knows how long an item may stay.
func TestAnIntervalHasItsDays(t *testing.T) {
	t.Parallel()
	for from, want := range map[string]airworthiness.Outcome{"2026-06-01": passed, "2026-06-02": open} {
		tables := small()
		row := airworthiness.IntervalRow{Origin: tables.Requirements[0].Origin, Category: "B", Days: 3}
		row.ID, row.From = "interval", day(from)
		tables.Intervals = []airworthiness.IntervalRow{row}
		w := world{aircraft: known(airworthiness.Unit{ID: "lamp", Item: "lamp"}, airworthiness.Unit{ID: "gauge", Item: "gauge"}), flight: dated()}
		w.aircraft.MELAuthorized, w.aircraft.MEL = airworthiness.Yes, plainMEL()
		w.aircraft.MEL.Authority, w.aircraft.MEL.Rows = "certificate", w.aircraft.MEL.Rows[1:2] // of category B
		w.aircraft.MEL.Rows[0].Item = "lamp"
		w.defects = []airworthiness.Defect{inoperative("lamp")}
		w.defects[0].Deferral.Discovered = airworthiness.Given(dated().On - 1)
		if got, _ := outcome(t, compiled(t, tables), w, "interval"); got != want {
			t.Errorf("from %s: %s, want %s", from, got, want)
		}
	}
}
