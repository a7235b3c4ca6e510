package httpapi_test

import (
	"net/http"
	"slices"
	"testing"
	"time"

	"tiedown/api/client"
)

// TestTheStoryOfASeries plans a flight for every day, calls the rest off, and finds it in the lists.
func TestTheStoryOfASeries(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	entry := client.FlightSeriesEntry{
		Flight: f.nightFlight(), Repeat: client.Repeat{Every: "days", Interval: new(2), Until: "2026-12-04", Skip: &[]client.Date{"2026-11-30"}},
	}
	made := created[client.FlightSeries](t, r, asked{method: "POST", path: "/v1/flight-series", body: marshal(t, entry)})
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	var dates []string
	for _, flight := range made.Flights {
		dates = append(dates, flight.Departs.In(zone).Format("01-02 15:04"))
		if *flight.Series != made.Series || flight.Hold.Holds || flight.Version != 1 || len(flight.Legs) != 1 {
			t.Errorf("planned %+v", flight)
		}
	}
	if !slices.Equal(dates, []string{"11-26 19:00", "11-28 19:00", "12-02 19:00", "12-04 19:00"}) {
		t.Fatalf("it is flown on %v", dates)
	}
	path := "/v1/flights?series=" + made.Series.String()
	if l := shownTo[client.Flights](t, r, asked{method: "GET", path: path}).Flights; len(l) != 4 || marshal(t, l[2]) != marshal(t, made.Flights[2]) {
		t.Errorf("listed %+v", l)
	}
	gone := answerTo[client.Flights](t, r, asked{
		method: "POST", path: "/v1/flight-series/" + made.Series.String() + "/cancellation", body: `{"from": "2026-12-02"}`,
	}, http.StatusOK).Flights
	if len(gone) != 2 || gone[0].Id != made.Flights[2].Id || gone[1].State != "cancelled" || gone[1].Version != 2 {
		t.Errorf("called off %+v", gone)
	}
	if l := shownTo[client.Flights](t, r, asked{method: "GET", path: path + "&state=planned"}).Flights; len(l) != 2 {
		t.Errorf("left are %+v", l)
	}
	entry.Flight.To, entry.Repeat.Weekdays = client.ID(newID()), &[]client.RepeatWeekdays{"monday"}
	got := r.ask(t, asked{method: "POST", path: "/v1/flight-series", body: marshal(t, entry)})
	if faults := got.faults(t); got.status != http.StatusUnprocessableEntity || !slices.Equal(faults, []string{"known-base flight.to"}) {
		t.Errorf("%d %v", got.status, faults)
	}
	entry.Flight.To = f.home.Id
	got = r.ask(t, asked{method: "POST", path: "/v1/flight-series", body: marshal(t, entry)})
	if faults := got.faults(t); got.status != http.StatusUnprocessableEntity || !slices.Equal(faults, []string{"of-weeks repeat.weekdays"}) {
		t.Errorf("%d %v", got.status, faults)
	}
}
