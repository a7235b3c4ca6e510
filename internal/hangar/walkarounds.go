package hangar

import (
	"context"
	"slices"
	"time"

	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// WalkaroundStart is what whoever walks says at the start.
type WalkaroundStart struct {
	ID       techlog.ID // made by the phone, so that a start that is sent again is known; zero: the server makes one
	Aircraft techlog.ID
	Flight   techlog.ID // zero: for no flight
	Place    string     // empty: the aircraft's base
	Moisture *bool      // visible moisture near freezing is met; nil: not known
}

// WalkaroundView is a walkaround with its checklist and how every check stands.
type WalkaroundView struct {
	Walkaround walkaround.Walkaround
	Composed   walkaround.Composed
	Review     walkaround.Review
	Filed      []walkaround.Filed
	Photos     int // how many the results have
}

// StartWalkaround begins a walkaround with the aircraft's checklist as it is now. Starting the same one again changes
// nothing. Kinds forbidden, not-found (the aircraft), conflict (it has no checklist, the flight is another aircraft's or
// cancelled, or the identifier is that of another walkaround).
func (s *Service) StartWalkaround(ctx context.Context, who techlog.Principal, start WalkaroundStart, once *Once, render Render[WalkaroundView]) ([]byte, error) {
	if err := who.Require(techlog.WalkAround); err != nil {
		return nil, err
	}
	if start.ID.IsZero() {
		start.ID = s.newID()
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(start.Aircraft, time.Time{})}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		begun, err := tx.Walkaround(ctx, start.ID)
		if err == nil {
			return s.startedBefore(ctx, tx, begun, start, who, render)
		}
		if techlog.KindOf(err) != techlog.KindNotFound {
			return nil, err
		}
		return s.start(ctx, tx, start, who, at, render)
	})
}

// startedBefore answers a start that was sent again.
func (s *Service) startedBefore(ctx context.Context, tx Tx, begun WalkaroundRecord, start WalkaroundStart, who techlog.Principal, render Render[WalkaroundView]) ([]byte, error) {
	if begun.Walkaround.Aircraft != start.Aircraft || begun.Walkaround.Flight != start.Flight {
		return nil, techlog.Errorf(techlog.KindConflict, "another walkaround has this identifier; make a new one")
	}
	composed, err := s.checklist(ctx, tx.Checklist, who.Organization, begun.Walkaround.Checklist)
	if err != nil {
		return nil, err
	}
	return render(viewOf(&begun, composed))
}

func (s *Service) start(ctx context.Context, tx Tx, start WalkaroundStart, who techlog.Principal, at time.Time, render Render[WalkaroundView]) ([]byte, error) {
	snap := tx.Snapshot(0)
	if _, err := s.compile(snap); err != nil { // fills in the configuration
		return nil, err
	}
	flight, err := flightToWalk(ctx, tx, start)
	if err != nil {
		return nil, err
	}
	composed, err := composeWithin(ctx, tx, &snap.Aircraft)
	if err != nil {
		return nil, err
	}
	digest, err := composed.Digest()
	if err != nil {
		return nil, err
	}
	w := walkaround.Walkaround{
		ID: start.ID, Aircraft: start.Aircraft, Flight: start.Flight, Checklist: digest, Place: start.Place, Moisture: start.Moisture,
		State: walkaround.Walking, StartedBy: who.Name, StartedAt: at, Version: 1,
	}
	if w.Place == "" {
		base, err := tx.Base(ctx, snap.Aircraft.Base)
		if err != nil {
			return nil, err
		}
		w.Place = base.Name
	}
	tx.AddWalkaround(w, composed)
	tx.Emit(techlog.Event{ID: s.newID(), Kind: "walkaround.started", Aircraft: w.Aircraft, Subject: w.ID, At: at})
	return render(viewOf(&WalkaroundRecord{Walkaround: w, Flight: flight}, composed))
}

// flightToWalk reads the flight that a walkaround is for.
func flightToWalk(ctx context.Context, tx Tx, start WalkaroundStart) (*techlog.Flight, error) {
	if start.Flight.IsZero() {
		return nil, nil
	}
	flight, err := tx.Flight(ctx, start.Flight)
	switch {
	case err != nil:
		return nil, err
	case flight.Aircraft != start.Aircraft:
		return nil, techlog.Errorf(techlog.KindConflict, "the flight is planned with another aircraft")
	case flight.State != techlog.Planned:
		return nil, techlog.Errorf(techlog.KindConflict, "the flight has been cancelled")
	}
	return &flight, nil
}

// composeWithin makes the checklist of a locked aircraft.
func composeWithin(ctx context.Context, tx Tx, a *techlog.Aircraft) (walkaround.Composed, error) {
	made, err := tx.AirframeChecklist(ctx, a.ID)
	if err != nil {
		return walkaround.Composed{}, err
	}
	if made.Version == 0 {
		return walkaround.Composed{}, noChecklist()
	}
	template, err := tx.ChecklistTemplate(ctx, made.Template)
	if err != nil {
		return walkaround.Composed{}, err
	}
	composed := compose(a, made, template)
	if len(composed.Checks) == 0 {
		return composed, nothingToCheck()
	}
	return composed, nil
}

// checklist reads a checklist once and remembers it: what a digest names never changes.
func (s *Service) checklist(ctx context.Context, read func(context.Context, [32]byte) (walkaround.Composed, error), org techlog.ID, digest [32]byte) (walkaround.Composed, error) {
	key := checklistKey{org, digest}
	if known, ok := s.checklists.Get(key); ok {
		return known, nil
	}
	composed, err := read(ctx, digest)
	if err == nil {
		s.checklists.Add(key, composed)
	}
	return composed, err
}

// viewOf works out how the checks of a walkaround stand.
func viewOf(r *WalkaroundRecord, composed walkaround.Composed) WalkaroundView {
	flight := walkaround.CircumstancesOf(r.Flight, r.Walkaround.Moisture)
	return WalkaroundView{r.Walkaround, composed, walkaround.NewReview(&composed.Checklist, flight, r.Results()), r.Filed, r.Photos}
}

// Walkarounds lists walkarounds, newest first.
func (s *Service) Walkarounds(ctx context.Context, who techlog.Principal, f WalkaroundFilter, p Page) ([]walkaround.Walkaround, error) {
	return s.store.Walkarounds(ctx, who.Organization, f, p)
}

// Walkaround shows one walkaround with how every check stands. Whether a check applies is worked out from the flight as
// it is now.
func (s *Service) Walkaround(ctx context.Context, who techlog.Principal, id techlog.ID) (WalkaroundView, error) {
	r, err := s.store.Walkaround(ctx, who.Organization, id)
	if err != nil {
		return WalkaroundView{}, err
	}
	read := func(ctx context.Context, digest [32]byte) (walkaround.Composed, error) {
		return s.store.Checklist(ctx, who.Organization, digest)
	}
	composed, err := s.checklist(ctx, read, who.Organization, r.Walkaround.Checklist)
	if err != nil {
		return WalkaroundView{}, err
	}
	return viewOf(&r, composed), nil
}

// WalkaroundAhead shows a walkaround of an aircraft as it would begin now for no flight, so that a phone has its stations
// before it begins: nothing of it is on record. What only a flight could settle applies. Kinds forbidden, not-found (the
// aircraft), conflict (it has no checklist).
func (s *Service) WalkaroundAhead(ctx context.Context, who techlog.Principal, start WalkaroundStart) (WalkaroundView, error) {
	if err := who.Require(techlog.WalkAround); err != nil {
		return WalkaroundView{}, err
	}
	list, err := s.Checklist(ctx, who, start.Aircraft)
	switch {
	case err != nil:
		return WalkaroundView{}, err
	case list.Made.Version == 0:
		return WalkaroundView{}, noChecklist()
	case len(list.Composed.Checks) == 0:
		return WalkaroundView{}, nothingToCheck()
	}
	w := walkaround.Walkaround{ID: start.ID, Aircraft: start.Aircraft, State: walkaround.Walking, StartedBy: who.Name, StartedAt: s.now()}
	return viewOf(&WalkaroundRecord{Walkaround: w}, list.Composed), nil
}

// FindingReport says of which finding a squawk is filed. What is not said is as the finding proposes.
type FindingReport struct {
	Walkaround techlog.ID
	Result     techlog.ID
	Kind       *string
	Unit       *string
	Item       *string
	Words      *string
}

// FileFinding files a squawk of a finding, on the path of every squawk: the aircraft's future flights are judged anew in
// the same transaction. Kinds forbidden, invalid, not-found, conflict (it is no finding, was settled, or a squawk of it
// has been filed).
func (s *Service) FileFinding(ctx context.Context, who techlog.Principal, f FindingReport, once *Once, render Render[FiledSquawk]) ([]byte, error) {
	if err := who.Require(techlog.FileSquawk); err != nil {
		return nil, err
	}
	view, err := s.Walkaround(ctx, who, f.Walkaround)
	if err != nil {
		return nil, err
	}
	at := s.now()
	aircraft := view.Walkaround.Aircraft // a walkaround stays on its aircraft
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{s.want(aircraft, at)}, Walkaround: f.Walkaround}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		record, err := tx.Walkaround(ctx, f.Walkaround)
		if err != nil {
			return nil, err
		}
		now := viewOf(&record, view.Composed)
		proposal, err := now.propose(f.Result)
		if err != nil {
			return nil, err
		}
		filed, err := s.file(tx, tx.Snapshot(0), f.report(aircraft, proposal), who, at)
		if err != nil {
			return nil, err
		}
		tx.AddFiled(walkaround.Filed{Walkaround: f.Walkaround, Result: f.Result, Squawk: filed.Squawk.ID, At: at, By: who.Name})
		return render(filed)
	})
}

// propose makes the squawk of a finding that is still to be filed.
func (v *WalkaroundView) propose(result techlog.ID) (walkaround.Proposal, error) {
	if slices.ContainsFunc(v.Filed, func(f walkaround.Filed) bool { return f.Result == result }) {
		return walkaround.Proposal{}, techlog.Errorf(techlog.KindConflict, "a squawk has been filed of this finding already")
	}
	for i := range v.Review.Standings {
		standing := &v.Review.Standings[i]
		at := slices.IndexFunc(standing.Results, func(r walkaround.Result) bool { return r.ID == result })
		if at < 0 {
			continue
		}
		found := slices.ContainsFunc(walkaround.Unreplaced(standing.Results), func(r walkaround.Result) bool {
			return r.ID == result && r.Outcome == walkaround.Finding
		})
		if !found {
			return walkaround.Proposal{}, techlog.Errorf(techlog.KindConflict, "this result is no finding, or another one has settled it")
		}
		return standing.Check.Propose(&standing.Results[at]), nil
	}
	return walkaround.Proposal{}, techlog.Errorf(techlog.KindNotFound, "there is no such result")
}

// report is the squawk that is filed: as proposed, with what was said otherwise. Whoever names a unit means no item, and
// the other way round.
func (f FindingReport) report(aircraft techlog.ID, p walkaround.Proposal) SquawkReport {
	r := SquawkReport{Aircraft: aircraft, Kind: p.Kind, Unit: p.Unit, Item: p.Item, Words: p.Words}
	if f.Kind != nil {
		r.Kind = *f.Kind
	}
	if f.Unit != nil || f.Item != nil {
		r.Unit, r.Item = "", ""
	}
	if f.Unit != nil {
		r.Unit = *f.Unit
	}
	if f.Item != nil {
		r.Item = *f.Item
	}
	if f.Words != nil {
		r.Words = *f.Words
	}
	return r
}
