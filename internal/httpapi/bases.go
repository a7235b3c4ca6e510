package httpapi

import (
	"context"
	"net/http"

	"tiedown/api/server"
	"tiedown/internal/techlog"
)

// ListBases implements server.StrictServerInterface.
func (h *handlers) ListBases(ctx context.Context, r server.ListBasesRequestObject) (server.ListBasesResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	bases, err := h.service.Bases(ctx, c.who, page)
	if err != nil {
		return nil, err
	}
	bases, next := cutPage(bases, w, c.url, func(b techlog.Base) string { return after(b.ID) })
	return server.ListBases200JSONResponse{
		Body:    server.Bases{Bases: each(bases, showBase)},
		Headers: server.ListBases200ResponseHeaders{Link: next},
	}, nil
}

// AddBase implements server.StrictServerInterface.
func (h *handlers) AddBase(ctx context.Context, r server.AddBaseRequestObject) (server.AddBaseResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.AddBase(ctx, c.who, enteredBase(r.Body), c.once, render(&made, http.StatusCreated, func(b techlog.Base) shown {
		return shown{b.Version, "/v1/bases/" + b.ID.String(), showBase(b)}
	}))
	return replay(frame, made, err)
}

// ShowBase implements server.StrictServerInterface.
func (h *handlers) ShowBase(ctx context.Context, r server.ShowBaseRequestObject) (server.ShowBaseResponseObject, error) {
	base, err := h.service.Base(ctx, callOf(ctx).who, techlog.ID(r.Base))
	if err != nil {
		return nil, err
	}
	return server.ShowBase200JSONResponse{
		Body: showBase(base), Headers: server.ShowBase200ResponseHeaders{ETag: new(etag(base.Version))},
	}, nil
}

// ChangeBase implements server.StrictServerInterface.
func (h *handlers) ChangeBase(ctx context.Context, r server.ChangeBaseRequestObject) (server.ChangeBaseResponseObject, error) {
	base := enteredBase(r.Body)
	base.ID = techlog.ID(r.Base)
	var err error
	if base.Version, err = versionOf(r.Params.IfMatch); err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ChangeBase(ctx, c.who, base, c.once, render(&made, http.StatusOK, func(b techlog.Base) shown {
		return shown{version: b.Version, body: showBase(b)}
	}))
	return replay(frame, made, err)
}

func enteredBase(b *server.BaseEntry) techlog.Base {
	return techlog.Base{Code: b.Code, Name: b.Name, Lat: b.Lat, Lon: b.Lon, Zone: b.Zone}
}

func showBase(b techlog.Base) server.Base {
	return server.Base{
		Id: server.ID(b.ID), Code: b.Code, Name: b.Name, Lat: b.Lat, Lon: b.Lon, Zone: b.Zone, Version: b.Version,
	}
}

// each turns a list of records into a list that is never null.
func each[T, U any](list []T, show func(T) U) []U {
	out := make([]U, len(list))
	for i := range list {
		out[i] = show(list[i])
	}
	return out
}

// optional is nil for an empty text.
func optional(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// given is the value of an optional field, or the zero value.
func given[T any](p *T) T {
	if p == nil {
		var zero T
		return zero
	}
	return *p
}
