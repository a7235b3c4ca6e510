package people_test

import (
	"crypto/sha256"
	"encoding/json"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/authenticator"
)

var digest = sha256.Sum256([]byte("what is signed"))

// answer gets a passkey's answer to a fresh challenge about a digest.
func (r *rig) answer(who techlog.Principal, device *authenticator.Authenticator, about [32]byte) hangar.Proof {
	r.t.Helper()
	asked, err := r.BeginProof(r.t.Context(), who, about)
	if err != nil {
		r.t.Fatal(err)
	}
	response, err := device.Get(asked.Options)
	if err != nil {
		r.t.Fatal(err)
	}
	return hangar.Proof{Passkey: &hangar.PasskeyProof{Challenge: asked.Challenge, Response: response}}
}

func TestAPasswordProvesWhoSigns(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	who := s.Principal()
	if how, err := r.Prove(t.Context(), who, hangar.Proof{Password: secret}, digest); how != hangar.ByPassword || err != nil {
		t.Errorf("%s, %v", how, err)
	}
	_, err := r.Prove(t.Context(), who, hangar.Proof{Password: "another password"}, digest)
	wantKind(t, "a wrong password", err, techlog.KindUnproven)
	_, err = r.Prove(t.Context(), who, hangar.Proof{}, digest)
	wantKind(t, "nothing", err, techlog.KindUnproven)
	_, err = r.Prove(t.Context(), techlog.Principal{Organization: r.club, Token: newID(), Roles: techlog.Roles()}, hangar.Proof{Password: secret}, digest)
	wantKind(t, "a program", err, techlog.KindForbidden)
	_, err = r.BeginProof(t.Context(), who, digest)
	wantKind(t, "a challenge without a passkey", err, techlog.KindConflict)
}

func TestWrongProofsLock(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	who := s.Principal()
	for range 5 {
		_, err := r.Prove(t.Context(), who, hangar.Proof{Password: "another password"}, digest)
		wantKind(t, "a wrong password", err, techlog.KindUnproven)
	}
	_, err := r.Prove(t.Context(), who, hangar.Proof{Password: secret}, digest)
	wantKind(t, "the right one while it is locked", err, techlog.KindRateLimited)
	_, err = r.SignIn(t.Context(), mail, secret, from)
	wantKind(t, "signing in while it is locked", err, techlog.KindRateLimited)
	r.at = r.at.Add(31 * time.Second)
	if _, err := r.Prove(t.Context(), who, hangar.Proof{Password: secret}, digest); err != nil {
		t.Errorf("the right one after the lock: %v", err)
	}
}

// TestAPasskeyProvesWhoSignsWhat holds that an answer is good once, for a few minutes, for its digest and its person.
func TestAPasskeyProvesWhoSignsWhat(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	who := s.Principal()
	device, _, _ := r.withPasskey(s)
	good := r.answer(who, device, digest)
	if how, err := r.Prove(t.Context(), who, good, digest); how != hangar.ByPasskey || err != nil {
		t.Fatalf("%s, %v", how, err)
	}
	_, err := r.Prove(t.Context(), who, good, digest)
	wantKind(t, "the same answer again", err, techlog.KindUnproven)

	_, err = r.Prove(t.Context(), who, r.answer(who, device, sha256.Sum256([]byte("something else"))), digest)
	wantKind(t, "an answer about something else", err, techlog.KindUnproven)

	late := r.answer(who, device, digest)
	r.at = r.at.Add(5*time.Minute + time.Second)
	_, err = r.Prove(t.Context(), who, late, digest)
	wantKind(t, "an answer that comes late", err, techlog.KindUnproven)

	both := r.answer(who, device, digest)
	both.Password = secret
	_, err = r.Prove(t.Context(), who, both, digest)
	wantKind(t, "an answer and a password", err, techlog.KindUnproven)
	r.at = r.at.Add(time.Hour)

	other := r.add("finch@club.example", "Finch Arden", r.club, "quite another long secret")
	_, err = r.Prove(t.Context(), techlog.Principal{Person: other.ID}, r.answer(who, device, digest), digest)
	wantKind(t, "another's answer", err, techlog.KindUnproven)

	// The answer to one challenge is not the answer to another about the same.
	first, second := r.answer(who, device, digest), r.answer(who, device, digest)
	first.Passkey.Response = second.Passkey.Response
	_, err = r.Prove(t.Context(), who, first, digest)
	wantKind(t, "the answer to another challenge", err, techlog.KindUnproven)

	// What the authenticator signs holds the digest itself.
	challenge, err := authenticator.Challenge(r.options(who, digest))
	if err != nil || len(challenge) != 64 || string(challenge[32:]) != string(digest[:]) {
		t.Errorf("the challenge %x does not hold the digest; %v", challenge, err)
	}
}

func (r *rig) options(who techlog.Principal, about [32]byte) json.RawMessage {
	r.t.Helper()
	asked, err := r.BeginProof(r.t.Context(), who, about)
	if err != nil {
		r.t.Fatal(err)
	}
	return asked.Options
}

func TestMisbehavingAuthenticators(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]func(*authenticator.Authenticator){
		"a page of another origin": func(a *authenticator.Authenticator) { a.Origin = "https://hangar.example.evil.example" },
		"plain http":               func(a *authenticator.Authenticator) { a.Origin = "http://hangar.example" },
		"for another site":         func(a *authenticator.Authenticator) { a.RPID = "evil.example" },
		"a counter that stands":    func(a *authenticator.Authenticator) { a.Counter-- },
		"a counter that goes back": func(a *authenticator.Authenticator) { a.Counter -= 2 },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := newRig(t, nil)
			s := r.signIn()
			who := s.Principal()
			device, _, _ := r.withPasskey(s)
			for range 3 {
				if _, err := r.Prove(t.Context(), who, r.answer(who, device, digest), digest); err != nil {
					t.Fatal(err)
				}
			}
			spoil(device)
			_, err := r.Prove(t.Context(), who, r.answer(who, device, digest), digest)
			wantKind(t, name, err, techlog.KindUnproven)
		})
	}
}

// TestACloneIsNoticed lets two of one authenticator answer in turn.
func TestACloneIsNoticed(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	who := s.Principal()
	device, _, _ := r.withPasskey(s)
	clone := device.Clone()
	for range 2 {
		if _, err := r.Prove(t.Context(), who, r.answer(who, device, digest), digest); err != nil {
			t.Fatal(err)
		}
	}
	_, err := r.Prove(t.Context(), who, r.answer(who, clone, digest), digest)
	wantKind(t, "the clone", err, techlog.KindUnproven)
}

// TestPasskeysAreRemovedByTheirPersonAlone holds what is proved before a passkey goes.
func TestPasskeysAreRemovedByTheirPersonAlone(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	device, k, _ := r.withPasskey(s)
	wantKind(t, "without a proof", r.RemovePasskey(t.Context(), s, k.ID, hangar.Proof{}), techlog.KindUnproven)
	wantKind(t, "with a proof for something else", r.RemovePasskey(t.Context(), s, k.ID, r.answer(s.Principal(), device, digest)), techlog.KindUnproven)
	wantKind(t, "one that is not there", r.RemovePasskey(t.Context(), s, newID(), hangar.Proof{Password: secret}), techlog.KindNotFound)
	if err := r.RemovePasskey(t.Context(), s, k.ID, r.answer(s.Principal(), device, people.RemovePasskeyDigest(k.ID))); err != nil {
		t.Fatal(err)
	}
	if left, err := r.Passkeys(t.Context(), s.Account.ID); err != nil || len(left) != 0 {
		t.Errorf("%v, %v", left, err)
	}
	if in, err := r.SignIn(t.Context(), mail, secret, from); err != nil || in.Second != nil {
		t.Errorf("signing in without a passkey: %+v, %v", in, err)
	}
}
