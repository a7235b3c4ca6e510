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

// TestNoResultStandsTwiceByHand holds that the database takes no result twice, in one report or in two, and files a squawk of
// none but a result.
func TestNoResultStandsTwiceByHand(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	measured := `'{}', '{}', '{}', '{}'`
	report := func(number, letters string) string {
		var list []string
		for _, letter := range strings.Split(letters, ",") {
			list = append(list, "00000000-0000-7000-8000-0000000000"+letter)
		}
		ids := strings.Join(list, ",")
		return spell(`INSERT INTO walkaround_report (organization, walkaround, number, at, by, late, ids, results, measured_ids, measured, measured_at, measured_values)
			VALUES (@org, @walkaround, `+number+`, now(), 'P. Lot', false, '{`+ids+`}', '[]', `+measured+`)`, 1)
	}
	do(t, conn, report("2", "0a,0b"))
	wantRefused(t, conn, report("3", "0b"), "walkaround_report_result_once")
	wantRefused(t, conn, report("3", "0c,0c"), "walkaround_report_result_once")
	wantRefused(t, conn, report("3", "77,0c"), "walkaround_report_result_once")
	wantRefused(t, conn, report("2", "0c"), "walkaround_report_pkey")
	wantRefused(t, conn, report("0", "0c"), "walkaround_report_number_counts")
	of := func(letters string) string { return `'{00000000-0000-7000-8000-0000000000` + letters + `}'` }
	for _, measured = range []string{
		of("0d") + `, '{oil}', '{now}', '{6}'`, of("77") + `, '{oil}', '{now}', '{6}'`, of("0c") + `, '{oil,fuel}', '{now}', '{6}'`,
		of("0c") + `, '{oil}', '{now,now}', '{6}'`, of("0c") + `, '{oil}', '{now}', '{6,7}'`, of("0c") + `, '{oil}', '{now}', '{}'`, `'{}', '{oil}', '{now}', '{6}'`,
		of("0c") + `, '{NULL}', '{now}', '{6}'`, of("0c") + `, '{oil}', '{NULL}', '{6}'`, of("0c") + `, '{oil}', '{now}', '{NULL}'`,
	} {
		wantRefused(t, conn, report("3", "0c"), "walkaround_report_measures_its_results")
	}
	for _, measured = range []string{
		`'{00000000-0000-7000-8000-00000000000c,00000000-0000-7000-8000-00000000000c}', '{oil,fuel}', '{now,now}', '{6,6}'`, `'{NULL}', '{oil}', '{now}', '{6}'`,
	} {
		wantRefused(t, conn, report("3", "0c"), "walkaround_report_result_once")
	}
	measured = of("0c") + `, '{oil}', '{now}', '{6}'`
	do(t, conn, report("3", "0c"))
	wantRefused(t, conn, spell(`INSERT INTO walkaround_squawk (organization, walkaround, result, squawk, at, by)
		VALUES (@org, @walkaround, '00000000-0000-7000-8000-000000000077', @squawk, now(), 'P. Lot')`, 1), "walkaround_squawk_pkey")
	wantRefused(t, conn, spell(`INSERT INTO walkaround_squawk (organization, walkaround, result, squawk, at, by)
		VALUES (@org, @walkaround, @other, @squawk, now(), 'P. Lot')`, 1), "walkaround_squawk_of_a_result")
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
