package walkaround

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/trend"
)

// Measurement is a value that somebody measured on a walkaround. One that another result replaced is a measurement all the
// same: before the oil was filled up. One that was mistyped does no harm, as trends have it.
type Measurement struct {
	Walkaround techlog.ID
	Checklist  [32]byte // digest of the checklist that was walked by
	Result     techlog.ID
	Check      string
	Value      float64
	At         time.Time
}

// Series is the measurements of one check over time.
type Series struct {
	Check   Check // as the newest checklist that was walked by has it
	Points  []Measurement
	LeftOut int // measured in another unit, or slips of the pen

	ByHours bool      // over hours of time in service; else over days
	Because string    // why not over hours
	Hours   []float64 // time in service at each point, where the book allows
	Runs    trend.Runs
	Finding trend.Finding
	now     float64
}

const (
	// MaxSeries bounds the measurements of one series: the newest.
	MaxSeries = 400
	// trendConfidence is that of a slope's interval.
	trendConfidence = 0.95
	// How far ahead a limit is looked for: our choice, about what a club's aircraft flies until somebody looks after it.
	hoursAhead, daysAhead = 10, 14
	hoursADay             = 24
)

// TrendStates lists the words for what measurements come to.
func TrendStates() []string { return append(trend.States(), notLookedFor) }

// notLookedFor is what flying uses up: the states of trend are those of everything else.
const notLookedFor = "not-looked-for"

// Measured parts measurements by their checks, in the order of the names. lists are the checklists that were walked by.
// book is the time in service on record, in the order of its entries.
func Measured(all []Measurement, lists map[[32]byte]Checklist, book []BookEntry, now time.Time) []Series {
	all = slices.SortedStableFunc(slices.Values(all), func(a, b Measurement) int { return a.At.Compare(b.At) })
	byCheck := map[string]*Series{}
	for i := len(all) - 1; i >= 0; i-- { // newest first: its checklist has the say
		m := all[i]
		list := lists[m.Checklist]
		check, ok := list.Find(m.Check)
		if !ok || check.Way != Measure {
			continue
		}
		s := byCheck[m.Check]
		if s == nil {
			s = &Series{Check: *check}
			byCheck[m.Check] = s
		}
		switch {
		case check.In != s.Check.In:
			s.LeftOut++
		case len(s.Points) < MaxSeries:
			s.Points = append(s.Points, m)
		}
	}
	var series []Series
	for _, s := range byCheck {
		slices.Reverse(s.Points)
		s.look(book, now)
		series = append(series, *s)
	}
	slices.SortFunc(series, func(a, b Series) int { return cmp.Compare(a.Check.ID, b.Check.ID) })
	return series
}

// look works out what the measurements come to.
func (s *Series) look(book []BookEntry, now time.Time) {
	s.Hours, s.Because = hoursOf(s.Points, book)
	s.ByHours = s.Because == ""
	points := make([]trend.Point, len(s.Points))
	ahead := float64(daysAhead)
	s.now = now.Sub(s.Points[0].At).Hours() / hoursADay
	for i, m := range s.Points {
		points[i] = trend.Point{At: m.At.Sub(s.Points[0].At).Hours() / hoursADay, Value: m.Value}
		if s.ByHours {
			points[i].At = s.Hours[i]
		}
	}
	if s.ByHours {
		ahead, s.now = hoursAhead, book[len(book)-1].Hours
	}
	s.Runs = trend.Part(points)
	s.LeftOut += s.Runs.Out()
	if s.Check.UsedUp {
		return
	}
	w := trend.Watch{Low: s.Check.AtLeast, High: s.Check.AtMost, Now: s.now, Ahead: ahead, Confidence: trendConfidence}
	s.Finding = w.LookAt(s.Runs)
}

// hoursOf is the time in service at each measurement, or why the book does not say it of all of them: between two entries
// it is taken to go on evenly, and after the last one to stand.
func hoursOf(points []Measurement, book []BookEntry) ([]float64, string) {
	if len(book) == 0 {
		return nil, "no time in service is on record"
	}
	if points[0].At.Before(book[0].At) {
		return nil, "the book of time in service begins after the first measurement"
	}
	if slices.ContainsFunc(pairs(book), func(p [2]BookEntry) bool { return p[1].Hours < p[0].Hours }) {
		return nil, "the book of time in service goes back"
	}
	hours := make([]float64, len(points))
	for i, m := range points {
		next, _ := slices.BinarySearchFunc(book, m.At, func(e BookEntry, at time.Time) int {
			if e.At.After(at) {
				return 1
			}
			return -1
		})
		from := book[next-1]
		hours[i] = from.Hours
		if next < len(book) {
			share := float64(m.At.Sub(from.At)) / float64(book[next].At.Sub(from.At))
			hours[i] += share * (book[next].Hours - from.Hours)
		}
	}
	if hours[0] == hours[len(hours)-1] {
		return nil, "no time in service is on record between the first measurement and the last"
	}
	return hours, ""
}

func pairs(book []BookEntry) [][2]BookEntry {
	var all [][2]BookEntry
	for i := 1; i < len(book); i++ {
		all = append(all, [2]BookEntry{book[i-1], book[i]})
	}
	return all
}

// Flagged reports whether a limit is reached before long: a slow leak, most of the time.
func (s *Series) Flagged() bool { return !s.Check.UsedUp && s.Finding.State == trend.Reaches }

// Written is the series as it is answered.
func (s *Series) Written() casefile.Trend {
	last := s.Points[len(s.Points)-1]
	c := &s.Check
	w := casefile.Trend{
		Check: c.ID, Station: string(c.Station), Item: c.Item, Unit: c.Unit, Words: c.Words, In: c.In, AtLeast: c.AtLeast, AtMost: c.AtMost,
		By: s.by(), Because: s.Because, Measurements: len(s.Points), Compared: s.Runs.Compared(), LeftOut: s.LeftOut,
		LastAt: last.At, LastValue: last.Value, State: s.Finding.State.String(), Flagged: s.Flagged(), Says: s.Says(), Added: s.added(),
	}
	if c.UsedUp {
		w.State = notLookedFor
		return w
	}
	f := &s.Finding
	if f.State != trend.TooFew {
		w.Slope = &casefile.Slope{
			PerUnit: rounded(f.Slope.PerUnit), Low: rounded(f.Slope.Low), High: rounded(f.Slope.High), Confidence: trendConfidence,
			Level: rounded(f.Slope.Level),
		}
	}
	if f.Heads {
		w.Reaches = &casefile.Reaching{Limit: f.Limit, Soonest: s.in(f.Soonest), Expected: s.in(f.At), Latest: s.in(f.Latest)}
	}
	return w
}

// WrittenPoints are the measurements as they are answered, oldest first.
func (s *Series) WrittenPoints() []casefile.TrendPoint {
	points := make([]casefile.TrendPoint, len(s.Points))
	for i, m := range s.Points {
		points[i] = casefile.TrendPoint{
			At: m.At, Value: m.Value, Run: s.Runs.Of[i] + 1, Walkaround: m.Walkaround.String(), Result: m.Result.String(),
		}
		if s.ByHours {
			points[i].Hours = new(rounded(s.Hours[i]))
		}
	}
	return points
}

func (s *Series) by() string {
	if s.ByHours {
		return "hours"
	}
	return "days"
}

// in is how long it is from now.
func (s *Series) in(at float64) float64 { return math.Round(max(at-s.now, 0)*10) / 10 }

// added is what was filled up, as far as it shows: how far the level rose at once. Nothing says so but the measurements
// before and after.
func (s *Series) added() *casefile.ToppingUp {
	var t casefile.ToppingUp
	for _, step := range s.Runs.Steps() {
		if step > 0 {
			t.Times++
			t.Amount += step
		}
	}
	if t.Times == 0 {
		return nil
	}
	t.Amount = rounded(t.Amount)
	first, last := s.Points[0], s.Points[len(s.Points)-1]
	over := last.At.Sub(first.At).Hours() / hoursADay
	if s.ByHours {
		over = s.Hours[len(s.Hours)-1] - s.Hours[0]
	}
	if over > 0 {
		t.PerUnit = new(rounded(t.Amount / over))
	}
	return &t
}

// Says is what the measurements come to, in words.
func (s *Series) Says() string {
	f := &s.Finding
	per, spell := "a day", "days"
	if s.ByHours {
		per, spell = "an hour in service", "h"
	}
	switch {
	case s.Check.UsedUp:
		return "Flying uses it up: no trend is looked for."
	case f.State == trend.TooFew:
		return fmt.Sprintf("Too few to say: %d measurements can be compared, and nothing is said of fewer than %d.", s.Runs.Compared(), trend.LeastPoints)
	}
	unit := func(v float64) string { return quantity(rounded(v), s.Check.In) }
	between := fmt.Sprintf("between %s and %s with %.0f %% confidence", shortest(f.Slope.Low), unit(f.Slope.High), trendConfidence*100)
	if f.State == trend.Steady {
		return fmt.Sprintf("No direction is beyond doubt: %s %s, %s.", unit(f.Slope.PerUnit), per, between)
	}
	moves := "rises"
	if f.Slope.PerUnit < 0 {
		moves = "falls"
	}
	says := fmt.Sprintf("It %s: %s %s, %s.", moves, unit(f.Slope.PerUnit), per, between)
	switch {
	case !f.Heads:
		return says + " There is no limit that way."
	case s.in(f.At) == 0:
		return says + fmt.Sprintf(" Its line has reached the limit of %s.", unit(f.Limit))
	}
	return says + fmt.Sprintf(" It reaches the limit of %s in about %s %s: in %s %s at the earliest, in %s %s at the latest.",
		unit(f.Limit), shortest(s.in(f.At)), spell, shortest(s.in(f.Soonest)), spell, shortest(s.in(f.Latest)), spell)
}

// rounded is a number to four places: measurements have no more.
func rounded(v float64) float64 { return math.Round(v*1e4)/1e4 + 0 }

func shortest(v float64) string { return strconv.FormatFloat(rounded(v), 'f', -1, 64) }
