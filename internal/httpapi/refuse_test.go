package httpapi_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/httpapi"
	"tiedown/internal/techlog"
)

// spoilt replaces a piece of the sample case.
func spoilt(t *testing.T, piece, by string) string {
	t.Helper()
	if strings.Count(sampleCase, piece) != 1 {
		t.Fatalf("%q stands %d times in the sample", piece, strings.Count(sampleCase, piece))
	}
	return strings.Replace(sampleCase, piece, by, 1)
}

func TestBadCasesAreRefusedByFieldAndRule(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	for _, c := range []struct {
		what, piece, by string
		status          int
		faults          []string
	}{
		{"an unknown item", `"item": "landing-light"`, `"item": "landing-lamp"`, 422, []string{"known-item aircraft.configuration.units[0].item"}},
		{"a unit that is not installed", `"unit": "ldg"`, `"unit": "beacon"`, 422, []string{"installed defects[0].unit"}},
		{"a flight that ends before it starts", `"arrives": "2026-11-26T21`, `"arrives": "2026-11-26T19`, 422, []string{"after-departs flight.arrives"}},
		{"a place without coordinates", `, "lat": 40, "lon": -75`, ``, 422, []string{"required flight.route[0].lat", "required flight.route[0].lon"}},
		{"a place without longitude", `, "lon": -75`, ``, 422, []string{"required flight.route[0].lon"}},
		{"no certification basis", `"basis": "part-23-before-64", `, ``, 422, []string{"required aircraft.facts.basis"}},
		{"a strange basis", `"part-23-before-64"`, `"part-103"`, 422, []string{"enum aircraft.facts.basis"}},
		{"more front seats than seats", `"front_seats": 2`, `"front_seats": 3`, 422, []string{"at-most-seats aircraft.facts.front_seats"}},
		{"a weight beyond numbers", `"max_takeoff_weight_lb": 1700`, `"max_takeoff_weight_lb": 1e309`, 422, []string{"range aircraft.facts.max_takeoff_weight_lb"}},
		{"a weight below nothing", `"max_takeoff_weight_lb": 1700`, `"max_takeoff_weight_lb": -1`, 422, []string{"range aircraft.facts.max_takeoff_weight_lb"}},
		{"NaN", `"max_takeoff_weight_lb": 1700`, `"max_takeoff_weight_lb": NaN`, 400, []string{"syntax aircraft.facts.max_takeoff_weight_lb"}},
		{"NaN as text", `"max_takeoff_weight_lb": 1700`, `"max_takeoff_weight_lb": "NaN"`, 422, []string{"type aircraft.facts.max_takeoff_weight_lb"}},
		{"a fraction of an engine", `"engines": 1`, `"engines": 1.5`, 422, []string{"type aircraft.facts.engines"}},
		{"a latitude beyond the pole", `"lat": 40`, `"lat": 90.01`, 422, []string{"range flight.route[0].lat"}},
		{"a fact that is null", `"for_hire": true`, `"for_hire": null`, 422, []string{"type flight.for_hire"}},
		{"an unknown field", `"for_hire": true`, `"for_hire": true, "hire": true`, 422, []string{"unknown-field flight.hire"}},
		{"a field in capitals", `"for_hire": true`, `"For_Hire": true`, 422, []string{"unknown-field flight.For_Hire"}},
		{"a field named twice", `"for_hire": true`, `"for_hire": false, "for_hire": true`, 400, []string{"unique-field flight.for_hire"}},
		{"broken UTF-8", `stays dark`, "stays \xff dark", 400, []string{"utf-8 document"}},
		{"a control character", `stays dark`, `stays \u0000 dark`, 422, []string{"characters defects[0].words"}},
		{"a window of a year", `"arrives": "2026-11-26T21`, `"arrives": "2027-11-26T21`, 422, []string{"window flight.arrives"}},
		{"a time without offset", `"arrives": "2026-11-26T21:00:00-05:00"`, `"arrives": "2026-11-26T21:00:00"`, 422, []string{"format flight.arrives"}},
		{"two faults at once", `"engines": 1, "tanks": 2`, `"engines": 99, "tanks": -2`, 422, []string{"range aircraft.facts.engines", "range aircraft.facts.tanks"}},
		{"half a document", `"airspace": []}}`, ``, 400, []string{"syntax flight.altitude_ft"}},
	} {
		got := r.ask(t, asked{method: "POST", path: "/v1/evaluations", body: spoilt(t, c.piece, c.by)})
		if got.status != c.status || !slices.Equal(got.faults(t), c.faults) {
			t.Errorf("%s: %d %v, want %d %v", c.what, got.status, got.faults(t), c.status, c.faults)
		}
	}
}

func TestAGoodCaseIsJudged(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	got, err := r.as(t, techlog.Administrator).EvaluateWithBodyWithResponse(t.Context(), nil, "application/json; charset=UTF-8", strings.NewReader(sampleCase))
	if err != nil || got.JSON200 == nil {
		t.Fatalf("%v: %s", err, got.Body)
	}
	if a := got.JSON200; a.Permits || a.Caution != book(t).Rules.Term("caution") || a.Rules != book(t).Digest ||
		!slices.ContainsFunc(a.Findings, func(f casefile.Finding) bool { return f.Citation == "14 CFR 91.205(c)(4)" && f.Outcome == "breached" }) {
		t.Errorf("the landing light is not missed: %s", got.Body)
	}
}

func TestRequestsThatReachNoOperation(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	for _, c := range []struct {
		what   string
		q      asked
		status int
		kind   string
	}{
		{"an unknown path", asked{method: "GET", path: "/v1/hangars"}, 404, "no-such-path"},
		{"a path with a slash at its end", asked{method: "GET", path: "/v1/bases/"}, 404, "no-such-path"},
		{"the root", asked{method: "GET", path: "/"}, 404, "no-such-path"},
		{"a path that climbs", asked{method: "GET", path: "/v1/../v1/bases"}, 404, "no-such-path"},
		{"a wrong method", asked{method: "DELETE", path: "/v1/bases"}, 405, "no-such-method"},
		{"a strange method", asked{method: "BREW", path: "/v1/bases"}, 405, "no-such-method"},
		{"no token", asked{method: "GET", path: "/v1/bases", token: "none"}, 401, "unauthorized"},
		{"no token for an unknown path", asked{method: "GET", path: "/v1/hangars", token: "none"}, 404, "no-such-path"},
		{"another scheme", asked{method: "GET", path: "/v1/bases", token: "none", header: map[string]string{"Authorization": "Basic dGQ6eA=="}}, 401, "unauthorized"},
		{"a strange token", asked{method: "GET", path: "/v1/bases", token: "xy_1"}, 401, "unauthorized"},
		{"a token without end", asked{method: "GET", path: "/v1/bases", token: "td_" + strings.Repeat("x", 500)}, 401, "unauthorized"},
		{"a form", asked{method: "POST", path: "/v1/evaluations", body: "a=b", header: map[string]string{"Content-Type": "application/x-www-form-urlencoded"}}, 415, "media-type"},
		{"JSON in another charset", asked{method: "POST", path: "/v1/evaluations", body: "{}", header: map[string]string{"Content-Type": "application/json; charset=latin1"}}, 415, "media-type"},
		{"a strange content type", asked{method: "POST", path: "/v1/evaluations", body: "{}", header: map[string]string{"Content-Type": ";"}}, 415, "media-type"},
		{"no body and no type", asked{method: "POST", path: "/v1/evaluations"}, 415, "media-type"},
		{"no body", asked{method: "POST", path: "/v1/evaluations", header: map[string]string{"Content-Type": "application/json"}}, 400, "syntax"},
		{"a misspelt filter", asked{method: "GET", path: "/v1/flights?hold=true"}, 422, "invalid"},
		{"an identifier that is none", asked{method: "GET", path: "/v1/aircraft/N0TRN"}, 422, "invalid"},
		{"a cursor of nothing", asked{method: "GET", path: "/v1/items?cursor=bm8tc3VjaC1pdGVt"}, 422, "invalid"},
		{"a cursor that is no base64", asked{method: "GET", path: "/v1/rules?cursor=a"}, 422, "invalid"},
		{"a cursor of another length", asked{method: "GET", path: "/v1/bases?cursor=YWJj"}, 422, "invalid"},
		{"a cursor of no revision", asked{method: "GET", path: "/v1/aircraft/0190a6b4-7d5e-7c3a-8b1f-2e4d6c8a0b1c/configurations?cursor=YWJj"}, 422, "invalid"},
		{"no version", asked{method: "PUT", path: "/v1/bases/0190a6b4-7d5e-7c3a-8b1f-2e4d6c8a0b1c", body: "{}"}, 428, "version-required"},
		{"a version that was never given", asked{
			method: "POST", path: "/v1/flights/0190a6b4-7d5e-7c3a-8b1f-2e4d6c8a0b1c/cancellation", header: map[string]string{"If-Match": `W/"1"`},
		}, 412, "stale"},
		{"any version", asked{
			method: "POST", path: "/v1/flights/0190a6b4-7d5e-7c3a-8b1f-2e4d6c8a0b1c/cancellation", header: map[string]string{"If-Match": `*`},
		}, 412, "stale"},
	} {
		got := r.ask(t, c.q)
		if p := got.problem(t); got.status != c.status || p.Type != "urn:tiedown:problem:"+c.kind {
			t.Errorf("%s: %d %s, want %d %s", c.what, got.status, p.Type, c.status, c.kind)
		}
	}
	if allow := r.ask(t, asked{method: "DELETE", path: "/v1/bases"}).header.Get("Allow"); !strings.Contains(allow, "GET") || !strings.Contains(allow, "POST") {
		t.Errorf("Allow: %q, want GET and POST", allow)
	}
	if auth := r.ask(t, asked{method: "GET", path: "/v1/bases", token: "none"}).header.Get("WWW-Authenticate"); !strings.HasPrefix(auth, "Bearer") {
		t.Errorf("WWW-Authenticate: %q", auth)
	}
}

// endless is a body without an end that counts what is read of it.
type endless struct{ read int }

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}
	e.read += len(p)
	return len(p), nil
}

// TestALargeBodyIsNotRead holds that 10 MB are refused without reading them: not at all where the size is said, and not
// much beyond the limit where it is not.
func TestALargeBodyIsNotRead(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	const tenMB = 10 << 20
	for what, c := range map[string]struct {
		length int64
		most   int
	}{
		"said": {tenMB, 0}, "unsaid": {-1, 1<<20 + 64<<10},
	} {
		body := &endless{}
		request := httptest.NewRequest(http.MethodPost, "/v1/evaluations", io.LimitReader(body, tenMB))
		request.ContentLength = c.length
		request.Header.Set("Content-Type", "application/json")
		request.Header.Set("Authorization", "Bearer "+anyToken)
		if got := r.send(t, request); got.status != http.StatusRequestEntityTooLarge {
			t.Errorf("%s: %d, want 413", what, got.status)
		}
		if body.read > c.most {
			t.Errorf("%s: %d bytes were read, want at most %d", what, body.read, c.most)
		}
	}
}

// TestALargeBodyOverANetwork holds that a client which sends 10 MB gets its answer.
func TestALargeBodyOverANetwork(t *testing.T) {
	t.Parallel()
	s := httptest.NewServer(newBareRig(t).handler)
	t.Cleanup(s.Close)
	request, err := http.NewRequestWithContext(t.Context(), http.MethodPost, s.URL+"/v1/evaluations", strings.NewReader(strings.Repeat(" ", 10<<20)))
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("Authorization", "Bearer "+anyToken)
	response, err := s.Client().Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusRequestEntityTooLarge {
		t.Errorf("%s, want 413", response.Status)
	}
}

// brokenOff is a body that ends with an error.
type brokenOff struct{}

func (brokenOff) Read([]byte) (int, error) { return 0, errors.New("connection reset") }

func TestABodyThatBreaksOff(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	request := httptest.NewRequest(http.MethodPost, "/v1/evaluations", brokenOff{})
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("Authorization", "Bearer "+anyToken)
	if got := r.send(t, request); got.status != http.StatusBadRequest {
		t.Errorf("%d, want 400", got.status)
	}
}

// TestAPanicIsAnswered holds that a panic is a problem document, tells nothing, and is logged with its stack.
func TestAPanicIsAnswered(t *testing.T) {
	t.Parallel()
	r := newBareRig(t) // has no store: asking it panics
	got := r.ask(t, asked{method: "GET", path: "/v1/bases"})
	if p := got.problem(t); got.status != 500 || p.Type != "urn:tiedown:problem:internal" || strings.Contains(string(got.body), "nil pointer") {
		t.Errorf("%d %s", got.status, got.body)
	}
	if log := r.log.String(); !strings.Contains(log, "nil pointer") || !strings.Contains(log, "handlers).ListBases") || !strings.Contains(log, got.header.Get("X-Request-Id")) {
		t.Errorf("the log does not say what happened: %s", log)
	}
	if got := r.ask(t, asked{method: "GET", path: "/healthz"}); got.status != 200 {
		t.Errorf("after a panic: %d", got.status)
	}
}

// TestNothingOfAnInnerErrorGetsOut holds that the text of an error without a kind is in the log alone.
func TestNothingOfAnInnerErrorGetsOut(t *testing.T) {
	t.Parallel()
	r := &rig{tokens: map[techlog.Role]string{techlog.Administrator: anyToken}}
	r.start(t, struct{ hangar.Store }{}, failing{errors.New("secret of the store")}, persons{})
	got := r.ask(t, asked{method: "GET", path: "/v1/bases"})
	if got.status != 500 || strings.Contains(string(got.body), "secret") {
		t.Errorf("%d %s", got.status, got.body)
	}
	if !strings.Contains(r.log.String(), "secret of the store") {
		t.Errorf("the log has nothing of it: %s", r.log.String())
	}
}

// waiting answers a token when its context is over.
type waiting struct{}

func (waiting) Authenticate(ctx context.Context, _ [32]byte) (techlog.Principal, error) {
	<-ctx.Done()
	return techlog.Principal{}, ctx.Err()
}

func TestARequestHasATimeLimit(t *testing.T) {
	t.Parallel()
	r := &rig{tokens: map[techlog.Role]string{techlog.Administrator: anyToken}}
	r.start(t, struct{ hangar.Store }{}, waiting{}, persons{})
	r.exchange.handler = httpapi.New(httpapi.Settings{
		Service: r.service, Store: waiting{}, Log: slog.New(slog.DiscardHandler), Now: r.clock.now, Limit: time.Nanosecond,
	})
	got := r.ask(t, asked{method: "GET", path: "/v1/bases"})
	if p := got.problem(t); got.status != 503 || p.Type != "urn:tiedown:problem:unavailable" || got.header.Get("Retry-After") != "1" {
		t.Errorf("%d %s", got.status, got.body)
	}
}

func TestCommonHeaders(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	for _, path := range []string{"/healthz", "/v1/items", "/v1/hangars", "/v1/bases"} {
		h := r.ask(t, asked{method: "GET", path: path}).header
		for name, want := range map[string]string{
			"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
			"Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'",
		} {
			if got := h.Get(name); got != want {
				t.Errorf("%s: %s is %q, want %q", path, name, got, want)
			}
		}
	}
}

func TestRequestsAreNamed(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	id := func(given string) string {
		q := asked{method: "GET", path: "/healthz"}
		if given != "" {
			q.header = map[string]string{"X-Request-Id": given}
		}
		return r.ask(t, q).header.Get("X-Request-Id")
	}
	if got := id("club-7.B_2"); got != "club-7.B_2" {
		t.Errorf("a sound name became %q", got)
	}
	for _, bad := range []string{"a b", "ä", "x\"y", strings.Repeat("x", 65)} {
		if got := id(bad); got == bad || got == "" {
			t.Errorf("the name %q was taken as %q", bad, got)
		}
	}
	if first, second := id(""), id(""); first == second {
		t.Errorf("two requests are named %s", first)
	}
}

func TestRequestsAreLogged(t *testing.T) {
	t.Parallel()
	r := newBareRig(t)
	got := r.ask(t, asked{method: "GET", path: "/v1/items?like=beacon"})
	log := r.log.String()
	for _, want := range []string{"request=" + got.header.Get("X-Request-Id"), "method=GET", "route=/v1/items", "status=200", "took=0s"} {
		if !strings.Contains(log, want) {
			t.Errorf("the log lacks %s: %s", want, log)
		}
	}
	for _, leak := range []string{"like=beacon", anyToken} {
		if strings.Contains(log, leak) {
			t.Errorf("the log tells %s", leak)
		}
	}
}

func TestHeadIsGetWithoutBody(t *testing.T) {
	t.Parallel()
	s := httptest.NewServer(newBareRig(t).handler)
	t.Cleanup(s.Close)
	response, err := s.Client().Head(s.URL + "/healthz")
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	if err != nil || response.StatusCode != http.StatusOK || len(body) > 0 || response.Header.Get("Content-Type") != "application/json" {
		t.Errorf("%s, %d bytes, %v", response.Status, len(body), err)
	}
}

// FuzzEvaluate holds that nothing that is sent to be judged breaks the server.
func FuzzEvaluate(f *testing.F) {
	f.Add([]byte(sampleCase))
	f.Add([]byte(`{"aircraft":{"facts":{"category":"glider","certificate":"standard","basis":"other"},"configuration":{}},"flight":{"departs":"2026-01-01T00:00:00Z","arrives":"2026-01-01T01:00:00Z"}}`))
	f.Add([]byte("\xff"))
	f.Add([]byte(`{"defects":[{"id":"a"},{"id":"a","kind":"condition","item":"access-panel","deferral":{"method":"removed"}}]}`))
	r := newBareRig(f)
	f.Fuzz(func(t *testing.T, body []byte) {
		request := httptest.NewRequest(http.MethodPost, "/v1/evaluations", strings.NewReader(string(body)))
		request.Header.Set("Content-Type", "application/json")
		request.Header.Set("Authorization", "Bearer "+anyToken)
		recorder := httptest.NewRecorder()
		r.handler.ServeHTTP(recorder, request)
		if recorder.Code >= 500 {
			t.Errorf("%d: %s\n%s", recorder.Code, recorder.Body, r.log.String())
		}
	})
}
