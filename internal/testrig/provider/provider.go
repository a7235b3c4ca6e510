// Package provider is another provider of identity, for tests: a server of OpenID Connect on an address of its own, that
// a program reaches over the network as it would any other (discovery, keys, authorization code with PKCE, tokens),
// written from the specification and without the program's library.
//
// It owns one person, one client, and how it may be made to misbehave. It does not own any check that a client makes.
package provider

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"sync"
	"time"
)

// Provider is a running server. What it says may be changed between two requests.
type Provider struct {
	Issuer   string
	ClientID string
	Secret   string
	Redirect string // the client's; any if empty

	mu     sync.Mutex
	person Person
	spoil  func(*Token)
	down   bool
	codes  map[string]asked
	key    *ecdsa.PrivateKey
	now    func() time.Time
	server *http.Server
}

// Person is who signs in.
type Person struct {
	Subject  string
	Email    string
	Verified bool
	Name     string
}

// Token is what the provider is about to sign, so that it can be spoilt.
type Token struct {
	Issuer   string
	Audience string
	Nonce    string
	Expires  time.Time
	Key      *ecdsa.PrivateKey
	Unsigned bool // with the algorithm "none"
}

// asked is what a code stands for.
type asked struct{ nonce, challenge, redirect string }

// Start starts a provider for one client.
func Start(ctx context.Context, now func() time.Time) (*Provider, error) {
	key, err := NewKey()
	if err != nil {
		return nil, err
	}
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	p := &Provider{
		Issuer: "http://" + listener.Addr().String(), ClientID: "tiedown", Secret: "a secret of the client", codes: map[string]asked{},
		key: key, now: now, person: Person{Subject: "248289761001", Email: "wren.talbot@club.example", Verified: true, Name: "Wren Talbot"},
	}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /.well-known/openid-configuration", p.discovery)
	mux.HandleFunc("GET /keys", p.keys)
	mux.HandleFunc("GET /authorize", p.authorize)
	mux.HandleFunc("POST /token", p.token)
	p.server = &http.Server{Handler: p.upOrDown(mux), ReadHeaderTimeout: time.Minute}
	go func() { _ = p.server.Serve(listener) }()
	return p, nil
}

// NewKey makes a key, of this or another provider.
func NewKey() (*ecdsa.PrivateKey, error) { return ecdsa.GenerateKey(elliptic.P256(), rand.Reader) }

// Close ends the server.
func (p *Provider) Close() error { return p.server.Close() }

// Meet makes somebody else sign in.
func (p *Provider) Meet(person Person) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.person = person
}

// Spoil changes every token before it is signed. Nil: none.
func (p *Provider) Spoil(change func(*Token)) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.spoil = change
}

// GoDown makes every request fail, or no more.
func (p *Provider) GoDown(down bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.down = down
}

func (p *Provider) upOrDown(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		p.mu.Lock()
		down := p.down
		p.mu.Unlock()
		if down {
			w.WriteHeader(http.StatusBadGateway)
			return
		}
		next.ServeHTTP(w, r)
	})
}

func (p *Provider) discovery(w http.ResponseWriter, _ *http.Request) {
	write(w, map[string]any{
		"issuer": p.Issuer, "authorization_endpoint": p.Issuer + "/authorize", "token_endpoint": p.Issuer + "/token",
		"jwks_uri": p.Issuer + "/keys", "id_token_signing_alg_values_supported": []string{"ES256"},
		"response_types_supported": []string{"code"}, "subject_types_supported": []string{"public"},
	})
}

const keyID = "1"

func (p *Provider) keys(w http.ResponseWriter, _ *http.Request) {
	point, err := p.key.PublicKey.Bytes()
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	write(w, map[string]any{"keys": []any{map[string]any{
		"kty": "EC", "crv": "P-256", "alg": "ES256", "use": "sig", "kid": keyID, "x": text.EncodeToString(point[1:33]), "y": text.EncodeToString(point[33:]),
	}}})
}

// authorize lets the person in without asking, and sends the browser back.
func (p *Provider) authorize(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	if q.Get("client_id") != p.ClientID || q.Get("response_type") != "code" || q.Get("code_challenge_method") != "S256" ||
		p.Redirect != "" && q.Get("redirect_uri") != p.Redirect {
		http.Error(w, "the request is not what was agreed", http.StatusBadRequest)
		return
	}
	var b [16]byte
	_, _ = rand.Read(b[:]) // never fails
	code := text.EncodeToString(b[:])
	p.mu.Lock()
	p.codes[code] = asked{q.Get("nonce"), q.Get("code_challenge"), q.Get("redirect_uri")}
	p.mu.Unlock()
	back := url.Values{"code": {code}, "state": {q.Get("state")}, "iss": {p.Issuer}}
	//nolint:gosec // it is a test's, and sends whoever asks where it was asked to
	http.Redirect(w, r, q.Get("redirect_uri")+"?"+back.Encode(), http.StatusFound)
}

// token redeems a code once.
func (p *Provider) token(w http.ResponseWriter, r *http.Request) {
	p.mu.Lock()
	defer p.mu.Unlock()
	id, secret, basic := r.BasicAuth()
	if !basic {
		id, secret = r.FormValue("client_id"), r.FormValue("client_secret")
	} else if unescaped, err := url.QueryUnescape(secret); err == nil {
		secret = unescaped
	}
	a, known := p.codes[r.FormValue("code")]
	delete(p.codes, r.FormValue("code"))
	challenge := sha256.Sum256([]byte(r.FormValue("code_verifier")))
	if id != p.ClientID || secret != p.Secret || !known || r.FormValue("redirect_uri") != a.redirect ||
		text.EncodeToString(challenge[:]) != a.challenge {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(http.StatusBadRequest)
		_, _ = w.Write([]byte(`{"error": "invalid_grant"}`))
		return
	}
	t := Token{Issuer: p.Issuer, Audience: p.ClientID, Nonce: a.nonce, Expires: p.now().Add(5 * time.Minute), Key: p.key}
	if p.spoil != nil {
		p.spoil(&t)
	}
	signed, err := p.sign(t)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	write(w, map[string]any{"access_token": "nothing of use", "token_type": "Bearer", "expires_in": 300, "id_token": signed})
}

func (p *Provider) sign(t Token) (string, error) {
	claims, err := json.Marshal(map[string]any{
		"iss": t.Issuer, "aud": t.Audience, "sub": p.person.Subject, "nonce": t.Nonce, "exp": t.Expires.Unix(), "iat": p.now().Unix(),
		"email": p.person.Email, "email_verified": p.person.Verified, "name": p.person.Name,
	})
	if err != nil {
		return "", err
	}
	algorithm := "ES256"
	if t.Unsigned {
		algorithm = "none"
	}
	written := text.EncodeToString(fmt.Appendf(nil, `{"alg":%q,"kid":%q,"typ":"JWT"}`, algorithm, keyID)) + "." + text.EncodeToString(claims)
	if t.Unsigned {
		return written + ".", nil
	}
	sum := sha256.Sum256([]byte(written))
	r, s, err := ecdsa.Sign(rand.Reader, t.Key, sum[:])
	if err != nil {
		return "", err
	}
	signature := make([]byte, 64)
	r.FillBytes(signature[:32])
	s.FillBytes(signature[32:])
	return written + "." + text.EncodeToString(signature), nil
}

var text = base64.RawURLEncoding

func write(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(v) // whoever asked may have gone
}
