package httpapi_test

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/casefile"
)

const aDay = 24 * time.Hour

// took is a measurement at this moment.
func (w *walk) took(check string, value float64) string {
	return fmt.Sprintf(`{"id": "%s", "check": "%s", "made_at": "%s", "value": %v}`, newID(), check, w.clock.now().Format(time.RFC3339), value)
}

// measure goes round and measures, and says when the hours of the day's flight were entered, if any were.
func (w *walk) measure(t *testing.T, air float64, results ...string) client.ReportedResults {
	t.Helper()
	id := w.start(t, `{}`).Walkaround.Id
	reported := w.reported(t, id, false, results...)
	if air > 0 {
		w.enter(t, fmt.Sprintf(`{"air_hours": %v}`, air))
	}
	return reported
}

func (w *walk) enter(t *testing.T, body string) client.Meters {
	t.Helper()
	return created[client.Meters](t, w.rig, asked{method: "POST", path: w.path("/meters"), body: body})
}

func (w *walk) path(rest string) string { return "/v1/aircraft/" + w.aircraft.Id.String() + rest }

func (w *walk) trends(t *testing.T, query string) []casefile.Trend {
	t.Helper()
	return shownTo[casefile.TrendList](t, w.rig, asked{method: "GET", path: w.path("/trends" + query)}).Trends
}

func (w *walk) trend(t *testing.T, check string) casefile.TrendSeries {
	t.Helper()
	return shownTo[casefile.TrendSeries](t, w.rig, asked{method: "GET", path: w.path("/trends/" + check)})
}

func (w *walk) status(t *testing.T) casefile.Status {
	t.Helper()
	return shownTo[casefile.Status](t, w.rig, asked{method: "GET", path: w.path("/status")})
}

func verdicts(s casefile.Status) []string {
	var all []string
	for _, k := range s.Kinds {
		all = append(all, k.Kind+" "+k.Verdict)
	}
	return all
}

// TestASlowLeakIsFlaggedBeforeItGrounds walks round every day. The left tire loses a quarter of a pound a day, and is filled
// up once on the way; the right one scatters. The leak is seen all the same, is named in the status and changes no verdict.
func TestASlowLeakIsFlaggedBeforeItGrounds(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	if got := w.trends(t, ""); len(got) != 0 {
		t.Fatalf("nothing was measured: %+v", got)
	}
	if got := w.ask(t, asked{method: "GET", path: w.path("/trends/tire-pressure-left")}); got.status != http.StatusNotFound {
		t.Errorf("a series of nothing: %d %s", got.status, got.body)
	}
	before := w.status(t)
	left := []float64{28.5, 28.25, 28, 27.75, 27.5, 27.25, 27, 31, 30.75, 30.5, 30.25, 30, 29.75, 29.5, 29.25, 29}
	right := []float64{29, 29.5, 29, 29, 29.5, 29.5, 29, 29.5, 29, 29.5, 29, 29, 29.5, 29.5, 29, 29}
	for i := range left {
		w.clock.advance(aDay)
		w.measure(t, 0, w.took("tire-pressure-left", left[i]), w.took("tire-pressure-right", right[i]), w.took("fuel-level-left", 20-float64(i)))
		s := w.status(t)
		if i < 9 && len(s.Notes) != 0 {
			t.Fatalf("an alarm after %d measurements: %+v", i+1, s.Notes)
		}
	}
	series := w.trend(t, "tire-pressure-left")
	leak := series.Trend
	const says = "It falls: -0.25 psi a day, between -0.25 and -0.25 psi with 95 % confidence. " +
		"It reaches the limit of 26 psi in about 12 days: in 12 days at the earliest, in 12 days at the latest."
	if !leak.Flagged || leak.Says != says || leak.By != "days" || leak.Because == "" || leak.Station != "left-wing" || leak.In != "psi" || *leak.AtLeast != 26 || *leak.AtMost != 32 {
		t.Errorf("%+v", leak)
	}
	if leak.Added == nil || leak.Added.Times != 1 || leak.Added.Amount != 4 || leak.Reaches == nil || leak.Reaches.Expected != 12 {
		t.Errorf("%+v %+v", leak.Added, leak.Reaches)
	}
	if len(series.Points) != 16 || series.Points[0].Value != 28.5 || series.Points[6].Run != 1 || series.Points[7].Run != 2 || series.Points[0].Hours != nil {
		t.Errorf("%+v", series.Points)
	}
	if right := w.trend(t, "tire-pressure-right").Trend; right.State != "steady" || right.Flagged {
		t.Errorf("%+v", right)
	}
	if fuel := w.trend(t, "fuel-level-left").Trend; fuel.State != "not-looked-for" || fuel.Flagged {
		t.Errorf("flying uses fuel up: %+v", fuel)
	}

	s := w.status(t)
	if len(s.Notes) != 1 || s.Notes[0].Kind != "trend" || s.Notes[0].Says != "Main tire pressure: "+says || s.Notes[0].Trend.Check != "tire-pressure-left" {
		t.Errorf("%+v", s.Notes)
	}
	if was, is := verdicts(before), verdicts(s); !slices.Equal(was, is) || s.OpenSquawks != 0 {
		t.Errorf("a note changes no verdict:\n%v\n%v", was, is)
	}
	w.lists(t)
	w.spreadsheet(t, series)
}

// lists holds that the list comes in pages, and by station and flag.
func (w *walk) lists(t *testing.T) {
	t.Helper()
	names := func(trends []casefile.Trend) string {
		var all []string
		for _, t := range trends {
			all = append(all, t.Check)
		}
		return strings.Join(all, " ")
	}
	for query, want := range map[string]string{
		"":                    "fuel-level-left tire-pressure-left tire-pressure-right",
		"?station=right-wing": "tire-pressure-right", "?station=nose": "", "?flagged=true": "tire-pressure-left",
		"?flagged=false": "fuel-level-left tire-pressure-right", "?limit=2": "fuel-level-left tire-pressure-left",
	} {
		if have := names(w.trends(t, query)); have != want {
			t.Errorf("%s: %s, want %s", query, have, want)
		}
	}
	var paged []string
	for _, page := range w.pages(t, w.path("/trends?limit=1"), "trends") {
		paged = append(paged, page["check"].(string))
	}
	if have := strings.Join(paged, " "); have != "fuel-level-left tire-pressure-left tire-pressure-right" {
		t.Errorf("page by page: %s", have)
	}
	if got := w.ask(t, asked{method: "GET", path: w.path("/trends?cursor=eHh4")}); got.status != http.StatusUnprocessableEntity {
		t.Errorf("a cursor of no list: %d %s", got.status, got.body)
	}
}

// spreadsheet holds that the CSV has what the series has.
func (w *walk) spreadsheet(t *testing.T, s casefile.TrendSeries) {
	t.Helper()
	got := w.ask(t, asked{method: "GET", path: w.path("/trends/" + s.Trend.Check + "/csv")})
	rows, err := csv.NewReader(strings.NewReader(string(got.body))).ReadAll()
	if err != nil || got.status != http.StatusOK || got.header.Get("Content-Type") != "text/csv" || len(rows) != len(s.Points)+1 {
		t.Fatalf("%d %v\n%s", got.status, err, got.body)
	}
	if head := strings.Join(rows[0], ","); head != "at,hours,value,in,run,at_least,at_most,walkaround,result" {
		t.Error(head)
	}
	for i, p := range s.Points {
		want := []string{p.At.UTC().Format(time.RFC3339), "", strconv.FormatFloat(p.Value, 'f', -1, 64), "psi", strconv.Itoa(p.Run), "26", "32", p.Walkaround, p.Result}
		if !slices.Equal(rows[i+1], want) {
			t.Errorf("row %d: %q, want %q", i+2, rows[i+1], want)
		}
	}
}

// TestOilIsUsedByTheHour flies two hours a day. The oil falls by a tenth of a quart an hour and is filled up on the
// walkaround that finds it low, where the level is measured again; a level that is mistyped does no harm.
func TestOilIsUsedByTheHour(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	w.enter(t, `{"time_in_service": 1750.5}`)
	day := func(results ...string) client.ReportedResults {
		w.clock.advance(aDay)
		return w.measure(t, 2, results...)
	}
	level := 7.0
	for range 8 {
		day(w.took("oil-level", level))
		level = float64(int(level*10+0.5)-2) / 10
	}
	low := day(w.took("oil-level", 5.4))
	if len(low.Findings) != 1 {
		t.Fatalf("below 5.5 quarts is a finding: %+v", low)
	}
	w.clock.advance(10 * time.Minute)
	again := strings.Replace(w.took("oil-level", 8), "{", fmt.Sprintf(`{"replaces": ["%s"], `, low.Findings[0].Result), 1)
	w.reported(t, low.Walkaround.Id, false, again)
	for _, level := range []float64{7.8, 7.6, 74, 7.2} { // 7.4, without its point
		day(w.took("oil-level", level))
		if s := w.status(t); len(s.Notes) != 0 {
			t.Errorf("far from the limit: %+v", s.Notes)
		}
	}
	series := w.trend(t, "oil-level")
	oil := series.Trend
	if oil.By != "hours" || oil.State != "drifting" || oil.Slope == nil || oil.Slope.PerUnit != -0.1 || oil.Slope.High >= 0 || oil.LeftOut != 1 || oil.Measurements != 14 {
		t.Errorf("%+v %+v", oil, oil.Slope)
	}
	if oil.Added == nil || oil.Added.Times != 1 || oil.Added.Amount != 2.6 || *oil.Added.PerUnit != 0.1083 { // 2.6 qt in 24 h
		t.Errorf("%+v", oil.Added)
	}
	if r := oil.Reaches; r == nil || r.Limit != 5.5 || r.Expected < 10 {
		t.Errorf("%+v", r)
	}
	if p := series.Points[0]; p.Hours == nil || *p.Hours != 1750.5 || p.Run != 1 || series.Points[12].Run != 0 {
		t.Errorf("%+v", series.Points)
	}
	for _, level := range []float64{7, 6.8, 6.6} {
		day(w.took("oil-level", level))
	}
	s := w.status(t)
	if len(s.Notes) != 1 || !strings.Contains(s.Notes[0].Says, "It reaches the limit of 5.5 qt in about") || s.Notes[0].Trend.By != "hours" {
		t.Errorf("%+v", s.Notes)
	}
	w.clock.advance(2 * time.Hour)
	w.enter(t, `{"air_hours": 1}`)
	if again := w.status(t); len(again.Notes) != 1 || again.Notes[0].Trend.Reaches.Expected >= s.Notes[0].Trend.Reaches.Expected {
		t.Errorf("an hour later: %+v, then %+v", s.Notes[0].Trend.Reaches, again.Notes)
	}
}
