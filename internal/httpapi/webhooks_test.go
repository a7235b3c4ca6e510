package httpapi_test

import (
	"context"
	"encoding/base64"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/api/client"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func TestAWebhookThatWouldNotWorkIsRefused(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	for body, want := range map[string]string{
		`{"url": "http://hooks.example/"}`:                                         "https url",
		`{"url": "https://127.0.0.1/"}`:                                            "reachable-by-all url",
		`{"url": "https://169.254.169.254/"}`:                                      "reachable-by-all url",
		`{"url": "https://[::ffff:10.0.0.1]/"}`:                                    "reachable-by-all url",
		`{"url": "https://a:b@hooks.example:22/#x"}`:                               "no-credentials url, no-fragment url, port url",
		`{"url": "https://hooks.example", "kinds": ["squak.filed", "squawk."]}`:    "known-kind kinds[0], known-kind kinds[1]",
		`{"url": "https://hooks.example", "aircraft": "` + newID().String() + `"}`: "known-aircraft aircraft",
	} {
		got := r.ask(t, asked{method: "POST", path: "/v1/webhooks", body: body})
		faults := got.faults(t)
		if got.status != http.StatusUnprocessableEntity || strings.Join(faults, ", ") != want {
			t.Errorf("%s: %d %q, want %q", body, got.status, faults, want)
		}
	}
	if got := r.ask(t, asked{method: "GET", path: "/v1/webhooks"}); string(got.body) != `{"webhooks":[]}`+"\n" {
		t.Errorf("%s", got.body)
	}
}

// TestTheStoryOfAWebhook makes, tests, turns, renews, replays and ends one.
func TestTheStoryOfAWebhook(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	c := r.as(t, techlog.Scheduler)
	made, err := c.MakeWebhookWithResponse(t.Context(), client.WebhookEntry{
		Url: "https://hooks.example/in", Kinds: &[]string{"squawk.filed"}, Aircraft: &f.aircraft.Id,
	})
	if err != nil || made.JSON201 == nil || made.JSON201.Webhook.State != "on" || !strings.HasPrefix(made.JSON201.Secret, "whsec_") {
		t.Fatalf("%v %s", err, made.Body)
	}
	id := made.JSON201.Webhook.Id
	shown, err := c.ShowWebhookWithResponse(t.Context(), id)
	if err != nil || shown.JSON200 == nil || shown.JSON200.OlderSecretsUntil != nil || strings.Contains(string(shown.Body), made.JSON201.Secret) {
		t.Fatalf("%v %s", err, shown.Body)
	}
	r.wantSealed(t, made.JSON201.Secret)

	// A squawk of this aircraft, a flight that is not asked for, and a test.
	for range 3 {
		if got := r.ask(t, asked{method: "POST", path: "/v1/aircraft/" + f.aircraft.Id.String() + "/squawks", body: report}); got.status != 201 {
			t.Fatalf("%d %s", got.status, got.body)
		}
	}
	created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, f.nightFlight())})
	if ping, err := c.PingWebhookWithResponse(t.Context(), id, nil); err != nil || ping.JSON200 == nil {
		t.Fatalf("%v %s", err, ping.Body)
	}
	if _, err := r.store.Relay(t.Context(), r.club, noon); err != nil {
		t.Fatal(err)
	}
	path := "/v1/webhooks/" + id.String() + "/deliveries"
	var kinds []string
	var places []float64
	for _, d := range r.pages(t, path+"?limit=2", "deliveries") {
		kinds = append(kinds, fmt.Sprint(d["kind"], " ", d["state"]))
		place, _ := d["place"].(float64)
		places = append(places, place)
	}
	want := []string{"webhook.pinged pending", "squawk.filed pending", "squawk.filed pending", "squawk.filed pending"}
	if !slices.Equal(kinds, want) || !slices.IsSortedFunc(places, func(a, b float64) int { return int(b - a) }) {
		t.Errorf("%v %v", kinds, places)
	}
	if n := len(r.pages(t, path+"?state=dead", "deliveries")); n != 0 {
		t.Errorf("%d are dead", n)
	}

	// Renewed, deliveries are signed with both until the older is revoked; four at most.
	renewed, err := c.RenewWebhookSecretWithResponse(t.Context(), id)
	if err != nil || renewed.JSON201 == nil || renewed.JSON201.Secret == made.JSON201.Secret ||
		renewed.JSON201.Webhook.OlderSecretsUntil == nil || !renewed.JSON201.Webhook.OlderSecretsUntil.Equal(noon.Add(24*time.Hour)) {
		t.Fatalf("%v %s", err, renewed.Body)
	}
	for range 2 {
		if again, err := c.RenewWebhookSecretWithResponse(t.Context(), id); err != nil || again.JSON201 == nil {
			t.Fatalf("%v %s", err, again.Body)
		}
	}
	if fifth, err := c.RenewWebhookSecretWithResponse(t.Context(), id); err != nil || fifth.StatusCode() != http.StatusConflict {
		t.Errorf("%v %s", err, fifth.Body)
	}
	revoked, err := c.RevokeOlderWebhookSecretsWithResponse(t.Context(), id, nil)
	if err != nil || revoked.JSON200 == nil || !revoked.JSON200.OlderSecretsUntil.Equal(noon) {
		t.Fatalf("%v %s", err, revoked.Body)
	}
	r.clock.advance(time.Second)
	if n := r.goodSecrets(t, techlog.ID(id)); n != 1 {
		t.Errorf("%d secrets are good", n)
	}

	// Off, nothing is queued; what happened can be sent from its place on, when it is on again.
	change := func(version int, state client.WebhookChangeState) *client.ChangeWebhookResponse {
		got, err := c.ChangeWebhookWithResponse(t.Context(), id, &client.ChangeWebhookParams{IfMatch: fmt.Sprintf(`"%d"`, version)},
			client.WebhookChange{Url: "https://hooks.example/in", State: state})
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	if got := change(1, "off"); got.JSON200 == nil || got.JSON200.State != "off" || len(got.JSON200.Kinds) != 0 || got.JSON200.Aircraft != nil {
		t.Fatalf("%s", got.Body)
	}
	if ping, err := c.PingWebhookWithResponse(t.Context(), id, nil); err != nil || ping.StatusCode() != http.StatusConflict {
		t.Errorf("a test of one that is off: %v %s", err, ping.Body)
	}
	if _, err := r.store.Relay(t.Context(), r.club, noon); err != nil {
		t.Fatal(err)
	}
	if n := len(r.pages(t, path, "deliveries")); n != 4 {
		t.Errorf("%d deliveries", n)
	}
	last, err := r.store.LastEvent(t.Context(), r.club)
	if err != nil {
		t.Fatal(err)
	}
	if got := change(2, "on"); got.JSON200 == nil {
		t.Fatalf("%s", got.Body)
	}
	replay := func(q client.ReplayRequest) *client.ReplayDeliveriesResponse {
		got, err := c.ReplayDeliveriesWithResponse(t.Context(), id, nil, q)
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	// It asks for everything now: the events before it was made, too, but not those that are pending.
	if got := replay(client.ReplayRequest{From: new(int64(1))}); got.JSON200 == nil || got.JSON200.Deliveries != int(last)-4 {
		t.Errorf("%s, of %d events", got.Body, last)
	}
	if got := replay(client.ReplayRequest{Place: new(int64(1))}); got.StatusCode() != http.StatusConflict {
		t.Errorf("one that is pending: %s", got.Body)
	}
	if got := replay(client.ReplayRequest{Place: new(int64(1)), From: new(int64(1))}); got.StatusCode() != http.StatusUnprocessableEntity {
		t.Errorf("two at once: %s", got.Body)
	}
	if got := replay(client.ReplayRequest{}); got.StatusCode() != http.StatusUnprocessableEntity {
		t.Errorf("none: %s", got.Body)
	}
	if got := change(3, "ended"); got.JSON200 == nil || got.JSON200.State != "ended" {
		t.Fatalf("%s", got.Body)
	}
	if got := change(4, "on"); got.StatusCode() != http.StatusConflict {
		t.Errorf("%s", got.Body)
	}
}

// wantSealed fails if a secret lies in the database as it is, as text or as the bytes that it stands for.
func (r *rig) wantSealed(t *testing.T, secret string) {
	t.Helper()
	raw, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, "whsec_"))
	if err != nil {
		t.Fatal(err)
	}
	conn, err := pgx.Connect(t.Context(), r.url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.WithoutCancel(t.Context())) //nolint:errcheck // nothing is under way on it
	if _, err := conn.Exec(t.Context(), `SELECT set_config('tiedown.organization', $1, false)`, r.club.String()); err != nil {
		t.Fatal(err)
	}
	var sealed, bare, kept int
	err = conn.QueryRow(t.Context(), `SELECT count(*), count(*) FILTER (WHERE position($1::bytea IN sealed) > 0 OR position($2::bytea IN sealed) > 0),
		(SELECT count(*) FROM idempotency WHERE position($2::bytea IN answer) > 0) FROM webhook_secret`, raw, []byte(secret)).Scan(&sealed, &bare, &kept)
	if err != nil || sealed == 0 || bare != 0 || kept != 0 {
		t.Errorf("of %d secrets %d lie in the database as they are, %d in answers: %v", sealed, bare, kept, err)
	}
}

// goodSecrets is with how many secrets deliveries of a webhook are signed.
func (r *rig) goodSecrets(t *testing.T, id techlog.ID) (n int) {
	t.Helper()
	_, err := r.store.Change(t.Context(), hangar.Scope{Organization: r.club, At: r.clock.now()}, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
		secrets, err := tx.WebhookSecrets(ctx, id)
		n = len(secrets)
		return nil, err
	})
	if err != nil {
		t.Fatal(err)
	}
	return n
}
