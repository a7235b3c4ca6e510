package hangar

import (
	"context"
	"fmt"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// SeriesPlan is a flight that is to be flown again and again.
type SeriesPlan struct {
	Flight FlightPlan // the first one
	Repeat Repeat
}

// Repeat says on which dates a flight is flown again, by the calendar of the zone that it departs in.
type Repeat struct {
	Every    string         // days or weeks
	Interval int            // every so many of them, from 1
	Weekdays []time.Weekday // with weeks: on these days; none: on that of the first flight
	Until    string         // the last date that may be one
	Skip     []string       // dates on which it is not flown after all
}

// PlannedSeries is what came of a plan: flights in the order of their departure.
type PlannedSeries struct {
	Series  techlog.ID
	Flights []techlog.Flight
}

// MaxSeries bounds the flights of a series.
const MaxSeries = 400

// PlanSeries plans a flight again and again, judges every one and records them at once or none. Each is a flight of its own,
// changed and cancelled as any other. The departure stays at its time on the clock, whatever daylight saving does: a time that
// a clock skips or repeats is that of time.Date. All else of a flight keeps its distance from the departure. Kinds forbidden,
// invalid, not-found.
func (s *Service) PlanSeries(ctx context.Context, who techlog.Principal, p SeriesPlan, once *Once, render Render[PlannedSeries]) ([]byte, error) {
	if err := who.Require(techlog.PlanFlight); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(p.Flight.Aircraft, time.Time{})}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		snap := tx.Snapshot(0)
		c, err := s.compile(snap)
		if err != nil {
			return nil, err
		}
		flights, err := s.intendedSeries(ctx, tx, snap, c, &p, who, at)
		if err != nil {
			return nil, err
		}
		for i := range flights {
			f := &flights[i]
			f.ID = s.newID()
			tx.AddFlight(*f)
			e := techlog.Event{ID: s.newID(), Kind: "flight.planned", Aircraft: f.Aircraft, Subject: f.ID, At: at}
			if change, told := new(techlog.Hold).ChangeTo(f.ID, &f.Hold); told {
				e.Changes = []techlog.HoldChange{change}
			}
			tx.Emit(e)
		}
		return render(PlannedSeries{flights[0].Series, flights})
	})
}

// AskSeries judges the flights of a series that nobody has planned, and keeps nothing. Kinds invalid, not-found.
func (s *Service) AskSeries(ctx context.Context, who techlog.Principal, p SeriesPlan) (PlannedSeries, error) {
	snap, c, err := s.look(ctx, who.Organization, p.Flight.Aircraft)
	if err != nil {
		return PlannedSeries{}, err
	}
	flights, err := s.intendedSeries(ctx, storedPlaces{s.store, who.Organization}, &snap, c, &p, who, s.now())
	return PlannedSeries{Flights: flights}, err
}

// intendedSeries are the flights of a series, each judged, without identifiers of their own.
func (s *Service) intendedSeries(ctx context.Context, places placeReader, snap *Snapshot, c compiled, p *SeriesPlan, who techlog.Principal, at time.Time) ([]techlog.Flight, error) {
	legs, name, err := s.legsOf(ctx, places, &snap.Aircraft, &p.Flight)
	if err != nil {
		return nil, err
	}
	zone, err := s.zone(name)
	if err != nil {
		return nil, err
	}
	first := techlog.Flight{
		Aircraft: p.Flight.Aircraft, Zone: name, Rules: p.Flight.Rules, Facts: p.Flight.Facts, Purpose: p.Flight.Purpose,
		State: techlog.Planned, PlannedBy: who.Name, Series: s.newID(), Version: 1,
	}
	first.Over(legs)
	departures, err := p.Repeat.departures(first.Departs.In(zone))
	if err := casefile.Join(p.Flight.overBy(at), err); err != nil {
		return nil, err
	}
	return s.seriesOf(snap, c, &p.Flight, first, departures, at)
}

// seriesOf judges the flights of a series. The aircraft is stood once.
func (s *Service) seriesOf(snap *Snapshot, c compiled, p *FlightPlan, first techlog.Flight, departures []time.Time, at time.Time) ([]techlog.Flight, error) {
	j, err := s.stand(c, bearingOn(&first, snap.Squawks))
	if err != nil {
		return nil, err
	}
	flights := make([]techlog.Flight, len(departures))
	for i, departs := range departures {
		f := first
		later := departs.Sub(first.Departs)
		legs := slices.Clone(first.Legs)
		for n := range legs {
			legs[n].Departs, legs[n].Arrives = legs[n].Departs.Add(later), legs[n].Arrives.Add(later)
			settleLight(&legs[n])
		}
		f.Over(legs)
		if f.Hold, err = s.holdOf(j, c, &f, at, asWritten); err != nil {
			return nil, casefile.Renamed(err, func(name string) string { return p.field(name, len(legs)-1) })
		}
		f.Hold.Blocks = techlog.BlocksOn(&f, snap.Blocks)
		flights[i] = f
	}
	return flights, nil
}

// departures are the instants at which the flights of a series depart, the first of them as it is given.
func (r *Repeat) departures(first time.Time) ([]time.Time, error) {
	var bad casefile.Faults
	until, err := time.Parse(time.DateOnly, r.Until)
	begins := time.Date(first.Year(), first.Month(), first.Day(), 0, 0, 0, 0, time.UTC)
	switch {
	case err != nil:
		bad.Add("repeat.until", "date", fmt.Sprintf("%q is no date", r.Until), "write it as YYYY-MM-DD")
	case until.Before(begins):
		bad.Add("repeat.until", "after-first", "it ends before the first flight", "give the date of the first flight, or a later one")
	}
	if r.Interval < 1 {
		bad.Add("repeat.interval", "range", "there is no such interval", "give 1 or more")
	}
	on := r.Weekdays
	switch {
	case r.Every != "days" && r.Every != "weeks":
		bad.Add("repeat.every", "known-step", fmt.Sprintf("%q is no step", r.Every), "use days or weeks")
	case r.Every == "days" && len(on) > 0:
		bad.Add("repeat.weekdays", "of-weeks", "what is flown every so many days is flown whatever the weekday", "use weeks, or leave the weekdays out")
	case len(on) == 0:
		on = []time.Weekday{first.Weekday()}
	case !slices.Contains(on, first.Weekday()):
		bad.Add("repeat.weekdays", "has-first", "the first flight is on another weekday", "name the weekday of the first flight, too")
	}
	if bad != nil {
		return nil, bad
	}
	return r.on(first, begins, until, on)
}

// on steps through the dates, from the first to the last that may be one.
func (r *Repeat) on(first, begins, until time.Time, weekdays []time.Weekday) ([]time.Time, error) {
	var bad casefile.Faults
	skipped := map[string]bool{}
	for i, date := range r.Skip {
		if skipped[date] {
			bad.Add(fmt.Sprintf("repeat.skip[%d]", i), "unique", "the date is there twice", "leave it out once")
		}
		skipped[date] = true
	}
	var all []time.Time
	const week = 7
	monday := begins.AddDate(0, 0, -(int(begins.Weekday())+week-1)%week)
	n := 0
	for date := begins; !date.After(until) && n <= MaxSeries; date = date.AddDate(0, 0, 1) {
		days := int(date.Sub(begins).Hours() / 24)
		weeks := int(date.Sub(monday).Hours()/24) / week
		if r.Every == "days" && days%r.Interval != 0 || r.Every == "weeks" && (weeks%r.Interval != 0 || !slices.Contains(weekdays, date.Weekday())) {
			continue
		}
		n++
		if name := date.Format(time.DateOnly); skipped[name] {
			delete(skipped, name)
			continue
		}
		all = append(all, time.Date(date.Year(), date.Month(), date.Day(), first.Hour(), first.Minute(), first.Second(), first.Nanosecond(), first.Location()))
	}
	switch {
	case n > MaxSeries:
		bad.Add("repeat.until", "length", fmt.Sprintf("it comes to more than %d flights", MaxSeries), "end the series earlier, and plan the rest as another")
	case len(all) == 0:
		bad.Add("repeat.skip", "some-left", "every date is skipped", "leave one of them out")
	}
	for i, date := range r.Skip {
		if skipped[date] && n <= MaxSeries {
			bad.Add(fmt.Sprintf("repeat.skip[%d]", i), "of-the-series", "nothing of the series is on this date", "correct it, or leave it out")
		}
	}
	return all, bad.Err()
}

// CancelSeries takes the flights of a series off the plan that depart from a date on, by the calendar of the zone that they
// depart in, and have not departed yet; an empty date means all of these. Kinds forbidden, invalid, not-found.
func (s *Service) CancelSeries(ctx context.Context, who techlog.Principal, series techlog.ID, from string, once *Once, render Render[[]techlog.Flight]) ([]byte, error) {
	if err := who.Require(techlog.PlanFlight); err != nil {
		return nil, err
	}
	if _, err := time.Parse(time.DateOnly, from); from != "" && err != nil {
		return nil, fault("from", "date", fmt.Sprintf("%q is no date", from), "write it as YYYY-MM-DD, or leave it out")
	}
	at := s.now()
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}, func(ctx context.Context, tx Tx) ([]byte, error) {
		flights, err := tx.SeriesFlights(ctx, series)
		if err != nil {
			return nil, err
		}
		if len(flights) == 0 {
			return nil, techlog.Errorf(techlog.KindNotFound, "there is no such series")
		}
		cancelled := []techlog.Flight{}
		for i := range flights {
			f := flights[i]
			zone, err := s.zone(f.Zone)
			if err != nil {
				return nil, fmt.Errorf("flight %s: %w", f.ID, err)
			}
			if f.State != techlog.Planned || !f.Departs.After(at) || f.Departs.In(zone).Format(time.DateOnly) < from {
				continue
			}
			f.State = techlog.Cancelled
			f.Version++
			tx.UpdateFlight(f)
			tx.Emit(techlog.Event{ID: s.newID(), Kind: "flight.cancelled", Aircraft: f.Aircraft, Subject: f.ID, At: at})
			cancelled = append(cancelled, f)
		}
		return render(cancelled)
	})
}
