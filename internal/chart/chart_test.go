package chart_test

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/chart"
)

// element is one element of a picture.
type element struct {
	name string
	at   map[string]string
	text string
}

// faulter is what tests and random checks have in common.
type faulter interface {
	Helper()
	Fatalf(format string, args ...any)
}

// read parses a picture, and holds what is so of every one: it is well formed, every number of it is one, and everything lies
// within it.
func read(t faulter, m chart.Markup) []element {
	t.Helper()
	var all []element
	d := xml.NewDecoder(strings.NewReader(string(m)))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%v: %s", err, m)
		}
		switch token := token.(type) {
		case xml.StartElement:
			e := element{name: token.Name.Local, at: map[string]string{}}
			for _, a := range token.Attr {
				e.at[a.Name.Local] = a.Value
			}
			all = append(all, e)
		case xml.CharData:
			all[len(all)-1].text += string(token)
		}
	}
	height := value(t, all[0].at["height"])
	for _, e := range all {
		for name, raw := range e.at {
			switch name {
			case "style", "onload", "onclick":
				t.Fatalf("%s stands inline: %s", name, m)
			case "x", "x1", "x2", "cx", "width":
				within(t, raw, 100, "%")
			case "y", "y1", "y2", "cy":
				within(t, raw, height, "")
			}
		}
		if e.name == "rect" {
			within(t, fmt.Sprint(value(t, e.at["x"])+value(t, e.at["width"])), 100.01, "")
			within(t, fmt.Sprint(value(t, e.at["y"])+value(t, e.at["height"])), height+.01, "")
		}
		if strings.HasPrefix(e.at["class"], "strokes") {
			for _, pair := range strings.FieldsFunc(e.at["d"], func(r rune) bool { return r == 'M' || r == 'L' }) {
				x, y, _ := strings.Cut(pair, " ")
				within(t, x, 1000, "")
				within(t, y, height, "")
			}
		}
		for _, pair := range strings.Fields(e.at["points"]) {
			x, y, _ := strings.Cut(pair, ",")
			within(t, x, 1000, "")
			within(t, y, height, "")
		}
	}
	return all
}

func value(t faulter, raw string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(strings.TrimSuffix(raw, "%"), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		t.Fatalf("%q is no number", raw)
	}
	return v
}

func within(t faulter, raw string, most float64, unit string) {
	t.Helper()
	if unit != "" && !strings.HasSuffix(raw, unit) {
		t.Fatalf("%q is in another unit", raw)
	}
	if v := value(t, raw); v < 0 || v > most {
		t.Fatalf("%q lies outside, of %g", raw, most)
	}
}

func count(all []element, name, class string) int {
	n := 0
	for _, e := range all {
		if e.name == name && slices.Contains(strings.Fields(e.at["class"]), class) {
			n++
		}
	}
	return n
}

// anything is any number, those that are none included.
func anything() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.Float64Range(-50, 50), rapid.Float64(),
		rapid.SampledFrom([]float64{0, 1, 1, 30, math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, math.SmallestNonzeroFloat64}),
	)
}

// TestWhateverIsDrawnLiesWithin holds for random values that a picture is well formed, has no number that is none, and nothing
// outside of it.
func TestWhateverIsDrawnLiesWithin(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		v := func(name string) float64 { return anything().Draw(t, name) }
		maybe := func(name string) *float64 {
			if rapid.Bool().Draw(t, "has "+name) {
				return new(v(name))
			}
			return nil
		}
		words := chart.Words{ID: rapid.String().Draw(t, "id"), Title: rapid.String().Draw(t, "title"), Says: rapid.String().Draw(t, "says")}
		// XML has no place for most control characters, which browsers read as they are.
		plain := func(r rune) rune {
			if r < ' ' || r == 0xFFFE || r == 0xFFFF {
				return ' '
			}
			return r
		}
		words.Title, words.Says = strings.Map(plain, words.Title), strings.Map(plain, words.Says)
		s := chart.Series{Words: words, Unit: "psi", Low: maybe("low"), High: maybe("high"), Now: v("now"), Limit: v("limit")}
		for range rapid.IntRange(0, 6).Draw(t, "points") {
			s.Points = append(s.Points, chart.Point{X: v("x"), Y: v("y"), Run: rapid.IntRange(0, 2).Draw(t, "run"), Filled: rapid.Bool().Draw(t, "filled")})
			s.Lines = append(s.Lines, chart.Line{X1: v("x1"), Y1: v("y1"), X2: v("x2"), Y2: v("y2")})
			s.Ticks = append(s.Ticks, chart.Tick{X: v("tick"), Words: words.Says})
		}
		if rapid.Bool().Draw(t, "goes on") {
			s.Fan = &chart.Fan{X: v("x"), Y: v("y"), Until: v("until"), Expected: v("expected"), Low: v("lowest"), High: v("highest")}
			s.Reaches = &chart.Tick{X: v("reaches")}
		}
		read(t, s.Draw())
		read(t, s.Spark())
		left := chart.Left{Words: words, Share: v("share"), Unknown: rapid.Bool().Draw(t, "unknown")}
		read(t, left.Draw())
		columns := chart.Columns{Words: words}
		for range rapid.IntRange(0, 14).Draw(t, "columns") {
			column := chart.Column{Label: words.Title}
			for range rapid.IntRange(0, 4).Draw(t, "parts") {
				class := rapid.SampledFrom([]string{"grounded", "booked", "nobody knows"}).Draw(t, "class")
				column.Parts = append(column.Parts, chart.Part{Class: class, Share: v("share")})
			}
			columns.Columns = append(columns.Columns, column)
		}
		read(t, columns.Draw())
		age := chart.Age{Words: words, Since: v("since"), Left: v("left")}
		read(t, chart.AgesOf([]chart.Age{age, {Since: v("since"), Left: v("left")}}).Draw(age))
		day := chart.Day{Words: words, Hours: v("hours"), Flight: chart.Window{From: v("from"), To: v("to")}, Ticks: s.Ticks, Clock: s.Ticks}
		for range rapid.IntRange(0, 4).Draw(t, "lit") {
			day.Lit = append(day.Lit, chart.Lit{From: v("from"), To: v("to"), Light: rapid.SampledFrom([]string{"night", "twilight", "day"}).Draw(t, "light")})
		}
		read(t, day.Draw())
	})
}

// TestEveryMeasurementIsDrawn holds that each measurement is a mark of its kind, that more stands higher and later further
// on, and that what is no number is left out.
func TestEveryMeasurementIsDrawn(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		values                  []float64
		points, filled, leftOut int
	}{
		"none":             {nil, 0, 0, 0},
		"one":              {[]float64{30}, 1, 0, 0},
		"equal":            {[]float64{30, 30, 30}, 3, 0, 0},
		"all are nothing":  {[]float64{0, 0}, 2, 0, 0},
		"rising":           {[]float64{1, 2, 3, 4}, 4, 0, 0},
		"not all numbers":  {[]float64{1, math.NaN(), 3, math.Inf(1)}, 2, 0, 0},
		"as far as can be": {[]float64{-math.MaxFloat64, 0, math.MaxFloat64}, 3, 0, 0},
		"very small":       {[]float64{1e-300, 2e-300}, 2, 0, 0},
	} {
		s := chart.Series{Unit: "psi"}
		for i, v := range c.values {
			s.Points = append(s.Points, chart.Point{X: float64(i), Y: v, Run: 1})
		}
		all := read(t, s.Draw())
		if n := count(all, "circle", "point"); n != c.points {
			t.Errorf("%s: %d points are drawn, want %d", name, n, c.points)
		}
		lastX, lastY := -1.0, math.Inf(1)
		for _, e := range all {
			if e.name != "circle" || name != "rising" && name != "as far as can be" {
				continue
			}
			x, y := value(t, e.at["cx"]), value(t, e.at["cy"])
			if x <= lastX || y >= lastY {
				t.Errorf("%s: what is more and later stands at %g, %g after %g, %g", name, x, y, lastX, lastY)
			}
			lastX, lastY = x, y
		}
	}
	s := chart.Series{Points: []chart.Point{{0, 1, 1, false}, {1, 5, 2, true}, {2, 90, 0, false}, {3, 4, 2, false}}, Low: new(0.5), High: new(8.0), Unit: "qt"}
	all := read(t, s.Draw())
	if count(all, "circle", "point") != 2 || count(all, "path", "filled") != 1 || count(all, "path", "left-out") != 1 || count(all, "line", "limit") != 2 {
		t.Errorf("%s", s.Draw())
	}
	for _, words := range []string{"at most 8 qt", "at least 0.5 qt"} {
		if !strings.Contains(string(s.Draw()), words) {
			t.Errorf("it does not say %q", words)
		}
	}
}

// TestAFanLeavesTheScaleWhereItsLineDoes holds that the line into what is to come is cut off, not bent.
func TestAFanLeavesTheScaleWhereItsLineDoes(t *testing.T) {
	t.Parallel()
	// From 10 at 0 it falls to -10 at 10: with a scale down to 0, it leaves it in the middle.
	s := chart.Series{Points: []chart.Point{{X: 0, Y: 10, Run: 1}}, Low: new(0.0), Fan: &chart.Fan{X: 0, Y: 10, Until: 10, Expected: -10, Low: -10, High: 10}}
	all := read(t, s.Draw())
	for _, e := range all {
		if e.name == "line" && e.at["class"] == "slope ahead" {
			from, to := value(t, e.at["x1"]), value(t, e.at["x2"])
			if middle := (8 + 97) / 2.0; from != 8 || math.Abs(to-middle) > .02 {
				t.Errorf("it goes from %g to %g, and leaves the scale at %g", from, to, middle)
			}
			return
		}
	}
	t.Error("no line goes on")
}

// TestWordsStayWords holds that whatever is written in a picture is text, and that its name has no way out of its attribute.
func TestWordsStayWords(t *testing.T) {
	t.Parallel()
	const markup = `"'><script>x</script>{{.}}`
	s := chart.Series{
		Words: chart.Words{ID: markup, Title: markup, Says: markup}, Unit: markup, Low: new(1.0), Points: []chart.Point{{Y: 2, Run: 1}},
		Ticks: []chart.Tick{{Words: markup}},
	}
	all := read(t, s.Draw())
	if count(all, "script", "") > 0 || all[0].at["aria-labelledby"] != "chart-scriptxscript-t chart-scriptxscript-d" || all[0].at["role"] != "img" {
		t.Errorf("%v", all[0])
	}
	if all[1].name != "title" || all[1].text != markup || all[2].name != "desc" || all[2].text != markup {
		t.Errorf("it says %q and %q", all[1].text, all[2].text)
	}
}

// TestWhatIsLeft holds how much of a bar is full, and that what is over and what is not known have shapes of their own.
func TestWhatIsLeft(t *testing.T) {
	t.Parallel()
	for name, c := range map[string]struct {
		left  chart.Left
		width float64 // of the full part, in hundredths; 0: there is none
		class string  // that it has besides
	}{
		"all":       {chart.Left{Share: 1}, 99.2, "frame"},
		"half":      {chart.Left{Share: .5}, 49.6, "frame"},
		"little":    {chart.Left{Share: .05}, 4.96, "soon"},
		"nothing":   {chart.Left{Share: 0}, 1.2, "soon"},
		"over":      {chart.Left{Share: -.1}, 0, "frame-over"},
		"not known": {chart.Left{Unknown: true}, 0, "frame-unknown"},
		"no number": {chart.Left{Share: math.NaN()}, 0, "frame-unknown"},
	} {
		all := read(t, c.left.Draw())
		width := 0.0
		for _, e := range all {
			if e.name == "rect" && strings.HasPrefix(e.at["class"], "left") {
				width = value(t, e.at["width"])
			}
		}
		if math.Abs(width-c.width) > .01 || count(all, "rect", c.class) != 1 {
			t.Errorf("%s: %g, want %g and %s: %v", name, width, c.width, c.class, all)
		}
	}
}

// TestColumnsShareOutADay holds that the parts of a day stand upon each other, as tall as their share, and never leave it.
func TestColumnsShareOutADay(t *testing.T) {
	t.Parallel()
	c := chart.Columns{Columns: []chart.Column{{Label: "30", Parts: []chart.Part{{"grounded", .5}, {"booked", .25}, {"blocked", .9}}}, {Label: "1"}}}
	tall, bottom := map[string]float64{}, 74.0
	for _, e := range read(t, c.Draw()) {
		class := e.at["class"]
		if e.name != "rect" {
			continue
		}
		tall[class] = value(t, e.at["height"])
		if y := value(t, e.at["y"]); math.Abs(y+tall[class]-bottom) > .01 {
			t.Errorf("%s ends at %g, and stands on %g", class, y+tall[class], bottom)
		}
		bottom -= tall[class]
	}
	if tall["p-grounded"] != 36 || tall["p-booked"] != 18 || tall["p-blocked"] != 18 {
		t.Errorf("%v", tall)
	}
}

// TestAgesAreDrawnToOneScale holds that twice as old is twice as long, on either side of today.
func TestAgesAreDrawnToOneScale(t *testing.T) {
	t.Parallel()
	ages := []chart.Age{{Since: 10, Left: 40}, {Since: 20, Left: 20}, {Since: 40, Left: -10}}
	scale := chart.AgesOf(ages)
	widths := func(a chart.Age) map[string]float64 {
		w := map[string]float64{}
		for _, e := range read(t, scale.Draw(a)) {
			if e.name == "rect" {
				w[e.at["class"]] = value(t, e.at["width"])
			}
		}
		return w
	}
	one, two, over := widths(ages[0]), widths(ages[1]), widths(ages[2])
	if math.Abs(two["since"]-2*one["since"]) > .02 || math.Abs(one["remains"]-2*two["remains"]) > .02 || math.Abs(one["since"]*2-two["remains"]) > .02 {
		t.Errorf("%v, %v", one, two)
	}
	if _, remains := over["remains"]; remains || math.Abs(over["frame-over"]*4-over["since"]) > .04 {
		t.Errorf("%v", over)
	}
}

// TestADayIsDrawnByTheHour holds where light and flight stand on a day, and that each light has a height of its own.
func TestADayIsDrawnByTheHour(t *testing.T) {
	t.Parallel()
	d := chart.Day{Hours: 24, Lit: []chart.Lit{{0, 6, "night"}, {6, 7, "twilight"}, {7, 24, "day"}}, Flight: chart.Window{From: 12, To: 15}, Naming: "the flight"}
	heights := map[string]bool{}
	for _, e := range read(t, d.Draw()) {
		if e.name != "rect" {
			continue
		}
		heights[e.at["height"]] = true
		x, width := value(t, e.at["x"]), value(t, e.at["width"])
		want := map[string][2]float64{"l-night": {0, 25}, "l-twilight": {25, 4.17}, "l-day": {29.17, 70.83}, "flight": {50, 12.5}}[e.at["class"]]
		if math.Abs(x-want[0]) > .02 || math.Abs(width-want[1]) > .02 {
			t.Errorf("%s: %g, %g, want %v", e.at["class"], x, width, want)
		}
	}
	if len(heights) != 4 {
		t.Errorf("%d heights tell three lights and a flight apart", len(heights))
	}
}
