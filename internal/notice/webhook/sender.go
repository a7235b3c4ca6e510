package webhook

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"syscall"
	"time"
	"unicode/utf8"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	"tiedown/internal/notice/cloudevent"
	"tiedown/internal/techlog"
)

// MediaType is that of an event in the structured mode of the CloudEvents HTTP binding.
const MediaType = "application/cloudevents+json; charset=utf-8"

// Bounds of one attempt.
const (
	attemptLimit   = 10 * time.Second
	dialLimit      = 5 * time.Second
	maxHeaderBytes = 16 << 10
	maxAnswer      = 512 // bytes of an answer that are kept, for whoever looks for a mistake
	idleLimit      = 30 * time.Second
	idlePerHost    = perWebhook
)

// Sender sends deliveries.
type Sender struct {
	client *http.Client
	vault  Vault
	now    func() time.Time
}

// NewSender makes a sender that connects to nothing but what is allowed. It looks at the address that a connection is made
// to, after a name has been looked up: whatever the name led to before is no matter. It follows no redirect and uses no proxy.
func NewSender(allowed Allowed, vault Vault, now func() time.Time) *Sender {
	transport := &http.Transport{
		DialContext: func(ctx context.Context, network, address string) (net.Conn, error) {
			host, _, err := net.SplitHostPort(address)
			if err != nil {
				return nil, err
			}
			dialer := &net.Dialer{Timeout: dialLimit, Control: func(_, to string, _ syscall.RawConn) error {
				addr, err := netip.ParseAddrPort(to)
				if err != nil {
					return fmt.Errorf("%w: %s", errRefused, to)
				}
				return allowed.check(host, addr.Addr())
			}}
			return dialer.DialContext(ctx, network, address)
		},
		ForceAttemptHTTP2:      true,
		TLSHandshakeTimeout:    dialLimit,
		MaxResponseHeaderBytes: maxHeaderBytes,
		MaxIdleConnsPerHost:    idlePerHost,
		IdleConnTimeout:        idleLimit,
	}
	client := &http.Client{
		Transport:     transport,
		Timeout:       attemptLimit,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	return &Sender{client, vault, now}
}

// close ends the connections that are kept open.
func (s *Sender) close() { s.client.CloseIdleConnections() }

// answer is what a receiver said to one attempt.
type answer struct {
	status int    // 0: nothing
	says   string // how it began, or why there is none
	after  time.Duration
}

func (a answer) delivered() bool { return a.status >= 200 && a.status < 300 }
func (a answer) gone() bool      { return a.status == http.StatusGone }

// send makes one attempt. Whatever goes wrong is an answer.
func (s *Sender) send(ctx context.Context, lane Lane, to techlog.Webhook, secrets []techlog.WebhookSecret, e techlog.Event) answer {
	request, err := s.request(ctx, lane, to, secrets, e)
	if err != nil {
		return answer{says: err.Error()}
	}
	response, err := s.client.Do(request)
	if err != nil {
		return answer{says: unanswered(err)}
	}
	defer response.Body.Close() //nolint:errcheck // what was read is what counts
	body, err := io.ReadAll(io.LimitReader(response.Body, maxAnswer))
	if err != nil && len(body) == 0 {
		return answer{says: unanswered(err)} // it may have been taken, or not: it is sent again
	}
	return answer{status: response.StatusCode, says: printable(body), after: retryAfter(response.Header)}
}

func (s *Sender) request(ctx context.Context, lane Lane, to techlog.Webhook, secrets []techlog.WebhookSecret, e techlog.Event) (*http.Request, error) {
	body, err := cloudevent.Envelope(lane.Organization, e)
	if err != nil {
		return nil, err
	}
	at := s.now()
	signatures, err := s.sign(lane, secrets, e.ID.String(), at, body)
	if err != nil {
		return nil, err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, to.URL, bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	request.Header.Set("Content-Type", MediaType)
	request.Header.Set("User-Agent", "Tiedown")
	request.Header.Set(standardwebhooks.HeaderWebhookID, e.ID.String())
	request.Header.Set(standardwebhooks.HeaderWebhookTimestamp, strconv.FormatInt(at.Unix(), 10))
	request.Header.Set(standardwebhooks.HeaderWebhookSignature, signatures)
	return request, nil
}

// sign signs with every secret that is good now, newest first, so that receivers take over a new one without a gap.
func (s *Sender) sign(lane Lane, secrets []techlog.WebhookSecret, id string, at time.Time, body []byte) (string, error) {
	var signatures []string
	for _, secret := range secrets {
		if !secret.Until.IsZero() && !at.Before(secret.Until) {
			continue
		}
		key, err := s.vault.open(Place{lane.Organization, lane.Webhook, secret.ID}, secret.Sealed)
		if err != nil {
			return "", err
		}
		signer, err := standardwebhooks.NewWebhookRaw(key)
		if err != nil {
			return "", err
		}
		signature, err := signer.Sign(id, at, body)
		if err != nil {
			return "", err
		}
		signatures = append(signatures, signature)
	}
	if len(signatures) == 0 {
		return "", errors.New("it has no secret: make one")
	}
	return strings.Join(signatures, " "), nil
}

// unanswered says why there was no answer, without the address, which may hold a secret of the receiver's.
func unanswered(err error) string {
	var inner *url.Error
	if errors.As(err, &inner) {
		if inner.Timeout() {
			return "no answer within 10 s"
		}
		err = inner.Err
	}
	return "no answer: " + err.Error()
}

// printable is how an answer begins, as text.
func printable(body []byte) string {
	text := strings.ToValidUTF8(string(body), "�")
	text = strings.Map(func(r rune) rune {
		if r == utf8.RuneError || r < ' ' && r != '\n' && r != '\t' || r == 0x7f {
			return '�'
		}
		return r
	}, text)
	return strings.TrimSpace(text)
}

// longestAfter bounds how long a receiver can have itself waited for.
const longestAfter = time.Hour

// retryAfter reads for how many seconds a receiver asks to be left alone (RFC 9110, 10.2.3); a date is not regarded.
func retryAfter(h http.Header) time.Duration {
	seconds, err := strconv.Atoi(h.Get("Retry-After"))
	if err != nil || seconds < 0 {
		return 0
	}
	return min(time.Duration(min(seconds, int(longestAfter/time.Second)))*time.Second, longestAfter)
}

// delays are what is waited before the second attempt and those after it: a day in all.
var delays = []time.Duration{
	5 * time.Second, 30 * time.Second, 2 * time.Minute, 10 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour, 4 * time.Hour,
	8 * time.Hour, 8 * time.Hour,
}

// Of a delivery that was queued longer ago than patience, one failed attempt is enough to give it up: what has piled up
// behind one that took a day does not take a day each.
const (
	maxAttempts = 11
	patience    = 24 * time.Hour
)

// delay is what is waited after a number of attempts, give or take a fifth, so that those who failed together do not all
// come again together. False: it is given up.
func delay(attempts int, age time.Duration, jitter float64) (time.Duration, bool) {
	if attempts >= maxAttempts || age >= patience {
		return 0, false
	}
	d := delays[min(max(attempts, 1), len(delays))-1]
	return time.Duration(float64(d) * (0.8 + 0.4*jitter)), true
}

// chance is a number from 0 to below 1.
func chance() float64 {
	var b [4]byte
	_, _ = rand.Read(b[:]) // never fails
	return float64(uint32(b[0])<<24|uint32(b[1])<<16|uint32(b[2])<<8|uint32(b[3])) / (1 << 32)
}
