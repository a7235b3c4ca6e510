package hangar_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// refused checks that an input is refused with a fault of this field and rule.
func refused(t *testing.T, err error, field, rule string) {
	t.Helper()
	var faults casefile.Faults
	if !errors.As(err, &faults) || !slices.ContainsFunc(faults, func(f casefile.Fault) bool {
		return f.Field == field && f.Rule == rule && f.Says != "" && f.Remedy != ""
	}) {
		t.Errorf("error %v, want a fault of %s: %s", err, field, rule)
	}
}

func TestBadSquawksAreRefused(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	good := hangar.SquawkReport{Aircraft: c.aircraft, Kind: "inoperative", Unit: "beacon", Words: "Dark."}
	for _, tt := range []struct {
		field, rule string
		change      func(*hangar.SquawkReport)
	}{
		{"kind", "required", func(r *hangar.SquawkReport) { r.Kind = "" }},
		{"kind", "known-kind", func(r *hangar.SquawkReport) { r.Kind = "broken" }},
		{"unit", "installed", func(r *hangar.SquawkReport) { r.Unit = "radar" }},
		{"item", "known-item", func(r *hangar.SquawkReport) { r.Unit, r.Item = "", "flux-valve" }},
		{"item", "one-subject", func(r *hangar.SquawkReport) { r.Item = "beacon" }},
		{"words", "required", func(r *hangar.SquawkReport) { r.Words = " \n" }},
		{"words", "length", func(r *hangar.SquawkReport) { r.Words = strings.Repeat("x", hangar.MaxWords+1) }},
	} {
		r := good
		tt.change(&r)
		_, err := c.service.FileSquawk(t.Context(), c.who, r, nil, keep(&hangar.FiledSquawk{}))
		refused(t, err, tt.field, tt.rule)
	}
	r := good
	r.Aircraft = newID()
	_, err := c.service.FileSquawk(t.Context(), c.who, r, nil, keep(&hangar.FiledSquawk{}))
	c.kind(err, techlog.KindNotFound)
	if all, err := c.service.Squawks(t.Context(), c.who, hangar.SquawkFilter{}, hangar.Page{Limit: 9}); err != nil || len(all) > 0 {
		t.Errorf("%d squawks, %v: something was written", len(all), err)
	}
}

func TestBadFlightsAreRefused(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	for _, tt := range []struct {
		field, rule string
		change      func(*hangar.FlightPlan)
	}{
		{"from", "known-base", func(p *hangar.FlightPlan) { p.From = newID() }},
		{"to", "known-base", func(p *hangar.FlightPlan) { p.To = newID() }},
		{"arrives", "future", func(p *hangar.FlightPlan) {
			p.Departs, p.Arrives = noon.Add(-2*time.Hour), noon.Add(-time.Hour)
		}},
		{"flight.arrives", "after-departs", func(p *hangar.FlightPlan) { p.Arrives = p.Departs }},
		{"flight.arrives", "window", func(p *hangar.FlightPlan) { p.Arrives = p.Departs.Add(casefile.MaxWindow + 1) }},
		{"flight.rules", "known-rules", func(p *hangar.FlightPlan) { p.Rules = "svfr" }},
	} {
		p := c.flightPlan(24)
		tt.change(&p)
		_, err := c.service.PlanFlight(t.Context(), c.who, p, nil, keep(&hangar.HeldFlight{}))
		if err == nil {
			t.Errorf("%s: %s is accepted", tt.field, tt.rule)
			continue
		}
		refused(t, err, tt.field, tt.rule)
	}
	if all, err := c.service.Flights(t.Context(), c.who, hangar.FlightFilter{}, hangar.Page{Limit: 9}); err != nil || len(all) > 0 {
		t.Errorf("%d flights, %v: something was written", len(all), err)
	}
}

func TestBadBasesAndAircraftAreRefused(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	good := techlog.Base{Code: "AWAY", Name: "Away", Lat: 1, Lon: 2, Zone: "UTC"}
	for _, tt := range []struct {
		field, rule string
		change      func(*techlog.Base)
	}{
		{"code", "required", func(b *techlog.Base) { b.Code = "" }},
		{"name", "required", func(b *techlog.Base) { b.Name = " " }},
		{"lat", "range", func(b *techlog.Base) { b.Lat = 91 }},
		{"zone", "time-zone", func(b *techlog.Base) { b.Zone = "Home/Town" }},
		{"zone", "time-zone", func(b *techlog.Base) { b.Zone = "" }},
		{"zone", "time-zone", func(b *techlog.Base) { b.Zone = "Local" }},
	} {
		b := good
		tt.change(&b)
		_, err := c.service.AddBase(t.Context(), c.who, b, nil, keep(&techlog.Base{}))
		refused(t, err, tt.field, tt.rule)
	}
	a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		field, rule string
		change      func(*techlog.Aircraft)
	}{
		{"registration", "form", func(a *techlog.Aircraft) { a.Registration = "n 1" }},
		{"type", "required", func(a *techlog.Aircraft) { a.Type = "" }},
		{"base", "known-base", func(a *techlog.Aircraft) { a.Base = newID() }},
		{"facts.basis", "required", func(a *techlog.Aircraft) { a.Facts.Basis = "" }},
		{"configuration.units[0].item", "known-item", func(a *techlog.Aircraft) {
			a.Configuration.Units = []casefile.Unit{{ID: "x", Item: "flux-valve"}}
		}},
	} {
		bad := a
		bad.Registration = "N099TW"
		tt.change(&bad)
		_, err := c.service.AddAircraft(t.Context(), c.who, bad, nil, keep(&techlog.Aircraft{}))
		refused(t, err, tt.field, tt.rule)
	}
	_, err = c.service.AddAircraft(t.Context(), c.who, a, nil, keep(&techlog.Aircraft{}))
	c.kind(err, techlog.KindConflict)
}

// TestABaseStaysWhereFlightsExpectIt holds that the light worked out for planned flights stays true.
func TestABaseStaysWhereFlightsExpectIt(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	b, err := c.service.Base(t.Context(), c.who, c.base)
	if err != nil {
		t.Fatal(err)
	}
	id := c.plan(24, nil).Flight.ID
	b.Name = "Home field, renamed"
	c.must(c.service.ChangeBase(t.Context(), c.who, b, nil, keep(&b)))
	moved := b
	moved.Lat++
	_, err = c.service.ChangeBase(t.Context(), c.who, moved, nil, keep(&techlog.Base{}))
	c.kind(err, techlog.KindConflict)
	c.must(c.service.CancelFlight(t.Context(), c.who, id, 1, nil, keep(&techlog.Flight{})))
	c.must(c.service.ChangeBase(t.Context(), c.who, moved, nil, keep(&techlog.Base{})))
	_, err = c.service.ChangeBase(t.Context(), c.who, moved, nil, keep(&techlog.Base{}))
	c.kind(err, techlog.KindStale)
}

// TestEveryUseCaseAsksForAuthority tries every change as somebody of no role.
func TestEveryUseCaseAsksForAuthority(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	nobody := c.who
	nobody.Roles = nil
	ctx := t.Context()
	for name, try := range map[string]func() error{
		"file a squawk": func() error { _, err := c.service.FileSquawk(ctx, nobody, hangar.SquawkReport{}, nil, nil); return err },
		"add a note":    func() error { _, err := c.service.AddNote(ctx, nobody, hangar.Note{}, nil, nil); return err },
		"carry over":    func() error { return c.service.CarryOver(ctx, nobody, hangar.CarriedOver{}) },
		"plan a flight": func() error { _, err := c.service.PlanFlight(ctx, nobody, hangar.FlightPlan{}, nil, nil); return err },
		"change a flight": func() error {
			_, err := c.service.ChangeFlight(ctx, nobody, newID(), 1, hangar.FlightPlan{}, nil, nil)
			return err
		},
		"cancel a flight":   func() error { _, err := c.service.CancelFlight(ctx, nobody, newID(), 1, nil, nil); return err },
		"add a base":        func() error { _, err := c.service.AddBase(ctx, nobody, techlog.Base{}, nil, nil); return err },
		"change a base":     func() error { _, err := c.service.ChangeBase(ctx, nobody, techlog.Base{}, nil, nil); return err },
		"enter an aircraft": func() error { _, err := c.service.AddAircraft(ctx, nobody, techlog.Aircraft{}, nil, nil); return err },
		"change an aircraft": func() error {
			_, err := c.service.ChangeAircraft(ctx, nobody, hangar.AircraftChange{}, nil, nil)
			return err
		},
	} {
		if err := try(); techlog.KindOf(err) != techlog.KindForbidden {
			t.Errorf("%s: %v, want it forbidden", name, err)
		}
	}
}

// TestNotesAreOnlyAdded holds that a note changes neither the squawk nor what was written before.
func TestNotesAreOnlyAdded(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	filed := c.squawk("inoperative", "beacon", "")
	for _, words := range []string{"Bulb ordered.", "Bulb came."} {
		c.must(c.service.AddNote(t.Context(), c.who, hangar.Note{Squawk: filed.Squawk.ID, Words: words}, nil, keep(&techlog.HistoryEntry{})))
	}
	story, err := c.service.Squawk(t.Context(), c.who, filed.Squawk.ID)
	if err != nil || len(story.History) != 3 || story.History[1].Words != "Bulb ordered." || story.Squawk.Words != filed.Squawk.Words {
		t.Errorf("%+v, %v", story, err)
	}
	_, err = c.service.AddNote(t.Context(), c.who, hangar.Note{Squawk: filed.Squawk.ID}, nil, keep(&techlog.HistoryEntry{}))
	refused(t, err, "words", "required")
	_, err = c.service.AddNote(t.Context(), c.who, hangar.Note{Squawk: newID(), Words: "x"}, nil, keep(&techlog.HistoryEntry{}))
	c.kind(err, techlog.KindNotFound)
}
