package httpapi

import (
	"context"
	"net/http"

	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// KindCrossSite is the kind of error of a request that a page of another site may have made.
const KindCrossSite = kindCrossSite

// Door admits people by their sessions, for the interface and for pages that stand beside it: who signs out at one of
// them is out of both at once.
type Door struct{ admission *admission }

// NewDoor makes the door of what New is to be made of.
func NewDoor(s Settings) *Door { return &Door{newAdmission(s)} }

// Resume finds the session that a browser carries, and its secret. Kind unauthorized.
func (d *Door) Resume(ctx context.Context, r *http.Request) (people.Session, string, error) {
	secret, ok := d.admission.cookies.secretOf(r)
	if !ok {
		return people.Session{}, "", techlog.Errorf(techlog.KindUnauthorized, "the request does not say who asks")
	}
	session, err := d.admission.resume(ctx, secret)
	session.From = from(r)
	return session, secret, err
}

// FromOurPages refuses what a browser says comes from another site's page.
func (d *Door) FromOurPages(r *http.Request) error { return d.admission.fromOurPages(r) }

// Enter is the cookie of a session that has a new secret.
func (d *Door) Enter(s people.Session) *http.Cookie {
	return d.admission.cookies.session(s.Secret, s.Until)
}

// Leave takes that cookie away, and has what was remembered of sessions asked for again.
func (d *Door) Leave() *http.Cookie {
	d.Forget()
	return d.admission.cookies.gone(d.admission.cookies.sessionName())
}

// Forget has what was remembered of sessions asked for again: something was taken back.
func (d *Door) Forget() { d.admission.forget() }

// From is where a request comes from.
func (d *Door) From(r *http.Request) people.From { return from(r) }
