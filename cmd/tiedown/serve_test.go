package main

import (
	"encoding/json"
	"fmt"
	"net"
	"strings"
	"syscall"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/testrig/pgtest"
)

// record is one record of a list, as far as these tests look at it.
type record struct {
	ID    string `json:"id"`
	State string `json:"state"`
	Hold  struct {
		Verdict string `json:"verdict"`
	} `json:"hold"`
}

// list reads a whole list; what is its name.
func list(t *testing.T, p *process, what string) []record {
	t.Helper()
	status, body := p.get("pilot", "/v1/"+what+"?limit=200")
	if status != 200 {
		t.Fatalf("%s: %d %s", what, status, body)
	}
	var l map[string][]record
	if err := json.Unmarshal([]byte(body), &l); err != nil {
		t.Fatalf("%s: %v in %s", what, err, body)
	}
	return l[what]
}

// TestTheDemoClubFromNothing starts as a person does on a new machine, stops with Ctrl-C, starts again, is killed, and
// starts once more. Nothing is lost on the way.
func TestTheDemoClubFromNothing(t *testing.T) {
	t.Parallel()
	state := "TIEDOWN_STATE_DIR=" + stateDir(t)
	first := start(t, "demo", state)
	if len(first.tokens) != 5 {
		t.Fatalf("tokens for %v, want one for each of the five roles", first.tokens)
	}
	flights := list(t, first, "flights")
	if len(flights) < 25 {
		t.Errorf("%d flights, want 25 or more", len(flights))
	}
	verdicts := map[string]int{}
	for _, f := range flights {
		verdicts[f.Hold.Verdict]++
	}
	for _, v := range []string{"clear", "limited", "defer-first", "undetermined", "grounded"} {
		if verdicts[v] == 0 {
			t.Errorf("no flight is %s: %v", v, verdicts)
		}
	}
	states := map[string]int{}
	for _, s := range list(t, first, "squawks") {
		states[s.State]++
	}
	if states["reported"] == 0 || states["deferred"] == 0 || states["closed"] == 0 {
		t.Errorf("squawks by state: %v, want some of each", states)
	}
	if n := len(list(t, first, "aircraft")); n != 6 {
		t.Errorf("%d aircraft, want 6", n)
	}
	showsASlowLeak(t, first)
	if err := first.stop(syscall.SIGINT); err != nil {
		t.Fatalf("Ctrl-C: %v\n%s", err, first.stderr)
	}

	second := start(t, "demo", state)
	if fmt.Sprint(second.tokens) != fmt.Sprint(first.tokens) {
		t.Error("the second start prints other tokens")
	}
	aircraft := list(t, second, "aircraft")[0].ID
	status, body := second.post("pilot", "/v1/aircraft/"+aircraft+"/squawks", `{"kind":"condition","item":"tire","words":"Flat."}`)
	if status != 201 {
		t.Fatalf("filing a squawk: %d %s", status, body)
	}
	before := len(list(t, second, "squawks"))
	if err := second.stop(syscall.SIGKILL); err == nil {
		t.Fatal("a killed program ends well")
	}

	third := start(t, "demo", state)
	if after := len(list(t, third, "squawks")); after != before {
		t.Errorf("%d squawks after the kill, %d before", after, before)
	}
	if n := len(list(t, third, "flights")); n != len(flights) {
		t.Errorf("%d flights after three starts, %d after the first", n, len(flights))
	}
	if err := third.stop(syscall.SIGTERM); err != nil {
		t.Fatalf("the order to stop: %v\n%s", err, third.stderr)
	}

	// What is left can be looked at without serving it.
	code, out, stderr := call(t, "", []string{"rules", "diff", "current", "current"}, state)
	if want := fmt.Sprintf("%d flights judged: 0 verdicts change", len(flights)); code != 0 || !strings.HasPrefix(out, want) {
		t.Errorf("rules diff on the state folder: exit %d, %s%s, want %s", code, out, stderr, want)
	}
}

// TestTwoInstancesSideBySide holds that two with settings of their own do not meet.
func TestTwoInstancesSideBySide(t *testing.T) {
	t.Parallel()
	one := start(t, "demo", "TIEDOWN_STATE_DIR="+stateDir(t))
	two := start(t, "demo", "TIEDOWN_STATE_DIR="+stateDir(t))
	if one.addr == two.addr {
		t.Fatalf("both listen on %s", one.addr)
	}
	two.tokens = one.tokens
	if status, body := two.get("pilot", "/v1/flights"); status != 401 {
		t.Errorf("the one's token at the other: %d %s, want 401", status, body)
	}
}

// TestADatabaseOfOnesOwn serves from a database that is given.
func TestADatabaseOfOnesOwn(t *testing.T) {
	t.Parallel()
	url := "TIEDOWN_DATABASE_URL=" + pgtest.New(t)
	p := start(t, "serve", url, "TIEDOWN_STATE_DIR="+stateDir(t))
	if status, body := p.get("", "/readyz"); status != 200 {
		t.Errorf("/readyz: %d %s", status, body)
	}
	if status, _ := p.get("", "/v1/flights"); status != 401 {
		t.Errorf("without a token: %d, want 401", status)
	}
	code, out, stderr := call(t, "", []string{"organization", "Two Oaks"}, url, "TIEDOWN_STATE_DIR="+stateDir(t))
	if code != 0 || !strings.Contains(out, "td_") {
		t.Fatalf("organization: %d %s%s", code, out, stderr)
	}
	p.tokens["administrator"] = out[strings.Index(out, "td_") : len(out)-1]
	if status, body := p.get("administrator", "/v1/aircraft"); status != 200 || !strings.Contains(body, `"aircraft":[]`) {
		t.Errorf("an empty fleet: %d %s", status, body)
	}
}

func TestABusyAddressIsSaidAtOnce(t *testing.T) {
	t.Parallel()
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	dir := stateDir(t)
	code, _, stderr := call(t, "", []string{"serve"}, "TIEDOWN_ADDR="+taken.Addr().String(), "TIEDOWN_STATE_DIR="+dir)
	if code != exitFailed || !strings.Contains(stderr, "address already in use") {
		t.Errorf("serve: %d %q", code, stderr)
	}
}

// showsASlowLeak holds that the club's trainer has two months of measurements, and that the one slow leak among them is
// named in its status.
func showsASlowLeak(t *testing.T, p *process) {
	t.Helper()
	trainer := list(t, p, "aircraft")[0].ID
	status, body := p.get("pilot", "/v1/aircraft/"+trainer+"/trends")
	var l casefile.TrendList
	if err := json.Unmarshal([]byte(body), &l); err != nil || status != 200 {
		t.Fatalf("%d %v %s", status, err, body)
	}
	states := map[string]string{}
	for _, s := range l.Trends {
		states[s.Check] = s.State
		if s.Measurements != 30 || s.By != "hours" || s.Flagged != (s.Check == "tire-pressure-left") {
			t.Errorf("%+v", s)
		}
	}
	if states["tire-pressure-left"] != "reaches" || states["oil-level"] != "drifting" || states["nose-strut"] != "steady" || states["tire-pressure-right"] != "steady" {
		t.Errorf("%v", states)
	}
	_, body = p.get("pilot", "/v1/aircraft/"+trainer+"/status")
	var s casefile.Status
	if err := json.Unmarshal([]byte(body), &s); err != nil || len(s.Notes) != 1 || s.Notes[0].Trend.Check != "tire-pressure-left" {
		t.Errorf("%v %+v", err, s.Notes)
	}
}
