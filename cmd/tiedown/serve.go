package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"time"

	"tiedown/internal/httpapi"
	"tiedown/internal/messenger"
	"tiedown/internal/pages"
)

// serve serves the records over HTTP until the program is told to stop.
func serve(ctx context.Context, p program) int {
	return p.serveWith(ctx, func(context.Context, *house) error { return nil })
}

// serveWith opens the house, prepares it, and serves. The address is bound first, so that a busy port is said at once.
func (p program) serveWith(ctx context.Context, prepare func(context.Context, *house) error) int {
	c, err := p.config()
	if err != nil {
		return p.fail(err)
	}
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", c.Addr)
	if err != nil {
		return p.fail(fmt.Errorf("listen: %w", err))
	}
	defer listener.Close() //nolint:errcheck // closed by the server as well
	if c.PublicURL == "" {
		c.PublicURL = "http://" + listener.Addr().String()
	}
	h, err := p.open(ctx, c)
	if err != nil {
		return p.fail(err)
	}
	err = prepare(ctx, h)
	if err == nil {
		fmt.Fprintf(p.out, "Tiedown listens on http://%s\n", listener.Addr())
		err = h.listen(ctx, listener)
	}
	if err := errors.Join(err, h.close()); err != nil {
		return p.fail(err)
	}
	return exitOK
}

// keepsCookies reports whether browsers keep the cookies of a session at an address: over https, or on this machine.
func keepsCookies(publicURL string) bool {
	u, err := url.Parse(publicURL)
	if err != nil {
		return false
	}
	ip := net.ParseIP(u.Hostname())
	return u.Scheme == "https" || u.Hostname() == "localhost" || ip != nil && (ip.IsLoopback() || ip.IsUnspecified())
}

// listen answers requests until the context ends, then lets those under way finish.
func (h *house) listen(ctx context.Context, listener net.Listener) error {
	publicURL := h.address()
	if !keepsCookies(publicURL) {
		h.log.Warn("nobody can sign in at an address of plain http: set TIEDOWN_PUBLIC_URL to one of https", "address", publicURL)
	}
	watch, unwatch := h.watch(ctx)
	defer unwatch()
	messages := h.newMessenger(publicURL)
	server := &http.Server{
		Handler:           h.handler(publicURL, messages, watch),
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       2 * time.Minute, // a photo over a slow line
		WriteTimeout:      2 * time.Minute,
		IdleTimeout:       2 * time.Minute,
	}
	stopDeliveries, err := h.deliver(ctx)
	if err != nil {
		return err
	}
	defer stopDeliveries()
	defer h.seal(ctx)()
	defer h.sweep(ctx)()
	defer h.tell(ctx, messages)()
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()
	select {
	case err := <-failed:
		return err
	case <-h.databaseEnded():
		return errors.New("the private database has ended; see database.log in the state folder")
	case <-ctx.Done():
	}
	stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownLimit)
	defer cancel()
	return server.Shutdown(stopping)
}

// handler answers for pages, and for the interface beside them.
func (h *house) handler(publicURL string, messages *messenger.Messenger, watch httpapi.Watch) http.Handler {
	api := httpapi.Settings{
		Service: h.service, Store: h.store, People: h.people, Messenger: messages, Ready: h.store.Ping, Log: h.log, Now: now, PublicURL: publicURL,
		Watch: watch,
	}
	api.Door = httpapi.NewDoor(api)
	return pages.New(pages.Settings{
		Service: h.service, People: h.people, Door: api.Door, API: httpapi.New(api), Log: h.log, Now: now, NewID: newID,
		Provider: h.config.OIDCIssuer != "", Messenger: messages, PublicURL: publicURL,
	})
}

// databaseEnded is closed when the private database has ended by itself. With a database of somebody else's it never is.
func (h *house) databaseEnded() <-chan struct{} {
	if h.cluster == nil {
		return nil
	}
	return h.cluster.Done()
}
