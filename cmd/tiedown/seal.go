package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"tiedown/internal/audit"
)

// sealEvery is how often the logs that have grown get a signed checkpoint while the program serves.
const sealEvery = 5 * time.Minute

// seal signs checkpoints in the background, until the function that it gives is called, which signs the last ones. That
// one cannot be signed is no reason to stop serving: it is logged, and tried again.
func (h *house) seal(ctx context.Context) func() {
	ctx, stop := context.WithCancel(context.WithoutCancel(ctx))
	sign := func(ctx context.Context) {
		if _, err := h.service.SealLogs(ctx, h.store); err != nil && !errors.Is(err, context.Canceled) {
			h.log.Error("sign a checkpoint of the log", "error", err)
		}
	}
	var done sync.WaitGroup
	done.Go(func() {
		ticks := time.NewTicker(sealEvery)
		defer ticks.Stop()
		for {
			select {
			case <-ticks.C:
				sign(ctx)
			case <-ctx.Done():
				return
			}
		}
	})
	return func() {
		stop()
		done.Wait()
		last, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownLimit)
		defer cancel()
		sign(last)
	}
}

// logKey reads the key that signs checkpoints.
func (h *house) logKey() (audit.Key, error) {
	secret, err := h.logSecret()
	if err != nil {
		return audit.Key{}, err
	}
	key, err := audit.ReadKey(string(secret))
	if err != nil {
		return audit.Key{}, fmt.Errorf("the key of the log, %s: %w", h.logKeyFile(), err)
	}
	return key, nil
}

// logSecret reads the secret form of that key. The one in the state folder is made when it is missing; a file that a person
// has named must be there, as another key in its place would be taken for tampering.
func (h *house) logSecret() ([]byte, error) {
	name := h.logKeyFile()
	secret, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) && h.config.LogKey == "" {
		secret, err = makeLogKey(name)
	}
	if err != nil {
		return nil, fmt.Errorf("the key of the log: %w", err)
	}
	return bytes.TrimSpace(secret), nil
}

func (h *house) logKeyFile() string {
	if h.config.LogKey != "" {
		return h.config.LogKey
	}
	return filepath.Join(h.config.StateDir, "log.key")
}

// makeLogKey makes a key and puts it in place whole. Of two programs that make one, one is first, and both take that.
func makeLogKey(name string) ([]byte, error) {
	secret, err := audit.NewKey(rand.Reader)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return nil, err
	}
	made, err := os.CreateTemp(filepath.Dir(name), ".log.key-*") // for its owner alone
	if err != nil {
		return nil, err
	}
	defer os.Remove(made.Name()) //nolint:errcheck // it is a second name of the key, or nothing
	_, err = made.WriteString(secret)
	if err = errors.Join(err, made.Sync(), made.Close()); err != nil {
		return nil, err
	}
	if err := os.Link(made.Name(), name); err != nil && !errors.Is(err, fs.ErrExist) {
		return nil, err
	}
	return os.ReadFile(name)
}
