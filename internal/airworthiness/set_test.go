package airworthiness_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// TestConsideringLessNeverPermits holds law 3 for the set: a determination made in view of fewer squawks never turns no
// into yes, and never makes a verdict better.
func TestConsideringLessNeverPermits(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		before := judge(t, r, w)
		for i := range w.defects {
			d := w.defects[i].Deferral
			if d == nil {
				continue
			}
			for j := range d.HazardConsidered {
				less, without := w.withDefects(), *d
				without.HazardConsidered = slices.Delete(slices.Clone(d.HazardConsidered), j, j+1)
				less.defects[i].Deferral = &without
				if after := judge(t, r, less); before.Verdict.WorseThan(after.Verdict) {
					t.Fatalf("%s, and with %s not considered %s:%s%s", before.Verdict, d.HazardConsidered[j], after.Verdict,
						tell(before.tell(w.defects)), tell(after.tell(less.defects)))
				}
			}
		}
	})
}

// TestRandomCasesMeetTheRowsOnTwo holds that the laws are tried on cases that the rows on two squawks bear on, in every
// way in which they can come out.
func TestRandomCasesMeetTheRowsOnTwo(t *testing.T) {
	t.Parallel()
	r := rules(t)
	worlds := rapid.Custom(func(t *rapid.T) world { return drawWorld(t, r) })
	found := map[airworthiness.Outcome]int{}
	sets := map[airworthiness.Outcome]int{}
	ways := []airworthiness.Outcome{airworthiness.OutcomeUndone, airworthiness.OutcomeLimited, airworthiness.OutcomeNoted, airworthiness.OutcomeUnknown}
	missed := func() bool {
		return sets[airworthiness.OutcomeUndone] < 3 || slices.ContainsFunc(ways, func(o airworthiness.Outcome) bool { return found[o] == 0 })
	}
	for seed := 0; seed < 40000 && missed(); seed++ {
		a := judge(t, r, worlds.Example(seed))
		for i := range a.Findings {
			f := &a.Findings[i]
			if _, on := f.Other(); on {
				found[f.Outcome]++
			}
			if a.plan.RowID(f) == "hazard-set" {
				sets[f.Outcome]++
			}
		}
	}
	for _, o := range ways {
		if found[o] == 0 {
			t.Errorf("no row on two squawks comes out %s: %v", o, found)
		}
	}
	if sets[airworthiness.OutcomeUndone] < 3 {
		t.Errorf("the set is hardly ever left out of view: %v", sets)
	}
}

// pairing is the small book with one row on two squawks, and the row that asks for the set.
func pairing(when, limitation string) airworthiness.Tables {
	t := small()
	origin := t.Requirements[0].Origin
	origin.ID = "two-lamps"
	t.Interactions = []airworthiness.InteractionRow{{Origin: origin, First: "lamp", Second: "lamp|gauge", When: when, Limitation: limitation}}
	t.Conditions = append(t.Conditions,
		airworthiness.Words{Key: "hazard-determined", Holds: "it is no hazard", Fact: "defects[].deferral.hazard_determined"},
		airworthiness.Words{Key: "hazard-considered", Holds: "it is no hazard beside the others", Fact: "defects[].deferral.hazard_considered"})
	origin.ID = "the-set"
	t.Procedure = append(t.Procedure, airworthiness.ProcedureRow{
		Origin: origin, Step: "hazard", When: "hazard-determined", Must: "hazard-considered", Otherwise: airworthiness.DeferFirst,
	})
	return t
}

// TestTheRowsOnTwoSquawks tries one row on lamps in every way. Source: what the row says, and 14 CFR 91.213(d)(4) as
// inferred: the determination is for the set.
func TestTheRowsOnTwoSquawks(t *testing.T) {
	t.Parallel()
	squawk := func(unit string, considered ...string) airworthiness.Defect {
		d := airworthiness.Defect{ID: unit, Kind: airworthiness.KindInoperative, Unit: unit, Deferral: done(airworthiness.Deactivated)}
		d.Deferral.HazardConsidered = considered
		return d
	}
	undetermined := func(d airworthiness.Defect) airworthiness.Defect {
		without := *d.Deferral
		without.HazardDetermined = airworthiness.Unknown
		d.Deferral = &without
		return d
	}
	belt := airworthiness.Defect{ID: "belt", Kind: airworthiness.KindInoperative, Item: "belt"}
	both := []airworthiness.Defect{squawk("a", "b"), squawk("b", "a")}
	night := func(truth airworthiness.Truth) func(*airworthiness.Flight) {
		return func(f *airworthiness.Flight) { f.Night = truth }
	}
	envelope := func(f *airworthiness.Flight) { f.Envelope = true }
	const mayGo, limited, deferFirst = airworthiness.Clear, airworthiness.Limited, airworthiness.DeferFirst
	none := airworthiness.OutcomePassed
	cases := []struct {
		name             string
		when, limitation string
		defects          []airworthiness.Defect
		flight           func(*airworthiness.Flight)
		row, set         airworthiness.Outcome
		verdict          airworthiness.Verdict
	}{
		{"both considered, no limitation", "", "", both, nil, airworthiness.OutcomeNoted, none, mayGo},
		{"both considered", "", "by day", both, nil, airworthiness.OutcomeLimited, none, limited},
		{"one not considered", "", "by day", []airworthiness.Defect{squawk("a", "b"), squawk("b")}, nil, airworthiness.OutcomeLimited, none, deferFirst},
		{"neither considered", "", "", []airworthiness.Defect{squawk("a"), squawk("b")}, nil, undone, none, deferFirst},
		{"it asks nothing by day, and both considered", "night", "by day", both, night(airworthiness.No), none, none, mayGo},
		{"it asks nothing by day, and neither considered", "night", "by day", []airworthiness.Defect{squawk("a"), squawk("b")}, night(airworthiness.No), none, undone, deferFirst},
		{"at night", "night", "by day", both, night(airworthiness.Yes), airworthiness.OutcomeLimited, none, limited},
		{"nobody knows whether at night", "night", "by day", both, night(airworthiness.Unknown), open, none, airworthiness.Undetermined},
		{"nobody knows, and neither considered", "night", "by day", []airworthiness.Defect{squawk("a"), squawk("b")}, night(airworthiness.Unknown), undone, none, deferFirst},
		{"nobody knows, and it binds to nothing", "night", "", both, night(airworthiness.Unknown), airworthiness.OutcomeNoted, none, mayGo},
		{"a kind of operation", "night", "by day", both, envelope, airworthiness.OutcomeLimited, none, limited},
		{"a kind of operation, and what is open is the aircraft's", "manufactured-after:1990-01-01", "by day", both, envelope, open, none, airworthiness.Undetermined},
		{"the gauge stands on the second side", "", "by day", []airworthiness.Defect{squawk("a", "g"), squawk("g", "a")}, nil, airworthiness.OutcomeLimited, none, limited},
		{"two gauges stand on one side", "", "by day", []airworthiness.Defect{squawk("g", "h"), squawk("h", "g")}, nil, none, none, mayGo},
		{"a display does a gauge's job", "", "by day", []airworthiness.Defect{squawk("a", "d"), squawk("d", "a")}, nil, airworthiness.OutcomeLimited, none, limited},
		{"a source takes a lamp with it", "", "by day", []airworthiness.Defect{squawk("a", "s"), squawk("s", "a")}, nil, airworthiness.OutcomeLimited, none, limited},
		{"a lamp and the source that it needs are one lamp", "", "by day", []airworthiness.Defect{squawk("c", "s"), squawk("s", "c")}, nil, none, none, mayGo},
		{"nobody knows whether it is a hazard", "", "", []airworthiness.Defect{undetermined(squawk("a", "b")), squawk("b", "a")}, nil, airworthiness.OutcomeNoted, none, mayGo},
		{"a squawk without a unit", "", "", []airworthiness.Defect{squawk("a"), belt}, nil, none, undone, airworthiness.Undetermined},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := compiled(t, pairing(c.when, c.limitation))
			a := known(units("lamp", nil, nil)...)
			a.Units = append(a.Units,
				airworthiness.Unit{ID: "c", Item: "lamp", Needs: []string{"s"}}, airworthiness.Unit{ID: "s", Item: "belt"},
				airworthiness.Unit{ID: "g", Item: "gauge"}, airworthiness.Unit{ID: "h", Item: "gauge"},
				airworthiness.Unit{ID: "i", Item: "gauge"}, airworthiness.Unit{ID: "d", Item: "display"})
			w := world{aircraft: a, defects: c.defects, flight: dated()}
			if c.flight != nil {
				c.flight(&w.flight)
			}
			row, verdict := outcome(t, r, w, "two-lamps")
			set, _ := outcome(t, r, w, "the-set")
			if row != c.row || set != c.set || verdict != c.verdict {
				told := judge(t, r, w)
				t.Errorf("the row %s, the set %s, %s; want %s, %s, %s:%s", row, set, verdict, c.row, c.set, c.verdict, tell(told.tell(w.defects)))
			}
		})
	}
}

// TestARowOnTwoIsInForceOnItsDays holds that before and after its days the set alone is asked about.
func TestARowOnTwoIsInForceOnItsDays(t *testing.T) {
	t.Parallel()
	tables := pairing("", "by day")
	tables.Interactions[0].From, tables.Interactions[0].To = day("2026-06-01"), day("2026-06-02")
	r := compiled(t, tables)
	w := world{aircraft: known(units("lamp", nil, nil)...), flight: dated()}
	for _, id := range []string{"a", "b"} {
		w.defects = append(w.defects, airworthiness.Defect{ID: id, Kind: airworthiness.KindInoperative, Unit: id, Deferral: done(airworthiness.Deactivated)})
	}
	for date, want := range map[string]string{"2026-05-31": "the-set", "2026-06-01": "two-lamps", "2026-06-02": "the-set"} {
		w.flight.On, w.flight.Ends = day(date), dated().Ends
		for _, row := range []string{"the-set", "two-lamps"} {
			if o, _ := outcome(t, r, w, row); (o == undone) != (row == want) {
				t.Errorf("%s: %s is %s", date, row, o)
			}
		}
	}
}

// TestSixtyFourRowsOnTwo holds the bound of the rows: as many as a machine word has bits, and no more.
func TestSixtyFourRowsOnTwo(t *testing.T) {
	t.Parallel()
	tables := pairing("", "by day")
	row := tables.Interactions[0]
	for i := range 63 {
		row.ID = fmt.Sprintf("row-%d", i)
		tables.Interactions = append(tables.Interactions, row)
	}
	r := compiled(t, tables)
	w := world{aircraft: known(units("lamp", nil, nil)...), flight: dated()}
	for _, id := range []string{"a", "b"} {
		w.defects = append(w.defects, airworthiness.Defect{ID: id, Kind: airworthiness.KindInoperative, Unit: id, Deferral: done(airworthiness.Deactivated)})
	}
	if o, _ := outcome(t, r, w, "row-62"); o != undone {
		t.Errorf("the last row is %s", o)
	}
	row.ID = "one-more"
	tables.Interactions = append(tables.Interactions, row)
	if _, err := airworthiness.Compile(tables); err == nil {
		t.Error("a row too many compiles")
	}
}
