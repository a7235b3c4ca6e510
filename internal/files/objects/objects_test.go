package objects_test

import (
	"context"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/rclone/gofakes3"
	"github.com/rclone/gofakes3/s3mem"

	"tiedown/internal/files/objects"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/filestest"
)

const keyID, secret = "key-of-the-bucket", "a secret of the bucket"

// clock is the service's: it goes on whenever it is asked.
type clock func() time.Time

// Now implements gofakes3.TimeSource.
func (c clock) Now() time.Time { return c() }

// Since implements gofakes3.TimeSource.
func (c clock) Since(t time.Time) time.Duration { return c().Sub(t) }

// serve starts a service that speaks S3 over HTTP, with one bucket, and looks at signatures.
func serve(t *testing.T, now clock) string {
	t.Helper()
	backend := s3mem.New(s3mem.WithTimeSource(now))
	if err := backend.CreateBucket(t.Context(), "hangar"); err != nil {
		t.Fatal(err)
	}
	// Requests are signed at the time of the client's own clock, whatever the service says of the age of objects.
	service := gofakes3.New(backend, gofakes3.WithTimeSource(now), gofakes3.WithTimeSkewLimit(0), gofakes3.WithV4Auth(map[string]string{keyID: secret}))
	server := httptest.NewServer(service.Server())
	t.Cleanup(server.Close)
	return server.URL
}

func settings(url string) objects.Settings {
	return objects.Settings{URL: url + "/hangar/some/where", Region: "us-east-1", KeyID: keyID, Secret: secret}
}

func TestObjects(t *testing.T) {
	t.Parallel()
	filestest.Run(t, func(t *testing.T) filestest.Place {
		now := clock(filestest.Ticks(time.Date(2031, time.May, 4, 12, 0, 0, 0, time.UTC)))
		b, err := objects.Open(t.Context(), settings(serve(t, now)))
		if err != nil {
			t.Fatal(err)
		}
		return filestest.Place{Files: b, Orgs: [2]techlog.ID{{1}, {2}}, Later: now}
	})
}

// TestABucketThatCannotBeUsed is found out when the program starts.
func TestABucketThatCannotBeUsed(t *testing.T) {
	t.Parallel()
	url := serve(t, clock(filestest.Ticks(time.Now())))
	for what, c := range map[string]struct {
		spoil func(*objects.Settings)
		says  string
	}{
		"another bucket": {func(s *objects.Settings) { s.URL = url + "/elsewhere" }, "there is no bucket elsewhere"},
		"no bucket":      {func(s *objects.Settings) { s.URL = url }, "names no bucket"},
		"another secret": {func(s *objects.Settings) { s.Secret = "guessed" }, "denied"},
		"nobody there":   {func(s *objects.Settings) { s.URL = "http://127.0.0.1:1/hangar" }, "refused"},
	} {
		s := settings(url)
		c.spoil(&s)
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		_, err := objects.Open(ctx, s)
		cancel()
		if err == nil || !strings.Contains(strings.ToLower(err.Error()), c.says) {
			t.Errorf("%s: %v, want %q", what, err, c.says)
		}
	}
}

// TestAServiceThatIsGone holds that nothing is taken for missing that cannot be asked for.
func TestAServiceThatIsGone(t *testing.T) {
	t.Parallel()
	backend := s3mem.New()
	if err := backend.CreateBucket(t.Context(), "hangar"); err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(gofakes3.New(backend).Server())
	t.Cleanup(server.Close)
	b, err := objects.Open(t.Context(), settings(server.URL))
	if err != nil {
		t.Fatal(err)
	}
	if err := backend.DeleteBucket(t.Context(), "hangar"); err != nil {
		t.Fatal(err)
	}
	ctx := t.Context()
	_, get := b.Get(ctx, techlog.ID{1}, [32]byte{1})
	_, list := b.PutBefore(ctx, techlog.ID{1}, time.Now(), [32]byte{})
	for what, err := range map[string]error{
		"get": get, "list": list, "put": b.Put(ctx, techlog.ID{1}, [32]byte{1}, []byte("x"), time.Now()),
	} {
		if techlog.KindOf(err) != techlog.KindUnavailable {
			t.Errorf("%s: %v", what, err)
		}
	}
}
