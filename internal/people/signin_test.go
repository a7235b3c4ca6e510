package people_test

import (
	"strings"
	"sync"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/identity"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// TestWhoDoesNotExistIsAsMuchWork counts how often a password is hashed: the same for whoever exists and does not.
func TestWhoDoesNotExistIsAsMuchWork(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	if _, _, err := r.FirstAccount(t.Context(), "unset@club.example", "No Password", nil); err != nil {
		t.Fatal(err)
	}
	for n := range 8 {
		want := 1
		if n >= 5 {
			want = 0 // locked, whoever it is
		}
		var said string
		for _, email := range []string{"nobody@club.example", mail, "unset@club.example", "no address at all"} {
			before := r.hasher.n
			_, err := r.SignIn(t.Context(), email, "wrong", from)
			if got := r.hasher.n - before; got != want {
				t.Errorf("attempt %d by %s: %d hashes, want %d", n+1, email, got, want)
			}
			if said == "" {
				said = err.Error()
			}
			if err.Error() != said {
				t.Errorf("attempt %d by %s: %v, by nobody %s", n+1, email, err, said)
			}
		}
	}
	before := r.hasher.n
	_, err := r.SignIn(t.Context(), "somebody@club.example", strings.Repeat("x", 5000), people.From{})
	wantKind(t, "a password without an end", err, techlog.KindUnauthorized)
	if r.hasher.n != before+1 {
		t.Errorf("%d hashes for a password without an end", r.hasher.n-before)
	}
}

// TestManyAttemptsAtOnceCount guesses from many places at once.
func TestManyAttemptsAtOnceCount(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	kinds := make(chan techlog.Kind, 40)
	var all sync.WaitGroup
	for range cap(kinds) {
		all.Go(func() {
			_, err := r.SignIn(t.Context(), mail, "a guess", people.From{})
			kinds <- techlog.KindOf(err)
		})
	}
	all.Wait()
	close(kinds)
	n := map[techlog.Kind]int{}
	for kind := range kinds {
		n[kind]++
	}
	if n[techlog.KindUnauthorized] != 5 || n[techlog.KindRateLimited] != 35 {
		t.Errorf("%v, want 5 guesses to be looked at", n)
	}
}

// TestLocksGrow lets each lock pass, and tries once more.
func TestLocksGrow(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	guess := func() time.Duration {
		_, err := r.SignIn(t.Context(), mail, "a guess", people.From{})
		var e *techlog.Error
		if techlog.KindOf(err) == techlog.KindRateLimited {
			e = err.(*techlog.Error) //nolint:errorlint // the use case makes it
			return e.After
		}
		return 0
	}
	for range 5 {
		if wait := guess(); wait != 0 {
			t.Fatalf("locked for %s", wait)
		}
	}
	for _, want := range []time.Duration{30 * time.Second, time.Minute, 2 * time.Minute, 4 * time.Minute, 8 * time.Minute, 15 * time.Minute, 15 * time.Minute} {
		if wait := guess(); wait != want {
			t.Errorf("locked for %s, want %s", wait, want)
		}
		r.at = r.at.Add(want - time.Second)
		if wait := guess(); wait != time.Second {
			t.Errorf("a second before the end: locked for %s", wait)
		}
		r.at = r.at.Add(time.Second)
		if wait := guess(); wait != 0 {
			t.Errorf("after the lock: locked for %s", wait)
		}
	}
	r.at = r.at.Add(25 * time.Hour)
	for range 5 {
		if wait := guess(); wait != 0 {
			t.Errorf("a day later: locked for %s", wait)
		}
	}
}

// TestAHashIsRenewed signs in with a hash that was made by other parameters than today's.
func TestAHashIsRenewed(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	heavier := identity.Parameters{MemoryKiB: 128, Passes: 2, Parallelism: 1}
	keys, err := identity.NewPasskeys(origin)
	if err != nil {
		t.Fatal(err)
	}
	later := people.New(people.Settings{
		Store: r.store, Hasher: identity.NewPasswords(heavier, 1), Keys: keys, Now: func() time.Time { return r.at }, NewID: newID,
	})
	_, err = later.SignIn(t.Context(), mail, "wrong", from)
	wantKind(t, "a wrong password", err, techlog.KindUnauthorized)
	held, err := r.store.CredentialsOf(t.Context(), r.person.ID)
	if err != nil || !strings.Contains(held.Hash, "m=64,t=1") {
		t.Errorf("after a wrong password: %s, %v", held.Hash, err)
	}
	for range 2 {
		if _, err := later.SignIn(t.Context(), mail, secret, from); err != nil {
			t.Fatal(err)
		}
	}
	held, err = r.store.CredentialsOf(t.Context(), r.person.ID)
	if err != nil || !strings.Contains(held.Hash, "m=128,t=2") {
		t.Errorf("after the right one: %s, %v", held.Hash, err)
	}
}

func TestPasswordsThatAreEasilyGuessed(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	for password, rule := range map[string]string{
		"": "long-enough", "eleven char": "long-enough", "WrenTalbotWren": "not-personal", "wren.talbot@club.example": "not-personal",
		"club.example1": "not-personal", "aaaaaaaaaaaaaaaa": "varied", strings.Repeat("ab1 ", 300): "short-enough",
	} {
		_, err := r.ChangePassword(t.Context(), s, secret, password)
		faults, ok := err.(casefile.Faults) //nolint:errorlint // the use case makes them
		if !ok || len(faults) != 1 || faults[0].Rule != rule || faults[0].Field != "next" {
			t.Errorf("%q: %v, want %s", password, err, rule)
		}
	}
	_, err := r.ChangePassword(t.Context(), s, "not the present one", "another fine long secret")
	wantKind(t, "a wrong present password", err, techlog.KindUnproven)
}

// TestASessionCannotBeUsedTwiceForANewOne races two changes of one session.
func TestASessionCannotBeUsedTwiceForANewOne(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	if _, err := r.Choose(t.Context(), s, r.club); err != nil {
		t.Fatal(err)
	}
	_, err := r.Choose(t.Context(), s, r.club)
	wantKind(t, "the old session again", err, techlog.KindUnauthorized)
	_, err = r.Resume(t.Context(), s.Secret)
	wantKind(t, "the old secret", err, techlog.KindUnauthorized)
	_, err = r.Choose(t.Context(), r.signIn(), newID())
	wantKind(t, "an organization of somebody else", err, techlog.KindNotFound)
}

// TestAnAccountOfAnAddressIsOne makes two of one address, however it is written.
func TestAnAccountOfAnAddressIsOne(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	_, _, err := r.FirstAccount(t.Context(), strings.ToUpper(mail), "Twin", nil)
	wantKind(t, "an account of the same address", err, techlog.KindConflict)
	for _, bad := range []string{"", "x", "@club.example", "x@", "a b@club.example", strings.Repeat("x", 250) + "@club.example"} {
		_, _, err := r.FirstAccount(t.Context(), bad, "Nobody", nil)
		wantKind(t, bad, err, techlog.KindInvalid)
	}
	_, err = r.NewLink(t.Context(), "nobody@club.example")
	wantKind(t, "a link for nobody", err, techlog.KindNotFound)
	link, err := r.NewLink(t.Context(), strings.ToUpper(mail))
	if err != nil {
		t.Fatal(err)
	}
	r.at = r.at.Add(time.Second)
	latest, err := r.NewLink(t.Context(), mail)
	if err != nil {
		t.Fatal(err)
	}
	wantKind(t, "a link before the latest", r.SetPassword(t.Context(), link, "another fine long secret", from), techlog.KindUnauthorized)
	if err := r.SetPassword(t.Context(), latest, "another fine long secret", from); err != nil {
		t.Error(err)
	}
}

// TestTwoUseOneLink spends a link from many places at once.
func TestTwoUseOneLink(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	link, err := r.NewLink(t.Context(), mail)
	if err != nil {
		t.Fatal(err)
	}
	errs := make(chan error, 10)
	for range cap(errs) {
		go func() { errs <- r.SetPassword(t.Context(), link, "another fine long secret", from) }()
	}
	fine := 0
	for range cap(errs) {
		if err := <-errs; err == nil {
			fine++
		} else {
			wantKind(t, "who comes second", err, techlog.KindUnauthorized)
		}
	}
	if fine != 1 {
		t.Errorf("%d have spent the link", fine)
	}
}

// TestOneChallengeProvesOnce answers one challenge from many places at once.
func TestOneChallengeProvesOnce(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	who := s.Principal()
	device, _, _ := r.withPasskey(s)
	proof := r.answer(who, device, digest)
	errs := make(chan error, 4)
	for range cap(errs) {
		go func() {
			_, err := r.Prove(t.Context(), who, proof, digest)
			errs <- err
		}()
	}
	fine := 0
	for range cap(errs) {
		if err := <-errs; err == nil {
			fine++
		} else {
			wantKind(t, "who comes second", err, techlog.KindUnproven)
		}
	}
	if fine != 1 {
		t.Errorf("%d have proved it", fine)
	}
	if _, err := r.Prove(t.Context(), who, hangar.Proof{Password: secret}, digest); err != nil {
		t.Error(err)
	}
}

// TestANewSecretIsNoNewLife keeps a session alive by choosing its organization again and again.
func TestANewSecretIsNoNewLife(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	for range 29 * 3 {
		r.at = r.at.Add(8 * time.Hour)
		var err error
		if s, err = r.Choose(t.Context(), s, r.club); err != nil {
			t.Fatal(err)
		}
	}
	if want := noon.Add(30 * 24 * time.Hour); !s.Until.Equal(want) {
		t.Errorf("the session lasts until %s, want %s", s.Until, want)
	}
}

// TestAChallengeIsForOnePurpose answers a challenge of a proof as if it were one of a registration.
func TestAChallengeIsForOnePurpose(t *testing.T) {
	t.Parallel()
	r := newRig(t, nil)
	s := r.signIn()
	device, _, _ := r.withPasskey(s)
	proof := r.answer(s.Principal(), device, digest)
	_, _, err := r.AddPasskey(t.Context(), s, people.Registration{Challenge: proof.Passkey.Challenge, Name: "mine", Response: proof.Passkey.Response})
	wantKind(t, "a proof's challenge for a registration", err, techlog.KindUnproven)
	_, err = r.Prove(t.Context(), s.Principal(), proof, digest)
	wantKind(t, "and then for the proof: it is spent", err, techlog.KindUnproven)
}
