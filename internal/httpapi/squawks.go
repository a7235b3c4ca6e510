package httpapi

import (
	"context"
	"net/http"

	"tiedown/api/server"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// FileSquawk implements server.StrictServerInterface.
func (h *handlers) FileSquawk(ctx context.Context, r server.FileSquawkRequestObject) (server.FileSquawkResponseObject, error) {
	report := hangar.SquawkReport{
		Aircraft: techlog.ID(r.Aircraft), Kind: string(r.Body.Kind), Unit: given(r.Body.Unit), Item: given(r.Body.Item), Words: r.Body.Words,
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.FileSquawk(ctx, c.who, report, c.once, render(&made, http.StatusCreated, showFiled))
	return replay(frame, made, err)
}

func showFiled(f hangar.FiledSquawk) shown {
	return shown{location: "/v1/squawks/" + f.Squawk.ID.String(), body: server.FiledSquawk{
		Squawk: showSquawk(f.Squawk), Changes: each(f.Changes, showChange),
	}}
}

// ListSquawks implements server.StrictServerInterface.
func (h *handlers) ListSquawks(ctx context.Context, r server.ListSquawksRequestObject) (server.ListSquawksResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	filter := hangar.SquawkFilter{Aircraft: techlog.ID(given(r.Params.Aircraft)), State: techlog.SquawkState(given(r.Params.State))}
	if r.Params.Since != nil {
		changed, err := since(r.Params.Cursor, func() (hangar.Changed[techlog.Squawk], error) {
			return h.service.SquawksSince(ctx, c.who, *r.Params.Since, filter, w.limit)
		})
		return server.ListSquawks200JSONResponse{Body: server.Squawks{
			Squawks: each(changed.Records, showSquawk), Next: &changed.Next, More: &changed.More,
		}}, err
	}
	squawks, err := h.service.Squawks(ctx, c.who, filter, page)
	if err != nil {
		return nil, err
	}
	squawks, next := cutPage(squawks, w, c.url, func(s techlog.Squawk) string { return after(s.ID) })
	return server.ListSquawks200JSONResponse{
		Body:    server.Squawks{Squawks: each(squawks, showSquawk)},
		Headers: server.ListSquawks200ResponseHeaders{Link: next},
	}, nil
}

// ShowSquawk implements server.StrictServerInterface.
func (h *handlers) ShowSquawk(ctx context.Context, r server.ShowSquawkRequestObject) (server.ShowSquawkResponseObject, error) {
	story, err := h.service.Squawk(ctx, callOf(ctx).who, techlog.ID(r.Squawk))
	if err != nil {
		return nil, err
	}
	return server.ShowSquawk200JSONResponse{
		Body: server.SquawkStory{
			Squawk: showSquawk(story.Squawk), History: each(story.History, showEntry), Signatures: each(story.Signatures, showSignature),
			Photos: story.Photos,
		},
		Headers: server.ShowSquawk200ResponseHeaders{ETag: new(etag(story.Squawk.Version))},
	}, nil
}

// AddNote implements server.StrictServerInterface.
func (h *handlers) AddNote(ctx context.Context, r server.AddNoteRequestObject) (server.AddNoteResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	note := hangar.Note{Squawk: techlog.ID(r.Squawk), Words: r.Body.Words}
	frame, err := h.service.AddNote(ctx, c.who, note, c.once, render(&made, http.StatusCreated, func(e techlog.HistoryEntry) shown {
		return shown{body: showEntry(e)}
	}))
	return replay(frame, made, err)
}

func showSquawk(s techlog.Squawk) server.Squawk {
	shown := server.Squawk{
		Id: server.ID(s.ID), Aircraft: server.ID(s.Aircraft), Number: s.Number, Label: s.Label(), Kind: server.SquawkKind(s.Kind),
		Unit: optional(s.Unit), Item: optional(s.Item), Words: s.Words, State: server.SquawkState(s.State),
		Deferral: showDeferral(s.Deferral), ReportedBy: s.ReportedBy, ReportedAt: s.ReportedAt, Version: s.Version,
		Confirmed: s.Confirmed, AwaitsCheckFlight: s.AwaitsCheckFlight(), DuplicateOf: optionalID(s.DuplicateOf),
	}
	if out := s.Progress.OutOfUse; out != nil {
		shown.OutOfUse = optionalID(out.Signature)
	}
	if work := s.Progress.Work; work != nil {
		shown.Work, shown.Result = optionalID(work.Signature), optional(work.Result)
		if len(work.Awaits) > 0 {
			shown.PartsAwaited = &work.Awaits
		}
	}
	if approved := s.Progress.Approved; approved != nil {
		shown.Approved = optionalID(approved.Signature)
	}
	if s.Expected != nil {
		shown.Expected = new(server.Expectation(*s.Expected))
	}
	return shown
}

func showDeferral(d *techlog.Deferral) *server.DeferralRecord {
	if d == nil {
		return nil
	}
	shown := &server.DeferralRecord{
		Id: server.ID(d.ID), Basis: d.Basis, Method: server.DeferralMethod(d.Method), Placard: d.Placard, Entry: d.Entry,
		DeterminedBy: d.DeterminedBy, DeterminedAt: d.DeterminedAt, RemovedOn: optional(d.RemovedOn), Until: d.Until,
		Signature: optionalID(d.Signature), Discovered: optional(d.Discovered), ExtendedUntil: optional(d.ExtendedUntil),
		InvolvesMaintenance: d.InvolvesMaintenance,
	}
	if len(d.Considered) > 0 {
		shown.Considered = &d.Considered
	}
	if d.MaintenanceDone {
		shown.MaintenanceDone = new(true)
	}
	return shown
}

func showEntry(e techlog.HistoryEntry) server.HistoryEntry {
	return server.HistoryEntry{
		Squawk: server.ID(e.Squawk), Number: e.Number, At: e.At, By: e.By, Step: server.HistoryEntryStep(e.Step),
		State: server.SquawkState(e.State), Words: e.Words, Signature: optionalID(e.Signature), Expected: optional(e.Expected),
	}
}

func showChange(c techlog.HoldChange) server.HoldChange {
	shown := server.HoldChange{Flight: server.ID(c.Flight), Was: server.Verdict(c.Was), Is: server.Verdict(c.Is)}
	if c.WasBlocked || c.Blocked {
		shown.WasBlocked, shown.Blocked = &c.WasBlocked, &c.Blocked
	}
	return shown
}
