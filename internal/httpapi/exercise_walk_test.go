package httpapi_test

import (
	"encoding/json"
	"net/http"
	"testing"

	"tiedown/api/client"
)

const (
	doorCheck = `{"id": "door", "station": "cabin", "way": "look", "words": "Door latched", "means": "condition", "item": "cabin-door"}`
	oilCheck  = `{"id": "oil", "station": "nose", "way": "measure", "words": "Oil level", "means": "servicing", "item": "engine-oil", "in": "qt", "at_least": 5.5}`
	twoChecks = `{"type": "Tern 2", "checks": [` + doorCheck + `, ` + oilCheck + `]}`
)

// answerTo sends a request that has to end with a status, and returns the answer.
func answerTo[T any](t testing.TB, r *rig, q asked, status int) T {
	t.Helper()
	got := r.ask(t, q)
	var record T
	if err := json.Unmarshal(got.body, &record); err != nil || got.status != status {
		t.Fatalf("%s %s: %d %s", q.method, q.path, got.status, got.body)
	}
	return record
}

func (x *exercise) template(t *testing.T) client.ChecklistTemplate {
	t.Helper()
	return created[client.ChecklistTemplate](t, x.rig, asked{method: "POST", path: "/v1/checklist-templates", body: twoChecks})
}

// checklist gives the fleet's aircraft its checklist, once.
func (x *exercise) checklist(t *testing.T) {
	t.Helper()
	if x.walkable.Version > 0 {
		return
	}
	x.walkable = answerTo[client.AirframeChecklist](t, x.rig, asked{
		method: "PUT", path: "/v1/aircraft/" + x.fleet.aircraft.Id.String() + "/checklist", header: ifMatch(0),
		body: `{"template": "` + x.template(t).Id.String() + `"}`,
	}, http.StatusOK)
}

func (x *exercise) walkaround(t *testing.T) client.WalkaroundReview {
	t.Helper()
	x.checklist(t)
	return created[client.WalkaroundReview](t, x.rig, x.good["startWalkaround"]())
}

func result(check, said string) string {
	return `{"id": "` + newID().String() + `", "check": "` + check + `", "made_at": "2026-11-25T12:00:00Z", ` + said + `}`
}

// found is the path of a finding that is still to be filed.
func (x *exercise) found(t *testing.T) string {
	t.Helper()
	path := "/v1/walkarounds/" + x.walkaround(t).Walkaround.Id.String()
	reported := created[client.ReportedResults](t, x.rig, asked{method: "POST", path: path + "/results", body: `{"results": [` + result("oil", `"value": 4`) + `]}`})
	return path + "/results/" + reported.Findings[0].Result.String() + "/squawk"
}

// walkingRequests are good requests of what walkarounds are made of.
func (x *exercise) walkingRequests(t *testing.T) map[string]func() asked {
	t.Helper()
	aircraft := "/v1/aircraft/" + x.fleet.aircraft.Id.String()
	return map[string]func() asked{
		"listChecklistTemplates": func() asked { return asked{method: "GET", path: "/v1/checklist-templates"} },
		"addChecklistTemplate":   func() asked { return asked{method: "POST", path: "/v1/checklist-templates", body: twoChecks} },
		"listChecklistTemplateVersions": func() asked {
			return asked{method: "GET", path: "/v1/checklist-templates/" + x.template(t).Id.String() + "/versions"}
		},
		"showChecklistTemplate": func() asked {
			return asked{method: "GET", path: "/v1/checklist-templates/" + x.template(t).Id.String()}
		},
		"exportChecklistTemplate": func() asked {
			return asked{method: "GET", path: "/v1/checklist-templates/" + x.template(t).Id.String() + "/csv"}
		},
		"changeChecklistTemplate": func() asked {
			return asked{method: "PUT", path: "/v1/checklist-templates/" + x.template(t).Id.String(), header: ifMatch(1), body: twoChecks}
		},
		"showChecklist": func() asked {
			x.checklist(t)
			return asked{method: "GET", path: aircraft + "/checklist"}
		},
		"changeChecklist": func() asked {
			a := x.addAircraft(t, x.next("N0K"))
			return asked{
				method: "PUT", path: "/v1/aircraft/" + a.Id.String() + "/checklist", header: ifMatch(0),
				body: `{"template": "` + x.template(t).Id.String() + `", "serial": "T-7", "changes": {"drop": ["door"]}}`,
			}
		},
		"startWalkaround": func() asked {
			x.checklist(t)
			return asked{method: "POST", path: aircraft + "/walkarounds", body: `{"id": "` + newID().String() + `", "freezing_moisture": false}`}
		},
		"listWalkarounds": func() asked { return asked{method: "GET", path: "/v1/walkarounds"} },
		"showWalkaround": func() asked {
			return asked{method: "GET", path: "/v1/walkarounds/" + x.walkaround(t).Walkaround.Id.String()}
		},
		"reportResults": func() asked {
			path := "/v1/walkarounds/" + x.walkaround(t).Walkaround.Id.String() + "/results"
			return asked{method: "POST", path: path, body: `{"results": [` + result("door", `"outcome": "good"`) + `], "complete": true}`}
		},
		"listTrends": func() asked { return asked{method: "GET", path: aircraft + "/trends"} },
		"showTrend": func() asked {
			x.found(t)
			return asked{method: "GET", path: aircraft + "/trends/oil"}
		},
		"exportTrend": func() asked {
			x.found(t)
			return asked{method: "GET", path: aircraft + "/trends/oil/csv"}
		},
		"fileFinding":      func() asked { return asked{method: "POST", path: x.found(t), body: `{}`} },
		"showMeters":       func() asked { return asked{method: "GET", path: aircraft + "/meters"} },
		"listMeterEntries": func() asked { return asked{method: "GET", path: aircraft + "/meters/hobbs"} },
		"enterMeters": func() asked {
			return asked{method: "POST", path: aircraft + "/meters", body: `{"hobbs": 2000.1, "tach": 1800, "time_in_service": 1750.25, "because": "first entry"}`}
		},
	}
}

// walkingConflict is a request about walkarounds that contradicts what is on record.
func (x *exercise) walkingConflict(t *testing.T, operation string) asked {
	t.Helper()
	q := x.good[operation]()
	switch operation {
	case "startWalkaround":
		a := x.addAircraft(t, x.next("N0B"))
		q.path = "/v1/aircraft/" + a.Id.String() + "/walkarounds" // it has no checklist
	case "fileFinding":
		created[client.FiledSquawk](t, x.rig, q)
	case "enterMeters":
		a := x.addAircraft(t, x.next("N0B"))
		q.path = "/v1/aircraft/" + a.Id.String() + "/meters"
		q.body = `{"hobbs": 1, "flight": "` + x.flight(t).Id.String() + `"}`
	}
	return q
}
