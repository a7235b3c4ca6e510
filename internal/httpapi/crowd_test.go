package httpapi_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"net/http"
	"sync"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/proving"
)

// crowd is how many try the same step at once.
const crowd = 200

// rush sends one request many times at once, each time as another request.
func (c *crew) rush(t *testing.T, q asked) (winner answered) {
	t.Helper()
	answers := make([]answered, crowd)
	var all sync.WaitGroup
	for i := range answers {
		all.Go(func() { answers[i] = c.ask(t, q) })
	}
	all.Wait()
	won := 0
	for _, a := range answers {
		switch a.status {
		case http.StatusOK, http.StatusCreated:
			won++
			winner = a
		case http.StatusConflict, http.StatusPreconditionFailed:
		default:
			t.Errorf("%d %s, want one winner and 409 or 412 for the rest", a.status, a.body)
		}
	}
	if won != 1 {
		t.Fatalf("%s %s: %d winners of %d", q.method, q.path, won, crowd)
	}
	return winner
}

// TestEachStepHasOneWinner takes one squawk through its life, with a crowd at every step.
func TestEachStepHasOneWinner(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	c := r.crew(t)
	c.patience(t)
	s := c.report(t, dark)
	move := func(s client.Squawk, who techlog.Role, m client.SquawkMove) client.Squawk {
		got := c.rush(t, asked{
			method: "POST", path: at(s) + "/moves", body: marshal(t, m), header: ifMatch(s.Version), token: c.hands[who],
		})
		return decoded[client.FiledSquawk](t, got, http.StatusOK).Squawk
	}
	sign := func(s client.Squawk, who techlog.Role, a client.Act) client.Squawk {
		shown := decoded[client.ShownRecord](t, c.show(t, who, at(s), a), http.StatusOK)
		return *decoded[client.SignedRecord](t, c.rush(t, c.request(t, who, at(s), shown, a)), http.StatusCreated).Squawk
	}
	s = move(s, techlog.Mechanic, client.SquawkMove{Step: "confirm", Words: "Seen."})
	s = sign(s, techlog.Mechanic, c.byMechanic(outOfUse("deactivated")))
	s = sign(s, techlog.Pilot, c.byPilot(deferring()))
	s = sign(s, techlog.Mechanic, c.byMechanic(repaired()))
	s = sign(s, techlog.Mechanic, c.byMechanic(returning()))
	s = move(s, techlog.Pilot, client.SquawkMove{Step: "reopen", Words: "Dark again."})
	story := c.story(t, s)
	if s.State != "reported" || s.Version != 7 || len(story.History) != 7 || len(story.Signatures) != 4 {
		t.Errorf("%+v, %d entries, %d signatures", s, len(story.History), len(story.Signatures))
	}
	for i, e := range story.History {
		if e.Number != i+1 {
			t.Errorf("entry %d has number %d", i+1, e.Number)
		}
	}
}

// TestAnInspectionIsSignedOnce, however many try at once.
func TestAnInspectionIsSignedOnce(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	c.patience(t)
	act := c.byMechanic(annual())
	shown := decoded[client.ShownRecord](t, c.show(t, techlog.Mechanic, c.path(), act), http.StatusOK)
	c.rush(t, c.request(t, techlog.Mechanic, c.path(), shown, act))
	if list := decoded[client.Signatures](t, c.ask(t, asked{method: "GET", path: c.path() + "/signatures"}), 200); len(list.Signatures) != 1 {
		t.Errorf("%d signatures", len(list.Signatures))
	}
}

// patience gives the requests of a crowd the time that a slow machine takes for all of them.
func (c *crew) patience(t *testing.T) {
	t.Helper()
	c.exchange.handler = patient(c.rig)
}

// TestASignedRequestSentTwiceSignsOnce, though its proof is good once.
func TestASignedRequestSentTwiceSignsOnce(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	s := c.confirmed(t, dark)
	act := c.byMechanic(outOfUse("deactivated"))
	shown := decoded[client.ShownRecord](t, c.show(t, techlog.Mechanic, at(s), act), http.StatusOK)
	q := c.request(t, techlog.Mechanic, at(s), shown, act)
	q.header = maps.Clone(q.header)
	q.header["Idempotency-Key"] = "signed"
	challenge := client.ID(newID())
	q.body = marshal(t, client.Signing{Act: act, Digest: shown.Digest, Proof: client.Proof{
		Challenge: &challenge, Response: new(json.RawMessage(`{"id": "invented"}`)),
	}})
	first := c.ask(t, q)
	if first.status != http.StatusCreated || !bytes.Contains(first.body, []byte(`"proven":"passkey"`)) {
		t.Fatalf("%d %s", first.status, first.body)
	}
	asked := c.prover.Asked()
	sameAnswer(t, "signed twice", first, c.ask(t, q))
	if c.prover.Asked() != asked {
		t.Error("the proof was asked for again")
	}
	spent := c.confirmed(t, `{"kind": "inoperative", "unit": "ldg", "words": "dark"}`)
	shown = decoded[client.ShownRecord](t, c.show(t, techlog.Mechanic, at(spent), act), http.StatusOK)
	q = c.request(t, techlog.Mechanic, at(spent), shown, act)
	q.body = marshal(t, client.Signing{Act: act, Digest: shown.Digest, Proof: client.Proof{
		Challenge: &challenge, Response: new(json.RawMessage(`{"id": "invented"}`)),
	}})
	c.refused(t, "a spent passkey", c.ask(t, q), http.StatusForbidden, "unproven")
}

// TestSignedTwinsActOnce sends one signed request many times at once.
func TestSignedTwinsActOnce(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	s := c.confirmed(t, dark)
	act := c.byMechanic(outOfUse("deactivated"))
	shown := decoded[client.ShownRecord](t, c.show(t, techlog.Mechanic, at(s), act), http.StatusOK)
	q := c.request(t, techlog.Mechanic, at(s), shown, act)
	q.header = maps.Clone(q.header)
	q.header["Idempotency-Key"] = "twins"
	answers := make([]answered, 12)
	var all sync.WaitGroup
	for i := range answers {
		all.Go(func() { answers[i] = c.ask(t, q) })
	}
	all.Wait()
	fresh := 0
	for _, a := range answers {
		if a.status != http.StatusCreated || !bytes.Equal(a.body, answers[0].body) {
			t.Errorf("%d %s, want as the others", a.status, a.body)
		}
		if a.header.Get("Idempotency-Replayed") == "" {
			fresh++
		}
	}
	if story := c.story(t, s); fresh != 1 || len(story.Signatures) != 1 {
		t.Errorf("%d answers are the first, %d signatures", fresh, len(story.Signatures))
	}
}

// TestWhatIsSignedIsWhatWasShown: any other digest, act or version is refused, and so is a wrong proof; nothing is written.
func TestWhatIsSignedIsWhatWasShown(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	s := c.confirmed(t, dark)
	act := c.byMechanic(outOfUse("deactivated"))
	shown := decoded[client.ShownRecord](t, c.show(t, techlog.Mechanic, at(s), act), http.StatusOK)
	if digest := techlog.DigestOf(shown.Text); shown.Digest != hexOf(digest) {
		t.Errorf("the digest %s is not that of the text", shown.Digest)
	}
	good := c.request(t, techlog.Mechanic, at(s), shown, act)
	signing := func(change func(*client.Signing)) asked {
		q := good
		signing := client.Signing{Act: act, Digest: shown.Digest, Proof: client.Proof{Password: new(proving.Right)}}
		change(&signing)
		q.body = marshal(t, signing)
		return q
	}
	c.refused(t, "another digest", c.ask(t, signing(func(s *client.Signing) { s.Digest = hexOf([32]byte{1}) })), 412, "stale")
	c.refused(t, "another act", c.ask(t, signing(func(s *client.Signing) { s.Act.Done += " And more." })), 412, "stale")
	c.refused(t, "a wrong password", c.ask(t, signing(func(s *client.Signing) { s.Proof.Password = new("guess") })), 403, "unproven")
	c.refused(t, "no proof", c.ask(t, signing(func(s *client.Signing) { s.Proof.Password = nil })), 422, "invalid")
	c.refused(t, "once too often", c.ask(t, signing(func(s *client.Signing) { s.Proof.Password = new(proving.TooMany) })), 429, "rate-limited")
	unseen := good
	unseen.header = ifMatch(0)
	c.refused(t, "no version", c.ask(t, unseen), 412, "stale")
	stranger := good
	stranger.token = c.hands[techlog.Pilot]
	c.refused(t, "with another's certificate", c.ask(t, stranger), 403, "forbidden")
	stranger.token = c.other
	c.refused(t, "of another organization", c.ask(t, stranger), 404, "not-found")
	program := c.issue(t, techlog.Principal{Organization: c.club, Name: "a program", Roles: techlog.As(techlog.Mechanic)})
	stranger.token = program
	c.refused(t, "a program", c.ask(t, stranger), 403, "forbidden")
	if story := c.story(t, s); len(story.Signatures) != 0 || story.Squawk.Version != 2 {
		t.Errorf("something was written: %+v", story)
	}
	if got := c.ask(t, good); got.status != http.StatusCreated {
		t.Errorf("%d %s", got.status, got.body)
	}
}

// TestNobodyEntersOnesOwn: certificates and standings are entered by somebody else, who has the role for it.
func TestNobodyEntersOnesOwn(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	entry := client.CertificateEntry{
		Person: client.ID(c.persons[techlog.Administrator]), Name: "A. Dministrator", Kind: "mechanic", Number: "1", ValidFrom: "2026-01-01",
	}
	q := asked{method: "POST", path: "/v1/certificates", body: marshal(t, entry)}
	c.refused(t, "one's own", c.ask(t, q), 403, "forbidden")
	q.token = c.hands[techlog.Mechanic]
	c.refused(t, "without the role", c.ask(t, q), 403, "forbidden")
	q.token = c.issue(t, techlog.Principal{Organization: c.club, Name: "a program", Roles: techlog.As(techlog.Administrator)})
	c.refused(t, "by a program", c.ask(t, q), 403, "forbidden")
	entry.RecentFrom, entry.RecentUntil = new("2026-06-01"), new("2027-12-02")
	entry.Ratings, entry.Grade = &[]string{"airframe", "wings"}, new("private")
	q.token, q.body = c.hands[techlog.MaintenanceControl], marshal(t, entry)
	got := c.ask(t, q)
	if f := got.faults(t); len(f) != 3 || f[0] != "known-rating ratings[1]" || f[1] != "pilot-only grade" || f[2] != "within-18-months recent_until" {
		t.Errorf("%d %s", got.status, got.body)
	}
	if list := decoded[client.HeldCertificates](t, c.ask(t, asked{method: "GET", path: "/v1/certificates"}), 200); len(list.Certificates) != 3 {
		t.Errorf("%d certificates", len(list.Certificates))
	}
}
