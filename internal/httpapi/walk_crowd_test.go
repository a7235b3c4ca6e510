package httpapi_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/techlog"
)

// shaky is a network on which connections break: in the middle of a request, or of its answer.
type shaky struct {
	mu   sync.Mutex
	rand *rand.Rand
	cut  atomic.Int64 // connections that broke
}

var errCut = errors.New("the connection was cut")

func (s *shaky) draw(n int) int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.rand.IntN(n)
}

func (s *shaky) dial(ctx context.Context, network, address string) (net.Conn, error) {
	conn, err := (&net.Dialer{}).DialContext(ctx, network, address)
	if err != nil || s.draw(2) == 0 {
		return conn, err
	}
	return &cutConn{Conn: conn, shaky: s, left: int64(s.draw(30_000))}, nil
}

// cutConn breaks after so many bytes, in whichever direction.
type cutConn struct {
	net.Conn
	shaky *shaky
	left  int64
}

func (c *cutConn) spend(n int) error {
	if atomic.AddInt64(&c.left, -int64(n)) < 0 {
		c.shaky.cut.Add(1)
		_ = c.Close()
		return errCut
	}
	return nil
}

func (c *cutConn) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p[:min(len(p), 512)])
	if broken := c.spend(n); broken != nil {
		return 0, broken
	}
	return n, err
}

func (c *cutConn) Write(p []byte) (int, error) {
	if err := c.spend(len(p)); err != nil {
		n, _ := c.Conn.Write(p[:len(p)/2])
		return n, err
	}
	return c.Conn.Write(p)
}

// phone sends over such a network until it is told that what it sent was taken down.
type phone struct {
	server string
	token  string
	shaky  *shaky
	client *http.Client
}

func (w *walk) phone(server string, s *shaky, role techlog.Role) *phone {
	return &phone{server, w.tokens[role], s, &http.Client{
		Timeout: time.Minute, Transport: &http.Transport{DialContext: s.dial, DisableKeepAlives: true},
	}}
}

// insist sends a request until it is answered, whatever happens to the connection, and returns the body of the answer.
func (p *phone) insist(ctx context.Context, path, body string) ([]byte, error) {
	for range 200 {
		answer, status, err := p.send(ctx, path, body)
		switch {
		case err != nil, status == http.StatusServiceUnavailable:
			continue
		case status != http.StatusCreated:
			return nil, fmt.Errorf("%s: %d %s", path, status, answer)
		}
		return answer, nil
	}
	return nil, fmt.Errorf("%s: no answer got through", path)
}

func (p *phone) send(ctx context.Context, path, body string) ([]byte, int, error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, p.server+path, strings.NewReader(body))
	if err != nil {
		return nil, 0, err
	}
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("Authorization", "Bearer "+p.token)
	response, err := p.client.Do(request)
	if err != nil {
		return nil, 0, err
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	return answer, response.StatusCode, err
}

// walked is one walkaround with what its two phones sent.
type walked struct {
	id   string
	sent []string // identifiers of results
}

// TestAHundredWalkaroundsAtOnce lets a hundred walkarounds go on at once in one organization, each by two phones, over a
// network that breaks at random. In the end every result is on record once, and nothing else is.
func TestAHundredWalkaroundsAtOnce(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	s := httptest.NewServer(w.handler)
	t.Cleanup(s.Close)
	network := &shaky{rand: rand.New(rand.NewPCG(1, 2))}
	aircraft := []client.ID{w.aircraft.Id}
	for i := range 4 {
		a := w.trainer(t, w.aircraft.Base, fmt.Sprintf("N08%dTW", i))
		w.giveChecklist(t, a.Id, "")
		aircraft = append(aircraft, a.Id)
	}
	const n = 100
	all := make([]walked, n)
	var group sync.WaitGroup
	for i := range n {
		group.Go(func() {
			var err error
			if all[i], err = w.walkOver(t.Context(), network, s.URL, aircraft[i%len(aircraft)]); err != nil {
				t.Error(err)
			}
		})
	}
	group.Wait()
	if t.Failed() {
		return
	}
	for _, one := range all {
		w.checkWalked(t, one)
	}
	if started := len(w.pages(t, "/v1/walkarounds?limit=50", "walkarounds")); started != n {
		t.Errorf("%d walkarounds on record, %d were begun", started, n)
	}
	for _, a := range aircraft {
		for _, e := range answerTo[client.Meters](t, w.rig, asked{method: "GET", path: "/v1/aircraft/" + a.String() + "/meters"}, http.StatusOK).Meters {
			if e.Number != 1 {
				t.Errorf("twenty walkarounds that read the same hours made %d entries", e.Number)
			}
		}
	}
	if cut := network.cut.Load(); cut < n {
		t.Errorf("only %d connections broke", cut)
	}
}

// walkOver goes round one aircraft with two phones: both start the same walkaround, each sends half of the results in parts
// of random size, and both end it.
func (w *walk) walkOver(ctx context.Context, network *shaky, server string, aircraft client.ID) (walked, error) {
	one := walked{id: newID().String()}
	phones := []*phone{w.phone(server, network, techlog.Pilot), w.phone(server, network, techlog.Mechanic)}
	start := fmt.Sprintf(`{"id": %q, "freezing_moisture": false}`, one.id)
	answer, err := phones[0].insist(ctx, "/v1/aircraft/"+aircraft.String()+"/walkarounds", start)
	if err != nil {
		return one, err
	}
	var review client.WalkaroundReview
	if err := json.Unmarshal(answer, &review); err != nil {
		return one, err
	}
	results := goodResults(review)
	for _, r := range results {
		one.sent = append(one.sent, r[len(`{"id": "`):len(`{"id": "`)+36])
	}
	path := "/v1/walkarounds/" + one.id + "/results"
	errs := make([]error, len(phones))
	var group sync.WaitGroup
	for i, p := range phones {
		mine := results[i*len(results)/2 : (i+1)*len(results)/2]
		group.Go(func() { errs[i] = p.sendParts(ctx, path, mine) })
	}
	group.Wait()
	for _, p := range phones {
		_, err := p.insist(ctx, path, `{"results": [], "complete": true}`)
		errs = append(errs, err)
	}
	return one, errors.Join(errs...)
}

func (p *phone) sendParts(ctx context.Context, path string, results []string) error {
	for len(results) > 0 {
		part := results[:min(len(results), 1+p.shaky.draw(30))]
		if _, err := p.insist(ctx, path, `{"results": [`+strings.Join(part, ",")+`]}`); err != nil {
			return err
		}
		results = results[len(part):]
	}
	return nil
}

// checkWalked holds that a walkaround has each result once, and none that nobody sent.
func (w *walk) checkWalked(t *testing.T, one walked) {
	t.Helper()
	got := w.ask(t, asked{method: "GET", path: "/v1/walkarounds/" + one.id})
	var review client.WalkaroundReview
	if err := json.NewDecoder(bytes.NewReader(got.body)).Decode(&review); err != nil || got.status != http.StatusOK {
		t.Fatalf("%d %s", got.status, got.body)
	}
	var kept []string
	for _, s := range review.Checks {
		for _, r := range s.Results {
			kept = append(kept, r.Id.String())
		}
	}
	slices.Sort(kept)
	slices.Sort(one.sent)
	if !slices.Equal(kept, one.sent) || review.Walkaround.State != "completed" || review.Progress.Done != review.Progress.Checks || len(review.NotDone) > 0 {
		t.Errorf("%s: %d results sent, %d kept; %+v", one.id, len(one.sent), len(kept), review.Progress)
	}
}
