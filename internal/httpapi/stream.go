package httpapi

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/notice/cloudevent"
	"tiedown/internal/notice/live"
	"tiedown/internal/techlog"
)

// Watch wakes who follows an organization's events when there may be new ones. *live.Watch is one.
type Watch interface {
	Follow(org techlog.ID) (woken <-chan struct{}, stop func())
	// Ended is closed when nobody is woken any more: streams end then.
	Ended() <-chan struct{}
}

var _ Watch = (*live.Watch)(nil)

// Pace is how a stream of events goes.
type Pace struct {
	Alive time.Duration // a stream that has nothing to tell says so as often as this
	Check time.Duration // as often as this it is looked whether whoever listens still may
	Slow  time.Duration // whoever has not taken what was sent after this long is cut off
	Retry time.Duration // when a client that was cut off is to come back
}

// usualPace is that of a server.
var usualPace = Pace{Alive: 15 * time.Second, Check: 2 * time.Second, Slow: 10 * time.Second, Retry: 2 * time.Second}

// streamPage is how many events are read and sent at once.
const streamPage = 100

// stream sends events to one client as they happen. It keeps nothing but the place that it has come to: the client that was
// cut off says that place again, to any server.
type stream struct {
	handlers *handlers
	call     *call
	filter   hangar.EventFilter
	place    int64

	out   *http.ResponseController
	chunk bytes.Buffer
}

// VisitListEventsResponse implements server.ListEventsResponseObject. It returns when the stream has ended, however it did:
// the client comes back for whatever it has not had.
func (s *stream) VisitListEventsResponse(w http.ResponseWriter) error {
	h := w.Header()
	h.Set("Content-Type", streamMedia)
	h.Set("Vary", "Accept")
	h.Set("X-Accel-Buffering", "no") // a proxy that holds answers back passes this one on
	w.WriteHeader(http.StatusOK)
	if s.call.request.Method == http.MethodHead {
		return nil
	}
	s.out = http.NewResponseController(w)
	// The server's limits of time are for requests that end. Where the connection has none there is nothing to lift.
	_ = s.out.SetReadDeadline(time.Time{})
	_ = s.out.SetWriteDeadline(time.Time{})
	// The first id is that of the place where the stream begins, so that who is cut off before the first event comes back there.
	fmt.Fprintf(&s.chunk, "retry: %d\nid: %d\n\n", s.handlers.pace.Retry.Milliseconds(), s.place)
	if s.send(w) == nil {
		s.run(s.call.request.Context(), w)
	}
	return nil
}

// run sends what there is, waits for more, and sends that.
func (s *stream) run(ctx context.Context, w http.ResponseWriter) {
	watch, pace := s.handlers.watch, s.handlers.pace
	woken, stop := watch.Follow(s.call.who.Organization)
	defer stop()
	alive, check := time.NewTicker(pace.Alive), time.NewTicker(pace.Check)
	defer alive.Stop()
	defer check.Stop()
	look := make(chan struct{}, 1) // full while there is more to read at once
	look <- struct{}{}
	for {
		var err error
		select {
		case <-ctx.Done():
			return
		case <-watch.Ended():
			return
		case <-check.C:
			if !s.handlers.admission.stillAdmits(ctx, s.call) {
				return
			}
			continue
		case <-alive.C:
			fmt.Fprintf(&s.chunk, ": nothing new\nid: %d\n\n", s.place)
			err = s.send(w)
		case <-woken:
			err = s.tell(ctx, w, look)
		case <-look:
			err = s.tell(ctx, w, look)
		}
		if err != nil {
			return
		}
	}
}

// tell sends the next events, and has it looked again at once if there are more.
func (s *stream) tell(ctx context.Context, w http.ResponseWriter, look chan<- struct{}) error {
	limited, cancel := context.WithTimeout(ctx, defaultLimit)
	defer cancel()
	page, err := s.handlers.service.Events(limited, s.call.who, s.place, s.filter, streamPage)
	if err != nil {
		return err
	}
	for _, e := range page.Events {
		written, err := cloudevent.Envelope(s.call.who.Organization, e)
		if err != nil {
			return err
		}
		fmt.Fprintf(&s.chunk, "id: %d\nevent: %s\ndata: %s\n\n", e.Place, e.Kind, written)
	}
	s.place = page.Next
	if page.More {
		select {
		case look <- struct{}{}:
		default: // it is full already
		}
	}
	if s.chunk.Len() == 0 {
		return nil
	}
	return s.send(w)
}

// send sends what has been written. A client that does not take it in time is cut off: the deadline is set to one that is over.
func (s *stream) send(w http.ResponseWriter) error {
	late := time.AfterFunc(s.handlers.pace.Slow, func() { _ = s.out.SetWriteDeadline(time.Unix(1, 0)) })
	defer late.Stop()
	_, err := w.Write(s.chunk.Bytes())
	s.chunk.Reset()
	if err != nil {
		return err
	}
	return s.out.Flush()
}
