package httpapi_test

import (
	"bytes"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/walkaround"
)

// walk is a club whose trainer has the demonstration's checklist of ninety checks, and two flights planned with it: one
// by day, and one by night for hire.
type walk struct {
	*rig
	aircraft   client.Aircraft
	template   client.ChecklistTemplate
	day, night client.Flight
}

func newWalk(t testing.TB) *walk {
	t.Helper()
	w := &walk{rig: newRig(t)}
	base := created[client.Base](t, w.rig, asked{method: "POST", path: "/v1/bases", body: marshal(t, client.BaseEntry{
		Code: "HOM", Name: "Home Field", Lat: 40, Lon: -75, Zone: "America/New_York",
	})})
	w.aircraft = w.trainer(t, base.Id, "N012TW")
	list, err := demo.Checklist(w.known)
	if err != nil {
		t.Fatal(err)
	}
	var csv bytes.Buffer
	if err := walkaround.WriteCSV(&csv, &list); err != nil {
		t.Fatal(err)
	}
	w.template = created[client.ChecklistTemplate](t, w.rig, asked{
		method: "POST", path: "/v1/checklist-templates", body: marshal(t, client.ChecklistEntry{Type: w.aircraft.Type, Csv: new(csv.String())}),
	})
	w.giveChecklist(t, w.aircraft.Id, "")
	w.day = w.plan(t, 26*time.Hour, false)
	w.night = w.plan(t, 36*time.Hour, true)
	return w
}

func (w *walk) known(item string) bool {
	_, ok := w.service.Book().Rules.Item(item)
	return ok
}

// trainer enters one more of the demonstration's trainers.
func (w *walk) trainer(t testing.TB, base client.ID, registration string) client.Aircraft {
	t.Helper()
	written, err := demo.Aircraft("trainer")
	if err != nil {
		t.Fatal(err)
	}
	demo.Inspect(&written.Facts, noon)
	return created[client.Aircraft](t, w.rig, asked{method: "POST", path: "/v1/aircraft", body: marshal(t, client.AircraftEntry{
		Registration: registration, Type: "Tansy 140 Trainer", Base: base, Facts: written.Facts, Configuration: &written.Configuration,
	})})
}

// giveChecklist says how an aircraft's checklist is made, for the first time. changes are those of the airframe, as JSON.
func (w *walk) giveChecklist(t testing.TB, aircraft client.ID, changes string) client.AirframeChecklist {
	t.Helper()
	if changes == "" {
		changes = `{}`
	}
	return answerTo[client.AirframeChecklist](t, w.rig, asked{
		method: "PUT", path: "/v1/aircraft/" + aircraft.String() + "/checklist", header: ifMatch(0),
		body: `{"template": "` + w.template.Id.String() + `", "changes": ` + changes + `}`,
	}, http.StatusOK)
}

func (w *walk) plan(t testing.TB, in time.Duration, hire bool) client.Flight {
	t.Helper()
	no, airspace := false, []string{}
	return created[client.Flight](t, w.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, client.FlightPlan{
		Aircraft: w.aircraft.Id, From: w.aircraft.Base, To: w.aircraft.Base, Rules: "vfr", Departs: noon.Add(in), Arrives: noon.Add(in + time.Hour),
		Facts: &casefile.FlightFacts{
			ForHire: &hire, OverWater: &no, Controlled: &no, Occupants: new(2), Persons: new(2), RequiredCrew: new(1), AltitudeFt: new(3000.0),
			Airspace: &airspace, InstructionProvidedAircraft: &no,
		},
	})})
}

func (w *walk) start(t *testing.T, body string) client.WalkaroundReview {
	t.Helper()
	return created[client.WalkaroundReview](t, w.rig, asked{method: "POST", path: "/v1/aircraft/" + w.aircraft.Id.String() + "/walkarounds", body: body})
}

// good is what a walker says of a check that is in order.
func good(c walkaround.Check) string {
	switch c.Way {
	case walkaround.Measure:
		value := 6.0
		switch {
		case c.AtLeast != nil && c.AtMost != nil:
			value = (*c.AtLeast + *c.AtMost) / 2
		case c.AtLeast != nil:
			value = *c.AtLeast
		case c.AtMost != nil:
			value = *c.AtMost
		}
		return fmt.Sprintf(`"value": %v`, value)
	case walkaround.Sample:
		return `"color": "blue", "water": false, "sediment": false`
	case walkaround.Compare:
		return map[walkaround.Meter]string{walkaround.Hobbs: `"value": 2103.4`, walkaround.Tach: `"value": 1875.2`}[c.Meter]
	case walkaround.Paper:
		if c.Dated {
			return `"present": true, "until": "2031-06-30"`
		}
		return `"present": true`
	default:
		return `"outcome": "good"`
	}
}

// report sends results, and ends the walkaround if told to.
func (w *walk) report(t *testing.T, id client.ID, complete bool, results ...string) answered {
	t.Helper()
	return w.ask(t, asked{
		method: "POST", path: "/v1/walkarounds/" + id.String() + "/results",
		body: fmt.Sprintf(`{"results": [%s], "complete": %v}`, strings.Join(results, ","), complete),
	})
}

func (w *walk) reported(t *testing.T, id client.ID, complete bool, results ...string) client.ReportedResults {
	t.Helper()
	body := fmt.Sprintf(`{"results": [%s], "complete": %v}`, strings.Join(results, ","), complete)
	return created[client.ReportedResults](t, w.rig, asked{method: "POST", path: "/v1/walkarounds/" + id.String() + "/results", body: body})
}

func (w *walk) review(t *testing.T, id client.ID) client.WalkaroundReview {
	t.Helper()
	return answerTo[client.WalkaroundReview](t, w.rig, asked{method: "GET", path: "/v1/walkarounds/" + id.String()}, http.StatusOK)
}

func (w *walk) meters(t *testing.T) map[client.MeterName]client.MeterEntry {
	t.Helper()
	book := map[client.MeterName]client.MeterEntry{}
	for _, e := range answerTo[client.Meters](t, w.rig, asked{method: "GET", path: "/v1/aircraft/" + w.aircraft.Id.String() + "/meters"}, http.StatusOK).Meters {
		book[e.Meter] = e
	}
	return book
}

// applying are the names of the checks that apply.
func applying(r client.WalkaroundReview) []string {
	var names []string
	for _, s := range r.Checks {
		if s.Applies {
			names = append(names, s.Check.ID)
		}
	}
	return names
}

// goodResults are good results for every check that applies, save for some.
func goodResults(r client.WalkaroundReview, but ...string) []string {
	var results []string
	for _, s := range r.Checks {
		if s.Applies && !slices.Contains(but, s.Check.ID) {
			results = append(results, result(s.Check.ID, good(s.Check)))
		}
	}
	return results
}

func itoa(n int) string { return strconv.Itoa(n) }
