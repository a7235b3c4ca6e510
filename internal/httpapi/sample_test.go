package httpapi_test

import (
	"encoding/json"
	"testing"
)

// sampleCase is a whole case: a landing light out, before a sightseeing flight for hire at night.
const sampleCase = `{
	"story": "Landing light out, sightseeing at night",
	"aircraft": {
		"facts": {"category": "airplane", "certificate": "standard", "basis": "part-23-before-64", "engine": "reciprocating",
			"cooling": "air", "max_takeoff_weight_lb": 1700, "engines": 1, "tanks": 2, "seats": 2, "front_seats": 2,
			"manufactured": "1999-05-01", "us_registered": true, "approved": ["day-vfr", "night-vfr"]},
		"configuration": {"units_complete": true, "units": [{"id": "ldg", "item": "landing-light"}, {"id": "asi", "item": "airspeed-indicator"}],
			"type_certification": {"on_record": true}, "equipment_list": {"on_record": true}, "koel": {"on_record": false},
			"directives": {"on_record": true}}},
	"defects": [{"id": "1", "kind": "inoperative", "unit": "ldg", "words": "stays dark"}],
	"flight": {"rules": "vfr", "departs": "2026-11-26T20:00:00-05:00", "arrives": "2026-11-26T21:00:00-05:00",
		"route": [{"name": "home", "lat": 40, "lon": -75}], "for_hire": true, "persons": 2, "occupants": 2, "altitude_ft": 3000, "airspace": []}}`

// sampleEnvelopeCase is the aircraft and the squawk of the sample case, without its flight.
func sampleEnvelopeCase(t *testing.T) string {
	t.Helper()
	var c map[string]any
	if err := json.Unmarshal([]byte(sampleCase), &c); err != nil {
		t.Fatal(err)
	}
	return marshal(t, map[string]any{"aircraft": c["aircraft"], "defects": c["defects"], "until": "2026-11-26T21:00:00-05:00"})
}
