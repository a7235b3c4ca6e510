package httpapi

import (
	"context"
	"html"
	"io"
	"net/http"
	"strings"

	"tiedown/api/server"
	"tiedown/internal/messenger"
	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

// ShowNotices implements server.StrictServerInterface.
func (h *handlers) ShowNotices(ctx context.Context, _ server.ShowNoticesRequestObject) (server.ShowNoticesResponseObject, error) {
	p, err := h.messenger.Preferences(ctx, callOf(ctx).who)
	if err != nil {
		return nil, err
	}
	return server.ShowNotices200JSONResponse{Body: showNotices(p), Headers: server.ShowNotices200ResponseHeaders{ETag: new(etag(p.Version))}}, nil
}

// ChangeNotices implements server.StrictServerInterface.
func (h *handlers) ChangeNotices(ctx context.Context, r server.ChangeNoticesRequestObject) (server.ChangeNoticesResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	b := r.Body
	p := notice.Preferences{
		Mail: b.Mail, Fleet: b.Fleet, Digest: b.DigestHour, Zone: b.Zone, UrgentAnyway: given(b.UrgentAnyway), Version: version,
		Kinds: each(b.Kinds, func(k server.NoticeKind) notice.Kind { return notice.Kind(k) }),
	}
	if b.Follows != nil {
		p.Follows = each(*b.Follows, func(id server.ID) techlog.ID { return techlog.ID(id) })
	}
	if b.Quiet != nil {
		// The contract has looked at how they are written.
		from, _ := notice.ParseWall(b.Quiet.From)
		until, _ := notice.ParseWall(b.Quiet.Until)
		p.Quiet = &notice.Quiet{From: from, Until: until}
	}
	if p, err = h.messenger.SetPreferences(ctx, callOf(ctx).who, p); err != nil {
		return nil, err
	}
	return server.ChangeNotices200JSONResponse{Body: showNotices(p), Headers: server.ChangeNotices200ResponseHeaders{ETag: new(etag(p.Version))}}, nil
}

func showNotices(p notice.Preferences) server.Notices {
	shown := server.Notices{
		Version: p.Version, Mail: p.Mail, Fleet: p.Fleet, DigestHour: p.Digest, UrgentAnyway: p.UrgentAnyway, Zone: p.Zone,
		Kinds:   each(p.Kinds, func(k notice.Kind) server.NoticeKind { return server.NoticeKind(k) }),
		Follows: each(p.Follows, func(id techlog.ID) server.ID { return server.ID(id) }),
	}
	if p.Quiet != nil {
		shown.Quiet = &server.QuietHours{From: p.Quiet.From.String(), Until: p.Quiet.Until.String()}
	}
	return shown
}

// ShowUnsubscribe implements server.StrictServerInterface.
func (h *handlers) ShowUnsubscribe(ctx context.Context, r server.ShowUnsubscribeRequestObject) (server.ShowUnsubscribeResponseObject, error) {
	s, err := h.messenger.WhatStops(ctx, r.Link)
	if err != nil {
		return nil, err
	}
	page, size := stopPage(s)
	return server.ShowUnsubscribe200TexthtmlResponse{Body: page, ContentLength: size}, nil
}

// Unsubscribe implements server.StrictServerInterface.
func (h *handlers) Unsubscribe(ctx context.Context, r server.UnsubscribeRequestObject) (server.UnsubscribeResponseObject, error) {
	s, err := h.messenger.Stop(ctx, r.Link)
	if err != nil {
		return nil, err
	}
	page, size := stopPage(s)
	return server.Unsubscribe200TexthtmlResponse{Body: page, ContentLength: size}, nil
}

// stopPage is a page that works without a script, a style or a session: whoever opens a link in a mail may have none.
func stopPage(s messenger.Stopping) (io.Reader, int64) {
	what := "all mail"
	if s.Kind != "" {
		what = s.Kind.Words()
	}
	of := html.EscapeString(what + ", from " + s.Organization)
	body := "<p>You get no more of this by mail: " + of + ".</p>\n<p>Signed in, you turn it on again among your own settings.</p>\n"
	if !s.Stopped {
		body = "<p>No more of this by mail: " + of + "?</p>\n" +
			"<form method=\"post\"><input type=\"hidden\" name=\"List-Unsubscribe\" value=\"One-Click\"><button type=\"submit\">Stop it</button></form>\n"
	}
	page := "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\">" +
		"<title>Mail from Tiedown</title></head>\n<body><h1>Mail from Tiedown</h1>\n" + body + "</body></html>\n"
	return strings.NewReader(page), int64(len(page))
}

// ShowWarningSettings implements server.StrictServerInterface.
func (h *handlers) ShowWarningSettings(ctx context.Context, _ server.ShowWarningSettingsRequestObject) (server.ShowWarningSettingsResponseObject, error) {
	leads, err := h.service.WarningLeads(ctx, callOf(ctx).who)
	if err != nil {
		return nil, err
	}
	return server.ShowWarningSettings200JSONResponse{
		Body: showLeads(leads), Headers: server.ShowWarningSettings200ResponseHeaders{ETag: new(etag(leads.Version))},
	}, nil
}

// ChangeWarningSettings implements server.StrictServerInterface.
func (h *handlers) ChangeWarningSettings(ctx context.Context, r server.ChangeWarningSettingsRequestObject) (server.ChangeWarningSettingsResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ChangeWarningLeads(ctx, c.who, version, r.Body.DaysAhead, c.once,
		render(&made, http.StatusOK, func(l techlog.WarningLeads) shown { return shown{version: l.Version, body: showLeads(l)} }))
	return replay(frame, made, err)
}

func showLeads(l techlog.WarningLeads) server.WarningSettings {
	shown := server.WarningSettings{Version: l.Version, DaysAhead: append([]int{}, l.Days...), ChangedBy: optional(l.By)}
	if !l.At.IsZero() {
		shown.ChangedAt = new(l.At)
	}
	return shown
}

// ListWarnings implements server.StrictServerInterface.
func (h *handlers) ListWarnings(ctx context.Context, r server.ListWarningsRequestObject) (server.ListWarningsResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	all, err := h.service.Warnings(ctx, c.who, techlog.ID(given(r.Params.Aircraft)), page)
	if err != nil {
		return nil, err
	}
	all, next := cutPage(all, w, c.url, func(w techlog.Warning) string { return after(w.ID) })
	return server.ListWarnings200JSONResponse{
		Body: server.Warnings{Warnings: each(all, showWarning)}, Headers: server.ListWarnings200ResponseHeaders{Link: next},
	}, nil
}

// ShowWarning implements server.StrictServerInterface.
func (h *handlers) ShowWarning(ctx context.Context, r server.ShowWarningRequestObject) (server.ShowWarningResponseObject, error) {
	w, err := h.service.Warning(ctx, callOf(ctx).who, techlog.ID(r.Warning))
	if err != nil {
		return nil, err
	}
	return server.ShowWarning200JSONResponse(showWarning(w)), nil
}

func showWarning(w techlog.Warning) server.Warning {
	shown := server.Warning{
		Id: server.ID(w.ID), Aircraft: server.ID(w.Aircraft), Registration: w.Registration, Thing: w.Thing, What: w.What, Says: w.Says,
		Due: w.Due, Days: w.Days, Lead: w.Lead, At: w.At, Flights: each(w.Flights, func(id techlog.ID) server.ID { return server.ID(id) }),
	}
	if !w.Squawk.IsZero() {
		shown.Squawk = new(server.ID(w.Squawk))
	}
	return shown
}
