package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"time"

	"tiedown/internal/files/folder"
	"tiedown/internal/files/objects"
)

// sweepEvery is how often content that no photo has, and what has ended long ago, is taken away, beside once when the server starts.
const sweepEvery = 24 * time.Hour

// openFiles opens the place where photos are kept: the database, unless the settings name another.
func (h *house) openFiles(ctx context.Context) (err error) {
	switch {
	case h.config.FilesInBucket():
		secret, unread := os.ReadFile(h.config.FilesSecretFile)
		if unread != nil {
			return fmt.Errorf("TIEDOWN_FILES_SECRET_FILE: %w", unread)
		}
		h.files, err = objects.Open(ctx, objects.Settings{
			URL: h.config.Files, Region: h.config.FilesRegion, KeyID: h.config.FilesKeyID, Secret: strings.TrimSpace(string(secret)),
		})
	case h.config.Files != "":
		h.files, err = folder.Open(h.config.Files)
	default:
		h.files = h.store
	}
	if err != nil {
		return fmt.Errorf("TIEDOWN_FILES: %w", err)
	}
	return nil
}

// sweep takes away content that no photo has, and what has ended long ago, in the background, until the function that it gives is called. That it cannot
// be done is no reason to stop serving: it is logged, and tried again.
func (h *house) sweep(ctx context.Context) func() {
	ctx, stop := context.WithCancel(context.WithoutCancel(ctx))
	var done sync.WaitGroup
	done.Go(func() {
		ticks := time.NewTicker(sweepEvery)
		defer ticks.Stop()
		for {
			n, err := h.service.SweepFiles(ctx, h.store)
			switch {
			case err != nil && !errors.Is(err, context.Canceled) && ctx.Err() == nil:
				h.log.Error("take away content that no photo has", "error", err)
			case n > 0:
				h.log.Info("content that no photo had was taken away", "pieces", n)
			}
			n, err = h.service.Forget(ctx, h.store)
			switch {
			case err != nil && !errors.Is(err, context.Canceled) && ctx.Err() == nil:
				h.log.Error("take away what has ended long ago", "error", err)
			case n > 0:
				h.log.Info("what has ended long ago was taken away", "rows", n)
			}
			select {
			case <-ticks.C:
			case <-ctx.Done():
				return
			}
		}
	})
	return func() {
		stop()
		done.Wait()
	}
}
