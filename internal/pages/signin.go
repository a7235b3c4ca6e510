package pages

import (
	"net/http"
	"strings"
	"unicode"
	"unicode/utf8"

	"tiedown/internal/casefile"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// signInPage is what the page to sign in shows.
type signInPage struct {
	Email    string
	Wrong    string // why it was not enough
	Next     string // page to go to afterwards
	Provider bool
	Set      bool // a password has just been set
}

// secondPage asks for the second step.
type secondPage struct {
	Ticket string
	Wrong  string
	Next   string
	Asks   string // of the passkey, as JSON
}

func (p *pages) showSignIn(v *visit) error {
	switch _, _, err := p.Door.Resume(v, v.Request); {
	case err == nil:
		return v.goTo(next(v.URL.Query().Get("next")))
	case techlog.KindOf(err) == techlog.KindUnauthorized:
		v.w.Header().Set(headerPerson, "nobody")
	}
	q := v.URL.Query()
	return p.show(v, ok, "sign-in", "Sign in", signInPage{Next: next(q.Get("next")), Provider: p.Provider, Set: q.Get("set") != ""})
}

// askToSignIn sends a visitor to sign in, and back afterwards to the page that was asked for.
func (p *pages) askToSignIn(v *visit) error {
	if isWrite(v.Request) {
		return techlog.Errorf(techlog.KindUnauthorized, "your session is over; what you sent was not taken")
	}
	return v.goTo("/sign-in?" + query("next", v.URL.RequestURI()))
}

// next is a page of ours: nothing else is gone to.
func next(path string) string {
	if !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.ContainsAny(path, "\\\r\n") || strings.HasPrefix(path, "/sign-") {
		return "/"
	}
	return path
}

func (p *pages) signIn(v *visit) error {
	to := next(v.form.Get("next"))
	email := strings.TrimSpace(v.form.Get("email"))
	in, err := p.People.SignIn(v, email, v.form.Get("password"), p.Door.From(v.Request))
	if kind := techlog.KindOf(err); kind == techlog.KindUnauthorized || kind == techlog.KindRateLimited {
		return p.show(v, problems[kind].status, "sign-in", "Sign in", signInPage{
			Email: email, Wrong: sentence(err.Error()), Next: to, Provider: p.Provider,
		})
	}
	if err != nil {
		return err
	}
	return p.signedIn(v, in, to)
}

func (p *pages) signedIn(v *visit, in people.SignedIn, to string) error {
	if in.Second != nil {
		return p.show(v, ok, "second-step", "Second step", secondPage{Ticket: in.Second.Ticket, Next: to, Asks: string(in.Second.Options)})
	}
	http.SetCookie(v.w, p.Door.Enter(in.Session))
	if in.Session.Organization.IsZero() {
		to = "/organization"
	}
	return v.goTo(to)
}

// secondStep takes a recovery code, or the passkey's answer, which only a script can ask for. A ticket is good once: with
// a wrong answer one begins again.
func (p *pages) secondStep(v *visit) error {
	second := people.Second{Ticket: v.form.Get("ticket"), RecoveryCode: v.form.Get("recovery_code")}
	if answer := v.form.Get("response"); answer != "" {
		second.Response, second.RecoveryCode = []byte(answer), ""
	}
	in, err := p.People.Finish(v, second, p.Door.From(v.Request))
	if kind := techlog.KindOf(err); kind == techlog.KindUnauthorized || kind == techlog.KindRateLimited {
		return p.show(v, problems[kind].status, "sign-in", "Sign in", signInPage{
			Wrong: sentence(err.Error()), Next: next(v.form.Get("next")), Provider: p.Provider,
		})
	}
	if err != nil {
		return err
	}
	return p.signedIn(v, in, next(v.form.Get("next")))
}

// passwordPage sets a password with a link that is good once.
type passwordPage struct {
	Link   string
	Wrong  string
	Faults casefile.Faults
}

// Fault is what is wrong with a field.
func (w passwordPage) Fault(field string) *casefile.Fault { return faultOf(w.Faults, field) }

func (p *pages) showPassword(v *visit) error {
	return p.show(v, ok, "password", "Set a password", passwordPage{Link: v.URL.Query().Get("link")})
}

// setPassword sets it. A password that is refused does not spend the link.
func (p *pages) setPassword(v *visit) error {
	page := passwordPage{Link: v.form.Get("link")}
	err := p.People.SetPassword(v, page.Link, v.form.Get("password"), p.Door.From(v.Request))
	switch kind := techlog.KindOf(err); {
	case kind == techlog.KindInvalid:
		page.Faults = faultsOf(err)
		return p.show(v, problems[kind].status, "password", "Set a password", page)
	case kind == techlog.KindUnauthorized, kind == techlog.KindRateLimited:
		page.Wrong = sentence(err.Error())
		return p.show(v, problems[kind].status, "password", "Set a password", page)
	case err != nil:
		return err
	}
	p.Door.Forget() // every session of that person is over
	return v.goTo("/sign-in?set=yes")
}

func (p *pages) signOut(v *visit) error {
	v.session.From = p.Door.From(v.Request)
	if err := p.People.SignOut(v, v.session); err != nil {
		return err
	}
	http.SetCookie(v.w, p.Door.Leave())
	return v.goTo("/sign-in")
}

func (p *pages) showOrganizations(v *visit) error {
	me, err := p.People.Me(v, v.session.Account.ID)
	if err != nil {
		return err
	}
	return p.showIn(v, ok, "organizations", frame{Title: "You", Here: "more", Page: struct {
		people.Person
		Session people.Session
	}{me, v.session}})
}

func (p *pages) chooseOrganization(v *visit) error {
	id, valid := techlog.ParseID(v.form.Get("organization"))
	if !valid {
		return techlog.Errorf(techlog.KindNotFound, "no organization was chosen")
	}
	s, err := p.People.Choose(v, v.session, id)
	if err != nil {
		return err
	}
	p.Door.Forget()
	http.SetCookie(v.w, p.Door.Enter(s))
	return v.goTo("/")
}

// sentence makes a sentence of an error's words.
func sentence(says string) string {
	if says == "" {
		return ""
	}
	return upperFirst(strings.TrimSuffix(says, ".")) + "."
}

// upperFirst begins a text with a capital letter.
func upperFirst(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + s[size:]
}
