package httpapi

import (
	"context"
	"crypto/sha256"
	"net/http"
	"strings"
	"sync"
	"time"

	"tiedown/internal/techlog"
)

// Authenticator finds whose token has this SHA-256 digest; kind unauthorized if nobody's. hangar.Store is one.
type Authenticator interface {
	Authenticate(ctx context.Context, digest [32]byte) (techlog.Principal, error)
}

const (
	// tokenLife is how long a token that was found is not asked for again, and so how long one that is taken back may
	// still be good.
	tokenLife = 2 * time.Second
	// maxTokens bounds the tokens that are remembered.
	maxTokens = 4096
	// maxTokenLength bounds what is taken for a token at all, in bytes.
	maxTokenLength = 200
)

// tokens remembers for a moment who bears a token. A token that is nobody's is asked for each time.
type tokens struct {
	store Authenticator
	now   func() time.Time

	mu    sync.RWMutex
	known map[[32]byte]bearer
}

type bearer struct {
	who   techlog.Principal
	until time.Time
}

func newTokens(store Authenticator, now func() time.Time) *tokens {
	return &tokens{store: store, now: now, known: map[[32]byte]bearer{}}
}

// bearer tells who sends a request.
func (t *tokens) bearer(ctx context.Context, h http.Header) (techlog.Principal, error) {
	token, err := tokenOf(h["Authorization"])
	if err != nil {
		return techlog.Principal{}, err
	}
	digest := sha256.Sum256([]byte(token))
	now := t.now()
	t.mu.RLock()
	b, ok := t.known[digest]
	t.mu.RUnlock()
	if ok && now.Before(b.until) {
		return b.who, nil
	}
	who, err := t.store.Authenticate(ctx, digest)
	if err != nil {
		return techlog.Principal{}, err
	}
	t.remember(digest, bearer{who, now.Add(tokenLife)})
	return who, nil
}

// remember makes room by forgetting everything: it is asked for again within two seconds anyway.
func (t *tokens) remember(digest [32]byte, b bearer) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.known) >= maxTokens {
		clear(t.known)
	}
	t.known[digest] = b
}

func tokenOf(authorization []string) (string, error) {
	if len(authorization) == 0 {
		return "", techlog.Errorf(techlog.KindUnauthorized, "the request does not say who asks")
	}
	scheme, token, ok := strings.Cut(authorization[0], " ")
	if len(authorization) > 1 || !ok || !strings.EqualFold(scheme, "Bearer") || !strings.HasPrefix(token, "td_") || len(token) > maxTokenLength {
		return "", techlog.Errorf(techlog.KindUnauthorized, "the header Authorization holds no token of this server")
	}
	return token, nil
}
