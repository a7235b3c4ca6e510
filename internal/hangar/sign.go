package hangar

import (
	"context"
	"errors"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/upkeep"
	"tiedown/internal/walkaround"
)

// ToSign asks for what somebody would sign: about a squawk, or else about an aircraft.
type ToSign struct {
	Aircraft techlog.ID // zero: that of the squawk
	Squawk   techlog.ID // zero: it is about the aircraft itself
	Version  int        // of the squawk, or of the aircraft's record, that whoever signs has seen; zero in a preview: as it is
	Act      casefile.Act
}

// Shown is what would be signed, letter by letter.
type Shown struct {
	Text      string
	Digest    [32]byte
	Authority []techlog.Reason
	Version   int // of the squawk or the aircraft's record that the text is about
}

// Signing is the request to sign exactly that.
type Signing struct {
	ToSign
	Digest [32]byte
	Proof  Proof
}

// Signed is a signature with what it did.
type Signed struct {
	Signature techlog.Signature
	Squawk    *techlog.Squawk   // nil: it is about the aircraft
	Aircraft  *techlog.Aircraft // of an inspection; nil otherwise
	Changes   []techlog.HoldChange
}

// errShown ends a change that was only looked at.
var errShown = errors.New("only looked at")

// Preview shows exactly what would be recorded: it makes the change, and takes it back. Kinds as for Sign.
func (s *Service) Preview(ctx context.Context, who techlog.Principal, t ToSign) (Shown, error) {
	var shown Shown
	if err := mayTry(who); err != nil {
		return shown, err
	}
	aircraft, err := s.aircraftOf(ctx, who, t)
	if err != nil {
		return shown, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Lock: []Want{{Aircraft: aircraft}}}
	_, err = s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		d, err := s.draw(ctx, tx, who, t, at)
		if err != nil {
			return nil, err
		}
		shown = Shown{d.text, techlog.DigestOf(d.text), d.authority, d.record.Version}
		return nil, errShown
	})
	if errors.Is(err, errShown) {
		err = nil
	}
	return shown, err
}

// Sign records what Preview has shown, once whoever asks has proved to be the one who signs. Kinds: unproven,
// rate-limited; stale (the record is another, or the digest is not that of what would be recorded now), conflict (the
// squawk cannot be taken there), invalid, forbidden (with the rows and the facts that are missing), not-found.
func (s *Service) Sign(ctx context.Context, who techlog.Principal, r Signing, once *Once, render Render[Signed]) ([]byte, error) {
	if err := mayTry(who); err != nil {
		return nil, err
	}
	// A proof is good once: an answer that has been given is given again before it is asked for.
	return s.unlessAnswered(ctx, who, once, func() ([]byte, error) { return s.sign(ctx, who, r, once, render) })
}

func (s *Service) sign(ctx context.Context, who techlog.Principal, r Signing, once *Once, render Render[Signed]) ([]byte, error) {
	aircraft, err := s.aircraftOf(ctx, who, r.ToSign)
	if err != nil {
		return nil, err
	}
	if err := s.asShown(ctx, who, r); err != nil {
		return nil, err
	}
	proven, unproven := s.prover.Prove(ctx, who, r.Proof, r.Digest)
	at := s.now()
	scope := Scope{
		Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{{Aircraft: aircraft, FlightsFrom: at}},
	}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		if unproven != nil {
			return nil, unproven // a twin of this request may have spent the proof: then its answer has been given by now
		}
		d, err := s.draw(ctx, tx, who, r.ToSign, at)
		if err != nil {
			return nil, err
		}
		if techlog.DigestOf(d.text) != r.Digest {
			return nil, errOther
		}
		signed, err := s.enter(tx, who, d, proven)
		if err != nil {
			return nil, err
		}
		return render(signed)
	})
}

// asShown looks at what would be signed, so that no proof is spent on what would be refused.
func (s *Service) asShown(ctx context.Context, who techlog.Principal, r Signing) error {
	shown, err := s.Preview(ctx, who, r.ToSign)
	if err == nil && shown.Digest != r.Digest {
		err = errOther
	}
	return err
}

var errOther = techlog.Errorf(techlog.KindStale, "what would be recorded now is not what was shown: look at it again")

// mayTry refuses whoever is no person: a program signs nothing.
func mayTry(who techlog.Principal) error {
	if who.Person.IsZero() {
		return techlog.Errorf(techlog.KindForbidden, "a program signs nothing: sign as a person, with an account of your own")
	}
	return nil
}

func (s *Service) aircraftOf(ctx context.Context, who techlog.Principal, t ToSign) (techlog.ID, error) {
	if t.Squawk.IsZero() {
		return t.Aircraft, nil
	}
	squawk, err := s.store.Squawk(ctx, who.Organization, t.Squawk)
	return squawk.Aircraft, err
}

// draft is one signature before it is one: everything that it says and does.
type draft struct {
	at        time.Time
	day       string // at the aircraft's base
	zone      *time.Location
	snap      *Snapshot
	compiled  compiled
	squawk    *techlog.Squawk // taken through its step; nil: it is about the aircraft
	seen      *techlog.Squawk // as it was
	earlier   []techlog.Signature
	disposed  map[techlog.ID]bool // of an inspection: the deferred squawks that were carried on at it
	holder    holder
	book      []walkaround.BookEntry // last entries of the aircraft's meters
	upkeep    *upkeep.Rules          // on what comes due
	facts     *casefile.Facts        // after an inspection that changes them; nil: it does not
	record    techlog.Record
	authority []techlog.Reason
	text      string
}

// draw works out what would be signed, and whether it may be.
func (s *Service) draw(ctx context.Context, tx Tx, who techlog.Principal, t ToSign, at time.Time) (*draft, error) {
	d := &draft{at: at, snap: tx.Snapshot(0), upkeep: s.book.Upkeep}
	d.record = techlog.Record{Organization: who.Organization, Act: normal(t.Act)}
	act := &d.record.Act
	if err := s.place(ctx, tx, d, t); err != nil {
		return nil, err
	}
	if (d.squawk == nil) != (act.Action == actInspect) && act.Action != string(techlog.StepCorrect) {
		return nil, casefile.Faults{{
			Field: "act.action", Rule: "of-this-record", Says: "it is not signed about this record", Remedy: "an inspection is of an aircraft, everything else of a squawk",
		}}
	}
	if d.squawk != nil {
		if err := d.squawk.Take(techlog.SquawkStep(act.Action)); err != nil {
			return nil, err
		}
	}
	if err := act.Check(); err != nil {
		return nil, err
	}
	if err := s.holdAgainstRecords(d); err != nil {
		return nil, err
	}
	if err := s.authorize(ctx, tx, d, who); err != nil {
		return nil, err
	}
	if err := s.holdAgainstEntries(d); err != nil {
		return nil, err
	}
	var err error
	d.text, err = d.record.Text()
	return d, err
}

// actInspect is the action of inspections and tests of an aircraft.
const actInspect = "inspect"

// normal writes an act in the one way in which it is signed.
func normal(a casefile.Act) casefile.Act {
	a.Considered = slices.Clone(a.Considered)
	slices.Sort(a.Considered)
	a.Items = slices.Clone(a.Items)
	slices.Sort(a.Items)
	if a.Until != nil {
		until := a.Until.UTC().Truncate(time.Microsecond)
		a.Until = &until
	}
	return a
}

// place reads the records that the act is about. Kind stale if they are others than those that were seen.
func (s *Service) place(ctx context.Context, tx Tx, d *draft, t ToSign) error {
	var err error
	if d.compiled, err = s.compile(d.snap); err != nil {
		return err
	}
	a := &d.snap.Aircraft
	d.record.Aircraft, d.record.Registration, d.record.Version = a.ID, a.Registration, a.Version
	if !t.Squawk.IsZero() {
		seen, err := tx.Squawk(ctx, t.Squawk)
		if err != nil {
			return err
		}
		taken := seen
		d.seen, d.squawk, d.record.Squawk, d.record.Version = &seen, &taken, &seen, seen.Version
	}
	if t.Version != 0 && t.Version != d.record.Version {
		return techlog.Errorf(techlog.KindStale, "the record was changed meanwhile: it is at version %d", d.record.Version)
	}
	base, err := tx.Base(ctx, a.Base)
	if err != nil {
		return err
	}
	if d.zone, err = s.zone(base.Zone); err != nil {
		return err
	}
	d.day = d.at.In(d.zone).Format(time.DateOnly)
	if d.earlier, err = tx.Signatures(ctx, a.ID, t.Squawk); err != nil || d.squawk != nil {
		return err
	}
	if d.book, err = tx.MeterBook(ctx, a.ID); err != nil {
		return err
	}
	return d.readDispositions(ctx, tx)
}

// item is the catalog's key of what the squawk is about; empty if nobody knows.
func (d *draft) item() string {
	if d.seen == nil {
		return ""
	}
	for _, u := range d.compiled.config.Units {
		if u.ID == d.seen.Unit {
			return u.Item
		}
	}
	return d.seen.Item
}

// rests finds the signature on which this one rests, and the act that was signed there.
func (d *draft) rests(id techlog.ID) (casefile.Act, error) {
	i := slices.IndexFunc(d.earlier, func(s techlog.Signature) bool { return s.ID == id })
	if i < 0 {
		return casefile.Act{}, techlog.Errorf(techlog.KindNotFound, "there is no such signature on this record")
	}
	d.record.Rests, d.record.RestsOn = id, d.earlier[i].Digest[:]
	return techlog.ActOf(d.earlier[i].Text)
}

// authorize asks the table of people whether this person may sign it, by the certificate that the act names.
func (s *Service) authorize(ctx context.Context, tx Tx, d *draft, who techlog.Principal) error {
	certificates, err := tx.Certificates(ctx, who.Person)
	if err != nil {
		return err
	}
	standings, err := tx.Standings(ctx, who.Person)
	if err != nil {
		return err
	}
	act := &d.record.Act
	id, _ := techlog.ParseID(act.Certificate)
	if d.holder, err = hold(id, certificates, standings, d.record.Aircraft, d.day); err != nil {
		return err
	}
	asked, work, err := d.asked()
	if err != nil {
		return err
	}
	on := act.WorkOn(d.item(), d.compiled.policy)
	if asked.Action == actInspect && on.Part == "" {
		on.Part = partInspected(asked.Inspection)
	}
	d.authority, err = d.holder.may(questions(&asked, work, d.compiled.policy), occasion{
		rules: d.compiled.book.Rules, aircraft: d.compiled.plan.Aircraft(), work: on, declared: act.Declared, day: d.day,
	})
	if err != nil {
		return err
	}
	d.holder.certificate.Ratings = filledWords(d.holder.certificate.Ratings)
	d.record.Signer = techlog.Signer{Person: who.Person, Name: d.holder.certificate.Name, Certificate: d.holder.certificate}
	return nil
}

func filledWords(words []string) []string {
	if words == nil {
		return []string{}
	}
	return words
}

// asked is the act whose authority is asked for, and the work that an approval is of. A correction asks for that of what
// it corrects.
func (d *draft) asked() (casefile.Act, string, error) {
	act := d.record.Act
	switch techlog.SquawkStep(act.Action) {
	case techlog.StepReturn:
		work, err := d.rests(d.seen.Progress.Work.Signature)
		return act, approvedWork(&work), err
	case techlog.StepCorrect:
		id, _ := techlog.ParseID(act.Corrects)
		corrected, err := d.rests(id)
		if err != nil {
			return act, "", err
		}
		if corrected.Action == string(techlog.StepCorrect) {
			return act, "", techlog.Errorf(techlog.KindConflict, "a correction is not corrected: correct the entry that it corrects once more")
		}
		return corrected, d.workBefore(id), nil
	default:
		return act, "", nil
	}
}

// workBefore is the work that an earlier approval was of: the last one that was signed before it.
func (d *draft) workBefore(approval techlog.ID) string {
	last := ""
	for _, s := range d.earlier {
		if s.ID == approval {
			break
		}
		if s.Action != string(techlog.StepWork) {
			continue
		}
		if work, err := techlog.ActOf(s.Text); err == nil {
			last = approvedWork(&work)
		}
	}
	return last
}

// approvedWork is the work as an approval names it: what was found within limits, or could not be found at all, is
// approved as an inspection.
func approvedWork(work *casefile.Act) string {
	if work.Result == "repaired" {
		return work.Work
	}
	return "within-limits"
}

// enter writes the signature and what it does, and re-judges the aircraft's future flights.
func (s *Service) enter(tx Tx, who techlog.Principal, d *draft, proven Proven) (Signed, error) {
	act := &d.record.Act
	c := d.holder.certificate
	sig := techlog.Signature{
		ID: s.newID(), Aircraft: d.record.Aircraft, Action: act.Action, Person: who.Person, Name: c.Name, Certificate: c.ID,
		CertificateVersion: c.Version, CertificateKind: c.Kind, CertificateNumber: c.Number, Ratings: c.Ratings, Authority: d.authority,
		Digest: techlog.DigestOf(d.text), Text: d.text, Proven: string(proven), Day: d.day, At: d.at,
	}
	sig.Corrects, _ = techlog.ParseID(act.Corrects)
	event := techlog.Event{Kind: "aircraft.signed", Aircraft: d.record.Aircraft, Subject: d.record.Aircraft}
	signed := Signed{Signature: sig}
	if d.squawk == nil {
		tx.AddSignature(sig)
		signed.Aircraft = new(inspected(tx, d))
	} else {
		sig.Squawk = d.squawk.ID
		signed.Signature = sig
		tx.AddSignature(sig)
		basis := "out-of-use"
		if act.Basis == casefile.ByMEL {
			basis = "mel-record"
		}
		d.squawk.Sign(act, &sig, d.seen.Deferral, d.compiled.book.Rules.Citation(basis), s.newID())
		tx.UpdateSquawk(*d.squawk)
		tx.AddHistory(techlog.HistoryEntry{
			Squawk: d.squawk.ID, Number: d.squawk.Version, At: d.at, By: who.Name, Step: techlog.SquawkStep(act.Action), State: d.squawk.State,
			Words: summary(act), Signature: sig.ID,
		})
		d.snap.replace(*d.squawk)
		signed.Squawk = d.squawk
		event.Kind, event.Subject = "squawk.signed", d.squawk.ID
	}
	var err error
	signed.Changes, err = s.apply(tx, d.snap, d.at, event)
	return signed, err
}

// replace puts a squawk as it now is in the place of what it was.
func (snap *Snapshot) replace(squawk techlog.Squawk) {
	snap.Squawks = slices.DeleteFunc(snap.Squawks, func(o techlog.Squawk) bool { return o.ID == squawk.ID })
	if squawk.Open() {
		snap.Squawks = append(snap.Squawks, squawk)
	}
}

// summary is what the history says of a signed step: the words of the act.
func summary(a *casefile.Act) string {
	var said []string
	for _, words := range []string{a.Found, a.Done, a.Words, a.Placard, a.Data} {
		if words != "" {
			said = append(said, strings.TrimSpace(words))
		}
	}
	return strings.Join(said, " — ")
}

// endOf is the end of a civil day, which counts to midnight, in a zone.
func endOf(day airworthiness.Date, zone *time.Location) time.Time {
	at, _ := time.Parse(time.DateOnly, day.String())
	return time.Date(at.Year(), at.Month(), at.Day()+1, 0, 0, 0, 0, zone)
}
