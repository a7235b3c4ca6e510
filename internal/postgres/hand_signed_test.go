package postgres_test

import (
	"fmt"
	"strings"
	"testing"
)

// signedText is what the sample signature is under; ~ puts in an identifier without its quotes.
const signedText = `{"organization": "~org", "aircraft": "~aircraft", "squawk": "~squawk", "signer": {"person": "~person", "name": "M. Chanic",
	"certificate": "~paper", "kind": "mechanic", "number": "M-1"}, "act": {"action": "work", "work": "repair", "result": "repaired"}}`

// signAs is a signature whose columns may be given otherwise, and whose act may be another.
func signAs(id, act string, change ...string) string {
	columns := []string{
		"organization", "id", "aircraft", "squawk", "action", "person", "name", "certificate", "certificate_version", "certificate_kind",
		"certificate_number", "ratings", "authority", "digest", "text", "proven", "day", "at", "corrects",
	}
	text := strings.Replace(signedText, `{"action": "work", "work": "repair", "result": "repaired"}`, act, 1)
	action, _, _ := strings.Cut(strings.TrimPrefix(act, `{"action": "`), `"`)
	values := []string{
		"@org", id, "@aircraft", "@squawk", "'" + action + "'", "@person", "'M. Chanic'", "@paper", "1", "'mechanic'", "'M-1'", "'{airframe}'",
		`'[{"row": "r"}]'`, "sha256(convert_to('" + text + "', 'UTF8'))", "'" + text + "'", "'password'", "'2031-05-04'", "'2031-05-04 12:00:00+00'", "NULL",
	}
	for i, column := range columns {
		for n := 0; n+1 < len(change); n += 2 {
			if change[n] == column {
				values[i] = change[n+1]
			}
		}
	}
	return "INSERT INTO signature (" + strings.Join(columns, ", ") + ") VALUES (" + strings.Join(values, ", ") + ")"
}

const workAct = `{"action": "work", "work": "repair", "result": "repaired"}`

var signIt = signAs("@paper", workAct)

// TestNobodySignsByHandWhatDoesNotHold tries to sign otherwise than the certificate and the text say.
func TestNobodySignsByHandWhatDoesNotHold(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	for _, c := range []struct{ column, value, by string }{
		{"digest", `'\x00'`, "signature_digest_of_text"},
		{"digest", "sha256('')", "signature_digest_of_text"},
		{"action", "'defer'", "signature_says_what_it_is"},
		{"name", "'P. Lot'", "signature_says_what_it_is"},
		{"name", "''", "signature_name_given"},
		{"squawk", "@second", "signature_says_what_it_is"},
		{"squawk", "NULL", "signature_about_squawk"},
		{"person", "@control", "signature_says_what_it_is"},
		{"certificate_number", "'M-2'", "signature_says_what_it_is"},
		{"ratings", "'{airframe,powerplant}'", "signature_certificate_fkey"},
		{"certificate_version", "2", "signature_certificate_in_force"},
		{"corrects", "@paper", "signature_correction_corrects"},
		{"authority", "'[]'", "signature_authority_given"},
		{"proven", "'a nod'", "proof_known"},
		{"day", "'2031-05-05'", "signature_certificate_in_force"}, // it is the 4th at the base
		{"at", "'2031-05-05 05:00:00+00'", "signature_certificate_in_force"},
	} {
		wantRefused(t, conn, spell(signAs("@other", workAct, c.column, c.value), 1), c.by)
	}
	do(t, conn, spell(`BEGIN; `+signAs("@other", workAct, "at", "'2031-05-05 04:59:59+00'")+`; ROLLBACK`, 1)) // still the 4th there

	follow := func(version int, change string) string {
		values := strings.Replace(`2020-01-01', NULL, false, @control`, strings.SplitN(change, "=>", 2)[0], strings.SplitN(change+"=>", "=>", 3)[1], 1)
		return spell(fmt.Sprintf(`INSERT INTO certificate (organization, id, version, person, name, kind, number, grade, ratings, trained, valid_from,
			valid_until, ended, entered_by, by, at) VALUES (@org, @paper, %d, @person, 'M. Chanic', 'mechanic', 'M-1', '', '{airframe}', '{}', '%s, 'M. Control', now())`, version, values), 1)
	}
	wantRefused(t, conn, follow(3, "x"), "certificate_follows")
	wantRefused(t, conn, follow(1, "x"), "certificate_pkey")
	wantRefused(t, conn, follow(2, "@control=>@person"), "certificate_by_another")
	do(t, conn, follow(2, "NULL=>'2031-05-03'"))
	wantRefused(t, conn, spell(signAs("@other", workAct), 1), "signature_certificate_in_force") // no longer the newest version
	wantRefused(t, conn, spell(signAs("@other", workAct, "certificate_version", "2"), 1), "signature_certificate_in_force")
	do(t, conn, follow(3, "false=>true"))
	wantRefused(t, conn, follow(4, "x"), "certificate_follows")
	wantRefused(t, conn, spell(signAs("@other", workAct, "certificate_version", "3"), 1), "signature_certificate_in_force") // ended
}

// TestNothingRestsByHandOnWhatWasNotSigned tries to make more of a signature than it says.
func TestNothingRestsByHandOnWhatWasNotSigned(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	step := func(step, signature, set string) string {
		return spell(`BEGIN; UPDATE squawk SET version = version + 1, `+set+` WHERE organization = @org AND id = @squawk;
			INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words, signature)
				SELECT organization, id, version, now(), 'M. Chanic', '`+step+`', state, '', `+signature+` FROM squawk WHERE organization = @org AND id = @squawk; COMMIT`, 1)
	}
	for _, unsigned := range []string{"out-of-use", "extend", "carry-on", "work", "return-to-service", "check-flight", "correct"} {
		wantRefused(t, conn, step(unsigned, "NULL", "confirmed = true"), "squawk_history_signed")
	}
	wantRefused(t, conn, step("return-to-service", "@paper", "state = 'closed'"), "squawk_history_signature_fkey")
	wantRefused(t, conn, step("work", "@other", "confirmed = true"), "squawk_history_signature_fkey")
	for _, progress := range []string{
		`{"work": {"signature": "~paper", "work": "major-repair", "result": "repaired"}}`,
		`{"work": {"signature": "~paper", "work": "repair", "result": "repaired", "data": "never looked at"}}`,
		`{"approved": {"signature": "~paper"}}`,
		`{"out_of_use": {"signature": "~paper"}}`,
		`{"work": {"signature": "~person", "work": "repair", "result": "repaired"}}`,
		`{"work": {"work": "repair", "result": "repaired"}}`,
		`{"blessed": {"signature": "~paper"}}`,
	} {
		wantRefused(t, conn, step("work", "@paper", `progress = '`+progress+`'`), "squawk_progress_signed")
	}
	do(t, conn, step("work", "@paper", `progress = '{"work": {"signature": "~paper", "work": "repair", "result": "repaired"}}'`))
	wantRefused(t, conn, step("work", "@paper", "confirmed = true"), "squawk_history_signature_once")
	wantRefused(t, conn, step("note", "NULL", "duplicate_of = @second"), "squawk_duplicate_closed")
	wantRefused(t, conn, step("note", "NULL", "state = 'closed', duplicate_of = @squawk"), "squawk_duplicate_closed")
	wantRefused(t, conn, step("note", "NULL", "state = 'closed', duplicate_of = @other"), "squawk_duplicate_fkey")
}

// TestNoDeferralByHandBeyondWhatWasSigned tries deferrals that say otherwise than their signature.
func TestNoDeferralByHandBeyondWhatWasSigned(t *testing.T) {
	t.Parallel()
	conn := hand(t)
	do(t, conn, ask(1))
	act := `{"action": "defer", "method": "deactivated", "placard": "INOP", "entry": "log 1", "until": "2031-06-04T00:00:00Z", "considered": ["00002"]}`
	do(t, conn, spell(signAs("@event", act), 1))
	deferral := func(column, value string) string {
		columns := []string{
			"basis", "method", "placard", "entry", "determined_by", "determined_at", "until", "considered", "signature", "extended_until",
		}
		values := []string{
			"'91.213(d)'", "'deactivated'", "'INOP'", "'log 1'", "'M. Chanic'", "'2031-05-04 12:00:00+00'", "'2031-06-04 00:00:00+00'", "'{00002}'",
			"@event", "NULL",
		}
		for i := range columns {
			if columns[i] == column {
				values[i] = value
			}
		}
		return spell(`INSERT INTO deferral (organization, id, squawk, `+strings.Join(columns, ", ")+`) VALUES (@org, @other, @squawk, `+strings.Join(values, ", ")+`)`, 1)
	}
	for _, c := range [][2]string{
		{"method", "'removed'"},
		{"placard", "'OK'"},
		{"entry", "'log 2'"},
		{"determined_at", "'2031-05-04 13:00:00+00'"},
		{"until", "'2031-06-05 00:00:00+00'"},
		{"considered", "'{}'"},
		{"signature", "@paper"},
		{"signature", "@other"},
		{"extended_until", "'2031-07-01'"},
	} {
		wantRefused(t, conn, deferral(c[0], c[1]), "deferral_signed")
	}
	do(t, conn, deferral("", ""))
	if carried := column[bool](t, conn, spell(`SELECT carried_over FROM deferral WHERE organization = @org ORDER BY id`, 1)); len(carried) != 2 || !carried[0] || carried[1] {
		t.Errorf("carried over from paper: %v, want the first, which nobody signed, and not the second", carried)
	}
}
