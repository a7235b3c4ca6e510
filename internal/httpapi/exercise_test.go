package httpapi_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/hangar"
	"tiedown/internal/messenger"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/proving"
)

// waivers are answers of the contract that no test can bring about, each with the reason.
var waivers = map[string]string{}

// TestEveryAnswerOfTheContract brings about every status of every operation, each checked against the contract.
func TestEveryAnswerOfTheContract(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	documented := 0
	for path, item := range x.rig.exchange.contract.Paths.Map() {
		for method, o := range item.Operations() {
			for code := range o.Responses.Map() {
				status, err := strconv.Atoi(code)
				if err != nil {
					t.Fatalf("%s %s: status %s", method, path, code)
				}
				documented++
				x.bringAbout(t, o.OperationID, status)
			}
		}
	}
	if documented < 150 {
		t.Errorf("only %d answers documented", documented)
	}
	for name, reason := range waivers {
		if x.rig.exchange.seen[name] > 0 || reason == "" {
			t.Errorf("the waiver of %s (%q) is not needed or has no reason", name, reason)
		}
	}
}

// exercise knows a good request for every operation, and how to spoil it.
type exercise struct {
	rig    *rig
	fleet  fleet
	crew   *crew
	broken map[int]*rig // rigs whose every request ends so once something is looked up
	alone  *rig         // which knows no other provider of identity
	good   map[string]func() asked
	as     techlog.Role // of whoever asks for what is a person's own
	n      int

	walkable client.AirframeChecklist // of the fleet's aircraft
}

// failing answers every token with an error.
type failing struct{ err error }

func (f failing) Authenticate(context.Context, [32]byte) (techlog.Principal, error) {
	return techlog.Principal{}, f.err
}

// notes is a name of its own, beside the other store.
type notes = messenger.Store

// withoutLinks answers the secret of every calendar, and of every link in a mail, with an error.
type withoutLinks struct {
	hangar.Store
	notes
	err error
}

func (w withoutLinks) StopLink(context.Context, [32]byte) (notice.StopLink, error) {
	return notice.StopLink{}, w.err
}

func (w withoutLinks) CalendarFeed(context.Context, [32]byte) (techlog.ID, techlog.CalendarFeed, error) {
	return techlog.ID{}, techlog.CalendarFeed{}, w.err
}

func newExercise(t *testing.T) *exercise {
	t.Helper()
	x := &exercise{rig: newRig(t), broken: map[int]*rig{}, as: techlog.Pilot}
	x.crew = x.rig.crew(t)
	x.fleet = x.crew.fleet
	for status, err := range map[int]error{
		http.StatusInternalServerError: errors.New("a secret of the store"),
		http.StatusServiceUnavailable:  techlog.Errorf(techlog.KindUnavailable, "the database does not answer"),
	} {
		x.broken[status] = &rig{tokens: x.rig.tokens}
		x.broken[status].start(t, withoutLinks{err: err}, failing{err}, failingPersons(err))
		x.broken[status].ready.Store(&err)
	}
	x.alone = &rig{tokens: x.rig.tokens}
	x.alone.start(t, x.rig.store, x.rig.store, persons{store: x.rig.store})
	x.good = x.goodRequests(t)
	return x
}

// bringAbout asks for one status of one operation.
func (x *exercise) bringAbout(t *testing.T, operation string, status int) {
	t.Helper()
	name := fmt.Sprintf("%s %d", operation, status)
	if waivers[name] != "" {
		return
	}
	good, ok := x.good[operation]
	if !ok {
		t.Errorf("no good request is known for %s", operation)
		return
	}
	r, q := x.spoil(t, operation, status, good())
	if got := r.ask(t, q); got.status != status {
		t.Errorf("%s: %s %s is answered %d: %s", name, q.method, q.path, got.status, got.body)
	}
	if r.exchange.seen[name] == 0 {
		t.Errorf("%s was not seen", name)
	}
}

// spoil changes a good request so that it ends as wanted.
func (x *exercise) spoil(t *testing.T, operation string, status int, q asked) (*rig, asked) {
	t.Helper()
	switch status {
	case http.StatusBadRequest:
		q.body, q.cutOff = q.body[:len(q.body)-1], q.header["Content-Type"] != "" // what is no JSON has no end of its own
	case http.StatusUnauthorized:
		q = x.unknown(operation, q)
	case http.StatusForbidden:
		if signing[operation] {
			q.token = x.rig.hands[techlog.Scheduler] // who holds no certificate, and confirms nothing
		} else {
			q = x.unwelcome(t, q)
		}
	case http.StatusNotFound:
		if strings.HasSuffix(operation, "OIDC") || operation == "linkIdentity" {
			return x.alone, q
		}
		switch operation {
		case "showAirport":
			q.path = "/v1/airports/N0NE"
			return x.rig, q
		case "downloadCalendar":
			q.path = "/v1/calendars/" + hangar.NewSecret() + ".ics"
			return x.rig, q
		case "showUnsubscribe", "unsubscribe":
			q.path = messenger.StopPath + hangar.NewSecret()
			return x.rig, q
		}
		q = x.elsewhere(q)
	case http.StatusTooManyRequests:
		if signing[operation] {
			q.body = strings.Replace(q.body, proving.Right, proving.TooMany, 1)
		} else {
			q = x.tooOften(t, operation, q)
		}
	case http.StatusConflict:
		q = x.conflict(t, operation)
	case http.StatusPreconditionFailed:
		q.header = map[string]string{"If-Match": `"999"`}
	case http.StatusRequestEntityTooLarge:
		q.body += strings.Repeat(" ", 10<<20)
		if operation == "importAirports" {
			q.body = strings.Repeat(q.body, 4)
		}
	case http.StatusUnsupportedMediaType:
		q.header = maps.Clone(q.header)
		if q.header == nil {
			q.header = map[string]string{}
		}
		q.header["Content-Type"] = "text/plain"
	case http.StatusUnprocessableEntity:
		separator := "?"
		if strings.Contains(q.path, "?") {
			separator = "&"
		}
		q.path += separator + "debug=1"
	case http.StatusPreconditionRequired:
		q.header = nil
	case http.StatusInternalServerError, http.StatusServiceUnavailable:
		return x.broken[status], q
	case http.StatusNotModified:
		q.header = map[string]string{"If-None-Match": x.rig.ask(t, q).header.Get("ETag")}
	}
	return x.rig, q
}

// unknown takes out of a request what says who asks.
func (x *exercise) unknown(operation string, q asked) asked {
	switch operation {
	case "signIn":
		q.body = `{"email": "stranger@club.example", "password": "wrong"}`
	case "finishSignIn":
		q.body = `{"ticket": "none that was given out"}`
	case "setPassword":
		q.body = `{"link": "none that was given out", "password": "` + goodPassword + `"}`
	case "finishOIDC":
		q.header = nil
	}
	q.token, q.browser = "none", nil
	return q
}

// unwelcome makes a request one of somebody who may not, or of another site's page.
func (x *exercise) unwelcome(t *testing.T, q asked) asked {
	t.Helper()
	if q.method == http.MethodGet {
		q.token, q.browser = x.rig.tokens[techlog.Mechanic], nil
		return q
	}
	if q.browser == nil && q.token != "none" {
		q.browser, q.token = x.rig.somebody(t, techlog.Administrator), ""
	}
	q.header = maps.Clone(q.header)
	if q.header == nil {
		q.header = map[string]string{}
	}
	q.header["Sec-Fetch-Site"] = "cross-site"
	return q
}

// elsewhere puts an identifier that nobody has into the path, or into the body where the path has none.
func (x *exercise) elsewhere(q asked) asked {
	parts := strings.Split(q.path, "/")
	for i, p := range parts {
		if id, _, _ := strings.Cut(p, "?"); len(id) == 36 {
			parts[i] = newID().String() + p[36:]
			q.path = strings.Join(parts, "/")
			return q
		}
	}
	for _, id := range []string{x.fleet.aircraft.Id.String(), x.rig.club.String()} {
		q.body = strings.ReplaceAll(q.body, id, newID().String())
	}
	return q
}

// conflict is a request that contradicts what is on record.
func (x *exercise) conflict(t *testing.T, operation string) asked {
	t.Helper()
	if q, ok := x.conflictOfPeople(t, operation); ok {
		return q
	}
	switch operation {
	case "addBase", "changeBase":
		q := x.good[operation]()
		q.body = marshal(t, client.BaseEntry{Code: x.fleet.home.Code, Name: "Twin", Lat: 1, Lon: 1, Zone: "UTC"})
		return q
	case "addAircraft":
		q := x.good[operation]()
		q.body = marshal(t, trainer(x.fleet.home.Id))
		return q
	case "printPlacard":
		leak := created[client.FiledSquawk](t, x.rig, asked{
			method: "POST", path: "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/squawks",
			body: `{"kind": "condition", "item": "tire", "words": "worn to the cord"}`,
		})
		return asked{method: "GET", path: "/v1/squawks/" + leak.Squawk.Id.String() + "/placard"}
	case "previewSignature", "signSquawk", "previewInspection", "moveSquawk", "changeCertificate", "changeStanding":
		return x.signedConflict(t, operation)
	case "changeBlock", "cancelBlock":
		q := x.good["cancelBlock"]()
		if got := x.rig.ask(t, q); got.status != http.StatusOK {
			t.Fatalf("cancel: %d %s", got.status, got.body)
		}
		if operation == "changeBlock" {
			q.method, q.path, q.body = "PUT", strings.TrimSuffix(q.path, "/cancellation"), newBlock
		}
		q.header = ifMatch(2)
		return q
	case "changeAircraft":
		x.addAircraft(t, "N0TWN")
		q := x.good[operation]()
		q.body = `{"registration": "N0TWN"}`
		return q
	case "startWalkaround", "fileFinding", "enterMeters":
		return x.walkingConflict(t, operation)
	case "changeWebhook", "renewWebhookSecret", "revokeOlderWebhookSecrets", "pingWebhook", "replayDeliveries":
		return x.webhookConflict(t, operation)
	default:
		flight := x.flight(t)
		cancel := asked{method: "POST", path: "/v1/flights/" + flight.Id.String() + "/cancellation", header: ifMatch(1)}
		if got := x.rig.ask(t, cancel); got.status != http.StatusOK {
			t.Fatalf("cancel: %d %s", got.status, got.body)
		}
		if operation == "cancelFlight" {
			return cancel
		}
		if operation == "recordShown" {
			return asked{method: "POST", path: "/v1/flights/" + flight.Id.String() + "/shown", body: `{"person": "` + newID().String() + `"}`}
		}
		return asked{method: "PUT", path: "/v1/flights/" + flight.Id.String(), body: marshal(t, x.fleet.nightFlight()), header: ifMatch(2)}
	}
}

func ifMatch(version int) map[string]string {
	return map[string]string{"If-Match": fmt.Sprintf("%q", strconv.Itoa(version))}
}

// next makes names that were not used before.
func (x *exercise) next(prefix string) string {
	x.n++
	return prefix + strconv.Itoa(x.n)
}

func (x *exercise) base(t *testing.T) client.BaseEntry {
	t.Helper()
	return client.BaseEntry{Code: x.next("B"), Name: "Grass Strip", Lat: 41, Lon: -76, Zone: "America/New_York"}
}

// created sends a request that makes a record, and returns the record.
func created[T any](t testing.TB, r *rig, q asked) T {
	t.Helper()
	got := r.ask(t, q)
	var record T
	if err := json.Unmarshal(got.body, &record); err != nil || got.status != http.StatusCreated {
		t.Fatalf("%s %s: %d %s", q.method, q.path, got.status, got.body)
	}
	return record
}

func (x *exercise) addAircraft(t *testing.T, registration string) client.Aircraft {
	t.Helper()
	a := trainer(x.fleet.home.Id)
	a.Registration = registration
	return created[client.Aircraft](t, x.rig, asked{method: "POST", path: "/v1/aircraft", body: marshal(t, a)})
}

func (x *exercise) flight(t *testing.T) client.Flight {
	t.Helper()
	return created[client.Flight](t, x.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, x.fleet.nightFlight())})
}

func (x *exercise) squawk(t *testing.T) client.FiledSquawk {
	t.Helper()
	return created[client.FiledSquawk](t, x.rig, x.good["fileSquawk"]())
}

const melHeader = "item,installed,required,category,days,operations_procedure,maintenance_procedure,proviso,only_when,document\n"

const report = `{"kind": "inoperative", "unit": "beacon", "words": "beacon is dark"}`

// goodRequests makes, for every operation, a request that is answered well each time it is made.
func (x *exercise) goodRequests(t *testing.T) map[string]func() asked {
	t.Helper()
	get := func(path string) func() asked { return func() asked { return asked{method: "GET", path: path} } }
	aircraft := "/v1/aircraft/" + x.fleet.aircraft.Id.String()
	good := x.signedRequests(t)
	maps.Copy(good, map[string]func() asked{
		"listBases": get("/v1/bases"), "showBase": get("/v1/bases/" + x.fleet.home.Id.String()),
		"listAircraft": get("/v1/aircraft"), "showAircraft": get(aircraft), "listConfigurations": get(aircraft + "/configurations"),
		"showStatus": get(aircraft + "/status"), "listSquawks": get("/v1/squawks"), "listFlights": get("/v1/flights"),
		"listItems": get("/v1/items"), "listRules": get("/v1/rules"),
		"showContract": get("/openapi.json"), "showHealth": get("/healthz"), "showReadiness": get("/readyz"),
		"showEnvelope": get(aircraft + "/envelope"),
		"showDue":      get(aircraft + "/due"),
		"evaluate":     func() asked { return asked{method: "POST", path: "/v1/evaluations", body: sampleCase} },
		"findEnvelope": func() asked { return asked{method: "POST", path: "/v1/envelopes", body: sampleEnvelopeCase(t)} },
		"addBase": func() asked {
			return asked{method: "POST", path: "/v1/bases", body: marshal(t, x.base(t))}
		},
		"changeBase": func() asked {
			b := created[client.Base](t, x.rig, asked{method: "POST", path: "/v1/bases", body: marshal(t, x.base(t))})
			return asked{method: "PUT", path: "/v1/bases/" + b.Id.String(), body: marshal(t, x.base(t)), header: ifMatch(1)}
		},
		"addAircraft": func() asked {
			a := trainer(x.fleet.home.Id)
			a.Registration = x.next("N0A")
			return asked{method: "POST", path: "/v1/aircraft", body: marshal(t, a)}
		},
		"changeAircraft": func() asked {
			a := x.addAircraft(t, x.next("N0C"))
			return asked{method: "PATCH", path: "/v1/aircraft/" + a.Id.String(), body: `{"type": "Tern 3"}`, header: ifMatch(1)}
		},
		"changeConfiguration": func() asked {
			a := x.addAircraft(t, x.next("N0F"))
			return asked{
				method: "PUT", path: "/v1/aircraft/" + a.Id.String() + "/configuration", header: ifMatch(1),
				body: `{"units_complete": true, "units": [{"id": "asi", "item": "airspeed-indicator"}]}`,
			}
		},
		"fileSquawk": func() asked { return asked{method: "POST", path: aircraft + "/squawks", body: report} },
		"showSquawk": func() asked {
			return asked{method: "GET", path: "/v1/squawks/" + x.squawk(t).Squawk.Id.String()}
		},
		"printMaintenanceEntry": func() asked {
			return asked{method: "GET", path: "/v1/squawks/" + x.squawk(t).Squawk.Id.String() + "/maintenance-entry"}
		},
		"printPlacard": func() asked {
			return asked{method: "GET", path: "/v1/squawks/" + x.squawk(t).Squawk.Id.String() + "/placard"}
		},
		"listDeferredItems": get(aircraft + "/deferred-items"),
		"listEvents":        get("/v1/events"),
		"showFreeBusy":      get(aircraft + "/free-busy"), "downloadFreeBusy": get(aircraft + "/free-busy.ics"),
		"addNote": func() asked {
			return asked{method: "POST", path: "/v1/squawks/" + x.squawk(t).Squawk.Id.String() + "/notes", body: `{"words": "lamp ordered"}`}
		},
		"planFlight": func() asked {
			return asked{method: "POST", path: "/v1/flights", body: marshal(t, x.fleet.nightFlight())}
		},
		"showFlight": func() asked { return asked{method: "GET", path: "/v1/flights/" + x.flight(t).Id.String()} },
		"showFlightOutlook": func() asked {
			return asked{method: "GET", path: "/v1/flights/" + x.flight(t).Id.String() + "/outlook"}
		},
		"listAlternatives": func() asked {
			return asked{method: "GET", path: "/v1/flights/" + x.flight(t).Id.String() + "/alternatives"}
		},
		"judgeFlights": func() asked {
			return asked{method: "POST", path: "/v1/judgements", body: marshal(t, client.FlightsToJudge{Flights: []client.FlightToJudge{toJudge(x.fleet.nightFlight())}})}
		},
		"changeFlight": func() asked {
			return asked{
				method: "PUT", path: "/v1/flights/" + x.flight(t).Id.String(), body: marshal(t, x.fleet.nightFlight()), header: ifMatch(1),
			}
		},
		"showCompanyRules": get("/v1/company-rules"),
		"changeCompanyRules": func() asked {
			version := x.rig.ask(t, asked{method: "GET", path: "/v1/company-rules"}).header.Get("ETag")
			return asked{
				method: "PUT", path: "/v1/company-rules", header: map[string]string{"If-Match": version},
				body: `{"rules": [], "policy": {"deactivation": "rule-text"}}`,
			}
		},
		"keepDetermination": func() asked {
			return asked{method: "POST", path: "/v1/flights/" + x.flight(t).Id.String() + "/determinations"}
		},
		"listDeterminations": func() asked {
			return asked{method: "GET", path: "/v1/flights/" + x.flight(t).Id.String() + "/determinations"}
		},
		"showDetermination": func() asked {
			kept := created[client.Determination](t, x.rig, x.good["keepDetermination"]())
			return asked{method: "GET", path: "/v1/determinations/" + kept.Id.String()}
		},
		"downloadReceipt": func() asked {
			return asked{method: "GET", path: "/v1/receipts/squawk-entry/" + x.squawk(t).Squawk.Id.String() + "?number=1"}
		},
		"showCheckpoint": get("/v1/audit/checkpoint"), "showLogKey": get("/audit/key"),
		"importMEL": func() asked {
			a := x.addAircraft(t, x.next("N0M"))
			return asked{
				method: "PUT", path: "/v1/aircraft/" + a.Id.String() + "/mel", header: ifMatch(1),
				body: marshal(t, client.MELImport{Csv: melHeader + "landing-light,1,0,C,,false,false,,!night,page 3\n"}),
			}
		},
		"cancelFlight": func() asked {
			return asked{method: "POST", path: "/v1/flights/" + x.flight(t).Id.String() + "/cancellation", header: ifMatch(1)}
		},
	})
	maps.Copy(good, x.scheduleRequests(t))
	maps.Copy(good, x.walkingRequests(t))
	maps.Copy(good, x.photoRequests(t))
	maps.Copy(good, x.webhookRequests(t))
	maps.Copy(good, x.noticeRequests(t))
	x.addGoodPeople(t, good)
	return good
}
