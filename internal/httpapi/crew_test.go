package httpapi_test

import (
	"net/http"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/proving"
)

// crew is a fleet with people who hold certificates: a private pilot, and a mechanic with both ratings and an inspection
// authorization. The scheduler holds none.
type crew struct {
	*rig
	fleet
	pilot, mechanic, authorization client.ID // certificates
}

func (r *rig) crew(t *testing.T) *crew {
	t.Helper()
	r.staff(t)
	c := &crew{rig: r, fleet: r.fleet(t)}
	c.pilot = c.certificate(t, techlog.Pilot, client.CertificateEntry{
		Kind: "pilot", Number: "P-0000001", Grade: new("private"), Ratings: &[]string{"airplane single-engine-land"}, ValidFrom: "2020-01-01",
	})
	c.mechanic = c.certificate(t, techlog.Mechanic, client.CertificateEntry{
		Kind: "mechanic", Number: "M-0000002", Ratings: &[]string{"airframe", "powerplant"}, ValidFrom: "2015-01-01",
		RecentFrom: new("2026-06-01"), RecentUntil: new("2027-11-30"),
	})
	c.authorization = c.certificate(t, techlog.Mechanic, client.CertificateEntry{
		Kind: "inspection-authorization", Number: "M-0000002", ValidFrom: "2025-04-01", ValidUntil: new("2027-03-31"),
	})
	c.standing(t, techlog.Pilot, client.StandingEntry{Kind: "flies", ValidFrom: "2026-01-01"})
	c.standing(t, techlog.Mechanic, client.StandingEntry{Kind: "maintains", ValidFrom: "2026-01-01"})
	return c
}

// certificate has maintenance control enter a certificate of whoever has a role.
func (c *crew) certificate(t *testing.T, of techlog.Role, e client.CertificateEntry) client.ID {
	t.Helper()
	e.Person, e.Name = client.ID(c.persons[of]), "test "+string(of)
	return created[client.HeldCertificate](t, c.rig, asked{
		method: "POST", path: "/v1/certificates", body: marshal(t, e), token: c.hands[techlog.MaintenanceControl],
	}).Id
}

func (c *crew) standing(t *testing.T, of techlog.Role, e client.StandingEntry) client.ID {
	t.Helper()
	e.Person, e.Name = client.ID(c.persons[of]), "test "+string(of)
	return created[client.Standing](t, c.rig, asked{
		method: "POST", path: "/v1/standings", body: marshal(t, e), token: c.hands[techlog.MaintenanceControl],
	}).Id
}

// byMechanic is an act that the mechanic signs, of work on the airframe that the mechanic did and knows.
func (c *crew) byMechanic(a casefile.Act) casefile.Act {
	a.Certificate = c.mechanic.String()
	if a.Declared == nil {
		a.Declared = &casefile.Declared{Part: "airframe", DidWork: new(true), Understands: new(true), DoneBefore: new(true)}
	}
	return a
}

func (c *crew) byPilot(a casefile.Act) casefile.Act {
	a.Certificate = c.pilot.String()
	return a
}

// report files a squawk about a unit, as the pilot.
func (c *crew) report(t *testing.T, body string) client.Squawk {
	t.Helper()
	return created[client.FiledSquawk](t, c.rig, asked{
		method: "POST", path: "/v1/aircraft/" + c.aircraft.Id.String() + "/squawks", body: body, token: c.hands[techlog.Pilot],
	}).Squawk
}

// move takes a squawk through an unsigned step.
func (c *crew) move(t *testing.T, who techlog.Role, s client.Squawk, m client.SquawkMove) answered {
	t.Helper()
	return c.ask(t, asked{
		method: "POST", path: "/v1/squawks/" + s.Id.String() + "/moves", body: marshal(t, m), header: ifMatch(s.Version), token: c.hands[who],
	})
}

// confirmed is a reported squawk that the mechanic has confirmed.
func (c *crew) confirmed(t *testing.T, body string) client.Squawk {
	t.Helper()
	s := c.report(t, body)
	got := c.move(t, techlog.Mechanic, s, client.SquawkMove{Step: "confirm", Words: "Seen."})
	return decoded[client.FiledSquawk](t, got, http.StatusOK).Squawk
}

// show asks for what would be signed about a squawk.
func (c *crew) show(t *testing.T, who techlog.Role, path string, a casefile.Act) answered {
	t.Helper()
	return c.ask(t, asked{method: "POST", path: path + "/to-sign", body: marshal(t, map[string]any{"act": a}), token: c.hands[who]})
}

// request is the request to sign what has been shown.
func (c *crew) request(t *testing.T, who techlog.Role, path string, shown client.ShownRecord, a casefile.Act) asked {
	t.Helper()
	return asked{
		method: "POST", path: path + "/signatures", header: ifMatch(shown.Version), token: c.hands[who],
		body: marshal(t, client.Signing{Act: a, Digest: shown.Digest, Proof: client.Proof{Password: new(proving.Right)}}),
	}
}

// trySign shows and signs. The answer is that of the first of the two that refuses.
func (c *crew) trySign(t *testing.T, who techlog.Role, path string, a casefile.Act) answered {
	t.Helper()
	shown := c.show(t, who, path, a)
	if shown.status != http.StatusOK {
		return shown
	}
	return c.ask(t, c.request(t, who, path, decoded[client.ShownRecord](t, shown, http.StatusOK), a))
}

// sign shows and signs a step of a squawk, and gives the squawk as it then is.
func (c *crew) sign(t *testing.T, who techlog.Role, s client.Squawk, a casefile.Act) client.SignedRecord {
	t.Helper()
	return decoded[client.SignedRecord](t, c.trySign(t, who, at(s), a), http.StatusCreated)
}

func at(s client.Squawk) string { return "/v1/squawks/" + s.Id.String() }

// refused holds that something cannot be signed, and why.
func (c *crew) refused(t *testing.T, what string, got answered, status int, kind string) {
	t.Helper()
	if got.status != status || got.problem(t).Type != "urn:tiedown:problem:"+kind {
		t.Errorf("%s: %d %s, want %d %s", what, got.status, got.body, status, kind)
	}
}

func (c *crew) story(t *testing.T, s client.Squawk) client.SquawkStory {
	t.Helper()
	return decoded[client.SquawkStory](t, c.ask(t, asked{method: "GET", path: at(s)}), http.StatusOK)
}

// verdict is the verdict on the flight at night as it stands.
func (c *crew) verdict(t *testing.T, flight client.ID) client.Verdict {
	t.Helper()
	return decoded[client.Flight](t, c.ask(t, asked{method: "GET", path: "/v1/flights/" + flight.String()}), http.StatusOK).Hold.Verdict
}
