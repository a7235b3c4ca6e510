package walkaround_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/walkaround"
)

// TestMuseumOfChecks shows one faulty check after another, each with what is said of it.
func TestMuseumOfChecks(t *testing.T) {
	t.Parallel()
	good := walkaround.Checklist{Checks: []walkaround.Check{look("door", walkaround.Cabin), oil(), sump()}}
	wantRules(t, "a good one", good.Faults(known).Err())
	for what, c := range map[string]struct {
		spoil func(*walkaround.Check)
		of    walkaround.Check
		want  []string
	}{
		"no name":                {func(c *walkaround.Check) { c.ID = "" }, oil(), []string{"form id"}},
		"a name in capitals":     {func(c *walkaround.Check) { c.ID = "Oil" }, oil(), []string{"form id"}},
		"nothing to do":          {func(c *walkaround.Check) { c.Words = "  " }, oil(), []string{"one-line words"}},
		"two lines":              {func(c *walkaround.Check) { c.Words = "a\nb" }, oil(), []string{"one-line words"}},
		"too many words":         {func(c *walkaround.Check) { c.Words = strings.Repeat("x", 401) }, oil(), []string{"one-line words"}},
		"no station":             {func(c *walkaround.Check) { c.Station = "" }, oil(), []string{"required station"}},
		"a strange station":      {func(c *walkaround.Check) { c.Station = "hangar" }, oil(), []string{"enum station"}},
		"a strange way":          {func(c *walkaround.Check) { c.Way = "sniff" }, look("x", walkaround.Nose), []string{"enum way"}},
		"no meaning":             {func(c *walkaround.Check) { c.Means = "" }, oil(), []string{"required means"}},
		"a strange circumstance": {func(c *walkaround.Check) { c.When = []walkaround.Circumstance{"dusk"} }, oil(), []string{"enum when"}},
		"a circumstance twice": {
			func(c *walkaround.Check) { c.When = []walkaround.Circumstance{walkaround.IFR, walkaround.IFR} }, oil(), []string{"unique when"},
		},
		"an unknown item":              {func(c *walkaround.Check) { c.Item = "oil" }, oil(), []string{"known-item item"}},
		"equipment that is none":       {func(c *walkaround.Check) { c.Equipped = "oil" }, oil(), []string{"known-item equipped"}},
		"a unit with a stray space":    {func(c *walkaround.Check) { c.Unit = " a" }, oil(), []string{"form unit"}},
		"a range that goes down":       {func(c *walkaround.Check) { c.Serials = "9..3" }, oil(), []string{"form serials"}},
		"a serial number of signs":     {func(c *walkaround.Check) { c.Serials = "#1" }, oil(), []string{"form serials"}},
		"stray spaces between serials": {func(c *walkaround.Check) { c.Serials = "1  2" }, oil(), []string{"form serials"}},
		"no unit of measurement":       {func(c *walkaround.Check) { c.In = "" }, oil(), []string{"required in"}},
		"a unit of two lines":          {func(c *walkaround.Check) { c.In = "q\tt" }, oil(), []string{"form in"}},
		"limits upside down":           {func(c *walkaround.Check) { c.AtLeast = new(9.0) }, oil(), []string{"at-least at_most"}},
		"a limit that is no number":    {func(c *walkaround.Check) { c.AtMost = new(math.NaN()) }, oil(), []string{"range at_most"}},
		"an endless limit":             {func(c *walkaround.Check) { c.AtMost = new(math.Inf(1)) }, oil(), []string{"range at_most"}},
		"above no limit":               {func(c *walkaround.Check) { c.AtMost = nil }, oil(), []string{"limit above"}},
		"a strange class below":        {func(c *walkaround.Check) { c.Below = "bad" }, oil(), []string{"enum below"}},
		"limits of a look": {
			func(c *walkaround.Check) { c.AtLeast, c.In = new(1.0), "in" }, look("x", walkaround.Nose), []string{"way at_least", "way in"},
		},
		"fuel of a look":     {func(c *walkaround.Check) { c.Fuel = "100LL" }, look("x", walkaround.Nose), []string{"way fuel"}},
		"no fuel":            {func(c *walkaround.Check) { c.Fuel = "" }, sump(), []string{"required fuel"}},
		"an unknown grade":   {func(c *walkaround.Check) { c.Fuel = "UL 94" }, sump(), []string{"required color"}},
		"a strange grade":    {func(c *walkaround.Check) { c.Fuel, c.Color = "?", "red" }, sump(), []string{"form fuel"}},
		"red 100LL":          {func(c *walkaround.Check) { c.Color = "red" }, sump(), []string{"grade color"}},
		"a color of capital": {func(c *walkaround.Check) { c.Fuel, c.Color = "UL 94", "Red" }, sump(), []string{"form color"}},
		"no meter":           {func(c *walkaround.Check) { c.Way, c.Meter = walkaround.Compare, "" }, look("x", walkaround.Cabin), []string{"required meter"}},
		"a meter that there is not": {
			func(c *walkaround.Check) { c.Way, c.Meter = walkaround.Compare, "odometer" }, look("x", walkaround.Cabin), []string{"enum meter"},
		},
		"no paper":        {func(c *walkaround.Check) { c.Way = walkaround.Paper }, look("x", walkaround.Cabin), []string{"required paper"}},
		"a paper in caps": {func(c *walkaround.Check) { c.Way, c.Paper = walkaround.Paper, "POH" }, look("x", walkaround.Cabin), []string{"form paper"}},
		"a look used up":  {func(c *walkaround.Check) { c.UsedUp = true }, look("x", walkaround.Cabin), []string{"way used_up"}},
		"a look in date":  {func(c *walkaround.Check) { c.Dated = true }, look("x", walkaround.Cabin), []string{"way dated"}},
	} {
		check := c.of
		c.spoil(&check)
		var want []string
		for _, w := range c.want {
			rule, field, _ := strings.Cut(w, " ")
			want = append(want, rule+" checks[0]."+field)
		}
		list := walkaround.Checklist{Checks: []walkaround.Check{check}}
		wantRules(t, what, list.Faults(known).Err(), want...)
	}
}

func TestMuseumOfChecklists(t *testing.T) {
	t.Parallel()
	for what, c := range map[string]struct {
		checks []walkaround.Check
		want   []string
	}{
		"nothing":           {nil, []string{"required checks"}},
		"the same twice":    {[]walkaround.Check{look("a", walkaround.Nose), look("a", walkaround.Nose)}, []string{"unique checks[1].id"}},
		"back to a station": {[]walkaround.Check{look("a", walkaround.Nose), look("b", walkaround.Cabin), look("c", walkaround.Nose)}, []string{"walking-order checks[2].station"}},
		"too many":          {make([]walkaround.Check, walkaround.MaxChecks+1), []string{"length checks"}},
		"two at once": {
			[]walkaround.Check{{ID: "a", Station: "x", Way: walkaround.Look, Words: "w", Means: walkaround.Condition}, look("A", walkaround.Nose)},
			[]string{"enum checks[0].station", "form checks[1].id"},
		},
	} {
		list := walkaround.Checklist{Checks: c.checks}
		wantRules(t, what, list.Faults(known).Err(), c.want...)
	}
}

func TestDealtChecklistsAreGood(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		list := checklists().Draw(t, "list")
		if err := list.Faults(known).Err(); err != nil {
			t.Fatal(err)
		}
	})
}

func TestEveryWordHasAName(t *testing.T) {
	t.Parallel()
	for _, s := range walkaround.Stations() {
		if s.Name() == "" {
			t.Errorf("the station %s has no name", s)
		}
	}
	for _, m := range walkaround.Meters() {
		if m.Name() == "" {
			t.Errorf("the meter %s has no name", m)
		}
	}
	for _, c := range walkaround.Classes() {
		if kind := c.SquawkKind(); (kind == "inoperative") != (c == walkaround.Inoperative) || kind != "inoperative" && kind != "condition" {
			t.Errorf("a finding of the class %s is filed as %q", c, kind)
		}
	}
}
