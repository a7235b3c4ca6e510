package httpapi

import (
	"context"
	"encoding/hex"
	"net/http"
	"time"

	"tiedown/api/server"
	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// ShowMe implements server.StrictServerInterface.
func (h *handlers) ShowMe(ctx context.Context, _ server.ShowMeRequestObject) (server.ShowMeResponseObject, error) {
	me, err := h.people.Me(ctx, callOf(ctx).who.Person)
	if err != nil {
		return nil, err
	}
	return server.ShowMe200JSONResponse{
		Person: server.ID(me.Account.ID), Email: string(me.Account.Email), Name: me.Account.Name, Passkeys: me.Passkeys,
		Memberships: each(me.Memberships, func(m techlog.Membership) server.Membership {
			return server.Membership{
				Organization: server.ID(m.Organization.ID), OrganizationName: m.Organization.Name, Name: m.Name, Roles: showRoles(m.Roles),
			}
		}),
		Identities: each(me.Identities, func(i people.Identity) string { return i.Issuer }),
	}, nil
}

// ListSessions implements server.StrictServerInterface.
func (h *handlers) ListSessions(ctx context.Context, _ server.ListSessionsRequestObject) (server.ListSessionsResponseObject, error) {
	all, err := h.people.Sessions(ctx, callOf(ctx).who.Person)
	if err != nil {
		return nil, err
	}
	return server.ListSessions200JSONResponse{Sessions: each(all, showSession)}, nil
}

// EndSession implements server.StrictServerInterface.
func (h *handlers) EndSession(ctx context.Context, r server.EndSessionRequestObject) (server.EndSessionResponseObject, error) {
	c := callOf(ctx)
	err := h.people.EndSession(ctx, c.session.Account, techlog.ID(r.Session), c.from)
	h.admission.forget()
	return &reply{status: http.StatusNoContent}, err
}

// ChangePassword implements server.StrictServerInterface.
func (h *handlers) ChangePassword(ctx context.Context, r server.ChangePasswordRequestObject) (server.ChangePasswordResponseObject, error) {
	s, err := h.people.ChangePassword(ctx, callOf(ctx).session, r.Body.Present, r.Body.Next)
	if err != nil {
		return nil, err
	}
	h.admission.forget()
	return h.sessionReply(s, showPresentSession(s, s.Secret)), nil
}

// enteredProof is a proof as a person gives it.
func enteredProof(p server.Proof) hangar.Proof {
	proof := hangar.Proof{Password: given(p.Password)}
	if p.Challenge != nil || p.Response != nil {
		proof.Passkey = &hangar.PasskeyProof{Challenge: techlog.ID(given(p.Challenge)), Response: given(p.Response)}
	}
	return proof
}

func showAsked(a people.Asked) server.Asked {
	return server.Asked{Challenge: server.ID(a.Challenge), Options: a.Options, Until: a.Until}
}

// BeginPasskey implements server.StrictServerInterface.
func (h *handlers) BeginPasskey(ctx context.Context, r server.BeginPasskeyRequestObject) (server.BeginPasskeyResponseObject, error) {
	asked, err := h.people.BeginPasskey(ctx, callOf(ctx).who.Person, enteredProof(r.Body.Proof))
	return server.BeginPasskey200JSONResponse(showAsked(asked)), err
}

// ListPasskeys implements server.StrictServerInterface.
func (h *handlers) ListPasskeys(ctx context.Context, _ server.ListPasskeysRequestObject) (server.ListPasskeysResponseObject, error) {
	all, err := h.people.Passkeys(ctx, callOf(ctx).who.Person)
	if err != nil {
		return nil, err
	}
	return server.ListPasskeys200JSONResponse{Passkeys: each(all, showPasskey)}, nil
}

func showPasskey(k people.Passkey) server.Passkey {
	return server.Passkey{Id: server.ID(k.ID), Name: k.Name, Added: k.Added, Used: optionalInstant(k.Used)}
}

// optionalInstant is nil for the zero instant.
func optionalInstant(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// AddPasskey implements server.StrictServerInterface.
func (h *handlers) AddPasskey(ctx context.Context, r server.AddPasskeyRequestObject) (server.AddPasskeyResponseObject, error) {
	k, codes, err := h.people.AddPasskey(ctx, callOf(ctx).session, people.Registration{
		Challenge: techlog.ID(r.Body.Challenge), Name: r.Body.Name, Response: r.Body.Response,
	})
	added := server.AddedPasskey{Passkey: showPasskey(k)}
	if len(codes) > 0 {
		added.RecoveryCodes = &codes
	}
	return server.AddPasskey201JSONResponse(added), err
}

// RemovePasskey implements server.StrictServerInterface.
func (h *handlers) RemovePasskey(ctx context.Context, r server.RemovePasskeyRequestObject) (server.RemovePasskeyResponseObject, error) {
	err := h.people.RemovePasskey(ctx, callOf(ctx).session, techlog.ID(r.Passkey), enteredProof(r.Body.Proof))
	return &reply{status: http.StatusNoContent}, err
}

// RenewRecoveryCodes implements server.StrictServerInterface.
func (h *handlers) RenewRecoveryCodes(ctx context.Context, r server.RenewRecoveryCodesRequestObject) (server.RenewRecoveryCodesResponseObject, error) {
	codes, err := h.people.RenewCodes(ctx, callOf(ctx).session, enteredProof(r.Body.Proof))
	return server.RenewRecoveryCodes200JSONResponse{RecoveryCodes: codes}, err
}

// LinkIdentity implements server.StrictServerInterface.
func (h *handlers) LinkIdentity(ctx context.Context, _ server.LinkIdentityRequestObject) (server.LinkIdentityResponseObject, error) {
	trip, address, err := h.people.Elsewhere(ctx)
	return &reply{
		status: http.StatusOK, body: server.Away{Location: address}, cookies: []*http.Cookie{h.admission.cookies.trip(trip, tripLink)},
	}, err
}

// ListMySecurityEvents implements server.StrictServerInterface.
func (h *handlers) ListMySecurityEvents(ctx context.Context, r server.ListMySecurityEventsRequestObject) (server.ListMySecurityEventsResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	events, err := h.people.SecurityEvents(ctx, c.who.Person, page.Limit, page.After)
	if err != nil {
		return nil, err
	}
	events, next := cutPage(events, w, c.url, func(e techlog.SecurityEvent) string { return after(e.ID) })
	return server.ListMySecurityEvents200JSONResponse{
		Body:    server.SecurityEvents{Events: each(events, showSecurityEvent)},
		Headers: server.ListMySecurityEvents200ResponseHeaders{Link: next},
	}, nil
}

func showSecurityEvent(e techlog.SecurityEvent) server.SecurityEvent {
	shown := server.SecurityEvent{
		Id: server.ID(e.ID), Kind: server.SecurityEventKind(e.Kind), About: e.About, By: e.By, Address: e.Address, At: e.At,
	}
	if !e.Person.IsZero() {
		shown.Person = new(server.ID(e.Person))
	}
	return shown
}

// BeginProof implements server.StrictServerInterface.
func (h *handlers) BeginProof(ctx context.Context, r server.BeginProofRequestObject) (server.BeginProofResponseObject, error) {
	raw, err := hex.DecodeString(r.Body.Digest)
	if err != nil {
		return nil, err // the contract asks for 64 hexadecimal digits
	}
	asked, err := h.people.BeginProof(ctx, callOf(ctx).who, [32]byte(raw))
	return server.BeginProof200JSONResponse(showAsked(asked)), err
}
