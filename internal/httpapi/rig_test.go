package httpapi_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/iotest"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/google/uuid"

	"tiedown/api"
	"tiedown/api/client"
	"tiedown/internal/audit"
	"tiedown/internal/hangar"
	"tiedown/internal/httpapi"
	"tiedown/internal/messenger"
	"tiedown/internal/notice/webhook"
	"tiedown/internal/people"
	"tiedown/internal/postgres"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
	"tiedown/internal/testrig/provider"
	"tiedown/internal/testrig/proving"
)

func TestMain(m *testing.M) {
	openapi3filter.RegisterBodyDecoder("application/pdf", openapi3filter.FileBodyDecoder)
	openapi3filter.RegisterBodyDecoder("image/jpeg", openapi3filter.FileBodyDecoder)
	openapi3filter.RegisterBodyDecoder("text/calendar", openapi3filter.FileBodyDecoder)
	openapi3filter.RegisterBodyDecoder("text/html", openapi3filter.FileBodyDecoder)
	pgtest.Main(m, postgres.Migrate)
}

// noon is when the tests happen.
var noon = time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)

// publicURL is where people reach the server of the tests.
const publicURL = "https://hangar.example"

// rig is the handler with everything behind it.
type rig struct {
	service  *hangar.Service
	url      string          // of the database
	store    *postgres.Store // nil in a rig without records
	people   *people.People
	notices  messenger.Settings // without a way to send
	provider *provider.Provider // nil in a rig without records
	club     techlog.ID
	handler  http.Handler
	exchange *exchange
	clock    *clock
	log      *lockedBuffer
	tokens   map[techlog.Role]string     // of programs
	hands    map[techlog.Role]string     // tokens of people, who may sign
	persons  map[techlog.Role]techlog.ID // whose hands they are
	prover   *proving.Prover
	other    string // token of another organization
	ready    atomic.Pointer[error]
}

type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) advance(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

func book(tb testing.TB) hangar.Book {
	tb.Helper()
	b, err := regulation.Current()
	if err != nil {
		tb.Fatal(err)
	}
	return hangar.Book{Rules: b.Ruleset, Upkeep: b.Upkeep, Digest: b.Digest}
}

func newID() techlog.ID { return techlog.ID(uuid.Must(uuid.NewV7())) }

// newRig makes a rig with two organizations on a database of its own.
func newRig(t testing.TB) *rig {
	t.Helper()
	url := pgtest.New(t)
	store, err := postgres.Open(t.Context(), postgres.Config{URL: url})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	r := &rig{url: url, store: store, tokens: map[techlog.Role]string{}, hands: map[techlog.Role]string{}, persons: map[techlog.Role]techlog.ID{}}
	r.provider = startProvider(t)
	r.start(t, store, store, persons{store, throughProvider(r.provider)})
	club, others := newID(), newID()
	r.club = club
	for id, name := range map[techlog.ID]string{club: "Tern Flying Club", others: "Other Club"} {
		if err := store.AddOrganization(t.Context(), techlog.Organization{ID: id, Name: name}); err != nil {
			t.Fatal(err)
		}
	}
	for _, role := range techlog.Roles() {
		r.tokens[role] = r.issue(t, techlog.Principal{Organization: club, Name: "test " + string(role), Roles: techlog.As(role)})
	}
	_, r.other = r.hand(t, others, "somebody else", techlog.Administrator)
	return r
}

// staff adds a person to the club in each role.
func (r *rig) staff(t *testing.T) {
	t.Helper()
	for _, role := range techlog.Roles() {
		r.persons[role], r.hands[role] = r.hand(t, r.club, "test "+string(role), role)
	}
}

// hand adds a person to an organization, with a token that stands for that person.
func (r *rig) hand(t testing.TB, org techlog.ID, name string, role techlog.Role) (person techlog.ID, token string) {
	t.Helper()
	account := techlog.Account{ID: newID(), Email: techlog.Email(newID().String() + "@tern.example"), Name: name, At: noon}
	link, _ := hangar.NewPasswordLink(account.ID, noon, time.Hour, true)
	in := people.NewMember{Organization: org, Name: name, Roles: techlog.As(role), By: "the test"}
	if err := r.store.AddAccount(t.Context(), account, link, &in); err != nil {
		t.Fatal(err)
	}
	own := techlog.AccessToken{
		ID: newID(), Name: name, Maker: account.ID, Own: true, Roles: techlog.As(role), MadeAt: noon, Until: noon.AddDate(0, 6, 0),
	}
	token = "td_" + own.ID.String()
	_, err := r.store.Change(t.Context(), hangar.Scope{Organization: org, By: "the test", At: noon}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		tx.AddAccessToken(own, digest(token))
		return nil, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return account.ID, token
}

func (r *rig) issue(t testing.TB, who techlog.Principal) string {
	t.Helper()
	who.Token = newID()
	token := "td_" + who.Token.String()
	if err := r.store.AddToken(t.Context(), who, digest(token)); err != nil {
		t.Fatal(err)
	}
	return token
}

// start makes service and handler.
func (r *rig) start(tb testing.TB, store hangar.Store, doors httpapi.Authenticator, p persons) {
	tb.Helper()
	r.clock = &clock{at: noon}
	r.log = &lockedBuffer{}
	r.prover = &proving.Prover{}
	r.service = hangar.New(hangar.Settings{
		Store: store, Prover: r.prover, Book: book(tb), Now: r.clock.now, NewID: newID, Log: r.store, LogKey: logKey(tb), Files: r.store,
		Sealer: vault(tb), Targets: webhook.Targets{Resolver: nowhere{}},
	})
	r.people = p.people(tb, r.clock.now)
	notes, ok := store.(messenger.Store)
	if !ok {
		notes = r.store
	}
	r.notices = messenger.Settings{
		Store: notes, Records: r.store, Service: r.service, Now: r.clock.now, NewID: newID, PublicURL: publicURL,
	}
	r.handler = httpapi.New(httpapi.Settings{
		Service: r.service, Store: doors, People: r.people, Messenger: messenger.New(r.notices), Log: slog.New(slog.NewTextHandler(r.log, nil)), Now: r.clock.now, PublicURL: publicURL,
		Ready: func(context.Context) error {
			if err := r.ready.Load(); err != nil {
				return *err
			}
			return nil
		},
	})
	r.exchange = &exchange{t: tb, handler: r.handler, contract: strictContract(tb), seen: map[string]int{}}
}

// logKey is a key of the log, the same for every rig.
func logKey(tb testing.TB) audit.Key {
	tb.Helper()
	secret, err := audit.NewKey(strings.NewReader(strings.Repeat("a key for tests ", 4)))
	if err != nil {
		tb.Fatal(err)
	}
	key, err := audit.ReadKey(secret)
	if err != nil {
		tb.Fatal(err)
	}
	return key
}

// anybody lets in every token, as an administrator.
type anybody struct{}

func (anybody) Authenticate(context.Context, [32]byte) (techlog.Principal, error) {
	return techlog.Principal{Organization: techlog.ID{1}, Token: techlog.ID{2}, Name: "anybody", Roles: techlog.As(techlog.Administrator)}, nil
}

const anyToken = "td_anybody"

// newBareRig makes a rig without records: whoever asks for one gets a panic, which is an answer of its own.
func newBareRig(tb testing.TB) *rig {
	tb.Helper()
	r := &rig{tokens: map[techlog.Role]string{techlog.Administrator: anyToken}}
	r.start(tb, struct{ hangar.Store }{}, anybody{}, persons{store: struct{ people.Store }{}})
	return r
}

// exchange carries requests to the handler without a network, and holds every answer against the contract.
type exchange struct {
	t        testing.TB
	handler  http.Handler
	contract *openapi3.T

	mu   sync.Mutex
	seen map[string]int // operation and status
}

// strictContract is the contract with every object closed, so that a field which is not promised is found.
func strictContract(tb testing.TB) *openapi3.T {
	tb.Helper()
	doc, err := openapi3.NewLoader().LoadFromData(api.Document)
	if err != nil {
		tb.Fatal(err)
	}
	no := false
	for name, ref := range doc.Components.Schemas {
		if ref.Value.Type.Is("object") && name != "Problem" && name != "PasskeyJSON" {
			ref.Value.AdditionalProperties = openapi3.AdditionalProperties{Has: &no}
		}
	}
	return doc
}

// RoundTrip implements http.RoundTripper.
func (x *exchange) RoundTrip(r *http.Request) (*http.Response, error) {
	recorder := httptest.NewRecorder()
	x.handler.ServeHTTP(recorder, r)
	response := recorder.Result()
	response.Request = r
	x.check(r, response, recorder.Body.Bytes())
	return response, nil
}

func (x *exchange) check(r *http.Request, response *http.Response, body []byte) {
	x.t.Helper()
	if response.StatusCode >= 400 {
		x.checkProblem(r, response, body)
	}
	route, parameters, ok := x.route(r)
	if !ok {
		return
	}
	x.mu.Lock()
	x.seen[fmt.Sprintf("%s %d", route.Operation.OperationID, response.StatusCode)]++
	x.mu.Unlock()
	err := openapi3filter.ValidateResponse(r.Context(), &openapi3filter.ResponseValidationInput{
		RequestValidationInput: &openapi3filter.RequestValidationInput{Request: r, PathParams: parameters, Route: route},
		Status:                 response.StatusCode, Header: response.Header, Body: io.NopCloser(bytes.NewReader(body)),
		Options: &openapi3filter.Options{IncludeResponseStatus: true},
	})
	if err != nil {
		x.t.Errorf("%s %s: the answer %d breaks the contract: %v\n%s", r.Method, r.URL, response.StatusCode, err, body)
	}
}

// checkProblem holds that an error is a whole problem document.
func (x *exchange) checkProblem(r *http.Request, response *http.Response, body []byte) {
	x.t.Helper()
	var p client.Problem
	if err := json.Unmarshal(body, &p); err != nil && r.Method != http.MethodHead {
		x.t.Errorf("%s %s: %d is answered with no problem document: %q", r.Method, r.URL, response.StatusCode, body)
		return
	}
	if response.Header.Get("Content-Type") != "application/problem+json" || p.Status != response.StatusCode ||
		!strings.HasPrefix(p.Type, "urn:tiedown:problem:") || p.Title == "" || p.Detail == "" || p.Remedy == "" ||
		p.Request == nil || *p.Request != response.Header.Get("X-Request-Id") {
		x.t.Errorf("%s %s: the problem document is not whole: %s", r.Method, r.URL, body)
	}
}

// route finds the operation of a request.
func (x *exchange) route(r *http.Request) (*routers.Route, map[string]string, bool) {
	at := strings.Split(r.URL.Path, "/")
	for path, item := range x.contract.Paths.Map() {
		parameters := map[string]string{}
		pattern := strings.Split(path, "/")
		if len(pattern) != len(at) {
			continue
		}
		fits := true
		for i, p := range pattern {
			if strings.HasPrefix(p, "{") {
				parameters[strings.Trim(p, "{}")] = at[i]
			} else if p != at[i] {
				fits = false
			}
		}
		if o := item.GetOperation(r.Method); fits && o != nil {
			return &routers.Route{Spec: x.contract, Path: path, PathItem: item, Method: r.Method, Operation: o}, parameters, true
		}
	}
	return nil, nil, false
}

// client is the generated client, for a token.
func (r *rig) client(tb testing.TB, token string) *client.ClientWithResponses {
	tb.Helper()
	c, err := client.NewClientWithResponses("http://hangar.example",
		client.WithHTTPClient(&http.Client{Transport: r.exchange}),
		client.WithRequestEditorFn(func(_ context.Context, r *http.Request) error {
			if token != "" {
				r.Header.Set("Authorization", "Bearer "+token)
			}
			return nil
		}))
	if err != nil {
		tb.Fatal(err)
	}
	return c
}

// as is the generated client, for a role.
func (r *rig) as(tb testing.TB, role techlog.Role) *client.ClientWithResponses {
	tb.Helper()
	token, ok := r.tokens[role]
	if !ok {
		tb.Fatalf("no token for the role %s", role)
	}
	return r.client(tb, token)
}

// asked is a request written out by hand, for what the client cannot be made to send.
type asked struct {
	method, path string
	body         string
	cutOff       bool // the body ends in an error
	header       map[string]string
	token        string // empty: an administrator's, unless a browser asks; "none": none
	browser      *browser
	remote       string // network address and port that it comes from; empty: some
}

// answered is an answer as it came.
type answered struct {
	status int
	header http.Header
	body   []byte
}

func (a answered) problem(tb testing.TB) client.Problem {
	tb.Helper()
	var p client.Problem
	if err := json.Unmarshal(a.body, &p); err != nil {
		tb.Fatalf("no problem document: %s", a.body)
	}
	return p
}

// faults lists rule and field of every fault.
func (a answered) faults(tb testing.TB) []string {
	tb.Helper()
	var list []string
	p := a.problem(tb)
	if p.Faults != nil {
		for _, f := range *p.Faults {
			list = append(list, f.Rule+" "+f.Field)
		}
	}
	return list
}

func (r *rig) ask(tb testing.TB, q asked) answered {
	tb.Helper()
	var body io.Reader = http.NoBody
	if q.body != "" {
		body = strings.NewReader(q.body)
	}
	if q.cutOff {
		body = io.MultiReader(body, iotest.ErrReader(io.ErrUnexpectedEOF))
	}
	request := httptest.NewRequest(q.method, q.path, body)
	if q.body != "" {
		request.Header.Set("Content-Type", "application/json")
	}
	if q.remote != "" {
		request.RemoteAddr = q.remote
	}
	if q.browser != nil {
		q.browser.sign(request)
		if q.token == "" {
			q.token = "none"
		}
	}
	switch q.token {
	case "none":
	case "":
		request.Header.Set("Authorization", "Bearer "+r.tokens[techlog.Administrator])
	default:
		request.Header.Set("Authorization", "Bearer "+q.token)
	}
	for name, value := range q.header {
		request.Header.Set(name, value)
	}
	return r.send(tb, request)
}

func (r *rig) send(tb testing.TB, request *http.Request) answered {
	tb.Helper()
	response, err := r.exchange.RoundTrip(request)
	if err != nil {
		tb.Fatal(err)
	}
	defer response.Body.Close()
	raw, err := io.ReadAll(response.Body)
	if err != nil {
		tb.Fatal(err)
	}
	return answered{response.StatusCode, response.Header, raw}
}

func marshal(tb testing.TB, v any) string {
	tb.Helper()
	raw, err := json.Marshal(v)
	if err != nil {
		tb.Fatal(err)
	}
	return string(raw)
}

func hexOf(digest [32]byte) string { return hex.EncodeToString(digest[:]) }

// patient is the rig's handler, with time enough for a crowd.
func patient(r *rig) http.Handler {
	return httpapi.New(httpapi.Settings{
		Service: r.service, Store: r.store, Log: slog.New(slog.DiscardHandler), Now: r.clock.now, PublicURL: publicURL,
		Ready: func(context.Context) error { return nil }, Limit: 5 * time.Minute,
	})
}

func digest(token string) [32]byte { return sha256.Sum256([]byte(token)) }
