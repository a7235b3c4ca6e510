package httpapi

import (
	"context"
	"net/http"
	"slices"
	"strconv"

	"tiedown/api/server"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// StartWalkaround implements server.StrictServerInterface.
func (h *handlers) StartWalkaround(ctx context.Context, r server.StartWalkaroundRequestObject) (server.StartWalkaroundResponseObject, error) {
	start := hangar.WalkaroundStart{
		ID: techlog.ID(given(r.Body.Id)), Aircraft: techlog.ID(r.Aircraft), Flight: techlog.ID(given(r.Body.Flight)),
		Place: given(r.Body.Place), Moisture: r.Body.FreezingMoisture,
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.StartWalkaround(ctx, c.who, start, c.once, render(&made, http.StatusCreated, func(v hangar.WalkaroundView) shown {
		return shown{v.Walkaround.Version, "/v1/walkarounds/" + v.Walkaround.ID.String(), showReview(&v)}
	}))
	return replay(frame, made, err)
}

// ListWalkarounds implements server.StrictServerInterface.
func (h *handlers) ListWalkarounds(ctx context.Context, r server.ListWalkaroundsRequestObject) (server.ListWalkaroundsResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	list, err := h.service.Walkarounds(ctx, c.who, hangar.WalkaroundFilter{
		Aircraft: techlog.ID(given(r.Params.Aircraft)), Flight: techlog.ID(given(r.Params.Flight)), State: walkaround.State(given(r.Params.State)),
	}, page)
	if err != nil {
		return nil, err
	}
	list, next := cutPage(list, w, c.url, func(w walkaround.Walkaround) string { return after(w.ID) })
	return server.ListWalkarounds200JSONResponse{
		Body:    server.Walkarounds{Walkarounds: each(list, showWalkaround)},
		Headers: server.ListWalkarounds200ResponseHeaders{Link: next},
	}, nil
}

// ShowWalkaround implements server.StrictServerInterface.
func (h *handlers) ShowWalkaround(ctx context.Context, r server.ShowWalkaroundRequestObject) (server.ShowWalkaroundResponseObject, error) {
	v, err := h.service.Walkaround(ctx, callOf(ctx).who, techlog.ID(r.Walkaround))
	if err != nil {
		return nil, err
	}
	return server.ShowWalkaround200JSONResponse{
		Body: showReview(&v), Headers: server.ShowWalkaround200ResponseHeaders{ETag: new(etag(v.Walkaround.Version))},
	}, nil
}

// ReportResults implements server.StrictServerInterface.
func (h *handlers) ReportResults(ctx context.Context, r server.ReportResultsRequestObject) (server.ReportResultsResponseObject, error) {
	report := hangar.WalkaroundReport{
		Walkaround: techlog.ID(r.Walkaround), Results: each(r.Body.Results, resultEntry), Complete: given(r.Body.Complete),
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ReportResults(ctx, c.who, report, c.once, render(&made, http.StatusCreated, func(reported hangar.ReportedWalkaround) shown {
		return shown{version: reported.Walkaround.Version, body: showReported(&reported)}
	}))
	return replay(frame, made, err)
}

// FileFinding implements server.StrictServerInterface.
func (h *handlers) FileFinding(ctx context.Context, r server.FileFindingRequestObject) (server.FileFindingResponseObject, error) {
	finding := hangar.FindingReport{
		Walkaround: techlog.ID(r.Walkaround), Result: techlog.ID(r.Result), Kind: (*string)(r.Body.Kind), Unit: r.Body.Unit, Item: r.Body.Item,
		Words: r.Body.Words,
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.FileFinding(ctx, c.who, finding, c.once, render(&made, http.StatusCreated, showFiled))
	return replay(frame, made, err)
}

// ShowMeters implements server.StrictServerInterface.
func (h *handlers) ShowMeters(ctx context.Context, r server.ShowMetersRequestObject) (server.ShowMetersResponseObject, error) {
	book, err := h.service.Meters(ctx, callOf(ctx).who, techlog.ID(r.Aircraft))
	if err != nil {
		return nil, err
	}
	return server.ShowMeters200JSONResponse(showMeters(book)), nil
}

// ListMeterEntries implements server.StrictServerInterface.
func (h *handlers) ListMeterEntries(ctx context.Context, r server.ListMeterEntriesRequestObject) (server.ListMeterEntriesResponseObject, error) {
	w, err := wantedPage(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	page, err := w.revisions()
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	entries, err := h.service.MeterEntries(ctx, c.who, techlog.ID(r.Aircraft), walkaround.Meter(r.Meter), page)
	if err != nil {
		return nil, err
	}
	entries, next := cutPage(entries, w, c.url, func(e walkaround.BookEntry) string { return strconv.Itoa(e.Number) })
	return server.ListMeterEntries200JSONResponse{
		Body: showMeters(entries), Headers: server.ListMeterEntries200ResponseHeaders{Link: next},
	}, nil
}

// EnterMeters implements server.StrictServerInterface.
func (h *handlers) EnterMeters(ctx context.Context, r server.EnterMetersRequestObject) (server.EnterMetersResponseObject, error) {
	reading := hangar.MeterReading{
		Aircraft: techlog.ID(r.Aircraft), Flight: techlog.ID(given(r.Body.Flight)), Hobbs: r.Body.Hobbs, Tach: r.Body.Tach,
		TimeInService: r.Body.TimeInService, AirHours: r.Body.AirHours, Because: given(r.Body.Because),
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.EnterMeters(ctx, c.who, reading, c.once, render(&made, http.StatusCreated, func(book []walkaround.BookEntry) shown {
		return shown{body: showMeters(book)}
	}))
	return replay(frame, made, err)
}

func resultEntry(e server.ResultEntry) walkaround.Result {
	said := walkaround.Answer{
		Outcome: walkaround.Outcome(given(e.Outcome)), Value: e.Value, Color: given(e.Color), Water: e.Water, Sediment: e.Sediment,
		Present: e.Present, Until: given(e.Until), Note: given(e.Note),
	}
	for _, id := range given(e.Replaces) {
		said.Replaces = append(said.Replaces, techlog.ID(id))
	}
	return walkaround.Result{ID: techlog.ID(e.Id), Check: e.Check, Said: said, MadeAt: stored(e.MadeAt)}
}

func showWalkaround(w walkaround.Walkaround) server.Walkaround {
	shown := server.Walkaround{
		Id: server.ID(w.ID), Aircraft: server.ID(w.Aircraft), Flight: optionalID(w.Flight), Place: w.Place, FreezingMoisture: w.Moisture,
		State: server.WalkaroundState(w.State), StartedBy: w.StartedBy, StartedAt: w.StartedAt, CompletedBy: optional(w.CompletedBy),
		LeftOpen: some(w.LeftOpen), Version: w.Version,
	}
	if !w.CompletedAt.IsZero() {
		shown.CompletedAt = new(w.CompletedAt)
	}
	return shown
}

func showReview(v *hangar.WalkaroundView) server.WalkaroundReview {
	return server.WalkaroundReview{
		Walkaround: showWalkaround(v.Walkaround), Template: server.ID(v.Composed.Template), TemplateVersion: v.Composed.TemplateVersion,
		AirframeVersion: v.Composed.AirframeVersion, Revision: v.Composed.Revision, Progress: showProgress(&v.Review),
		NotDone: each(v.Review.NotDone(), showNotDone), Findings: showFindings(v), Checks: each(v.Review.Standings, showCheckStanding),
		Dropped: some(v.Composed.Dropped), Photos: v.Photos,
	}
}

func showReported(r *hangar.ReportedWalkaround) server.ReportedResults {
	shown := server.ReportedResults{
		Walkaround: showWalkaround(r.Walkaround), Taken: r.Taken, Progress: showProgress(&r.Review), Findings: showFindings(&r.WalkaroundView),
		Contested: []server.CheckStanding{}, NotDone: []server.NotDone{},
	}
	for _, s := range r.Review.Standings {
		if s.State == walkaround.Contested {
			shown.Contested = append(shown.Contested, showCheckStanding(s))
		}
	}
	if r.Walkaround.State == walkaround.Completed {
		shown.NotDone = each(r.Review.NotDone(), showNotDone)
	}
	return shown
}

func showProgress(r *walkaround.Review) server.WalkaroundProgress {
	var p server.WalkaroundProgress
	for i := range r.Standings {
		if !r.Standings[i].Applies {
			continue
		}
		p.Checks++
		switch r.Standings[i].State {
		case walkaround.Open:
			p.Open++
		case walkaround.Done:
			p.Done++
		case walkaround.Found:
			p.Finding++
		case walkaround.LeftOut:
			p.Skipped++
		case walkaround.Contested:
			p.Contested++
		}
	}
	return p
}

func showCheckStanding(s walkaround.Standing) server.CheckStanding {
	unreplaced := walkaround.Unreplaced(s.Results)
	return server.CheckStanding{
		Check: s.Check, Applies: s.Applies, Because: optional(s.Because), State: server.CheckState(s.State),
		Results: each(s.Results, func(r walkaround.Result) server.CheckResult {
			stands := slices.ContainsFunc(unreplaced, func(u walkaround.Result) bool { return u.ID == r.ID })
			return showResult(r, !stands)
		}),
	}
}

func showResult(r walkaround.Result, replaced bool) server.CheckResult {
	shown := server.CheckResult{
		Id: server.ID(r.ID), Check: r.Check, Outcome: server.CheckOutcome(r.Outcome), Class: (*server.FindingClass)(optional(string(r.Class))),
		Shows: optional(r.Shows), Value: r.Said.Value, Color: optional(r.Said.Color), Water: r.Said.Water, Sediment: r.Said.Sediment,
		Present: r.Said.Present, Until: optional(r.Said.Until), Note: optional(r.Said.Note), MadeAt: r.MadeAt, At: r.At, By: r.By, Late: r.Late,
		Replaced: replaced,
	}
	if len(r.Said.Replaces) > 0 {
		shown.Replaces = new(each(r.Said.Replaces, func(id techlog.ID) server.ID { return server.ID(id) }))
	}
	return shown
}

func showNotDone(s walkaround.Standing) server.NotDone {
	because := s.Because
	for _, r := range walkaround.Unreplaced(s.Results) {
		if r.Outcome == walkaround.Skipped {
			because = r.Said.Note
		}
	}
	return server.NotDone{
		Check: s.Check.ID, Station: server.Station(s.Check.Station), Words: s.Check.Words, Required: s.Check.Required,
		State: server.CheckState(s.State), Because: optional(because),
	}
}

func showFindings(v *hangar.WalkaroundView) []server.WalkaroundFinding {
	found := []server.WalkaroundFinding{}
	for _, r := range v.Review.Findings() {
		check, ok := v.Composed.Find(r.Check)
		if !ok {
			continue // the review has results of its checks alone
		}
		p := check.Propose(&r)
		shown := server.WalkaroundFinding{
			Result: server.ID(r.ID), Check: r.Check, Station: server.Station(check.Station), Class: server.FindingClass(p.Class),
			Kind: server.SquawkKind(p.Kind), Unit: optional(p.Unit), Item: optional(p.Item), Words: p.Words,
		}
		for _, f := range v.Filed {
			if f.Result == r.ID {
				shown.Squawk = new(server.ID(f.Squawk))
			}
		}
		found = append(found, shown)
	}
	return found
}

func showMeters(book []walkaround.BookEntry) server.Meters {
	return server.Meters{Meters: each(book, func(e walkaround.BookEntry) server.MeterEntry {
		return server.MeterEntry{
			Meter: server.MeterName(e.Meter), Number: e.Number, Hours: e.Hours, At: e.At, By: e.By, Walkaround: optionalID(e.Walkaround),
			Flight: optionalID(e.Flight), Because: optional(e.Because),
		}
	})}
}
