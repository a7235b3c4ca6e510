package httpapi_test

import (
	"bytes"
	"maps"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/techlog"
)

// sameAnswer holds that an answer is an earlier one again, byte for byte.
func sameAnswer(t *testing.T, what string, first, again answered) {
	t.Helper()
	if again.status != first.status || !bytes.Equal(again.body, first.body) {
		t.Errorf("%s: first %d %s, then %d %s", what, first.status, first.body, again.status, again.body)
	}
	for _, name := range []string{"ETag", "Location", "Content-Type", "Content-Length"} {
		if again.header.Get(name) != first.header.Get(name) {
			t.Errorf("%s: %s was %q and is %q", what, name, first.header.Get(name), again.header.Get(name))
		}
	}
	if first.header.Get("Idempotency-Replayed") != "" || again.header.Get("Idempotency-Replayed") != "true" {
		t.Errorf("%s: said to be replayed: first %q, then %q", what, first.header.Get("Idempotency-Replayed"), again.header.Get("Idempotency-Replayed"))
	}
}

// TestARequestSentTwiceActsOnce sends every write twice with one key.
func TestARequestSentTwiceActsOnce(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	n := 0
	for operation, good := range x.good {
		q := good()
		if !x.takesKey(operation) {
			continue
		}
		n++
		q.header = maps.Clone(q.header)
		if q.header == nil {
			q.header = map[string]string{}
		}
		q.header["Idempotency-Key"] = "once " + operation
		first := x.rig.ask(t, q)
		if first.status >= 300 {
			t.Errorf("%s: %d %s", operation, first.status, first.body)
			continue
		}
		sameAnswer(t, operation, first, x.rig.ask(t, q))

		// The same key for another request is refused, and so is nobody else's business.
		another := q
		another.header = maps.Clone(q.header)
		if another.body != "" {
			another.body += " "
		} else {
			another.header["If-Match"] = `"7"`
		}
		if got := x.rig.ask(t, another); got.status != http.StatusUnprocessableEntity || !strings.HasSuffix(got.problem(t).Type, ":key-reused") {
			t.Errorf("%s with a key that was used: %d %s", operation, got.status, got.body)
		}
	}
	if n != 46 {
		t.Errorf("%d writes, want 46", n)
	}
}

// takesKey reports whether an operation takes an idempotency key: it writes an organization's records, and its answer
// holds no secret, which must not be kept.
func (x *exercise) takesKey(operation string) bool {
	for _, item := range x.rig.exchange.contract.Paths.Map() {
		for _, o := range item.Operations() {
			if o.OperationID == operation {
				return o.Parameters.GetByInAndName("header", "Idempotency-Key") != nil
			}
		}
	}
	return false
}

// TestKeysBelongToTheirToken holds that two people may make up the same key.
func TestKeysBelongToTheirToken(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	q := asked{method: "POST", path: "/v1/aircraft/" + f.aircraft.Id.String() + "/squawks", body: report, header: map[string]string{"Idempotency-Key": "1"}}
	q.token = r.tokens[techlog.Pilot]
	first := r.ask(t, q)
	q.token = r.tokens[techlog.Mechanic]
	second := r.ask(t, q)
	if first.status != 201 || second.status != 201 || bytes.Equal(first.body, second.body) || second.header.Get("Idempotency-Replayed") != "" {
		t.Errorf("first %d %s\nsecond %d %s", first.status, first.body, second.status, second.body)
	}
}

// TestARefusedRequestMayBeMended holds that a refusal is not kept under the key.
func TestARefusedRequestMayBeMended(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	q := asked{
		method: "POST", path: "/v1/aircraft/" + f.aircraft.Id.String() + "/squawks", header: map[string]string{"Idempotency-Key": "mended"},
		body: `{"kind": "inoperative", "unit": "no-such-unit", "words": "dark"}`,
	}
	if got := r.ask(t, q); got.status != 422 || strings.Join(got.faults(t), " ") != "installed unit" {
		t.Fatalf("%d %s", got.status, got.body)
	}
	q.body = report
	if got := r.ask(t, q); got.status != 201 {
		t.Errorf("mended: %d %s", got.status, got.body)
	}
}

// TestTwinsActOnce sends one request many times at once.
func TestTwinsActOnce(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	q := asked{method: "POST", path: "/v1/aircraft/" + f.aircraft.Id.String() + "/squawks", body: report, header: map[string]string{"Idempotency-Key": "twins"}}
	answers := make([]answered, 6)
	var wg sync.WaitGroup
	for i := range answers {
		wg.Go(func() { answers[i] = r.ask(t, q) })
	}
	wg.Wait()
	fresh := 0
	for _, a := range answers {
		if a.status != 201 || !bytes.Equal(a.body, answers[0].body) {
			t.Errorf("%d %s, want as the others %s", a.status, a.body, answers[0].body)
		}
		if a.header.Get("Idempotency-Replayed") == "" {
			fresh++
		}
	}
	list, err := r.as(t, techlog.Pilot).ListSquawksWithResponse(t.Context(), nil)
	if err != nil || list.JSON200 == nil || len(list.JSON200.Squawks) != 1 || fresh != 1 {
		t.Errorf("%d answers were fresh; squawks: %s", fresh, list.Body)
	}
}

// TestAStaleVersionChangesNothing walks every update with a version that is no longer the present one.
func TestAStaleVersionChangesNothing(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	n := 0
	for _, operation := range []string{"changeBase", "changeAircraft", "changeConfiguration", "importMEL", "changeFlight", "cancelFlight"} {
		q := x.good[operation]()
		if operation != "cancelFlight" { // a cancelled flight is a conflict, whatever its version
			first := x.rig.ask(t, q)
			if first.status != 200 || first.header.Get("ETag") != `"2"` {
				t.Errorf("%s: %d, ETag %s", operation, first.status, first.header.Get("ETag"))
			}
		} else {
			q.header = ifMatch(2)
		}
		shown := asked{method: "GET", path: strings.TrimSuffix(strings.TrimSuffix(strings.TrimSuffix(q.path, "/configuration"), "/mel"), "/cancellation")}
		before := x.rig.ask(t, shown)
		if got := x.rig.ask(t, q); got.status != http.StatusPreconditionFailed {
			t.Errorf("%s: %d %s", operation, got.status, got.body)
		}
		if after := x.rig.ask(t, shown); after.header.Get("ETag") != before.header.Get("ETag") || before.status != 200 {
			t.Errorf("%s: the record went from %s to %s", operation, before.header.Get("ETag"), after.header.Get("ETag"))
		}
		n++
	}
	if n != 6 {
		t.Errorf("%d updates", n)
	}
}

// TestStatusIsAskedAgain holds the ETag of a status: it stays while the answer holds, and goes with a change and with
// the date, without any change at all.
func TestStatusIsAskedAgain(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	c := r.as(t, techlog.Pilot)
	ask := func(seen string) *client.ShowStatusResponse {
		t.Helper()
		var p client.ShowStatusParams
		if seen != "" {
			p.IfNoneMatch = &seen
		}
		got, err := c.ShowStatusWithResponse(t.Context(), f.aircraft.Id, &p)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	first := ask("")
	tag := first.HTTPResponse.Header.Get("ETag")
	if first.JSON200 == nil || tag == "" || first.HTTPResponse.Header.Get("Cache-Control") != "private, no-cache" {
		t.Fatalf("%s %v", first.Status(), first.HTTPResponse.Header)
	}
	for _, seen := range []string{tag, "W/" + tag, `"1", ` + tag, "*"} {
		if again := ask(seen); again.StatusCode() != http.StatusNotModified || len(again.Body) > 0 || again.HTTPResponse.Header.Get("ETag") != tag {
			t.Errorf("%s: %s with %d bytes", seen, again.Status(), len(again.Body))
		}
	}
	if got := ask(`"1"`); got.StatusCode() != http.StatusOK {
		t.Errorf("another tag: %s", got.Status())
	}
	r.clock.advance(13 * 3600e9) // past midnight UTC
	if got := ask(tag); got.JSON200 == nil || got.HTTPResponse.Header.Get("ETag") == tag || !got.JSON200.AsOf.After(first.JSON200.AsOf) {
		t.Errorf("on the next day: %s", got.Status())
	} else {
		tag = got.HTTPResponse.Header.Get("ETag")
	}
	filed, err := c.FileSquawkWithResponse(t.Context(), f.aircraft.Id, nil, client.SquawkReport{Kind: client.SquawkKindCondition, Words: "tire worn to the cord"})
	if err != nil || filed.JSON201 == nil {
		t.Fatalf("%v %s", err, filed.Body)
	}
	if got := ask(tag); got.JSON200 == nil || got.JSON200.OpenSquawks != 1 {
		t.Errorf("after a squawk: %s", got.Status())
	}
}

// TestTheFirstAnswerSaysWhatLaterOnesSay holds that what a write answers is what is read afterwards.
func TestTheFirstAnswerSaysWhatLaterOnesSay(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	plan := f.nightFlight()
	plan.Departs = plan.Departs.Add(123456789) // finer than the store keeps
	for _, q := range []asked{
		{method: "POST", path: "/v1/bases", body: `{"code": "X", "name": "Ünnamed", "lat": 0.1, "lon": -0.1, "zone": "UTC"}`},
		{method: "POST", path: "/v1/aircraft", body: strings.Replace(marshal(t, trainer(f.home.Id)), "N0TRN", "N0TRX", 1)},
		{method: "POST", path: "/v1/flights", body: marshal(t, plan)},
	} {
		made := r.ask(t, q)
		if made.status != 201 {
			t.Fatalf("%s: %d %s", q.path, made.status, made.body)
		}
		shown := r.ask(t, asked{method: "GET", path: made.header.Get("Location")})
		if got, want := strings.TrimSpace(string(shown.body)), string(made.body); got != want {
			t.Errorf("made\n%s\nshown\n%s", want, got)
		}
		if shown.header.Get("ETag") != made.header.Get("ETag") || made.header.Get("ETag") != `"`+strconv.Itoa(1)+`"` {
			t.Errorf("%s: ETag %s, then %s", q.path, made.header.Get("ETag"), shown.header.Get("ETag"))
		}
	}
}
