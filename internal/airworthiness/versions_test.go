package airworthiness_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// TestVersionsFollowOneAnother judges on both sides of the day on which one version of a row gives way to the next.
func TestVersionsFollowOneAnother(t *testing.T) {
	t.Parallel()
	change := day("2026-06-01")
	before, after := func(o airworthiness.Origin) airworthiness.Origin { o.To = change; return o },
		func(o airworthiness.Origin) airworthiness.Origin { o.From = change; return o }
	on := func(date airworthiness.Date) airworthiness.Flight {
		f := dated()
		f.On = date
		return f
	}
	requirements, eligibility, reliefs, procedure := small(), small(), small(), small()

	one := requirements.Requirements[0]
	two := one
	one.Origin, two.Origin, two.Quantity = before(one.Origin), after(two.Origin), "2"
	requirements.Requirements = []airworthiness.RequirementRow{two, one} // in any order

	open := eligibility.Eligibility[0]
	closed := open
	open.Origin, closed.Origin, closed.When = before(open.Origin), after(closed.Origin), "category:glider"
	eligibility.Eligibility = []airworthiness.EligibilityRow{open, closed}

	want := reliefs.Requirements[0]
	want.Quantity = "2"
	reliefs.Requirements[0] = want
	ease := airworthiness.ReliefRow{Origin: want.Origin, Relieves: []string{want.ID}}
	ease.ID = "ease"
	none := ease
	ease.Origin, none.Origin, none.When = before(ease.Origin), after(none.Origin), "category:glider"
	reliefs.Reliefs = []airworthiness.ReliefRow{ease, none}

	away := procedure.Procedure[0]
	strict := away
	away.Origin, strict.Origin, strict.Otherwise = before(away.Origin), after(strict.Origin), airworthiness.Grounded
	procedure.Procedure = []airworthiness.ProcedureRow{away, strict}

	lamp := airworthiness.Defect{ID: "lamp", Kind: airworthiness.KindInoperative, Unit: "l"}
	deferred := lamp
	deferred.Deferral = done(airworthiness.Deactivated)
	for name, c := range map[string]struct {
		tables    airworthiness.Tables
		defects   []airworthiness.Defect
		was, then airworthiness.Verdict
	}{
		"a requirement":       {requirements, nil, airworthiness.Clear, airworthiness.Grounded},
		"a class of aircraft": {eligibility, []airworthiness.Defect{deferred}, airworthiness.Clear, airworthiness.Grounded},
		"a relief":            {reliefs, nil, airworthiness.Clear, airworthiness.Grounded},
		"a step":              {procedure, []airworthiness.Defect{lamp}, airworthiness.DeferFirst, airworthiness.Grounded},
	} {
		r := compiled(t, c.tables)
		w := world{aircraft: known(append(units("gauge", nil), airworthiness.Unit{ID: "l", Item: "lamp"})...), defects: c.defects}
		for date, verdict := range map[airworthiness.Date]airworthiness.Verdict{change - 1: c.was, change: c.then} {
			w.flight = on(date)
			if a := judge(t, r, w); a.Verdict != verdict {
				t.Errorf("%s on %s: %s, want %s:%s", name, date, a.Verdict, verdict, tell(a.tell(w.defects)))
			}
		}
	}
}

// TestEveryTableRefusesGapsAndOverlaps tries each table that may hold versions.
func TestEveryTableRefusesGapsAndOverlaps(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ to, from, says string }{
		{"2026-06-01", "2026-06-02", "the row has no version in force from 2026-06-01 until 2026-06-02"},
		{"2026-06-02", "2026-06-01", "the row has two versions in force on 2026-06-01"},
	} {
		versions := func(o airworthiness.Origin) (airworthiness.Origin, airworthiness.Origin) {
			earlier, later := o, o
			earlier.To, later.From = day(c.to), day(c.from)
			return earlier, later
		}
		for name, change := range map[string]func(*airworthiness.Tables){
			"want": func(t *airworthiness.Tables) {
				row := t.Requirements[0]
				row.Origin, t.Requirements[0].Origin = versions(row.Origin)
				t.Requirements = append(t.Requirements, row)
			},
			"all": func(t *airworthiness.Tables) {
				row := t.Eligibility[0]
				row.Origin, t.Eligibility[0].Origin = versions(row.Origin)
				t.Eligibility = append(t.Eligibility, row)
			},
			"put-away": func(t *airworthiness.Tables) {
				row := t.Procedure[0]
				row.Origin, t.Procedure[0].Origin = versions(row.Origin)
				t.Procedure = append(t.Procedure, row)
			},
			"ease": func(t *airworthiness.Tables) {
				row := airworthiness.ReliefRow{Origin: airworthiness.Origin{ID: "ease"}, Relieves: []string{"want"}}
				other := row
				row.Origin, other.Origin = versions(row.Origin)
				t.Reliefs = []airworthiness.ReliefRow{row, other}
			},
			"both": func(t *airworthiness.Tables) {
				row := airworthiness.InteractionRow{Origin: airworthiness.Origin{ID: "both"}, First: "lamp", Second: "lamp"}
				other := row
				row.Origin, other.Origin = versions(row.Origin)
				t.Interactions = []airworthiness.InteractionRow{row, other}
			},
		} {
			tables := small()
			change(&tables)
			if _, err := airworthiness.Compile(tables); err == nil || !strings.Contains(err.Error(), name+": "+c.says) {
				t.Errorf("%s: it says %v, want %q", name, err, c.says)
			}
		}
	}
}

// TestExactlyOneVersionIsInForce holds that where nothing is in discord, every day from the first version's to the last's
// has exactly one, whatever the order of the rows.
func TestExactlyOneVersionIsInForce(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		start := day("2026-01-01")
		rows := make([]airworthiness.Origin, rapid.IntRange(1, 4).Draw(t, "versions"))
		at := start
		for i := range rows {
			rows[i].ID, rows[i].From = "a", at
			at += airworthiness.Date(rapid.IntRange(1, 5).Draw(t, "days"))
			rows[i].To = at
		}
		if chance(t, 50, "moved") {
			moved := &rows[rapid.IntRange(0, len(rows)-1).Draw(t, "which")]
			moved.To += airworthiness.Date(rapid.IntRange(0, 3).Draw(t, "by"))
			moved.From -= airworthiness.Date(rapid.IntRange(0, 1).Draw(t, "before"))
		}
		first, last := rows[0].From, rows[0].To
		for _, r := range rows {
			first, last = min(first, r.From), max(last, r.To)
		}
		exact := true
		for on := first; on < last; on++ {
			n := 0
			for _, r := range rows {
				if on >= r.From && on < r.To {
					n++
				}
			}
			exact = exact && n == 1
		}
		shuffled := rapid.Permutation(rows).Draw(t, "rows")
		if found := airworthiness.Discords(shuffled); exact != (len(found) == 0) {
			t.Fatalf("%v: exactly one on every day is %v, and the discords are %v", shuffled, exact, found)
		}
	})
}
