package httpapi

import (
	"context"
	"net/http"
	"strconv"

	"tiedown/api/server"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// ListWebhooks implements server.StrictServerInterface.
func (h *handlers) ListWebhooks(ctx context.Context, r server.ListWebhooksRequestObject) (server.ListWebhooksResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	webhooks, err := h.service.Webhooks(ctx, c.who, page)
	if err != nil {
		return nil, err
	}
	webhooks, next := cutPage(webhooks, w, c.url, func(w techlog.Webhook) string { return after(w.ID) })
	return server.ListWebhooks200JSONResponse{
		Body:    server.Webhooks{Webhooks: each(webhooks, showWebhook)},
		Headers: server.ListWebhooks200ResponseHeaders{Link: next},
	}, nil
}

// MakeWebhook implements server.StrictServerInterface.
func (h *handlers) MakeWebhook(ctx context.Context, r server.MakeWebhookRequestObject) (server.MakeWebhookResponseObject, error) {
	w, secret, err := h.service.MakeWebhook(ctx, callOf(ctx).who, techlog.Webhook{
		URL: r.Body.Url, Kinds: given(r.Body.Kinds), Aircraft: techlog.ID(given(r.Body.Aircraft)),
	}, nil)
	return server.MakeWebhook201JSONResponse{
		Body:    server.MadeWebhook{Webhook: showWebhook(w), Secret: secret},
		Headers: server.MakeWebhook201ResponseHeaders{Location: new("/v1/webhooks/" + w.ID.String()), ETag: new(etag(w.Version))},
	}, err
}

// ShowWebhook implements server.StrictServerInterface.
func (h *handlers) ShowWebhook(ctx context.Context, r server.ShowWebhookRequestObject) (server.ShowWebhookResponseObject, error) {
	w, err := h.service.Webhook(ctx, callOf(ctx).who, techlog.ID(r.Webhook))
	return server.ShowWebhook200JSONResponse{
		Body: showWebhook(w), Headers: server.ShowWebhook200ResponseHeaders{ETag: new(etag(w.Version))},
	}, err
}

// ChangeWebhook implements server.StrictServerInterface.
func (h *handlers) ChangeWebhook(ctx context.Context, r server.ChangeWebhookRequestObject) (server.ChangeWebhookResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ChangeWebhook(ctx, c.who, techlog.Webhook{
		ID: techlog.ID(r.Webhook), URL: r.Body.Url, Kinds: given(r.Body.Kinds), Aircraft: techlog.ID(given(r.Body.Aircraft)),
		State: techlog.WebhookState(r.Body.State), Version: version,
	}, c.once, render(&made, http.StatusOK, shownWebhook))
	return replay(frame, made, err)
}

func shownWebhook(w techlog.Webhook) shown { return shown{version: w.Version, body: showWebhook(w)} }

func showWebhook(w techlog.Webhook) server.Webhook {
	shown := server.Webhook{
		Id: server.ID(w.ID), Url: w.URL, Kinds: each(w.Kinds, func(kind string) string { return kind }), State: server.WebhookState(w.State),
		MadeBy: w.By, MadeAt: w.At, OlderSecretsUntil: optionalInstant(w.OldSecretsUntil), Version: w.Version,
	}
	if !w.Aircraft.IsZero() {
		shown.Aircraft = new(server.ID(w.Aircraft))
	}
	return shown
}

// RenewWebhookSecret implements server.StrictServerInterface.
func (h *handlers) RenewWebhookSecret(ctx context.Context, r server.RenewWebhookSecretRequestObject) (server.RenewWebhookSecretResponseObject, error) {
	w, secret, err := h.service.RenewWebhookSecret(ctx, callOf(ctx).who, techlog.ID(r.Webhook), nil)
	return server.RenewWebhookSecret201JSONResponse{Webhook: showWebhook(w), Secret: secret}, err
}

// RevokeOlderWebhookSecrets implements server.StrictServerInterface.
func (h *handlers) RevokeOlderWebhookSecrets(ctx context.Context, r server.RevokeOlderWebhookSecretsRequestObject) (server.RevokeOlderWebhookSecretsResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.EndOldWebhookSecrets(ctx, c.who, techlog.ID(r.Webhook), c.once,
		render(&made, http.StatusOK, func(w techlog.Webhook) shown { return shown{body: showWebhook(w)} }))
	return replay(frame, made, err)
}

// PingWebhook implements server.StrictServerInterface.
func (h *handlers) PingWebhook(ctx context.Context, r server.PingWebhookRequestObject) (server.PingWebhookResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.PingWebhook(ctx, c.who, techlog.ID(r.Webhook), c.once,
		render(&made, http.StatusOK, func(w techlog.Webhook) shown { return shown{body: showWebhook(w)} }))
	return replay(frame, made, err)
}

// ListDeliveries implements server.StrictServerInterface.
func (h *handlers) ListDeliveries(ctx context.Context, r server.ListDeliveriesRequestObject) (server.ListDeliveriesResponseObject, error) {
	w, err := wantedPage(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	filter := hangar.DeliveryFilter{State: techlog.DeliveryState(given(r.Params.State)), Limit: w.limit + 1}
	if w.after != "" {
		if filter.Before, err = strconv.ParseInt(w.after, 10, 64); err != nil || filter.Before < 1 {
			return nil, badCursor()
		}
	}
	c := callOf(ctx)
	deliveries, err := h.service.Deliveries(ctx, c.who, techlog.ID(r.Webhook), filter)
	if err != nil {
		return nil, err
	}
	deliveries, next := cutPage(deliveries, w, c.url, func(d techlog.Delivery) string { return strconv.FormatInt(d.Place, 10) })
	return server.ListDeliveries200JSONResponse{
		Body:    server.Deliveries{Deliveries: each(deliveries, showDelivery)},
		Headers: server.ListDeliveries200ResponseHeaders{Link: next},
	}, nil
}

func showDelivery(d techlog.Delivery) server.Delivery {
	shown := server.Delivery{
		Place: d.Place, Event: server.ID(d.Event), Kind: d.Kind, State: server.DeliveryState(d.State), Attempts: d.Attempts,
		QueuedAt: d.Queued, TriedAt: optionalInstant(d.Tried), NextAt: optionalInstant(d.Next), Answer: optional(d.Answer),
	}
	if !d.Aircraft.IsZero() {
		shown.Aircraft = new(server.ID(d.Aircraft))
	}
	if d.Status != 0 {
		shown.Status = &d.Status
	}
	return shown
}

// ReplayDeliveries implements server.StrictServerInterface.
func (h *handlers) ReplayDeliveries(ctx context.Context, r server.ReplayDeliveriesRequestObject) (server.ReplayDeliveriesResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	which := hangar.Replay{Place: given(r.Body.Place), From: given(r.Body.From), Dead: r.Body.Dead != nil}
	frame, err := h.service.ReplayDeliveries(ctx, c.who, techlog.ID(r.Webhook), which, c.once,
		render(&made, http.StatusOK, func(n int) shown { return shown{body: server.Replayed{Deliveries: n}} }))
	return replay(frame, made, err)
}
