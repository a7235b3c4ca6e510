package hangar

import (
	"context"
	"strings"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// checklistKey names a checklist in memory: that of one organization is never another's.
type checklistKey struct {
	organization techlog.ID
	digest       [32]byte
}

// known reports whether an item is in the book's catalog.
func (s *Service) known(item string) bool {
	_, ok := s.book.Rules.Item(item)
	return ok
}

// ChecklistEntry is the checklist of a type as it is entered: as checks, or as CSV.
type ChecklistEntry struct {
	Type   string
	Checks []walkaround.Check
	CSV    string
}

func (s *Service) readEntry(e ChecklistEntry) (walkaround.Checklist, error) {
	var bad casefile.Faults
	if strings.TrimSpace(e.Type) == "" {
		bad.Add("type", "required", "the type is missing", "name the type as its type certificate does")
	}
	list, err := walkaround.Read(e.Checks, e.CSV, s.known)
	return list, casefile.Join(bad.Err(), err)
}

// ChecklistTemplates lists the checklists of types.
func (s *Service) ChecklistTemplates(ctx context.Context, who techlog.Principal, p Page) ([]walkaround.Template, error) {
	return s.store.ChecklistTemplates(ctx, who.Organization, p)
}

// ChecklistTemplateVersions lists the versions of a template, newest first. Kind not-found.
func (s *Service) ChecklistTemplateVersions(ctx context.Context, who techlog.Principal, id techlog.ID, p Page) ([]walkaround.Template, error) {
	versions, err := s.store.ChecklistTemplateVersions(ctx, who.Organization, id, p)
	if err == nil && len(versions) == 0 {
		_, err = s.store.ChecklistTemplate(ctx, who.Organization, id)
	}
	return versions, err
}

// ChecklistTemplate shows the checklist of a type.
func (s *Service) ChecklistTemplate(ctx context.Context, who techlog.Principal, id techlog.ID) (walkaround.Template, error) {
	return s.store.ChecklistTemplate(ctx, who.Organization, id)
}

// AddChecklistTemplate enters the checklist of a type. Kinds forbidden, invalid.
func (s *Service) AddChecklistTemplate(ctx context.Context, who techlog.Principal, e ChecklistEntry, once *Once, render Render[walkaround.Template]) ([]byte, error) {
	if err := who.Require(techlog.KeepChecklists); err != nil {
		return nil, err
	}
	list, err := s.readEntry(e)
	if err != nil {
		return nil, err
	}
	t := walkaround.Template{ID: s.newID(), Version: 1, Type: e.Type, Checklist: list, At: s.now(), By: who.Name}
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: t.At, Once: once}, func(_ context.Context, tx Tx) ([]byte, error) {
		return s.keepTemplate(tx, t, "checklist-template.added", render)
	})
}

// ChangeChecklistTemplate follows a checklist with another version. Walkarounds that have begun keep the one that they
// began with. Kinds forbidden, invalid, not-found, stale.
func (s *Service) ChangeChecklistTemplate(ctx context.Context, who techlog.Principal, id techlog.ID, version int, e ChecklistEntry, once *Once, render Render[walkaround.Template]) ([]byte, error) {
	if err := who.Require(techlog.KeepChecklists); err != nil {
		return nil, err
	}
	list, err := s.readEntry(e)
	if err != nil {
		return nil, err
	}
	at := s.now()
	return s.store.Change(ctx, Scope{Organization: who.Organization, By: who.Name, At: at, Once: once}, func(ctx context.Context, tx Tx) ([]byte, error) {
		was, err := tx.ChecklistTemplate(ctx, id)
		if err != nil {
			return nil, err
		}
		if was.Version != version {
			return nil, techlog.Errorf(techlog.KindStale, "the checklist was changed meanwhile: it is at version %d", was.Version)
		}
		t := walkaround.Template{ID: id, Version: version + 1, Type: e.Type, Checklist: list, At: at, By: who.Name}
		return s.keepTemplate(tx, t, "checklist-template.changed", render)
	})
}

func (s *Service) keepTemplate(tx Tx, t walkaround.Template, event string, render Render[walkaround.Template]) ([]byte, error) {
	tx.AddChecklistTemplate(t)
	tx.Emit(techlog.Event{ID: s.newID(), Kind: event, Subject: t.ID, At: t.At})
	return render(t)
}

// AircraftChecklist is how an aircraft's checklist is made, with what comes out as things stand.
type AircraftChecklist struct {
	Made     walkaround.AirframeChecklist
	Composed walkaround.Composed
}

// Checklist shows an aircraft's checklist: version 0, without a check, if nobody has said which it has. Kind not-found
// (the aircraft).
func (s *Service) Checklist(ctx context.Context, who techlog.Principal, aircraft techlog.ID) (AircraftChecklist, error) {
	snap, _, err := s.look(ctx, who.Organization, aircraft)
	if err != nil {
		return AircraftChecklist{}, err
	}
	made, err := s.store.AirframeChecklist(ctx, who.Organization, aircraft)
	if err != nil {
		return AircraftChecklist{}, err
	}
	if made.Version == 0 {
		return AircraftChecklist{Made: made}, nil
	}
	template, err := s.store.ChecklistTemplate(ctx, who.Organization, made.Template)
	if err != nil {
		return AircraftChecklist{}, err
	}
	return AircraftChecklist{made, compose(&snap.Aircraft, made, template)}, nil
}

func noChecklist() error {
	return techlog.Errorf(techlog.KindConflict, "nobody has said which checklist this aircraft has: name its template first")
}

// nothingToCheck keeps a walkaround of nothing from looking like one that found nothing.
func nothingToCheck() error {
	return techlog.Errorf(techlog.KindConflict, "nothing of the checklist applies to this aircraft any more: change the checklist first")
}

// compose makes the checklist of an aircraft as it is now.
func compose(a *techlog.Aircraft, made walkaround.AirframeChecklist, template walkaround.Template) walkaround.Composed {
	list, dropped := walkaround.Compose(template.Checklist, made.Changes, walkaround.Airframe{
		Serial: made.Serial, Installed: walkaround.InstalledIn(a.Configuration),
	})
	return walkaround.Composed{
		Template: template.ID, TemplateVersion: template.Version, AirframeVersion: made.Version, Revision: a.Revision, Serial: made.Serial,
		Checklist: list, Dropped: dropped,
	}
}

// ChangeChecklist says how an aircraft's checklist is made: of which template, and what it has otherwise. Version 0 is
// that of an aircraft of which nobody has said. Kinds forbidden, invalid, not-found (the aircraft), stale.
func (s *Service) ChangeChecklist(ctx context.Context, who techlog.Principal, made walkaround.AirframeChecklist, once *Once, render Render[AircraftChecklist]) ([]byte, error) {
	if err := who.Require(techlog.KeepChecklists); err != nil {
		return nil, err
	}
	at := s.now()
	scope := Scope{Organization: who.Organization, By: who.Name, At: at, Once: once, Lock: []Want{{Aircraft: made.Aircraft}}}
	return s.store.Change(ctx, scope, func(ctx context.Context, tx Tx) ([]byte, error) {
		was, err := tx.AirframeChecklist(ctx, made.Aircraft)
		if err != nil {
			return nil, err
		}
		if was.Version != made.Version {
			return nil, techlog.Errorf(techlog.KindStale, "the aircraft's checklist was changed meanwhile: it is at version %d", was.Version)
		}
		template, err := templateOf(ctx, tx, made.Template)
		if err != nil {
			return nil, err
		}
		changed := made // the store may run this again: what the caller has seen stays as it is
		changed.Version++
		changed.TemplateVersion, changed.At, changed.By = template.Version, at, who.Name
		composed := compose(&tx.Snapshot(0).Aircraft, changed, template)
		if err := s.checkAirframe(changed, template, composed); err != nil {
			return nil, err
		}
		tx.AddAirframeChecklist(changed)
		tx.Emit(techlog.Event{ID: s.newID(), Kind: "checklist.changed", Aircraft: made.Aircraft, Subject: made.Aircraft, At: at})
		return render(AircraftChecklist{changed, composed})
	})
}

func templateOf(ctx context.Context, tx Tx, id techlog.ID) (walkaround.Template, error) {
	template, err := tx.ChecklistTemplate(ctx, id)
	if techlog.KindOf(err) == techlog.KindNotFound {
		return template, casefile.Faults{{
			Field: "template", Rule: "known-template", Says: "there is no such template", Remedy: "take an id from GET /v1/checklist-templates, or add the template first",
		}}
	}
	return template, err
}

func (s *Service) checkAirframe(made walkaround.AirframeChecklist, template walkaround.Template, composed walkaround.Composed) error {
	var bad casefile.Faults
	if made.Serial != "" && !walkaround.IsSerial(made.Serial) {
		bad.Add("serial", "form", "it is no serial number", "use letters, digits and hyphens, as on the data plate")
	}
	bad = append(bad, made.Changes.Faults(template.Checklist, s.known)...)
	if n := len(composed.Checks); n == 0 || n > walkaround.MaxChecks {
		bad.Add("changes", "length", "nothing is left to check, or more than 400 checks", "leave at least one check of the template")
	}
	return bad.Err()
}
