package storetest

import (
	"context"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func newCertificate(person techlog.ID) techlog.Certificate {
	return techlog.Certificate{
		ID: newID(), Version: 1, Person: person, Name: "M. Chanic", Kind: techlog.MechanicCertificate, Number: "M-0000001", Grade: "none",
		Ratings: []string{"airframe", "powerplant"}, Trained: []string{"glider"}, From: "2030-01-01", Until: "2031-05-04",
		RecentFrom: "2031-01-01", RecentUntil: "2032-06-30", EnteredBy: newID(), By: "M. Control", At: noon,
	}
}

func newStanding(person, aircraft techlog.ID) techlog.Standing {
	return techlog.Standing{
		ID: newID(), Version: 1, Person: person, Name: "M. Chanic", Aircraft: aircraft, Kind: techlog.Maintains, From: "2030-01-01",
		Until: "2031-12-31", EnteredBy: newID(), By: "M. Control", At: noon,
	}
}

// newSignature is a signature by a certificate, under a text of its own.
func (c *club) newSignature(t *testing.T, k techlog.Certificate, a techlog.Aircraft, s *techlog.Squawk, act casefile.Act) techlog.Signature {
	t.Helper()
	record := techlog.Record{
		Organization: c.org, Aircraft: a.ID, Registration: a.Registration, Version: 1, Squawk: s,
		Signer: techlog.Signer{Person: k.Person, Name: k.Name, Certificate: k}, Act: act,
	}
	text, err := record.Text()
	if err != nil {
		t.Fatal(err)
	}
	sig := techlog.Signature{
		ID: newID(), Aircraft: a.ID, Action: act.Action, Person: k.Person, Name: k.Name, Certificate: k.ID, CertificateVersion: k.Version,
		CertificateKind: k.Kind, CertificateNumber: k.Number, Ratings: k.Ratings, Digest: techlog.DigestOf(text), Text: text,
		Authority: []techlog.Reason{{Row: "r", Citation: "c", Words: `"w"`, Status: "verified"}}, Proven: "passkey", Day: "2031-05-04", At: noon,
	}
	if s != nil {
		sig.Squawk = s.ID
	}
	sig.Corrects, _ = techlog.ParseID(act.Corrects)
	return sig
}

func testCertificates(t *testing.T, c *club) {
	person := newID()
	k := newCertificate(person)
	k.Ended = true
	full(t, k)
	k.Ended = false
	c.must(t, func(tx hangar.Tx) { tx.AddCertificate(k) })
	page := hangar.Page{Limit: 9}
	of := func(person techlog.ID) []techlog.Certificate {
		return get[[]techlog.Certificate](t)(c.store.Certificates(t.Context(), c.org, person, page))
	}
	same(t, "as entered", of(person), []techlog.Certificate{k})

	other := newCertificate(newID())
	other.Until, other.RecentFrom, other.RecentUntil, other.Ratings, other.Trained = "", "", "", []string{}, []string{}
	next := k
	next.Version, next.Ratings, next.Ended = 2, []string{"airframe"}, true
	c.must(t, func(tx hangar.Tx) {
		tx.AddCertificate(other)
		tx.AddCertificate(next)
	})
	same(t, "the newest of each", of(techlog.ID{}), []techlog.Certificate{next, other})
	same(t, "of one", of(other.Person), []techlog.Certificate{other})
	same(t, "second page", get[[]techlog.Certificate](t)(c.store.Certificates(t.Context(), c.org, techlog.ID{}, hangar.Page{Limit: 9, After: k.ID})), []techlog.Certificate{other})
	same(t, "every version", get[[]techlog.Certificate](t)(c.store.CertificateVersions(t.Context(), c.org, k.ID)), []techlog.Certificate{k, next})
	same(t, "of a neighbor", get[[]techlog.Certificate](t)(c.store.Certificates(t.Context(), c.neighbor(t).org, techlog.ID{}, page)), []techlog.Certificate{})

	wantKind(t, "the same version again", c.change(t, func(tx hangar.Tx) { tx.AddCertificate(k) }), techlog.KindStale)
	next.Version = 3
	wantKind(t, "after its end", c.change(t, func(tx hangar.Tx) { tx.AddCertificate(next) }), techlog.KindConflict)
	own := newCertificate(person)
	own.EnteredBy = person
	wantKind(t, "one's own", c.change(t, func(tx hangar.Tx) { tx.AddCertificate(own) }), techlog.KindForbidden)
	back := newCertificate(person)
	back.Until = "2029-12-31"
	wantFault(t, "ends before it begins", c.change(t, func(tx hangar.Tx) { tx.AddCertificate(back) }), "valid_until")
}

func testStandings(t *testing.T, c *club) {
	a := c.addAircraft(t)
	st := newStanding(newID(), a.ID)
	st.Ended = true
	full(t, st)
	st.Ended = false
	all := newStanding(st.Person, techlog.ID{})
	all.Until = ""
	c.must(t, func(tx hangar.Tx) {
		tx.AddStanding(st)
		tx.AddStanding(all)
	})
	of := func(person techlog.ID) []techlog.Standing {
		return get[[]techlog.Standing](t)(c.store.Standings(t.Context(), c.org, person, hangar.Page{Limit: 9}))
	}
	same(t, "as entered", of(st.Person), []techlog.Standing{st, all})
	next := st
	next.Version, next.Until = 2, "2031-06-01"
	c.must(t, func(tx hangar.Tx) { tx.AddStanding(next) })
	same(t, "the newest of each", of(techlog.ID{}), []techlog.Standing{next, all})
	same(t, "every version", get[[]techlog.Standing](t)(c.store.StandingVersions(t.Context(), c.org, st.ID)), []techlog.Standing{st, next})
	same(t, "of somebody else", of(newID()), []techlog.Standing{})
	moved := next
	moved.Version, moved.Aircraft = 3, techlog.ID{}
	wantKind(t, "about another aircraft", c.change(t, func(tx hangar.Tx) { tx.AddStanding(moved) }), techlog.KindConflict)
	wantKind(t, "an unknown aircraft", c.change(t, func(tx hangar.Tx) { tx.AddStanding(newStanding(newID(), newID())) }), techlog.KindNotFound)
}

func testSignatures(t *testing.T, c *club) {
	a := c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	k := newCertificate(newID())
	work := c.newSignature(t, k, a, &s, casefile.Act{Action: "work", Work: "repair", Result: "repaired", Done: "<mended> \u2028 & \"checked\""})
	fix := c.newSignature(t, k, a, &s, casefile.Act{Action: "correct", Corrects: work.ID.String(), Words: "checked twice"})
	inspect := c.newSignature(t, k, a, nil, casefile.Act{Action: "inspect", Inspection: "annual-inspection"})
	full(t, fix)
	c.must(t, func(tx hangar.Tx) {
		tx.AddCertificate(k)
		tx.AddSignature(work)
		tx.AddSignature(fix)
		tx.AddSignature(inspect)
	})
	same(t, "of the squawk", get[[]techlog.Signature](t)(c.store.Signatures(t.Context(), c.org, a.ID, s.ID)), []techlog.Signature{work, fix})
	same(t, "of the aircraft", get[[]techlog.Signature](t)(c.store.Signatures(t.Context(), c.org, a.ID, techlog.ID{})), []techlog.Signature{inspect})
	_, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon}, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
		same(t, "within a change", get[[]techlog.Signature](t)(tx.Signatures(ctx, a.ID, s.ID)), []techlog.Signature{work, fix})
		same(t, "the certificates", get[[]techlog.Certificate](t)(tx.Certificates(ctx, k.Person)), []techlog.Certificate{k})
		same(t, "the standings", get[[]techlog.Standing](t)(tx.Standings(ctx, k.Person)), []techlog.Standing{})
		return nil, nil
	})
	if err != nil {
		t.Error(err)
	}
}

// testSignedSquawk keeps what signed steps leave with a squawk, and a deferral with its signature.
func testSignedSquawk(t *testing.T, c *club) {
	a := c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	k := newCertificate(newID())
	step := func(act casefile.Act, confirm bool) {
		t.Helper()
		sig := c.newSignature(t, k, a, &s, act)
		was := s.Deferral
		s.Confirmed = s.Confirmed || confirm
		if err := s.Take(techlog.SquawkStep(act.Action)); err != nil {
			t.Fatal(err)
		}
		s.Sign(&act, &sig, was, "14 CFR 91.213(d)", newID())
		entry := entryOf(s, techlog.SquawkStep(act.Action))
		entry.Signature = sig.ID
		c.must(t, func(tx hangar.Tx) {
			tx.AddSignature(sig)
			tx.UpdateSquawk(s)
			tx.AddHistory(entry)
		})
		same(t, act.Action, get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, s.ID)), s)
		history := get[[]techlog.HistoryEntry](t)(c.store.History(t.Context(), c.org, s.ID))
		same(t, act.Action+", its entry", history[len(history)-1], entry)
	}
	c.must(t, func(tx hangar.Tx) { tx.AddCertificate(k) })
	until, later := noon.AddDate(0, 1, 0), noon.AddDate(0, 2, 0)
	step(casefile.Act{Action: "out-of-use", Method: "removed", Placard: "INOP", RemovedOn: "2031-05-03", MaintenanceProcedure: new(true)}, true)
	step(casefile.Act{
		Action: "defer", Basis: "mel", Method: "removed", Placard: "INOP", Entry: "log 3", RemovedOn: "2031-05-03", Discovered: "2031-05-02",
		Until: &until, Considered: []string{"00002"}, InvolvesMaintenance: new(false),
	}, false)
	step(casefile.Act{Action: "extend", Until: &later, ExtendedUntil: "2031-07-03"}, false)
	step(casefile.Act{Action: "carry-on", Until: &until, ExtendedUntil: "2031-07-03", Inspection: "annual-inspection"}, false)
	step(casefile.Act{Action: "work", Work: "repair", PartsAwaited: []casefile.AwaitedPart{{Part: "lamp", Expected: "2031-05-09"}}}, false)
	step(casefile.Act{Action: "work", Work: "repair", Result: "repaired", Data: "manual", Completed: "2031-05-04"}, false)
	step(casefile.Act{Action: "return-to-service", CheckFlightRequired: new(true)}, false)
	step(casefile.Act{Action: "check-flight", Done: "flown"}, false)

	first := c.addSquawk(t, newSquawk(a.ID, 2))
	twin := c.addSquawk(t, newSquawk(a.ID, 3))
	twin = moved(twin, techlog.Closed)
	twin.DuplicateOf = first.ID
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(twin)
		tx.AddHistory(entryOf(twin, techlog.StepDuplicate))
	})
	same(t, "a duplicate", get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, twin.ID)), twin)
}

// testNobodySignsWithout signs without a certificate in force, and leaves with a squawk what nobody signed.
func testNobodySignsWithout(t *testing.T, c *club) {
	a := c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	k := newCertificate(newID())
	c.must(t, func(tx hangar.Tx) { tx.AddCertificate(k) })
	act := casefile.Act{Action: "work", Work: "repair", Result: "repaired"}
	for what, spoil := range map[string]func(*techlog.Signature){
		"another's certificate": func(s *techlog.Signature) { s.Certificate = newID() },
		"another version":       func(s *techlog.Signature) { s.CertificateVersion = 2 },
		"other ratings":         func(s *techlog.Signature) { s.Ratings = []string{"airframe"} },
		"after its last day":    func(s *techlog.Signature) { s.Day, s.At = "2031-05-05", noon.AddDate(0, 0, 1) },
		"on another day":        func(s *techlog.Signature) { s.At = noon.AddDate(0, 0, 1) },
	} {
		sig := c.newSignature(t, k, a, &s, act)
		spoil(&sig)
		err := c.change(t, func(tx hangar.Tx) { tx.AddSignature(sig) })
		if kind := techlog.KindOf(err); kind != techlog.KindForbidden && kind != techlog.KindConflict {
			t.Errorf("%s: %v", what, err)
		}
	}
	sig := c.newSignature(t, k, a, &s, act)
	sig.Digest[0]++
	wantKind(t, "another digest", c.change(t, func(tx hangar.Tx) { tx.AddSignature(sig) }), techlog.KindConflict)

	unsigned := s
	unsigned.Version++
	unsigned.Progress.Work = &techlog.Worked{Signature: newID(), Work: "repair", Result: "repaired"}
	wantKind(t, "unsigned work", c.change(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(unsigned)
		tx.AddHistory(entryOf(unsigned, techlog.StepNote))
	}), techlog.KindConflict)
	d := newDeferral()
	d.Signature = newID()
	held := deferred(s, d)
	wantKind(t, "an unsigned deferral", c.change(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(held)
		tx.AddHistory(entryOf(held, techlog.StepDefer))
	}), techlog.KindConflict)
	returned := moved(s, techlog.Closed)
	wantKind(t, "an unsigned return", c.change(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(returned)
		tx.AddHistory(entryOf(returned, techlog.StepReturn))
	}), techlog.KindConflict)
	same(t, "nothing has moved", get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, s.ID)), s)
}

func testAnswered(t *testing.T, c *club) {
	once := hangar.Once{Token: c.token, Key: "key", Digest: [32]byte{1}}
	if answer := get[[]byte](t)(c.store.Answered(t.Context(), c.org, once)); answer != nil {
		t.Errorf("before it was asked: %q", answer)
	}
	_, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon, Once: &once}, func(context.Context, hangar.Tx) ([]byte, error) {
		return []byte("first"), nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if answer := get[[]byte](t)(c.store.Answered(t.Context(), c.org, once)); string(answer) != "first" {
		t.Errorf("afterwards: %q", answer)
	}
	once.Digest[0]++
	_, err = c.store.Answered(t.Context(), c.org, once)
	wantKind(t, "the key for another request", err, techlog.KindReused)
}
