package httpapi

import (
	"context"
	"net/http"
	"strconv"
	"strings"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// ListAircraft implements server.StrictServerInterface.
func (h *handlers) ListAircraft(ctx context.Context, r server.ListAircraftRequestObject) (server.ListAircraftResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	fleet, err := h.service.Fleet(ctx, c.who, page)
	if err != nil {
		return nil, err
	}
	fleet, next := cutPage(fleet, w, c.url, func(a techlog.Aircraft) string { return after(a.ID) })
	return server.ListAircraft200JSONResponse{
		Body:    server.Fleet{Aircraft: each(fleet, summarize)},
		Headers: server.ListAircraft200ResponseHeaders{Link: next},
	}, nil
}

// AddAircraft implements server.StrictServerInterface.
func (h *handlers) AddAircraft(ctx context.Context, r server.AddAircraftRequestObject) (server.AddAircraftResponseObject, error) {
	entered := techlog.Aircraft{
		Registration: r.Body.Registration, Type: r.Body.Type, Base: techlog.ID(r.Body.Base),
		Facts: r.Body.Facts, Configuration: given(r.Body.Configuration),
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.AddAircraft(ctx, c.who, entered, c.once, render(&made, http.StatusCreated, func(a techlog.Aircraft) shown {
		return shown{a.Version, "/v1/aircraft/" + a.ID.String(), showAircraft(a)}
	}))
	return replay(frame, made, err)
}

// ShowAircraft implements server.StrictServerInterface.
func (h *handlers) ShowAircraft(ctx context.Context, r server.ShowAircraftRequestObject) (server.ShowAircraftResponseObject, error) {
	a, err := h.service.Aircraft(ctx, callOf(ctx).who, techlog.ID(r.Aircraft))
	if err != nil {
		return nil, err
	}
	return server.ShowAircraft200JSONResponse{
		Body: showAircraft(a), Headers: server.ShowAircraft200ResponseHeaders{ETag: new(etag(a.Version))},
	}, nil
}

// ChangeAircraft implements server.StrictServerInterface.
func (h *handlers) ChangeAircraft(ctx context.Context, r server.ChangeAircraftRequestObject) (server.ChangeAircraftResponseObject, error) {
	frame, made, err := h.change(ctx, r.Params.IfMatch, hangar.AircraftChange{
		Aircraft: techlog.ID(r.Aircraft), Registration: r.Body.Registration, Type: r.Body.Type, Base: (*techlog.ID)(r.Body.Base),
		Facts: r.Body.Facts,
	})
	return replay(frame, made, err)
}

// ChangeConfiguration implements server.StrictServerInterface.
func (h *handlers) ChangeConfiguration(ctx context.Context, r server.ChangeConfigurationRequestObject) (server.ChangeConfigurationResponseObject, error) {
	frame, made, err := h.change(ctx, r.Params.IfMatch, hangar.AircraftChange{
		Aircraft: techlog.ID(r.Aircraft), Configuration: r.Body,
	})
	return replay(frame, made, casefile.Renamed(err, func(field string) string { return strings.TrimPrefix(field, "configuration.") }))
}

func (h *handlers) change(ctx context.Context, ifMatch string, ch hangar.AircraftChange) (frame, made []byte, err error) {
	if ch.Version, err = versionOf(ifMatch); err != nil {
		return nil, nil, err
	}
	c := callOf(ctx)
	frame, err = h.service.ChangeAircraft(ctx, c.who, ch, c.once, render(&made, http.StatusOK, func(a techlog.Aircraft) shown {
		return shown{version: a.Version, body: showAircraft(a)}
	}))
	return frame, made, err
}

// ListConfigurations implements server.StrictServerInterface.
func (h *handlers) ListConfigurations(ctx context.Context, r server.ListConfigurationsRequestObject) (server.ListConfigurationsResponseObject, error) {
	w, err := wantedPage(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	page, err := w.revisions()
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	revisions, err := h.service.Configurations(ctx, c.who, techlog.ID(r.Aircraft), page)
	if err != nil {
		return nil, err
	}
	revisions, next := cutPage(revisions, w, c.url, func(r techlog.ConfigurationRevision) string { return strconv.Itoa(r.Revision) })
	return server.ListConfigurations200JSONResponse{
		Body:    server.Configurations{Configurations: each(revisions, showRevision)},
		Headers: server.ListConfigurations200ResponseHeaders{Link: next},
	}, nil
}

// ShowStatus implements server.StrictServerInterface.
func (h *handlers) ShowStatus(ctx context.Context, r server.ShowStatusRequestObject) (server.ShowStatusResponseObject, error) {
	s, err := h.service.Status(ctx, callOf(ctx).who, techlog.ID(r.Aircraft))
	if err != nil {
		return nil, err
	}
	answer := status{tag: statusTag(s), body: s.Body}
	if seen := r.Params.IfNoneMatch; seen != nil && isAmong(*seen, answer.tag) {
		answer.body = nil
	}
	return answer, nil
}

// status is an aircraft's status as the service worked it out: its bytes go out as they are. Without a body it is one
// that whoever asks has already.
type status struct {
	tag  string
	body []byte
}

// askAgain lets a status be kept, as long as it is asked each time whether it still holds.
var askAgain = []string{"private, no-cache"}

// VisitShowStatusResponse implements server.ShowStatusResponseObject.
func (s status) VisitShowStatusResponse(w http.ResponseWriter) error {
	h := w.Header()
	h["Etag"] = []string{s.tag}
	h["Cache-Control"] = askAgain
	if s.body == nil {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	return writeJSON(w, http.StatusOK, s.body)
}

func showAircraft(a techlog.Aircraft) server.Aircraft {
	return server.Aircraft{
		Id: server.ID(a.ID), Registration: a.Registration, Type: a.Type, Base: server.ID(a.Base),
		Facts: a.Facts, Configuration: a.Configuration, Revision: a.Revision, Version: a.Version,
	}
}

func summarize(a techlog.Aircraft) server.AircraftSummary {
	return server.AircraftSummary{
		Id: server.ID(a.ID), Registration: a.Registration, Type: a.Type, Base: server.ID(a.Base),
		Revision: a.Revision, Version: a.Version,
	}
}

func showRevision(r techlog.ConfigurationRevision) server.ConfigurationRevision {
	return server.ConfigurationRevision{Revision: r.Revision, At: r.At, By: r.By, Configuration: r.Configuration}
}
