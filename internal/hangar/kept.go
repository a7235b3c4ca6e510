package hangar

import (
	"context"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// KeepDetermination keeps what a flight's determination is now, that of its worst leg, with the book and the whole case that it rests on, so
// that anybody can judge it again. Kinds forbidden, not-found (the flight).
func (s *Service) KeepDetermination(ctx context.Context, who techlog.Principal, flight techlog.ID, once *Once, render Render[techlog.KeptDetermination]) ([]byte, error) {
	if err := who.Require(techlog.KeepDetermination); err != nil {
		return nil, err
	}
	f, err := s.store.Flight(ctx, who.Organization, flight)
	if err != nil {
		return nil, err
	}
	at := s.now()
	// The whole aircraft is read, whatever plan is known: the case has to hold it.
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{{Aircraft: f.Aircraft}}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		f, err := tx.Flight(ctx, flight)
		if err != nil {
			return nil, err
		}
		if f.Aircraft != scope.Lock[0].Aircraft {
			return nil, techlog.Errorf(techlog.KindUnavailable, "the flight was moved to another aircraft meanwhile; send the request again")
		}
		written, err := s.caseOf(tx.Snapshot(0), &f, worstLeg(&f.Hold))
		if err != nil {
			return nil, err
		}
		kept := techlog.KeptDetermination{ID: s.newID(), Flight: flight, At: at, By: who.Name}
		if err := s.record(&kept, written); err != nil {
			return nil, err
		}
		tx.AddDetermination(kept)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "determination.kept", Aircraft: f.Aircraft, Subject: kept.ID, At: at})
		return render(kept)
	})
}

// record judges a case by the regulation and the rules that it brings along, and writes it down with its answer.
func (s *Service) record(kept *techlog.KeptDetermination, written casefile.Case) error {
	answer, err := s.Evaluate(written)
	if err != nil {
		return err
	}
	record, err := casefile.NewRecord(written, answer)
	if err != nil {
		return err
	}
	line, err := record.Write()
	if err != nil {
		return err
	}
	kept.Verdict, kept.Record = answer.Verdict, string(line)
	return nil
}

// caseOf is a leg of a flight with everything that bears on it, as a written case.
func (s *Service) caseOf(snap *Snapshot, f *techlog.Flight, leg int) (casefile.Case, error) {
	zone, err := s.zone(f.Zone)
	if err != nil {
		return casefile.Case{}, err
	}
	return casefile.Case{
		Aircraft: snap.Judged(),
		Defects:  writtenDefects(bearingOn(f, snap.Squawks), snap.Aircraft.Configuration),
		Flight:   f.Case(leg, zone),

		CompanyRules: snap.Company.Rules, Policy: snap.Company.Policy,
	}, nil
}

// Determinations lists what was kept of a flight, oldest first. Kind not-found (the flight).
func (s *Service) Determinations(ctx context.Context, who techlog.Principal, flight techlog.ID, p Page) ([]techlog.KeptDetermination, error) {
	if _, err := s.store.Flight(ctx, who.Organization, flight); err != nil {
		return nil, err
	}
	return s.store.Determinations(ctx, who.Organization, flight, p)
}

// Determination shows one that was kept.
func (s *Service) Determination(ctx context.Context, who techlog.Principal, id techlog.ID) (techlog.KeptDetermination, error) {
	return s.store.Determination(ctx, who.Organization, id)
}

// MELImport is a minimum equipment list to enter.
type MELImport struct {
	Aircraft techlog.ID
	Version  int // of the aircraft that the caller has seen
	MEL      casefile.MEL
}

// ImportMEL puts an MEL into a new revision of the aircraft's configuration, beside whatever that holds, and re-judges
// every future flight. Kinds forbidden, invalid, not-found, stale.
func (s *Service) ImportMEL(ctx context.Context, who techlog.Principal, m MELImport, once *Once, render Render[techlog.Aircraft]) ([]byte, error) {
	if err := who.Require(techlog.KeepAircraft); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{{Aircraft: m.Aircraft, FlightsFrom: at}}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		configuration := tx.Snapshot(0).Aircraft.Configuration
		configuration.Units = slices.Clone(configuration.Units)
		configuration.MEL = m.MEL
		a, err := s.change(ctx, tx, AircraftChange{Aircraft: m.Aircraft, Version: m.Version, Configuration: &configuration}, who, at)
		if err != nil {
			return nil, err
		}
		return render(a)
	})
}

// change applies a change to the locked aircraft and re-judges its future flights.
func (s *Service) change(ctx context.Context, tx Tx, ch AircraftChange, who techlog.Principal, at time.Time) (techlog.Aircraft, error) {
	snap := tx.Snapshot(0)
	a := &snap.Aircraft
	if a.Version != ch.Version {
		return *a, techlog.Errorf(techlog.KindStale, "the aircraft was changed meanwhile: it is at version %d", a.Version)
	}
	a.Version++
	before := a.Configuration
	ch.apply(a)
	if ch.Configuration != nil {
		day, err := s.dayAtBase(ctx, tx, a.Base, at)
		if err != nil {
			return *a, err
		}
		a.Configuration.Succeed(before, day)
	}
	snap.uncommitted = true
	if err := s.checkAircraft(ctx, tx, *a); err != nil {
		return *a, err
	}
	tx.UpdateAircraft(*a)
	if ch.Configuration != nil {
		tx.AddConfiguration(techlog.ConfigurationRevision{
			Aircraft: a.ID, Revision: a.Revision, At: at, By: who.Name, Configuration: a.Configuration,
		})
	}
	_, err := s.apply(tx, snap, at, techlog.Event{Kind: "aircraft.changed", Aircraft: a.ID, Subject: a.ID})
	return *a, err
}

// dayAtBase is the date of an instant at a base. A base that there is not is refused elsewhere: until then the day is UTC's.
func (s *Service) dayAtBase(ctx context.Context, tx Tx, base techlog.ID, at time.Time) (string, error) {
	b, err := tx.Base(ctx, base)
	switch {
	case techlog.KindOf(err) == techlog.KindNotFound:
		return at.UTC().Format(time.DateOnly), nil
	case err != nil:
		return "", err
	}
	zone, err := s.zone(b.Zone)
	if err != nil {
		return "", err
	}
	return at.In(zone).Format(time.DateOnly), nil
}
