package httpapi_test

import (
	"encoding/json"
	"net/http"
	"slices"
	"strings"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/inquiry"
	"tiedown/internal/techlog"
)

// TestAnEvaluationSaysWhatWouldSettleIt asks for a case without the fact that decides it: whether the flight is for hire
// (14 CFR 91.205(c)(4), eCFR title 14 issue 2026-08-24).
func TestAnEvaluationSaysWhatWouldSettleIt(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	body := strings.Replace(sampleCase, `"for_hire": true, `, "", 1)
	ask := func(query string) inquiry.Evaluation {
		t.Helper()
		return shownTo[inquiry.Evaluation](t, r, asked{method: "POST", path: "/v1/evaluations" + query, body: body})
	}
	if e := ask(""); e.Settling != nil || e.Summary == "" {
		t.Errorf("unasked: %+v", e)
	}
	e := ask("?settle=true")
	if e.Settling == nil || e.Settling.Verdict != e.Verdict {
		t.Fatalf("asked: %+v", e)
	}
	if got := r.ask(t, asked{method: "POST", path: "/v1/evaluations?settle=maybe", body: body}); got.status != http.StatusUnprocessableEntity {
		t.Errorf("settle=maybe: %d %s", got.status, got.body)
	}
	if got := shownTo[inquiry.Evaluation](t, r, asked{method: "POST", path: "/v1/evaluations?settle=true", body: sampleCase}); got.Settling == nil || len(got.Settling.Sets) != 0 {
		t.Errorf("a case that is %s has nothing to settle: %+v", got.Verdict, got.Settling)
	}
}

// TestTheEnvelopeFollowsTheSquawks holds that the envelope of an aircraft on record is no older than its last squawk,
// and says of an aircraft that is not on record what it says of one that is.
func TestTheEnvelopeFollowsTheSquawks(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	before := shownTo[inquiry.Envelope](t, x.rig, x.good["showEnvelope"]())
	nightForHire := func(e inquiry.Envelope) bool {
		return slices.ContainsFunc(e.Limits, func(l inquiry.Limit) bool { return l.Citation == "14 CFR 91.205(c)(4)" })
	}
	if nightForHire(before) {
		t.Fatalf("the landing light works, but: %s", before.Sentence)
	}
	report := x.good["fileSquawk"]()
	report.body = `{"kind": "inoperative", "unit": "ldg", "words": "landing light stays dark"}`
	created[client.FiledSquawk](t, x.rig, report)
	after := shownTo[inquiry.Envelope](t, x.rig, x.good["showEnvelope"]())
	if !nightForHire(after) || after.Permits {
		t.Errorf("with the landing light out and nothing deferred: %+v", after)
	}
	q := x.good["showEnvelope"]()
	q.path += "?until=2026-11-26T21:00:00-05:00"
	if e := shownTo[inquiry.Envelope](t, x.rig, q); e.On != "2026-11-26" {
		t.Errorf("until the evening of the 26th: on %s", e.On)
	}

	squawk := after.Limits[len(after.Limits)-1].Defects[0] // as the records name it
	entry := trainer(x.fleet.home.Id)
	twin := shownTo[inquiry.Envelope](t, x.rig, asked{method: "POST", path: "/v1/envelopes", body: marshal(t, map[string]any{
		"aircraft": map[string]any{"facts": entry.Facts, "configuration": entry.Configuration}, "until": after.Until,
		"defects": []any{map[string]any{"id": squawk, "kind": "inoperative", "unit": "ldg"}},
	})})
	if a, b := marshal(t, after), marshal(t, twin); a != b {
		t.Errorf("on record\n%s\nnot on record\n%s", a, b)
	}
	for _, role := range techlog.Roles() {
		q := x.good["showEnvelope"]()
		q.token = x.rig.tokens[role]
		if got := x.rig.ask(t, q); got.status != http.StatusOK {
			t.Errorf("as %s: %d", role, got.status)
		}
	}
}

// shownTo sends a request that is answered with 200, and returns the answer.
func shownTo[T any](t *testing.T, r *rig, q asked) T {
	t.Helper()
	got := r.ask(t, q)
	var answer T
	if err := json.Unmarshal(got.body, &answer); err != nil || got.status != http.StatusOK {
		t.Fatalf("%s %s: %d %s", q.method, q.path, got.status, got.body)
	}
	return answer
}
