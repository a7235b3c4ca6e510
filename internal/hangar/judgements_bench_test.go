package hangar_test

import (
	"context"
	"strconv"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
)

// fleetOf is a fleet that is read without a database: what is measured is judging.
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

// schedule is a fleet of some trainers with squawks, and as many flights as are judged at once: by day, over dusk and at night,
// between two bases, from spring to winter.
func schedule(tb testing.TB, aircraft, flights int) (*fleetOf, []hangar.FlightPlan) {
	tb.Helper()
	fleet := &fleetOf{}
	zones := []string{"America/Chicago", "America/Denver"}
	for i, at := range [][2]float64{{41.9, -88.2}, {39.8, -104.7}} {
		fleet.survey.Bases = append(fleet.survey.Bases, techlog.Base{ID: newID(), Code: strconv.Itoa(i), Lat: at[0], Lon: at[1], Zone: zones[i]})
	}
	trainer, err := demo.Aircraft("trainer")
	if err != nil {
		tb.Fatal(err)
	}
	demo.Inspect(&trainer.Facts, noon)
	for i := range aircraft {
		a := techlog.Aircraft{
			ID: newID(), Base: fleet.survey.Bases[0].ID, Facts: trainer.Facts, Configuration: trainer.Configuration, PlanVersion: 1,
		}
		fleet.survey.Aircraft = append(fleet.survey.Aircraft, hangar.Snapshot{Aircraft: a, Squawks: []techlog.Squawk{
			{Number: 1, Kind: "inoperative", Unit: "landing-light", State: techlog.Deferred, Deferral: deferral(noon.Add(time.Duration(i) * 24 * time.Hour))},
			{Number: 2, Kind: "inoperative", Unit: "cabin-heater", State: techlog.Reported},
		}})
	}
	plans := make([]hangar.FlightPlan, flights)
	for i := range plans {
		departs := noon.Add(time.Duration(i) * 37 * time.Minute)
		facts := casefile.FlightFacts{
			ForHire: new(i%3 == 0), OverWater: new(false), Controlled: new(true), InstructionProvidedAircraft: new(false), Occupants: new(2), Persons: new(2),
			RequiredCrew: new(1), AltitudeFt: new(3500.0), Airspace: &[]string{"class-d"},
		}
		plans[i] = hangar.FlightPlan{
			Aircraft: fleet.survey.Aircraft[i%aircraft].Aircraft.ID, From: fleet.survey.Bases[i%2].ID, To: fleet.survey.Bases[i/2%2].ID,
			Departs: departs, Arrives: departs.Add(90 * time.Minute), Rules: "vfr", Facts: facts,
		}
	}
	return fleet, plans
}

func scheduler(tb testing.TB, store hangar.Store) *hangar.Service {
	tb.Helper()
	book, err := regulation.Current()
	if err != nil {
		tb.Fatal(err)
	}
	return hangar.New(hangar.Settings{
		Store: store, Book: hangar.Book{Rules: book.Ruleset, Upkeep: book.Upkeep, Digest: book.Digest}, Now: func() time.Time { return noon }, NewID: newID,
	})
}

// BenchmarkJudgements judges 10,000 intended flights of 100 aircraft, with their daylight and without a database.
func BenchmarkJudgements(b *testing.B) {
	fleet, plans := schedule(b, 100, hangar.MaxJudgements)
	service := scheduler(b, fleet)
	verdicts := map[string]int{}
	b.ReportAllocs()
	for b.Loop() {
		judged, err := service.JudgeFlights(b.Context(), techlog.Principal{}, plans)
		if err != nil {
			b.Fatal(err)
		}
		clear(verdicts)
		for i := range judged.Flights {
			verdicts[judged.Flights[i].Hold.Verdict]++
		}
	}
	b.ReportMetric(float64(b.N*len(plans))/b.Elapsed().Seconds(), "flights/s")
	b.Log(verdicts)
}
