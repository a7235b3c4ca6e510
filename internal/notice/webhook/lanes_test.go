package webhook_test

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"
	"pgregory.net/rapid"

	"tiedown/internal/hangar"
	"tiedown/internal/notice/webhook"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

func TestMain(m *testing.M) { pgtest.Main(m, postgres.Migrate) }

func newID() techlog.ID { return techlog.ID(uuid.Must(uuid.NewV7())) }

// world is one organization with webhooks, whose clock, receiver and misfortunes a test directs.
type world struct {
	store   *postgres.Store
	org     techlog.ID
	hooks   []techlog.Webhook
	craft   []techlog.ID // the zero one among them
	vault   webhook.Vault
	secrets map[techlog.ID]string
	events  []techlog.Event // as the database has them

	mu     sync.Mutex
	at     time.Time
	status map[techlog.ID]int // what the receiver answers, by webhook
	seen   map[techlog.ID][]arrival
	wrong  []string

	courier *webhook.Courier
	outbox  *unlucky
}

// arrival is one attempt as the receiver saw it.
type arrival struct {
	event    techlog.ID
	place    int64
	aircraft techlog.ID
	body     string
	taken    bool
}

// unlucky is an outbox that breaks when it is told to: before an operation, or after it, when nobody hears of the result any
// more. To a courier that is as if the program were killed there.
type unlucky struct {
	webhook.Outbox
	mu     sync.Mutex
	before int // operations until the next break; negative: none
	after  bool
}

var errKilled = errors.New("killed")

func (u *unlucky) strike(f func() error) error {
	u.mu.Lock()
	u.before--
	now, after := u.before == -1, u.after
	u.mu.Unlock()
	if now && !after {
		return errKilled
	}
	err := f()
	if now {
		return errKilled
	}
	return err
}

func (u *unlucky) Relay(ctx context.Context, org techlog.ID, at time.Time) (more bool, err error) {
	err = u.strike(func() error { more, err = u.Outbox.Relay(ctx, org, at); return err })
	return more, err
}

func (u *unlucky) Take(ctx context.Context, lane webhook.Lane, holder techlog.ID, at, until time.Time) (load webhook.Load, err error) {
	err = u.strike(func() error { load, err = u.Outbox.Take(ctx, lane, holder, at, until); return err })
	return load, err
}

func (u *unlucky) Tell(ctx context.Context, lane webhook.Lane, holder techlog.ID, d techlog.Delivery, keep bool, due time.Time) (version int, err error) {
	err = u.strike(func() error { version, err = u.Outbox.Tell(ctx, lane, holder, d, keep, due); return err })
	return version, err
}

func (w *world) now() time.Time {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.at
}

func (w *world) advance(d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.at = w.at.Add(d)
}

// tester is a test or one of rapid's.
type tester interface {
	Helper()
	Fatalf(format string, args ...any)
	Errorf(format string, args ...any)
}

func newWorld(t tester, store *postgres.Store, receiver string, kinds ...[]string) *world {
	t.Helper()
	w := &world{
		store: store, org: newID(), craft: []techlog.ID{{}, newID(), newID()}, secrets: map[techlog.ID]string{},
		at: time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC), status: map[techlog.ID]int{}, seen: map[techlog.ID][]arrival{},
	}
	ctx := context.Background()
	if err := store.AddOrganization(ctx, techlog.Organization{ID: w.org, Name: "Windsock Flyers"}); err != nil {
		t.Fatalf("%v", err)
	}
	vault, err := webhook.NewVault([]byte("the installation's own"))
	if err != nil {
		t.Fatalf("%v", err)
	}
	w.vault = vault
	for _, k := range kinds {
		hook := techlog.Webhook{ID: newID(), Kinds: k, State: techlog.WebhookOn, By: "S. Cheduler", At: w.at, Version: 1}
		hook.URL = receiver + "/" + hook.ID.String()
		secret := techlog.WebhookSecret{ID: newID(), At: w.at}
		w.secrets[hook.ID], secret.Sealed = vault.NewSecret(w.org, hook.ID, secret.ID)
		w.change(t, func(tx hangar.Tx) {
			tx.AddWebhook(hook)
			tx.AddWebhookSecret(hook.ID, secret, w.at)
		})
		w.hooks = append(w.hooks, hook)
		w.status[hook.ID] = 200
	}
	allowed, err := webhook.ParseAllowed([]string{"127.0.0.1"})
	if err != nil {
		t.Fatalf("%v", err)
	}
	w.outbox = &unlucky{Outbox: store, before: -2}
	w.courier = webhook.NewCourier(webhook.Settings{
		Outbox: w.outbox, Sender: webhook.NewSender(allowed, vault, time.Now), Breaker: w, Log: slog.New(slog.DiscardHandler), Now: w.now, NewID: newID,
	})
	return w
}

func (w *world) change(t tester, f func(tx hangar.Tx)) {
	t.Helper()
	scope := hangar.Scope{Organization: w.org, By: "P. Lot", At: w.now()}
	if _, err := w.store.Change(context.Background(), scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) { f(tx); return nil, nil }); err != nil {
		t.Fatalf("%v", err)
	}
}

// BreakWebhook implements webhook.Breaker.
func (w *world) BreakWebhook(ctx context.Context, org, id techlog.ID) error {
	_, err := w.store.Change(ctx, hangar.Scope{Organization: org, By: "the receiver", At: w.now()}, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
		hook, err := tx.Webhook(ctx, id)
		if err != nil || hook.State != techlog.WebhookOn {
			return nil, err
		}
		hook.State, hook.Version = techlog.WebhookBroken, hook.Version+1
		tx.UpdateWebhook(hook)
		return nil, nil
	})
	return err
}

// turn turns a webhook on or off.
func (w *world) turn(t tester, id techlog.ID, state techlog.WebhookState) {
	t.Helper()
	hook, err := w.store.Webhook(context.Background(), w.org, id)
	if err != nil {
		t.Fatalf("%v", err)
	}
	if hook.State != state {
		hook.State, hook.Version = state, hook.Version+1
		w.change(t, func(tx hangar.Tx) { tx.UpdateWebhook(hook) })
	}
}

func (w *world) emit(t tester, kind string, aircraft techlog.ID) {
	t.Helper()
	w.change(t, func(tx hangar.Tx) {
		tx.Emit(techlog.Event{ID: newID(), Kind: kind, Aircraft: aircraft, Subject: newID(), At: w.now()})
	})
}

// ServeHTTP is the receiver of every webhook: it remembers what came, and holds it against what may come.
func (w *world) ServeHTTP(out http.ResponseWriter, q *http.Request) {
	body, _ := io.ReadAll(q.Body)
	id, _ := techlog.ParseID(strings.TrimPrefix(q.URL.Path, "/"))
	var e struct {
		ID   techlog.ID `json:"id"`
		Data struct {
			Place    int64       `json:"place"`
			Aircraft *techlog.ID `json:"aircraft"`
		} `json:"data"`
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := json.Unmarshal(body, &e); err != nil || q.Header.Get("webhook-id") != e.ID.String() {
		w.wrong = append(w.wrong, "what came is no event with its identifier")
	}
	if verifier, err := standardwebhooks.NewWebhook(w.secrets[id]); err != nil || verifier.Verify(body, q.Header) != nil {
		w.wrong = append(w.wrong, "the signature is none")
	}
	a := arrival{event: e.ID, place: e.Data.Place, body: string(body), taken: w.status[id] == 200}
	if e.Data.Aircraft != nil {
		a.aircraft = *e.Data.Aircraft
	}
	w.seen[id] = append(w.seen[id], a)
	out.WriteHeader(w.status[id])
}

func (w *world) relay(t tester) {
	t.Helper()
	for more := true; more; {
		var err error
		if more, err = w.store.Relay(context.Background(), w.org, w.now()); err != nil {
			t.Fatalf("%v", err)
		}
	}
}

func (w *world) lanes() []webhook.Lane {
	var lanes []webhook.Lane
	for _, hook := range w.hooks {
		for _, aircraft := range w.craft {
			lanes = append(lanes, webhook.Lane{Organization: w.org, Webhook: hook.ID, Aircraft: aircraft})
		}
	}
	return lanes
}

// settle has everything delivered that can be: receivers are well, nobody is killed, and time goes on.
func (w *world) settle(t tester) {
	t.Helper()
	w.outbox.mu.Lock()
	w.outbox.before = -2
	w.outbox.mu.Unlock()
	w.mu.Lock()
	for id := range w.status {
		w.status[id] = 200
	}
	w.mu.Unlock()
	for _, hook := range w.hooks {
		w.turn(t, hook.ID, techlog.WebhookOn)
	}
	w.relay(t)
	for range 3 { // a lease, and the longest wait
		for _, lane := range w.lanes() {
			if _, _, err := w.courier.Deliver(context.Background(), lane); err != nil {
				t.Fatalf("%v", err)
			}
		}
		w.advance(10 * time.Hour)
	}
}

func wants(hook techlog.Webhook, kind string) bool {
	family, _, _ := strings.Cut(kind, ".")
	return len(hook.Kinds) == 0 || slices.Contains(hook.Kinds, kind) || slices.Contains(hook.Kinds, family)
}

// check holds what arrived against the events: each that a webhook asks for was taken, none came that is no event or not asked
// for, with the same bytes each time, and none while an earlier one of its aircraft had not been taken.
func (w *world) check(t tester, missed map[int64]bool) {
	t.Helper()
	events, err := w.store.Events(context.Background(), w.org, 0, 10_000)
	if err != nil {
		t.Fatalf("%v", err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, what := range w.wrong {
		t.Errorf("%s", what)
	}
	for _, hook := range w.hooks {
		taken, bodies := map[int64]bool{}, map[int64]string{}
		for _, a := range w.seen[hook.ID] {
			i := slices.IndexFunc(events, func(e techlog.Event) bool { return e.ID == a.event && e.Place == a.place && e.Aircraft == a.aircraft })
			if i < 0 || !wants(hook, events[i].Kind) {
				t.Fatalf("what came at %v is no event that the webhook asks for: %s", hook.Kinds, a.body)
			}
			if was, again := bodies[a.place]; again && was != a.body {
				t.Errorf("place %d came as\n%s\nand as\n%s", a.place, was, a.body)
			}
			bodies[a.place] = a.body
			for _, e := range events {
				if e.Place < a.place && e.Aircraft == a.aircraft && wants(hook, e.Kind) && !missed[e.Place] && !taken[e.Place] {
					t.Errorf("place %d came before place %d of its aircraft had been taken", a.place, e.Place)
				}
			}
			taken[a.place] = taken[a.place] || a.taken
		}
		for _, e := range events {
			if wants(hook, e.Kind) && !taken[e.Place] && !missed[e.Place] {
				t.Errorf("place %d never came to %v", e.Place, hook.Kinds)
			}
		}
	}
}

// TestLanesLoseNothingAndKeepOrder has receivers fail, programs be killed at any operation, two couriers come to one lane,
// webhooks be turned off and on, and time pass; then everything that was asked for has arrived, in order.
func TestLanesLoseNothingAndKeepOrder(t *testing.T) {
	t.Parallel()
	store, err := postgres.Open(t.Context(), postgres.Config{URL: pgtest.New(t)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	var current sync.Map // the world of the case under way
	receiver := httptest.NewServer(http.HandlerFunc(func(out http.ResponseWriter, q *http.Request) {
		if w, ok := current.Load("world"); ok {
			w.(*world).ServeHTTP(out, q) //nolint:forcetypeassert // it is what is kept
		}
	}))
	t.Cleanup(receiver.Close)
	rapid.Check(t, func(t *rapid.T) {
		w := newWorld(t, store, receiver.URL, nil, []string{"squawk", "flight.planned"})
		current.Store("world", w)
		hook := rapid.SampledFrom(w.hooks)
		t.Repeat(map[string]func(*rapid.T){
			"": func(*rapid.T) {},
			"happen": func(t *rapid.T) {
				for range rapid.IntRange(1, 12).Draw(t, "events") {
					w.emit(t, rapid.SampledFrom([]string{"squawk.filed", "flight.planned", "flight.changed"}).Draw(t, "kind"), rapid.SampledFrom(w.craft).Draw(t, "aircraft"))
				}
			},
			"relay": func(*rapid.T) { _, _ = w.outbox.Relay(context.Background(), w.org, w.now()) },
			"deliver": func(t *rapid.T) {
				_, _, _ = w.courier.Deliver(context.Background(), rapid.SampledFrom(w.lanes()).Draw(t, "lane"))
			},
			"two come": func(t *rapid.T) {
				lane := rapid.SampledFrom(w.lanes()).Draw(t, "lane")
				var both sync.WaitGroup
				for range 2 {
					both.Go(func() { _, _, _ = w.courier.Deliver(context.Background(), lane) })
				}
				both.Go(func() { _, _ = w.outbox.Relay(context.Background(), w.org, w.now()) })
				both.Wait()
			},
			"be killed": func(t *rapid.T) {
				w.outbox.mu.Lock()
				defer w.outbox.mu.Unlock()
				w.outbox.before, w.outbox.after = rapid.IntRange(0, 6).Draw(t, "after"), rapid.Bool().Draw(t, "done")
			},
			"answer": func(t *rapid.T) {
				w.mu.Lock()
				defer w.mu.Unlock()
				w.status[hook.Draw(t, "hook").ID] = rapid.SampledFrom([]int{200, 200, 500, 404, 307}).Draw(t, "status")
			},
			"turn": func(t *rapid.T) {
				w.relay(t) // what happens while it is off is not for it
				h := hook.Draw(t, "hook").ID
				w.turn(t, h, techlog.WebhookOff)
				_, _, _ = w.courier.Deliver(context.Background(), rapid.SampledFrom(w.lanes()).Draw(t, "lane"))
				w.turn(t, h, techlog.WebhookOn)
			},
			"remind": func(t *rapid.T) {
				if err := store.Remind(context.Background(), w.now()); err != nil {
					t.Fatalf("%v", err)
				}
			},
			"pass": func(t *rapid.T) {
				if w.now().Before(time.Date(2031, 5, 5, 0, 0, 0, 0, time.UTC)) { // nothing is given up yet
					w.advance(time.Duration(rapid.IntRange(1, 1200).Draw(t, "seconds")) * time.Second)
				}
			},
		})
		w.settle(t)
		w.check(t, nil)
	})
}
