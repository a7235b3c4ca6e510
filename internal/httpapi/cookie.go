package httpapi

import (
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"tiedown/internal/people"
)

// cookies is how cookies are written. A name with the prefix __Host- is taken by browsers only over https, for the whole
// host and no other (RFC 6265bis, 4.1.3.2). A server that people reach over plain http at a loopback address, to try it
// out, has cookies without that; over plain http elsewhere browsers keep none, so nobody signs in there.
type cookies struct {
	prefix string
	secure bool
}

func newCookies(publicURL string) cookies {
	u, err := url.Parse(publicURL)
	if err == nil && u.Scheme == "http" && isLoopback(u.Hostname()) {
		return cookies{}
	}
	return cookies{prefix: "__Host-", secure: true}
}

func isLoopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func (c cookies) sessionName() string { return c.prefix + "tiedown" }
func (c cookies) tripName() string    { return c.prefix + "tiedown-trip" }

func (c cookies) cookie(name, value string) *http.Cookie {
	//nolint:gosec // without Secure only over plain http at a loopback address: TestCookies
	return &http.Cookie{Name: name, Value: value, Path: "/", Secure: c.secure, HttpOnly: true, SameSite: http.SameSiteLaxMode}
}

// session carries a session's secret for as long as it may last.
func (c cookies) session(secret string, until time.Time) *http.Cookie {
	cookie := c.cookie(c.sessionName(), secret) //nolint:gosec // as above
	cookie.Expires = until
	return cookie
}

// gone takes a cookie away.
func (c cookies) gone(name string) *http.Cookie {
	cookie := c.cookie(name, "") //nolint:gosec // as above
	cookie.MaxAge = -1
	return cookie
}

// tripLife is how long somebody may take at another provider of identity, in seconds.
const tripLife = 600

// Why somebody goes to another provider of identity.
const (
	tripIn   = "in"
	tripLink = "link"
)

// trip carries what must come back from another provider of identity with this very browser.
func (c cookies) trip(t people.Trip, why string) *http.Cookie {
	cookie := c.cookie(c.tripName(), strings.Join([]string{why, t.State, t.Nonce, t.Verifier}, ".")) //nolint:gosec // as above
	cookie.MaxAge = tripLife
	return cookie
}

// tripOf reads what a browser carries back: nothing at all if anything about it is strange.
func (c cookies) tripOf(r *http.Request) (people.Trip, string) {
	cookie, err := r.Cookie(c.tripName())
	if err != nil {
		return people.Trip{}, ""
	}
	parts := strings.Split(cookie.Value, ".")
	if len(parts) != 4 || parts[1] == "" || parts[2] == "" || parts[3] == "" {
		return people.Trip{}, ""
	}
	return people.Trip{State: parts[1], Nonce: parts[2], Verifier: parts[3]}, parts[0]
}

// secretOf reads the secret of a session out of a request. A browser that sends two is not believed: one of them may be
// somebody else's doing.
func (c cookies) secretOf(r *http.Request) (string, bool) {
	sent := r.CookiesNamed(c.sessionName())
	if len(sent) != 1 {
		return "", false
	}
	return sent[0].Value, true
}
