package pages

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func (p *pages) settingsRoutes() {
	p.acting("GET /settings/bases", p.showBases)
	p.acting("POST /settings/bases", p.addBase)
	p.acting("GET /settings/bases/{base}", p.showBase)
	p.acting("POST /settings/bases/{base}", p.changeBase)
	p.acting("GET /settings/warnings", p.showLeads)
	p.acting("POST /settings/warnings", p.changeLeads)
	p.acting("GET /settings/calendars", p.showCalendars)
	p.acting("POST /settings/calendars", p.changeCalendars)
	p.acting("GET /settings/tokens", p.showTokens)
	p.acting("POST /settings/tokens", p.changeTokens)
	p.keepingRoutes()
	p.companyRoutes()
	p.webhookRoutes()
}

// basesView lists the bases, or shows one to be changed.
type basesView struct {
	refusal
	Bases   []techlog.Base
	Base    techlog.Base // that is changed; zero: a new one
	Entry   baseEntry
	Zones   []string
	Keeps   bool
	Done    string
	Flights string
}

// baseEntry is a base as somebody writes it in the form.
type baseEntry struct{ Code, Name, Lat, Lon, Zone string }

// usualZones are offered; every name of the IANA list is taken.
var usualZones = []string{
	"America/New_York", "America/Chicago", "America/Denver", "America/Phoenix", "America/Los_Angeles", "America/Anchorage", "Pacific/Honolulu",
	"America/Puerto_Rico", "UTC",
}

func (p *pages) showBases(v *visit) error {
	return p.basesPage(v, basesView{Done: v.URL.Query().Get("done")})
}

func (p *pages) basesPage(v *visit, view basesView) error {
	all, err := p.bases(v)
	if err != nil {
		return err
	}
	if view.Entry.Zone == "" && view.What == "" && len(all) > 0 {
		view.Entry.Zone = all[0].Zone
	}
	view.Bases, view.Zones, view.Keeps = all, usualZones, v.who.May(techlog.KeepBases)
	return p.showIn(v, view.code(), "bases", frame{Title: "Bases", Here: "more", Page: view})
}

// base reads a base from the form.
func (v *visit) base() (techlog.Base, baseEntry, error) {
	e := baseEntry{
		strings.TrimSpace(v.form.Get("code")), strings.TrimSpace(v.form.Get("name")), strings.TrimSpace(v.form.Get("lat")),
		strings.TrimSpace(v.form.Get("lon")), strings.TrimSpace(v.form.Get("zone")),
	}
	b := techlog.Base{Code: e.Code, Name: e.Name, Zone: e.Zone}
	var bad casefile.Faults
	number := func(field, written string) float64 {
		n, err := strconv.ParseFloat(written, 64)
		if err != nil {
			bad.Add(field, "number", "it is no number of degrees", "write it as 41.21; west and south are below zero")
		}
		return n
	}
	b.Lat, b.Lon = number("lat", e.Lat), number("lon", e.Lon)
	return b, e, bad.Err()
}

func (p *pages) addBase(v *visit) error {
	b, entry, err := v.base()
	if err == nil {
		_, err = p.Service.AddBase(v, v.who, b, v.once("", nil), keep(func(b techlog.Base) techlog.ID { return b.ID }))
	} else if refused := v.may(techlog.KeepBases); refused != nil {
		err = refused
	}
	if a, ok := notTaken("add", err, nil); ok {
		return p.basesPage(v, basesView{refusal: a, Entry: entry})
	}
	if err != nil {
		return err
	}
	return v.goTo("/settings/bases?done=added")
}

func (p *pages) showBase(v *visit) error { return p.oneBase(v, basesView{}) }

func (p *pages) oneBase(v *visit, view basesView) error {
	id, err := v.named("base")
	if err != nil {
		return err
	}
	b, err := p.Service.Base(v, v.who, id)
	if err != nil {
		return err
	}
	if view.What == "" {
		degrees := func(d float64) string { return strconv.FormatFloat(d, 'f', -1, 64) }
		view.Entry = baseEntry{b.Code, b.Name, degrees(b.Lat), degrees(b.Lon), b.Zone}
	}
	view.Base = b
	return p.basesPage(v, view)
}

func (p *pages) changeBase(v *visit) error {
	id, err := v.named("base")
	if err != nil {
		return err
	}
	b, entry, err := v.base()
	b.ID = id
	if err == nil {
		if b.Version, err = v.version(); err != nil {
			return err
		}
		_, err = p.Service.ChangeBase(v, v.who, b, v.once("", nil), keep(func(b techlog.Base) techlog.ID { return b.ID }))
	} else if refused := v.may(techlog.KeepBases); refused != nil {
		err = refused
	}
	if a, ok := notTaken("change", err, nil); ok {
		return p.oneBase(v, basesView{refusal: a, Entry: entry})
	}
	if err != nil {
		return err
	}
	return v.goTo("/settings/bases?done=changed")
}

// version is the version of the record that the form has seen.
func (v *visit) version() (int, error) {
	n, err := strconv.Atoi(v.form.Get("version"))
	if err != nil {
		return 0, &techlog.Error{Kind: kindSyntax, Says: "the form does not say which version of the record was seen", Cause: err}
	}
	return n, nil
}

// leadsView shows how many days ahead people are told, and what they were told.
type leadsView struct {
	refusal
	Leads    techlog.WarningLeads
	Days     string // as they stand in the form
	Keeps    bool
	Done     bool
	Warnings []techlog.Warning
	Zone     *time.Location
}

// warningsShown is how many warnings the page lists.
const warningsShown = 20

func (p *pages) showLeads(v *visit) error {
	return p.leads(v, leadsView{Done: v.URL.Query().Get("done") != ""})
}

func (p *pages) leads(v *visit, view leadsView) error {
	var err error
	if view.Leads, err = p.Service.WarningLeads(v, v.who); err != nil {
		return err
	}
	if view.Warnings, err = p.Service.Warnings(v, v.who, techlog.ID{}, hangar.Page{Limit: warningsShown}); err != nil {
		return err
	}
	if view.Zone, _, err = p.wall(v); err != nil {
		return err
	}
	if view.What == "" {
		view.Days = strings.Join(eachOf(view.Leads.Days, strconv.Itoa), ", ")
	}
	view.Keeps = v.who.May(techlog.KeepCompanyRules)
	return p.showIn(v, view.code(), "leads", frame{Title: "Warnings ahead", Here: "more", Page: view})
}

func (p *pages) changeLeads(v *visit) error {
	version, err := v.version()
	if err != nil {
		return err
	}
	written := v.form.Get("days_ahead")
	var days []int
	var bad casefile.Faults
	for word := range strings.FieldsFuncSeq(written, func(c rune) bool { return c == ',' || c == ' ' || c == ';' }) {
		n, err := strconv.Atoi(word)
		if err != nil {
			bad.Add("days_ahead", "number", fmt.Sprintf("%q is no number of days", word), "write whole days, such as 30, 7, 1")
			break
		}
		days = append(days, n)
	}
	if err = bad.Err(); err == nil || v.may(techlog.KeepCompanyRules) != nil {
		_, err = p.Service.ChangeWarningLeads(v, v.who, version, days, v.once("", nil), keep(func(l techlog.WarningLeads) int { return l.Version }))
	}
	if a, ok := notTaken("leads", err, nil); ok {
		return p.leads(v, leadsView{refusal: a, Days: written})
	}
	if err != nil {
		return err
	}
	return v.goTo("/settings/warnings?done=yes")
}

// calendarsView lists calendars.
type calendarsView struct {
	refusal
	Feeds   []calendarLine
	Ended   int
	Fleet   []techlog.Aircraft
	Handed  handed
	Done    string
	All     bool // those of everybody are listed
	Entry   hangar.NewCalendarFeed
	Zone    *time.Location
	Program bool
}

// calendarLine is a calendar with whose it is and what it is of.
type calendarLine struct {
	techlog.CalendarFeed
	Of, By string
}

func (p *pages) showCalendars(v *visit) error {
	return p.calendars(v, calendarsView{Handed: p.takeHanded(v, "calendar"), Done: v.URL.Query().Get("done")})
}

func (p *pages) calendars(v *visit, view calendarsView) error {
	feeds, err := everyOne(func(page hangar.Page) ([]techlog.CalendarFeed, error) { return p.Service.CalendarFeeds(v, v.who, page) },
		func(f *techlog.CalendarFeed) techlog.ID { return f.ID })
	if err != nil {
		return err
	}
	names, err := p.names(v)
	if err != nil {
		return err
	}
	if view.Fleet, err = p.wholeFleet(v); err != nil {
		return err
	}
	if view.Zone, _, err = p.wall(v); err != nil {
		return err
	}
	for _, f := range feeds {
		if !f.Revoked.IsZero() {
			view.Ended++
			continue
		}
		line := calendarLine{f, "the whole fleet", names[f.Maker]}
		if i := slices.IndexFunc(view.Fleet, func(a techlog.Aircraft) bool { return a.ID == f.Aircraft }); i >= 0 {
			line.Of = view.Fleet[i].Registration
		}
		view.Feeds = append(view.Feeds, line)
	}
	view.All = v.who.May(techlog.KeepPeople)
	return p.showIn(v, view.code(), "calendars", frame{Title: "Calendars", Here: "more", Page: view})
}

// names are the people of the organization by their identifiers.
func (p *pages) names(v *visit) (map[techlog.ID]string, error) {
	all, err := everyOne(func(page hangar.Page) ([]techlog.Member, error) { return p.Service.Members(v, v.who, page) },
		func(m *techlog.Member) techlog.ID { return m.Person })
	names := map[techlog.ID]string{}
	for _, m := range all {
		names[m.Person] = m.Name
	}
	return names, err
}

// changeCalendars makes a calendar, whose address the next page shows once, or takes one back.
func (p *pages) changeCalendars(v *visit) error {
	if named := v.form.Get("revoke"); named != "" {
		id, _ := techlog.ParseID(named) // the zero identifier is nobody's
		_, err := p.Service.RevokeCalendarFeed(v, v.who, id, v.once("", nil), keep(func(f techlog.CalendarFeed) techlog.ID { return f.ID }))
		if a, ok := notTaken("revoke", err, nil); ok {
			return p.calendars(v, calendarsView{refusal: a})
		}
		if err != nil {
			return err
		}
		return v.goTo("/settings/calendars?done=revoked")
	}
	n := hangar.NewCalendarFeed{Name: v.form.Get("name")}
	n.Aircraft, _ = techlog.ParseID(v.form.Get("aircraft"))
	f, secret, err := p.Service.MakeCalendarFeed(v, v.who, n, v.once("", nil))
	if a, ok := notTaken("make", err, nil); ok {
		return p.calendars(v, calendarsView{refusal: a, Entry: n})
	}
	if err != nil {
		return err
	}
	return p.handOver(v, "/settings/calendars", handed{What: "calendar", About: f.Name, Secrets: []string{p.PublicURL + "/v1/calendars/" + secret + ".ics"}})
}

// tokensView lists tokens for programs.
type tokensView struct {
	refusal
	Tokens  []tokenLine
	Ended   int
	Roles   []roleChoice // the visitor's own
	Actions []actionChoice
	Handed  handed
	Done    string
	All     bool
	Entry   hangar.NewAccessToken
	Until   string // as it stands in the form
	Zone    *time.Location
}

// tokenLine is a token with whose it is and what it is good for.
type tokenLine struct {
	techlog.AccessToken
	By, Said, Scoped string
	Over             bool
}

// actionChoice is something that a token may be bounded to.
type actionChoice struct {
	Value techlog.Action
	Name  string
}

// Has reports whether a role is ticked, and Does an action.
func (w tokensView) Has(role techlog.Role) bool { return slices.Contains(w.Entry.Roles, role) }

// Does reports whether an action is ticked.
func (w tokensView) Does(a techlog.Action) bool { return slices.Contains(w.Entry.Scope.Actions, a) }

func actionSaid(a techlog.Action) string { return strings.ReplaceAll(string(a), "-", " ") }

func (p *pages) showTokens(v *visit) error {
	return p.tokens(v, tokensView{Handed: p.takeHanded(v, "token"), Done: v.URL.Query().Get("done")})
}

func (p *pages) tokens(v *visit, view tokensView) error {
	all, err := everyOne(func(page hangar.Page) ([]techlog.AccessToken, error) { return p.Service.AccessTokens(v, v.who, page) },
		func(t *techlog.AccessToken) techlog.ID { return t.ID })
	if err != nil {
		return err
	}
	names, err := p.names(v)
	if err != nil {
		return err
	}
	zone, today, err := p.wall(v)
	if err != nil {
		return err
	}
	for _, t := range all {
		if !t.Revoked.IsZero() {
			view.Ended++
			continue
		}
		line := tokenLine{AccessToken: t, By: names[t.Maker], Said: rolesSaid(t.Roles), Over: !t.Until.IsZero() && !t.Until.After(p.Now())}
		if line.By == "" {
			line.By = "whoever runs the server"
		}
		if t.Scope.Limited {
			line.Scoped = "reading"
			if len(t.Scope.Actions) > 0 {
				line.Scoped += ", " + strings.Join(eachOf(t.Scope.Actions, actionSaid), ", ")
			}
		}
		view.Tokens = append(view.Tokens, line)
	}
	for _, c := range roleChoices {
		if slices.Contains(v.who.Roles, c.Value) {
			view.Roles = append(view.Roles, c)
		}
	}
	for _, a := range techlog.Actions() {
		if v.who.Roles.May(a) {
			view.Actions = append(view.Actions, actionChoice{a, actionSaid(a)})
		}
	}
	if view.What == "" {
		view.Entry.Scope.Limited = true
		if day, err := time.Parse(time.DateOnly, today); err == nil {
			view.Until = day.AddDate(0, 3, 0).Format(time.DateOnly)
		}
	}
	view.Zone, view.All = zone, v.who.May(techlog.KeepPeople)
	return p.showIn(v, view.code(), "tokens", frame{Title: "Tokens for programs", Here: "more", Page: view})
}

// changeTokens makes a token, which the next page shows once, or takes one back.
func (p *pages) changeTokens(v *visit) error {
	if named := v.form.Get("revoke"); named != "" {
		id, _ := techlog.ParseID(named)
		_, err := p.Service.RevokeAccessToken(v, v.who, id, v.once("", nil), keep(func(t techlog.AccessToken) techlog.ID { return t.ID }))
		if a, ok := notTaken("revoke", err, nil); ok {
			return p.tokens(v, tokensView{refusal: a})
		}
		if err != nil {
			return err
		}
		p.Door.Forget()
		return v.goTo("/settings/tokens?done=revoked")
	}
	zone, _, err := p.wall(v)
	if err != nil {
		return err
	}
	n := hangar.NewAccessToken{Name: v.form.Get("name"), Roles: v.roles(), Own: v.form.Get("own") != ""}
	if v.form.Get("scope") != "whole" {
		n.Scope.Limited = true
		for _, a := range v.form["actions"] {
			n.Scope.Actions = append(n.Scope.Actions, techlog.Action(a))
		}
	}
	if day, err := time.ParseInLocation(time.DateOnly, v.form.Get("until"), zone); err == nil {
		n.Until = day.AddDate(0, 0, 1) // that day included
	}
	t, secret, err := p.Service.MakeAccessToken(v, v.who, n, v.once("", nil))
	if a, ok := notTaken("make", err, certificateField); ok {
		return p.tokens(v, tokensView{refusal: a, Entry: n, Until: v.form.Get("until")})
	}
	if err != nil {
		return err
	}
	return p.handOver(v, "/settings/tokens", handed{What: "token", About: t.Name, Secrets: []string{secret}})
}
