package postgres_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/audit"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
	"tiedown/internal/walkaround"
)

var noon = time.Date(2031, time.May, 4, 12, 0, 0, 123456000, time.UTC)

// logged is an organization with a record in every table that the log vouches for.
type logged struct {
	store *postgres.Store
	url   string
	org   techlog.ID
	key   audit.Key

	base, aircraft, squawk, deferral, determination techlog.ID
}

func newLogged(t testing.TB) *logged {
	t.Helper()
	l := &logged{url: pgtest.New(t), org: newID(), key: newLogKey(t)}
	l.store = open(t, l.url)
	if err := l.store.AddOrganization(t.Context(), techlog.Organization{ID: l.org, Name: "Windsock Flyers"}); err != nil {
		t.Fatal(err)
	}
	who := techlog.Principal{Organization: l.org, Token: newID(), Name: "P. Lot", Roles: techlog.As(techlog.Pilot)}
	if err := l.store.AddToken(t.Context(), who, [32]byte{7}); err != nil {
		t.Fatal(err)
	}
	l.base, l.aircraft, l.squawk, l.deferral, l.determination = newID(), newID(), newID(), newID(), newID()
	flight := newID()
	l.must(t, func(tx hangar.Tx) {
		tx.AddBase(baseOf(l.base, "N00A"))
		a := aircraftOf(l.aircraft, l.base, "N0A")
		tx.AddAircraft(a)
		tx.AddConfiguration(techlog.ConfigurationRevision{Aircraft: a.ID, Revision: 1, At: noon, By: "M. Control", Configuration: a.Configuration})
		tx.AddFlight(flightOf(flight, l.aircraft, l.base))
		tx.AddCompanyRules(techlog.CompanyRules{
			Version: 1, Rules: []casefile.CompanyRule{{ID: "own-1"}}, Policy: casefile.Policy{Deactivation: "rule-text"}, At: noon, By: "M. Control",
		})
		tx.AddDetermination(techlog.KeptDetermination{ID: l.determination, Flight: flight, At: noon, By: "P. Lot", Verdict: "clear", Record: `{"a": 1.50}`})
	})
	l.must(t, func(tx hangar.Tx) { l.people(t, tx) })
	l.must(t, func(tx hangar.Tx) { l.sign(t, tx) })
	l.must(t, func(tx hangar.Tx) { l.report(tx, l.squawk, 1) })
	s := squawkOf(l.squawk, l.aircraft, 1)
	l.must(t, func(tx hangar.Tx) {
		s.State, s.Version = techlog.Deferred, 2
		s.Deferral = &techlog.Deferral{
			ID: l.deferral, Basis: "14 CFR 91.213(d)", Method: "removed", Placard: "INOP", Entry: "log 1", DeterminedBy: "M. Chanic", DeterminedAt: noon,
			RemovedOn: "2031-05-03", Until: noon.AddDate(0, 1, 0), Considered: []string{"00002", `"quoted"`},
		}
		tx.UpdateSquawk(s)
		tx.AddHistory(entryOf(s, techlog.StepDefer))
	})
	l.must(t, func(tx hangar.Tx) {
		s.Version, s.Expected = 3, &techlog.Expected{On: "2031-06-01", Words: "the lens is on order"}
		tx.UpdateSquawk(s)
		expected := entryOf(s, techlog.StepExpect)
		expected.Expected = s.Expected.On
		tx.AddHistory(expected)
	})
	l.must(t, func(tx hangar.Tx) { l.walk(t, tx, flight) })
	l.must(t, func(tx hangar.Tx) {
		tx.AddWebhook(techlog.Webhook{
			ID: newID(), URL: "https://hooks.example/tiedown", Kinds: []string{"squawk", "flight.planned"}, Aircraft: l.aircraft,
			State: techlog.WebhookOn, By: "S. Cheduler", At: noon, Version: 1,
		})
	})
	return l
}

// sign enters what somebody holds, how that person stands to the aircraft, and an inspection that the person signs.
func (l *logged) sign(t testing.TB, tx hangar.Tx) {
	t.Helper()
	person := newID()
	k := techlog.Certificate{
		ID: newID(), Version: 1, Person: person, Name: "M. Chanic", Kind: techlog.MechanicCertificate, Number: "M-0000001",
		Ratings: []string{"airframe"}, Trained: []string{"glider"}, From: "2030-01-01", Until: "2032-01-01",
		RecentFrom: "2031-01-01", RecentUntil: "2032-06-30", EnteredBy: newID(), By: "M. Control", At: noon,
	}
	tx.AddCertificate(k)
	tx.AddStanding(techlog.Standing{
		ID: newID(), Version: 1, Person: person, Name: "M. Chanic", Aircraft: l.aircraft, Kind: techlog.Maintains, From: "2030-01-01",
		Until: "2031-12-31", EnteredBy: newID(), By: "M. Control", At: noon,
	})
	record := techlog.Record{
		Organization: l.org, Aircraft: l.aircraft, Registration: "N0A", Version: 1,
		Signer: techlog.Signer{Person: person, Name: k.Name, Certificate: k}, Act: casefile.Act{Action: "inspect", Inspection: "annual-inspection"},
	}
	text, err := record.Text()
	if err != nil {
		t.Fatal(err)
	}
	tx.AddSignature(techlog.Signature{
		ID: newID(), Aircraft: l.aircraft, Action: "inspect", Person: person, Name: k.Name, Certificate: k.ID, CertificateVersion: 1,
		CertificateKind: k.Kind, CertificateNumber: k.Number, Ratings: k.Ratings, Digest: techlog.DigestOf(text), Text: text,
		Authority: []techlog.Reason{{Row: "r", Citation: "c", Words: `"w"`, Status: "verified"}}, Proven: "password", Day: "2031-05-04", At: noon,
	})
}

// people enters a member, who makes two tokens and two calendars, and takes one of each back.
func (l *logged) people(t testing.TB, tx hangar.Tx) {
	t.Helper()
	const address = "pat@windsock.example"
	if _, err := tx.Account(t.Context(), address); techlog.KindOf(err) != techlog.KindNotFound {
		t.Fatalf("an account before there is one: %v", err)
	}
	person, taken := newID(), newID()
	tx.AddAccount(techlog.Account{ID: person, Email: address, Name: "Pat Lot", At: noon})
	tx.AddMember(techlog.Member{Person: person, Name: "Pat Lot", Roles: techlog.As(techlog.Pilot, techlog.Mechanic), Since: noon, Version: 1})
	tx.AddMemberEntry(techlog.MemberEntry{
		Person: person, Number: 1, At: noon, By: "A. Dministrator", Name: "Pat Lot", Roles: techlog.As(techlog.Pilot, techlog.Mechanic),
	})
	for i, id := range []techlog.ID{newID(), taken} {
		tx.AddAccessToken(techlog.AccessToken{
			ID: id, Name: "a program", Maker: person, Roles: techlog.As(techlog.Pilot), MadeAt: noon, Until: noon.AddDate(0, 6, 0),
			Scope: techlog.Scope{Limited: true, Actions: []techlog.Action{techlog.FileSquawk}},
		}, [32]byte{8, byte(i)})
	}
	tx.RevokeAccessToken(taken, noon)
	ended := newID()
	for i, id := range []techlog.ID{newID(), ended} {
		tx.AddCalendarFeed(techlog.CalendarFeed{ID: id, Name: "the wall", Aircraft: l.aircraft, Maker: person, MadeAt: noon}, [32]byte{9, byte(i)})
	}
	tx.RevokeCalendarFeed(ended, noon)
}

// walk enters a walkaround with all that belongs to it.
func (l *logged) walk(t testing.TB, tx hangar.Tx, flight techlog.ID) {
	t.Helper()
	template := walkaround.Template{
		ID: newID(), Version: 1, Type: "Tern 2", At: noon, By: "M. Control",
		Checklist: walkaround.Checklist{Checks: []walkaround.Check{{ID: "oil", Station: walkaround.Nose, AtLeast: new(5.50)}}},
	}
	tx.AddChecklistTemplate(template)
	tx.AddAirframeChecklist(walkaround.AirframeChecklist{
		Aircraft: l.aircraft, Version: 1, Template: template.ID, TemplateVersion: 1, Serial: "D-7", Changes: walkaround.Changes{Drop: []string{"oil"}}, At: noon, By: "M. Control",
	})
	composed := walkaround.Composed{Template: template.ID, TemplateVersion: 1, Checklist: template.Checklist}
	digest, err := composed.Digest()
	if err != nil {
		t.Fatal(err)
	}
	w := walkaround.Walkaround{
		ID: newID(), Aircraft: l.aircraft, Flight: flight, Checklist: digest, Place: "ramp", Moisture: new(true), State: walkaround.Walking,
		StartedBy: "P. Lot", StartedAt: noon, Version: 1,
	}
	tx.AddWalkaround(w, composed)
	w.Version, w.State, w.CompletedBy, w.CompletedAt, w.LeftOpen = 2, walkaround.Completed, "P. Lot", noon, []string{"oil"}
	tx.UpdateWalkaround(w)
	result := walkaround.Result{ID: newID(), Check: "oil", Outcome: walkaround.Finding, Said: walkaround.Answer{Value: new(4.50)}, MadeAt: noon}
	tx.AddReport(walkaround.Report{Walkaround: w.ID, Number: 1, At: noon, By: "P. Lot", Results: []walkaround.Result{result}})
	tx.AddFiled(walkaround.Filed{Walkaround: w.ID, Result: result.ID, Squawk: l.squawk, At: noon, By: "P. Lot"})
	tx.AddBookEntry(walkaround.BookEntry{
		Aircraft: l.aircraft, Meter: walkaround.Tach, Number: 1, Hours: 1234.56, At: noon, By: "P. Lot", Walkaround: w.ID, Flight: flight,
	})
	block := techlog.Block{
		ID: newID(), Aircraft: l.aircraft, From: noon, Until: noon.AddDate(0, 0, 2), Kind: techlog.BlockedAway, Words: "at the <paint> shop", By: "P. Lot", At: noon, Version: 1,
	}
	tx.AddBlock(block)
	block.Version, block.Until, block.Cancelled = 2, time.Time{}, true
	tx.UpdateBlock(block)
	tx.AddShown(techlog.Shown{ID: newID(), Flight: flight, Person: newID(), Name: "P. Lot", At: noon, By: "S. Cheduler", Verdict: "clear", Shown: `{"a": 1.50}`})
	tx.AddPhoto(techlog.Photo{
		ID: newID(), Of: techlog.PhotoOf{Walkaround: w.ID, Result: result.ID}, Type: techlog.JPEG, Digest: [32]byte{1}, Thumbnail: [32]byte{2},
		Size: 3, Width: 2, Height: 1, At: noon, By: "P. Lot",
	})
}

func newLogKey(t testing.TB) audit.Key {
	t.Helper()
	secret, err := audit.NewKey(strings.NewReader(strings.Repeat("a key for tests ", 4)))
	if err != nil {
		t.Fatal(err)
	}
	key, err := audit.ReadKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func baseOf(id techlog.ID, code string) techlog.Base {
	return techlog.Base{ID: id, Code: code, Name: "Field", Lat: 45.123456789, Lon: -93, Zone: "America/Chicago", Version: 1}
}

func aircraftOf(id, base techlog.ID, registration string) techlog.Aircraft {
	return techlog.Aircraft{
		ID: id, Registration: registration, Type: "Tern 2", Base: base, Revision: 1, Version: 1, PlanVersion: 1, StateVersion: 1,
		Facts: casefile.Facts{Category: "airplane", MaxTakeoffWeightLb: new(2299.5), HoursSinceInspection: new(1e-7), USRegistered: new(true)},
		Configuration: casefile.Configuration{
			Units: []casefile.Unit{{ID: "landing-light-1", Item: "landing-light", Where: `left "wing" <é>`, Serves: []int{1, 2}}},
		},
	}
}

func flightOf(id, aircraft, base techlog.ID) techlog.Flight {
	f := techlog.Flight{
		ID: id, Aircraft: aircraft, Rules: "vfr",
		Facts: casefile.FlightFacts{ForHire: new(false), AltitudeFt: new(4500.25)}, Purpose: "local", State: techlog.Planned, PlannedBy: "S. Cheduler",
		Zone: "America/Chicago", Series: newID(), Hold: techlog.Hold{Verdict: "clear", Rules: "book", At: noon}, Version: 1,
	}
	at := techlog.Spot{Base: base, Ident: "N00A", Name: "Öde <field>", Lat: 1e-7, Lon: -91.25}
	f.Over([]techlog.Leg{{
		From: at, To: at, Departs: noon.Add(time.Hour), Arrives: noon.Add(2 * time.Hour), Light: casefile.Light{Day: new(true), Night: new(false)}, InAlaska: new(false),
	}})
	return f
}

func squawkOf(id, aircraft techlog.ID, number int) techlog.Squawk {
	return techlog.Squawk{
		ID: id, Aircraft: aircraft, Number: number, Kind: "inoperative", Unit: "landing-light-1", Words: "dark; 灯\u2028 — \"both\"\nfilaments",
		State: techlog.Reported, ReportedBy: "P. Lot", ReportedAt: noon, Version: 1,
	}
}

func entryOf(s techlog.Squawk, step techlog.SquawkStep) techlog.HistoryEntry {
	return techlog.HistoryEntry{Squawk: s.ID, Number: s.Version, At: noon, By: "P. Lot", Step: step, State: s.State, Words: "as seen"}
}

func (l *logged) report(tx hangar.Tx, squawk techlog.ID, number int) {
	s := squawkOf(squawk, l.aircraft, number)
	tx.AddSquawk(s)
	tx.AddHistory(entryOf(s, techlog.StepReport))
}

func (l *logged) change(t testing.TB, queue func(hangar.Tx)) error {
	t.Helper()
	_, err := l.store.Change(t.Context(), hangar.Scope{Organization: l.org, By: "P. Lot", At: noon}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		queue(tx)
		return nil, nil
	})
	return err
}

func (l *logged) must(t testing.TB, queue func(hangar.Tx)) {
	t.Helper()
	if err := l.change(t, queue); err != nil {
		t.Fatal(err)
	}
}

// size is the number of entries.
func (l *logged) size(t testing.TB) int64 {
	t.Helper()
	state, err := l.store.LogState(t.Context(), l.org, "")
	if err != nil {
		t.Fatal(err)
	}
	return state.Head.Size
}

// seal keeps a signed checkpoint of the log as it is.
func (l *logged) seal(t testing.TB) audit.Kept {
	t.Helper()
	state, err := l.store.LogState(t.Context(), l.org, "")
	if err != nil {
		t.Fatal(err)
	}
	c := audit.Checkpoint{Organization: l.org.String(), Size: state.Head.Size, Root: state.Head.Root(), At: noon}
	k := audit.Kept{Size: c.Size, Signer: l.key.Public().Name(), At: c.At}
	if k.Signed, err = l.key.Sign(c); err != nil {
		t.Fatal(err)
	}
	if err := l.store.KeepCheckpoint(t.Context(), l.org, k); err != nil {
		t.Fatal(err)
	}
	return k
}

// verify tells what is found.
func (l *logged) verify(t testing.TB, others ...audit.Kept) []string {
	t.Helper()
	return verify(t, l.store, l.org, l.key, others...)
}

func verify(t testing.TB, store *postgres.Store, org techlog.ID, key audit.Key, others ...audit.Kept) []string {
	t.Helper()
	var faults []string
	_, err := store.VerifyLog(context.Background(), org, []audit.PublicKey{key.Public()}, others, func(f audit.Fault) { faults = append(faults, f.String()) })
	if err != nil {
		t.Fatal(err)
	}
	return faults
}

// vandal is a connection that nothing stops any more: every constraint, trigger and policy has been taken away.
func (l *logged) vandal(t testing.TB) *pgx.Conn {
	t.Helper()
	conn := connect(t, l.url)
	run := func(sql string) {
		for _, statement := range column[string](t, conn, sql) {
			if _, err := conn.Exec(t.Context(), statement); err != nil {
				t.Fatalf("%s: %v", statement, err)
			}
		}
	}
	run(`SELECT format('ALTER TABLE %s DROP CONSTRAINT %I', k.conrelid::regclass, k.conname) FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid
		WHERE ` + ours + ` AND k.contype IN ('f', 'c')`)
	run(`SELECT format('ALTER TABLE %s DROP CONSTRAINT %I CASCADE', k.conrelid::regclass, k.conname) FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid
		WHERE ` + ours + ` AND k.contype IN ('p', 'u')`)
	run(`SELECT format('ALTER DOMAIN %s DROP CONSTRAINT %I', k.contypid::regtype, k.conname) FROM pg_constraint k
		WHERE k.contypid <> 0 AND k.connamespace = current_schema()::regnamespace`)
	run(`SELECT format('DROP TRIGGER %I ON %s', g.tgname, g.tgrelid::regclass) FROM pg_trigger g JOIN pg_class c ON c.oid = g.tgrelid
		WHERE ` + ours + ` AND NOT g.tgisinternal`)
	run(`SELECT format('ALTER TABLE %s NO FORCE ROW LEVEL SECURITY', c.oid::regclass) FROM pg_class c WHERE ` + ours)
	run(`SELECT format('ALTER TABLE %s ALTER COLUMN %I DROP NOT NULL', a.attrelid::regclass, a.attname) FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid
		WHERE ` + ours + ` AND a.attnum > 0 AND a.attnotnull`)
	return conn
}
