package hangar

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/daylight"
	"tiedown/internal/techlog"
)

// LegPlan is one leg as somebody intends to fly it.
type LegPlan struct {
	From, To PlacePlan
	Departs  time.Time
	Arrives  time.Time
}

// PlacePlan is where a leg starts or ends: a base, an airport of the organization's list, or coordinates with a name. Exactly one of
// the three is given.
type PlacePlan struct {
	Base     *techlog.ID
	Airport  *string
	Lat, Lon *float64 // degrees, north and east positive
	Name     string
}

// samePlaceNM is how far apart one leg may end and the next start. The reference point of an airport may lie so far from
// where a base has been put on the map (our own measure).
const samePlaceNM = 2

// legs lists the legs of a plan, whichever way it was given.
func (p *FlightPlan) legs() []LegPlan {
	if p.Legs != nil {
		return p.Legs
	}
	return []LegPlan{{From: PlacePlan{Base: &p.From}, To: PlacePlan{Base: &p.To}, Departs: p.Departs, Arrives: p.Arrives}}
}

// field names a field of the engine's flight as the plan has it.
func (p *FlightPlan) field(name string, leg int) string {
	window := name == "flight.departs" || name == "flight.arrives"
	if p.Legs == nil || !window {
		return name
	}
	return fmt.Sprintf("legs[%d].%s", leg, strings.TrimPrefix(name, "flight."))
}

// asWritten leaves a field as it is.
func asWritten(name string, _ int) string { return name }

// at names a field of a leg as the plan has it.
func (p *FlightPlan) at(leg int, field string) string {
	if p.Legs == nil {
		return field
	}
	return fmt.Sprintf("legs[%d].%s", leg, field)
}

// overBy refuses a flight that has ended.
func (p *FlightPlan) overBy(at time.Time) error {
	var bad casefile.Faults
	legs := p.legs()
	if last := len(legs) - 1; !legs[last].Arrives.After(at) {
		bad.Add(p.at(last, "arrives"), "future", "the flight has already ended", "plan flights that are still to come")
	}
	return bad.Err()
}

// legsOf turns a plan into legs with their light, and tells the zone of the flight: that of the base that it leaves from,
// or else of the aircraft's base.
func (s *Service) legsOf(ctx context.Context, places placeReader, a *techlog.Aircraft, p *FlightPlan) ([]techlog.Leg, string, error) {
	plans := p.legs()
	var bad casefile.Faults
	switch n := len(plans); {
	case n == 0:
		bad.Add("legs", "required", "the flight has no leg", "give 1 leg or more")
	case n > techlog.MaxLegs:
		bad.Add("legs", "length", fmt.Sprintf("more than %d legs", techlog.MaxLegs), "plan the rest as another flight")
	}
	if bad != nil {
		return nil, "", bad
	}
	find := spots{reader: places, bases: map[techlog.ID]techlog.Base{}, airports: map[string]techlog.Spot{}}
	legs := make([]techlog.Leg, len(plans))
	for i, l := range plans {
		legs[i] = techlog.Leg{Departs: l.Departs.UTC(), Arrives: l.Arrives.UTC()}
		var faults casefile.Faults
		for _, end := range []struct {
			field string
			place PlacePlan
			spot  *techlog.Spot
		}{{"from", l.From, &legs[i].From}, {"to", l.To, &legs[i].To}} {
			spot, err := find.spot(ctx, p.at(i, end.field), end.place)
			if err != nil && !errors.As(err, &faults) {
				return nil, "", err
			}
			bad = append(bad, faults...)
			*end.spot, faults = spot, nil
		}
	}
	if bad == nil {
		bad = connected(legs)
	}
	if bad != nil {
		return nil, "", bad
	}
	for i := range legs {
		settleLight(&legs[i])
	}
	home := legs[0].From.Base
	if home.IsZero() {
		home = a.Base
	}
	base, err := find.base(ctx, "aircraft", home)
	return legs, base.Zone, err
}

// connected refuses legs that overlap or leave a gap between them. A window that is none is left for the judging to name.
func connected(legs []techlog.Leg) casefile.Faults {
	var bad casefile.Faults
	for i := 1; i < len(legs); i++ {
		before, l := &legs[i-1], &legs[i]
		if l.Departs.Before(before.Arrives) {
			bad.Add(fmt.Sprintf("legs[%d].departs", i), "in-order", "the leg starts before the one before it ends", "give the legs in the order of time, without overlap")
		}
		if apart := before.To.NMApart(l.From); apart > samePlaceNM {
			bad.Add(fmt.Sprintf("legs[%d].from", i), "where-it-is", fmt.Sprintf("the aircraft is %.0f NM away, where the leg before ended", math.Ceil(apart)),
				"start the leg where the one before ends, or add the leg between them")
		}
	}
	if first, last := legs[0], legs[len(legs)-1]; len(legs) > 1 && last.Arrives.Sub(first.Departs) > casefile.MaxWindow {
		bad.Add(fmt.Sprintf("legs[%d].arrives", len(legs)-1), "window", "the flight is longer than 31 days", "plan one flight at a time")
	}
	return bad
}

// placeReader reads bases and airports: a transaction, or the store outside of one.
type placeReader interface {
	baseReader
	Airport(ctx context.Context, ident string) (casefile.Airport, error)
}

// spots finds places, each once.
type spots struct {
	reader   placeReader
	bases    map[techlog.ID]techlog.Base
	airports map[string]techlog.Spot
}

func (f *spots) base(ctx context.Context, field string, id techlog.ID) (techlog.Base, error) {
	if b, known := f.bases[id]; known {
		return b, nil
	}
	b, err := baseOf(ctx, f.reader, field, id)
	if err == nil {
		f.bases[id] = b
	}
	return b, err
}

// spot is the place that is meant, as it is now.
func (f *spots) spot(ctx context.Context, field string, p PlacePlan) (techlog.Spot, error) {
	plain := p.Lat != nil || p.Lon != nil || p.Name != ""
	switch {
	case p.Base != nil && p.Airport != nil, (p.Base != nil || p.Airport != nil) && plain:
		return techlog.Spot{}, fault(field, "one-place", "more than one place is given", "give a base, an airport, or coordinates with a name")
	case p.Airport != nil:
		return f.airport(ctx, field, *p.Airport)
	case p.Base != nil:
		b, err := f.base(ctx, field, *p.Base)
		return techlog.Spot{Base: b.ID, Ident: b.Code, Name: b.Name, Lat: b.Lat, Lon: b.Lon}, err
	case p.Lat == nil || p.Lon == nil || strings.TrimSpace(p.Name) == "":
		return techlog.Spot{}, fault(field, "place", "no place is given, or a part of it is missing", "give a base, an airport, or lat, lon and name")
	}
	if !(daylight.Place{Lat: *p.Lat, Lon: *p.Lon}).Valid() {
		return techlog.Spot{}, fault(field+".lat", "range", "the coordinates are out of range", "lat goes from -90 to 90, lon from -180 to 180")
	}
	return techlog.Spot{Name: p.Name, Lat: *p.Lat, Lon: *p.Lon}, nil
}

func (f *spots) airport(ctx context.Context, field, ident string) (techlog.Spot, error) {
	if s, known := f.airports[ident]; known {
		return s, nil
	}
	a, err := f.reader.Airport(ctx, ident)
	switch {
	case techlog.KindOf(err) == techlog.KindNotFound:
		return techlog.Spot{}, fault(field, "known-airport", "the organization's list has no such airport", "take an ident from GET /v1/airports, import a list that has it, or give coordinates")
	case err != nil:
		return techlog.Spot{}, err
	}
	s := techlog.Spot{Ident: a.Ident, Name: a.Name, Lat: a.Lat, Lon: a.Lon}
	f.airports[ident] = s
	return s, nil
}

func fault(field, rule, says, remedy string) error {
	return casefile.Faults{{Field: field, Rule: rule, Says: says, Remedy: remedy}}
}

// settleLight works out once what light a leg meets; it stays so until the flight is planned anew. A window that is none is
// left for the judging to name.
func settleLight(l *techlog.Leg) {
	if !l.Arrives.After(l.Departs) || l.Lasts() > casefile.MaxWindow {
		return
	}
	l.Light, l.InAlaska = casefile.LightAlong(routeOf(l), l.Departs, l.Arrives)
}

// routeOf is the way of a leg: one place, where it ends where it began.
func routeOf(l *techlog.Leg) []daylight.Place {
	route := []daylight.Place{{Lat: l.From.Lat, Lon: l.From.Lon}}
	if to := (daylight.Place{Lat: l.To.Lat, Lon: l.To.Lon}); to != route[0] {
		route = append(route, to)
	}
	return route
}
