package httpapi

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/labstack/echo/v4"
)

// desk is where requests are received and refused.
type desk struct {
	log       *slog.Logger
	now       func() time.Time
	limit     time.Duration
	admission *admission

	run   string        // tells this run of the program from others, in request identifiers
	count atomic.Uint64 // of requests
}

func newDesk(s Settings, a *admission) *desk {
	d := &desk{log: s.Log, now: s.Now, limit: s.Limit, admission: a}
	if d.limit == 0 {
		d.limit = defaultLimit
	}
	var run [6]byte
	_, _ = rand.Read(run[:]) // never fails
	d.run = hex.EncodeToString(run[:]) + "-"
	return d
}

const headerRequestID = "X-Request-Id"

// Headers that every answer has: nothing is kept by caches unless an answer says otherwise, and no browser may make of
// an answer anything but what it is.
var (
	noStore    = []string{"no-store"}
	noSniff    = []string{"nosniff"}
	noContent  = []string{"default-src 'none'; frame-ancestors 'none'"}
	noReferrer = []string{"no-referrer"}
)

// receive names the request, puts the common headers on its answer, catches panics, answers errors and logs.
func (d *desk) receive(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		h := c.Response().Header()
		h[headerRequestID] = []string{d.requestID(c.Request())}
		h["Cache-Control"] = noStore
		h["X-Content-Type-Options"] = noSniff
		h["Content-Security-Policy"] = noContent
		h["Referrer-Policy"] = noReferrer
		logged := d.log.Enabled(c.Request().Context(), slog.LevelInfo)
		var began time.Time
		if logged {
			began = d.now()
		}
		if err := guard(next, c); err != nil {
			d.refuse(c, err)
		}
		if logged {
			d.note(c, began)
		}
		return nil
	}
}

// requestID is the identifier that the sender gave, if it is a sound one, or a new one.
func (d *desk) requestID(r *http.Request) string {
	if given := r.Header[headerRequestID]; len(given) == 1 && isSoundID(given[0]) {
		return given[0]
	}
	return d.run + strconv.FormatUint(d.count.Add(1), 10)
}

func isSoundID(id string) bool {
	if id == "" || len(id) > 64 {
		return false
	}
	for _, c := range []byte(id) {
		if !isSound(c) {
			return false
		}
	}
	return true
}

func isSound(c byte) bool {
	return '0' <= c && c <= '9' || 'a' <= c && c <= 'z' || 'A' <= c && c <= 'Z' || c == '-' || c == '_' || c == '.'
}

// panicked is an error made of a panic.
type panicked struct {
	value any
	stack []byte
}

func (p *panicked) Error() string { return fmt.Sprintf("panic: %v", p.value) }

// guard turns a panic into an error.
func guard(next echo.HandlerFunc, c echo.Context) (err error) {
	defer func() {
		switch v := recover(); v {
		case nil:
		case http.ErrAbortHandler:
			panic(v)
		default:
			err = &panicked{v, debug.Stack()}
		}
	}()
	return next(c)
}

// refuse answers an error. If the answer has begun, the connection is cut instead, so that nobody takes half of it for
// the whole.
func (d *desk) refuse(c echo.Context, err error) {
	ctx := c.Request().Context()
	p := problemOf(err)
	id := c.Response().Header().Get(headerRequestID)
	switch {
	case errors.Is(ctx.Err(), context.Canceled):
		d.log.LogAttrs(ctx, slog.LevelDebug, "whoever asked has gone", slog.String("request", id), slog.Any("error", err))
	case p.status >= http.StatusInternalServerError:
		d.logFailure(ctx, id, err)
	}
	if c.Response().Committed {
		panic(http.ErrAbortHandler)
	}
	p.write(c.Response(), id)
}

func (d *desk) logFailure(ctx context.Context, id string, err error) {
	attrs := []slog.Attr{slog.String("request", id), slog.Any("error", err)}
	var p *panicked
	if errors.As(err, &p) {
		attrs = append(attrs, slog.String("stack", string(p.stack)))
	}
	if cause := errors.Unwrap(err); cause != nil {
		attrs = append(attrs, slog.Any("cause", cause))
	}
	d.log.LogAttrs(ctx, slog.LevelError, "the request failed", attrs...)
}

// note logs one request. It names the route and not the path, so that the log holds no more than it must.
func (d *desk) note(c echo.Context, began time.Time) {
	r := c.Response()
	d.log.LogAttrs(c.Request().Context(), slog.LevelInfo, "request",
		slog.String("request", r.Header().Get(headerRequestID)),
		slog.String("method", c.Request().Method),
		slog.String("route", c.Path()),
		slog.Int("status", r.Status),
		slog.Int64("bytes", r.Size),
		slog.Duration("took", d.now().Sub(began)),
	)
}
