package pages

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// certificateChoice is a kind of certificate with what is entered of it.
type certificateChoice struct {
	Kind    techlog.CertificateKind
	Name    string
	Words   string
	Grades  []string
	Ratings []string
	Trained []string
	Recent  bool // experience is asked of its holder
	Ends    bool // it always runs out
}

var certificateChoices = []certificateChoice{
	{Kind: techlog.PilotCertificate, Name: "Pilot certificate", Words: "Grade, category and class.", Grades: airworthiness.PilotGrades(), Ratings: airworthiness.PilotRatings()},
	{Kind: techlog.MechanicCertificate, Name: "Mechanic certificate", Words: "Airframe, powerplant, and recent experience.", Ratings: []string{"airframe", "powerplant"}, Recent: true},
	{Kind: techlog.InspectionAuthorization, Name: "Inspection authorization", Words: "Goes with a mechanic certificate, and always runs out.", Ends: true},
	{Kind: techlog.RepairStation, Name: "Repair station certificate", Words: "Its ratings.", Ratings: airworthiness.Vocabulary("repair_station")},
	{Kind: techlog.Repairman, Name: "Repairman certificate", Words: "Its ratings, and what the holder is trained for.", Ratings: airworthiness.Vocabulary("repairman"), Trained: airworthiness.PilotRatings()},
}

// certificateOf is the choice of a kind, or nothing.
func certificateOf(kind techlog.CertificateKind) certificateChoice {
	i := slices.IndexFunc(certificateChoices, func(c certificateChoice) bool { return c.Kind == kind })
	if i < 0 {
		return certificateChoice{}
	}
	return certificateChoices[i]
}

// standingChoice is how a person may stand to an aircraft.
type standingChoice struct {
	Kind  techlog.StandingKind
	Name  string
	Whole bool // it may be said of the whole fleet
}

var standingChoices = []standingChoice{
	{techlog.Flies, "Flies", true},
	{techlog.Operates, "Operates", true},
	{techlog.Maintains, "Maintains", true},
	{techlog.Owns, "Owns", false},
	{techlog.Built, "Built", false},
	{techlog.Manufactured, "Manufactured", false},
}

// certificateLine is a certificate in a list.
type certificateLine struct {
	techlog.Certificate
	Title  string
	Holds  string // grade and ratings
	Says   string // whether and how long it is in force
	Warns  bool   // it has run out, or does within a month
	lapses string // day on which it or the experience runs out; empty: none
}

// heldLine says of a certificate what counts on a day.
func heldLine(c techlog.Certificate, today string) certificateLine {
	kind := certificateOf(c.Kind)
	l := certificateLine{Certificate: c, Title: kind.Name, lapses: c.Until}
	if c.Kind == techlog.MechanicCertificate && c.RecentUntil != "" && (l.lapses == "" || c.RecentUntil < l.lapses) {
		l.lapses = c.RecentUntil
	}
	words := slices.Clone(c.Ratings)
	if c.Grade != "" {
		words = append([]string{c.Grade}, words...)
	}
	l.Holds = strings.ReplaceAll(strings.Join(words, ", "), "-", " ")
	l.Says, l.Warns = lasts(c.From, c.Until, c.Ended, today)
	if c.Kind != techlog.MechanicCertificate || c.Ended {
		return l
	}
	switch {
	case c.RecentUntil == "":
		l.Says += ". Of recent experience nothing is on record"
		l.Warns = true
	case c.RecentUntil < today:
		l.Says += ". The experience on record ran out on " + dayWords(c.RecentUntil)
		l.Warns = true
	case today < c.RecentFrom:
		l.Says += ". The experience on record counts from " + dayWords(c.RecentFrom)
	default:
		l.Says += ". The experience on record lasts until " + dayWords(c.RecentUntil)
		l.Warns = l.Warns || apart(today, c.RecentUntil) <= soon
	}
	return l
}

// soon is how many days ahead a paper that runs out is marked.
const soon = 30

// lasts says for how long something is in force, and whether somebody should look after it. Days are YYYY-MM-DD.
func lasts(from, until string, ended bool, today string) (string, bool) {
	days := 0
	if until != "" {
		days = apart(today, until)
	}
	switch {
	case ended:
		return "Withdrawn", false
	case today < from:
		return "Not in force before " + dayWords(from), false
	case until == "":
		return "In force, and does not run out by itself", false
	case days < 0:
		return fmt.Sprintf("Ran out on %s, %s ago", dayWords(until), plural(-days, "day")), true
	case days == 0:
		return "In force for the last day: it runs out tonight", true
	default:
		return fmt.Sprintf("In force until %s: %s left", dayWords(until), plural(days, "day")), days <= soon
	}
}

// apart counts the days from one day to another, as they are written; zero where one cannot be read.
func apart(from, until string) int {
	a, err := time.Parse(time.DateOnly, from)
	b, err2 := time.Parse(time.DateOnly, until)
	if err != nil || err2 != nil {
		return 0
	}
	return int(b.Sub(a).Hours() / 24)
}

// dayWords writes a day as everybody reads it.
func dayWords(day string) string {
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return t.Format("2 Jan 2006")
}

// standingLine is a standing in a list.
type standingLine struct {
	techlog.Standing
	Title string
	Of    string // the aircraft
	Says  string
}

// papersOf adds what the organization keeps of a person: certificates, those first that run out soonest, and standings.
func (p *pages) papersOf(v *visit, id techlog.ID, view *personView) error {
	list, err := everyOne(func(page hangar.Page) ([]techlog.Certificate, error) {
		return p.Service.Certificates(v, v.who, id, page)
	},
		func(c *techlog.Certificate) techlog.ID { return c.ID })
	if err != nil {
		return err
	}
	lines := byLapse(list, view.Today)
	for _, l := range lines {
		if l.Ended {
			view.Withdrawn = append(view.Withdrawn, l)
		} else {
			view.Certificates = append(view.Certificates, l)
		}
	}
	standings, err := everyOne(func(page hangar.Page) ([]techlog.Standing, error) { return p.Service.Standings(v, v.who, id, page) },
		func(s *techlog.Standing) techlog.ID { return s.ID })
	if err != nil {
		return err
	}
	if view.Fleet, err = p.wholeFleet(v); err != nil {
		return err
	}
	for _, s := range standings {
		if s.Ended {
			continue
		}
		line := standingLine{Standing: s, Title: string(s.Kind), Of: "every aircraft"}
		for _, c := range standingChoices {
			if c.Kind == s.Kind {
				line.Title = c.Name
			}
		}
		for i := range view.Fleet {
			if view.Fleet[i].ID == s.Aircraft {
				line.Of = view.Fleet[i].Registration
			}
		}
		line.Says = "Since " + dayWords(s.From)
		switch {
		case view.Today < s.From:
			line.Says = "From " + dayWords(s.From) + " on"
		case s.Until != "" && s.Until < view.Today:
			line.Says = "Until " + dayWords(s.Until) + ": no longer"
		case s.Until != "":
			line.Says += ", until " + dayWords(s.Until)
		}
		view.Standings = append(view.Standings, line)
	}
	view.Kinds, view.Stands = certificateChoices, standingChoices
	if view.Standing.From == "" {
		view.Standing.From = view.Today
	}
	return nil
}

// byLapse puts what runs out soonest first; what has run out stands before all, and what does not run out last.
func byLapse(list []techlog.Certificate, today string) []certificateLine {
	lines := eachOf(list, func(c techlog.Certificate) certificateLine { return heldLine(c, today) })
	key := func(l certificateLine) string {
		if l.lapses == "" {
			return "9999"
		}
		return l.lapses
	}
	slices.SortStableFunc(lines, func(a, b certificateLine) int { return cmp.Compare(key(a), key(b)) })
	return lines
}

// certificatesView lists everybody's certificates.
type certificatesView struct {
	Lines []certificateLine
	Soon  int // that have run out or do within a month
	Keeps bool
}

func (p *pages) showCertificates(v *visit) error {
	_, today, err := p.wall(v)
	if err != nil {
		return err
	}
	list, err := everyOne(func(page hangar.Page) ([]techlog.Certificate, error) {
		return p.Service.Certificates(v, v.who, techlog.ID{}, page)
	},
		func(c *techlog.Certificate) techlog.ID { return c.ID })
	if err != nil {
		return err
	}
	view := certificatesView{Keeps: v.who.May(techlog.KeepCertificates)}
	view.Lines = byLapse(slices.DeleteFunc(list, func(c techlog.Certificate) bool { return c.Ended }), today)
	for _, l := range view.Lines {
		if l.Warns {
			view.Soon++
		}
	}
	return p.showIn(v, ok, "certificates", frame{Title: "Certificates", Here: "more", Page: view})
}

// certificateView is the form for a certificate: a new one, or the next version of one.
type certificateView struct {
	refusal
	Person   techlog.ID
	Name     string
	Kind     certificateChoice
	Kinds    []certificateChoice
	Entry    techlog.Certificate
	New      bool
	Keeps    bool // the visitor may enter it
	Own      bool
	Versions []certificateLine // newest first
	Lasts    string            // whether and how long it is in force
	Done     bool
	Zone     *time.Location
}

// Has reports whether a rating is ticked.
func (w certificateView) Has(rating string) bool { return slices.Contains(w.Entry.Ratings, rating) }

// Trained reports whether it is ticked that the holder is trained for a category and class.
func (w certificateView) Trained(rating string) bool { return slices.Contains(w.Entry.Trained, rating) }

func (p *pages) showNewCertificate(v *visit) error {
	id, err := v.named("person")
	if err != nil {
		return err
	}
	if err := v.may(techlog.KeepCertificates); err != nil {
		return err
	}
	kind := certificateOf(techlog.CertificateKind(v.URL.Query().Get("kind")))
	return p.newCertificate(v, id, certificateView{Kind: kind})
}

func (p *pages) newCertificate(v *visit, id techlog.ID, view certificateView) error {
	m, err := p.Service.Member(v, v.who, id)
	if err != nil {
		return err
	}
	zone, today, err := p.wall(v)
	if err != nil {
		return err
	}
	if view.What == "" {
		view.Entry.From = today
	}
	view.Person, view.Name, view.New, view.Kinds, view.Zone = id, m.Name, true, certificateChoices, zone
	view.Own = v.who.Person == id
	view.Keeps = v.who.May(techlog.KeepCertificates) && !view.Own
	return p.showIn(v, view.code(), "certificate", frame{Title: "A certificate of " + m.Name, Here: "more", Page: view})
}

// entry reads a certificate from the form.
func (v *visit) certificate() techlog.Certificate {
	c := techlog.Certificate{
		Kind: techlog.CertificateKind(v.form.Get("kind")), Number: strings.TrimSpace(v.form.Get("number")), Grade: v.form.Get("grade"),
		Ratings: v.form["ratings"], Trained: v.form["trained"], From: v.form.Get("valid_from"), Until: v.form.Get("valid_until"),
		RecentFrom: v.form.Get("recent_from"), RecentUntil: v.form.Get("recent_until"),
	}
	return c
}

// certificateField names the fields of a certificate's faults as the form does.
func certificateField(field string) string {
	name, _, _ := strings.Cut(field, "[")
	return name
}

func (p *pages) addCertificate(v *visit) error {
	id, err := v.named("person")
	if err != nil {
		return err
	}
	m, err := p.Service.Member(v, v.who, id)
	if err != nil {
		return err
	}
	c := v.certificate()
	c.Person, c.Name = id, m.Name
	_, err = kept[techlog.ID](p.Service.KeepCertificate(v, v.who, c, v.once("", nil), keep(func(c techlog.Certificate) techlog.ID { return c.ID })))
	if a, ok := notTaken("keep", err, certificateField); ok {
		kind := certificateOf(c.Kind)
		return p.newCertificate(v, id, certificateView{refusal: a, Kind: kind, Entry: c})
	}
	if err != nil {
		return err
	}
	return v.goTo("/people/" + id.String() + "?done=certificate#certificates")
}

func (p *pages) showCertificate(v *visit) error {
	id, err := v.named("certificate")
	if err != nil {
		return err
	}
	return p.certificate(v, id, certificateView{Done: v.URL.Query().Get("done") != ""})
}

func (p *pages) certificate(v *visit, id techlog.ID, view certificateView) error {
	versions, err := p.Service.Certificate(v, v.who, id)
	if err != nil {
		return err
	}
	zone, today, err := p.wall(v)
	if err != nil {
		return err
	}
	last := versions[len(versions)-1]
	m, err := p.Service.Member(v, v.who, last.Person)
	if err != nil {
		return err
	}
	slices.Reverse(versions)
	view.Versions = eachOf(versions, func(c techlog.Certificate) certificateLine { return heldLine(c, today) })
	view.Kind = certificateOf(last.Kind)
	view.Person, view.Name, view.Zone, view.Lasts = last.Person, m.Name, zone, view.Versions[0].Says
	view.Own = v.who.Person == last.Person
	view.Keeps = v.who.May(techlog.KeepCertificates) && !view.Own && !last.Ended && !v.who.Person.IsZero()
	if view.What == "" || view.Stale {
		written := view.Entry
		view.Entry = last
		if view.Stale { // what somebody else has entered stands beside what was written
			written.Version = last.Version
			view.Entry = written
		}
	}
	view.Entry.Version = last.Version
	return p.showIn(v, view.code(), "certificate", frame{Title: view.Kind.Name + " of " + m.Name, Here: "more", Page: view})
}

// changeCertificate follows a certificate with another version, or withdraws it.
func (p *pages) changeCertificate(v *visit) error {
	id, err := v.named("certificate")
	if err != nil {
		return err
	}
	version, err := strconv.Atoi(v.form.Get("version"))
	if err != nil || version < 1 {
		return &techlog.Error{Kind: kindSyntax, Says: "the form does not say which version of the certificate was seen", Cause: err}
	}
	c := v.certificate()
	if v.form.Get("step") == "withdraw" {
		versions, err := p.Service.Certificate(v, v.who, id)
		if err != nil {
			return err
		}
		c = versions[len(versions)-1]
		c.Ended = true
	}
	c.ID, c.Version = id, version
	if c.Person, c.Name, err = p.holderOf(v, id); err != nil {
		return err
	}
	_, err = kept[techlog.ID](p.Service.KeepCertificate(v, v.who, c, v.once("", nil), keep(func(c techlog.Certificate) techlog.ID { return c.ID })))
	if a, ok := notTaken("keep", err, certificateField); ok {
		return p.certificate(v, id, certificateView{refusal: a, Entry: c})
	}
	if err != nil {
		return err
	}
	return v.goTo("/certificates/" + id.String() + "?done=yes")
}

func (p *pages) holderOf(v *visit, id techlog.ID) (techlog.ID, string, error) {
	versions, err := p.Service.Certificate(v, v.who, id)
	if err != nil {
		return techlog.ID{}, "", err
	}
	m, err := p.Service.Member(v, v.who, versions[0].Person)
	return versions[0].Person, m.Name, err
}

// keepStanding enters how a person stands to an aircraft, or ends that.
func (p *pages) keepStanding(v *visit) error {
	id, err := v.named("person")
	if err != nil {
		return err
	}
	m, err := p.Service.Member(v, v.who, id)
	if err != nil {
		return err
	}
	st := techlog.Standing{
		Person: id, Name: m.Name, Kind: techlog.StandingKind(v.form.Get("kind")), From: v.form.Get("valid_from"), Until: v.form.Get("valid_until"),
	}
	st.Aircraft, _ = techlog.ParseID(v.form.Get("aircraft"))
	what := "stand"
	if named := v.form.Get("standing"); named != "" {
		what = "unstand"
		if st, err = p.endedStanding(v, named, id); err != nil {
			return err
		}
	}
	_, err = kept[techlog.ID](p.Service.KeepStanding(v, v.who, st, v.once("", nil), keep(func(s techlog.Standing) techlog.ID { return s.ID })))
	if a, ok := notTaken(what, err, nil); ok {
		return p.person(v, id, personView{refusal: a, Standing: st})
	}
	if err != nil {
		return err
	}
	done := map[bool]string{true: "stands", false: "stands-no-more"}[what == "stand"]
	return v.goTo("/people/" + id.String() + "?done=" + done + "#standings")
}

// endedStanding is a standing of a person, as the form has seen it, with its end.
func (p *pages) endedStanding(v *visit, named string, person techlog.ID) (techlog.Standing, error) {
	id, ok := techlog.ParseID(named)
	version, err := strconv.Atoi(v.form.Get("version"))
	if !ok || err != nil {
		return techlog.Standing{}, &techlog.Error{Kind: kindSyntax, Says: "the form does not say which standing was seen", Cause: err}
	}
	versions, err := p.Service.Standing(v, v.who, id)
	if err != nil {
		return techlog.Standing{}, err
	}
	st := versions[len(versions)-1]
	if st.Person != person {
		return st, techlog.Errorf(techlog.KindNotFound, "there is no such standing of this person")
	}
	st.Ended, st.Version = true, version
	return st, nil
}
