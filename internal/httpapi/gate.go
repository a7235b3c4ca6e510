package httpapi

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"

	json "github.com/go-json-experiment/json/v1"
	"github.com/labstack/echo/v4"

	"tiedown/internal/contract"
	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// maxBody bounds the body of a request, in bytes, but for operations of which the contract allows more.
const maxBody = 1 << 20

// patience is how many times as long as other requests one with a file may take.
const patience = 6

// call is one request that has passed the gate: its context, and what its handler needs beside the parameters.
type call struct {
	context.Context
	who    techlog.Principal
	once   *hangar.Once // nil when the request may act twice
	url    *url.URL
	accept []string // the header Accept
	body   []byte   // JSON, or a file

	request *http.Request
	from    people.From
	secret  string         // of the session
	session people.Session // zero when a program asks, or nobody in particular
}

type callKey struct{}

// Value gives the call itself, so that it is found below contexts that are made from it.
func (c *call) Value(key any) any {
	if key == (callKey{}) {
		return c
	}
	return c.Context.Value(key)
}

func callOf(ctx context.Context) *call { return ctx.Value(callKey{}).(*call) }

// gate lets a request through to its operation once it is known who asks and that it keeps to the contract.
func (d *desk) gate(o *contract.Operation, next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		r := c.Request()
		ctx, cancel := context.WithTimeout(r.Context(), d.limit)
		defer func() {
			cancel()
			c.SetRequest(r) // what happens to the answer is no longer under this request's time limit
		}()
		admitted := &call{Context: ctx, url: r.URL, accept: r.Header["Accept"], request: r}
		if err := d.admission.admit(admitted, o, r); err != nil {
			return err
		}
		if err := admitted.hold(o, c); err != nil {
			return err
		}
		if o.File != nil { // how long it took to send does not count, and it may have to wait its turn
			work, done := context.WithTimeout(r.Context(), patience*d.limit)
			defer done()
			admitted.Context = work
		}
		c.SetRequest(r.WithContext(admitted))
		return next(c)
	}
}

// hold holds the request against the contract.
func (c *call) hold(o *contract.Operation, from echo.Context) error {
	r := from.Request()
	if o.Conditional && len(r.Header["If-Match"]) == 0 {
		return techlog.Errorf(kindVersionRequired, "the header If-Match is missing")
	}
	faults := o.CheckParameters(r, from.Param)
	switch {
	case o.File != nil:
		if err := c.readFile(o.File, from); err != nil {
			return err
		}
	case o.Body != nil:
		var err error
		if c.body, err = readBody(max(maxBody, o.MaxBytes), from.Response(), r); err != nil {
			return err
		}
		inBody := o.Body.Check(c.body)
		if contract.Unreadable(inBody) {
			return inBody
		}
		faults = slices.Concat(faults, inBody)
	}
	if err := faults.Err(); err != nil {
		return err
	}
	if key := r.Header["Idempotency-Key"]; len(key) == 1 {
		c.once = &hangar.Once{Token: c.who.Token, Key: key[0], Digest: digestOf(r, c.body)}
	}
	return nil
}

// digestOf tells a request from another one with the same key.
func digestOf(r *http.Request, body []byte) [32]byte {
	d := sha256.New()
	for _, part := range [...]string{r.Method, r.URL.Path, r.URL.RawQuery, r.Header.Get("If-Match")} {
		var length [4]byte
		binary.BigEndian.PutUint32(length[:], uint32(len(part)))
		d.Write(length[:])
		_, _ = io.WriteString(d, part) // a digest never fails
	}
	d.Write(body)
	return [32]byte(d.Sum(nil))
}

// readBody reads a JSON body.
func readBody(limit int64, w http.ResponseWriter, r *http.Request) ([]byte, error) {
	if !isJSON(r.Header["Content-Type"]) {
		return nil, techlog.Errorf(kindMediaType, "the body is not said to be application/json")
	}
	return readUpTo(limit, w, r)
}

// readFile reads a body that is a file. What it really is, the use case looks at.
func (c *call) readFile(f *contract.File, from echo.Context) (err error) {
	r := from.Request()
	media, _, malformed := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if malformed != nil || !slices.Contains(f.Types, media) {
		return techlog.Errorf(kindMediaType, "the body is not said to be any of %s", strings.Join(f.Types, ", "))
	}
	c.body, err = readUpTo(f.MaxBytes, from.Response(), r)
	return err
}

// readUpTo reads a body. One that says it is too large is not read at all.
func readUpTo(limit int64, w http.ResponseWriter, r *http.Request) ([]byte, error) {
	if r.ContentLength > limit {
		return nil, tooLarge(limit)
	}
	var body bytes.Buffer
	if r.ContentLength > 0 {
		body.Grow(int(min(r.ContentLength, maxBody)) + bytes.MinRead) // no more than has been sent or is small
	}
	_, err := body.ReadFrom(http.MaxBytesReader(w, r.Body, limit))
	var over *http.MaxBytesError
	switch {
	case err == nil:
		return body.Bytes(), nil
	case errors.As(err, &over):
		return nil, tooLarge(limit)
	default:
		return nil, &techlog.Error{Kind: kindCutOff, Says: "the body ended before it was complete", Cause: err}
	}
}

func tooLarge(limit int64) error {
	return techlog.Errorf(kindTooLarge, "the body is larger than %d bytes", limit)
}

func isJSON(contentType []string) bool {
	if len(contentType) != 1 {
		return false
	}
	if contentType[0] == "application/json" {
		return true
	}
	media, parameters, err := mime.ParseMediaType(contentType[0])
	if err != nil || media != "application/json" {
		return false
	}
	charset, given := parameters["charset"]
	return !given || charset == "utf-8" || charset == "UTF-8"
}

// binder decodes the body that the gate has read. It has passed the contract, so it decodes: by a library that is to mean the
// same as the standard one, and takes half as long for a report of ninety results.
type binder struct{}

// Bind implements echo.Binder.
func (binder) Bind(into any, c echo.Context) error {
	if err := json.Unmarshal(callOf(c.Request().Context()).body, into); err != nil {
		return fmt.Errorf("a body that keeps to the contract does not decode: %w", err)
	}
	return nil
}
