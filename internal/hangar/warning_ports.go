package hangar

import (
	"context"

	"tiedown/internal/techlog"
)

// WarningStore is what the store reads of warnings.
type WarningStore interface {
	// WarningLeads reads how many days ahead people are warned: version 0 if the organization has not said.
	WarningLeads(ctx context.Context, org techlog.ID) (techlog.WarningLeads, error)
	// Warnings lists what was told ahead about an aircraft (zero: about all), newest first.
	Warnings(ctx context.Context, org, aircraft techlog.ID, page Page) ([]techlog.Warning, error)
	Warning(ctx context.Context, org, id techlog.ID) (techlog.Warning, error)
	// Warned lists what was told ahead about an aircraft of things that are due from a day on, YYYY-MM-DD.
	Warned(ctx context.Context, org, aircraft techlog.ID, from string) ([]techlog.Warning, error)
}

// WarningTx is what a transaction reads and writes of warnings.
type WarningTx interface {
	WarningLeads(ctx context.Context) (techlog.WarningLeads, error)
	// AddWarningLeads follows them with another version. Kind conflict if that version is there already.
	AddWarningLeads(l techlog.WarningLeads)
	// AddWarning adds a warning. Kind conflict if it has been given.
	AddWarning(w techlog.Warning)
}
