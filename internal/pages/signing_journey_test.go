package pages_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"

	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// proves signs what is shown, by the password.
func (b *tab) proves(word string) {
	b.t.Helper()
	b.fill("#password", word)
	b.press("form.proof .send button:not([type])")
}

// declares ticks everything that a mechanic declares of work on the airframe.
func (b *tab) declares(names ...string) {
	b.t.Helper()
	b.do(setSelect("#declared-part", "airframe"))
	for _, name := range names {
		b.click("input[name='declared." + name + "']")
	}
}

// TestTheMechanicsJob walks the whole job at every width, by day and by night, with and without script: a mechanic confirms a
// squawk, puts the item out of use and defers it, with a wrong password on the way; the next pilot sees it placarded; another
// mechanic replaces it and returns it to service, and the flight is released.
func TestTheMechanicsJob(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	base := c.base("WILLOW", "Willow")
	for i, l := range walks() {
		mark := fmt.Sprintf("N0%02dTW", 40+i)
		aircraft := c.enter(base, mark, "Tansy 140 Trainer")
		flight := c.plan(aircraft, base, 20, "Pattern work")
		squawk := c.squawk(aircraft, "landing-light", "Landing light does not come on.")
		t.Run(l.String(), func(t *testing.T) {
			t.Parallel()
			b := c.tab(t, l)
			b.signIn(mechanic)
			b.open("/squawks/" + squawk.String())
			b.says("#sign", "Not yet")
			b.click("#moves details:first-of-type summary")
			b.fill("#move-words", "Filament broken.")
			b.press("#moves details:first-of-type button")
			b.says("#moved", "Confirmed.")

			b.press("a[href$='/sign/out-of-use']")
			b.declares("did_work", "understands", "done_before")
			b.press(".act > .send button")
			b.says(".paper", "Landing light", "Inoperative", "Put out of use and placarded", "To be signed by Juniper Larkspur, mechanic certificate 0000001 (invented)")
			if l.script { // axe-core is one
				b.isAccessible("what is signed", l)
			}
			b.fits("what is signed")
			b.shoot("what is signed " + l.String())
			b.proves("not this one")
			b.says("#fault-password", "Nothing was signed")
			b.says(".paper", "Put out of use and placarded")
			b.proves(password)
			b.says(".done", "Signed: Out of use: deactivated.", "not undone")

			b.press("a[href$='/sign/defer']")
			b.press(".act > .send button")
			b.proves(password)
			b.says(".done", "Signed: Deferred, and determined to be no hazard.", "1 planned flight released.")
			c.holds(t, flight, "clear")

			next := c.tab(t, l)
			next.signIn(pilot)
			next.open("/aircraft/" + aircraft.String())
			next.press("a[href$='/deferred']")
			next.says(".brief", "Landing light", "Inoperative", "deactivated", "Juniper Larkspur, mechanic certificate")
			next.open("/squawks/" + squawk.String())
			if eval[bool](next, `document.querySelector("a[href$='/sign/work']") !== null`) {
				t.Error("a pilot is offered what needs a mechanic")
			}
			next.says("#sign", "Enter work", "Who may")

			second := c.tab(t, l)
			second.signIn(another)
			second.open("/squawks/" + squawk.String())
			second.press("a[href$='/sign/work']")
			second.do(setSelect("#work", "replace"), setSelect("#result", "repaired"))
			second.fill("#done", "Lamp replaced, checked on the ground.")
			second.declares("understands")
			second.press(".act > .send button")
			second.proves(password)
			second.says(".done", "Signed: Work: removal and replacement, repaired.")
			second.press("a[href$='/sign/return-to-service']")
			second.click("input[name=check_flight_required][value=no] + span")
			second.declares("did_work", "understands", "done_before")
			second.press(".act > .send button")
			second.proves(password)
			second.says(".done", "Signed: Returned to service.")
			second.says("#story", "Lamp replaced, checked on the ground.", "signed by Rowan Sedge", "signed by Juniper Larkspur")
			if l.script {
				second.do(openDetails())
				second.isAccessible("a story with signatures", l)
			}
			if q := c.one(squawk); q.State != techlog.Closed {
				t.Errorf("%+v", q)
			}
			c.holds(t, flight, "clear")
		})
	}
}

// holds holds what a planned flight is judged to be.
func (c *club) holds(t *testing.T, flight techlog.ID, want string) {
	t.Helper()
	held, err := c.service.Flight(t.Context(), c.who, flight)
	if err != nil || held.Flight.Hold.Verdict != want {
		t.Errorf("the flight is %s, want %s (%v)", held.Flight.Hold.Verdict, want, err)
	}
}

// TestAPasskeySigns holds that a signature is proved by a passkey where the signer has one and the browser runs scripts.
func TestAPasskeySigns(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	squawk := c.confirmed(aircraft, "landing-light", "Left light dark.")
	b := c.tab(t, look{390, 844, "light", true})
	_, err := chromedp.Call(b.ctx, webauthn.Enable, webauthn.EnableParams{})
	b.must(err)
	_, err = chromedp.Call(b.ctx, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{Options: &webauthn.VirtualAuthenticatorOptions{
		Protocol: webauthn.AuthenticatorProtocolCtap2, Transport: webauthn.AuthenticatorTransportInternal, HasResidentKey: true, HasUserVerification: true,
		AutomaticPresenceSimulation: true, IsUserVerified: true,
	}})
	b.must(err)
	localhost := strings.Replace(c.server.URL, "127.0.0.1", "localhost", 1) // passkeys of a loopback address are those of localhost
	b.do(chromedp.Navigate(localhost + "/sign-in"))
	b.fill("#email", mechanic)
	b.fill("#password", password)
	b.press("form button")

	in, err := c.people.SignIn(t.Context(), mechanic, password, people.From{})
	b.must(err)
	asked, err := c.people.BeginPasskey(t.Context(), in.Session.Account.ID, hangar.Proof{Password: password})
	b.must(err)
	made := eval[string](b, `(async () => { const o = `+string(asked.Options)+`; const k = await navigator.credentials.create({publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(o.publicKey || o)}); return JSON.stringify(k.toJSON()); })()`, chromedp.EvalAwaitPromise)
	_, _, err = c.people.AddPasskey(t.Context(), in.Session, people.Registration{Challenge: asked.Challenge, Name: "mine", Response: json.RawMessage(made)})
	b.must(err)

	b.do(chromedp.Navigate(localhost + "/squawks/" + squawk.String() + "/sign/out-of-use"))
	b.declares("did_work", "understands", "done_before")
	b.press(".act > .send button")
	b.isAccessible("signing with a passkey", look{390, 844, "light", true})
	b.shoot("what is signed with a passkey 390 light")
	b.press(".by-passkey button")
	b.says(".done", "Signed: Out of use: deactivated.")
	story, err := c.service.Squawk(t.Context(), c.who, squawk)
	if err != nil || len(story.Signatures) != 1 || story.Signatures[0].Proven != string(hangar.ByPasskey) {
		t.Errorf("%+v, %v", story.Signatures, err)
	}
}
