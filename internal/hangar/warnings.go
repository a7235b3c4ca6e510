package hangar

import (
	"context"

	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

// WarningLeads shows how many days ahead the organization's people are told what comes due.
func (s *Service) WarningLeads(ctx context.Context, who techlog.Principal) (techlog.WarningLeads, error) {
	leads, err := s.store.WarningLeads(ctx, who.Organization)
	return orUsual(leads), err
}

func orUsual(l techlog.WarningLeads) techlog.WarningLeads {
	if l.Version == 0 {
		l.Days = notice.Usually()
	}
	return l
}

// ChangeWarningLeads follows them with another version. Version is the one that the caller has seen. What has been told is
// not told again for a lead that stays. Kinds forbidden, invalid, stale.
func (s *Service) ChangeWarningLeads(ctx context.Context, who techlog.Principal, version int, days []int, once *Once, render Render[techlog.WarningLeads]) ([]byte, error) {
	if err := who.Require(techlog.KeepCompanyRules); err != nil {
		return nil, err
	}
	if err := notice.Leads(days).Check(); err != nil {
		return nil, err
	}
	at := s.now()
	next := techlog.WarningLeads{Version: version + 1, Days: notice.Leads(days).Sorted(), At: at, By: who.Name}
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		was, err := tx.WarningLeads(ctx)
		if err != nil {
			return nil, err
		}
		if was.Version != version {
			return nil, techlog.Errorf(techlog.KindStale, "they were changed meanwhile: they are at version %d", was.Version)
		}
		tx.AddWarningLeads(next)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "warning-leads.changed", Subject: who.Organization, At: at})
		return render(next)
	})
}

// Warnings lists what was told ahead about an aircraft (zero: about all), newest first.
func (s *Service) Warnings(ctx context.Context, who techlog.Principal, aircraft techlog.ID, page Page) ([]techlog.Warning, error) {
	return s.store.Warnings(ctx, who.Organization, aircraft, page)
}

// Warning shows one. Kind not-found.
func (s *Service) Warning(ctx context.Context, who techlog.Principal, id techlog.ID) (techlog.Warning, error) {
	return s.store.Warning(ctx, who.Organization, id)
}

// LookAhead tells of everything that comes due within the leads of its organization and has not been told: once for each
// day that it is due on and each lead, and late only for the lead that it has come to. It is safe to run twice, late, and
// beside others that run it. It gives the number of warnings.
func (s *Service) LookAhead(ctx context.Context, k Keeper) (int, error) {
	organizations, err := k.Organizations(ctx)
	if err != nil {
		return 0, err
	}
	n := 0
	var first error
	for _, o := range organizations {
		told, err := s.lookAhead(ctx, techlog.Principal{Organization: o.ID, Name: theProgram})
		n += told
		if err != nil && first == nil {
			first = err // what is wrong with one organization keeps no other from being warned
		}
	}
	return n, first
}

func (s *Service) lookAhead(ctx context.Context, who techlog.Principal) (int, error) {
	leads, err := s.WarningLeads(ctx, who)
	if err != nil || len(leads.Days) == 0 {
		return 0, err
	}
	n := 0
	var first error
	err = s.eachAircraft(ctx, who.Organization, func(a techlog.Aircraft) error {
		told, err := s.warn(ctx, who, a.ID, leads.Days)
		n += told
		if err != nil && first == nil {
			first = err
		}
		return ctx.Err()
	})
	if err == nil {
		err = first
	}
	return n, err
}

// eachAircraft visits the fleet. An error of visit ends it.
func (s *Service) eachAircraft(ctx context.Context, org techlog.ID, visit func(techlog.Aircraft) error) error {
	for a, err := range WholeFleet(fleetPage, func(p Page) ([]techlog.Aircraft, error) { return s.store.Fleet(ctx, org, p) }) {
		if err != nil {
			return err
		}
		if err := visit(*a); err != nil {
			return err
		}
	}
	return nil
}

// warn tells what comes due on one aircraft.
func (s *Service) warn(ctx context.Context, who techlog.Principal, aircraft techlog.ID, leads notice.Leads) (int, error) {
	coming, today, err := s.upcoming(ctx, who, aircraft)
	if err != nil {
		return 0, err
	}
	told, err := s.store.Warned(ctx, who.Organization, aircraft, today)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, u := range coming {
		lead, ok := leads.Strictest(u.Days)
		if !ok || given(told, u, lead) {
			continue
		}
		w := techlog.Warning{ID: s.newID(), Upcoming: u, Lead: lead, At: s.now()}
		scope := Scope{Organization: who.Organization, By: who.Name, At: w.At}
		_, err := s.store.Change(ctx, scope, func(_ context.Context, tx Tx) ([]byte, error) {
			tx.AddWarning(w)
			tx.Emit(techlog.Event{ID: s.newID(), Kind: DueAhead, Aircraft: aircraft, Subject: w.ID, At: w.At})
			return nil, nil
		})
		switch {
		case techlog.KindOf(err) == techlog.KindConflict: // somebody else who looks ahead has told it
		case err != nil:
			return n, err
		default:
			n++
		}
	}
	return n, nil
}

// DueAhead is the kind of event that tells of a warning.
const DueAhead = "due.ahead"

// given reports whether a thing has been told for the day on which it is due with this lead, or with a stricter one.
func given(told []techlog.Warning, u techlog.Upcoming, lead int) bool {
	for _, w := range told {
		if w.Thing == u.Thing && w.Due == u.Due && w.Lead <= lead {
			return true
		}
	}
	return false
}
