//go:build !linux

package localpg

import (
	"context"
	"errors"
)

// Cluster is a running private PostgreSQL; there is never one on this system.
type Cluster struct{}

// Start always fails: a private PostgreSQL leans on Linux to take the server down with
// the process that started it.
func Start(context.Context, Options) (*Cluster, error) {
	return nil, errors.New("a private PostgreSQL runs on Linux only: name a database of your own instead")
}

// Running always fails.
func Running(string, string) (string, error) {
	return "", errors.New("a private PostgreSQL runs on Linux only")
}

// URL returns nothing on this system.
func (c *Cluster) URL(string) string { return "" }

// AdminURL returns nothing on this system.
func (c *Cluster) AdminURL(string) string { return "" }

// Done returns a channel that is never closed.
func (c *Cluster) Done() <-chan struct{} { return nil }

// Stop does nothing on this system.
func (c *Cluster) Stop(context.Context) error { return nil }
