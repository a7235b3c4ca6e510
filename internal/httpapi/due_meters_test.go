package httpapi_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// TestMetersMoveWhatComesDue is the story of the joints between the book of the meters, inspections and what comes due:
// a walkaround reads the hour meter, which is no time in service (14 CFR 1.1); a flight's hours in the air are; and what an
// annual inspection settles is settled at once.
func TestMetersMoveWhatComesDue(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	hundred := func() (casefile.DueReading, *float64, casefile.DueItem) {
		t.Helper()
		l := shownTo[casefile.DueList](t, c.rig, asked{method: "GET", path: c.path() + "/due"})
		i := itemOf(t, l, "hundred-hour")
		return l.Reading, l.Hours, i
	}
	left := func(what string, want float64, source, says string) casefile.DueReading {
		t.Helper()
		reading, _, i := hundred()
		if i.Left.Hours == nil || *i.Left.Hours != want || reading.Source != source || !strings.Contains(reading.Says, says) {
			t.Errorf("%s: %+v, want %v h left; %+v", what, i.Left, want, reading)
		}
		return reading
	}
	enter := func(body string) {
		t.Helper()
		created[client.Meters](t, c.rig, asked{method: "POST", path: c.path() + "/meters", body: body})
	}
	left("as the facts have it", 58.5, "none", "Nobody has said")
	enter(`{"time_in_service": 4312.5, "hobbs": 5000}`)
	left("the book begins", 58.5, "book", "Entry 1 of the book of time in service: 4312.5 h, read 2026-11-25T12:00:00Z.")

	c.clock.advance(time.Hour)
	c.hourMeter(t, 5000.1)
	if r := left("after the walkaround", 58.5, "book", "The hour meter was read later: it is not time in service"); len(r.Later) != 1 || r.Later[0].Hours != 5000.1 {
		t.Errorf("%+v", r)
	}

	flight := c.flight(t)
	c.clock.advance(3 * time.Hour)
	enter(fmt.Sprintf(`{"air_hours": 2.25, "flight": "%s"}`, flight))
	if r := left("after the flight", 56.25, "book", "Entry 2 of the book of time in service: 4314.75 h"); r.Flight == "" || r.By == "" || len(r.Later) != 0 {
		t.Errorf("%+v", r)
	}

	c.clock.advance(time.Hour)
	inspection := annual()
	inspection.TotalTimeHours = new(4314.75)
	decoded[client.SignedRecord](t, c.trySign(t, techlog.Mechanic, c.path(), c.byMechanic(inspection)), 201)
	left("the annual is signed", 100, "facts", "4314.75 h of time in service, read 2026-11-25T17:00:00Z")
	l := shownTo[casefile.DueList](t, c.rig, asked{method: "GET", path: c.path() + "/due"})
	if i := itemOf(t, l, "annual"); i.Due.Through != "2027-11-30" || i.State != "serves" {
		t.Errorf("%+v", i)
	}

	c.clock.advance(2 * time.Hour)
	enter(`{"air_hours": 1.5}`)
	left("flown since", 98.5, "book", "Entry 3 of the book of time in service: 4316.25 h")
	_, hours, i := hundred()
	if hours == nil || *hours != 4316.25 || i.Due.Hours == nil || *i.Due.Hours != 4414.75 || i.Meter != "aircraft" {
		t.Errorf("%v h, due %+v", hours, i.Due)
	}
}

// hourMeter walks round the aircraft and reads its hour meter.
func (c *crew) hourMeter(t *testing.T, hours float64) {
	t.Helper()
	template := created[client.ChecklistTemplate](t, c.rig, asked{method: "POST", path: "/v1/checklist-templates", body: `{"type": "Tern 2", "checks": [
		{"id": "hobbs", "station": "cabin", "way": "compare", "words": "Hour meter against the book", "means": "record", "meter": "hobbs"}]}`})
	answerTo[client.AirframeChecklist](t, c.rig, asked{
		method: "PUT", path: c.path() + "/checklist", header: ifMatch(0), body: `{"template": "` + template.Id.String() + `"}`,
	}, 200)
	begun := created[client.WalkaroundReview](t, c.rig, asked{method: "POST", path: c.path() + "/walkarounds", body: `{}`})
	created[client.ReportedResults](t, c.rig, asked{
		method: "POST", path: "/v1/walkarounds/" + begun.Walkaround.Id.String() + "/results",
		body: fmt.Sprintf(`{"results": [%s], "complete": true}`, result("hobbs", fmt.Sprintf(`"value": %v`, hours))),
	})
}

// flight plans a flight of today and gives its identifier.
func (c *crew) flight(t *testing.T) string {
	t.Helper()
	p := c.nightFlight()
	p.Departs, p.Arrives = c.clock.now(), c.clock.now().Add(3*time.Hour)
	return created[client.Flight](t, c.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, p)}).Id.String()
}
