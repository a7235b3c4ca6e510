package httpapi_test

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"strconv"
	"syscall"
	"testing"
	"time"

	json "github.com/go-json-experiment/json/v1"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/contract"
	"tiedown/internal/hangar"
	"tiedown/internal/httpapi"
	"tiedown/internal/techlog"
)

// fleetOf is a fleet that is read without a database.
type fleetOf struct {
	hangar.Store
	survey hangar.Survey
}

func (f *fleetOf) Survey(_ context.Context, _ techlog.ID, want hangar.SurveyWant) (hangar.Survey, error) {
	read := hangar.Survey{Bases: f.survey.Bases}
	for _, a := range f.survey.Aircraft {
		a.PlanKnown = want.Known[a.Aircraft.ID] == a.Aircraft.PlanVersion
		read.Aircraft = append(read.Aircraft, a)
	}
	return read, nil
}

// scheduleRig is a server over a fleet of trainers, each with a deferred squawk and one that is not, and a request to judge so many
// flights: by day, over dusk and at night, between two bases, from spring to winter.
func scheduleRig(b *testing.B, aircraft, flights int) (http.Handler, *fleetOf, string) {
	b.Helper()
	fleet := &fleetOf{}
	for i, at := range [][2]float64{{41.9, -88.2}, {39.8, -104.7}} {
		fleet.survey.Bases = append(fleet.survey.Bases, techlog.Base{
			ID: newID(), Code: strconv.Itoa(i), Lat: at[0], Lon: at[1], Zone: []string{"America/Chicago", "America/Denver"}[i],
		})
	}
	entry := trainer(client.ID{1})
	for i := range aircraft {
		a := techlog.Aircraft{ID: newID(), Base: fleet.survey.Bases[0].ID, Facts: entry.Facts, Configuration: *entry.Configuration, PlanVersion: 1}
		squawks := []techlog.Squawk{
			{Number: 1, Kind: "inoperative", Unit: "landing-light", State: techlog.Deferred, Deferral: &techlog.Deferral{
				Method: "deactivated", Placard: "INOP", Entry: "1", DeterminedBy: "P. Lot", Until: noon.AddDate(0, 0, i),
			}},
			{Number: 2, Kind: "inoperative", Unit: "cabin-heater", State: techlog.Reported},
		}
		fleet.survey.Aircraft = append(fleet.survey.Aircraft, hangar.Snapshot{Aircraft: a, Squawks: squawks[:1+i%2]})
	}
	r := &rig{}
	r.start(b, fleet, anybody{}, persons{})
	body := client.FlightsToJudge{}
	for i := range flights {
		departs := noon.Add(time.Duration(i) * 37 * time.Minute)
		facts := casefile.FlightFacts{
			ForHire: new(i%3 == 0), OverWater: new(false), Controlled: new(true), InstructionProvidedAircraft: new(false), Occupants: new(2), Persons: new(2),
			RequiredCrew: new(1), AltitudeFt: new(3500.0), Airspace: &[]string{"class-d"},
		}
		body.Flights = append(body.Flights, client.FlightToJudge{
			Ref: new(fmt.Sprint("flight ", i)), Aircraft: client.ID(fleet.survey.Aircraft[i%aircraft].Aircraft.ID), From: client.ID(fleet.survey.Bases[i%2].ID),
			To: client.ID(fleet.survey.Bases[i/2%2].ID), Departs: departs, Arrives: departs.Add(90 * time.Minute), Rules: "vfr", Facts: &facts,
		})
	}
	written, err := json.Marshal(body)
	if err != nil {
		b.Fatal(err)
	}
	h := httpapi.New(httpapi.Settings{Service: r.service, Store: anybody{}, Log: slog.New(slog.DiscardHandler), Now: r.clock.now})
	return h, fleet, string(written)
}

// BenchmarkJudgeFlights judges 10,000 intended flights of 100 aircraft. "whole" is the use case from the body of the request to that of
// the answer, without network and database; "decode" is what decoding the body costs by itself, and
// "check" holding it against the contract.
func BenchmarkJudgeFlights(b *testing.B) {
	h, _, body := scheduleRig(b, 100, hangar.MaxJudgements)
	b.Logf("%d bytes a flight", len(body)/hangar.MaxJudgements)
	b.Run("whole", func(b *testing.B) {
		defer perSecond(b)()
		serve(b, h, "POST", "/v1/judgements", body, 200)
	})
	b.Run("decode", func(b *testing.B) {
		defer perSecond(b)()
		for b.Loop() {
			var asked client.FlightsToJudge
			if err := json.Unmarshal([]byte(body), &asked); err != nil || len(asked.Flights) != hangar.MaxJudgements {
				b.Fatal(err)
			}
		}
	})
	b.Run("check", func(b *testing.B) {
		defer perSecond(b)()
		c, err := contract.Current()
		if err != nil {
			b.Fatal(err)
		}
		o, _ := c.Operation("POST", "/v1/judgements")
		for b.Loop() {
			if faults := o.Body.Check([]byte(body)); len(faults) > 0 {
				b.Fatal(faults)
			}
		}
	})
}

// perSecond tells how many flights a second of one core's time, whatever else the machine is busy with.
func perSecond(b *testing.B) func() {
	b.Helper()
	began := coreTime(b)
	return func() {
		b.ReportMetric(float64(b.N*hangar.MaxJudgements)/(coreTime(b)-began).Seconds(), "flights/core-s")
	}
}

// coreTime is the time that the process has had of any core.
func coreTime(b *testing.B) time.Duration {
	b.Helper()
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}
