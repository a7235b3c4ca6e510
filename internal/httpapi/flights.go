package httpapi

import (
	"context"
	"net/http"
	"strings"
	"time"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// PlanFlight implements server.StrictServerInterface.
func (h *handlers) PlanFlight(ctx context.Context, r server.PlanFlightRequestObject) (server.PlanFlightResponseObject, error) {
	c := callOf(ctx)
	intended, err := plan(r.Body)
	if err != nil {
		return nil, err
	}
	var made []byte
	frame, err := h.service.PlanFlight(ctx, c.who, intended, c.once, render(&made, http.StatusCreated, func(f hangar.HeldFlight) shown {
		return shown{f.Flight.Version, "/v1/flights/" + f.Flight.ID.String(), h.showHeld(f)}
	}))
	return replay(frame, made, casefile.Renamed(err, planField))
}

// ListFlights implements server.StrictServerInterface.
func (h *handlers) ListFlights(ctx context.Context, r server.ListFlightsRequestObject) (server.ListFlightsResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	filter := hangar.FlightFilter{
		Aircraft: techlog.ID(given(r.Params.Aircraft)), State: techlog.FlightState(given(r.Params.State)),
		EndsAfter: given(r.Params.EndsAfter), DepartBefore: given(r.Params.DepartsBefore), Held: r.Params.Held,
		Series: techlog.ID(given(r.Params.Series)),
	}
	if r.Params.Since != nil {
		changed, err := since(r.Params.Cursor, func() (hangar.Changed[techlog.Flight], error) {
			return h.service.FlightsSince(ctx, c.who, *r.Params.Since, filter, w.limit)
		})
		return server.ListFlights200JSONResponse{Body: server.Flights{
			Flights: each(changed.Records, h.showFlight), Next: &changed.Next, More: &changed.More,
		}}, err
	}
	flights, err := h.service.Flights(ctx, c.who, filter, page)
	if err != nil {
		return nil, err
	}
	flights, next := cutPage(flights, w, c.url, func(f techlog.Flight) string { return after(f.ID) })
	return server.ListFlights200JSONResponse{
		Body:    server.Flights{Flights: each(flights, h.showFlight)},
		Headers: server.ListFlights200ResponseHeaders{Link: next},
	}, nil
}

// ShowFlight implements server.StrictServerInterface.
func (h *handlers) ShowFlight(ctx context.Context, r server.ShowFlightRequestObject) (server.ShowFlightResponseObject, error) {
	f, err := h.service.Flight(ctx, callOf(ctx).who, techlog.ID(r.Flight))
	if err != nil {
		return nil, err
	}
	return server.ShowFlight200JSONResponse{
		Body: h.showHeld(f), Headers: server.ShowFlight200ResponseHeaders{ETag: new(etag(f.Flight.Version))},
	}, nil
}

// ChangeFlight implements server.StrictServerInterface.
func (h *handlers) ChangeFlight(ctx context.Context, r server.ChangeFlightRequestObject) (server.ChangeFlightResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	intended, err := plan(r.Body)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ChangeFlight(ctx, c.who, techlog.ID(r.Flight), version, intended, c.once,
		render(&made, http.StatusOK, func(f hangar.HeldFlight) shown {
			return shown{version: f.Flight.Version, body: h.showHeld(f)}
		}))
	return replay(frame, made, casefile.Renamed(err, planField))
}

// CancelFlight implements server.StrictServerInterface.
func (h *handlers) CancelFlight(ctx context.Context, r server.CancelFlightRequestObject) (server.CancelFlightResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.CancelFlight(ctx, c.who, techlog.ID(r.Flight), version, c.once,
		render(&made, http.StatusOK, func(f techlog.Flight) shown {
			return shown{version: f.Version, body: h.showFlight(f)}
		}))
	return replay(frame, made, err)
}

// plan reads a plan in either of its forms, and names what is there of both, or of neither.
func plan(p *server.FlightPlan) (hangar.FlightPlan, error) {
	made := hangar.FlightPlan{Aircraft: techlog.ID(p.Aircraft), Rules: string(p.Rules), Facts: given(p.Facts), Purpose: given(p.Purpose)}
	var bad casefile.Faults
	for _, f := range []struct {
		field string
		given bool
	}{
		{"from", !techlog.ID(p.From).IsZero()}, {"to", !techlog.ID(p.To).IsZero()}, {"departs", !p.Departs.IsZero()}, {"arrives", !p.Arrives.IsZero()},
	} {
		switch {
		case p.Legs != nil && f.given:
			bad.Add(f.field, "one-form", "the legs say where and when the flight goes", "leave it out, or leave out legs")
		case p.Legs == nil && !f.given:
			bad.Add(f.field, "required", "it is not said where or when the flight goes", "give from, to, departs and arrives, or legs")
		}
	}
	if bad != nil {
		return made, bad
	}
	if p.Legs == nil {
		made.From, made.To, made.Departs, made.Arrives = techlog.ID(p.From), techlog.ID(p.To), stored(p.Departs), stored(p.Arrives)
		return made, nil
	}
	made.Legs = each(*p.Legs, func(l server.LegPlan) hangar.LegPlan {
		return hangar.LegPlan{From: place(l.From), To: place(l.To), Departs: stored(l.Departs), Arrives: stored(l.Arrives)}
	})
	return made, nil
}

func place(p server.PlannedPlace) hangar.PlacePlan {
	made := hangar.PlacePlan{Airport: p.Airport, Lat: p.Lat, Lon: p.Lon, Name: given(p.Name)}
	if p.Base != nil {
		made.Base = new(techlog.ID(*p.Base))
	}
	return made
}

// planField is the name that a field of a flight has in a plan, where the facts stand by themselves.
func planField(field string) string {
	name, ofFlight := strings.CutPrefix(field, "flight.")
	switch {
	case !ofFlight, name == "departs", name == "arrives", name == "rules":
		return name
	default:
		return "facts." + name
	}
}

// stored is an instant as the store keeps it, to the microsecond, so that the first answer says what later ones say.
func stored(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }

func (h *handlers) showHeld(f hangar.HeldFlight) server.Flight {
	shown := h.showFlight(f.Flight)
	shown.Determination = f.Answer()
	if len(f.Overlaps) > 0 {
		shown.Overlaps = showIDs(f.Overlaps)
	}
	for leg := range shown.Legs {
		shown.Legs[leg].Determination = &f.Answers[leg]
	}
	return shown
}

func (h *handlers) showFlight(f techlog.Flight) server.Flight {
	return server.Flight{
		Id: server.ID(f.ID), Aircraft: server.ID(f.Aircraft), From: optionalID(f.From), To: optionalID(f.To),
		Departs: f.Departs, Arrives: f.Arrives, Legs: h.showLegs(&f), Series: optionalID(f.Series), Rules: server.FlightRules(f.Rules), Facts: f.Facts, Purpose: f.Purpose,
		State: server.FlightState(f.State), PlannedBy: f.PlannedBy, Light: f.Light, Hold: h.showHold(f.Hold), Version: f.Version,
	}
}

func (h *handlers) showLegs(f *techlog.Flight) []server.FlightLeg {
	shown := make([]server.FlightLeg, len(f.Legs))
	for i := range f.Legs {
		l, hold := &f.Legs[i], &f.Hold.Legs[i]
		shown[i] = server.FlightLeg{
			From: showSpot(l.From), To: showSpot(l.To), Departs: l.Departs, Arrives: l.Arrives, Light: l.Light,
			Verdict: server.Verdict(hold.Verdict), Rows: each(hold.Rows, h.showRow),
		}
	}
	return shown
}

func showSpot(s techlog.Spot) server.Spot {
	shown := server.Spot{Base: optionalID(s.Base), Name: s.Name, Lat: s.Lat, Lon: s.Lon}
	if s.Ident != "" {
		shown.Ident = &s.Ident
	}
	return shown
}

// elsewhere stands for the citation of a row that the present book no longer has. Such a hold is judged anew at the
// start of a server with another book.
const elsewhere = "a row of an earlier book of rules"

func (h *handlers) showHold(hold techlog.Hold) server.Hold {
	return server.Hold{
		Verdict: server.Verdict(hold.Verdict), Holds: hold.Holds(), Rules: hold.Rules, AsOf: hold.At,
		Rows: each(hold.Rows, h.showRow), Blocks: showIDs(hold.Blocks),
	}
}

// showIDs is nil for none.
func showIDs(ids []techlog.ID) *[]server.ID {
	if ids == nil {
		return nil
	}
	return new(each(ids, func(id techlog.ID) server.ID { return server.ID(id) }))
}

func (h *handlers) showRow(row string) server.HoldRow {
	return server.HoldRow{Row: row, Citation: h.citation(row)}
}

// citation is that of a row of a hold.
func (h *handlers) citation(row string) string {
	if citation, ok := h.citations[row]; ok {
		return citation
	}
	return elsewhere
}
