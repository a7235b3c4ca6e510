package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/techlog"
)

// TestTheStoryOfAListOfAirports: taken in, looked up, flown to, and replaced, which moves no flight that is planned.
func TestTheStoryOfAListOfAirports(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	put := func(body string) answered {
		return r.ask(t, asked{method: "PUT", path: "/v1/airports", header: asCSV, body: body, token: r.tokens[techlog.Scheduler]})
	}
	if got := put(airportList); got.status != http.StatusOK || !strings.Contains(string(got.body), `"airports":3`) {
		t.Fatalf("%d %s", got.status, got.body)
	}
	idents := func(query string) []string {
		var list []string
		for _, a := range shownTo[client.Airports](t, r, asked{method: "GET", path: "/v1/airports" + query}).Airports {
			list = append(list, a.Ident)
		}
		return list
	}
	for query, want := range map[string][]string{
		"": {"N0-7", "N0-71", "N0WH"}, "?prefix=N0-": {"N0-7", "N0-71"}, "?near_lat=40.8&near_lon=-75": {"N0WH", "N0-7"}, "?near_lat=40.8&near_lon=-75&within_nm=20": {"N0WH"},
	} {
		if got := idents(query); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", query, got, want)
		}
	}
	if a := shownTo[client.Airport](t, r, asked{method: "GET", path: "/v1/airports/N0WH"}); a.Name != `Whin Hill, "Old"` || a.Lat != 40.9 {
		t.Errorf("shown: %+v", a)
	}

	p := f.outAndBack(f.nightFlight().Departs)
	to := client.PlannedPlace{Airport: new("N0-7")}
	(*p.Legs)[0].To, (*p.Legs)[1].From = to, to
	flight := created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, p)})
	if s := flight.Legs[0].To; s.Base != nil || *s.Ident != "N0-7" || s.Name != "Sedge Strip" || s.Lat != 40.4 || s.Lon != -75.2 {
		t.Errorf("it goes to %+v", s)
	}
	if got := put("ident,name,latitude_deg,longitude_deg\nN0-7,Sedge Field,41,-75\n"); got.status != http.StatusOK {
		t.Errorf("%d %s", got.status, got.body)
	}
	if s := shownTo[client.Flight](t, r, asked{method: "GET", path: "/v1/flights/" + flight.Id.String()}); marshal(t, s.Legs[0].To) != marshal(t, flight.Legs[0].To) {
		t.Errorf("it goes to %+v now", s.Legs[0].To)
	}
	if a := shownTo[client.Airport](t, r, asked{method: "GET", path: "/v1/airports/N0-7"}); a.Name != "Sedge Field" || len(idents("")) != 3 {
		t.Errorf("replaced: %+v", a)
	}

	bad := put("ident,name,latitude_deg,longitude_deg\nN0-8,New,41,-75\nN0-9,Newer,95,x\n")
	if faults := bad.faults(t); bad.status != http.StatusUnprocessableEntity || !slices.Equal(faults, []string{"range latitude_deg", "range longitude_deg"}) || len(idents("")) != 3 {
		t.Errorf("%d %v, then %v", bad.status, faults, idents(""))
	}
	both := client.PlannedPlace{Base: &f.home.Id, Airport: new("N0-7")}
	for rule, place := range map[string]client.PlannedPlace{"known-airport": {Airport: new("N0-8")}, "one-place": both} {
		(*p.Legs)[0].To = place
		got := r.ask(t, asked{method: "POST", path: "/v1/flights", body: marshal(t, p)})
		if faults := got.faults(t); got.status != http.StatusUnprocessableEntity || !slices.Equal(faults, []string{rule + " legs[0].to"}) {
			t.Errorf("%d %v, want %s", got.status, faults, rule)
		}
	}
	for query, want := range map[string]string{"?near_lat=1": "required query.near_lat", "?near_lat=1&near_lon=1&prefix=N": "one-form query.prefix"} {
		got := r.ask(t, asked{method: "GET", path: "/v1/airports" + query})
		if faults := got.faults(t); !slices.Equal(faults, []string{want}) {
			t.Errorf("%s: %v", query, faults)
		}
	}
}
