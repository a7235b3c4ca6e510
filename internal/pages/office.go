package pages

import (
	"encoding/base64"
	"encoding/json"
	"net/http"
	"strings"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// refusal is what became of a form that was not taken, for the page that shows it again with what was written in it.
type refusal struct {
	What   string // which form of the page it was; empty: none was sent
	Faults casefile.Faults
	Stale  bool   // somebody has changed the record since the form was opened
	Says   string // why it contradicts the record
	status int
}

// Fault is what is wrong with a field.
func (a refusal) Fault(field string) *casefile.Fault { return faultOf(a.Faults, field) }

// FaultOf is what is wrong with a field of one form of several.
func (a refusal) FaultOf(what, field string) *casefile.Fault {
	if a.What != what {
		return nil
	}
	return a.Fault(field)
}

// Is reports whether it was that form.
func (a refusal) Is(what string) bool { return a.What == what }

// notTaken is what a page says of an error that somebody can do something about. Any other error is a page of its own.
// field gives the fields of a fault the names that they have in the form; nil: they have the same.
func notTaken(what string, err error, field func(string) string) (refusal, bool) {
	kind := techlog.KindOf(err)
	a := refusal{What: what, status: problems[kind].status}
	switch kind {
	case techlog.KindInvalid:
		a.Faults = faultsOf(err)
		for i := range a.Faults {
			if field != nil {
				a.Faults[i].Field = field(a.Faults[i].Field)
			}
		}
	case techlog.KindStale:
		a.Stale = true
	case techlog.KindConflict, techlog.KindReused, techlog.KindUnproven, techlog.KindRateLimited:
		a.Says = sentence(err.Error())
	default:
		return a, false
	}
	return a, true
}

// code is the status of a page that shows the form.
func (a refusal) code() int {
	if a.status == 0 {
		return ok
	}
	return a.status
}

// handed is a secret on its way to the page that shows it: once, as it stands neither in the address nor in the history of
// the browser nor on record, and whoever loads that page anew does not find it again.
type handed struct {
	What    string // that it is of
	About   string // a record, or a name
	Secrets []string
}

// handedLife is for how long it may be on its way, in seconds.
const handedLife = 60

// handOver sends the browser on to a page, with a secret that this page alone is to show. It travels in a cookie that no
// script reads, bound to the session, and goes to whichever server answers next.
func (p *pages) handOver(v *visit, path string, h handed) error {
	raw, err := json.Marshal(h)
	if err != nil {
		return err
	}
	cookie := p.handedCookie(v) //nolint:gosec // as it is made there
	cookie.Value = people.FormToken(v.secret) + "." + base64.RawURLEncoding.EncodeToString(raw)
	cookie.MaxAge = handedLife
	http.SetCookie(v.w, cookie)
	return v.goTo(path)
}

// takeHanded takes the secret that is on its way to this page, if it is one of that sort: it is gone with it.
func (p *pages) takeHanded(v *visit, what string) handed {
	cookie := p.handedCookie(v) //nolint:gosec // as it is made there
	sent, err := v.Cookie(cookie.Name)
	if err != nil {
		return handed{}
	}
	cookie.MaxAge = -1
	http.SetCookie(v.w, cookie)
	token, raw, _ := strings.Cut(sent.Value, ".")
	decoded, err := base64.RawURLEncoding.DecodeString(raw)
	var h handed
	if err != nil || !people.IsFormToken(v.secret, token) || json.Unmarshal(decoded, &h) != nil || h.What != what {
		return handed{}
	}
	return h
}

func (p *pages) handedCookie(v *visit) *http.Cookie {
	like := p.Door.Enter(v.session)
	//nolint:gosec // it is Secure where the session's cookie is
	return &http.Cookie{Name: like.Name + "-handed", Path: like.Path, Secure: like.Secure, HttpOnly: true, SameSite: http.SameSiteStrictMode}
}

// everyOne reads a list to its end. id is the identifier that the next page begins after.
func everyOne[T any](read func(hangar.Page) ([]T, error), id func(*T) techlog.ID) ([]T, error) {
	var all []T
	for one, err := range hangar.Whole(wholePage, id, read) {
		if err != nil {
			return nil, err
		}
		all = append(all, *one)
	}
	return all, nil
}

// wholePage is how many records are read at a time where a page needs all of them.
const wholePage = 200

// may asks for leave before a page is shown that is of no use without.
func (v *visit) may(action techlog.Action) error { return v.who.Require(action) }
