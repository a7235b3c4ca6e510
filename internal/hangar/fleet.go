package hangar

import (
	"context"
	"fmt"
	"regexp"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/daylight"
	"tiedown/internal/techlog"
)

// Bases lists the organization's bases.
func (s *Service) Bases(ctx context.Context, who techlog.Principal, p Page) ([]techlog.Base, error) {
	return s.store.Bases(ctx, who.Organization, p)
}

// Base shows one base.
func (s *Service) Base(ctx context.Context, who techlog.Principal, id techlog.ID) (techlog.Base, error) {
	return s.store.Base(ctx, who.Organization, id)
}

// AddBase adds a base. Kind conflict if its code is taken.
func (s *Service) AddBase(ctx context.Context, who techlog.Principal, b techlog.Base, once *Once, render Render[techlog.Base]) ([]byte, error) {
	if err := who.Require(techlog.KeepBases); err != nil {
		return nil, err
	}
	if err := checkBase(b); err != nil {
		return nil, err
	}
	at := s.now()
	b.ID, b.Version = s.newID(), 1
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}, func(_ context.Context, tx Tx) ([]byte, error) {
		tx.AddBase(b)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "base.added", Subject: b.ID, At: at})
		return render(b)
	})
}

// ChangeBase corrects a base. Its place and zone cannot change while flights from or to it are planned: their light
// has been worked out. Kinds stale, conflict.
func (s *Service) ChangeBase(ctx context.Context, who techlog.Principal, b techlog.Base, once *Once, render Render[techlog.Base]) ([]byte, error) {
	if err := who.Require(techlog.KeepBases); err != nil {
		return nil, err
	}
	if err := checkBase(b); err != nil {
		return nil, err
	}
	at := s.now()
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}, func(ctx context.Context, tx Tx) ([]byte, error) {
		was, err := tx.Base(ctx, b.ID)
		if err != nil {
			return nil, err
		}
		if was.Version != b.Version {
			return nil, techlog.Errorf(techlog.KindStale, "the base was changed meanwhile: it is at version %d", was.Version)
		}
		if was.Lat != b.Lat || was.Lon != b.Lon || was.Zone != b.Zone {
			flights, err := tx.FlightsAt(ctx, b.ID, at)
			if err != nil {
				return nil, err
			}
			if len(flights) > 0 {
				return nil, techlog.Errorf(techlog.KindConflict,
					"%d flights from or to this base are planned; add a base with the new place and move them to it", len(flights))
			}
		}
		changed := b // the store may run this again: what the caller has seen stays as it is
		changed.Version++
		tx.UpdateBase(changed)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "base.changed", Subject: b.ID, At: at})
		return render(changed)
	})
}

func checkBase(b techlog.Base) error {
	var bad casefile.Faults
	if strings.TrimSpace(b.Code) == "" {
		bad.Add("code", "required", "the short name is missing", "give a short name, such as the airport's identifier")
	}
	if strings.TrimSpace(b.Name) == "" {
		bad.Add("name", "required", "the name is missing", "give the base a name")
	}
	if !(daylight.Place{Lat: b.Lat, Lon: b.Lon}).Valid() {
		bad.Add("lat", "range", "the coordinates are out of range", "lat goes from -90 to 90, lon from -180 to 180")
	}
	if _, err := time.LoadLocation(b.Zone); err != nil || b.Zone == "" || b.Zone == "Local" {
		bad.Add("zone", "time-zone", fmt.Sprintf("%q is no time zone", b.Zone), "use a name of the IANA time zone database, such as America/Chicago")
	}
	return bad.Err()
}

// Fleet lists the organization's aircraft.
func (s *Service) Fleet(ctx context.Context, who techlog.Principal, p Page) ([]techlog.Aircraft, error) {
	return s.store.Fleet(ctx, who.Organization, p)
}

// Aircraft shows one aircraft with its facts and current configuration.
func (s *Service) Aircraft(ctx context.Context, who techlog.Principal, id techlog.ID) (techlog.Aircraft, error) {
	return s.store.Aircraft(ctx, who.Organization, id)
}

// Configurations lists the revisions of an aircraft's configuration, newest first. Kind not-found (the aircraft).
func (s *Service) Configurations(ctx context.Context, who techlog.Principal, aircraft techlog.ID, p Page) ([]techlog.ConfigurationRevision, error) {
	if _, err := s.store.StateVersion(ctx, who.Organization, aircraft); err != nil {
		return nil, err
	}
	return s.store.Configurations(ctx, who.Organization, aircraft, p)
}

// AddAircraft enters an aircraft. Kind conflict if the registration is taken.
func (s *Service) AddAircraft(ctx context.Context, who techlog.Principal, a techlog.Aircraft, once *Once, render Render[techlog.Aircraft]) ([]byte, error) {
	if err := who.Require(techlog.KeepAircraft); err != nil {
		return nil, err
	}
	at := s.now()
	a.ID, a.Version, a.Revision, a.PlanVersion, a.StateVersion = s.newID(), 1, 1, 1, 1
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}, func(ctx context.Context, tx Tx) ([]byte, error) {
		if err := s.checkAircraft(ctx, tx, a); err != nil {
			return nil, err
		}
		tx.AddAircraft(a)
		tx.AddConfiguration(techlog.ConfigurationRevision{Aircraft: a.ID, Revision: 1, At: at, By: who.Name, Configuration: a.Configuration})
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "aircraft.added", Aircraft: a.ID, Subject: a.ID, At: at})
		return render(a)
	})
}

// registrationForm admits the registration marks of any country.
var registrationForm = regexp.MustCompile(`^[A-Z0-9][A-Z0-9-]{1,9}$`)

func (s *Service) checkAircraft(ctx context.Context, tx Tx, a techlog.Aircraft) error {
	var bad casefile.Faults
	if !registrationForm.MatchString(a.Registration) {
		bad.Add("registration", "form", fmt.Sprintf("%q is no registration mark", a.Registration), "use 2 to 10 capital letters, digits and hyphens")
	}
	if strings.TrimSpace(a.Type) == "" {
		bad.Add("type", "required", "the type is missing", "name the type as its type certificate does")
	}
	_, aircraftErr := casefile.CompileAircraft(casefile.Aircraft{Facts: a.Facts, Configuration: a.Configuration}, s.book.Rules, "")
	_, baseErr := baseOf(ctx, tx, "base", a.Base)
	return casefile.Join(bad.Err(), aircraftErr, baseErr)
}

// AircraftChange says what of an aircraft is replaced. Nil fields stay.
type AircraftChange struct {
	Aircraft      techlog.ID
	Version       int // that the caller has seen
	Registration  *string
	Type          *string
	Base          *techlog.ID
	Facts         *casefile.Facts
	Configuration *casefile.Configuration
}

// ChangeAircraft replaces facts or configuration and re-judges every future flight. A new configuration is a new
// revision; earlier ones stay. Kinds stale, conflict.
func (s *Service) ChangeAircraft(ctx context.Context, who techlog.Principal, ch AircraftChange, once *Once, render Render[techlog.Aircraft]) ([]byte, error) {
	if err := who.Require(techlog.KeepAircraft); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{{Aircraft: ch.Aircraft, FlightsFrom: at}}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		a, err := s.change(ctx, tx, ch, who, at)
		if err != nil {
			return nil, err
		}
		return render(a)
	})
}

func (ch AircraftChange) apply(a *techlog.Aircraft) {
	if ch.Registration != nil {
		a.Registration = *ch.Registration
	}
	if ch.Type != nil {
		a.Type = *ch.Type
	}
	if ch.Base != nil {
		a.Base = *ch.Base
	}
	if ch.Facts != nil {
		a.Facts = *ch.Facts
		a.PlanVersion++
	}
	if ch.Configuration != nil {
		a.Configuration = *ch.Configuration
		a.Revision++
		a.PlanVersion++
	}
}
