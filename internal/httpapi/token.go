package httpapi

import (
	"context"
	"net/http"
	"strings"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Authenticator finds whose token has this SHA-256 digest; kind unauthorized if nobody's. hangar.Store is one.
type Authenticator interface {
	Authenticate(ctx context.Context, digest [32]byte) (techlog.Principal, error)
}

// tokens remembers for a moment who bears a token.
type tokens struct {
	store Authenticator
	*memory[techlog.Principal]
}

func newTokens(store Authenticator, now func() time.Time) *tokens {
	return &tokens{store, newMemory[techlog.Principal](now)}
}

// bearer tells who sends a request.
func (t *tokens) bearer(ctx context.Context, h http.Header) (techlog.Principal, error) {
	token, err := tokenOf(h["Authorization"])
	if err != nil {
		return techlog.Principal{}, err
	}
	digest, ok := hangar.TokenDigest(token)
	if !ok {
		return techlog.Principal{}, errNoToken()
	}
	if who, ok := t.find(digest); ok {
		return who, nil
	}
	who, err := t.store.Authenticate(ctx, digest)
	if err != nil {
		return techlog.Principal{}, err
	}
	if !who.Until.IsZero() && !t.now().Before(who.Until) {
		return techlog.Principal{}, techlog.Errorf(techlog.KindUnauthorized, "the token has run out")
	}
	t.keep(digest, who, who.Until)
	return who, nil
}

func tokenOf(authorization []string) (string, error) {
	if len(authorization) == 0 {
		return "", techlog.Errorf(techlog.KindUnauthorized, "the request does not say who asks")
	}
	scheme, token, ok := strings.Cut(authorization[0], " ")
	if len(authorization) > 1 || !ok || !strings.EqualFold(scheme, "Bearer") {
		return "", errNoToken()
	}
	if _, ok := hangar.TokenDigest(token); !ok {
		return "", errNoToken()
	}
	return token, nil
}

func errNoToken() error {
	return techlog.Errorf(techlog.KindUnauthorized, "the header Authorization holds no token of this server")
}
