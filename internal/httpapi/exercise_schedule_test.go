package httpapi_test

import (
	"net/http"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/techlog"
)

var asCSV = map[string]string{"Content-Type": "text/csv"}

// airportList is invented.
const airportList = `id,ident,type,name,latitude_deg,longitude_deg,elevation_ft
1,N0-7,small_airport,Sedge Strip,40.4,-75.2,310
2,N0WH,small_airport,"Whin Hill, ""Old""",40.9,-75,1250
3,N0-71,heliport,Far Landing,-12.5,179.99,
`

// newBlock blocks an aircraft at a time at which the exercises plan nothing.
const newBlock = `{"from": "2027-03-01T08:00:00Z", "until": "2027-03-02T08:00:00Z", "kind": "maintenance", "words": "Annual inspection."}`

// scheduleRequests are the good requests about what people set beside the holds.
func (x *exercise) scheduleRequests(t *testing.T) map[string]func() asked {
	t.Helper()
	blocks := "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/blocks"
	block := func() string {
		made := created[client.BlockedAircraft](t, x.rig, asked{method: "POST", path: blocks, body: newBlock, token: x.rig.tokens[techlog.Scheduler]})
		return "/v1/blocks/" + made.Block.Id.String()
	}
	shown := func() string { return "/v1/flights/" + x.flight(t).Id.String() + "/shown" }
	entry := client.FlightSeriesEntry{Flight: x.fleet.nightFlight(), Repeat: client.Repeat{Every: "days", Until: "2026-11-27"}}
	plan := asked{method: "POST", path: "/v1/flight-series", body: marshal(t, entry)}
	list := asked{method: "PUT", path: "/v1/airports", header: asCSV, body: airportList}
	return map[string]func() asked{
		"importAirports": func() asked { return list },
		"listAirports":   func() asked { return asked{method: "GET", path: "/v1/airports"} },
		"showAirport": func() asked {
			if got := x.rig.ask(t, list); got.status != http.StatusOK {
				t.Fatalf("import: %d %s", got.status, got.body)
			}
			return asked{method: "GET", path: "/v1/airports/N0-7"}
		},
		"planSeries": func() asked { return plan },
		"cancelSeries": func() asked {
			made := created[client.FlightSeries](t, x.rig, plan)
			return asked{method: "POST", path: "/v1/flight-series/" + made.Series.String() + "/cancellation", body: `{}`}
		},
		"listBlocks":    func() asked { return asked{method: "GET", path: blocks} },
		"blockAircraft": func() asked { return asked{method: "POST", path: blocks, body: newBlock} },
		"showBlock":     func() asked { return asked{method: "GET", path: block()} },
		"changeBlock":   func() asked { return asked{method: "PUT", path: block(), body: newBlock, header: ifMatch(1)} },
		"cancelBlock":   func() asked { return asked{method: "POST", path: block() + "/cancellation", header: ifMatch(1)} },
		"listShown":     func() asked { return asked{method: "GET", path: shown()} },
		"recordShown": func() asked {
			return asked{method: "POST", path: shown(), body: `{"person": "` + x.rig.persons[techlog.Pilot].String() + `"}`}
		},
	}
}
