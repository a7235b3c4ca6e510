package walkaround

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"tiedown/internal/casefile"
)

// Check is one thing to check. Fields that its way does not have are empty.
type Check struct {
	ID       string  `json:"id"` // unique in its checklist, such as "oil-level"
	Station  Station `json:"station"`
	Way      Way     `json:"way"`
	Words    string  `json:"words"`              // what to do, in words
	Required bool    `json:"required,omitempty"` // a walkaround is not complete while it is open, unless somebody says why

	When     []Circumstance `json:"when,omitempty"`     // applies to a flight that meets one of these; empty: to every flight
	Equipped string         `json:"equipped,omitempty"` // item of the catalog: applies to an airframe that has it installed
	Serials  string         `json:"serials,omitempty"`  // serial numbers that it applies to: see Serials; empty: all

	Means Class  `json:"means"`          // what a finding is
	Item  string `json:"item,omitempty"` // item of the catalog that a finding is about
	Unit  string `json:"unit,omitempty"` // installed unit that a finding is about; applies to an airframe that has it installed

	In      string   `json:"in,omitempty"`       // unit of measurement, such as "qt"
	AtLeast *float64 `json:"at_least,omitempty"` // limits, in that unit
	AtMost  *float64 `json:"at_most,omitempty"`
	Below   Class    `json:"below,omitempty"` // what a value below the limit means; empty: as Means
	Above   Class    `json:"above,omitempty"`
	UsedUp  bool     `json:"used_up,omitempty"` // flying uses it up, as fuel: what goes is no leak, and no trend is looked for

	Fuel  string `json:"fuel,omitempty"`  // grade of the fuel that is sampled
	Color string `json:"color,omitempty"` // of that fuel, for a grade whose color is not known here
	Meter Meter  `json:"meter,omitempty"` // that is compared: hobbs, tach, or the time in service as the log in the aircraft has it
	Paper string `json:"paper,omitempty"` // what is looked for, such as "registration"
	Dated bool   `json:"dated,omitempty"` // the paper runs out: the day is asked for
}

// Checklist is what is checked, in walking order.
type Checklist struct {
	Checks []Check `json:"checks"`
}

// Find returns the check of a name.
func (l *Checklist) Find(id string) (*Check, bool) {
	for i := range l.Checks {
		if l.Checks[i].ID == id {
			return &l.Checks[i], true
		}
	}
	return nil, false
}

const (
	// MaxChecks bounds a checklist.
	MaxChecks = 400
	// maxWords bounds what a check says, in bytes.
	maxWords = 400
	// maxValue bounds a measurement, in whatever unit.
	maxValue = 1e6
)

var (
	keyForm  = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	gradeRow = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9 -]{0,22}[A-Za-z0-9]$`)
)

// Catalog reports whether an item is in the catalog of equipment.
type Catalog func(item string) bool

// Faults tells everything that is wrong with a checklist, each check by its place: "checks[3].at_least".
func (l *Checklist) Faults(known Catalog) casefile.Faults {
	var bad casefile.Faults
	if len(l.Checks) == 0 {
		bad.Add("checks", "required", "nothing is checked", "give at least one check")
	}
	if len(l.Checks) > MaxChecks {
		bad.Add("checks", "length", fmt.Sprintf("more than %d checks", MaxChecks), "send one aircraft's checklist")
		return bad
	}
	first := map[string]int{}
	for i := range l.Checks {
		c := &l.Checks[i]
		at := fmt.Sprintf("checks[%d].", i)
		if was, twice := first[c.ID]; twice {
			bad.Add(at+"id", "unique", fmt.Sprintf("%q stands twice, first as checks[%d]", c.ID, was), "give every check a name of its own")
		} else {
			first[c.ID] = i
		}
		c.faults(at, known, &bad)
	}
	l.stationsTogether(&bad)
	return bad
}

// stationsTogether faults a check that goes back to a station which has been left.
func (l *Checklist) stationsTogether(bad *casefile.Faults) {
	left := map[Station]bool{}
	for i := 1; i < len(l.Checks); i++ {
		was, is := l.Checks[i-1].Station, l.Checks[i].Station
		if is == was {
			continue
		}
		left[was] = true
		if left[is] {
			bad.Add(fmt.Sprintf("checks[%d].station", i), "walking-order", fmt.Sprintf("it goes back to the station %s", is),
				"put the checks of a station next to each other")
		}
	}
}

func (c *Check) faults(at string, known Catalog, bad *casefile.Faults) {
	if !keyForm.MatchString(c.ID) || len(c.ID) > 60 {
		bad.Add(at+"id", "form", fmt.Sprintf("%q is no name of a check", c.ID), "use at most 60 small letters, digits and single hyphens, such as oil-level")
	}
	if s := c.Words; s == "" || s != strings.TrimSpace(s) || len(s) > maxWords || !oneLine(s) {
		bad.Add(at+"words", "one-line", "what to do must be said on one line of at most 400 bytes, without spaces around it", "say in a sentence what is checked")
	}
	oneOf(at+"station", c.Station, Stations(), bad)
	oneOf(at+"way", c.Way, Ways(), bad)
	oneOf(at+"means", c.Means, Classes(), bad)
	for _, circumstance := range c.When {
		oneOf(at+"when", circumstance, CircumstanceNames(), bad)
	}
	if i := repeated(c.When); i >= 0 {
		bad.Add(at+"when", "unique", fmt.Sprintf("%q stands twice", c.When[i]), "name it once")
	}
	for _, item := range []struct{ field, value string }{{"item", c.Item}, {"equipped", c.Equipped}} {
		if item.value != "" && !known(item.value) {
			bad.Add(at+item.field, "known-item", fmt.Sprintf("%q is not in the item catalog", item.value), "take a key from GET /v1/items")
		}
	}
	if len(c.Unit) > 60 || c.Unit != strings.TrimSpace(c.Unit) || !oneLine(c.Unit) {
		bad.Add(at+"unit", "form", "it is no name of an installed unit", "name a unit as the aircraft's configuration does")
	}
	if _, err := parseSerials(c.Serials); err != nil {
		bad.Add(at+"serials", "form", err.Error(), "write single numbers, and ranges as 1001..1999, with spaces between them")
	}
	c.wayFaults(at, bad)
}

// wayFaults tells what the way of a check asks for and what it has no room for.
func (c *Check) wayFaults(at string, bad *casefile.Faults) {
	only := func(field string, given bool, way Way) {
		if given && c.Way != way {
			bad.Add(at+field, "way", fmt.Sprintf("a check of the way %s has no %s", c.Way, field), "leave it out, or make it a check of the way "+string(way))
		}
	}
	need := func(field string, given bool, way Way, remedy string) {
		if !given && c.Way == way {
			bad.Add(at+field, "required", fmt.Sprintf("a check of the way %s needs its %s", way, field), remedy)
		}
	}
	only("in", c.In != "", Measure)
	only("at_least", c.AtLeast != nil, Measure)
	only("at_most", c.AtMost != nil, Measure)
	only("below", c.Below != "", Measure)
	only("above", c.Above != "", Measure)
	only("used_up", c.UsedUp, Measure)
	only("fuel", c.Fuel != "", Sample)
	only("color", c.Color != "", Sample)
	only("meter", c.Meter != "", Compare)
	only("paper", c.Paper != "", Paper)
	only("dated", c.Dated, Paper)
	need("in", c.In != "", Measure, "say in which unit, such as qt, in or psi")
	need("fuel", c.Fuel != "", Sample, "name the grade, such as 100LL")
	need("meter", c.Meter != "", Compare, "name hobbs, tach or time-in-service")
	need("paper", c.Paper != "", Paper, "name the paper, such as registration")
	c.limitFaults(at, bad)
	if c.Fuel != "" && !gradeRow.MatchString(c.Fuel) {
		bad.Add(at+"fuel", "form", fmt.Sprintf("%q is no grade of fuel", c.Fuel), "write the grade as on the filler cap, such as 100LL")
	}
	if c.Fuel != "" && c.Color == "" && fuelColors[c.Fuel] == "" {
		bad.Add(at+"color", "required", fmt.Sprintf("what color fuel of the grade %s has is not known here", c.Fuel), "give the color")
	}
	if own := fuelColors[c.Fuel]; own != "" && c.Color != "" && !strings.EqualFold(own, c.Color) {
		bad.Add(at+"color", "grade", fmt.Sprintf("fuel of the grade %s is %s", c.Fuel, own), "leave the color out, or correct the grade")
	}
	if c.Color != "" && !keyForm.MatchString(c.Color) {
		bad.Add(at+"color", "form", fmt.Sprintf("%q is no color", c.Color), "write it in small letters, such as green")
	}
	if c.Meter != "" {
		oneOf(at+"meter", c.Meter, Meters(), bad)
	}
	if c.Paper != "" && (!keyForm.MatchString(c.Paper) || len(c.Paper) > 60) {
		bad.Add(at+"paper", "form", fmt.Sprintf("%q is no name of a paper", c.Paper), "use small letters and hyphens, such as weight-and-balance")
	}
}

func (c *Check) limitFaults(at string, bad *casefile.Faults) {
	if len(c.In) > 24 || c.In != strings.TrimSpace(c.In) || !oneLine(c.In) {
		bad.Add(at+"in", "form", fmt.Sprintf("%q is no unit of measurement", c.In), "write it short, such as qt, in or psi")
	}
	for _, limit := range []struct {
		field string
		value *float64
	}{{"at_least", c.AtLeast}, {"at_most", c.AtMost}} {
		if limit.value != nil && !(math.Abs(*limit.value) <= maxValue) {
			bad.Add(at+limit.field, "range", "the limit is out of range", "give a number between -1,000,000 and 1,000,000")
		}
	}
	if c.AtLeast != nil && c.AtMost != nil && *c.AtLeast > *c.AtMost {
		bad.Add(at+"at_most", "at-least", "the upper limit lies below the lower", "exchange the limits")
	}
	for _, class := range []struct {
		field string
		value Class
		limit *float64
	}{{"below", c.Below, c.AtLeast}, {"above", c.Above, c.AtMost}} {
		if class.value == "" {
			continue
		}
		oneOf(at+class.field, class.value, Classes(), bad)
		if class.limit == nil && c.Way == Measure {
			bad.Add(at+class.field, "limit", "there is no limit for a value to lie "+class.field, "give the limit, or leave this out")
		}
	}
}

// color is that of good fuel.
func (c *Check) color() string {
	if c.Color != "" {
		return c.Color
	}
	return fuelColors[c.Fuel]
}

func oneOf[T ~string](field string, value T, words []T, bad *casefile.Faults) {
	if slices.Contains(words, value) {
		return
	}
	rule, says := "enum", fmt.Sprintf("%q is not among the words for it", string(value))
	if value == "" {
		rule, says = "required", "it is missing"
	}
	names := make([]string, len(words))
	for i, word := range words {
		names[i] = string(word)
	}
	bad.Add(field, rule, says, "use one of "+strings.Join(names, ", "))
}

// repeated is the place of a value that stood before, or -1.
func repeated[T comparable](list []T) int {
	for i := range list {
		if slices.Contains(list[:i], list[i]) {
			return i
		}
	}
	return -1
}

// oneLine reports whether a text has no control characters.
func oneLine(s string) bool {
	return !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == 0x7f })
}
