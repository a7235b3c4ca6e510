package httpapi

import (
	"context"
	"net/http"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// aroundNM is how far around a place airports are looked for, unless it is said.
const aroundNM = 50

// ListAirports implements server.StrictServerInterface.
func (h *handlers) ListAirports(ctx context.Context, r server.ListAirportsRequestObject) (server.ListAirportsResponseObject, error) {
	w, err := wantedPage(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	p := r.Params
	filter := hangar.AirportFilter{Prefix: given(p.Prefix), After: w.after}
	if p.NearLat != nil || p.NearLon != nil || p.WithinNm != nil {
		if filter, err = around(p); err != nil {
			return nil, err
		}
	}
	c := callOf(ctx)
	airports, err := h.service.Airports(ctx, c.who, filter, w.limit+1)
	if err != nil {
		return nil, err
	}
	airports, next := cutPage(airports, w, c.url, func(a casefile.Airport) string { return a.Ident })
	if filter.Near != nil {
		next = nil // the nearest, and no more
	}
	return server.ListAirports200JSONResponse{
		Body: server.Airports{Airports: each(airports, showAirport)}, Headers: server.ListAirports200ResponseHeaders{Link: next},
	}, nil
}

// around reads which place airports are looked for around.
func around(p server.ListAirportsParams) (hangar.AirportFilter, error) {
	filter := hangar.AirportFilter{WithinNM: aroundNM}
	var bad casefile.Faults
	switch {
	case p.NearLat == nil || p.NearLon == nil:
		bad.Add("query.near_lat", "required", "it is not said around which place", "give near_lat and near_lon")
	case p.Prefix != nil || p.Cursor != nil:
		bad.Add("query.prefix", "one-form", "airports are listed by identifier, or around a place", "give prefix and cursor, or near_lat and near_lon")
	default:
		filter.Near = &techlog.Spot{Lat: *p.NearLat, Lon: *p.NearLon}
	}
	if p.WithinNm != nil {
		filter.WithinNM = *p.WithinNm
	}
	return filter, bad.Err()
}

// ImportAirports implements server.StrictServerInterface.
func (h *handlers) ImportAirports(ctx context.Context, _ server.ImportAirportsRequestObject) (server.ImportAirportsResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ImportAirports(ctx, c.who, c.body, c.once, render(&made, http.StatusOK, func(n int) shown {
		return shown{body: server.ImportedAirports{Airports: n}}
	}))
	return replay(frame, made, err)
}

// ShowAirport implements server.StrictServerInterface.
func (h *handlers) ShowAirport(ctx context.Context, r server.ShowAirportRequestObject) (server.ShowAirportResponseObject, error) {
	a, err := h.service.Airport(ctx, callOf(ctx).who, r.Ident)
	if err != nil {
		return nil, err
	}
	return server.ShowAirport200JSONResponse(showAirport(a)), nil
}

func showAirport(a casefile.Airport) server.Airport {
	return server.Airport{Ident: a.Ident, Name: a.Name, Lat: a.Lat, Lon: a.Lon}
}
