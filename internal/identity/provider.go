package identity

import (
	"context"
	"errors"
	"net/http"
	"sync"
	"time"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"

	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// Provider is another provider of identity, by OpenID Connect: the authorization code flow with PKCE, state and nonce.
type Provider struct {
	settings ProviderSettings
	client   *http.Client

	mu    sync.Mutex
	found *oidc.Provider // nil until it has been asked for
}

// ProviderSettings are what is agreed with the provider.
type ProviderSettings struct {
	Issuer   string
	ClientID string
	Secret   string
	Redirect string           // where the browser comes back to
	Now      func() time.Time // the clock
}

var _ people.Provider = (*Provider)(nil)

// providerLimit bounds one request to the provider.
const providerLimit = 8 * time.Second

// NewProvider makes a provider. It is asked for its keys and addresses when somebody first comes.
func NewProvider(s ProviderSettings) *Provider {
	return &Provider{settings: s, client: &http.Client{Timeout: providerLimit}}
}

// discover asks the provider for its addresses once. While it does not answer it is asked each time.
func (p *Provider) discover(ctx context.Context) (*oidc.Provider, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.found != nil {
		return p.found, nil
	}
	found, err := oidc.NewProvider(oidc.ClientContext(context.WithoutCancel(ctx), p.client), p.settings.Issuer)
	if err != nil {
		return nil, notAnswering(err)
	}
	p.found = found
	return found, nil
}

func notAnswering(cause error) error {
	return &techlog.Error{Kind: techlog.KindUnavailable, Says: "the other provider of identity does not answer; try again, or sign in with your password", Cause: cause}
}

func (p *Provider) agreed(found *oidc.Provider) *oauth2.Config {
	return &oauth2.Config{
		ClientID: p.settings.ClientID, ClientSecret: p.settings.Secret, Endpoint: found.Endpoint(), RedirectURL: p.settings.Redirect,
		Scopes: []string{oidc.ScopeOpenID, "email", "profile"},
	}
}

// Begin implements people.Provider.
func (p *Provider) Begin(ctx context.Context, trip people.Trip) (string, error) {
	found, err := p.discover(ctx)
	if err != nil {
		return "", err
	}
	return p.agreed(found).AuthCodeURL(trip.State, oidc.Nonce(trip.Nonce), oauth2.S256ChallengeOption(trip.Verifier)), nil
}

// Finish implements people.Provider.
func (p *Provider) Finish(ctx context.Context, trip people.Trip, code string) (people.Identity, error) {
	found, err := p.discover(ctx)
	if err != nil {
		return people.Identity{}, err
	}
	ctx = oidc.ClientContext(ctx, p.client)
	tokens, err := p.agreed(found).Exchange(ctx, code, oauth2.VerifierOption(trip.Verifier))
	var refused *oauth2.RetrieveError
	switch {
	case errors.As(err, &refused) && refused.Response.StatusCode < http.StatusInternalServerError:
		return people.Identity{}, notHolding(err)
	case err != nil:
		return people.Identity{}, notAnswering(err)
	}
	written, _ := tokens.Extra("id_token").(string)
	token, err := found.Verifier(&oidc.Config{ClientID: p.settings.ClientID, Now: p.settings.Now}).Verify(ctx, written)
	if err != nil {
		return people.Identity{}, notHolding(err)
	}
	if token.Nonce != trip.Nonce {
		return people.Identity{}, notHolding(errors.New("the nonce is another's"))
	}
	var claims struct {
		Email    string `json:"email"`
		Verified bool   `json:"email_verified"`
		Name     string `json:"name"`
	}
	if err := token.Claims(&claims); err != nil || token.Subject == "" {
		return people.Identity{}, notHolding(errors.Join(err, errors.New("the claims cannot be read, or name no subject")))
	}
	identity := people.Identity{Issuer: token.Issuer, Subject: token.Subject, Verified: claims.Verified, Name: claims.Name}
	if email, ok := techlog.ParseEmail(claims.Email); ok {
		identity.Email = email
	}
	return identity, nil
}

func notHolding(cause error) error {
	return &techlog.Error{Kind: techlog.KindUnproven, Says: "the other provider's answer does not hold", Cause: cause}
}
