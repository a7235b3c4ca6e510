package httpapi_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/casefile"
)

// TestCompanyRulesHoldTheFleet holds that a rule of the organization's is in force on every planned flight when it is
// acknowledged, that taking it back releases them, and that a determination names both books.
func TestCompanyRulesHoldTheFleet(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	flight := x.flight(t)
	show := func() client.Flight {
		t.Helper()
		var f client.Flight
		got := x.rig.ask(t, asked{method: "GET", path: "/v1/flights/" + flight.Id.String()})
		if err := json.Unmarshal(got.body, &f); err != nil {
			t.Fatal(err)
		}
		return f
	}
	listed := func() client.Hold {
		t.Helper()
		var list client.Flights
		got := x.rig.ask(t, asked{method: "GET", path: "/v1/flights"})
		if err := json.Unmarshal(got.body, &list); err != nil {
			t.Fatal(err)
		}
		return list.Flights[0].Hold
	}
	put := func(version int, body string) answered {
		t.Helper()
		return x.rig.ask(t, asked{method: "PUT", path: "/v1/company-rules", header: ifMatch(version), body: body})
	}
	before := listed()

	const rule = `{"rules": [{"id": "company-extinguisher", "citation": "club rules, 7", "item": "fire-extinguisher", "quantity": "2",
		"words": "Two fire extinguishers."}]}`
	if got := put(0, rule); got.status != http.StatusOK || got.header.Get("ETag") != `"1"` {
		t.Fatalf("%d %s", got.status, got.body)
	}
	hold := listed()
	if hold.Verdict == before.Verdict || hold.Rules == before.Rules || len(hold.Rows) == 0 {
		t.Errorf("the hold was %+v and is %+v", before, hold)
	}
	if f := show(); f.Determination.Verdict != string(hold.Verdict) || f.Determination.Rules != hold.Rules {
		t.Errorf("listed %+v, shown %s by %s", hold, f.Determination.Verdict, f.Determination.Rules)
	}
	if got := put(0, rule); got.status != http.StatusPreconditionFailed {
		t.Errorf("an old version: %d %s", got.status, got.body)
	}
	if got := put(1, `{"rules": [{"id": "extinguisher", "citation": "x", "item": "no-such", "quantity": "1", "words": "x y z"}]}`); got.status != http.StatusUnprocessableEntity ||
		!strings.Contains(string(got.body), `"rules[0]`) {
		t.Errorf("a faulty rule: %d %s", got.status, got.body)
	}
	if got := put(1, `{"rules": []}`); got.status != http.StatusOK {
		t.Fatalf("%d %s", got.status, got.body)
	}
	if after := listed(); after.Verdict != before.Verdict || after.Rules != before.Rules {
		t.Errorf("the hold was %+v, and is %+v without the rule", before, after)
	}
}

// TestAKeptDeterminationIsJudgedAgain holds that what was kept is judged to the same bytes, whatever came after.
func TestAKeptDeterminationIsJudgedAgain(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	flight := x.flight(t)
	kept := created[client.Determination](t, x.rig, asked{method: "POST", path: "/v1/flights/" + flight.Id.String() + "/determinations"})
	x.squawk(t)

	var shown client.Determination
	got := x.rig.ask(t, asked{method: "GET", path: "/v1/determinations/" + kept.Id.String()})
	if err := json.Unmarshal(got.body, &shown); err != nil || shown.Record != kept.Record {
		t.Fatalf("%v %s", err, got.body)
	}
	record, err := casefile.ReadRecord([]byte(shown.Record))
	if err != nil {
		t.Fatal(err)
	}
	c, err := casefile.Decode(record.Case)
	if err != nil {
		t.Fatal(err)
	}
	question, err := casefile.Compile(c, book(t).Rules)
	if err != nil {
		t.Fatal(err)
	}
	if same, err := record.Same(casefile.Judge(question, book(t).Rules, book(t).Digest)); !same || err != nil {
		t.Errorf("judged again it is another: %v", err)
	}
}

// TestAnMELComesFromCSV holds that a list is read strictly, and governs the aircraft from then on.
func TestAnMELComesFromCSV(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	a := x.addAircraft(t, "N0MEL")
	put := func(version int, csv string) answered {
		t.Helper()
		return x.rig.ask(t, asked{
			method: "PUT", path: "/v1/aircraft/" + a.Id.String() + "/mel", header: ifMatch(version),
			body: marshal(t, client.MELImport{Csv: csv}),
		})
	}
	if got := put(1, melHeader+"landing-light,1,x,C,,false,false,,,\nno-such,1,0,E,,false,false,,,\n"); got.status != http.StatusUnprocessableEntity ||
		strings.Count(string(got.body), `"line":`) < 2 {
		t.Errorf("faults on two lines: %d %s", got.status, got.body)
	}
	if got := put(1, melHeader+"no-such,1,0,C,,false,false,,,\n"); got.status != http.StatusUnprocessableEntity || !strings.Contains(string(got.body), "csv.rows[0].item") {
		t.Errorf("an item that is not in the catalog: %d %s", got.status, got.body)
	}
	var changed client.Aircraft
	got := put(1, melHeader+"landing-light,1,0,C,,false,false,,!night,page 3\n")
	if err := json.Unmarshal(got.body, &changed); err != nil || got.status != http.StatusOK {
		t.Fatalf("%d %s", got.status, got.body)
	}
	mel := changed.Configuration.MEL
	if changed.Revision != a.Revision+1 || len(mel.Rows) != 1 || mel.Rows[0].OnlyWhen != "!night" || len(changed.Configuration.Units) != len(a.Configuration.Units) {
		t.Errorf("%+v", changed.Configuration.MEL)
	}
}
