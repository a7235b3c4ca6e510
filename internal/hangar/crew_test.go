package hangar_test

import (
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/regulation"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/proving"
)

// member is somebody with what the club keeps of that person's certificates. The first is the one to sign by.
type member struct {
	techlog.Principal
	certificates []techlog.ID
}

// sign makes a service with somebody who proves who signs.
func (c *club) withProver() {
	c.t.Helper()
	book, err := regulation.Current()
	if err != nil {
		c.t.Fatal(err)
	}
	c.service = hangar.New(hangar.Settings{
		Store: c.store, Prover: &proving.Prover{}, Book: hangar.Book{Rules: book.Ruleset, Digest: book.Digest}, Now: c.clock, NewID: newID,
	})
	c.who.Person = newID()
}

// enroll enters a person with certificates, who may fly and maintain the club's aircraft, and operates them.
func (c *club) enroll(name string, certificates ...techlog.Certificate) member {
	c.t.Helper()
	m := member{Principal: techlog.Principal{Organization: c.who.Organization, Person: newID(), Token: newID(), Name: name, Roles: techlog.As(techlog.Mechanic)}}
	c.welcome(m.Person, name)
	for _, k := range certificates {
		k.Person, k.Name, k.From = m.Person, name, "2020-01-01"
		if k.Number == "" {
			k.Number = "0000001"
		}
		c.must(c.service.KeepCertificate(c.t.Context(), c.who, k, nil, keep(&k)))
		m.certificates = append(m.certificates, k.ID)
	}
	for _, kind := range []techlog.StandingKind{techlog.Operates, techlog.Maintains, techlog.Flies} {
		c.must(c.service.KeepStanding(c.t.Context(), c.who, techlog.Standing{Person: m.Person, Name: name, Kind: kind, From: "2020-01-01"}, nil, keep(&techlog.Standing{})))
	}
	return m
}

// welcome makes somebody a member.
func (c *club) welcome(person techlog.ID, name string) {
	c.t.Helper()
	account := techlog.Account{ID: person, Email: techlog.Email(person.String() + "@club.example"), Name: name, At: c.clock()}
	link, _ := hangar.NewPasswordLink(person, c.clock(), time.Hour, true)
	in := people.NewMember{Organization: c.who.Organization, Name: name, Roles: techlog.As(techlog.Mechanic), By: "the test"}
	if err := c.store.AddAccount(c.t.Context(), account, link, &in); err != nil {
		c.t.Fatal(err)
	}
}

func pilotOf(grade string, ratings ...string) techlog.Certificate {
	return techlog.Certificate{Kind: techlog.PilotCertificate, Grade: grade, Ratings: ratings}
}

func mechanicOf(ratings ...string) techlog.Certificate {
	return techlog.Certificate{Kind: techlog.MechanicCertificate, Ratings: ratings, RecentFrom: "2026-12-01", RecentUntil: "2028-05-31"}
}

// by is an act that somebody signs by the first certificate, with every fact of the work declared.
func (m member) by(a casefile.Act) casefile.Act {
	id := newID()
	if len(m.certificates) > 0 {
		id = m.certificates[0]
	}
	a.Certificate = id.String()
	yes, no := true, false
	a.Declared = &casefile.Declared{
		Part: "airframe", DidWork: &yes, Understands: &yes, DoneBefore: &yes, Rated: &yes, Equipped: &yes, WithinLimits: &yes, Complex: &no,
	}
	if a.Work == "preventive-maintenance" {
		a.Declared.Paragraph = 17
	}
	if a.Action == "inspect" {
		a.Declared.Part = ""
	}
	return a
}

// sign shows and signs what somebody signs about a squawk, or about the aircraft.
func (c *club) sign(m member, squawk techlog.ID, a casefile.Act) hangar.Signed {
	c.t.Helper()
	t := hangar.ToSign{Aircraft: c.aircraft, Squawk: squawk, Act: m.by(a)}
	shown, err := c.service.Preview(c.t.Context(), m.Principal, t)
	if err != nil {
		c.t.Fatalf("%s %s: %v", m.Name, a.Action, err)
	}
	t.Version = shown.Version
	var signed hangar.Signed
	c.must(c.service.Sign(c.t.Context(), m.Principal, hangar.Signing{ToSign: t, Digest: shown.Digest, Proof: hangar.Proof{Password: proving.Right}}, nil, keep(&signed)))
	return signed
}

// confirm has the squawk confirmed as reported.
func (c *club) confirm(squawk techlog.ID) {
	c.t.Helper()
	c.must(c.service.MoveSquawk(c.t.Context(), c.who, hangar.Move{Squawk: squawk, Version: 1, Step: techlog.StepConfirm, Words: "Seen."}, nil, keep(&hangar.FiledSquawk{})))
}

// actsOn are whole acts, on the day on which every story begins. considered are the other open squawks.
func actsOn(considered []string, corrects techlog.ID) map[string]casefile.Act {
	until, yes, no, hours := noon.Add(20*24*time.Hour), true, false, 4000.0
	const today = "2027-01-10"
	inspect := func(kind string) casefile.Act {
		return casefile.Act{Action: "inspect", Inspection: kind, Extent: "whole", Completed: today, TotalTimeHours: &hours, Airworthy: &yes}
	}
	work := func(kind string) casefile.Act {
		return casefile.Act{Action: "work", Work: kind, Result: "repaired", Found: "open circuit", Done: "mended", Data: "manual", Completed: today}
	}
	acts := map[string]casefile.Act{
		"out-of-use": {Action: "out-of-use", Method: "deactivated", Placard: "Inoperative", Done: "isolated", Completed: today},
		"defer": {
			Action: "defer", Basis: casefile.ByRule, Method: "deactivated", Placard: "Inoperative", Entry: "log 1", Until: &until, Considered: considered,
		},
		"extend":       {Action: "extend", Until: &until, ExtendedUntil: "2027-01-20", Data: "program"},
		"carry-on":     {Action: "carry-on", Until: &until, Found: "as it was", Inspection: "annual-inspection", Considered: considered},
		"work":         work("repair"),
		"preventive":   work("preventive-maintenance"),
		"return":       {Action: "return-to-service", Done: "mended", Completed: today, CheckFlightRequired: &no},
		"check-flight": {Action: "check-flight", Done: "flies as before", Completed: today},
		"correct":      {Action: "correct", Corrects: corrects.String(), Words: "the data were revision B"},
		"annual":       inspect("annual-inspection"), "hundred-hour": inspect("hundred-hour-inspection"),
	}
	for _, kind := range []string{"static-system-test", "altimeter-and-static-test", "transponder-test"} {
		acts[kind] = casefile.Act{Action: "inspect", Inspection: kind, Extent: "appendices E and F", Completed: today}
	}
	return acts
}

// at is what is signed about a squawk, whoever asks.
func (c *club) preview(m member, squawk techlog.ID, a casefile.Act) error {
	_, err := c.service.Preview(c.t.Context(), m.Principal, hangar.ToSign{Aircraft: c.aircraft, Squawk: squawk, Act: m.by(a)})
	return err
}

func labelOf(number int) string { return (&techlog.Squawk{Number: number}).Label() }

// kindOf is the kind of an error as the tables write it.
func kindOf(t *testing.T, err error) string {
	t.Helper()
	switch kind := techlog.KindOf(err); {
	case err == nil:
		return "yes"
	case kind == techlog.KindForbidden:
		return "no"
	case kind == "":
		t.Errorf("an error without a kind: %v", err)
		return "broken"
	default:
		return string(kind)
	}
}
