package demo

import (
	"context"
	_ "embed"
	"fmt"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// airports is an invented list.
//
//go:embed airports.csv
var airports []byte

// loadAirports takes the club's list of airports in.
func (l *loader) loadAirports(ctx context.Context) error {
	_, err := l.service.ImportAirports(ctx, l.who, airports, l.once("airports"), func(n int) ([]byte, error) { return []byte(fmt.Sprint(n)), nil })
	return err
}

// loadSchedule plans what is more than a flight from base to base: a day out in three legs, whose way home is after sunset at
// any time of the year, a lesson every week, and a week in which an aircraft is away.
func (l *loader) loadSchedule(ctx context.Context) error {
	zone, err := time.LoadLocation(bases[0].Zone)
	if err != nil {
		return err
	}
	today := l.now.In(zone)
	at := func(day int, hour float64) time.Time {
		return time.Date(today.Year(), today.Month(), today.Day()+day, 0, 0, 0, 0, zone).Add(time.Duration(hour * float64(time.Hour)))
	}
	base := l.bases[bases[0].Code]
	home, hill, strip := hangar.PlacePlan{Base: &base}, hangar.PlacePlan{Airport: new("N0WH")}, hangar.PlacePlan{Airport: new("N0SB")}
	made := l.now.Format(time.DateOnly)
	_, err = l.service.PlanFlight(ctx, l.who, hangar.FlightPlan{
		Aircraft: l.aircraft["retractable"], Rules: "vfr", Facts: flight{facts: aboard(2)}.written(), Purpose: "Day out, home after dark",
		Legs: []hangar.LegPlan{
			{From: home, To: hill, Departs: at(7, 10), Arrives: at(7, 11)},
			{From: hill, To: strip, Departs: at(7, 13), Arrives: at(7, 14)},
			{From: strip, To: home, Departs: at(7, 22), Arrives: at(7, 23)},
		},
	}, l.once("day out of %s", made), func(h hangar.HeldFlight) ([]byte, error) { return id(h.Flight.ID) })
	if err != nil {
		return fmt.Errorf("day out: %w", err)
	}
	_, err = l.service.PlanSeries(ctx, l.who, hangar.SeriesPlan{
		Flight: hangar.FlightPlan{
			Aircraft: l.aircraft["light-sport"], From: base, To: base, Departs: at(8, 15), Arrives: at(8, 16.5), Rules: "vfr",
			Facts: flight{facts: aboard(2)}.written(), Purpose: "Weekly lesson",
		},
		Repeat: hangar.Repeat{Every: "weeks", Interval: 1, Until: today.AddDate(0, 0, 8+7*weeklyLessons).Format(time.DateOnly)},
	}, l.once("lessons of %s", made), func(p hangar.PlannedSeries) ([]byte, error) { return id(p.Series) })
	if err != nil {
		return fmt.Errorf("lessons: %w", err)
	}
	_, err = l.service.BlockAircraft(ctx, l.who, l.aircraft["electric"], hangar.BlockPlan{
		From: at(4, 8), Until: at(11, 8), Kind: techlog.BlockedAway, Words: "At the paint shop.",
	}, l.once("paint shop of %s", made), func(b hangar.BlockedAircraft) ([]byte, error) { return id(b.Block.ID) })
	if err != nil {
		return fmt.Errorf("paint shop: %w", err)
	}
	return nil
}

// weeklyLessons is how many weeks the lessons go on after the first.
const weeklyLessons = 7
