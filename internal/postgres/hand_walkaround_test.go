package postgres_test

import (
	"strings"
	"testing"
)

// TestWalkaroundsAreNotChangedByHand is a hand on psql among walkarounds.
func TestWalkaroundsAreNotChangedByHand(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	update := func(set string) string {
		return spell(`UPDATE walkaround SET version = version + 1, `+set+` WHERE organization = @org AND id = @walkaround`, 1)
	}
	for _, column := range []string{"aircraft", "flight", "checklist", "place", "moisture", "started_by", "started_at", "id"} {
		wantRefused(t, conn, update(column+` = `+column), "walkaround_start_kept")
	}
	wantRefused(t, conn, spell(`UPDATE walkaround SET left_open = '{oil}' WHERE organization = @org AND id = @walkaround`, 1), "walkaround_moves_by_versions")
	wantRefused(t, conn, update(`state = 'completed'`), "walkaround_completed_by_somebody")
	wantRefused(t, conn, update(`state = 'completed', completed_by = 'P. Lot'`), "walkaround_completed_by_somebody")
	wantRefused(t, conn, update(`completed_by = 'P. Lot', completed_at = now()`), "walkaround_completed_by_somebody")
	wantRefused(t, conn, update(`state = 'begun'`), "walkaround_state_known")
	do(t, conn, update(`state = 'completed', completed_by = 'P. Lot', completed_at = now(), left_open = '{oil}'`))
	wantRefused(t, conn, update(`left_open = '{}'`), "walkaround_completion_kept")
	wantRefused(t, conn, update(`completed_by = 'M. Chanic'`), "walkaround_completion_kept")
	wantRefused(t, conn, update(`state = 'open', completed_by = '', completed_at = NULL`), "walkaround_completion_kept")
	do(t, conn, update(`left_open = '{oil}'`)) // counts the version up, as a late report does
}

// TestResultsComeOutOfReports holds that the database takes results out of a report itself, and takes none twice.
func TestResultsComeOutOfReports(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	report := func(number, results string) string {
		return spell(`INSERT INTO walkaround_report (organization, walkaround, number, at, by, late, results)
			VALUES (@org, @walkaround, `+number+`, now(), 'P. Lot', false, '`+results+`')`, 1)
	}
	const one = `{"id": "00000000-0000-7000-8000-0000000000ID", "check": "strut", "outcome": "good", "said": {"value": 4.25}, "made_at": "2031-05-04T12:00:00Z"}`
	result := func(id string) string { return strings.Replace(one, "ID", id, 1) }
	do(t, conn, report("2", `[`+result("01")+`,`+result("02")+`]`))
	if got := column[float64](t, conn, spell(`SELECT value FROM walkaround_result WHERE organization = @org AND walkaround = @walkaround AND report = 2 ORDER BY id`, 1)); len(got) != 2 || got[0] != 4.25 {
		t.Errorf("taken out: %v", got)
	}
	wantRefused(t, conn, report("3", `[`+result("02")+`]`), "walkaround_result_pkey")
	wantRefused(t, conn, report("3", `[`+result("03")+`,`+result("03")+`]`), "walkaround_result_pkey")
	wantRefused(t, conn, report("2", `[]`), "walkaround_report_pkey")
	wantRefused(t, conn, report("0", `[]`), "walkaround_report_number_counts")
	wantRefused(t, conn, report("3", strings.Replace(`[`+result("03")+`]`, "good", "fine", 1)), "check_outcome_known")
	wantRefused(t, conn, spell(`INSERT INTO walkaround_squawk (organization, walkaround, result, squawk, at, by)
		VALUES (@org, @walkaround, '00000000-0000-7000-8000-000000000077', @squawk, now(), 'P. Lot')`, 1), "walkaround_squawk_pkey")
	wantRefused(t, conn, spell(`INSERT INTO walkaround_squawk (organization, walkaround, result, squawk, at, by)
		VALUES (@org, @walkaround, @other, @squawk, now(), 'P. Lot')`, 1), "walkaround_squawk_result_fkey")
}

// TestTheBookOfAMeterGoesOnByHand holds that no hand puts hours back without a word, or leaves out an entry.
func TestTheBookOfAMeterGoesOnByHand(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	entry := func(meter, number, hours, because string) string {
		return spell(`INSERT INTO meter_entry (organization, aircraft, meter, number, hours, at, by, because)
			VALUES (@org, @aircraft, '`+meter+`', `+number+`, `+hours+`, now(), 'P. Lot', '`+because+`')`, 1)
	}
	wantRefused(t, conn, entry("tach", "2", "99.9", ""), "meter_entry_follows_the_book")
	wantRefused(t, conn, entry("tach", "2", "99.9", " "), "meter_entry_follows_the_book")
	wantRefused(t, conn, entry("tach", "3", "101", ""), "meter_entry_follows_the_book")
	wantRefused(t, conn, entry("hobbs", "0", "101", ""), "meter_entry_follows_the_book")
	wantRefused(t, conn, entry("hobbs", "2", "101", ""), "meter_entry_follows_the_book")
	wantRefused(t, conn, entry("tach", "1", "101", ""), "meter_entry_pkey")
	wantRefused(t, conn, entry("tach", "2", "-1", "broken"), "meter_entry_hours_range")
	wantRefused(t, conn, entry("clock", "1", "1", ""), "meter_known")
	do(t, conn, entry("tach", "2", "101.5", ""))
	do(t, conn, entry("tach", "3", "0", "tachometer replaced"))
	do(t, conn, entry("hobbs", "1", "2000", ""))
}
