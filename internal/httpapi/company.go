package httpapi

import (
	"context"
	"net/http"
	"strings"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// ShowCompanyRules implements server.StrictServerInterface.
func (h *handlers) ShowCompanyRules(ctx context.Context, _ server.ShowCompanyRulesRequestObject) (server.ShowCompanyRulesResponseObject, error) {
	rules, err := h.service.CompanyRules(ctx, callOf(ctx).who)
	if err != nil {
		return nil, err
	}
	return server.ShowCompanyRules200JSONResponse{
		Body: showCompanyRules(rules), Headers: server.ShowCompanyRules200ResponseHeaders{ETag: new(etag(rules.Version))},
	}, nil
}

// ChangeCompanyRules implements server.StrictServerInterface.
func (h *handlers) ChangeCompanyRules(ctx context.Context, r server.ChangeCompanyRulesRequestObject) (server.ChangeCompanyRulesResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	rules := techlog.CompanyRules{Version: version, Rules: r.Body.Rules, Policy: given(r.Body.Policy)}
	var made []byte
	frame, err := h.service.ChangeCompanyRules(ctx, c.who, rules, c.once, render(&made, http.StatusOK, func(r techlog.CompanyRules) shown {
		return shown{version: r.Version, body: showCompanyRules(r)}
	}))
	return replay(frame, made, casefile.Renamed(err, companyField))
}

// companyField is the name that a field of a case has where the rules stand by themselves.
func companyField(field string) string {
	return strings.Replace(field, "company_rules", "rules", 1)
}

func showCompanyRules(r techlog.CompanyRules) server.CompanyRules {
	shown := server.CompanyRules{
		Version: r.Version, Policy: r.Policy, Rules: each(r.Rules, func(r casefile.CompanyRule) server.CompanyRule { return r }),
		ChangedBy: optional(r.By),
	}
	if !r.At.IsZero() {
		shown.ChangedAt = new(r.At)
	}
	return shown
}

// ListDeterminations implements server.StrictServerInterface.
func (h *handlers) ListDeterminations(ctx context.Context, r server.ListDeterminationsRequestObject) (server.ListDeterminationsResponseObject, error) {
	w, page, err := wantedRecords(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	kept, err := h.service.Determinations(ctx, c.who, techlog.ID(r.Flight), page)
	if err != nil {
		return nil, err
	}
	kept, next := cutPage(kept, w, c.url, func(d techlog.KeptDetermination) string { return after(d.ID) })
	return server.ListDeterminations200JSONResponse{
		Body:    server.Determinations{Determinations: each(kept, showDetermination)},
		Headers: server.ListDeterminations200ResponseHeaders{Link: next},
	}, nil
}

// KeepDetermination implements server.StrictServerInterface.
func (h *handlers) KeepDetermination(ctx context.Context, r server.KeepDeterminationRequestObject) (server.KeepDeterminationResponseObject, error) {
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.KeepDetermination(ctx, c.who, techlog.ID(r.Flight), c.once,
		render(&made, http.StatusCreated, func(d techlog.KeptDetermination) shown {
			return shown{location: "/v1/determinations/" + d.ID.String(), body: showDetermination(d)}
		}))
	return replay(frame, made, err)
}

// ShowDetermination implements server.StrictServerInterface.
func (h *handlers) ShowDetermination(ctx context.Context, r server.ShowDeterminationRequestObject) (server.ShowDeterminationResponseObject, error) {
	kept, err := h.service.Determination(ctx, callOf(ctx).who, techlog.ID(r.Determination))
	if err != nil {
		return nil, err
	}
	return server.ShowDetermination200JSONResponse(showDetermination(kept)), nil
}

func showDetermination(d techlog.KeptDetermination) server.Determination {
	return server.Determination{
		Id: server.ID(d.ID), Flight: server.ID(d.Flight), At: d.At, By: d.By, Verdict: server.Verdict(d.Verdict), Record: d.Record,
	}
}

// ImportMEL implements server.StrictServerInterface.
func (h *handlers) ImportMEL(ctx context.Context, r server.ImportMELRequestObject) (server.ImportMELResponseObject, error) {
	version, err := versionOf(r.Params.IfMatch)
	if err != nil {
		return nil, err
	}
	rows, err := casefile.ReadMEL(strings.NewReader(r.Body.Csv))
	if err != nil {
		return nil, casefile.Renamed(err, func(field string) string { return "csv." + field })
	}
	mel := casefile.MEL{
		OnRecord: new(true), Document: given(r.Body.Document), Authority: string(given(r.Body.Authority)), LetterAboard: r.Body.LetterAboard,
		Rows: rows,
	}
	c := callOf(ctx)
	var made []byte
	frame, err := h.service.ImportMEL(ctx, c.who, hangar.MELImport{Aircraft: techlog.ID(r.Aircraft), Version: version, MEL: mel}, c.once,
		render(&made, http.StatusOK, func(a techlog.Aircraft) shown {
			return shown{version: a.Version, body: showAircraft(a)}
		}))
	return replay(frame, made, casefile.Renamed(err, func(field string) string {
		return strings.Replace(field, "configuration.mel.", "csv.", 1)
	}))
}
