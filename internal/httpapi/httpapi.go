// Package httpapi answers over HTTP what the contract promises.
//
// It owns the way of a request through the house: who asks, that the request keeps to the contract, which use case
// answers it, and how the answer or the problem is written. It does not own the contract, a use case, a rule of
// airworthiness or the store, and it reads no clock but the one it is given.
package httpapi

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"tiedown/api/server"
	"tiedown/internal/contract"
	"tiedown/internal/hangar"
	"tiedown/internal/messenger"
	"tiedown/internal/people"
)

// Settings are what the handler is made of.
type Settings struct {
	Service *hangar.Service
	Store   Authenticator
	People  *people.People
	// Messenger tells people by mail, and keeps what they want to hear of.
	Messenger *messenger.Messenger
	Ready     func(context.Context) error // whether requests can be answered; an error says why not
	Log       *slog.Logger
	Now       func() time.Time // the clock
	Limit     time.Duration    // time for one request; zero: 10 s
	// PublicURL is where people reach the server, such as https://club.example, without a slash at its end. Codes on
	// placards lead there, cookies are for there, and forms are taken from its pages alone.
	PublicURL string
	Watch     Watch // wakes streams of events; nil: there are none, and who asks for one is answered 503
	Pace      Pace  // of streams of events; zero: the usual one
	Door      *Door // shared with pages beside the interface; nil: the interface has one of its own
}

const defaultLimit = 10 * time.Second

// New makes the handler. It panics if the contract or the book of the service cannot be read: both are part of the
// program, and tests hold that they can.
func New(s Settings) http.Handler {
	c, err := contract.Current()
	if err != nil {
		panic(err)
	}
	if s.Door == nil {
		s.Door = NewDoor(s)
	}
	a := s.Door.admission
	h, err := newHandlers(s, a, c)
	if err != nil {
		panic(err)
	}
	d := newDesk(s, a)
	e := echo.New()
	e.Binder = binder{}
	e.HTTPErrorHandler = func(err error, c echo.Context) { d.refuse(c, err) }
	e.Use(d.receive)
	server.RegisterHandlers(routes{e, d, c}, server.NewStrictHandler(h, nil))
	return e
}

// routes enters each operation with its own gate, which is made once.
type routes struct {
	*echo.Echo
	desk     *desk
	contract *contract.Contract
}

func (r routes) gated(method, path string, next echo.HandlerFunc) echo.HandlerFunc {
	o, ok := r.contract.Operation(method, contractPath(path))
	if !ok {
		panic(fmt.Sprintf("httpapi: %s %s is not in the contract", method, path))
	}
	return r.desk.gate(o, next)
}

// contractPath turns echo's /v1/bases/:base into the contract's /v1/bases/{base}.
func contractPath(path string) string {
	parts := strings.Split(path, "/")
	for i, p := range parts {
		if name, ok := strings.CutPrefix(p, ":"); ok {
			parts[i] = "{" + name + "}"
		}
	}
	return strings.Join(parts, "/")
}

// GET enters an operation, and HEAD beside it: the server leaves out the body.
func (r routes) GET(path string, next echo.HandlerFunc, m ...echo.MiddlewareFunc) *echo.Route {
	next = r.gated(http.MethodGet, path, next)
	r.HEAD(path, next, m...)
	return r.Echo.GET(path, next, m...)
}

// POST enters an operation.
func (r routes) POST(path string, next echo.HandlerFunc, m ...echo.MiddlewareFunc) *echo.Route {
	return r.Echo.POST(path, r.gated(http.MethodPost, path, next), m...)
}

// PUT enters an operation.
func (r routes) PUT(path string, next echo.HandlerFunc, m ...echo.MiddlewareFunc) *echo.Route {
	return r.Echo.PUT(path, r.gated(http.MethodPut, path, next), m...)
}

// DELETE enters an operation.
func (r routes) DELETE(path string, next echo.HandlerFunc, m ...echo.MiddlewareFunc) *echo.Route {
	return r.Echo.DELETE(path, r.gated(http.MethodDelete, path, next), m...)
}

// PATCH enters an operation.
func (r routes) PATCH(path string, next echo.HandlerFunc, m ...echo.MiddlewareFunc) *echo.Route {
	return r.Echo.PATCH(path, r.gated(http.MethodPatch, path, next), m...)
}

// handlers answer the operations of the contract. They know no echo: they take a context and what was asked.
type handlers struct {
	service   *hangar.Service
	people    *people.People
	messenger *messenger.Messenger
	admission *admission
	ready     func(context.Context) error
	contract  *contract.Contract
	citations map[string]string
	publicURL string
	now       func() time.Time
	watch     Watch
	pace      Pace
	items     []catalogItem
	rules     []server.Rule
}

var _ server.StrictServerInterface = (*handlers)(nil)

func newHandlers(s Settings, a *admission, c *contract.Contract) (*handlers, error) {
	book := s.Service.Book()
	pace := s.Pace
	if pace == (Pace{}) {
		pace = usualPace
	}
	citations, err := book.Citations()
	if err != nil {
		return nil, err
	}
	return &handlers{
		service: s.Service, people: s.People, messenger: s.Messenger, admission: a, ready: s.Ready, contract: c, citations: citations, publicURL: s.PublicURL, now: s.Now, watch: s.Watch, pace: pace,
		items: catalog(book.Rules), rules: ruleRows(book),
	}, nil
}
