package pages

import (
	"cmp"
	"encoding/csv"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/chart"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// trendsView is what is measured on an aircraft's walkarounds.
type trendsView struct {
	about
	Trends []trendRow
}

// trendRow is one check with its course.
type trendRow struct {
	casefile.Trend
	Station string
	Level   string // where it stands, for the style
	Word    string // and in a word
	Picture template.HTML
}

// trendWords are the states in words.
var trendWords = map[string]struct{ level, word string }{
	"reaches":        {"flagged", "Reaches its limit soon"},
	"drifting":       {"drifting", "Drifts"},
	"steady":         {"steady", "Steady"},
	"too-few":        {"few", "Not enough measurements yet"},
	"not-looked-for": {"few", "Used up in flight"},
}

func (p *pages) showTrends(v *visit) error {
	on, err := p.aboutNamed(v)
	if err != nil {
		return err
	}
	view := trendsView{about: on}
	all, err := p.Service.MeasuredOn(v, v.who, on.Aircraft.ID)
	if err != nil {
		return err
	}
	for i := range all {
		view.Trends = append(view.Trends, rowOf(&all[i]))
	}
	order := []string{"flagged", "drifting", "steady", "few"}
	slices.SortStableFunc(view.Trends, func(a, b trendRow) int {
		return cmp.Compare(slices.Index(order, a.Level), slices.Index(order, b.Level))
	})
	return p.showIn(v, ok, "trends", frame{Title: "Trends of " + on.Aircraft.Registration, Here: "fleet", Page: &view, Live: announced, About: on.Aircraft.ID.String()})
}

func rowOf(s *casefile.TrendSeries) trendRow {
	row := trendRow{Trend: s.Trend, Station: walkaround.Station(s.Trend.Station).Name()}
	words, known := trendWords[s.Trend.State]
	if !known {
		words = trendWords["too-few"] // nothing is said of it
	}
	row.Level, row.Word = words.level, words.word
	newest := *s
	newest.Points = s.Points[max(0, len(s.Points)-pointsInRow):]
	small := seriesOf(&newest, 0)
	small.Words = chart.Words{ID: "of-" + s.Trend.Check, Title: "Course of the measurements, the last of " + quantity(s.Trend.LastValue, s.Trend.In)}
	row.Picture = picture(small.Spark())
	return row
}

func quantity(value float64, unit string) string { return decimal(value, 2) + " " + unit }

// pointsInRow is how many measurements a row of the list draws.
const pointsInRow = 40

// trendView is one series.
type trendView struct {
	about
	trendRow
	Points  []trendPoint // newest first
	Beyond  int          // measurements that are older than those shown
	Slope   string
	Reaches []string // when a limit is reached, in words
	Filled  int      // how often it was filled up, among those shown
	Out     int      // how many of those shown are compared with none
}

// trendPoint is one measurement as the table has it.
type trendPoint struct {
	casefile.TrendPoint
	When   time.Time
	Filled bool
}

// pointsShown is how many measurements a page draws and lists. The file has all of them.
const pointsShown = 150

func (p *pages) showTrend(v *visit) error {
	on, err := p.aboutNamed(v)
	if err != nil {
		return err
	}
	series, err := p.Service.Trend(v, v.who, on.Aircraft.ID, v.PathValue("check"))
	if err != nil {
		return err
	}
	view := trendView{about: on, trendRow: rowOf(&series)}
	if view.Beyond = len(series.Points) - pointsShown; view.Beyond > 0 {
		series.Points = series.Points[view.Beyond:]
	}
	now := series.AsOf.Sub(series.Points[0].At).Hours() / 24
	if series.Trend.By == "hours" {
		if now, err = p.inService(v, on.Aircraft.ID); err != nil {
			return err
		}
	}
	drawn := seriesOf(&series, now)
	drawn.Ticks = ticksOf(&series, drawn.Points, on.Zone)
	drawn.ID, drawn.Title, drawn.Says = "trend", series.Trend.Words+": "+plural(len(series.Points), "measurement"), series.Trend.Says
	view.Picture = picture(drawn.Draw())
	for i := range series.Points {
		point := trendPoint{series.Points[i], series.Points[i].At.In(on.Zone), drawn.Points[i].Filled}
		view.Points = append(view.Points, point)
		if point.Filled {
			view.Filled++
		}
		if point.Run == 0 {
			view.Out++
		}
	}
	slices.Reverse(view.Points)
	view.Slope, view.Reaches = slopeWords(&series.Trend), reachWords(&series, on.Zone)
	return p.showIn(v, ok, "trend", frame{Title: "Trend, " + on.Aircraft.Registration, Here: "fleet", Page: &view, Live: announced, About: on.Aircraft.ID.String()})
}

// inService is the time in service that the book has last.
func (p *pages) inService(v *visit, aircraft techlog.ID) (float64, error) {
	book, err := p.Service.Meters(v, v.who, aircraft)
	for _, e := range book {
		if e.Meter == walkaround.TimeInService {
			return e.Hours, err
		}
	}
	return 0, err
}

// slopeWords say how fast it changes, with how sure that is.
func slopeWords(t *casefile.Trend) string {
	if t.Slope == nil {
		return ""
	}
	per := map[string]string{"hours": "an hour in service", "days": "a day"}[t.By]
	return signed(t.Slope.PerUnit) + " " + t.In + " " + per + "; with " + decimal(t.Slope.Confidence*100, 0) + " % confidence between " +
		signed(t.Slope.Low) + " and " + signed(t.Slope.High)
}

func signed(x float64) string {
	if x > 0 {
		return "+" + decimal(x, 4)
	}
	return decimal(x, 4)
}

// reachWords say when the line reaches its limit: on which date, if it is counted in days. Hours in service have no date of
// their own; the one that is given is at the pace of the measurements, and says so.
func reachWords(s *casefile.TrendSeries, zone *time.Location) []string {
	r := s.Trend.Reaches
	if r == nil {
		return nil
	}
	limit := quantity(r.Limit, s.Trend.In)
	if r.Expected == 0 {
		return []string{"Its line has reached the limit of " + limit + "."}
	}
	on := func(days float64) string {
		return s.AsOf.Add(time.Duration(days * 24 * float64(time.Hour))).In(zone).Format("Mon 2 Jan 2006")
	}
	const farthest = 3650 // days: beyond it a date says nothing
	if s.Trend.By == "days" {
		if r.Expected > farthest {
			return nil
		}
		words := "It reaches the limit of " + limit + " about " + on(r.Expected) + ": on " + on(r.Soonest) + " at the earliest"
		if r.Latest <= farthest {
			words += ", on " + on(r.Latest) + " at the latest"
		}
		return []string{words + "."}
	}
	words := []string{
		"It reaches the limit of " + limit + " in about " + decimal(r.Expected, 1) + " h in service: in " + decimal(r.Soonest, 1) + " h at the earliest, in " +
			decimal(r.Latest, 1) + " h at the latest.",
	}
	first, last := &s.Points[0], &s.Points[len(s.Points)-1]
	if days := last.At.Sub(first.At).Hours() / 24; days > 0 && first.Hours != nil && last.Hours != nil && *last.Hours > *first.Hours {
		pace := (*last.Hours - *first.Hours) / days
		if due := r.Expected / pace; due <= farthest {
			words = append(words, "At the pace of these measurements, "+decimal(pace, 1)+" h a day, that is about "+on(due)+".")
		}
	}
	return words
}

// seriesOf is a series as it is drawn. now is where it stands today, in what the series is counted in; 0: not drawn.
func seriesOf(s *casefile.TrendSeries, now float64) *chart.Series {
	t := &s.Trend
	drawn := &chart.Series{Unit: t.In, Low: t.AtLeast, High: t.AtMost, Now: now}
	last := map[int]int{} // the last point of each run
	before := -1
	for i := range s.Points {
		p := &s.Points[i]
		x := p.At.Sub(s.Points[0].At).Hours() / 24
		if t.By == "hours" && p.Hours != nil {
			x = *p.Hours
		}
		one := chart.Point{X: x, Y: p.Value, Run: p.Run}
		if p.Run > 0 {
			one.Filled = before >= 0 && s.Points[before].Run != p.Run && p.Value > s.Points[before].Value
			before = i
			last[p.Run] = i
		}
		drawn.Points = append(drawn.Points, one)
	}
	if len(drawn.Points) == 0 {
		return drawn
	}
	if t.Slope == nil || before < 0 {
		return drawn
	}
	for run := range last {
		if l, ok := lineOf(drawn.Points, run, t.Slope.PerUnit); ok {
			if run == drawn.Points[before].Run { // the newest run has the level that was answered
				lower := l.Y2 - t.Slope.Level
				l.Y1, l.Y2 = l.Y1-lower, l.Y2-lower
			}
			drawn.Lines = append(drawn.Lines, l)
		}
	}
	slices.SortFunc(drawn.Lines, func(a, b chart.Line) int { return cmp.Compare(a.X1, b.X1) })
	goOn(drawn, t, drawn.Points[before].X)
	return drawn
}

// goOn draws where the line goes from the last measurement on: a quarter further than there are measurements, or up to the
// limit that it reaches, unless that is far off.
func goOn(drawn *chart.Series, t *casefile.Trend, from float64) {
	slope := t.Slope
	span := from - drawn.Points[0].X
	until := max(from+span/4, drawn.Now)
	if t.Reaches != nil && slope.PerUnit != 0 {
		at := from + (t.Reaches.Limit-slope.Level)/slope.PerUnit
		if at > from && at <= from+span*.6 {
			until = max(until, at)
			drawn.Reaches, drawn.Limit = &chart.Tick{X: at}, t.Reaches.Limit
		}
	}
	after := until - from
	drawn.Fan = &chart.Fan{
		X: from, Y: slope.Level, Until: until, Expected: slope.Level + slope.PerUnit*after, Low: slope.Level + slope.Low*after,
		High: slope.Level + slope.High*after,
	}
}

// lineOf is the line of one run: it has the slope that all have in common, and goes through the median of what that leaves of
// the run's measurements, as a trend's level does.
func lineOf(points []chart.Point, run int, slope float64) (chart.Line, bool) {
	var left []float64
	from, to, n := 0.0, 0.0, 0
	for _, p := range points {
		if p.Run != run {
			continue
		}
		if n == 0 {
			from = p.X
		}
		to = p.X
		n++
		left = append(left, p.Y-slope*p.X)
	}
	if n < 2 {
		return chart.Line{}, false
	}
	slices.Sort(left)
	at := (left[(n-1)/2] + left[n/2]) / 2
	return chart.Line{X1: from, Y1: at + slope*from, X2: to, Y2: at + slope*to}, true
}

// ticksOf name the first and the last measurement.
func ticksOf(s *casefile.TrendSeries, points []chart.Point, zone *time.Location) []chart.Tick {
	words := func(i int) string {
		day := s.Points[i].At.In(zone).Format("2 Jan")
		if s.Trend.By == "hours" {
			return day + ", " + decimal(points[i].X, 1) + " h"
		}
		return day
	}
	ticks := []chart.Tick{{X: points[0].X, Words: words(0)}}
	if end := len(points) - 1; points[end].X > points[0].X {
		ticks = append(ticks, chart.Tick{X: points[end].X, Words: words(end)})
	}
	return ticks
}

// sendMeasurements gives out a series as a file, every measurement of it, oldest first.
func (p *pages) sendMeasurements(v *visit) error {
	on, err := p.aboutNamed(v)
	if err != nil {
		return err
	}
	series, err := p.Service.Trend(v, v.who, on.Aircraft.ID, v.PathValue("check"))
	if err != nil {
		return err
	}
	h := v.w.Header()
	h.Set("Content-Type", "text/csv; charset=utf-8")
	h.Set("Content-Disposition", "attachment; filename="+strconv.Quote("measurements-"+fileName(on.Aircraft.Registration+"-"+series.Trend.Check)+".csv"))
	v.w.WriteHeader(http.StatusOK)
	w := csv.NewWriter(v.w)
	_ = w.Write([]string{"at", "value", "unit", "hours_in_service", "run", "walkaround"}) // whoever asked may have gone
	for i := range series.Points {
		point := &series.Points[i]
		hours := ""
		if point.Hours != nil {
			hours = strconv.FormatFloat(*point.Hours, 'f', -1, 64)
		}
		_ = w.Write([]string{
			point.At.In(on.Zone).Format(time.RFC3339), strconv.FormatFloat(point.Value, 'f', -1, 64), noFormula(series.Trend.In), hours,
			strconv.Itoa(point.Run), point.Walkaround,
		})
	}
	w.Flush()
	return nil
}

// noFormula keeps a spreadsheet from working out what somebody has written.
func noFormula(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// fileName keeps of words what every system takes in the name of a file.
func fileName(words string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '_'
	}, words)
}
