package contract_test

import (
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"tiedown/internal/contract"
)

func TestParameters(t *testing.T) {
	t.Parallel()
	c, err := contract.Current()
	if err != nil {
		t.Fatal(err)
	}
	const id = "0190a6b4-7d5e-7c3a-8b1f-2e4d6c8a0b1c"
	for _, r := range []struct {
		method, path, id, query string
		header                  http.Header
		faults                  []string
	}{
		{"GET", "/v1/bases", "", "", nil, nil},
		{"GET", "/v1/bases", "", "limit=200&cursor=abc_-9", nil, nil},
		{"GET", "/v1/bases", "", "limit=0&cursor=a+b", nil, []string{"range query.limit", "form query.cursor"}},
		{"GET", "/v1/bases", "", "limit=abc", nil, []string{"type query.limit"}},
		{"GET", "/v1/bases", "", "limit=5x", nil, []string{"type query.limit"}},
		{"GET", "/v1/bases", "", "limit=1e1", nil, []string{"type query.limit"}},
		{"GET", "/v1/bases", "", "limit=", nil, []string{"type query.limit"}},
		{"GET", "/v1/bases", "", "limit=5&limit=6", nil, []string{"once query.limit"}},
		{"GET", "/v1/bases", "", "limt=5", nil, []string{"unknown-parameter query.limt"}},
		{"GET", "/v1/bases", "", "limit=%zz", nil, []string{"form query"}},
		{"GET", "/v1/items", "", "like=%fe", nil, []string{"characters query.like"}},
		{"GET", "/v1/items", "", "like=%00", nil, []string{"characters query.like"}},
		{"GET", "/v1/items", "", "like=", nil, []string{"length query.like"}},
		{"GET", "/v1/flights", "", "held=true&state=planned&aircraft=" + id + "&ends_after=2026-01-01T00:00:00Z", nil, nil},
		{
			"GET", "/v1/flights", "", "held=yes&state=held&aircraft=7&ends_after=2026-01-01T00:00:00+00:00", nil,
			[]string{"format query.aircraft", "enum query.state", "format query.ends_after", "type query.held"},
		},
		{"GET", "/v1/bases/{base}", id, "", nil, nil},
		{"GET", "/v1/bases/{base}", id, "debug=1", nil, []string{"unknown-parameter query.debug"}},
		{"GET", "/v1/bases/{base}", "7", "", nil, []string{"format path.base"}},
		{"GET", "/v1/bases/{base}", strings.ReplaceAll(id, "-", ""), "", nil, []string{"format path.base"}},
		{"PUT", "/v1/bases/{base}", id, "", http.Header{"If-Match": {`"1"`}}, nil},
		{"PUT", "/v1/bases/{base}", id, "", nil, []string{"required header.If-Match"}},
		{"PUT", "/v1/bases/{base}", id, "", http.Header{"If-Match": {`"1"`, `"2"`}}, []string{"once header.If-Match"}},
		{"POST", "/v1/bases", "", "", http.Header{"Idempotency-Key": {"a key, of printable ASCII"}}, nil},
		{"POST", "/v1/bases", "", "", http.Header{"Idempotency-Key": {""}}, []string{"length header.Idempotency-Key"}},
		{"POST", "/v1/bases", "", "", http.Header{"Idempotency-Key": {"ü"}}, []string{"form header.Idempotency-Key"}},
		{"POST", "/v1/bases", "", "", http.Header{"Idempotency-Key": {strings.Repeat("k", 201)}}, []string{"length header.Idempotency-Key"}},
	} {
		o, ok := c.Operation(r.method, r.path)
		if !ok {
			t.Fatalf("there is no operation %s %s", r.method, r.path)
		}
		request := httptest.NewRequest(r.method, "/?"+r.query, nil)
		if r.header != nil {
			request.Header = r.header
		}
		var got []string
		for _, f := range o.CheckParameters(request, func(string) string { return r.id }) {
			got = append(got, f.Rule+" "+f.Field)
		}
		if !slices.Equal(got, r.faults) {
			t.Errorf("%s %s?%s %v: faults %v, want %v", r.method, r.path, r.query, r.header, got, r.faults)
		}
	}
}

func TestOperations(t *testing.T) {
	t.Parallel()
	c, err := contract.Current()
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := c.Operation("DELETE", "/v1/bases"); ok {
		t.Error("there is an operation DELETE /v1/bases")
	}
	n := 0
	for path, item := range document(t).Paths.Map() {
		for method := range item.Operations() {
			n++
			o, ok := c.Operation(method, path)
			if !ok {
				t.Errorf("%s %s is not found", method, path)
				continue
			}
			// Whoever signs in is not known yet, and whoever has the address of a calendar, or a link out of a letter, need not be.
			signsIn := slices.Contains([]string{"downloadCalendar", "showUnsubscribe", "unsubscribe", "signIn", "finishSignIn", "setPassword", "beginOIDC", "finishOIDC"}, o.ID)
			if open := signsIn || !strings.HasPrefix(path, "/v1/"); o.Open != open {
				t.Errorf("%s %s: open %v, want %v", method, path, o.Open, open)
			}
			posted := []string{"cancelFlight", "cancelBlock", "endMember", "moveSquawk", "signSquawk", "signInspection"}
			// What is a person's own has no versions, and neither has a list that is taken over from elsewhere.
			conditional := !o.OfSession && o.ID != "importAirports" && (method == "PUT" || method == "PATCH") || slices.Contains(posted, o.ID)
			if o.Conditional != conditional {
				t.Errorf("%s %s: conditional %v, want %v", method, path, o.Conditional, conditional)
			}
		}
	}
	if n < 25 {
		t.Errorf("only %d operations", n)
	}
}
