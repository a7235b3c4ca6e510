package walkaround_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tiedown/internal/walkaround"
)

func tire() walkaround.Check {
	return walkaround.Check{
		ID: "tire-left", Station: walkaround.LeftWing, Way: walkaround.Measure, Words: "Main tire pressure", Means: walkaround.Servicing, In: "psi",
		AtLeast: new(26.0), AtMost: new(32.0),
	}
}

// walked is what was measured of a check day by day, the last of it at noon.
func walked(check string, values ...float64) []walkaround.Measurement {
	var all []walkaround.Measurement
	for i, v := range values {
		all = append(all, walkaround.Measurement{Walkaround: id(i + 1), Result: id(i + 1001), Check: check, Value: v, At: noon.AddDate(0, 0, i+1-len(values))})
	}
	return all
}

// inService is a book of so many hours a day that ends with the last measurement.
func inService(days int, perDay float64) []walkaround.BookEntry {
	var book []walkaround.BookEntry
	for i := range days {
		book = append(book, walkaround.BookEntry{
			Meter: walkaround.TimeInService, Number: i + 1, Hours: 1000 + perDay*float64(i), At: noon.AddDate(0, 0, i+1-days),
		})
	}
	return book
}

func lists(checks ...walkaround.Check) map[[32]byte]walkaround.Checklist {
	return map[[32]byte]walkaround.Checklist{{}: {Checks: checks}}
}

// falling is a tire that loses a quarter of a pound a day.
func falling(days int) []float64 {
	var values []float64
	for i := range days {
		values = append(values, 31-float64(i)/4)
	}
	return values
}

// TestWhatASeriesSays holds the words for each state, over hours and over days. The numbers follow from the measurements,
// which lie on a line: a quarter of a pound a day, or an eighth an hour at two hours a day.
func TestWhatASeriesSays(t *testing.T) {
	t.Parallel()
	fuel := tire()
	fuel.UsedUp = true
	noLimit := tire()
	noLimit.AtLeast = nil
	for what, c := range map[string]struct {
		check   walkaround.Check
		values  []float64
		book    []walkaround.BookEntry
		state   string
		flagged bool
		says    string
		because string
	}{
		"too few": {
			tire(), falling(9), nil, "too-few", false, "Too few to say: 9 measurements can be compared, and nothing is said of fewer than 10.",
			"no time in service is on record",
		},
		"a slow leak over days": {
			tire(), falling(12), nil, "reaches", true,
			"It falls: -0.25 psi a day, between -0.25 and -0.25 psi with 95 % confidence. It reaches the limit of 26 psi in about 9 days: in 9 days at the earliest, in 9 days at the latest.",
			"no time in service is on record",
		},
		"a slow leak over hours": {
			tire(), falling(18), inService(18, 2), "reaches", true,
			"It falls: -0.125 psi an hour in service, between -0.125 and -0.125 psi with 95 % confidence. It reaches the limit of 26 psi in about 6 h: in 6 h at the earliest, in 6 h at the latest.",
			"",
		},
		"far from the limit": {
			tire(), falling(12), inService(12, 2), "drifting", false,
			"It falls: -0.125 psi an hour in service, between -0.125 and -0.125 psi with 95 % confidence. It reaches the limit of 26 psi in about 18 h: in 18 h at the earliest, in 18 h at the latest.",
			"",
		},
		"at the limit": {
			tire(), falling(21), nil, "reaches", true,
			"It falls: -0.25 psi a day, between -0.25 and -0.25 psi with 95 % confidence. Its line has reached the limit of 26 psi.", "no time in service is on record",
		},
		"no limit that way": {
			noLimit, falling(12), nil, "drifting", false, "It falls: -0.25 psi a day, between -0.25 and -0.25 psi with 95 % confidence. There is no limit that way.",
			"no time in service is on record",
		},
		"nothing moves": {
			tire(), []float64{29, 30, 29, 30, 30, 29, 29, 30, 29, 30, 30, 29}, nil, "steady", false, "", "no time in service is on record",
		},
		"used up":                     {fuel, falling(12), nil, "not-looked-for", false, "Flying uses it up: no trend is looked for.", "no time in service is on record"},
		"a book that begins too late": {tire(), falling(12), inService(11, 2), "reaches", true, "", "the book of time in service begins after the first measurement"},
		"a book that goes back":       {tire(), falling(12), append(inService(12, 2), walkaround.BookEntry{Hours: 1, At: noon}), "reaches", true, "", "the book of time in service goes back"},
		"a book that stands":          {tire(), falling(12), inService(12, 0), "reaches", true, "", "no time in service is on record between the first measurement and the last"},
	} {
		series := walkaround.Measured(walked("tire-left", c.values...), lists(c.check), c.book, noon)
		if len(series) != 1 {
			t.Fatalf("%s: %d series", what, len(series))
		}
		w := series[0].Written()
		if w.State != c.state || w.Flagged != c.flagged || c.says != "" && w.Says != c.says || w.Because != c.because || w.Says == "" {
			t.Errorf("%s: %s\n%+v", what, w.Says, w)
		}
		if over := map[bool]string{true: "days", false: "hours"}[c.because != ""]; w.By != over {
			t.Errorf("%s: by %s", what, w.By)
		}
		if w.Measurements != len(c.values) || w.LastValue != c.values[len(c.values)-1] || !slices.Contains(walkaround.TrendStates(), w.State) {
			t.Errorf("%s: %+v", what, w)
		}
	}
}

// TestOilAdded holds how much oil is added by the hour: it follows from the measurements before and after, one of them on
// the same walkaround, and the level falls as fast as if nothing had been added.
func TestOilAdded(t *testing.T) {
	t.Parallel()
	oil := oil()
	oil.AtMost = nil
	all := walked("oil-level", 8, 7.8, 7.6, 7.4, 7.2, 7, 6.8, 6.6, 6.4, 6.2, 6, 5.8, 7.8, 7.6, 7.4, 7.2)
	after := all[11] // on the walkaround that found 5.8, two quarts are put in and the level is measured again
	after.Result, after.Value, after.At = id(2000), 7.8, after.At.Add(10*time.Minute)
	all = slices.Insert(all, 12, after)
	all[13].Value, all[14].Value, all[15].Value, all[16].Value = 7.6, 7.4, 7.2, 7
	series := walkaround.Measured(all, lists(oil), inService(16, 2), noon)
	w := series[0].Written()
	if w.Added == nil || w.Added.Times != 1 || w.Added.Amount != 2 || w.Added.PerUnit == nil || *w.Added.PerUnit != 0.0667 { // 2 qt in 30 h
		t.Errorf("%+v", w.Added)
	}
	if w.Slope == nil || w.Slope.PerUnit != -0.1 || w.Slope.High >= 0 || w.Slope.Level != 7 || w.By != "hours" || w.LeftOut != 0 {
		t.Errorf("%+v %+v", w, w.Slope)
	}
	points := series[0].WrittenPoints()
	if points[11].Run != 1 || points[12].Run != 2 || points[12].Walkaround != points[11].Walkaround || *points[16].Hours != 1030 {
		t.Errorf("%+v", points)
	}
	if w := walkaround.Measured(walked("oil-level", falling(12)...), lists(oil), nil, noon)[0].Written(); w.Added != nil {
		t.Errorf("nothing was added: %+v", w.Added)
	}
}

// TestWhatBelongsToASeries holds that only what was measured, in the unit of the newest checklist, is in one.
func TestWhatBelongsToASeries(t *testing.T) {
	t.Parallel()
	old, meter := tire(), walkaround.Check{ID: "tach", Way: walkaround.Compare, Meter: walkaround.Tach}
	old.In, old.AtLeast = "kPa", new(180.0)
	all := slices.Concat(walked("tire-left", 200, 199, 30, 30), walked("tach", 100, 101), walked("unknown", 1), walked("oil-level", 7))
	all[0].Checklist, all[1].Checklist = [32]byte{1}, [32]byte{1}
	known := lists(tire(), meter, oil())
	known[[32]byte{1}] = walkaround.Checklist{Checks: []walkaround.Check{old}}
	series := walkaround.Measured(all, known, nil, noon)
	if len(series) != 2 || series[0].Check.ID != "oil-level" || series[1].Check.ID != "tire-left" {
		t.Fatalf("%+v", series)
	}
	if w := series[1].Written(); w.LeftOut != 2 || w.Measurements != 2 || *w.AtLeast != 26 || w.In != "psi" {
		t.Errorf("%+v", w)
	}
	many := walked("tire-left", make([]float64, walkaround.MaxSeries+7)...)
	many[6].Value, many[7].Value = 1, 2
	if s := walkaround.Measured(many, known, nil, noon)[0]; len(s.Points) != walkaround.MaxSeries || s.Points[0].Value != 2 {
		t.Errorf("%d measurements, first %v", len(s.Points), s.Points[0])
	}
	if got := walkaround.Measured(nil, known, nil, noon); len(got) != 0 {
		t.Errorf("%+v", got)
	}
}

// TestTheOrderOfMeasurementsDoesNotMatter holds that phones may send late, and that no series says less than its numbers.
func TestTheOrderOfMeasurementsDoesNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "measurements")
		values := make([]float64, n)
		for i := range values {
			values[i] = float64(rapid.IntRange(200, 340).Draw(t, "value")) / 10
		}
		all := walked("tire-left", values...)
		book := inService(rapid.IntRange(0, 45).Draw(t, "days"), float64(rapid.IntRange(0, 9).Draw(t, "hours"))/4)
		want := walkaround.Measured(all, lists(tire()), book, noon)[0]
		have := walkaround.Measured(rapid.Permutation(all).Draw(t, "order"), lists(tire()), book, noon)[0]
		w, h := want.Written(), have.Written()
		if w.Says != h.Says || w.State != h.State || w.Flagged != h.Flagged {
			t.Errorf("%+v\n%+v", w, h)
		}
		ahead := map[string]float64{"hours": 10, "days": 14}[w.By]
		if r := w.Reaches; w.Flagged && (r == nil || r.Expected > ahead) || !w.Flagged && r != nil && r.Expected < ahead {
			t.Errorf("flagged %v: %+v", w.Flagged, r)
		}
		if w.Flagged && w.Compared < 10 || w.Compared > w.Measurements || (w.State == "too-few") != (w.Slope == nil) {
			t.Errorf("%+v", w)
		}
		if r := w.Reaches; r != nil && !(0 <= r.Soonest && r.Soonest <= r.Expected && r.Expected <= r.Latest) {
			t.Errorf("%+v", r)
		}
		if strings.Contains(w.Says, "NaN") || strings.Contains(w.Says, "Inf") {
			t.Error(w.Says)
		}
	})
}
