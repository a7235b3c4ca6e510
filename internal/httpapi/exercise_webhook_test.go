package httpapi_test

import (
	"context"
	"errors"
	"net/netip"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/notice/webhook"
)

// nowhere looks no name up.
type nowhere struct{}

func (nowhere) LookupNetIP(context.Context, string, string) ([]netip.Addr, error) {
	return nil, errors.New("no such host")
}

// vault seals the secrets of the tests' webhooks.
func vault(tb testing.TB) webhook.Vault {
	tb.Helper()
	v, err := webhook.NewVault([]byte("a secret for tests"))
	if err != nil {
		tb.Fatal(err)
	}
	return v
}

const entry = `{"url": "https://hooks.example/tiedown", "kinds": ["squawk", "flight.planned"]}`

// hook makes a webhook, and gives its path.
func (r *rig) hook(t testing.TB) string {
	t.Helper()
	made := created[client.MadeWebhook](t, r, asked{method: "POST", path: "/v1/webhooks", body: entry})
	return "/v1/webhooks/" + made.Webhook.Id.String()
}

// webhookRequests are good requests of webhooks.
func (x *exercise) webhookRequests(t *testing.T) map[string]func() asked {
	t.Helper()
	post := func(path, body string) func() asked {
		return func() asked { return asked{method: "POST", path: x.rig.hook(t) + path, body: body} }
	}
	return map[string]func() asked{
		"listWebhooks": func() asked { return asked{method: "GET", path: "/v1/webhooks"} },
		"makeWebhook":  func() asked { return asked{method: "POST", path: "/v1/webhooks", body: entry} },
		"showWebhook":  func() asked { return asked{method: "GET", path: x.rig.hook(t)} },
		"changeWebhook": func() asked {
			return asked{method: "PUT", path: x.rig.hook(t), body: `{"url": "https://hooks.example/other", "state": "off"}`, header: ifMatch(1)}
		},
		"renewWebhookSecret":        post("/secret", ""),
		"revokeOlderWebhookSecrets": post("/older-secrets/revocation", ""),
		"pingWebhook":               post("/ping", ""),
		"listDeliveries":            func() asked { return asked{method: "GET", path: x.rig.hook(t) + "/deliveries"} },
		"replayDeliveries":          post("/replay", `{"dead": true}`),
	}
}

// webhookConflict is a request about a webhook that has ended.
func (x *exercise) webhookConflict(t *testing.T, operation string) asked {
	t.Helper()
	q := x.good[operation]()
	end := asked{method: "PUT", path: "/v1/webhooks/" + identifiers.FindString(q.path), body: `{"url": "https://hooks.example/", "state": "ended"}`, header: ifMatch(1)}
	if got := x.rig.ask(t, end); got.status != 200 {
		t.Fatalf("end it: %d %s", got.status, got.body)
	}
	return q
}
