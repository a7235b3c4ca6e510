package httpapi

import (
	"encoding/base64"
	"net/url"
	"slices"
	"strconv"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const defaultPage = 50

// wanted is which page of a list is asked for.
type wanted struct {
	limit int
	after string // what the cursor says; empty: from the start
}

func wantedPage(limit *int, cursor *string) (wanted, error) {
	w := wanted{limit: defaultPage}
	if limit != nil {
		w.limit = *limit
	}
	if cursor == nil {
		return w, nil
	}
	after, err := base64.RawURLEncoding.DecodeString(*cursor)
	if err != nil || len(after) == 0 {
		return w, badCursor()
	}
	w.after = string(after)
	return w, nil
}

func badCursor() error {
	return casefile.Faults{{
		Field: "query.cursor", Rule: "form", Says: "it is no cursor of this list", Remedy: "follow the link to the next page, or begin without a cursor",
	}}
}

// wantedRecords is which page of a list that goes by identifiers is asked for.
func wantedRecords(limit *int, cursor *string) (wanted, hangar.Page, error) {
	w, err := wantedPage(limit, cursor)
	if err != nil {
		return w, hangar.Page{}, err
	}
	page, err := w.records()
	return w, page, err
}

// records is the page of a list that goes by identifiers. One record more than wanted tells whether there is a next page.
func (w wanted) records() (hangar.Page, error) {
	p := hangar.Page{Limit: w.limit + 1}
	if w.after == "" {
		return p, nil
	}
	if len(w.after) != len(p.After) {
		return p, badCursor()
	}
	copy(p.After[:], w.after)
	return p, nil
}

// revisions is the page of a list that goes by revisions.
func (w wanted) revisions() (hangar.Page, error) {
	p := hangar.Page{Limit: w.limit + 1}
	if w.after == "" {
		return p, nil
	}
	n, err := strconv.ParseInt(w.after, 10, 32)
	if err != nil || n < 1 {
		return p, badCursor()
	}
	p.AfterRevision = int(n)
	return p, nil
}

// cutPage takes what is wanted off a list, and the link to what follows. after is what a cursor says of a record.
func cutPage[T any](list []T, w wanted, at *url.URL, after func(T) string) ([]T, *string) {
	if len(list) <= w.limit {
		return list, nil
	}
	list = list[:w.limit]
	query := at.Query()
	query.Set("cursor", base64.RawURLEncoding.EncodeToString([]byte(after(list[w.limit-1]))))
	link := "<" + at.EscapedPath() + "?" + query.Encode() + `>; rel="next"`
	return list, &link
}

// cutAfter leaves out what stands before the cursor in a list that is kept in memory.
func cutAfter[T any](list []T, w wanted, key func(T) string) ([]T, error) {
	if w.after == "" {
		return list, nil
	}
	i := slices.IndexFunc(list, func(v T) bool { return key(v) == w.after })
	if i < 0 {
		return nil, badCursor()
	}
	return list[i+1:], nil
}

func after(id techlog.ID) string { return string(id[:]) }
