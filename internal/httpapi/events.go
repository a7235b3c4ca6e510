package httpapi

import (
	"context"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/notice/cloudevent"
	"tiedown/internal/techlog"
)

const streamMedia = "text/event-stream"

// ListEvents implements server.StrictServerInterface.
func (h *handlers) ListEvents(ctx context.Context, r server.ListEventsRequestObject) (server.ListEventsResponseObject, error) {
	c := callOf(ctx)
	filter := hangar.EventFilter{Aircraft: techlog.ID(given(r.Params.Aircraft))}
	if r.Params.Kinds != nil {
		filter.Kinds = strings.Split(*r.Params.Kinds, ",")
	}
	if weight(c.accept, streamMedia) > weight(c.accept, "application/json") {
		return h.startStream(ctx, r.Params, filter)
	}
	last, err := h.service.LastEvent(ctx, c.who)
	if err != nil {
		return nil, err
	}
	page, err := h.service.Events(ctx, c.who, given(r.Params.Since), filter, orElse(r.Params.Limit, defaultPage))
	if err != nil {
		return nil, inQuery(err)
	}
	shown := eventPage{Events: []json.RawMessage{}, Next: page.Next, More: page.More, Last: max(last, page.Next)}
	for _, e := range page.Events {
		written, err := cloudevent.Envelope(c.who.Organization, e)
		if err != nil {
			return nil, err
		}
		shown.Events = append(shown.Events, written)
	}
	return shown, nil
}

// inQuery names the parameter that a fault is of.
func inQuery(err error) error {
	return casefile.Renamed(err, func(field string) string { return "query." + field })
}

// since lists what has changed, which has no cursor.
func since[T any](cursor *string, list func() (hangar.Changed[T], error)) (hangar.Changed[T], error) {
	if cursor != nil {
		return hangar.Changed[T]{}, casefile.Faults{{
			Field: "query.cursor", Rule: "not-with-since", Says: "what has changed has no cursor", Remedy: "go on from next: give it as since",
		}}
	}
	changed, err := list()
	return changed, inQuery(err)
}

// eventPage is a page of events, each as it is sent to whoever else is told of it.
type eventPage struct {
	Events []json.RawMessage `json:"events"`
	Next   int64             `json:"next"`
	More   bool              `json:"more"`
	Last   int64             `json:"last"`
}

// VisitListEventsResponse implements server.ListEventsResponseObject.
func (p eventPage) VisitListEventsResponse(w http.ResponseWriter) error {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Vary", "Accept")
	w.WriteHeader(http.StatusOK)
	return json.NewEncoder(w).Encode(p)
}

// startStream looks from which place a stream goes on, and that it can.
func (h *handlers) startStream(ctx context.Context, p server.ListEventsParams, f hangar.EventFilter) (*stream, error) {
	c := callOf(ctx)
	if h.watch == nil {
		return nil, techlog.Errorf(techlog.KindUnavailable, "this server follows no events")
	}
	s := &stream{handlers: h, call: c, filter: f}
	field := "query.since"
	switch {
	case p.LastEventID != nil:
		field = "header.Last-Event-ID"
		place, err := strconv.ParseInt(*p.LastEventID, 10, 64)
		if err != nil || place < 0 {
			return nil, casefile.Faults{{Field: field, Rule: "form", Says: "it is no id of an event", Remedy: "send the id that was received last, or leave it out"}}
		}
		s.place = place
	case p.Since != nil:
		s.place = *p.Since
	default:
		last, err := h.service.LastEvent(ctx, c.who)
		if err != nil {
			return nil, err
		}
		s.place = last
	}
	// What cannot be listed, since the place or the filter is none, is not followed either.
	if _, err := h.service.Events(ctx, c.who, s.place, f, 1); err != nil {
		return nil, casefile.Renamed(err, func(name string) string {
			if name == "since" {
				return field
			}
			return "query." + name
		})
	}
	return s, nil
}
