package main

import (
	"context"
	"sync"
	"time"

	"tiedown/internal/notice/live"
)

// lookEvery is how often it is looked for new events that nobody has told of.
const lookEvery = time.Second

// watch follows the events of every organization that somebody listens to, until the program is told to stop or the function
// that it gives is called: then streams of events end, so that the server can.
func (h *house) watch(ctx context.Context) (*live.Watch, func()) {
	ctx, stop := context.WithCancel(ctx)
	w := live.NewWatch(h.store, lookEvery)
	var done sync.WaitGroup
	done.Go(func() { w.Run(ctx) })
	return w, func() {
		stop()
		done.Wait()
	}
}
