package httpapi_test

import (
	"bytes"
	"context"
	"crypto/sha256"
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
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/google/uuid"

	"tiedown/api"
	"tiedown/api/client"
	"tiedown/internal/audit"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/httpapi"
	"tiedown/internal/postgres"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

func TestMain(m *testing.M) {
	openapi3filter.RegisterBodyDecoder("application/pdf", openapi3filter.FileBodyDecoder)
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
	handler  http.Handler
	exchange *exchange
	clock    *clock
	log      *lockedBuffer
	tokens   map[techlog.Role]string
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
	return hangar.Book{Rules: b.Ruleset, Digest: b.Digest}
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
	r := &rig{url: url, store: store, tokens: map[techlog.Role]string{}}
	r.start(t, store, store)
	club, others := newID(), newID()
	for id, name := range map[techlog.ID]string{club: "Tern Flying Club", others: "Other Club"} {
		if err := store.AddOrganization(t.Context(), techlog.Organization{ID: id, Name: name}); err != nil {
			t.Fatal(err)
		}
	}
	for _, role := range techlog.Roles() {
		r.tokens[role] = r.issue(t, techlog.Principal{Organization: club, Name: "test " + string(role), Roles: techlog.As(role)})
	}
	r.other = r.issue(t, techlog.Principal{Organization: others, Name: "somebody else", Roles: techlog.As(techlog.Administrator)})
	return r
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
func (r *rig) start(tb testing.TB, store hangar.Store, doors httpapi.Authenticator) {
	tb.Helper()
	r.clock = &clock{at: noon}
	r.log = &lockedBuffer{}
	r.service = hangar.New(hangar.Settings{Store: store, Book: book(tb), Now: r.clock.now, NewID: newID, Log: r.store, LogKey: logKey(tb)})
	r.handler = httpapi.New(httpapi.Settings{
		Service: r.service, Store: doors, Log: slog.New(slog.NewTextHandler(r.log, nil)), Now: r.clock.now, PublicURL: publicURL,
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
	r.start(tb, struct{ hangar.Store }{}, anybody{})
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
		if ref.Value.Type.Is("object") && name != "Problem" {
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
	header       map[string]string
	token        string // empty: an administrator's; "none": none
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
	request := httptest.NewRequest(q.method, q.path, body)
	if q.body != "" {
		request.Header.Set("Content-Type", "application/json")
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

// fleet is what most tests start from: two bases, and one aircraft with a landing light, in good order.
type fleet struct {
	home, away client.Base
	aircraft   client.Aircraft
}

func (r *rig) fleet(tb testing.TB) fleet {
	tb.Helper()
	c := r.as(tb, techlog.Administrator)
	var f fleet
	for i, b := range []client.BaseEntry{
		{Code: "HOM", Name: "Home Field", Lat: 40, Lon: -75, Zone: "America/New_York"},
		{Code: "AWY", Name: "Away Field", Lat: 40.5, Lon: -75.5, Zone: "America/New_York"},
	} {
		added, err := c.AddBaseWithResponse(tb.Context(), nil, b)
		if err != nil || added.JSON201 == nil {
			tb.Fatalf("add base: %v, %s", err, added.Body)
		}
		if i == 0 {
			f.home = *added.JSON201
		} else {
			f.away = *added.JSON201
		}
	}
	added, err := c.AddAircraftWithResponse(tb.Context(), nil, trainer(f.home.Id))
	if err != nil || added.JSON201 == nil {
		tb.Fatalf("add aircraft: %v, %s", err, added.Body)
	}
	f.aircraft = *added.JSON201
	return f
}

// trainer is an invented aircraft. Its papers are all on record.
func trainer(base client.ID) client.AircraftEntry {
	yes, no := true, false
	units := []casefile.Unit{}
	for id, item := range map[string]string{
		"asi": "airspeed-indicator", "alt": "sensitive-altimeter", "compass": "magnetic-compass", "ldg": "landing-light",
		"beacon": "beacon", "elt": "elt", "alternator": "alternator",
	} {
		units = append(units, casefile.Unit{ID: id, Item: item})
	}
	for id, places := range map[string][]int{"tach": {1}, "oil-p": {1}, "oil-t": {1}, "fuel-l": {1}, "fuel-r": {2}, "belts": {1, 2}, "harness": {1, 2}} {
		item := map[string]string{
			"tach": "tachometer", "oil-p": "oil-pressure-gauge", "oil-t": "oil-temperature-gauge", "fuel-l": "fuel-quantity-gauge",
			"fuel-r": "fuel-quantity-gauge", "belts": "safety-belt", "harness": "shoulder-harness",
		}[id]
		units = append(units, casefile.Unit{ID: id, Item: item, Serves: places})
	}
	for _, id := range []string{"nav-left", "nav-right", "nav-tail"} {
		units = append(units, casefile.Unit{ID: id, Item: "position-light"})
	}
	approved := []string{"day-vfr", "night-vfr"}
	return client.AircraftEntry{
		Registration: "N0TRN", Type: "Tern 2", Base: base,
		Facts: casefile.Facts{
			Category: "airplane", Certificate: "standard", Basis: "part-23-before-64", Engine: "reciprocating", Cooling: "air",
			MaxTakeoffWeightLb: new(1700.0), Engines: new(1), Tanks: new(2), Seats: new(2), FrontSeats: new(2),
			Manufactured: "1999-05-01", Certificated: "1996-09-01", TypeCertificateApplied: "1994-01-01",
			AnnualInspected: "2026-02-10", HoursSinceInspection: new(41.5), AltimeterTested: "2025-02-11", TransponderTested: "2025-02-11",
			ELTInspected: "2026-02-10", ELTBatteryDue: "2028-06-30", ELTBatteryHours: new(0.2),
			USRegistered: &yes, PressureOil: &yes, AltitudeEngine: &no, RetractableGear: &no, ControllablePropeller: &no,
			PumpFedFuel: &no, CowlFlaps: &no, ElectricalSystem: &yes, EngineDrivenElectrical: &yes, Pressurized: &no,
			ReplaceableFuses: &no, MMELExists: &yes, MELAuthorized: &no, AltitudeReportingCalibrated: &yes, Approved: &approved,
		},
		Configuration: &casefile.Configuration{
			Units: units, UnitsComplete: &yes,
			TypeCertification: casefile.OwnList{OnRecord: &yes, Confirmed: &casefile.Confirmation{
				By: "R. Fennel", Certificate: "mechanic 0000002 (invented)", On: "2026-02-10", Document: "type certificate data sheet",
			}},
			EquipmentList: casefile.OwnList{OnRecord: &yes, Document: "section 6"}, KOEL: casefile.OwnList{OnRecord: &no},
			Directives: casefile.OwnList{OnRecord: &yes},
		},
	}
}

// nightFlight is a sightseeing flight at night, for hire: the landing light is required for it (14 CFR 91.205(c)(4)).
func (f fleet) nightFlight() client.FlightPlan {
	yes, no := true, false
	airspace := []string{}
	return client.FlightPlan{
		Aircraft: f.aircraft.Id, From: f.home.Id, To: f.home.Id, Rules: "vfr",
		Departs: noon.Add(36 * time.Hour), Arrives: noon.Add(37 * time.Hour), // 19 h to 20 h local time
		Facts: &casefile.FlightFacts{
			ForHire: &yes, OverWater: &no, Controlled: &no, Occupants: new(2), Persons: new(2), RequiredCrew: new(1),
			AltitudeFt: new(3000.0), Airspace: &airspace,
		},
		Purpose: new("city lights"),
	}
}

func marshal(tb testing.TB, v any) string {
	tb.Helper()
	raw, err := json.Marshal(v)
	if err != nil {
		tb.Fatal(err)
	}
	return string(raw)
}

func digest(token string) [32]byte { return sha256.Sum256([]byte(token)) }
