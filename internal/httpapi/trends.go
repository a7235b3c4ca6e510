package httpapi

import (
	"bytes"
	"context"
	"encoding/csv"
	"slices"
	"strconv"
	"time"

	"tiedown/api/server"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// ListTrends implements server.StrictServerInterface.
func (h *handlers) ListTrends(ctx context.Context, r server.ListTrendsRequestObject) (server.ListTrendsResponseObject, error) {
	w, err := wantedPage(r.Params.Limit, r.Params.Cursor)
	if err != nil {
		return nil, err
	}
	c := callOf(ctx)
	list, err := h.service.Trends(ctx, c.who, techlog.ID(r.Aircraft))
	if err != nil {
		return nil, err
	}
	if list.Trends, err = cutAfter(list.Trends, w, nameOfTrend); err != nil {
		return nil, err
	}
	list.Trends = slices.DeleteFunc(list.Trends, func(t casefile.Trend) bool {
		return r.Params.Station != nil && t.Station != string(*r.Params.Station) || r.Params.Flagged != nil && t.Flagged != *r.Params.Flagged
	})
	var next *string
	list.Trends, next = cutPage(list.Trends, w, c.url, nameOfTrend)
	return server.ListTrends200JSONResponse{Body: list, Headers: server.ListTrends200ResponseHeaders{Link: next}}, nil
}

func nameOfTrend(t casefile.Trend) string { return t.Check }

// ShowTrend implements server.StrictServerInterface.
func (h *handlers) ShowTrend(ctx context.Context, r server.ShowTrendRequestObject) (server.ShowTrendResponseObject, error) {
	series, err := h.service.Trend(ctx, callOf(ctx).who, techlog.ID(r.Aircraft), r.Check)
	if err != nil {
		return nil, err
	}
	return server.ShowTrend200JSONResponse(series), nil
}

// ExportTrend implements server.StrictServerInterface.
func (h *handlers) ExportTrend(ctx context.Context, r server.ExportTrendRequestObject) (server.ExportTrendResponseObject, error) {
	series, err := h.service.Trend(ctx, callOf(ctx).who, techlog.ID(r.Aircraft), r.Check)
	if err != nil {
		return nil, err
	}
	var body bytes.Buffer
	if err := writeTrend(&body, &series); err != nil {
		return nil, err
	}
	return server.ExportTrend200TextcsvResponse{Body: &body, ContentLength: int64(body.Len())}, nil
}

// writeTrend writes a series for people's spreadsheets, a row a measurement. A unit of measurement that a spreadsheet
// would take for a formula is written with an apostrophe before it.
func writeTrend(out *bytes.Buffer, s *casefile.TrendSeries) error {
	records := [][]string{{"at", "hours", "value", "in", "run", "at_least", "at_most", "walkaround", "result"}}
	for _, p := range s.Points {
		records = append(records, []string{
			p.At.UTC().Format(time.RFC3339), decimal(p.Hours), decimal(&p.Value), noFormula(s.Trend.In), strconv.Itoa(p.Run), decimal(s.Trend.AtLeast),
			decimal(s.Trend.AtMost), p.Walkaround, p.Result,
		})
	}
	return csv.NewWriter(out).WriteAll(records)
}

func noFormula(s string) string {
	if s != "" && slices.Contains([]byte("=+-@"), s[0]) {
		return "'" + s
	}
	return s
}

// decimal is a number as it is written; nothing for none.
func decimal(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}
