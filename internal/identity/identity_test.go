package identity

import (
	"context"
	"encoding/json"
	"errors"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"tiedown/internal/techlog"
	"tiedown/internal/testrig/authenticator"
)

var light = Parameters{MemoryKiB: 64, Passes: 1, Parallelism: 1}

func TestAPasswordFitsItsHashAlone(t *testing.T) {
	t.Parallel()
	p := NewPasswords(light, 1)
	hash, err := p.Hash(t.Context(), "four grey geese")
	if err != nil || !strings.HasPrefix(hash, "$argon2id$v=19$m=64,t=1,p=1$") {
		t.Fatalf("%s, %v", hash, err)
	}
	again, err := p.Hash(t.Context(), "four grey geese")
	if err != nil || again == hash {
		t.Errorf("the salt is the same: %s, %v", again, err)
	}
	for _, c := range []struct {
		hash, password string
		fits           bool
	}{
		{hash, "four grey geese", true},
		{again, "four grey geese", true},
		{hash, "four grey goose", false},
		{hash, "", false},
		{"", "", false},
		{"", "four grey geese", false},
		{"four grey geese", "four grey geese", false},
		{hash[:len(hash)-1], "four grey geese", false},
	} {
		if fits, outdated, err := p.Check(t.Context(), c.hash, c.password); fits != c.fits || outdated || err != nil {
			t.Errorf("%q and %q: %v, outdated %v, %v", c.hash, c.password, fits, outdated, err)
		}
	}
	for _, other := range []Parameters{{128, 1, 1}, {64, 2, 1}, {64, 1, 2}} {
		if fits, outdated, err := NewPasswords(other, 1).Check(t.Context(), hash, "four grey geese"); !fits || !outdated || err != nil {
			t.Errorf("with %v today: %v, outdated %v, %v", other, fits, outdated, err)
		}
	}
}

// TestArgon2idAgainstAKnownValue computes a value that another implementation gives: the reference implementation's test
// (argon2 repository, src/test.c, "password", "somesalt", t=2, m=2^16, p=1, version 0x13), written here from memory.
func TestArgon2idAgainstAKnownValue(t *testing.T) {
	t.Parallel()
	const known = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"
	fits, _, err := NewPasswords(light, 1).Check(t.Context(), known, "password")
	if !fits || err != nil {
		t.Errorf("%v, %v", fits, err)
	}
}

// TestHashesWaitForTheirPlace holds that no more are made at once than there are places.
func TestHashesWaitForTheirPlace(t *testing.T) {
	t.Parallel()
	p := NewPasswords(light, 1)
	p.places <- struct{}{} // somebody else has the only place
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := p.Hash(ctx, "x"); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	if _, _, err := p.Check(ctx, "", "x"); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	var done atomic.Int32
	var all sync.WaitGroup
	for range 3 {
		all.Go(func() {
			if _, err := p.Hash(t.Context(), "x"); err != nil {
				t.Error(err)
			}
			done.Add(1)
		})
	}
	if n := done.Load(); n != 0 {
		t.Errorf("%d were made without a place", n)
	}
	<-p.places
	all.Wait()
}

func FuzzHash(f *testing.F) {
	f.Add("$argon2id$v=19$m=19456,t=2,p=1$c29tZXNhbHRzb21lc2FsdA$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc")
	f.Add("$argon2id$v=19$m=4294967295,t=4294967295,p=255$AAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAAAA")
	f.Add("$argon2i$v=19$m=8,t=1,p=1$c29tZXNhbHQ$AAAAAAAAAAAAAAAAAAAAAAAA")
	f.Add("$argon2id$v=19$m=08,t=1,p=1$c29tZXNhbHQ$AAAAAAAAAAAAAAAAAAAAAAAA")
	f.Add("$$$$$")
	f.Fuzz(func(t *testing.T, s string) {
		h, ok := parseHash(s)
		if !ok {
			return
		}
		if h.String() != s {
			t.Errorf("%q is read as %q", s, h)
		}
		if h.MemoryKiB < 8 || h.MemoryKiB > maxMemoryKiB || h.Passes < 1 || h.Passes > maxPasses || h.Parallelism < 1 || len(h.hash) < 16 {
			t.Errorf("%q asks for %+v", s, h.Parameters)
		}
	})
}

// TestWhereAPasskeyIsGood makes the ceremonies for addresses at which people reach servers.
func TestWhereAPasskeyIsGood(t *testing.T) {
	t.Parallel()
	for address, want := range map[string]struct{ id, origin string }{
		"https://club.example":          {"club.example", "https://club.example"},
		"https://club.example:8443/app": {"club.example", "https://club.example:8443"},
		"http://localhost:8080":         {"localhost", "http://localhost:8080"},
		"http://127.0.0.1:8080":         {"localhost", "http://localhost:8080"},
		"http://[::1]:8080":             {"localhost", "http://localhost:8080"},
		"http://0.0.0.0:8080":           {"localhost", "http://localhost:8080"},
		"http://127.0.0.1":              {"localhost", "http://localhost"},
	} {
		keys, err := NewPasskeys(address)
		if err != nil {
			t.Errorf("%s: %v", address, err)
			continue
		}
		if got := keys.rp.Config; got.RPID != want.id || got.RPOrigins[0] != want.origin {
			t.Errorf("%s: %s, %v", address, got.RPID, got.RPOrigins)
		}
	}
	for _, bad := range []string{"", "club.example", "://"} {
		if _, err := NewPasskeys(bad); err == nil {
			t.Errorf("%q is taken for an address", bad)
		}
	}
}

// TestRegistrationsMustHold spoils answers to a registration.
func TestRegistrationsMustHold(t *testing.T) {
	t.Parallel()
	keys, err := NewPasskeys("https://club.example")
	if err != nil {
		t.Fatal(err)
	}
	a := techlog.Account{ID: techlog.ID{1}, Email: "wren@club.example", Name: "Wren"}
	for name, spoil := range map[string]func(*authenticator.Authenticator){
		"in good order":          func(*authenticator.Authenticator) {},
		"a page of another site": func(d *authenticator.Authenticator) { d.Origin = "https://evil.example" },
		"for another site":       func(d *authenticator.Authenticator) { d.RPID = "evil.example" },
	} {
		device := authenticator.New("https://club.example")
		spoil(device)
		options, state, err := keys.Register(a, nil)
		if err != nil {
			t.Fatal(err)
		}
		response, err := device.Create(options)
		if err != nil {
			t.Fatal(err)
		}
		_, record, err := keys.Registered(a, state, response)
		if fine := name == "in good order"; fine != (err == nil) || !fine && techlog.KindOf(err) != techlog.KindUnproven {
			t.Errorf("%s: %v", name, err)
		}
		if err != nil {
			continue
		}
		if _, _, err := keys.Registered(techlog.Account{ID: techlog.ID{2}}, state, response); techlog.KindOf(err) != techlog.KindUnproven {
			t.Errorf("another person's registration: %v", err)
		}
		_, state, err = keys.Register(a, nil)
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := keys.Registered(a, state, response); techlog.KindOf(err) != techlog.KindUnproven {
			t.Errorf("the answer to another challenge: %v", err)
		}
		options, _, err = keys.Register(a, [][]byte{record})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := device.Create(options); err == nil {
			t.Error("an authenticator is asked twice for the same person")
		}
	}
	_, state, err := keys.Register(a, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, strange := range []string{``, `{}`, `[]`, `{"id": "AAAA", "rawId": "AAAA", "type": "public-key", "response": {}}`, `null`} {
		if _, _, err := keys.Registered(a, state, json.RawMessage(strange)); techlog.KindOf(err) != techlog.KindUnproven {
			t.Errorf("%s: %v", strange, err)
		}
		if _, _, err := keys.Answered(a.ID, nil, state, json.RawMessage(strange)); techlog.KindOf(err) != techlog.KindUnproven {
			t.Errorf("%s: %v", strange, err)
		}
	}
}
