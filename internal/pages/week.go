package pages

import (
	"cmp"
	"html/template"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// weekView is a week's flights and blocks, day by day.
type weekView struct {
	From    time.Time // the first day, at its noon, in UTC: a date without a zone
	Days    []weekDay
	Flights int
	Held    int
	Bases   []techlog.Base
	Fleet   []techlog.Aircraft
	Base    string // code of the base that is picked; empty: all
	Craft   string // aircraft that is picked; empty: all
	Before  template.URL
	After   template.URL
	Now     template.URL // this week
	Today   bool         // it is this week
	Folded  bool         // there is too much for one page: one day is shown
	May     bool         // plan flights
	Plan    template.URL
	Picked  bool
}

// weekDay is one date, by the calendar of each base.
type weekDay struct {
	Date    string
	Day     time.Time
	Flights int
	Held    int
	Blocked int // aircraft
	Open    bool
	Link    template.URL
	Parts   []weekPart
	Idle    []string     // registrations of those with nothing to do
	Rest    int          // aircraft that are on another page
	Next    template.URL // of which
}

// weekPart is one base on one day: its light, and its aircraft.
type weekPart struct {
	ID    string
	Base  techlog.Base
	Zone  string // as it is called on that day
	Sun   string // in words
	Lit   []weekSpan
	Hours []weekTick
	Now   string // share of the day that has passed; empty: it is another day
	Rows  []weekRow
}

// weekSpan is a stretch of a day, in shares of it.
type weekSpan struct{ X, W, Class string }

// weekTick is an hour of the clock.
type weekTick struct{ X, Words string }

// weekRow is one aircraft on one day.
type weekRow struct {
	Aircraft techlog.Aircraft
	Entries  []weekEntry
}

// weekEntry is a flight or a block of an aircraft on one day.
type weekEntry struct {
	Span   weekSpan
	Times  string
	Flight *weekFlight
	Block  *techlog.Block
}

// How much of a week one page shows: all of it, or one day, up to so many flights and blocks.
const (
	daysShown = 7
	wholeTop  = 70
	dayTop    = 150
)

// dateAt is the date that an address names, at noon UTC; today at a base where it names none.
func dateAt(said string, now time.Time) time.Time {
	if day, err := time.Parse(time.DateOnly, said); err == nil && day.Year() > 1970 && day.Year() < 2200 {
		return day.Add(12 * time.Hour)
	}
	return time.Date(now.Year(), now.Month(), now.Day(), 12, 0, 0, 0, time.UTC)
}

func (p *pages) showWeek(v *visit) error {
	q := v.URL.Query()
	view := weekView{Base: q.Get("base"), Craft: q.Get("aircraft"), May: v.who.May(techlog.PlanFlight)}
	bases, err := p.bases(v)
	if err != nil {
		return err
	}
	now := p.Now()
	here := now.UTC()
	if len(bases) > 0 {
		here = now.In(zoneOf(bases[0]))
	}
	if i := slices.IndexFunc(bases, func(b techlog.Base) bool { return b.Code == view.Base }); i >= 0 {
		here = now.In(zoneOf(bases[i]))
	}
	view.From = dateAt(q.Get("from"), here)
	today := dateAt("", here)
	view.Today = view.From.Equal(today)
	// Dates begin up to 14 h before noon UTC and end up to 36 h after it, whatever the zone.
	all, err := p.Service.Schedule(v, v.who, view.From.Add(-26*time.Hour), view.From.AddDate(0, 0, daysShown).Add(14*time.Hour))
	if err != nil {
		return err
	}
	view.Bases = basesOf(&all)
	view.Picked = view.Base != "" || view.Craft != ""
	view.Plan = link("/flights/new", url.Values{"aircraft": {view.Craft}})
	for _, a := range all.Aircraft {
		view.Fleet = append(view.Fleet, a.Aircraft)
	}
	to := func(from time.Time, more ...string) template.URL {
		said := url.Values{"base": {view.Base}, "aircraft": {view.Craft}, "from": {from.Format(time.DateOnly)}}
		for i := 0; i+1 < len(more); i += 2 {
			said.Set(more[i], more[i+1])
		}
		return link("/week", said)
	}
	view.Before, view.After, view.Now = to(view.From.AddDate(0, 0, -daysShown)), to(view.From.AddDate(0, 0, daysShown)), to(today)
	entries := 0
	for n := range daysShown {
		d := p.weekDay(&view, &all, view.From.AddDate(0, 0, n), now)
		d.Link = to(view.From, "day", d.Date) + template.URL("#d-"+d.Date) //nolint:gosec // it is a date
		for _, part := range d.Parts {
			for _, row := range part.Rows {
				entries += len(row.Entries)
			}
		}
		view.Days = append(view.Days, d)
	}
	view.count(&all)
	view.fold(entries, q.Get("day"), q.Get("after"), func(day, after string) template.URL { return to(view.From, "day", day, "after", after) })
	return p.showIn(v, ok, "week", frame{Title: "Week", Here: "week", Page: &view, Live: renewed})
}

// count counts the flights of the week, each once.
func (w *weekView) count(all *hangar.Schedule) {
	seen := map[techlog.ID]bool{}
	for _, d := range w.Days {
		for _, part := range d.Parts {
			for _, row := range part.Rows {
				for _, e := range row.Entries {
					if e.Flight == nil || seen[e.Flight.ID] {
						continue
					}
					seen[e.Flight.ID] = true
					w.Flights++
					if e.Flight.Hold.Holds() {
						w.Held++
					}
				}
			}
		}
	}
}

// fold shows the whole week, or where that is too much one day of it, and of that day no more than a page bears.
func (w *weekView) fold(entries int, day, after string, to func(day, after string) template.URL) {
	w.Folded = entries > wholeTop
	shown := slices.IndexFunc(w.Days, func(d weekDay) bool { return d.Date == day })
	for i := range w.Days {
		d := &w.Days[i]
		if d.Open = !w.Folded || i == max(shown, 0); !d.Open {
			d.Parts = nil
			continue
		}
		d.cut(after, func(last string) template.URL { return to(d.Date, last) })
	}
}

// cut leaves the rows after that of an aircraft, up to as many entries as a page bears.
func (d *weekDay) cut(after string, to func(last string) template.URL) {
	skipping, left, last := after != "", dayTop, ""
	skipping = skipping && slices.ContainsFunc(d.Parts, func(p weekPart) bool {
		return slices.ContainsFunc(p.Rows, func(r weekRow) bool { return r.Aircraft.ID.String() == after })
	})
	for i := range d.Parts {
		part := &d.Parts[i]
		var rows []weekRow
		for _, r := range part.Rows {
			switch {
			case skipping:
				skipping = r.Aircraft.ID.String() != after
			case left < len(r.Entries) && last != "":
				left = 0
				d.Rest++
			default:
				left -= len(r.Entries)
				last = r.Aircraft.ID.String()
				rows = append(rows, r)
			}
		}
		part.Rows = rows
	}
	d.Parts = slices.DeleteFunc(d.Parts, func(p weekPart) bool { return len(p.Rows) == 0 })
	if d.Rest > 0 {
		d.Next = to(last)
	}
}

// weekDay gathers a date, base by base.
func (p *pages) weekDay(view *weekView, all *hangar.Schedule, date, now time.Time) weekDay {
	d := weekDay{Date: date.Format(time.DateOnly), Day: date}
	for n, base := range view.Bases {
		if view.Base != "" && base.Code != view.Base {
			continue
		}
		zone := zoneOf(base)
		from := time.Date(date.Year(), date.Month(), date.Day(), 0, 0, 0, 0, zone)
		until := time.Date(date.Year(), date.Month(), date.Day()+1, 0, 0, 0, 0, zone)
		day := dayOf{from, until}
		part := weekPart{ID: "s" + date.Format("0102") + "-" + strconv.Itoa(n), Base: base, Zone: date.In(zone).Format("MST")}
		for i := range all.Aircraft {
			a := &all.Aircraft[i]
			if a.Aircraft.Base != base.ID || view.Craft != "" && a.Aircraft.ID.String() != view.Craft {
				continue
			}
			row := p.weekRow(a, day)
			if len(row.Entries) == 0 {
				d.Idle = append(d.Idle, a.Aircraft.Registration)
				continue
			}
			d.add(row)
			part.Rows = append(part.Rows, row)
		}
		if len(part.Rows) == 0 {
			continue
		}
		lit := hangar.LitBetween(techlog.Spot{Lat: base.Lat, Lon: base.Lon}, from, until)
		part.Sun = sunWords(lit)
		for _, l := range lit {
			if l.Light != hangar.Day {
				part.Lit = append(part.Lit, day.span(l.From, l.Until, "l-"+string(l.Light)))
			}
		}
		for hour := 0; hour < 24; hour += 3 {
			at := time.Date(date.Year(), date.Month(), date.Day(), hour, 0, 0, 0, zone)
			part.Hours = append(part.Hours, weekTick{share(day.at(at)), at.Format("15")})
		}
		if !now.Before(from) && now.Before(until) {
			part.Now = share(day.at(now))
		}
		d.Parts = append(d.Parts, part)
	}
	slices.Sort(d.Idle)
	return d
}

func (d *weekDay) add(row weekRow) {
	blocked := 0
	for _, e := range row.Entries {
		switch {
		case e.Block != nil:
			blocked = 1
		case e.Flight.Hold.Holds():
			d.Held++
			d.Flights++
		default:
			d.Flights++
		}
	}
	d.Blocked += blocked
}

// weekRow is what an aircraft has to do on a date: its blocks, then its flights, each in the order of time.
func (p *pages) weekRow(a *hangar.Scheduled, day dayOf) weekRow {
	row := weekRow{Aircraft: a.Aircraft}
	for i := range a.Blocks {
		b := &a.Blocks[i]
		until := b.Until
		if until.IsZero() {
			until = day.until
		}
		if b.From.Before(day.until) && until.After(day.from) {
			row.Entries = append(row.Entries, weekEntry{Span: day.span(b.From, until, "b-block"), Block: b, Times: day.times(b.From, b.Until)})
		}
	}
	for i := range a.Flights {
		f := &a.Flights[i]
		if !f.Departs.Before(day.until) || !f.Arrives.After(day.from) {
			continue
		}
		one := p.weekFlight(*f)
		class := "b-go"
		switch {
		case f.Hold.Holds():
			class = "b-held"
		case f.Hold.Verdict == "limited":
			class = "b-limited"
		}
		row.Entries = append(row.Entries, weekEntry{Span: day.span(f.Departs, f.Arrives, class), Flight: &one, Times: day.times(f.Departs, f.Arrives)})
	}
	return row
}

// dayOf is a date at a base, which lasts 23 or 25 hours where clocks are changed.
type dayOf struct{ from, until time.Time }

// at is the share of the day that has passed at an instant.
func (d dayOf) at(t time.Time) float64 {
	return min(max(float64(t.Sub(d.from))/float64(d.until.Sub(d.from)), 0), 1)
}

// thinnest is how much of a day is drawn of something that is shorter.
const thinnest = 0.008

func (d dayOf) span(from, until time.Time, class string) weekSpan {
	x := d.at(from)
	w := max(d.at(until)-x, thinnest)
	return weekSpan{share(min(x, 1-w)), share(w), class}
}

func share(x float64) string { return strconv.FormatFloat(100*x, 'f', 1, 64) + "%" }

// times says from when until when, with the weekday of what is on another date.
func (d dayOf) times(from, until time.Time) string {
	clock := func(t time.Time) string {
		t = t.In(d.from.Location())
		switch {
		case t.IsZero():
			return "further notice"
		case t.Before(d.from) || t.After(d.until):
			return t.Format("Mon 2 Jan 15:04")
		default:
			return t.Format("15:04")
		}
	}
	if until.IsZero() {
		return clock(from) + " until further notice"
	}
	return clock(from) + "–" + clock(until)
}

// sunWords says when light changes over a day.
func sunWords(lit []hangar.LitSpan) string {
	names := map[[2]hangar.DayLight]string{
		{hangar.Night, hangar.Twilight}: "morning civil twilight begins", {hangar.Twilight, hangar.Day}: "sunrise", {hangar.Day, hangar.Twilight}: "sunset",
		{hangar.Twilight, hangar.Night}: "evening civil twilight ends",
	}
	var said []string
	for i := 1; i < len(lit); i++ {
		if name := names[[2]hangar.DayLight{lit[i-1].Light, lit[i].Light}]; name != "" {
			said = append(said, name+" "+lit[i].From.Format("15:04"))
		}
	}
	if len(said) == 0 && len(lit) > 0 {
		return string(lit[0].Light) + " all day"
	}
	return strings.Join(said, ", ")
}

// Why is what holds a flight, in a few citations.
func (e weekEntry) Why() string {
	if e.Flight == nil || !e.Flight.Hold.Holds() {
		return ""
	}
	cites := e.Flight.Cites
	if len(cites) > 1 {
		return cites[0] + " +" + strconv.Itoa(len(cites)-1)
	}
	return cmp.Or(strings.Join(cites, ""), "")
}
