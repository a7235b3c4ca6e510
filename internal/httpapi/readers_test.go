package httpapi_test

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/follower"
)

// telling is a change that tells something, as a writer is to make it.
type telling struct {
	events int
	record bool // it enters a record besides
	fails  bool
	before time.Duration
}

// TestEveryReaderHasEveryEventOnce holds, over random ways in which writers and readers come upon each other, that each reader
// has every event once, in one order: by pages of any length, and by streams that break off anywhere and go on at another server.
func TestEveryReaderHasEveryEventOnce(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	replicas := []*replica{r.replica(t, slowPace), r.replica(t, slowPace)}
	who := techlog.Principal{Organization: r.club}
	rapid.Check(t, func(t *rapid.T) {
		pause := rapid.Custom(func(t *rapid.T) time.Duration {
			return time.Duration(rapid.IntRange(0, 3000).Draw(t, "microseconds")) * time.Microsecond
		})
		tellings := rapid.Custom(func(t *rapid.T) telling {
			return telling{rapid.IntRange(1, 3).Draw(t, "events"), rapid.Bool().Draw(t, "record"), rapid.IntRange(0, 9).Draw(t, "fails") == 0, pause.Draw(t, "before")}
		})
		writers := rapid.SliceOfN(rapid.SliceOfN(tellings, 1, 6), 1, 4).Draw(t, "writers")
		limits := rapid.SliceOfN(rapid.IntRange(1, 9), 1, 3).Draw(t, "limits")
		breaks := rapid.SliceOfN(rapid.SliceOfN(rapid.IntRange(1, 5), 0, 4), 1, 2).Draw(t, "breaks") // after so many events a stream breaks off
		begin, err := r.service.LastEvent(context.Background(), who)
		if err != nil {
			t.Fatal(err)
		}
		total := int64(0)
		for _, writer := range writers {
			for _, w := range writer {
				if !w.fails {
					total += int64(w.events)
				}
			}
		}
		ctx, cancel := context.WithTimeout(context.Background(), patience)
		defer cancel()
		problems := make(chan error, 100)
		var all sync.WaitGroup
		for _, writer := range writers {
			all.Go(func() {
				for _, w := range writer {
					time.Sleep(w.before)
					if err := r.tell(ctx, w); err != nil {
						problems <- err
					}
				}
			})
		}
		for _, limit := range limits {
			all.Go(func() {
				if err := readPages(ctx, r.service, who, begin, begin+total, limit); err != nil {
					problems <- err
				}
			})
		}
		for i, after := range breaks {
			all.Go(func() {
				if err := readStreams(ctx, replicas[i%2:], replicas[0], r.tokens[techlog.Pilot], begin, begin+total, after); err != nil {
					problems <- err
				}
			})
		}
		all.Wait()
		close(problems)
		for err := range problems {
			t.Error(err)
		}
	})
}

var errSecondThoughts = errors.New("second thoughts")

// tell makes a change that tells something.
func (r *rig) tell(ctx context.Context, w telling) error {
	_, err := r.store.Change(ctx, hangar.Scope{Organization: r.club, By: "a writer", At: noon}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		if w.record {
			id := newID()
			tx.AddBase(techlog.Base{ID: id, Code: id.String(), Name: "Grass Strip", Zone: "UTC", Version: 1})
		}
		for range w.events {
			tx.Emit(techlog.Event{ID: newID(), Kind: "base.added", Subject: newID(), At: noon})
		}
		if w.fails {
			return nil, errSecondThoughts
		}
		return nil, nil
	})
	if w.fails && errors.Is(err, errSecondThoughts) {
		return nil
	}
	return err
}

// readPages asks for page after page until a place is reached: each event stands at the next place.
func readPages(ctx context.Context, s *hangar.Service, who techlog.Principal, since, until int64, limit int) error {
	for since < until {
		page, err := s.Events(ctx, who, since, hangar.EventFilter{}, limit)
		if err != nil {
			return err
		}
		for _, e := range page.Events {
			if since++; e.Place != since {
				return fmt.Errorf("in pages of %d, place %d stands where %d was to come", limit, e.Place, since)
			}
		}
		if page.Next != since || len(page.Events) > limit {
			return fmt.Errorf("a page of %d events up to %d goes on from %d", len(page.Events), since, page.Next)
		}
	}
	return nil
}

// readStreams follows a stream, breaks it off after so many events, and goes on at the next server, until a place is reached.
func readStreams(ctx context.Context, at []*replica, last *replica, token string, since, until int64, breaks []int) error {
	f := &follower.Follower{Token: token, LastID: strconv.FormatInt(since, 10)}
	at = append(at, last)
	for n := 0; since < until; n++ {
		if err := f.Open(ctx, at[n%len(at)].URL+"/v1/events"); err != nil {
			return err
		}
		for read := 0; since < until && (n >= len(breaks) || read < breaks[n]); read++ {
			e, ok := f.Next()
			if !ok {
				return errors.New("a stream has ended")
			}
			if since++; e.ID != strconv.FormatInt(since, 10) {
				return fmt.Errorf("in a stream, place %s stands where %d was to come", e.ID, since)
			}
		}
		f.Close()
	}
	return nil
}
