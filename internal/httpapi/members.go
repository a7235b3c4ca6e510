package httpapi

import (
	"context"
	"net/http"

	"tiedown/api/server"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// ListMembers implements server.StrictServerInterface.
func (h *handlers) ListMembers(ctx context.Context, r server.ListMembersRequestObject) (server.ListMembersResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	members, err := h.service.Members(ctx, c.who, page)
	if err != nil {
		return nil, err
	}
	members, next := cutPage(members, w, c.url, func(m techlog.Member) string { return after(m.Person) })
	return server.ListMembers200JSONResponse{
		Body:    server.Members{Members: each(members, showMember)},
		Headers: server.ListMembers200ResponseHeaders{Link: next},
	}, nil
}

func showMember(m techlog.Member) server.Member {
	return server.Member{
		Person: server.ID(m.Person), Name: m.Name, Email: optional(string(m.Email)), Roles: showRoles(m.Roles), Since: m.Since,
		Until: optionalInstant(m.Until), Version: m.Version,
	}
}

// AddMember implements server.StrictServerInterface.
func (h *handlers) AddMember(ctx context.Context, r server.AddMemberRequestObject) (server.AddMemberResponseObject, error) {
	added, err := h.service.AddMember(ctx, callOf(ctx).who, hangar.NewMember{
		Email: r.Body.Email, Name: r.Body.Name, Roles: enteredRoles(r.Body.Roles),
	})
	return server.AddMember201JSONResponse{
		Body:    server.AddedMember{Member: showMember(added.Member), Link: added.Link},
		Headers: server.AddMember201ResponseHeaders{Location: new("/v1/members/" + added.Member.Person.String())},
	}, err
}

// ShowMember implements server.StrictServerInterface.
func (h *handlers) ShowMember(ctx context.Context, r server.ShowMemberRequestObject) (server.ShowMemberResponseObject, error) {
	m, err := h.service.Member(ctx, callOf(ctx).who, techlog.ID(r.Person))
	return server.ShowMember200JSONResponse{
		Body: showMember(m), Headers: server.ShowMember200ResponseHeaders{ETag: new(etag(m.Version))},
	}, err
}

// ChangeMember implements server.StrictServerInterface.
func (h *handlers) ChangeMember(ctx context.Context, r server.ChangeMemberRequestObject) (server.ChangeMemberResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ChangeMember(ctx, c.who, hangar.MemberChange{
		Person: techlog.ID(r.Person), Version: version, Name: r.Body.Name, Roles: enteredRoles(r.Body.Roles),
	}, c.once, render(&made, http.StatusOK, shownMember))
	h.admission.forget()
	return replay(frame, made, err)
}

func shownMember(m techlog.Member) shown { return shown{version: m.Version, body: showMember(m)} }

// EndMember implements server.StrictServerInterface.
func (h *handlers) EndMember(ctx context.Context, r server.EndMemberRequestObject) (server.EndMemberResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.EndMember(ctx, c.who, techlog.ID(r.Person), version, c.once, render(&made, http.StatusOK, shownMember))
	h.admission.forget()
	return replay(frame, made, err)
}

// ListMemberHistory implements server.StrictServerInterface.
func (h *handlers) ListMemberHistory(ctx context.Context, r server.ListMemberHistoryRequestObject) (server.ListMemberHistoryResponseObject, error) {
	entries, err := h.service.MemberHistory(ctx, callOf(ctx).who, techlog.ID(r.Person))
	if err != nil {
		return nil, err
	}
	var shown server.ListMemberHistory200JSONResponse
	for _, e := range entries {
		shown.Entries = append(shown.Entries, struct {
			At     server.Instant  `json:"at"`
			By     string          `json:"by"`
			Name   string          `json:"name"`
			Number int             `json:"number"`
			Roles  server.Roles    `json:"roles"`
			Until  *server.Instant `json:"until,omitempty"`
		}{e.At, e.By, e.Name, e.Number, showRoles(e.Roles), optionalInstant(e.Until)})
	}
	return shown, nil
}

// ResetPassword implements server.StrictServerInterface.
func (h *handlers) ResetPassword(ctx context.Context, r server.ResetPasswordRequestObject) (server.ResetPasswordResponseObject, error) {
	link, err := h.service.ResetPassword(ctx, callOf(ctx).who, techlog.ID(r.Person), nil)
	return server.ResetPassword201JSONResponse{Link: link}, err
}

// ListTokens implements server.StrictServerInterface.
func (h *handlers) ListTokens(ctx context.Context, r server.ListTokensRequestObject) (server.ListTokensResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	tokens, err := h.service.AccessTokens(ctx, c.who, page)
	if err != nil {
		return nil, err
	}
	tokens, next := cutPage(tokens, w, c.url, func(t techlog.AccessToken) string { return after(t.ID) })
	return server.ListTokens200JSONResponse{
		Body:    server.Tokens{Tokens: each(tokens, showToken)},
		Headers: server.ListTokens200ResponseHeaders{Link: next},
	}, nil
}

func showToken(t techlog.AccessToken) server.Token {
	shown := server.Token{
		Id: server.ID(t.ID), Name: t.Name, Own: t.Own, Roles: showRoles(t.Roles), Made: optionalInstant(t.MadeAt),
		Until: optionalInstant(t.Until), Revoked: optionalInstant(t.Revoked),
	}
	if !t.Maker.IsZero() {
		shown.Maker = new(server.ID(t.Maker))
	}
	if t.Scope.Limited {
		shown.Actions = new(each(t.Scope.Actions, func(a techlog.Action) server.Action { return server.Action(a) }))
	}
	return shown
}

// MakeToken implements server.StrictServerInterface.
func (h *handlers) MakeToken(ctx context.Context, r server.MakeTokenRequestObject) (server.MakeTokenResponseObject, error) {
	entry := hangar.NewAccessToken{Name: r.Body.Name, Roles: enteredRoles(r.Body.Roles), Own: given(r.Body.Own), Until: r.Body.Until}
	if r.Body.Actions != nil {
		entry.Scope = techlog.Scope{Limited: true, Actions: each(*r.Body.Actions, func(a server.Action) techlog.Action { return techlog.Action(a) })}
	}
	t, secret, err := h.service.MakeAccessToken(ctx, callOf(ctx).who, entry, nil)
	return server.MakeToken201JSONResponse{Token: showToken(t), Secret: secret}, err
}

// RevokeToken implements server.StrictServerInterface.
func (h *handlers) RevokeToken(ctx context.Context, r server.RevokeTokenRequestObject) (server.RevokeTokenResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.RevokeAccessToken(ctx, c.who, techlog.ID(r.Token), c.once,
		render(&made, http.StatusOK, func(t techlog.AccessToken) shown { return shown{body: showToken(t)} }))
	h.admission.forget()
	return replay(frame, made, err)
}

// ListSecurityEvents implements server.StrictServerInterface.
func (h *handlers) ListSecurityEvents(ctx context.Context, r server.ListSecurityEventsRequestObject) (server.ListSecurityEventsResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	events, err := h.service.SecurityEvents(ctx, c.who, page)
	if err != nil {
		return nil, err
	}
	events, next := cutPage(events, w, c.url, func(e techlog.SecurityEvent) string { return after(e.ID) })
	return server.ListSecurityEvents200JSONResponse{
		Body:    server.SecurityEvents{Events: each(events, showSecurityEvent)},
		Headers: server.ListSecurityEvents200ResponseHeaders{Link: next},
	}, nil
}
