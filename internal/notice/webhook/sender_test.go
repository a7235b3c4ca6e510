package webhook

import (
	"encoding/json"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	"tiedown/internal/techlog"
)

func id(n byte) techlog.ID { return techlog.ID{15: n} }

var moment = time.Date(2031, time.May, 4, 12, 0, 0, 123456000, time.UTC)

var sample = techlog.Event{
	ID: id(7), Place: 42, Kind: "squawk.filed", Aircraft: id(2), Subject: id(3), By: "P. Lot", At: moment,
	Changes: []techlog.HoldChange{{Flight: id(4), Was: "clear", Is: "grounded"}},
}

func newVault(t testing.TB) Vault {
	t.Helper()
	v, err := NewVault([]byte("the installation's own"))
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestASecretOpensAsItselfAlone(t *testing.T) {
	t.Parallel()
	v := newVault(t)
	shown, sealed := v.NewSecret(id(1), id(2), id(3))
	if !strings.HasPrefix(shown, "whsec_") || strings.Contains(string(sealed), shown[6:]) {
		t.Fatalf("%s %q", shown, sealed)
	}
	place := Place{id(1), id(2), id(3)}
	raw, err := v.open(place, sealed)
	if err != nil || len(raw) < 24 || len(raw) > 64 { // the range of the Standard Webhooks specification
		t.Fatalf("%d bytes, %v", len(raw), err)
	}
	signer, err := standardwebhooks.NewWebhook(shown)
	if err != nil {
		t.Fatal(err)
	}
	one, _ := signer.Sign("a", moment, []byte("b"))
	own, _ := standardwebhooks.NewWebhookRaw(raw)
	if two, _ := own.Sign("a", moment, []byte("b")); one != two {
		t.Error("what is shown is not what is sealed")
	}
	other, err := NewVault([]byte("another installation's"))
	if err != nil {
		t.Fatal(err)
	}
	for what, open := range map[string]func() ([]byte, error){
		"another key":          func() ([]byte, error) { return other.open(place, sealed) },
		"another organization": func() ([]byte, error) { return v.open(Place{id(9), id(2), id(3)}, sealed) },
		"another webhook":      func() ([]byte, error) { return v.open(Place{id(1), id(9), id(3)}, sealed) },
		"another secret":       func() ([]byte, error) { return v.open(Place{id(1), id(2), id(9)}, sealed) },
		"nothing":              func() ([]byte, error) { return v.open(place, nil) },
		"cut off":              func() ([]byte, error) { return v.open(place, sealed[:len(sealed)-1]) },
	} {
		if _, err := open(); !errors.Is(err, errSealed) {
			t.Errorf("%s: %v", what, err)
		}
	}
	for i := range sealed {
		altered := append([]byte{}, sealed...)
		altered[i] ^= 1
		if _, err := v.open(place, altered); err == nil {
			t.Errorf("byte %d does not matter", i)
		}
	}
	if _, err := NewVault(nil); err == nil {
		t.Error("a vault without a secret")
	}
}

// reach is a sender with a receiver, and what they share.
type reach struct {
	*Sender
	lane    Lane
	to      techlog.Webhook
	secrets []techlog.WebhookSecret
	shown   []string
}

func newReach(t testing.TB, receive http.HandlerFunc, allow ...string) *reach {
	t.Helper()
	server := httptest.NewServer(receive)
	t.Cleanup(server.Close)
	allowed, err := ParseAllowed(allow)
	if err != nil {
		t.Fatal(err)
	}
	r := &reach{lane: Lane{id(1), id(2), id(3)}, to: techlog.Webhook{ID: id(2), URL: server.URL + "/in?x=1", State: techlog.WebhookOn}}
	v := newVault(t)
	r.Sender = NewSender(allowed, v, func() time.Time { return time.Now().UTC() })
	for n := range byte(2) {
		shown, sealed := v.NewSecret(id(1), id(2), id(10+n))
		r.shown = append(r.shown, shown)
		r.secrets = append(r.secrets, techlog.WebhookSecret{ID: id(10 + n), Sealed: sealed})
	}
	t.Cleanup(r.close)
	return r
}

func (r *reach) once(t testing.TB) answer {
	t.Helper()
	return r.send(t.Context(), r.lane, r.to, r.secrets, sample)
}

// TestReceiversVerifyWithAnySecret verifies with the library's own other half.
func TestReceiversVerifyWithAnySecret(t *testing.T) {
	t.Parallel()
	var header http.Header
	var body []byte
	r := newReach(t, func(w http.ResponseWriter, q *http.Request) {
		header = q.Header.Clone()
		body = make([]byte, q.ContentLength)
		if _, err := q.Body.Read(body); err != nil && err.Error() != "EOF" {
			t.Error(err)
		}
		w.WriteHeader(http.StatusAccepted)
	}, "127.0.0.1")
	verify := func(secret string) error {
		t.Helper()
		v, err := standardwebhooks.NewWebhook(secret)
		if err != nil {
			t.Fatal(err)
		}
		return v.Verify(body, header)
	}
	if a := r.once(t); !a.delivered() || a.status != 202 {
		t.Fatalf("%+v", a)
	}
	for _, secret := range r.shown {
		if err := verify(secret); err != nil {
			t.Errorf("with a good secret: %v", err)
		}
	}
	if header.Get("webhook-id") != sample.ID.String() || header.Get("Content-Type") != MediaType || !json.Valid(body) {
		t.Errorf("%v %s", header, body)
	}
	r.secrets[1].Until = time.Now().Add(-time.Second)
	if a := r.once(t); !a.delivered() {
		t.Fatalf("%+v", a)
	}
	if err := verify(r.shown[0]); err != nil {
		t.Errorf("with the newest: %v", err)
	}
	if verify(r.shown[1]) == nil {
		t.Error("a secret that has run out still signs")
	}
	body[len(body)-3] ^= 1
	if verify(r.shown[0]) == nil {
		t.Error("an altered body is verified")
	}
	r.secrets = nil
	if a := r.once(t); a.status != 0 || !strings.Contains(a.says, "no secret") {
		t.Errorf("without a secret: %+v", a)
	}
}

func TestWhatReceiversMayAnswer(t *testing.T) {
	t.Parallel()
	var elsewhere atomic.Int64
	other := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { elsewhere.Add(1) }))
	t.Cleanup(other.Close)
	var receiver atomic.Pointer[http.HandlerFunc]
	receives := func(f http.HandlerFunc) { receiver.Store(&f) }
	r := newReach(t, func(w http.ResponseWriter, q *http.Request) { (*receiver.Load())(w, q) }, "127.0.0.0/8")
	for what, c := range map[string]struct {
		receive   http.HandlerFunc
		status    int
		delivered bool
		after     time.Duration
		says      string
	}{
		"no content": {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(204) }, 204, true, 0, ""},
		"gone":       {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(410) }, 410, false, 0, ""},
		"later": {func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "120")
			w.WriteHeader(503)
		}, 503, false, 2 * time.Minute, ""},
		"much later": {func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "99999999999")
			w.WriteHeader(429)
		}, 429, false, 0, ""},
		"in a week": {func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "604800")
			w.WriteHeader(429)
		}, 429, false, time.Hour, ""},
		"elsewhere": {func(w http.ResponseWriter, q *http.Request) { http.Redirect(w, q, other.URL, 307) }, 307, false, 0, ""},
		"too much": {func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(500)
			for range 1000 {
				if _, err := w.Write([]byte(strings.Repeat("x", 1000))); err != nil {
					return
				}
			}
		}, 500, false, 0, strings.Repeat("x", maxAnswer)},
		"unprintable": {func(w http.ResponseWriter, _ *http.Request) {
			w.WriteHeader(500)
			_, _ = w.Write([]byte("a\x00b\xff\x1bc \n"))
		}, 500, false, 0, "a�b��c"},
	} {
		receives(c.receive)
		got := r.once(t)
		if got.status != c.status || got.delivered() != c.delivered || got.after != c.after && what != "much later" || c.says != "" && got.says != c.says {
			t.Errorf("%s: %+v", what, got)
		}
	}
	if elsewhere.Load() != 0 {
		t.Error("a redirect was followed")
	}
	receives(func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) })
	if got := r.once(t); got.status != 0 || !strings.HasPrefix(got.says, "no answer") || strings.Contains(got.says, "x=1") {
		t.Errorf("a broken connection: %+v", got)
	}
	receives(func(_ http.ResponseWriter, q *http.Request) {
		_, _ = io.Copy(io.Discard, q.Body) // until then nobody looks whether the other end has gone
		<-q.Context().Done()
	})
	r.client.Timeout = 50 * time.Millisecond
	if got := r.once(t); got.status != 0 || !strings.HasPrefix(got.says, "no answer within") {
		t.Errorf("no answer: %+v", got)
	}
}

// TestNoConnectionGoesInside dials names that lead inside, also if they led outside when the address was entered: what counts
// is the address that a connection is made to.
func TestNoConnectionGoesInside(t *testing.T) {
	t.Parallel()
	var reached atomic.Int64
	r := newReach(t, func(http.ResponseWriter, *http.Request) { reached.Add(1) })
	_, port, err := net.SplitHostPort(strings.TrimPrefix(strings.TrimSuffix(r.to.URL, "/in?x=1"), "http://"))
	if err != nil {
		t.Fatal(err)
	}
	// localhost is a name that the system looks up: that it is checked after that covers a name that is bound to another address.
	for _, host := range []string{"127.0.0.1", "localhost", "[::1]", "[::ffff:127.0.0.1]", "0.0.0.0", "[::]"} {
		r.to.URL = "http://" + host + ":" + port + "/"
		if got := r.once(t); got.status != 0 || !strings.Contains(got.says, errRefused.Error()) {
			t.Errorf("%s: %+v", host, got)
		}
	}
	if reached.Load() != 0 {
		t.Error("it was reached")
	}
	// A proxy would make the connection in our place.
	if proxy := r.client.Transport.(*http.Transport).Proxy; proxy != nil {
		t.Error("deliveries go through a proxy")
	}
}

func TestDelaysAreADay(t *testing.T) {
	t.Parallel()
	var sum time.Duration
	for n := 1; ; n++ {
		least, more := delay(n, sum, 0)
		if !more {
			if n != maxAttempts {
				t.Errorf("given up after %d attempts", n)
			}
			break
		}
		most, _ := delay(n, sum, 1)
		if least >= most || least < delays[n-1]*79/100 || most > delays[n-1]*121/100 {
			t.Errorf("attempt %d: %s to %s", n, least, most)
		}
		sum += (least + most) / 2
	}
	if sum < 20*time.Hour || sum > 26*time.Hour {
		t.Errorf("%s in all", sum)
	}
	if _, more := delay(1, patience, 0.5); more {
		t.Error("what has piled up for a day is tried more than once")
	}
	for range 1000 {
		if c := chance(); c < 0 || c >= 1 {
			t.Fatal(c)
		}
	}
}
