package httpapi_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/httpapi"
	"tiedown/internal/notice/live"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/follower"
)

// patience bounds how long a test waits for what must come; it is no measurement.
const patience = time.Minute

// slowPace is that of a server whose streams seldom say that they are there.
var slowPace = httpapi.Pace{Alive: time.Hour, Check: time.Hour, Slow: time.Hour, Retry: time.Second}

// replica is one more server on the rig's database, which is reached over a network, with its own watch and its own memory
// of who may ask. Its limits of time are far shorter than a stream lasts.
type replica struct {
	*httptest.Server
	end    func()        // as when the program is told to stop
	closed chan struct{} // something is put in for each connection that is closed
}

// narrow is a listener whose connections hold little that has not been taken yet.
type narrow struct{ net.Listener }

func (n narrow) Accept() (net.Conn, error) {
	conn, err := n.Listener.Accept()
	if tcp, ok := conn.(*net.TCPConn); ok && err == nil {
		err = tcp.SetWriteBuffer(4 << 10)
	}
	return conn, err
}

func (r *rig) replica(t *testing.T, pace httpapi.Pace) *replica {
	t.Helper()
	watch := live.NewWatch(r.store, time.Second)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { defer close(done); watch.Run(ctx) }()
	s := httptest.NewUnstartedServer(httpapi.New(httpapi.Settings{
		Service: r.service, Store: r.store, People: r.people, Log: slog.New(slog.DiscardHandler), Now: r.clock.now, PublicURL: publicURL,
		Watch: watch, Pace: pace, Limit: 5 * time.Second, Ready: func(context.Context) error { return nil },
	}))
	s.Config.ReadTimeout, s.Config.WriteTimeout = 500*time.Millisecond, 500*time.Millisecond
	s.Listener = narrow{s.Listener}
	closed := make(chan struct{}, 1000)
	s.Config.ConnState = func(_ net.Conn, state http.ConnState) {
		if state == http.StateClosed {
			select {
			case closed <- struct{}{}:
			default: // nobody waits for so many
			}
		}
	}
	s.Start()
	end := func() { cancel(); <-done }
	t.Cleanup(func() {
		end()
		s.CloseClientConnections()
		s.Close()
	})
	return &replica{s, end, closed}
}

// follow opens a stream of events.
func (r *replica) follow(t *testing.T, f *follower.Follower, query string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	t.Cleanup(cancel)
	if err := f.Open(ctx, r.URL+"/v1/events"+query); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(f.Close)
}

// next is the next event of a stream, which must come.
func next(t *testing.T, f *follower.Follower) client.CloudEvent {
	t.Helper()
	e, ok := f.Next()
	if !ok {
		t.Fatal("the stream has ended")
	}
	var event client.CloudEvent
	if err := json.Unmarshal([]byte(e.Data), &event); err != nil {
		t.Fatalf("%v: %s", err, e.Data)
	}
	if e.ID != strconv.FormatInt(event.Data.Place, 10) || e.Kind != event.Data.Kind || event.Type != "tiedown."+e.Kind || event.Sequence != fmt.Sprintf("%020d", event.Data.Place) {
		t.Errorf("%+v is sent as %+v", event, e)
	}
	return event
}

// ends holds that a stream ends, with nothing more to tell.
func ends(t *testing.T, f *follower.Follower) {
	t.Helper()
	if e, ok := f.Next(); ok {
		t.Errorf("a stream that was to end tells of %+v", e)
	}
}

// TestAStreamTellsOfWhatHappens follows a stream for longer than any request may take: each change comes as it is made, on
// whichever server, as the list has it.
func TestAStreamTellsOfWhatHappens(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	one := x.rig.replica(t, httpapi.Pace{Alive: 50 * time.Millisecond, Check: 100 * time.Millisecond, Slow: time.Hour, Retry: time.Second})
	f := &follower.Follower{Token: x.rig.tokens[techlog.Mechanic]}
	one.follow(t, f, "")
	flight := x.flight(t) // by the rig's own handler, which has no watch: it is another server
	planned := next(t, f)
	if planned.Data.Kind != "flight.planned" || planned.Subject != flight.Id || planned.Data.Changes[0].Was != "" || planned.Data.Changes[0].Is != flight.Hold.Verdict || planned.Data.By != "test administrator" {
		t.Errorf("%+v", planned)
	}
	time.Sleep(1200 * time.Millisecond) // longer than the server lets requests and answers take
	squawk := x.squawk(t)
	filed := next(t, f)
	if filed.Data.Kind != "squawk.filed" || filed.Subject != squawk.Squawk.Id || *filed.Data.Aircraft != x.fleet.aircraft.Id || len(filed.Data.Changes) != 1 {
		t.Errorf("%+v", filed)
	}
	if filed.Data.Place != planned.Data.Place+1 || filed.Source != "urn:uuid:"+x.rig.club.String() {
		t.Errorf("%+v after %+v", filed, planned)
	}
	got := decoded[client.EventPage](t, x.rig.ask(t, asked{method: "GET", path: fmt.Sprintf("/v1/events?since=%d", planned.Data.Place-1)}), 200)
	if len(got.Events) != 2 || marshal(t, got.Events[0]) != marshal(t, planned) || marshal(t, got.Events[1]) != marshal(t, filed) || got.More || got.Next != filed.Data.Place || got.Last != got.Next {
		t.Errorf("the list: %+v", got)
	}
}

// TestAStreamGoesOnElsewhere holds that a stream which broke off is continued by another server: with what happened meanwhile,
// and nothing twice. Before its first event it knows where it began.
func TestAStreamGoesOnElsewhere(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	one, two := x.rig.replica(t, slowPace), x.rig.replica(t, slowPace)
	f := &follower.Follower{Token: x.rig.tokens[techlog.Pilot]}
	one.follow(t, f, "?kinds=flight,squawk.moved")
	x.squawk(t) // is not picked
	first := x.flight(t)
	if e := next(t, f); e.Subject != first.Id {
		t.Errorf("%+v", e)
	}
	one.CloseClientConnections()
	ends(t, f)
	second, third := x.flight(t), x.flight(t)
	two.follow(t, f, "?kinds=flight,squawk.moved")
	for _, flight := range []client.Flight{second, third} {
		if e := next(t, f); e.Subject != flight.Id {
			t.Errorf("%+v, want %s", e, flight.Id)
		}
	}
	early := &follower.Follower{Token: x.rig.tokens[techlog.Pilot]}
	lively := x.rig.replica(t, httpapi.Pace{Alive: time.Millisecond, Check: time.Hour, Slow: time.Hour, Retry: time.Second})
	lively.follow(t, early, "?kinds=token")
	go func() { time.Sleep(100 * time.Millisecond); lively.CloseClientConnections() }()
	ends(t, early)
	if last := decoded[client.EventPage](t, x.rig.ask(t, asked{method: "GET", path: "/v1/events?limit=1"}), 200).Last; early.LastID != strconv.FormatInt(last, 10) {
		t.Errorf("who has received nothing goes on from %q, the last event is %d", early.LastID, last)
	}
	fourth := x.flight(t)
	two.follow(t, early, "")
	if e := next(t, early); e.Subject != fourth.Id {
		t.Errorf("%+v, want %s", e, fourth.Id)
	}
}

// TestWhoMayNoLongerAskIsToldNothingMore holds that a stream ends once its token was taken back, on another server at that,
// once its session is over, once it acts elsewhere, and once the server is told to stop.
func TestWhoMayNoLongerAskIsToldNothingMore(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	quick := x.rig.replica(t, httpapi.Pace{Alive: time.Hour, Check: 20 * time.Millisecond, Slow: time.Hour, Retry: time.Second})
	b := x.rig.somebody(t, techlog.Pilot)
	made := created[client.MadeToken](t, x.rig, asked{method: "POST", path: "/v1/tokens", browser: b, body: marshal(t, client.TokenEntry{
		Name: "the board", Roles: client.Roles{client.RolePilot}, Until: noon.Add(24 * time.Hour),
	})})
	program, session := &follower.Follower{Token: made.Secret}, &follower.Follower{Cookie: "__Host-tiedown=" + b.cookie}
	quick.follow(t, program, "")
	quick.follow(t, session, "")
	flight := x.flight(t)
	for _, f := range []*follower.Follower{program, session} {
		if e := next(t, f); e.Subject != flight.Id {
			t.Errorf("%+v", e)
		}
	}
	// What a server remembers of a token it remembers for two seconds by its clock.
	if got := x.rig.ask(t, asked{method: "POST", path: "/v1/tokens/" + made.Token.Id.String() + "/revocation", browser: b}); got.status != 200 {
		t.Fatalf("%d %s", got.status, got.body)
	}
	x.rig.clock.advance(3 * time.Second)
	if e := next(t, session); e.Data.Kind != "token.revoked" || e.Subject != made.Token.Id {
		t.Errorf("%+v", e)
	}
	for e, ok := program.Next(); ok; e, ok = program.Next() { // the token's own end may still come
		if e.Kind != "token.revoked" {
			t.Errorf("%+v", e)
		}
	}
	if got := x.rig.ask(t, asked{method: "DELETE", path: "/v1/session", browser: b}); got.status >= 300 {
		t.Fatalf("%d %s", got.status, got.body)
	}
	ends(t, session)
	idle := &follower.Follower{Cookie: "__Host-tiedown=" + x.rig.somebody(t, techlog.Pilot).cookie}
	quick.follow(t, idle, "")
	x.rig.clock.advance(15 * 24 * time.Hour) // longer than a session lasts that nobody uses: listening is no use of it
	ends(t, idle)
	last := &follower.Follower{Token: x.rig.tokens[techlog.Pilot]}
	quick.follow(t, last, "")
	quick.end()
	ends(t, last)
}

// TestWhoIsTooSlowIsCutOff holds that a client which takes nothing is let go, and comes back to whatever it has not had.
func TestWhoIsTooSlowIsCutOff(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	for range 30 {
		x.squawk(t)
	}
	s := x.rig.replica(t, httpapi.Pace{Alive: time.Millisecond, Check: time.Hour, Slow: 50 * time.Millisecond, Retry: time.Second})
	conn, err := net.Dial("tcp", s.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if err := conn.(*net.TCPConn).SetReadBuffer(1 << 10); err != nil {
		t.Fatal(err)
	}
	fmt.Fprintf(conn, "GET /v1/events?since=0 HTTP/1.1\r\nHost: hangar.example\r\nAccept: text/event-stream\r\nAuthorization: Bearer %s\r\n\r\n", x.rig.tokens[techlog.Pilot])
	select { // the buffers between fill up with what says that there is nothing new
	case <-s.closed:
	case <-time.After(patience):
		t.Error("who takes nothing is not cut off")
	}
}

// TestStreamsAreRefused holds who is not let into a stream, and that a neighbor is told nothing of the club.
func TestStreamsAreRefused(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	s := x.rig.replica(t, slowPace)
	stream := map[string]string{"Accept": "text/event-stream"}
	for what, q := range map[string]struct {
		path, id, want string
	}{
		"an id that is none":         {"/v1/events", "last", "form header.Last-Event-ID"},
		"an id before the first":     {"/v1/events", "-1", "form header.Last-Event-ID"},
		"an id of another database":  {"/v1/events", "999999", "known-place header.Last-Event-ID"},
		"a place that is none yet":   {"/v1/events?since=999999", "", "known-place query.since"},
		"a kind that is none":        {"/v1/events?kinds=squak", "", "known-kind query.kinds"},
		"a place that is no number":  {"/v1/events?since=now", "", "type query.since"},
		"a parameter that is unread": {"/v1/events?kind=squawk", "", "unknown-parameter query.kind"},
	} {
		for _, header := range []map[string]string{stream, {}} {
			h := map[string]string{}
			for name, value := range header {
				h[name] = value
			}
			if q.id != "" {
				if len(header) == 0 {
					continue // it is of streams alone
				}
				h["Last-Event-ID"] = q.id
			}
			request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, s.URL+q.path, nil)
			if err != nil {
				t.Fatal(err)
			}
			for name, value := range h {
				request.Header.Set(name, value)
			}
			request.Header.Set("Authorization", "Bearer "+x.rig.tokens[techlog.Pilot])
			response, err := http.DefaultClient.Do(request)
			if err != nil {
				t.Fatal(err)
			}
			body, err := io.ReadAll(response.Body)
			_ = response.Body.Close()
			if err != nil {
				t.Fatal(err)
			}
			got := answered{status: response.StatusCode, header: response.Header, body: body}
			if got.status != 422 || strings.Join(got.faults(t), "|") != q.want {
				t.Errorf("%s: %d %s, want %s", what, got.status, got.body, q.want)
			}
		}
	}
	nobody := &follower.Follower{}
	if err := nobody.Open(t.Context(), s.URL+"/v1/events"); err == nil || !strings.HasPrefix(err.Error(), "401") {
		t.Errorf("nobody is let in: %v", err)
	}
	if got := x.rig.ask(t, asked{method: "GET", path: "/v1/events", header: stream}); got.status != 503 {
		t.Errorf("a server that follows nothing: %d %s", got.status, got.body)
	}
	neighbor := &follower.Follower{Token: x.rig.other}
	s.follow(t, neighbor, "?since=0")
	mine := decoded[client.EventPage](t, x.rig.ask(t, asked{method: "GET", path: "/v1/events", token: x.rig.other}), 200)
	x.flight(t)
	added := created[client.Base](t, x.rig, asked{method: "POST", path: "/v1/bases", token: x.rig.other, body: marshal(t, x.base(t))})
	for range mine.Events {
		next(t, neighbor)
	}
	if e := next(t, neighbor); e.Subject != added.Id {
		t.Errorf("a neighbor is told of %+v", e)
	}
}

// TestHeadOfAStream holds that who asks for the head alone is not kept waiting.
func TestHeadOfAStream(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	s := x.rig.replica(t, slowPace)
	request, err := http.NewRequestWithContext(t.Context(), http.MethodHead, s.URL+"/v1/events", nil)
	if err != nil {
		t.Fatal(err)
	}
	request.Header.Set("Accept", "text/event-stream")
	request.Header.Set("Authorization", "Bearer "+x.rig.tokens[techlog.Pilot])
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	if response.StatusCode != 200 || response.Header.Get("Content-Type") != "text/event-stream" || response.Header.Get("Cache-Control") != "no-store" {
		t.Errorf("%d %v", response.StatusCode, response.Header)
	}
}
