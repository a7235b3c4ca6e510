package httpapi

import (
	"context"
	"encoding/json"
	"net/http"

	"tiedown/api/server"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// reply is an answer with cookies, to be given once: what it holds is not kept for a replay.
type reply struct {
	status   int
	body     any // nil: none
	location string
	cookies  []*http.Cookie
}

func (r *reply) write(w http.ResponseWriter) error {
	for _, cookie := range r.cookies {
		http.SetCookie(w, cookie)
	}
	if r.location != "" {
		w.Header()["Location"] = []string{r.location}
	}
	if r.body == nil {
		w.WriteHeader(r.status)
		return nil
	}
	body, err := json.Marshal(r.body)
	if err != nil {
		return err
	}
	return writeJSON(w, r.status, body)
}

// sessionReply answers with a session that has a new secret.
func (h *handlers) sessionReply(s people.Session, body any) *reply {
	return &reply{status: http.StatusOK, body: body, cookies: []*http.Cookie{h.admission.cookies.session(s.Secret, s.Until)}}
}

// ShowSession implements server.StrictServerInterface.
func (h *handlers) ShowSession(ctx context.Context, _ server.ShowSessionRequestObject) (server.ShowSessionResponseObject, error) {
	c := callOf(ctx)
	return server.ShowSession200JSONResponse(showPresentSession(c.session, c.secret)), nil
}

// SignIn implements server.StrictServerInterface.
func (h *handlers) SignIn(ctx context.Context, r server.SignInRequestObject) (server.SignInResponseObject, error) {
	in, err := h.people.SignIn(ctx, r.Body.Email, r.Body.Password, callOf(ctx).from)
	if err != nil {
		return nil, err
	}
	return h.signedIn(in), nil
}

// FinishSignIn implements server.StrictServerInterface.
func (h *handlers) FinishSignIn(ctx context.Context, r server.FinishSignInRequestObject) (server.FinishSignInResponseObject, error) {
	second := people.Second{Ticket: r.Body.Ticket, Response: given(r.Body.Response), RecoveryCode: given(r.Body.RecoveryCode)}
	in, err := h.people.Finish(ctx, second, callOf(ctx).from)
	if err != nil {
		return nil, err
	}
	return h.signedIn(in), nil
}

func (h *handlers) signedIn(in people.SignedIn) *reply {
	if in.Second != nil {
		return &reply{status: http.StatusOK, body: server.SignedIn{SecondStep: &server.SecondStep{
			Ticket: in.Second.Ticket, Options: in.Second.Options,
		}}}
	}
	return h.sessionReply(in.Session, server.SignedIn{Session: new(showPresentSession(in.Session, in.Session.Secret))})
}

// SignOut implements server.StrictServerInterface.
func (h *handlers) SignOut(ctx context.Context, _ server.SignOutRequestObject) (server.SignOutResponseObject, error) {
	err := h.people.SignOut(ctx, callOf(ctx).session)
	h.admission.forget()
	return &reply{status: http.StatusNoContent, cookies: []*http.Cookie{h.admission.cookies.gone(h.admission.cookies.sessionName())}}, err
}

// ChooseOrganization implements server.StrictServerInterface.
func (h *handlers) ChooseOrganization(ctx context.Context, r server.ChooseOrganizationRequestObject) (server.ChooseOrganizationResponseObject, error) {
	s, err := h.people.Choose(ctx, callOf(ctx).session, techlog.ID(r.Body.Organization))
	if err != nil {
		return nil, err
	}
	h.admission.forget()
	return h.sessionReply(s, showPresentSession(s, s.Secret)), nil
}

// SetPassword implements server.StrictServerInterface.
func (h *handlers) SetPassword(ctx context.Context, r server.SetPasswordRequestObject) (server.SetPasswordResponseObject, error) {
	if err := h.people.SetPassword(ctx, r.Body.Link, r.Body.Password, callOf(ctx).from); err != nil {
		return nil, err
	}
	h.admission.forget()
	return &reply{status: http.StatusNoContent}, nil
}

// BeginOIDC implements server.StrictServerInterface.
func (h *handlers) BeginOIDC(ctx context.Context, _ server.BeginOIDCRequestObject) (server.BeginOIDCResponseObject, error) {
	trip, address, err := h.people.Elsewhere(ctx)
	return &reply{status: http.StatusFound, location: address, cookies: []*http.Cookie{h.admission.cookies.trip(trip, tripIn)}}, err
}

// FinishOIDC implements server.StrictServerInterface.
func (h *handlers) FinishOIDC(ctx context.Context, r server.FinishOIDCRequestObject) (server.FinishOIDCResponseObject, error) {
	c := callOf(ctx)
	trip, why := h.admission.cookies.tripOf(c.request)
	back := people.Returned{Trip: trip, State: given(r.Params.State), Code: given(r.Params.Code)}
	done := &reply{
		status: http.StatusFound, location: h.publicURL + "/", cookies: []*http.Cookie{h.admission.cookies.gone(h.admission.cookies.tripName())},
	}
	if why == tripLink {
		return done, h.linkIdentity(ctx, c, back)
	}
	s, err := h.people.SignInFrom(ctx, back, c.from)
	if err != nil {
		return nil, err
	}
	done.cookies = append(done.cookies, h.admission.cookies.session(s.Secret, s.Until))
	return done, nil
}

// linkIdentity links what comes back to the person whose session this browser has.
func (h *handlers) linkIdentity(ctx context.Context, c *call, back people.Returned) error {
	secret, _ := h.admission.cookies.secretOf(c.request)
	s, err := h.admission.resume(ctx, secret)
	if err != nil {
		return err
	}
	s.From = c.from
	return h.people.LinkFrom(ctx, s, back)
}

// showPresentSession shows a session to its own page.
func showPresentSession(s people.Session, secret string) server.Session {
	shown := showSession(s)
	shown.FormToken = new(people.FormToken(secret))
	return shown
}

func showSession(s people.Session) server.Session {
	who := s.Principal()
	shown := server.Session{
		Id: server.ID(s.ID), Person: server.ID(s.Account.ID), Name: who.Name, Began: s.Began, Seen: s.Seen, Ends: who.Until,
		Factor: s.Factor, Agent: s.From.Agent, Address: s.From.Address,
	}
	if !who.Organization.IsZero() {
		shown.Organization, shown.Roles = new(server.ID(who.Organization)), new(showRoles(who.Roles))
	}
	return shown
}

func showRoles(roles techlog.RoleSet) server.Roles {
	return each(roles, func(r techlog.Role) server.Role { return server.Role(r) })
}

func enteredRoles(roles server.Roles) techlog.RoleSet {
	return each(roles, func(r server.Role) techlog.Role { return techlog.Role(r) })
}
