package hangar

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Certificates lists what the organization keeps of a person's certificates, or of everybody's.
func (s *Service) Certificates(ctx context.Context, who techlog.Principal, person techlog.ID, p Page) ([]techlog.Certificate, error) {
	return s.store.Certificates(ctx, who.Organization, person, p)
}

// Certificate lists the versions of one certificate, oldest first. Kind not-found.
func (s *Service) Certificate(ctx context.Context, who techlog.Principal, id techlog.ID) ([]techlog.Certificate, error) {
	versions, err := s.store.CertificateVersions(ctx, who.Organization, id)
	if err == nil && len(versions) == 0 {
		err = techlog.Errorf(techlog.KindNotFound, "there is no such certificate")
	}
	return versions, err
}

// Standings lists how a person stands to the aircraft, or everybody.
func (s *Service) Standings(ctx context.Context, who techlog.Principal, person techlog.ID, p Page) ([]techlog.Standing, error) {
	return s.store.Standings(ctx, who.Organization, person, p)
}

// Standing lists the versions of one standing, oldest first. Kind not-found.
func (s *Service) Standing(ctx context.Context, who techlog.Principal, id techlog.ID) ([]techlog.Standing, error) {
	versions, err := s.store.StandingVersions(ctx, who.Organization, id)
	if err == nil && len(versions) == 0 {
		err = techlog.Errorf(techlog.KindNotFound, "there is no such standing")
	}
	return versions, err
}

// mayEnter asks for a person who may, and not the one whom it concerns: somebody else has to have seen the paper.
func mayEnter(who techlog.Principal, concerns techlog.ID) error {
	if err := who.Require(techlog.KeepCertificates); err != nil {
		return err
	}
	switch who.Person {
	case techlog.ID{}:
		return techlog.Errorf(techlog.KindForbidden, "a person enters this, not a program")
	case concerns:
		return techlog.Errorf(techlog.KindForbidden, "nobody enters what concerns oneself: somebody else looks at the paper and does")
	}
	return nil
}

// KeepCertificate enters a certificate, or follows one with another version: c.Version is the version that was seen,
// zero for a new one. Kinds forbidden, invalid, stale, conflict, not-found.
func (s *Service) KeepCertificate(ctx context.Context, who techlog.Principal, c techlog.Certificate, once *Once, render Render[techlog.Certificate]) ([]byte, error) {
	if err := mayEnter(who, c.Person); err != nil {
		return nil, err
	}
	return s.unlessAnswered(ctx, who, once, func() ([]byte, error) { return s.keepCertificate(ctx, who, c, once, render) })
}

func (s *Service) keepCertificate(ctx context.Context, who techlog.Principal, c techlog.Certificate, once *Once, render Render[techlog.Certificate]) ([]byte, error) {
	if c.Version > 0 {
		versions, err := s.Certificate(ctx, who, c.ID)
		if err != nil {
			return nil, err
		}
		last := versions[len(versions)-1]
		if last.Version != c.Version {
			return nil, techlog.Errorf(techlog.KindStale, "the certificate was changed meanwhile: it is at version %d", last.Version)
		}
		if err := mayEnter(who, last.Person); err != nil {
			return nil, err
		}
		c.Person, c.Kind = last.Person, last.Kind
	} else {
		c.ID = s.newID()
	}
	if err := checkCertificate(&c, s.book.Rules); err != nil {
		return nil, err
	}
	c.Version++
	c.EnteredBy, c.By, c.At = who.Person, who.Name, s.now()
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: c.At, Once: once}, func(ctx context.Context, tx Tx) ([]byte, error) {
		if c.Version == 1 {
			if err := isMember(ctx, tx, c.Person); err != nil {
				return nil, err
			}
		}
		tx.AddCertificate(c)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "certificate.kept", Subject: c.ID, At: c.At})
		return render(c)
	})
}

// KeepStanding enters how a person stands to an aircraft, or follows that with another version; as KeepCertificate.
func (s *Service) KeepStanding(ctx context.Context, who techlog.Principal, st techlog.Standing, once *Once, render Render[techlog.Standing]) ([]byte, error) {
	if err := mayEnter(who, st.Person); err != nil {
		return nil, err
	}
	return s.unlessAnswered(ctx, who, once, func() ([]byte, error) { return s.keepStanding(ctx, who, st, once, render) })
}

func (s *Service) keepStanding(ctx context.Context, who techlog.Principal, st techlog.Standing, once *Once, render Render[techlog.Standing]) ([]byte, error) {
	if st.Version > 0 {
		versions, err := s.Standing(ctx, who, st.ID)
		if err != nil {
			return nil, err
		}
		last := versions[len(versions)-1]
		if last.Version != st.Version {
			return nil, techlog.Errorf(techlog.KindStale, "the standing was changed meanwhile: it is at version %d", last.Version)
		}
		if err := mayEnter(who, last.Person); err != nil {
			return nil, err
		}
		st.Person, st.Kind, st.Aircraft = last.Person, last.Kind, last.Aircraft
	} else {
		st.ID = s.newID()
	}
	if err := checkStanding(&st); err != nil {
		return nil, err
	}
	st.Version++
	st.EnteredBy, st.By, st.At = who.Person, who.Name, s.now()
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: st.At, Once: once}, func(ctx context.Context, tx Tx) ([]byte, error) {
		if st.Version == 1 {
			if err := isMember(ctx, tx, st.Person); err != nil {
				return nil, err
			}
		}
		tx.AddStanding(st)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "standing.kept", Aircraft: st.Aircraft, Subject: st.ID, At: st.At})
		return render(st)
	})
}

// isMember refuses what is kept of somebody who is not in the organization. What was kept of somebody who has left may
// still be followed, so that it can be ended.
func isMember(ctx context.Context, tx Tx, person techlog.ID) error {
	m, err := tx.Member(ctx, person)
	if techlog.KindOf(err) == techlog.KindNotFound || err == nil && !m.Until.IsZero() {
		return casefile.Faults{{
			Field: "person", Rule: "member", Says: "it is nobody of the organization", Remedy: "take the person from the list of members, or add one",
		}}
	}
	return err
}

// unlessAnswered runs a request that looks at records before its change does, unless it has been answered before: by a
// twin that came first, or by one that was quicker and made of it what it now runs into.
func (s *Service) unlessAnswered(ctx context.Context, who techlog.Principal, once *Once, run func() ([]byte, error)) ([]byte, error) {
	if once == nil {
		return run()
	}
	if answer, err := s.store.Answered(ctx, who.Organization, *once); err != nil || answer != nil {
		return answer, err
	}
	answer, err := run()
	if err == nil {
		return answer, nil
	}
	if earlier, failed := s.store.Answered(ctx, who.Organization, *once); failed == nil && earlier != nil {
		return earlier, nil
	}
	return nil, err
}

// recencyMonths is how long experience lasts at most: of the 6 months that 14 CFR 65.83 asks for within the preceding 24,
// all lie within them as long as no more than 18 have gone by since the last (reading of the rule).
const recencyMonths = 18

// ratingsOf are the words that the ratings of a certificate may have.
func ratingsOf(kind techlog.CertificateKind) []string {
	switch kind {
	case techlog.PilotCertificate:
		return airworthiness.PilotRatings()
	case techlog.MechanicCertificate:
		return []string{"airframe", "powerplant"}
	case techlog.RepairStation:
		return airworthiness.Vocabulary("repair_station")
	case techlog.Repairman:
		return airworthiness.Vocabulary("repairman")
	default:
		return nil // an inspection authorization has none
	}
}

func checkCertificate(c *techlog.Certificate, rules *airworthiness.Ruleset) error {
	var bad casefile.Faults
	checkHeld(c.Person, c.Name, c.From, c.Until, &bad)
	if !slices.Contains(techlog.CertificateKinds(), c.Kind) {
		bad.Add("kind", "known-kind", fmt.Sprintf("%q is no kind of certificate", c.Kind), "use one of the kinds of the contract")
	}
	if strings.TrimSpace(c.Number) == "" {
		bad.Add("number", "required", "the number is missing", "give the number that stands on the certificate")
	}
	checkRatings("ratings", c.Ratings, ratingsOf(c.Kind), &bad)
	trains := []string(nil)
	if c.Kind == techlog.Repairman {
		trains = airworthiness.PilotRatings()
	}
	checkRatings("trained", c.Trained, trains, &bad)
	switch pilot := c.Kind == techlog.PilotCertificate; {
	case pilot && !slices.Contains(airworthiness.PilotGrades(), c.Grade):
		bad.Add("grade", "known-grade", fmt.Sprintf("%q is no grade of a pilot certificate", c.Grade), "use one of "+strings.Join(airworthiness.PilotGrades(), ", "))
	case !pilot && c.Grade != "":
		bad.Add("grade", "pilot-only", "only a pilot certificate has a grade", "leave it out")
	}
	if c.Kind == techlog.InspectionAuthorization && c.Until == "" {
		bad.Add("valid_until", "required", fmt.Sprintf("an inspection authorization always runs out (%s)", rules.Citation("annual-ia")), "give its last day")
	}
	checkRecency(c, rules.Citation("mechanic-not-recent"), &bad)
	return bad.Err()
}

func checkRatings(field string, ratings, known []string, bad *casefile.Faults) {
	for i, r := range ratings {
		if !slices.Contains(known, r) || slices.Contains(ratings[:i], r) {
			bad.Add(fmt.Sprintf("%s[%d]", field, i), "known-rating", fmt.Sprintf("%q is none of its ratings, or stands twice", r), "use each once: "+orNone(known))
		}
	}
}

func checkRecency(c *techlog.Certificate, rule string, bad *casefile.Faults) {
	if c.RecentFrom == "" && c.RecentUntil == "" {
		return
	}
	from, ok := checkDay("recent_from", c.RecentFrom, bad)
	_, okUntil := checkDay("recent_until", c.RecentUntil, bad)
	if !ok || !okUntil {
		return
	}
	switch {
	case c.Kind != techlog.MechanicCertificate:
		bad.Add("recent_from", "mechanic-only", fmt.Sprintf("recent experience is asked of mechanics (%s)", rule), "leave it out")
	case c.RecentUntil < c.RecentFrom:
		bad.Add("recent_until", "after-from", "the experience covers no day", "give a last day on or after the first")
	case c.RecentUntil > from.AddDate(0, recencyMonths, 0).Format(time.DateOnly):
		bad.Add("recent_until", "within-18-months", fmt.Sprintf("experience seen on a day suffices for 18 months from it at most: 6 months of 24 (%s)", rule), "give a day within 18 months of recent_from")
	}
}

func checkDay(field, day string, bad *casefile.Faults) (time.Time, bool) {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		bad.Add(field, "date", fmt.Sprintf("%q is no date", day), "write it as YYYY-MM-DD")
	}
	return at, err == nil
}

func checkHeld(person techlog.ID, name, from, until string, bad *casefile.Faults) {
	if person.IsZero() {
		bad.Add("person", "required", "nobody is named", "give the identifier of the person")
	}
	if strings.TrimSpace(name) == "" {
		bad.Add("name", "required", "nobody is named", "give the person's name")
	}
	_, ok := checkDay("valid_from", from, bad)
	if until == "" {
		return
	}
	if _, okUntil := checkDay("valid_until", until, bad); ok && okUntil && until < from {
		bad.Add("valid_until", "after-from", "it ends before it begins", "give a last day on or after the first")
	}
}

func checkStanding(st *techlog.Standing) error {
	var bad casefile.Faults
	checkHeld(st.Person, st.Name, st.From, st.Until, &bad)
	if !slices.Contains(techlog.StandingKinds(), st.Kind) {
		bad.Add("kind", "known-kind", fmt.Sprintf("%q is no standing", st.Kind), "use one of the kinds of the contract")
	}
	if st.Aircraft.IsZero() && (st.Kind == techlog.Owns || st.Kind == techlog.Built || st.Kind == techlog.Manufactured) {
		bad.Add("aircraft", "required", "this is said of one aircraft", "name it")
	}
	return bad.Err()
}
