package pages

import (
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/notice"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

func (p *pages) ownRoutes() {
	p.acting("GET /you/notices", p.showNotices)
	p.acting("POST /you/notices", p.changeNotices)
	p.signed("GET /you/security", p.showSecurity)
	p.signed("POST /you/security/sessions", p.endSession)
	p.signed("POST /you/security/password", p.changePassword)
	p.signed("POST /you/security/codes", p.renewCodes)
	p.signed("POST /you/security/passkeys", p.beginPasskey)
	p.signed("POST /you/security/passkeys/add", p.finishPasskey)
	p.signed("POST /you/security/passkeys/{passkey}", p.removePasskey)
}

// noticesView is what somebody wants to hear of by mail.
type noticesView struct {
	refusal
	Wants   notice.Preferences
	Kinds   []noticeChoice
	Fleet   []techlog.Aircraft
	Hours   []hourChoice
	From    string // of the quiet hours, as they stand in the form
	Until   string
	Digest  string
	Zones   []string
	Done    bool
	Unasked bool // nobody has said anything yet
	Email   techlog.Email
}

// noticeChoice is a kind of note, and hourChoice an hour of the day.
type (
	noticeChoice struct {
		Value notice.Kind
		Words string
	}
	hourChoice struct{ Value, Words string }
)

// Wanted reports whether a kind is ticked.
func (w noticesView) Wanted(k notice.Kind) bool { return slices.Contains(w.Wants.Kinds, k) }

// Follows reports whether an aircraft is ticked.
func (w noticesView) Follows(id techlog.ID) bool { return slices.Contains(w.Wants.Follows, id) }

func (p *pages) showNotices(v *visit) error {
	return p.notices(v, noticesView{Done: v.URL.Query().Get("done") != ""})
}

func (p *pages) notices(v *visit, view noticesView) error {
	wants, err := p.Messenger.Preferences(v, v.who)
	if err != nil {
		return err
	}
	if view.What == "" {
		view.Wants = wants
		if wants.Quiet != nil {
			view.From, view.Until = wants.Quiet.From.String(), wants.Quiet.Until.String()
		}
		if wants.Digest != nil {
			view.Digest = strconv.Itoa(*wants.Digest)
		}
	}
	view.Wants.Version, view.Unasked, view.Email = wants.Version, wants.Version == 0, v.session.Account.Email
	if view.Fleet, err = p.wholeFleet(v); err != nil {
		return err
	}
	for _, k := range notice.InstantKinds() {
		view.Kinds = append(view.Kinds, noticeChoice{k, upperFirst(k.Words())})
	}
	view.Hours = []hourChoice{{"", "No digest"}}
	for hour := range 24 {
		view.Hours = append(view.Hours, hourChoice{strconv.Itoa(hour), time.Date(2000, 1, 1, hour, 0, 0, 0, time.UTC).Format("15:04")})
	}
	view.Zones = usualZones
	return p.showIn(v, view.code(), "notices", frame{Title: "Notices by mail", Here: "more", Page: view})
}

// changeNotices says what somebody wants to hear of from now on.
func (p *pages) changeNotices(v *visit) error {
	version, err := v.version()
	if err != nil {
		return err
	}
	w := notice.Preferences{
		Mail: v.form.Get("mail") != "", Fleet: v.form.Get("fleet") == "all", Zone: v.form.Get("zone"), UrgentAnyway: v.form.Get("urgent") != "",
		Version: version, Kinds: []notice.Kind{}, Follows: []techlog.ID{},
	}
	for _, k := range v.form["kinds"] {
		w.Kinds = append(w.Kinds, notice.Kind(k))
	}
	for _, named := range v.form["follows"] {
		if id, ok := techlog.ParseID(named); ok {
			w.Follows = append(w.Follows, id)
		}
	}
	view := noticesView{Wants: w, From: v.form.Get("quiet_from"), Until: v.form.Get("quiet_until"), Digest: v.form.Get("digest_hour")}
	if hour, err := strconv.Atoi(view.Digest); err == nil {
		w.Digest = &hour
	}
	if view.From != "" || view.Until != "" {
		from, okFrom := notice.ParseWall(view.From)
		until, okUntil := notice.ParseWall(view.Until)
		if !okFrom || !okUntil {
			view.refusal, _ = notTaken("notices", casefile.Faults{{
				Field: "quiet", Rule: "times", Says: "quiet hours have a beginning and an end", Remedy: "give both times such as 22:00 and 07:00, or leave both empty",
			}}, nil)
			return p.notices(v, view)
		}
		w.Quiet = &notice.Quiet{From: from, Until: until}
	}
	_, err = p.Messenger.SetPreferences(v, v.who, w)
	if a, ok := notTaken("notices", err, nil); ok {
		view.refusal = a
		return p.notices(v, view)
	}
	if err != nil {
		return err
	}
	return v.goTo("/you/notices?done=yes")
}

// securityView is how somebody gets in, and what happened to the account.
type securityView struct {
	refusal
	Sessions []sessionLine
	Passkeys []people.Passkey
	Others   []people.Identity
	Events   []securityLine
	Older    string
	Handed   handed
	Done     string
	Name     string // of a passkey, as it stands in the form
	Asks     string // of an authenticator, as JSON: the page is in the middle of adding a passkey
	Asked    techlog.ID
}

// sessionLine is a session of one's own.
type sessionLine struct {
	people.Session
	Here  bool
	Agent string
}

// securityLine is something that happened to the account, in words.
type securityLine struct {
	techlog.SecurityEvent
	Words string
}

// securityWords say what happened.
var securityWords = map[techlog.SecurityEventKind]string{
	techlog.SignedIn: "Signed in", techlog.SignInFailed: "Somebody failed to sign in", techlog.Locked: "Too many attempts: none was taken for a while",
	techlog.ProofFailed: "A proof of who signs failed", techlog.PasswordSet: "The password was set", techlog.PasswordLinkMade: "A link for a new password was made",
	techlog.PasskeyAdded: "A passkey was added", techlog.PasskeyRemoved: "A passkey was removed", techlog.RecoveryCodesMade: "Recovery codes were made",
	techlog.RecoveryCodeUsed: "A recovery code was used", techlog.IdentityLinked: "An account elsewhere was linked", techlog.SessionEnded: "A session was ended",
	techlog.TokenMade: "A token was made", techlog.TokenRevoked: "A token was taken back", techlog.MemberAdded: "Added to an organization",
	techlog.MemberChanged: "Changed in an organization", techlog.MemberEnded: "A membership ended",
}

// eventsShown is how many security events one page lists.
const eventsShown = 20

func (p *pages) showSecurity(v *visit) error {
	return p.security(v, securityView{Handed: p.takeHanded(v, "recovery codes"), Done: v.URL.Query().Get("done")})
}

func (p *pages) security(v *visit, view securityView) error {
	person := v.session.Account.ID
	sessions, err := p.People.Sessions(v, person)
	if err != nil {
		return err
	}
	view.Sessions = eachOf(sessions, func(s people.Session) sessionLine {
		return sessionLine{s, s.ID == v.session.ID, agentSaid(s.From.Agent)}
	})
	if view.Passkeys, err = p.People.Passkeys(v, person); err != nil {
		return err
	}
	me, err := p.People.Me(v, person)
	if err != nil {
		return err
	}
	view.Others = me.Identities
	before, _ := techlog.ParseID(v.URL.Query().Get("before"))
	events, err := p.People.SecurityEvents(v, person, eventsShown, before)
	if err != nil {
		return err
	}
	view.Events = eachOf(events, func(e techlog.SecurityEvent) securityLine { return securityLine{e, securityWords[e.Kind]} })
	if len(events) == eventsShown {
		view.Older = "/you/security?before=" + events[eventsShown-1].ID.String() + "#events"
	}
	return p.showIn(v, view.code(), "security", frame{Title: "Signing in and security", Here: "more", Page: view})
}

// What browsers and systems call themselves, those first that others pretend to be as well.
var (
	browsers = [][2]string{{"Edg/", "Edge"}, {"OPR/", "Opera"}, {"Firefox/", "Firefox"}, {"Chrome/", "Chrome"}, {"Safari/", "Safari"}}
	systems  = [][2]string{
		{"iPhone", "an iPhone"}, {"iPad", "an iPad"}, {"Android", "Android"}, {"Windows", "Windows"}, {"Mac OS X", "a Mac"}, {"CrOS", "a Chromebook"}, {"Linux", "Linux"},
	}
)

// agentSaid is what a browser says that it is: in short where it is known, otherwise no longer than a line.
func agentSaid(agent string) string {
	const line = 80
	known := func(names [][2]string) string {
		for _, n := range names {
			if strings.Contains(agent, n[0]) {
				return n[1]
			}
		}
		return ""
	}
	if browser, system := known(browsers), known(systems); browser != "" && system != "" {
		return browser + " on " + system
	}
	if agent == "" {
		return "a browser that does not say which"
	}
	if runes := []rune(agent); len(runes) > line {
		return string(runes[:line]) + "…"
	}
	return agent
}

func (p *pages) endSession(v *visit) error {
	id, _ := techlog.ParseID(v.form.Get("session")) // the zero identifier is nobody's
	if err := p.People.EndSession(v, v.session.Account, id, p.Door.From(v.Request)); err != nil {
		return err
	}
	p.Door.Forget()
	if id == v.session.ID {
		http.SetCookie(v.w, p.Door.Leave())
		return v.goTo("/sign-in")
	}
	return v.goTo("/you/security?done=session")
}

func (p *pages) changePassword(v *visit) error {
	v.session.From = p.Door.From(v.Request)
	s, err := p.People.ChangePassword(v, v.session, v.form.Get("present"), v.form.Get("next"))
	if a, ok := notTaken("password", err, nil); ok {
		return p.security(v, securityView{refusal: a})
	}
	if err != nil {
		return err
	}
	p.Door.Forget()
	http.SetCookie(v.w, p.Door.Enter(s))
	return v.goTo("/you/security?done=password")
}

// passwordOf is the proof that a form gives.
func passwordOf(v *visit) hangar.Proof { return hangar.Proof{Password: v.form.Get("password")} }

func (p *pages) renewCodes(v *visit) error {
	v.session.From = p.Door.From(v.Request)
	codes, err := p.People.RenewCodes(v, v.session, passwordOf(v))
	if a, ok := notTaken("codes", err, nil); ok {
		return p.security(v, securityView{refusal: a})
	}
	if err != nil {
		return err
	}
	return p.handOver(v, "/you/security", handed{What: "recovery codes", Secrets: codes})
}

// beginPasskey asks the browser for a new passkey. Only a script can ask an authenticator, so the page that comes then
// says what it takes.
func (p *pages) beginPasskey(v *visit) error {
	asked, err := p.People.BeginPasskey(v, v.session.Account.ID, passwordOf(v))
	if a, ok := notTaken("passkey", err, nil); ok {
		return p.security(v, securityView{refusal: a, Name: v.form.Get("name")})
	}
	if err != nil {
		return err
	}
	return p.security(v, securityView{Name: v.form.Get("name"), Asks: string(asked.Options), Asked: asked.Challenge})
}

func (p *pages) finishPasskey(v *visit) error {
	v.session.From = p.Door.From(v.Request)
	challenge, _ := techlog.ParseID(v.form.Get("challenge"))
	r := people.Registration{Challenge: challenge, Name: v.form.Get("name"), Response: json.RawMessage(v.form.Get("response"))}
	_, codes, err := p.People.AddPasskey(v, v.session, r)
	if a, ok := notTaken("passkey", err, nil); ok {
		return p.security(v, securityView{refusal: a, Name: r.Name})
	}
	if err != nil {
		return err
	}
	if len(codes) > 0 {
		return p.handOver(v, "/you/security", handed{What: "recovery codes", Secrets: codes})
	}
	return v.goTo("/you/security?done=passkey")
}

func (p *pages) removePasskey(v *visit) error {
	id, err := v.named("passkey")
	if err != nil {
		return err
	}
	v.session.From = p.Door.From(v.Request)
	err = p.People.RemovePasskey(v, v.session, id, passwordOf(v))
	if a, ok := notTaken("remove "+id.String(), err, nil); ok {
		return p.security(v, securityView{refusal: a})
	}
	if err != nil {
		return err
	}
	return v.goTo("/you/security?done=removed")
}
