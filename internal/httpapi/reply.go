package httpapi

import "net/http"

// The answers that are given once.

// VisitSignInResponse implements server.SignInResponseObject.
func (r *reply) VisitSignInResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitFinishSignInResponse implements server.FinishSignInResponseObject.
func (r *reply) VisitFinishSignInResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitSignOutResponse implements server.SignOutResponseObject.
func (r *reply) VisitSignOutResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitChooseOrganizationResponse implements server.ChooseOrganizationResponseObject.
func (r *reply) VisitChooseOrganizationResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitSetPasswordResponse implements server.SetPasswordResponseObject.
func (r *reply) VisitSetPasswordResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitBeginOIDCResponse implements server.BeginOIDCResponseObject.
func (r *reply) VisitBeginOIDCResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitFinishOIDCResponse implements server.FinishOIDCResponseObject.
func (r *reply) VisitFinishOIDCResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitEndSessionResponse implements server.EndSessionResponseObject.
func (r *reply) VisitEndSessionResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitChangePasswordResponse implements server.ChangePasswordResponseObject.
func (r *reply) VisitChangePasswordResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitRemovePasskeyResponse implements server.RemovePasskeyResponseObject.
func (r *reply) VisitRemovePasskeyResponse(w http.ResponseWriter) error { return r.write(w) }

// VisitLinkIdentityResponse implements server.LinkIdentityResponseObject.
func (r *reply) VisitLinkIdentityResponse(w http.ResponseWriter) error { return r.write(w) }
