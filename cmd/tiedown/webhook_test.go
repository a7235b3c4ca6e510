package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

// receiver is a program elsewhere that is sent events: it keeps what it took, and misbehaves as a test wants it to.
type receiver struct {
	*httptest.Server
	mu      sync.Mutex
	secrets []string
	came    []arrived
	wrong   []string
	answer  func(a arrived) int // the status; 0: no answer, until the other end gives up
}

// arrived is one attempt.
type arrived struct {
	id       string
	kind     string
	place    int64
	aircraft string
	body     string
	status   int
}

func newReceiver(t *testing.T) *receiver {
	t.Helper()
	r := &receiver{answer: func(arrived) int { return 200 }}
	r.Server = httptest.NewServer(http.HandlerFunc(r.receive))
	t.Cleanup(func() {
		r.CloseClientConnections()
		r.Close()
	})
	return r
}

func (r *receiver) receive(w http.ResponseWriter, q *http.Request) {
	body, err := io.ReadAll(q.Body)
	if err != nil {
		return // it was cut off: whoever sent it is dead
	}
	var e struct {
		ID   string `json:"id"`
		Data struct {
			Kind     string `json:"kind"`
			Place    int64  `json:"place"`
			Aircraft string `json:"aircraft"`
		} `json:"data"`
	}
	if err := json.Unmarshal(body, &e); err != nil {
		r.note("no JSON: %s", body)
		return
	}
	a := arrived{e.ID, e.Data.Kind, e.Data.Place, e.Data.Aircraft, string(body), 0}
	r.mu.Lock()
	if q.Header.Get("webhook-id") != e.ID || !slices.ContainsFunc(r.secrets, func(secret string) bool {
		v, err := standardwebhooks.NewWebhook(secret)
		return err == nil && v.Verify(body, q.Header) == nil
	}) {
		r.wrong = append(r.wrong, "not signed: "+string(body))
	}
	answer := r.answer
	r.mu.Unlock()
	if a.status = answer(a); a.status == 0 {
		<-q.Context().Done()
	}
	r.mu.Lock()
	r.came = append(r.came, a)
	r.mu.Unlock()
	if a.status != 0 {
		w.WriteHeader(a.status)
	}
}

func (r *receiver) note(format string, args ...any) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.wrong = append(r.wrong, fmt.Sprintf(format, args...))
}

func (r *receiver) answers(f func(a arrived) int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.answer = f
}

// taken lists what was answered well, in the order in which that was so.
func (r *receiver) taken() []arrived {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.DeleteFunc(slices.Clone(r.came), func(a arrived) bool { return a.status != 200 })
}

// until waits for something, within bounds.
func until(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(startLimit); !is(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("it never came about: %s", what)
		}
	}
}

// hooked is a demo club with a receiver, whose server is killed and started again.
type hooked struct {
	t        *testing.T
	settings []string
	server   *process
	receiver *receiver
	store    *postgres.Store
	org      techlog.ID
	aircraft []string
	webhook  string
	first    int64 // place of the event that there is a webhook: from there on everything has to come
	n        int
}

func newHooked(t *testing.T) *hooked {
	t.Helper()
	url := pgtest.New(t)
	h := &hooked{t: t, receiver: newReceiver(t), settings: []string{
		"TIEDOWN_DATABASE_URL=" + url, "TIEDOWN_STATE_DIR=" + stateDir(t), "TIEDOWN_WEBHOOK_ALLOW=127.0.0.1",
	}}
	h.start()
	for _, a := range list(t, h.server, "aircraft") {
		h.aircraft = append(h.aircraft, a.ID)
	}
	var err error
	if h.store, err = postgres.Open(t.Context(), postgres.Config{URL: url, MaxConns: 2}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(h.store.Close)
	clubs, err := h.store.Organizations(t.Context())
	if err != nil || len(clubs) != 1 {
		t.Fatalf("%v %v", clubs, err)
	}
	h.org = clubs[0].ID
	status, body := h.server.post("scheduler", "/v1/webhooks", `{"url":"`+h.receiver.URL+`/in"}`)
	var made struct {
		Secret  string `json:"secret"`
		Webhook record `json:"webhook"`
	}
	if err := json.Unmarshal([]byte(body), &made); err != nil || status != 201 {
		t.Fatalf("%d %s", status, body)
	}
	h.receiver.secrets, h.webhook = []string{made.Secret}, "/v1/webhooks/"+made.Webhook.ID
	for _, e := range h.events(0) {
		if e.Kind == "webhook.made" {
			h.first = e.Place
		}
	}
	return h
}

func (h *hooked) start() { h.server = start(h.t, "demo", h.settings...) }

// kill ends the server at once, and starts another.
func (h *hooked) kill() {
	h.t.Helper()
	if err := h.server.stop(syscall.SIGKILL); err == nil {
		h.t.Fatal("a killed program ends well")
	}
	h.start()
}

// file files a squawk. What becomes of a request to a server that is being killed is not known.
func (h *hooked) file(aircraft int) error {
	h.n++
	request, err := http.NewRequestWithContext(h.t.Context(), http.MethodPost, "http://"+h.server.addr+"/v1/aircraft/"+h.aircraft[aircraft]+"/squawks",
		strings.NewReader(fmt.Sprintf(`{"kind":"condition","item":"tire","words":"worn %d"}`, h.n)))
	if err != nil {
		return err
	}
	request.Header.Set("Authorization", "Bearer "+h.server.tokens["pilot"])
	request.Header.Set("Content-Type", "application/json")
	response, err := (&http.Client{Timeout: startLimit, Transport: &http.Transport{DisableKeepAlives: true}}).Do(request)
	if err != nil {
		return err
	}
	return response.Body.Close()
}

// events are those after a place.
func (h *hooked) events(after int64) []techlog.Event {
	h.t.Helper()
	events, err := h.store.Events(h.t.Context(), h.org, after, 10_000)
	if err != nil {
		h.t.Fatal(err)
	}
	return events
}

// settled waits until every event that there is now has been taken, and gives the last one's place.
func (h *hooked) settled() int64 {
	h.t.Helper()
	events := h.events(h.first - 1)
	until(h.t, fmt.Sprintf("%d events are taken", len(events)), func() bool {
		taken := map[string]bool{}
		for _, a := range h.receiver.taken() {
			taken[a.id] = true
		}
		return !slices.ContainsFunc(events, func(e techlog.Event) bool { return !taken[e.ID.String()] })
	})
	return events[len(events)-1].Place
}

// check holds what came against the event table: each event up to a place came, none came that is none, every attempt at one was the same, and
// those of one aircraft were taken in order.
func (h *hooked) check(upTo int64) {
	h.t.Helper()
	events := map[string]techlog.Event{}
	for _, e := range h.events(0) {
		events[e.ID.String()] = e
	}
	for _, what := range h.receiver.wrong {
		h.t.Error(what)
	}
	bodies, last := map[string]string{}, map[string]int64{}
	for _, a := range h.receiver.taken() {
		e, ok := events[a.id]
		if !ok || e.Place != a.place || e.Kind != a.kind || !e.Aircraft.IsZero() && e.Aircraft.String() != a.aircraft {
			h.t.Errorf("what came is no event: %s", a.body)
		}
		if was, again := bodies[a.id]; again {
			if was != a.body {
				h.t.Errorf("an event came as\n%s\nand as\n%s", was, a.body)
			}
			continue // one that was answered, of which the server died before it heard
		}
		bodies[a.id] = a.body
		if a.place < last[a.aircraft] {
			h.t.Errorf("place %d of %q was taken after place %d", a.place, a.aircraft, last[a.aircraft])
		}
		last[a.aircraft] = a.place
	}
	for id, e := range events {
		if _, came := bodies[id]; !came && e.Place >= h.first && e.Place <= upTo {
			h.t.Errorf("place %d never came", e.Place)
		}
	}
}

// TestEveryEventArrivesWhateverIsKilled has the server killed before a commit, after a commit and in the middle of a delivery,
// and its receiver fail, hang and answer 410.
func TestEveryEventArrivesWhateverIsKilled(t *testing.T) {
	t.Parallel()
	h := newHooked(t)

	// Before the commit, somewhere within it, or after it: while squawks are filed.
	for range 2 {
		var writers sync.WaitGroup
		server := *h
		writers.Go(func() {
			for range 200 {
				if server.file(rand.IntN(3)) != nil {
					return
				}
			}
		})
		time.Sleep(time.Duration(100+rand.IntN(300)) * time.Millisecond)
		if err := h.server.stop(syscall.SIGKILL); err == nil {
			t.Fatal("a killed program ends well")
		}
		writers.Wait()
		h.n = server.n
		h.start()
	}

	// After the commit, at the latest: it has just been answered, and is hardly a delivery yet.
	if err := h.file(0); err != nil {
		t.Fatal(err)
	}
	h.kill()

	// In the middle of a delivery: the receiver has it, and does not answer.
	reached := make(chan bool, 1)
	hangs := h.aircraft[1]
	var once sync.Once
	h.receiver.answers(func(a arrived) int {
		status := 200
		if a.aircraft == hangs {
			once.Do(func() {
				status = 0
				reached <- true
			})
		}
		return status
	})
	for range 2 {
		if err := h.file(1); err != nil {
			t.Fatal(err)
		}
	}
	<-reached
	h.kill()

	// Meanwhile it fails and hangs at others: what is about one aircraft does not wait for another.
	fails, slow := h.aircraft[2], h.aircraft[0]
	var failed, hung sync.Once
	h.receiver.answers(func(a arrived) int {
		status := 200
		switch a.aircraft {
		case fails:
			failed.Do(func() { status = 500 })
		case slow:
			hung.Do(func() { status = 0 })
		}
		return status
	})
	for range 2 {
		for aircraft := range 3 {
			if err := h.file(aircraft); err != nil {
				t.Fatal(err)
			}
		}
	}
	h.check(h.settled())
	listed(t, h, "pending", 0)

	// Gone: it is turned off. On again, what waited goes out, and what happened meanwhile can be had.
	h.receiver.answers(func(arrived) int { return 410 })
	if err := h.file(0); err != nil {
		t.Fatal(err)
	}
	var version string
	until(t, "the webhook is broken", func() bool {
		_, body := h.server.get("scheduler", h.webhook)
		version = fmt.Sprintf("%q", body[strings.LastIndex(body, ":")+1:strings.LastIndex(body, "}")])
		return strings.Contains(body, `"state":"broken"`)
	})
	if err := h.file(0); err != nil {
		t.Fatal(err)
	}
	h.receiver.answers(func(arrived) int { return 200 })
	h.change(version, `{"url":"`+h.receiver.URL+`/in","state":"on"}`)
	if status, body := h.server.post("scheduler", h.webhook+"/replay", fmt.Sprintf(`{"from":%d}`, h.first)); status != 200 {
		t.Fatalf("%d %s", status, body)
	}
	h.settled()
	if err := h.server.stop(syscall.SIGTERM); err != nil {
		t.Errorf("the order to stop: %v\n%s", err, h.server.stderr)
	}
}

// change changes the webhook.
func (h *hooked) change(version, body string) {
	h.t.Helper()
	request, err := http.NewRequestWithContext(h.t.Context(), http.MethodPut, "http://"+h.server.addr+h.webhook, strings.NewReader(body))
	if err != nil {
		h.t.Fatal(err)
	}
	request.Header.Set("Authorization", "Bearer "+h.server.tokens["scheduler"])
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("If-Match", version)
	if status, answer := h.server.do(request); status != 200 {
		h.t.Fatalf("%d %s", status, answer)
	}
}

// listed waits until as many deliveries are in a state.
func listed(t *testing.T, h *hooked, state string, want int) {
	t.Helper()
	until(t, fmt.Sprintf("%d are %s", want, state), func() bool {
		status, body := h.server.get("scheduler", h.webhook+"/deliveries?limit=200&state="+state)
		return status == 200 && strings.Count(body, `"place"`) == want
	})
}

// TestTwoServersDeliverTogether has two servers on one database; what happens at one arrives once, and in order, and the rest
// arrives when one of them is killed.
func TestTwoServersDeliverTogether(t *testing.T) {
	t.Parallel()
	h := newHooked(t)
	other := start(t, "serve", h.settings...)
	for n := range 30 {
		if err := h.file(n % 3); err != nil {
			t.Fatal(err)
		}
		if n == 15 {
			if err := other.stop(syscall.SIGKILL); err == nil {
				t.Fatal("a killed program ends well")
			}
		}
	}
	h.check(h.settled())
}
