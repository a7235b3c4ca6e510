package hangar

import (
	"context"

	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// WalkaroundStore is what the store reads of checklists, walkarounds and meters.
type WalkaroundStore interface {
	// ChecklistTemplates lists templates, each in its latest version.
	ChecklistTemplates(ctx context.Context, org techlog.ID, page Page) ([]walkaround.Template, error)
	// ChecklistTemplate reads the latest version of one.
	ChecklistTemplate(ctx context.Context, org, id techlog.ID) (walkaround.Template, error)
	// ChecklistTemplateVersions lists the versions of one, newest first. There are none of one that does not exist.
	ChecklistTemplateVersions(ctx context.Context, org, id techlog.ID, page Page) ([]walkaround.Template, error)
	// AirframeChecklist reads how an aircraft's checklist is made: version 0 if nobody has said.
	AirframeChecklist(ctx context.Context, org, aircraft techlog.ID) (walkaround.AirframeChecklist, error)
	// Checklist reads a checklist as it was walked, by its digest.
	Checklist(ctx context.Context, org techlog.ID, digest [32]byte) (walkaround.Composed, error)
	Walkarounds(ctx context.Context, org techlog.ID, filter WalkaroundFilter, page Page) ([]walkaround.Walkaround, error)
	Walkaround(ctx context.Context, org, id techlog.ID) (WalkaroundRecord, error)
	// MeterBook reads the last entry of every meter that has one, in the order of the meters.
	MeterBook(ctx context.Context, org, aircraft techlog.ID) ([]walkaround.BookEntry, error)
	// MeterEntries lists the entries of one meter, newest first.
	MeterEntries(ctx context.Context, org, aircraft techlog.ID, meter walkaround.Meter, page Page) ([]walkaround.BookEntry, error)
	// Measured reads what was measured on so many of the newest walkarounds of an aircraft, in the order of time, and so many of
	// the newest entries of its time in service, in the order of the book.
	Measured(ctx context.Context, org, aircraft techlog.ID, walkarounds, readings int) (Measured, error)
	// Stamp tells whether what a status says may have changed. Kind not-found.
	Stamp(ctx context.Context, org, aircraft techlog.ID) (Stamp, error)
}

// WalkaroundFilter picks walkarounds. Zero fields pick all. Newest first.
type WalkaroundFilter struct {
	Aircraft techlog.ID
	Flight   techlog.ID
	State    walkaround.State
}

// WalkaroundRecord is a walkaround with all that has been reported on it.
type WalkaroundRecord struct {
	Walkaround walkaround.Walkaround
	Reports    []walkaround.Report // in the order of their numbers
	Filed      []walkaround.Filed
	Flight     *techlog.Flight        // that it is for, as it is now; nil: for none
	Book       []walkaround.BookEntry // last entries of the aircraft's meters
	Photos     int                    // how many its results have
	Plan       int                    // version of the aircraft's plan
}

// Results are those of all reports.
func (r *WalkaroundRecord) Results() []walkaround.Result {
	var all []walkaround.Result
	for i := range r.Reports {
		all = append(all, r.Reports[i].Results...)
	}
	return all
}

// WalkaroundTx is what a transaction reads and writes of checklists, walkarounds and meters.
type WalkaroundTx interface {
	ChecklistTemplate(ctx context.Context, id techlog.ID) (walkaround.Template, error)
	AirframeChecklist(ctx context.Context, aircraft techlog.ID) (walkaround.AirframeChecklist, error)
	Checklist(ctx context.Context, digest [32]byte) (walkaround.Composed, error)
	// Walkaround locks the walkaround: whoever else reports on it waits. It is locked after aircraft.
	Walkaround(ctx context.Context, id techlog.ID) (WalkaroundRecord, error)
	MeterBook(ctx context.Context, aircraft techlog.ID) ([]walkaround.BookEntry, error)

	// AddChecklistTemplate adds a version. Kind stale if it is there already.
	AddChecklistTemplate(t walkaround.Template)
	// AddAirframeChecklist adds a version. Kind stale if it is there already.
	AddAirframeChecklist(a walkaround.AirframeChecklist)
	// AddWalkaround adds a walkaround, with its checklist unless that is on record already.
	AddWalkaround(w walkaround.Walkaround, list walkaround.Composed)
	// UpdateWalkaround keeps how far a walkaround has come. What was said when it started never changes.
	UpdateWalkaround(w walkaround.Walkaround)
	// AddReport adds what a phone sent. Kind conflict if one of its results is on record already.
	AddReport(r walkaround.Report)
	AddFiled(f walkaround.Filed)
	// AddBookEntry follows a meter's last entry. The change is run again if somebody else was first.
	AddBookEntry(e walkaround.BookEntry)
}
