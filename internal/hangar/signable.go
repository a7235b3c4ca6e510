package hangar

import (
	"context"
	"errors"
	"slices"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// Signable is what may be signed about a squawk as it stands, or about an aircraft, by whoever asks and by others, with what
// it takes to write it. It is a look ahead: what is signed is held against everything once more by Preview and Sign.
type Signable struct {
	Aircraft techlog.Aircraft
	Squawk   techlog.Squawk // zero: it is about the aircraft
	Subject  Subject
	Zone     *time.Location // of the aircraft's base
	Today    string         // YYYY-MM-DD there

	Certificates []techlog.Certificate // of whoever asks, that are in force today
	Acts         []SignableAct

	Beside      []DeferredItem      // the other open squawks; of an aircraft, all of them
	Disposed    map[techlog.ID]bool // of those that are deferred: the ones that an inspection of today has disposed of
	Basis       string              // by which an item of it is deferred; empty: nobody has entered it
	Procedure   bool                // its MEL asks for a maintenance procedure (M), or nobody knows that it does not
	Limits      []Limit             // what ends a deferral at the latest, the soonest first
	Removed     string              // YYYY-MM-DD, when the item was first signed as removed; empty: it was not
	ELTPlacard  string              // the words that the rule sets for the placard, once it is removed; empty: it is no ELT
	CheckFlight bool                // work on it may change how the aircraft flies (14 CFR 91.407(b))
}

// Limit is what ends a deferral at the latest.
type Limit struct {
	End time.Time
	By  string
}

// SignableAct is an act for which the record has room.
type SignableAct struct {
	Action string
	Waits  string // what has to come first; empty: it may be signed now
	Ways   []Way  // in which it may be signed; none while it waits
}

// Way is one way to sign an act: of work and inspections there are several.
type Way struct {
	Word    string       // the kind of work or inspection; empty: there is one way
	By      []techlog.ID // certificates of whoever asks by which it may be signed, if all that is to be declared is so
	Who     []string     // who may, in words, with the citation
	Refused string       // why none of them does, where it is not for the certificate
}

// By lists the certificates of whoever asks by which the act may be signed in one of its ways.
func (a *SignableAct) By() []techlog.ID {
	var by []techlog.ID
	for _, w := range a.Ways {
		for _, id := range w.By {
			if !slices.Contains(by, id) {
				by = append(by, id)
			}
		}
	}
	return by
}

// Who says in words who may sign it in one of its ways.
func (a *SignableAct) Who() []string {
	var who []string
	for _, w := range a.Ways {
		for _, one := range w.Who {
			if !slices.Contains(who, one) {
				who = append(who, one)
			}
		}
	}
	return who
}

// SignableOn says what may be signed about a squawk. inspection is that at which a deferral would be carried on; it may be
// empty. Kind not-found.
func (s *Service) SignableOn(ctx context.Context, who techlog.Principal, squawk techlog.ID, inspection string) (Signable, error) {
	q, err := s.store.Squawk(ctx, who.Organization, squawk)
	if err != nil {
		return Signable{}, err
	}
	d, held, err := s.sketch(ctx, who, q.Aircraft)
	if err != nil {
		return Signable{}, err
	}
	d.seen = &q
	d.record.Act = d.deferralToCome(inspection)
	if d.earlier, err = s.store.Signatures(ctx, who.Organization, q.Aircraft, squawk); err != nil {
		return Signable{}, err
	}
	view := s.signable(d)
	view.Squawk, view.Subject = q, s.subject(&q, d.compiled.config)
	view.Beside = slices.DeleteFunc(view.Beside, func(o DeferredItem) bool { return o.Squawk.ID == squawk })
	view.Procedure, view.Removed, view.CheckFlight = d.asksProcedure(), d.firstRemoval(), d.mayFlyOtherwise()
	if view.Subject.ELT {
		view.ELTPlacard = eltPlacard
	}
	for _, l := range d.limits() {
		view.Limits = append(view.Limits, Limit{l.end, l.by})
	}
	slices.SortStableFunc(view.Limits, func(a, b Limit) int { return a.End.Compare(b.End) })
	view.Certificates = held.inForce(d.day)
	for _, step := range techlog.SignedSteps() {
		act, ok, err := d.signable(step, held)
		if err != nil {
			return Signable{}, err
		}
		if ok {
			view.Acts = append(view.Acts, act)
		}
	}
	return view, nil
}

// deferralToCome is as much of the deferral that might be signed next as bounds its end: discovered when it was reported,
// removed as it was signed, extended as it is on record.
func (d *draft) deferralToCome(inspection string) casefile.Act {
	act := casefile.Act{Inspection: inspection, Discovered: d.dayOf(d.seen.ReportedAt)}
	if out := d.seen.Progress.OutOfUse; out != nil {
		act.RemovedOn = out.RemovedOn
	}
	if of := d.seen.Deferral; of != nil {
		act.ExtendedUntil = of.ExtendedUntil
	}
	return act
}

// SignableInspections says which inspections and tests of an aircraft may be signed, and what one of the kind inspection that
// was completed on a day, YYYY-MM-DD, has disposed of. Kind not-found.
func (s *Service) SignableInspections(ctx context.Context, who techlog.Principal, aircraft techlog.ID, inspection, completed string) (Signable, error) {
	d, held, err := s.sketch(ctx, who, aircraft)
	if err != nil {
		return Signable{}, err
	}
	d.record.Act = casefile.Act{Action: actInspect, Inspection: inspection, Completed: completed}
	if err := d.readDispositions(ctx, storedSignatures{s.store, who.Organization}); err != nil {
		return Signable{}, err
	}
	view := s.signable(d)
	view.Disposed, view.Certificates = d.disposed, held.inForce(d.day)
	act := SignableAct{Action: actInspect}
	for _, kind := range casefile.ActWords("inspection") {
		if kind == "progressive-inspection" && !d.compiled.said.OnProgram() {
			continue
		}
		way := d.way(casefile.Act{Action: actInspect, Inspection: kind}, "", held)
		if way.Word = kind; len(way.Who) > 0 {
			act.Ways = append(act.Ways, way)
		}
	}
	view.Acts = []SignableAct{act}
	return view, nil
}

// papersHeld is what the organization keeps of somebody.
type papersHeld struct {
	certificates []techlog.Certificate
	standings    []techlog.Standing
}

// certificatesMost is how many certificates, and standings, of one person are looked through.
const certificatesMost = 200

func (h *papersHeld) inForce(day string) []techlog.Certificate {
	return slices.DeleteFunc(slices.Clone(h.certificates), func(c techlog.Certificate) bool { return !c.InForce(day) })
}

// sketch begins a draft that nobody signs: it reads an aircraft and what is kept of whoever asks, outside of a transaction.
func (s *Service) sketch(ctx context.Context, who techlog.Principal, aircraft techlog.ID) (*draft, *papersHeld, error) {
	snap, c, err := s.look(ctx, who.Organization, aircraft)
	if err != nil {
		return nil, nil, err
	}
	d := &draft{at: s.now(), snap: &snap, compiled: c, upkeep: s.book.Upkeep}
	d.record.Aircraft = aircraft
	if d.zone, err = s.zoneOf(ctx, who.Organization, snap.Aircraft.Base); err != nil {
		return nil, nil, err
	}
	d.day = d.at.In(d.zone).Format(time.DateOnly)
	held := &papersHeld{}
	if who.Person.IsZero() {
		return d, held, nil
	}
	if held.certificates, err = s.store.Certificates(ctx, who.Organization, who.Person, Page{Limit: certificatesMost}); err != nil {
		return nil, nil, err
	}
	held.standings, err = s.store.Standings(ctx, who.Organization, who.Person, Page{Limit: certificatesMost})
	return d, held, err
}

func (s *Service) signable(d *draft) Signable {
	view := Signable{Aircraft: d.snap.Aircraft, Zone: d.zone, Today: d.day}
	if authorized := d.compiled.facts.MELAuthorized; authorized != nil {
		if view.Basis = casefile.ByRule; *authorized {
			view.Basis = casefile.ByMEL
		}
	}
	for i := range d.snap.Squawks {
		q := &d.snap.Squawks[i]
		view.Beside = append(view.Beside, DeferredItem{Squawk: *q, Subject: s.subject(q, d.compiled.config)})
	}
	slices.SortFunc(view.Beside, func(a, b DeferredItem) int { return a.Squawk.Number - b.Squawk.Number })
	return view
}

// signable says how a squawk can be taken through a step that is signed; false if its state has no room for it. A
// correction is of a signature, whatever the state.
func (d *draft) signable(step techlog.SquawkStep, held *papersHeld) (SignableAct, bool, error) {
	act := SignableAct{Action: string(step)}
	if _, err := d.seen.State.Next(step); err != nil || step == techlog.StepCorrect {
		return act, false, nil
	}
	taken := *d.seen
	var refused *techlog.Error
	if err := taken.Take(step); errors.As(err, &refused) {
		act.Waits = refused.Says
		return act, d.seen.WaitsFor(step), nil
	}
	if step == techlog.StepDefer {
		if act.Waits = d.deferWaits(); act.Waits != "" {
			return act, true, nil
		}
	}
	work := ""
	variants := []casefile.Act{{Action: act.Action}}
	switch step {
	case techlog.StepOutOfUse:
		variants = d.waysOutOfUse()
	case techlog.StepDefer, techlog.StepCarryOn:
		if isTrue(d.compiled.facts.MELAuthorized) {
			variants[0].Basis = casefile.ByMEL
		}
	case techlog.StepWork:
		variants = nil
		for _, kind := range casefile.ActWords("work") {
			variants = append(variants, casefile.Act{Action: act.Action, Work: kind})
		}
	case techlog.StepReturn:
		done, err := d.rests(d.seen.Progress.Work.Signature)
		if err != nil {
			return act, false, err
		}
		work = approvedWork(&done)
	default: // there is one way
	}
	for _, v := range variants {
		way := d.way(v, work, held)
		way.Word = v.Work
		if way.Word == "" {
			way.Word = v.Method
		}
		act.Ways = append(act.Ways, way)
	}
	return act, true, nil
}

// deferWaits says what the records still lack for a deferral.
func (d *draft) deferWaits() string {
	switch {
	case d.compiled.facts.MELAuthorized == nil:
		return "nobody has entered whether an MEL is authorized for the aircraft"
	case d.seen.Progress.OutOfUse == nil && (d.compiled.policy.Deactivation != "rule-text" || d.asksProcedure()):
		return "nobody has signed yet that the item is out of use"
	}
	return ""
}

func (d *draft) waysOutOfUse() []casefile.Act {
	var ways []casefile.Act
	for _, method := range casefile.ActWords("method") {
		act := casefile.Act{Action: string(techlog.StepOutOfUse), Method: method, InvolvesMaintenance: new(false)}
		if d.asksProcedure() {
			act.MaintenanceProcedure = new(true)
		}
		ways = append(ways, act)
	}
	return ways
}

// way tries each certificate on an act, with everything that can be declared declared as its signer would like it.
func (d *draft) way(act casefile.Act, work string, held *papersHeld) Way {
	var way Way
	aircraft := d.compiled.plan.Aircraft()
	on, _ := airworthiness.ParseDate(d.day)
	lists := questions(&act, work, d.compiled.policy)
	for _, list := range lists {
		var all []string // who may do everything that the list asks
		for i, q := range list {
			who := d.compiled.book.Rules.WhoMay(airworthiness.Occasion{
				Verb: q.verb, Action: q.action, Aircraft: &aircraft, Work: act.WorkOn(d.item(), d.compiled.policy), On: on,
			})
			if i == 0 {
				all = who
			}
			all = slices.DeleteFunc(all, func(one string) bool { return !slices.Contains(who, one) })
		}
		way.Who = append(way.Who, all...)
	}
	slices.Sort(way.Who)
	way.Who = slices.Compact(way.Who)
	for i := range held.certificates {
		h, err := hold(held.certificates[i].ID, held.certificates, held.standings, d.record.Aircraft, d.day)
		if err != nil {
			continue
		}
		err = d.tryAll(&h, act, lists)
		var refused *techlog.Error
		switch {
		case err == nil:
			way.By = append(way.By, h.certificate.ID)
		case errors.As(err, &refused) && len(refused.Rows) == 0:
			way.Refused = refused.Says
		}
	}
	return way
}

// tryAll asks whether a certificate would do, for any part that may have been worked on and any paragraph of preventive
// maintenance. A refusal that is not for the certificate is given before any other.
func (d *draft) tryAll(h *holder, act casefile.Act, lists [][]question) error {
	paragraphs := 0
	if act.Work == "preventive-maintenance" {
		paragraphs = preventiveParagraphs
	}
	var first error
	for _, part := range append([]string{""}, airworthiness.Vocabulary("part")...) {
		for n := 0; n <= paragraphs; n++ {
			act.Declared = declaredAtBest(part, n)
			work := act.WorkOn(d.item(), d.compiled.policy)
			if act.Action == actInspect && part == "" {
				work.Part = partInspected(act.Inspection)
			}
			_, err := h.may(lists, occasion{
				rules: d.compiled.book.Rules, aircraft: d.compiled.plan.Aircraft(), work: work, declared: act.Declared, day: d.day,
			})
			var refused *techlog.Error
			switch {
			case err == nil:
				return nil
			case first == nil || errors.As(err, &refused) && len(refused.Rows) == 0:
				first = err
			}
		}
	}
	return first
}

// preventiveParagraphs is how many paragraphs 14 CFR part 43 appendix A(c) has.
const preventiveParagraphs = 31

// declaredAtBest is what a signer would have to declare for the most to be permitted.
func declaredAtBest(part string, paragraph int) *casefile.Declared {
	yes, no := new(true), new(false)
	return &casefile.Declared{
		Part: part, Paragraph: paragraph, WithinLimits: yes, Complex: no, ApprovedData: yes, ApprovedProduct: no, AuthorizedByMaker: yes,
		InstalledByMaker: yes, LimitationsName: yes, DidWork: yes, Understands: yes, DoneBefore: yes, InCommand: yes, Rated: yes, Equipped: yes,
	}
}

// storedSignatures reads the signatures of an organization outside of a transaction.
type storedSignatures struct {
	store Store
	org   techlog.ID
}

// Signatures implements signatures.
func (b storedSignatures) Signatures(ctx context.Context, aircraft, squawk techlog.ID) ([]techlog.Signature, error) {
	return b.store.Signatures(ctx, b.org, aircraft, squawk)
}
