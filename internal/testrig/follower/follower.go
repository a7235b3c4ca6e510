// Package follower reads server-sent events as a browser does, by the HTML standard's section on them: it keeps the last id,
// and says it again when it comes back.
//
// It owns the reading of a stream. It does not own what is in one, or which server is asked.
package follower

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"strings"
)

// Event is one event of a stream.
type Event struct {
	ID   string // the last id that was sent with or before it
	Kind string
	Data string
}

// Follower is a program that follows a stream.
type Follower struct {
	Token  string // a bearer's
	Cookie string // in place of a token
	LastID string // of what was received last; empty: nothing yet

	response *http.Response
	lines    *bufio.Scanner
}

// Open asks for a stream, after the last id where there is one.
func (f *Follower) Open(ctx context.Context, url string) error {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		return err
	}
	request.Header.Set("Accept", "text/event-stream")
	if f.Token != "" {
		request.Header.Set("Authorization", "Bearer "+f.Token)
	}
	if f.Cookie != "" {
		request.Header.Set("Cookie", f.Cookie)
	}
	if f.LastID != "" {
		request.Header.Set("Last-Event-ID", f.LastID)
	}
	if f.response, err = http.DefaultClient.Do(request); err != nil {
		return err
	}
	if got := f.response.Header.Get("Content-Type"); f.response.StatusCode != http.StatusOK || got != "text/event-stream" {
		_ = f.response.Body.Close()
		return fmt.Errorf("%d, %s", f.response.StatusCode, got)
	}
	f.lines = bufio.NewScanner(f.response.Body)
	f.lines.Buffer(nil, 1<<20)
	return nil
}

// Next waits for an event. It returns false when the stream has ended.
func (f *Follower) Next() (Event, bool) {
	var e Event
	var data []string
	id := f.LastID // counts once its event is whole
	for f.lines.Scan() {
		line := f.lines.Text()
		if line == "" {
			f.LastID = id
			if len(data) == 0 { // an id or a comment by itself is no event
				e = Event{}
				continue
			}
			e.ID, e.Data = f.LastID, strings.Join(data, "\n")
			return e, true
		}
		field, value, _ := strings.Cut(line, ":")
		value = strings.TrimPrefix(value, " ")
		switch field {
		case "id":
			id = value
		case "event":
			e.Kind = value
		case "data":
			data = append(data, value)
		}
	}
	return Event{}, false
}

// Close leaves the stream.
func (f *Follower) Close() {
	if f.response != nil {
		_ = f.response.Body.Close()
	}
}
