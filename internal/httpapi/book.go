package httpapi

import (
	"context"
	"net/http"
	"slices"
	"strings"

	"tiedown/api/server"
	"tiedown/internal/airworthiness"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// catalogItem is an item with the words it is found by.
type catalogItem struct {
	server.Item
	words []string // in small letters
}

func catalog(rules *airworthiness.Ruleset) []catalogItem {
	return each(rules.Items(), func(row airworthiness.ItemRow) catalogItem {
		item := catalogItem{Item: server.Item{
			Item: row.Item, Name: row.Name, Jasc: row.JASC, Nature: server.ItemNature(row.Nature),
			Synonyms: each(row.Synonyms, same[string]), ServesAs: each(row.ServesAs, same[string]),
		}}
		for _, w := range append([]string{row.Item, row.Name}, row.Synonyms...) {
			item.words = append(item.words, strings.ToLower(w))
		}
		return item
	})
}

func same[T any](v T) T { return v }

// isLike reports whether a word of the item contains a text in small letters.
func (i *catalogItem) isLike(like string) bool {
	for _, w := range i.words {
		if strings.Contains(w, like) {
			return true
		}
	}
	return false
}

// ListItems implements server.StrictServerInterface.
func (h *handlers) ListItems(ctx context.Context, r server.ListItemsRequestObject) (server.ListItemsResponseObject, error) {
	w, err := wantedPage(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	rest, err := cutAfter(h.items, w, func(i catalogItem) string { return i.Item.Item })
	if err != nil {
		return nil, err
	}
	like := strings.ToLower(given(r.Params.Like))
	found := []server.Item{}
	for i := range rest {
		if rest[i].isLike(like) {
			found = append(found, rest[i].Item)
		}
	}
	found, next := cutPage(found, w, callOf(ctx).url, func(i server.Item) string { return i.Item })
	return server.ListItems200JSONResponse{Body: server.Items{Items: found}, Headers: server.ListItems200ResponseHeaders{Link: next}}, nil
}

func ruleRows(book hangar.Book) []server.Rule {
	return each(slices.Concat(book.Rules.Rules(), book.Upkeep.Book()), func(r airworthiness.Rule) server.Rule {
		return server.Rule{
			Table: server.RuleTable(r.Table), Id: r.ID, Citation: r.Citation, Words: r.Words, Status: server.RuleStatus(r.Status),
			Source: r.Source, From: dateIfGiven(r.From), To: dateIfGiven(r.To),
		}
	})
}

func dateIfGiven(d airworthiness.Date) *string {
	if d == 0 {
		return nil
	}
	return new(d.String())
}

// ListRules implements server.StrictServerInterface.
func (h *handlers) ListRules(ctx context.Context, r server.ListRulesRequestObject) (server.ListRulesResponseObject, error) {
	w, err := wantedPage(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	rest, err := cutAfter(h.rules, w, func(r server.Rule) string { return r.Id })
	if err != nil {
		return nil, err
	}
	found := []server.Rule{}
	for _, rule := range rest {
		if (r.Params.Table == nil || *r.Params.Table == rule.Table) && (r.Params.Id == nil || *r.Params.Id == rule.Id) {
			found = append(found, rule)
		}
	}
	found, next := cutPage(found, w, callOf(ctx).url, func(r server.Rule) string { return r.Id })
	return server.ListRules200JSONResponse{
		Body:    server.Rules{Rules: found, Digest: h.service.Book().Digest},
		Headers: server.ListRules200ResponseHeaders{Link: next},
	}, nil
}

// ShowContract implements server.StrictServerInterface.
func (h *handlers) ShowContract(context.Context, server.ShowContractRequestObject) (server.ShowContractResponseObject, error) {
	return document(h.contract.JSON()), nil
}

// document is the contract as it is served.
type document []byte

// VisitShowContractResponse implements server.ShowContractResponseObject.
func (d document) VisitShowContractResponse(w http.ResponseWriter) error {
	return writeJSON(w, http.StatusOK, d)
}

// ShowHealth implements server.StrictServerInterface.
func (h *handlers) ShowHealth(context.Context, server.ShowHealthRequestObject) (server.ShowHealthResponseObject, error) {
	return server.ShowHealth200JSONResponse{Status: server.Ok}, nil
}

// ShowReadiness implements server.StrictServerInterface.
func (h *handlers) ShowReadiness(ctx context.Context, _ server.ShowReadinessRequestObject) (server.ShowReadinessResponseObject, error) {
	if err := h.ready(ctx); err != nil {
		return nil, &techlog.Error{Kind: techlog.KindUnavailable, Says: "the server is not ready", Cause: err}
	}
	return server.ShowReadiness200JSONResponse{Status: server.Ok}, nil
}
