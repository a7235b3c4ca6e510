package hangar

import (
	"context"
	"fmt"
	"slices"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// PlannedCase is one leg of a planned flight with everything that bears on it, as a written case.
type PlannedCase struct {
	Organization techlog.Organization
	Registration string
	Flight       techlog.ID
	Leg          int // from 0
	Purpose      string
	Held         string // the verdict on record
	Case         casefile.Case
}

// fleetPage is how many aircraft are read at a time.
const fleetPage = 100

// PlannedCases visits the planned flights of every organization that end after an instant, aircraft by aircraft. It only
// reads. An error of visit ends it.
func PlannedCases(ctx context.Context, store Store, keeper Keeper, from time.Time, visit func(PlannedCase) error) error {
	organizations, err := keeper.Organizations(ctx)
	if err != nil {
		return err
	}
	for _, o := range organizations {
		for a, err := range WholeFleet(fleetPage, func(p Page) ([]techlog.Aircraft, error) { return store.Fleet(ctx, o.ID, p) }) {
			if err != nil {
				return err
			}
			if err := plannedOf(ctx, store, o, a.ID, from, visit); err != nil {
				return err
			}
		}
	}
	return nil
}

func plannedOf(ctx context.Context, store Store, o techlog.Organization, aircraft techlog.ID, from time.Time, visit func(PlannedCase) error) error {
	snap, err := store.Snapshot(ctx, o.ID, Want{Aircraft: aircraft, FlightsFrom: from})
	if err != nil {
		return err
	}
	c := casefile.Case{
		Aircraft:     snap.Judged(),
		CompanyRules: snap.Company.Rules, Policy: snap.Company.Policy,
	}
	for i := range snap.Flights {
		f := &snap.Flights[i]
		zone, err := time.LoadLocation(f.Zone)
		if err != nil {
			return fmt.Errorf("flight %s: %w", f.ID, err)
		}
		c.Defects = writtenDefects(bearingOn(f, snap.Squawks), snap.Aircraft.Configuration)
		for leg := range f.Legs {
			c.Flight = f.Case(leg, zone)
			if err := visit(PlannedCase{o, snap.Aircraft.Registration, f.ID, leg, f.Purpose, f.Hold.Legs[leg].Verdict, c}); err != nil {
				return err
			}
		}
	}
	return nil
}

// writtenDefects is the open squawks in the written form. A unit that a later configuration took out leaves its squawk
// without a subject: the engine is told the item is unknown, which is undetermined, until a person settles it.
func writtenDefects(squawks []techlog.Squawk, c casefile.Configuration) []casefile.Defect {
	written := make([]casefile.Defect, len(squawks))
	for i := range squawks {
		written[i] = squawks[i].Defect()
		installed := slices.ContainsFunc(c.Units, func(u casefile.Unit) bool { return u.ID == written[i].Unit })
		if written[i].Unit != "" && !installed {
			written[i].Unit, written[i].Item = "", ""
		}
	}
	return written
}
