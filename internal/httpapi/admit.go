package httpapi

import (
	"context"
	"net"
	"net/http"
	"strings"

	"tiedown/internal/contract"
	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// admission is where it is found who asks: a program by its token, a person by the cookie of a session.
type admission struct {
	tokens  *tokens
	stays   *memory[people.Session]
	people  *people.People
	cookies cookies
	origin  *http.CrossOriginProtection
}

func newAdmission(s Settings) *admission {
	a := &admission{
		tokens: newTokens(s.Store, s.Now), stays: newMemory[people.Session](s.Now), people: s.People,
		cookies: newCookies(s.PublicURL), origin: http.NewCrossOriginProtection(),
	}
	if origin := originOf(s.PublicURL); origin != "" {
		if err := a.origin.AddTrustedOrigin(origin); err != nil {
			panic(err) // the settings are checked when they are read
		}
	}
	return a
}

// originOf is scheme and host of an address.
func originOf(address string) string {
	scheme, rest, ok := strings.Cut(address, "://")
	if !ok {
		return ""
	}
	host, _, _ := strings.Cut(rest, "/")
	return scheme + "://" + host
}

// forget makes what was taken back be refused at once.
func (a *admission) forget() {
	a.tokens.forget()
	a.stays.forget()
}

// admit finds who asks, and refuses what may be the doing of a page of another site.
func (a *admission) admit(c *call, o *contract.Operation, r *http.Request) error {
	c.from = from(r)
	switch {
	case o.Open:
		// A browser may be made to sign in as somebody else, too.
		return a.fromOurPages(r)
	case len(r.Header["Authorization"]) > 0:
		return a.admitProgram(c, o, r)
	default:
		return a.admitPerson(c, o, r)
	}
}

func (a *admission) admitProgram(c *call, o *contract.Operation, r *http.Request) error {
	who, err := a.tokens.bearer(c, r.Header)
	if err != nil {
		return err
	}
	if o.OfSession {
		return techlog.Errorf(techlog.KindUnauthorized, "this is for somebody who has signed in: a token does not do")
	}
	c.who = who
	return nil
}

func (a *admission) admitPerson(c *call, o *contract.Operation, r *http.Request) error {
	secret, ok := a.cookies.secretOf(r)
	if !ok {
		return techlog.Errorf(techlog.KindUnauthorized, "the request does not say who asks")
	}
	session, err := a.resume(c, secret)
	if err != nil {
		return err
	}
	if err := a.fromOurPages(r); err != nil {
		return err
	}
	if !isSafe(r.Method) && !people.IsFormToken(secret, r.Header.Get("X-Form-Token")) {
		return techlog.Errorf(kindCrossSite, "the header X-Form-Token is missing, or not this session's")
	}
	c.secret, c.session, c.who = secret, session, session.Principal()
	c.session.From = c.from
	if !o.OfSession && c.who.Organization.IsZero() {
		return techlog.Errorf(techlog.KindUnauthorized, "the session acts in no organization: choose one at PUT /v1/session/organization")
	}
	return nil
}

// resume finds the session of a secret, which may be remembered.
func (a *admission) resume(ctx context.Context, secret string) (people.Session, error) {
	digest, ok := hangar.SecretDigest(secret)
	if !ok {
		return people.Session{}, techlog.Errorf(techlog.KindUnauthorized, "the cookie holds no session of this server")
	}
	if session, ok := a.stays.find(digest); ok {
		return session, nil
	}
	session, err := a.people.Resume(ctx, secret)
	if err == nil {
		a.stays.keep(digest, session, session.Principal().Until)
	}
	return session, err
}

// stillAdmits reports whether whoever was let in with a request would be let in with it again, as the same in the same
// organization. To look so does not count as using the session.
func (a *admission) stillAdmits(ctx context.Context, c *call) bool {
	if c.secret == "" {
		who, err := a.tokens.bearer(ctx, c.request.Header)
		return err == nil && who.Organization == c.who.Organization
	}
	session, err := a.people.Look(ctx, c.secret)
	return err == nil && session.Principal().Organization == c.who.Organization
}

// fromOurPages refuses what a browser says comes from another site's page.
func (a *admission) fromOurPages(r *http.Request) error {
	if err := a.origin.Check(r); err != nil {
		return &techlog.Error{Kind: kindCrossSite, Says: "the request comes from a page of another site", Cause: err}
	}
	return nil
}

func isSafe(method string) bool {
	return method == http.MethodGet || method == http.MethodHead || method == http.MethodOptions
}

// from is where a request comes from. A proxy on the same machine tells whom it asks for; nobody else is believed.
func from(r *http.Request) people.From {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsLoopback() {
		if via := r.Header["X-Forwarded-For"]; len(via) > 0 {
			last := via[len(via)-1]
			if told := net.ParseIP(strings.TrimSpace(last[strings.LastIndexByte(last, ',')+1:])); told != nil {
				host = told.String()
			}
		}
	}
	return people.From{Address: host, Agent: r.UserAgent()}
}
