package pages

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func (p *pages) peopleRoutes() {
	p.acting("GET /people", p.showPeople)
	p.acting("POST /people", p.addPerson)
	p.acting("GET /people/{person}", p.showPerson)
	p.acting("POST /people/{person}", p.changePerson)
	p.acting("GET /people/{person}/certificates/new", p.showNewCertificate)
	p.acting("POST /people/{person}/certificates/new", p.addCertificate)
	p.acting("POST /people/{person}/standings", p.keepStanding)
	p.acting("GET /certificates", p.showCertificates)
	p.acting("GET /certificates/{certificate}", p.showCertificate)
	p.acting("POST /certificates/{certificate}", p.changeCertificate)
}

// roleChoice is a role with what it is for.
type roleChoice struct {
	Value techlog.Role
	Name  string
	Words string
}

var roleChoices = []roleChoice{
	{techlog.Pilot, "Pilot", "Files squawks, walks around, plans flights."},
	{techlog.Mechanic, "Mechanic", "Confirms and works on squawks. Signing takes a certificate."},
	{techlog.Scheduler, "Scheduler", "Plans flights, keeps bases, blocks and webhooks."},
	{techlog.MaintenanceControl, "Maintenance control", "Keeps aircraft, checklists, certificates and the organization's own rules."},
	{techlog.Administrator, "Administrator", "All of that, and says who is in the organization."},
}

// rolesSaid names roles as people call them.
func rolesSaid(roles techlog.RoleSet) string {
	var names []string
	for _, c := range roleChoices {
		if slices.Contains(roles, c.Value) {
			names = append(names, c.Name)
		}
	}
	return strings.Join(names, ", ")
}

// rolesOf are the roles that a form ticks.
func (v *visit) rolesOf(field string) techlog.RoleSet {
	var roles techlog.RoleSet
	for _, c := range roleChoices {
		if slices.Contains(v.form[field], string(c.Value)) {
			roles = append(roles, c.Value)
		}
	}
	return roles
}

// peopleView is the list of people.
type peopleView struct {
	refusal
	Members []memberLine
	Left    []memberLine
	Keeps   bool // the visitor keeps the people
	Roles   []roleChoice
	Email   string // as somebody wrote it in the form
	Name    string
	Ticked  techlog.RoleSet
	More    string // address of the next page
}

// memberLine is a member in the list.
type memberLine struct {
	techlog.Member
	Said string // the roles
}

// Has reports whether a role is ticked in the form.
func (l peopleView) Has(role techlog.Role) bool { return slices.Contains(l.Ticked, role) }

// peopleShown is how many people one page lists.
const peopleShown = 100

func (p *pages) showPeople(v *visit) error { return p.people(v, peopleView{}) }

func (p *pages) people(v *visit, view peopleView) error {
	page := hangar.Page{Limit: peopleShown}
	page.After, _ = techlog.ParseID(v.URL.Query().Get("after"))
	all, err := p.Service.Members(v, v.who, page)
	if err != nil {
		return err
	}
	if len(all) == page.Limit {
		view.More = "/people?after=" + all[len(all)-1].Person.String()
	}
	slices.SortFunc(all, func(a, b techlog.Member) int { return cmp.Compare(strings.ToLower(a.Name), strings.ToLower(b.Name)) })
	for _, m := range all {
		line := memberLine{m, rolesSaid(m.Roles)}
		if m.Lasts() {
			view.Members = append(view.Members, line)
		} else {
			view.Left = append(view.Left, line)
		}
	}
	view.Keeps, view.Roles = v.who.May(techlog.KeepPeople), roleChoices
	return p.showIn(v, view.code(), "people", frame{Title: "People", Here: "more", Page: view})
}

// addPerson adds somebody, and leads to the person's page, which shows the link for the password once.
func (p *pages) addPerson(v *visit) error {
	n := hangar.NewMember{Email: v.form.Get("email"), Name: v.form.Get("name"), Roles: v.rolesOf("roles")}
	added, err := p.Service.AddMember(v, v.who, n)
	if a, ok := notTaken("add", err, nil); ok {
		return p.people(v, peopleView{refusal: a, Email: n.Email, Name: n.Name, Ticked: n.Roles})
	}
	if err != nil {
		return err
	}
	p.Door.Forget()
	return p.handOver(v, "/people/"+added.Member.Person.String(), handed{What: "password link", About: "added", Secrets: []string{p.passwordLink(added.Link)}})
}

func (p *pages) passwordLink(secret string) string {
	return p.PublicURL + "/password?" + query("link", secret)
}

// personView is the page of a person.
type personView struct {
	refusal
	Member       techlog.Member
	Said         string
	Lasts        bool // the membership has not ended
	Keeps        bool
	KeepsPapers  bool // the visitor may enter this person's certificates and standings
	Own          bool // it is the visitor
	Name         string
	Ticked       techlog.RoleSet
	Roles        []roleChoice
	History      []memberEntry
	Certificates []certificateLine
	Withdrawn    []certificateLine
	Standings    []standingLine
	Kinds        []certificateChoice
	Stands       []standingChoice
	Fleet        []techlog.Aircraft
	Standing     techlog.Standing // as somebody wrote it in the form
	Handed       handed
	Done         string
	Today        string
	Zone         *time.Location
}

// memberEntry is an entry of the history of a membership.
type memberEntry struct {
	techlog.MemberEntry
	Said string
}

// Has reports whether a role is ticked in the form.
func (w personView) Has(role techlog.Role) bool { return slices.Contains(w.Ticked, role) }

func (p *pages) showPerson(v *visit) error {
	id, err := v.named("person")
	if err != nil {
		return err
	}
	return p.person(v, id, personView{Done: v.URL.Query().Get("done"), Handed: p.takeHanded(v, "password link")})
}

func (p *pages) person(v *visit, id techlog.ID, view personView) error {
	m, err := p.Service.Member(v, v.who, id)
	if err != nil {
		return err
	}
	history, err := p.Service.MemberHistory(v, v.who, id)
	if err != nil {
		return err
	}
	view.Zone, view.Today, err = p.wall(v)
	if err != nil {
		return err
	}
	slices.Reverse(history)
	view.History = eachOf(history, func(e techlog.MemberEntry) memberEntry { return memberEntry{e, rolesSaid(e.Roles)} })
	view.Member, view.Said, view.Roles = m, rolesSaid(m.Roles), roleChoices
	view.Own, view.Lasts = v.who.Person == id, m.Lasts()
	view.Keeps = v.who.May(techlog.KeepPeople)
	view.KeepsPapers = v.who.May(techlog.KeepCertificates) && !view.Own && !v.who.Person.IsZero()
	if view.What != "change" {
		view.Name, view.Ticked = m.Name, m.Roles
	}
	if err := p.papersOf(v, id, &view); err != nil {
		return err
	}
	return p.showIn(v, view.code(), "person", frame{Title: m.Name, Here: "more", Page: view})
}

// wall is the zone of the organization's first base, by whose clock days are told where no aircraft is meant, and the day
// that it is there.
func (p *pages) wall(v *visit) (*time.Location, string, error) {
	bases, err := p.Service.Bases(v, v.who, hangar.Page{Limit: 1})
	zone := time.UTC
	if len(bases) > 0 {
		zone = zoneOf(bases[0])
	}
	return zone, p.Now().In(zone).Format(time.DateOnly), err
}

// changePerson changes what a member is, ends the membership, takes somebody back in, or makes a link for a password.
func (p *pages) changePerson(v *visit) error {
	id, err := v.named("person")
	if err != nil {
		return err
	}
	step := v.form.Get("step")
	version, err := strconv.Atoi(v.form.Get("version"))
	if err != nil {
		return &techlog.Error{Kind: kindSyntax, Says: "the form does not say which version of the membership was seen", Cause: err}
	}
	member := keep(func(m techlog.Member) techlog.ID { return m.Person })
	page, done := "/people/"+id.String(), ""
	var link string
	switch step {
	case "change":
		_, err = p.Service.ChangeMember(v, v.who, hangar.MemberChange{
			Person: id, Version: version, Name: v.form.Get("name"), Roles: v.rolesOf("roles"),
		}, v.once("", nil), member)
		done = "?done=changed"
	case "end":
		_, err = p.Service.EndMember(v, v.who, id, version, v.once("", nil), member)
		done = "?done=ended"
	case "back":
		err = p.takeBack(v, id, version)
		done = "?done=back"
	case "link":
		link, err = p.Service.ResetPassword(v, v.who, id, v.once("", nil))
	default:
		return techlog.Errorf(kindSyntax, "the form asks for nothing that can be done")
	}
	if a, ok := notTaken(step, err, nil); ok {
		return p.person(v, id, personView{refusal: a, Name: v.form.Get("name"), Ticked: v.rolesOf("roles")})
	}
	if err != nil {
		return err
	}
	p.Door.Forget()
	if link != "" {
		return p.handOver(v, page, handed{What: "password link", About: "reset", Secrets: []string{p.passwordLink(link)}})
	}
	return v.goTo(page + done)
}

// takeBack makes a member of somebody who has left, as what the person was.
func (p *pages) takeBack(v *visit, id techlog.ID, version int) error {
	m, err := p.Service.Member(v, v.who, id)
	if err != nil {
		return err
	}
	if m.Version != version {
		return techlog.Errorf(techlog.KindStale, "the membership was changed meanwhile: it is at version %d", m.Version)
	}
	_, err = p.Service.AddMember(v, v.who, hangar.NewMember{Email: string(m.Email), Name: m.Name, Roles: m.Roles})
	return err
}
