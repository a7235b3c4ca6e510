package pages

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"strconv"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Kinds of problem that arise before a use case is asked.
const (
	kindCrossSite techlog.Kind = "cross-site"
	kindTooLarge  techlog.Kind = "too-large"
	kindSyntax    techlog.Kind = "syntax"
	kindLost      techlog.Kind = "no-such-page"
	kindInternal  techlog.Kind = "internal"
)

// answerTo is how a kind of problem is shown.
type answerTo struct {
	status int
	title  string
	remedy string
}

// problems is the table of kinds.
var problems = map[techlog.Kind]answerTo{
	techlog.KindInvalid:      {http.StatusUnprocessableEntity, "Something in the form is not right", "Go back and correct what is named below."},
	techlog.KindNotFound:     {http.StatusNotFound, "There is no such record", "Look it up in the fleet or in the squawks. What another organization keeps cannot be seen here."},
	techlog.KindConflict:     {http.StatusConflict, "It contradicts what is on record", "Look at the record as it is now, and decide what is right."},
	techlog.KindStale:        {http.StatusConflict, "Somebody has changed it meanwhile", "Look at it as it is now, and make your change to that."},
	techlog.KindReused:       {http.StatusConflict, "This form was sent before with other words", "What was sent first is on record. To send something else, open the form anew."},
	techlog.KindUnauthorized: {http.StatusUnauthorized, "You are not signed in", "Sign in, then try again."},
	techlog.KindForbidden:    {http.StatusForbidden, "You may not do this", "Ask somebody whose role, certificate or standing allows it."},
	techlog.KindUnproven:     {http.StatusForbidden, "It is not proved who signs", "Give your own password, and send it again."},
	techlog.KindRateLimited:  {http.StatusTooManyRequests, "Too many attempts", "Wait a little, then try again."},
	techlog.KindUnavailable:  {http.StatusServiceUnavailable, "The server cannot answer now", "Wait a moment and load the page again. Whatever you have sent can be sent again: it is taken once."},
	kindCrossSite:            {http.StatusForbidden, "The form does not come from here", "Open the page anew and fill in the form there. Your session may have changed since it was opened."},
	kindTooLarge:             {http.StatusRequestEntityTooLarge, "That is too large", "Send a photo of at most 10 MiB."},
	kindSyntax:               {http.StatusBadRequest, "The form cannot be read", "Open the page anew and send the form again."},
	kindLost:                 {http.StatusNotFound, "There is no such page", "Go back to the fleet."},
	kindInternal:             {http.StatusInternalServerError, "The server failed", "Try again: whatever you have sent is taken once. If it fails again, tell whoever runs the server the number below."},
}

// problemPage is what the page of an error shows.
type problemPage struct {
	Title, Says, Remedy string
	Faults              casefile.Faults
	Rows                []techlog.Reason
	Missing             []string
	Request             string
	Wrote               []string // in a form that was not taken
}

func kindOf(err error) techlog.Kind {
	kind := techlog.KindOf(err)
	switch {
	case kind != "":
		return kind
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return techlog.KindUnavailable
	default:
		return kindInternal
	}
}

// refuse shows an error. Of one without a kind nothing gets out but its number in the log.
func (p *pages) refuse(v *visit, err error) {
	kind := kindOf(err)
	answer, known := problems[kind]
	if !known {
		kind, answer = kindInternal, problems[kindInternal]
	}
	if answer.status >= http.StatusInternalServerError && !errors.Is(v.Request.Context().Err(), context.Canceled) {
		p.Log.LogAttrs(v.Request.Context(), slog.LevelError, "the page failed", slog.String("request", v.id), slog.Any("error", err),
			slog.Any("cause", errors.Unwrap(err)))
	}
	shown := problemPage{Title: answer.title, Remedy: answer.remedy, Request: v.id, Wrote: v.wrote()}
	var e *techlog.Error
	if errors.As(err, &e) && kind != kindInternal {
		shown.Says, shown.Rows, shown.Missing = e.Says, e.Rows, e.Missing
		if e.After > 0 {
			v.w.Header().Set("Retry-After", strconv.Itoa(int(e.After.Seconds())))
		}
	}
	errors.As(err, &shown.Faults)
	v.w.Header().Set(headerProblem, string(kind))
	if err := p.show(v, answer.status, "problem", answer.title, shown); err != nil {
		p.Log.LogAttrs(v.Request.Context(), slog.LevelError, "the page of an error failed", slog.String("request", v.id), slog.Any("error", err))
		http.Error(v.w, answer.title, answer.status)
	}
}

// lost answers for addresses that lead nowhere.
func (p *pages) lost(w http.ResponseWriter, r *http.Request) {
	if !wantsPage(r) {
		p.API.ServeHTTP(w, r)
		return
	}
	v := p.visit(w, r)
	p.answer(v, func(v *visit) error {
		v.session, v.secret, _ = p.Door.Resume(v, r) // who is nobody sees the same page, without the way back
		v.who = v.session.Principal()
		return techlog.Errorf(kindLost, "nothing is found at this address")
	})
}

// faultsOf are the faults of an error, a copy.
func faultsOf(err error) casefile.Faults {
	var faults casefile.Faults
	errors.As(err, &faults)
	return append(casefile.Faults(nil), faults...)
}
