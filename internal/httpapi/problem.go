package httpapi

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/contract"
	"tiedown/internal/techlog"
)

// Kinds of problem that arise before a use case is asked. Those of the use cases are techlog's.
const (
	kindSyntax          techlog.Kind = "syntax"
	kindCutOff          techlog.Kind = "cut-off"
	kindNoSuchPath      techlog.Kind = "no-such-path"
	kindNoSuchMethod    techlog.Kind = "no-such-method"
	kindTooLarge        techlog.Kind = "too-large"
	kindMediaType       techlog.Kind = "media-type"
	kindVersionRequired techlog.Kind = "version-required"
	kindCrossSite       techlog.Kind = "cross-site"
	kindInternal        techlog.Kind = "internal"
)

// problemType is put before a kind to name the type of a problem document.
const problemType = "urn:tiedown:problem:"

// answerTo is how a kind of problem is answered.
type answerTo struct {
	status int
	title  string
	remedy string
}

// problems is the table of kinds: the only place that gives an error its status.
var problems = map[techlog.Kind]answerTo{
	kindSyntax: {
		http.StatusBadRequest, "The body cannot be read",
		"send one JSON document in UTF-8 that names each field once",
	},
	kindCutOff: {
		http.StatusBadRequest, "The body ended too early",
		"send the whole body again, with the same Idempotency-Key if it writes",
	},
	techlog.KindUnauthorized: {
		http.StatusUnauthorized, "Nobody is known to be asking",
		"sign in, or send the header `Authorization: Bearer td_…` with a token of your organization",
	},
	techlog.KindForbidden: {
		http.StatusForbidden, "You may not do this",
		"ask somebody whose role, certificate or standing allows it; where rows are named, supply the facts that they miss",
	},
	kindCrossSite: {
		http.StatusForbidden, "It may not be the person who asks",
		"send the request from a page of this server, with the session's form_token, from GET /v1/session, in the header X-Form-Token",
	},
	techlog.KindUnproven: {
		http.StatusForbidden, "It is not proved who signs",
		"give your own password, or your passkey's answer to a fresh challenge, with this very request",
	},
	techlog.KindRateLimited: {
		http.StatusTooManyRequests, "Too many attempts",
		"wait as long as the header Retry-After says, then try again",
	},
	techlog.KindNotFound: {
		http.StatusNotFound, "There is no such record",
		"take the id from the list of such records; what another organization keeps cannot be seen",
	},
	kindNoSuchPath: {
		http.StatusNotFound, "There is no such path",
		"take the path from the contract, GET /openapi.json",
	},
	kindNoSuchMethod: {
		http.StatusMethodNotAllowed, "This path does not know the method",
		"use one of the methods that the header Allow lists",
	},
	techlog.KindConflict: {
		http.StatusConflict, "It contradicts what is on record",
		"read what is on record, and decide what is right",
	},
	techlog.KindStale: {
		http.StatusPreconditionFailed, "The record has changed",
		"read the record again, make the change to what it now says, and send its ETag in If-Match",
	},
	kindTooLarge: {
		http.StatusRequestEntityTooLarge, "The body is too large",
		"send at most 1 MiB, of a photo or a file at most 10 MiB",
	},
	kindMediaType: {
		http.StatusUnsupportedMediaType, "The body is of another type",
		"send JSON, with the header `Content-Type: application/json`, or a photo or a file with that of its own type",
	},
	techlog.KindInvalid: {
		http.StatusUnprocessableEntity, "The request breaks a rule",
		"correct what the faults name",
	},
	techlog.KindReused: {
		http.StatusUnprocessableEntity, "The idempotency key stands for another request",
		"send each new request with a new key",
	},
	kindVersionRequired: {
		http.StatusPreconditionRequired, "It is not said which version was seen",
		"read the record and send its ETag in the header If-Match",
	},
	kindInternal: {
		http.StatusInternalServerError, "The server failed",
		"send the request again, with the same Idempotency-Key if it writes; if it fails again, tell whoever runs the server its identifier",
	},
	techlog.KindUnavailable: {
		http.StatusServiceUnavailable, "The server cannot answer now",
		"wait a second and send the request again, with the same Idempotency-Key if it writes",
	},
}

// problem is an error on its way out.
type problem struct {
	answerTo
	kind   techlog.Kind
	detail string
	faults casefile.Faults
	after  time.Duration // when to try again; zero: it is not said

	rows    []techlog.Reason
	missing []string
}

// problemOf says how an error is answered. An error without a kind is internal: nothing of its text gets out.
func problemOf(err error) problem {
	p := problem{kind: kindOf(err)}
	var known bool
	if p.answerTo, known = problems[p.kind]; !known {
		p.kind, p.answerTo = kindInternal, problems[kindInternal]
	}
	errors.As(err, &p.faults)
	var e *techlog.Error
	if errors.As(err, &e) && p.kind != kindInternal {
		p.rows, p.missing = e.Rows, e.Missing
	}
	switch {
	case p.kind == kindInternal:
		p.detail = "What it was is in the server's log, under the identifier of this request."
	case len(p.faults) == 1:
		p.detail = p.faults[0].Field + ": " + p.faults[0].Says
	case len(p.faults) > 1:
		p.detail = fmt.Sprintf("%d faults", len(p.faults))
	case errors.As(err, &e) && e.Says != "":
		p.detail, p.after = e.Says, e.After
	default:
		p.detail = p.title
	}
	return p
}

func kindOf(err error) techlog.Kind {
	var faults casefile.Faults
	var routing *echo.HTTPError
	switch {
	case errors.As(err, &faults) && contract.Unreadable(faults):
		return kindSyntax
	case techlog.KindOf(err) != "":
		return techlog.KindOf(err)
	case errors.As(err, &routing) && routing.Code == http.StatusNotFound:
		return kindNoSuchPath
	case errors.As(err, &routing) && routing.Code == http.StatusMethodNotAllowed:
		return kindNoSuchMethod
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return techlog.KindUnavailable
	default:
		return kindInternal
	}
}

// write writes the problem document.
func (p *problem) write(w http.ResponseWriter, request string) {
	doc := server.Problem{
		Type: problemType + string(p.kind), Title: p.title, Status: p.status, Detail: p.detail, Remedy: p.remedy, Request: &request,
	}
	if len(p.faults) > 0 {
		faults := []casefile.Fault(p.faults)
		doc.Faults = &faults
	}
	if len(p.rows) > 0 {
		doc.Rows = new(each(p.rows, showReason))
	}
	if len(p.missing) > 0 {
		doc.Missing = &p.missing
	}
	body, err := json.Marshal(doc)
	if err != nil {
		panic(err) // texts and numbers only
	}
	h := w.Header()
	h["Cache-Control"] = noStore
	h.Set("Content-Type", "application/problem+json")
	h.Set("Content-Length", strconv.Itoa(len(body)))
	switch p.status {
	case http.StatusUnauthorized:
		h.Set("WWW-Authenticate", `Bearer realm="tiedown"`)
	case http.StatusServiceUnavailable:
		h.Set("Retry-After", "1")
	case http.StatusTooManyRequests:
		h.Set("Retry-After", strconv.Itoa(int(p.after.Seconds())))
	}
	w.WriteHeader(p.status)
	_, _ = w.Write(body) // whoever asked may have gone
}
