package httpapi

import (
	"bytes"
	"context"
	"net/http"
	"strconv"

	"tiedown/api/server"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// ListChecklistTemplates implements server.StrictServerInterface.
func (h *handlers) ListChecklistTemplates(ctx context.Context, r server.ListChecklistTemplatesRequestObject) (server.ListChecklistTemplatesResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	templates, err := h.service.ChecklistTemplates(ctx, c.who, page)
	if err != nil {
		return nil, err
	}
	templates, next := cutPage(templates, w, c.url, func(t walkaround.Template) string { return after(t.ID) })
	return server.ListChecklistTemplates200JSONResponse{
		Body: server.ChecklistTemplates{Templates: each(templates, func(t walkaround.Template) server.ChecklistTemplateSummary {
			return server.ChecklistTemplateSummary{Id: server.ID(t.ID), Version: t.Version, Type: t.Type, Checks: len(t.Checklist.Checks)}
		})},
		Headers: server.ListChecklistTemplates200ResponseHeaders{Link: next},
	}, nil
}

// AddChecklistTemplate implements server.StrictServerInterface.
func (h *handlers) AddChecklistTemplate(ctx context.Context, r server.AddChecklistTemplateRequestObject) (server.AddChecklistTemplateResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.AddChecklistTemplate(ctx, c.who, checklistEntry(r.Body), c.once, render(&made, http.StatusCreated, func(t walkaround.Template) shown {
		return shown{t.Version, "/v1/checklist-templates/" + t.ID.String(), showTemplate(t)}
	}))
	return replay(frame, made, err)
}

// ShowChecklistTemplate implements server.StrictServerInterface.
func (h *handlers) ShowChecklistTemplate(ctx context.Context, r server.ShowChecklistTemplateRequestObject) (server.ShowChecklistTemplateResponseObject, error) {
	t, err := h.service.ChecklistTemplate(ctx, callOf(ctx).who, techlog.ID(r.Template))
	if err != nil {
		return nil, err
	}
	return server.ShowChecklistTemplate200JSONResponse{
		Body: showTemplate(t), Headers: server.ShowChecklistTemplate200ResponseHeaders{ETag: new(etag(t.Version))},
	}, nil
}

// ListChecklistTemplateVersions implements server.StrictServerInterface.
func (h *handlers) ListChecklistTemplateVersions(ctx context.Context, r server.ListChecklistTemplateVersionsRequestObject) (server.ListChecklistTemplateVersionsResponseObject, error) {
	w, err := wantedPage(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	page, err := w.revisions()
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	versions, err := h.service.ChecklistTemplateVersions(ctx, c.who, techlog.ID(r.Template), page)
	if err != nil {
		return nil, err
	}
	versions, next := cutPage(versions, w, c.url, func(t walkaround.Template) string { return strconv.Itoa(t.Version) })
	return server.ListChecklistTemplateVersions200JSONResponse{
		Body:    server.ChecklistVersions{Versions: each(versions, showTemplate)},
		Headers: server.ListChecklistTemplateVersions200ResponseHeaders{Link: next},
	}, nil
}

// ChangeChecklistTemplate implements server.StrictServerInterface.
func (h *handlers) ChangeChecklistTemplate(ctx context.Context, r server.ChangeChecklistTemplateRequestObject) (server.ChangeChecklistTemplateResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ChangeChecklistTemplate(ctx, c.who, techlog.ID(r.Template), version, checklistEntry(r.Body), c.once,
		render(&made, http.StatusOK, func(t walkaround.Template) shown {
			return shown{version: t.Version, body: showTemplate(t)}
		}))
	return replay(frame, made, err)
}

// ExportChecklistTemplate implements server.StrictServerInterface.
func (h *handlers) ExportChecklistTemplate(ctx context.Context, r server.ExportChecklistTemplateRequestObject) (server.ExportChecklistTemplateResponseObject, error) {
	t, err := h.service.ChecklistTemplate(ctx, callOf(ctx).who, techlog.ID(r.Template))
	if err != nil {
		return nil, err
	}
	var csv bytes.Buffer
	if err := walkaround.WriteCSV(&csv, &t.Checklist); err != nil {
		return nil, err
	}
	return server.ExportChecklistTemplate200TextcsvResponse{
		Body: &csv, ContentLength: int64(csv.Len()), Headers: server.ExportChecklistTemplate200ResponseHeaders{ETag: new(etag(t.Version))},
	}, nil
}

// ShowChecklist implements server.StrictServerInterface.
func (h *handlers) ShowChecklist(ctx context.Context, r server.ShowChecklistRequestObject) (server.ShowChecklistResponseObject, error) {
	list, err := h.service.Checklist(ctx, callOf(ctx).who, techlog.ID(r.Aircraft))
	if err != nil {
		return nil, err
	}
	return server.ShowChecklist200JSONResponse{
		Body: showChecklist(list), Headers: server.ShowChecklist200ResponseHeaders{ETag: new(etag(list.Made.Version))},
	}, nil
}

// ChangeChecklist implements server.StrictServerInterface.
func (h *handlers) ChangeChecklist(ctx context.Context, r server.ChangeChecklistRequestObject) (server.ChangeChecklistResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	made := walkaround.AirframeChecklist{
		Aircraft: techlog.ID(r.Aircraft), Version: version, Template: techlog.ID(r.Body.Template), Serial: given(r.Body.Serial),
		Changes: given(r.Body.Changes),
	}
	c := callOf(ctx)
	var frame []byte
	kept, err := h.service.ChangeChecklist(ctx, c.who, made, c.once, render(&frame, http.StatusOK, func(list hangar.AircraftChecklist) shown {
		return shown{version: list.Made.Version, body: showChecklist(list)}
	}))
	return replay(kept, frame, err)
}

func checklistEntry(e *server.ChecklistEntry) hangar.ChecklistEntry {
	return hangar.ChecklistEntry{Type: e.Type, Checks: given(e.Checks), CSV: given(e.Csv)}
}

func showTemplate(t walkaround.Template) server.ChecklistTemplate {
	return server.ChecklistTemplate{
		Id: server.ID(t.ID), Version: t.Version, Type: t.Type, Checks: some(t.Checklist.Checks), ChangedAt: t.At, ChangedBy: t.By,
	}
}

func showChecklist(list hangar.AircraftChecklist) server.AirframeChecklist {
	shown := server.AirframeChecklist{
		Version: list.Made.Version, Changes: list.Made.Changes, Checks: some(list.Composed.Checks), Dropped: some(list.Composed.Dropped),
	}
	if list.Made.Version > 0 {
		shown.Template, shown.TemplateVersion = new(server.ID(list.Made.Template)), new(list.Composed.TemplateVersion)
		shown.Serial, shown.ChangedAt, shown.ChangedBy = optional(list.Made.Serial), new(list.Made.At), new(list.Made.By)
	}
	return shown
}

// some is never nil: a list that is promised is written as one.
func some[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
