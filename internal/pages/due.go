package pages

import (
	"cmp"
	"html/template"
	"slices"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/chart"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// dueView is what comes due on one aircraft.
type dueView struct {
	about
	Counted string   // with which reading
	Later   []string // meters that were read since
	Flights int      // planned ones that were gone through
	Overdue []dueRow
	Coming  []dueRow // the most pressing first
	Unknown []dueRow
	Ended   []dueRow
	Caution string
}

// dueRow is one thing that comes due.
type dueRow struct {
	casefile.DueItem
	Of       techlog.ID // aircraft
	Mark     string     // its registration
	Picture  template.HTML
	LeftSays string // "41 days of 365 and 12.4 h of 100 h left"
	Serves   string // until when, in words
	Stopped  []stoppedFlight
	By       string // the day by which it counts: its last one, or that of the flight on which it runs out; empty: none is known
	share    float64
}

// stoppedFlight is a planned flight that an item stops, or may.
type stoppedFlight struct {
	casefile.DueHold
	Departs string // in the zone of its base; empty: it is not known any more
}

// What the states of an item are called, as the list of what comes due has them.
const (
	stateDue    = "due" // it has fallen due
	stateServes = "serves"
	stateDone   = "done" // nothing more comes due
)

func (p *pages) showDue(v *visit) error {
	on, err := p.aboutNamed(v)
	if err != nil {
		return err
	}
	list, err := p.Service.Due(v, v.who, on.Aircraft.ID)
	if err != nil {
		return err
	}
	view := dueView{about: on, Flights: list.Flights, Caution: list.Caution, Counted: countedWith(&list, on.Zone)}
	for _, l := range list.Reading.Later {
		view.Later = append(view.Later, meterName(l.Meter)+", "+decimal(l.Hours, 2)+" h, "+moment(l.At.In(on.Zone)))
	}
	rows := dueRows(&list, on.Aircraft.ID)
	if err := p.nameStopped(v, on.Aircraft.ID, rows); err != nil {
		return err
	}
	view.sort(rows)
	return p.showIn(v, ok, "due", frame{Title: "What comes due on " + on.Aircraft.Registration, Here: "fleet", Page: &view, Live: announced, About: on.Aircraft.ID.String()})
}

// sort parts rows by how they stand, the most pressing first.
func (d *dueView) sort(rows []dueRow) {
	for _, r := range rows {
		switch r.State {
		case stateDue:
			d.Overdue = append(d.Overdue, r)
		case stateServes:
			d.Coming = append(d.Coming, r)
		case stateDone:
			d.Ended = append(d.Ended, r)
		default:
			d.Unknown = append(d.Unknown, r)
		}
	}
	slices.SortStableFunc(d.Overdue, pressing)
	slices.SortStableFunc(d.Coming, pressing)
}

// nameStopped says when the flights depart that items stop.
func (p *pages) nameStopped(v *visit, aircraft techlog.ID, rows []dueRow) error {
	flights, err := p.Service.Flights(v, v.who, hangar.FlightFilter{Aircraft: aircraft, State: techlog.Planned}, hangar.Page{Limit: weekFlights})
	departs := map[string]string{}
	for i := range flights {
		departs[flights[i].ID.String()] = flights[i].Departs.In(zoneNamed(flights[i].Zone)).Format("Mon 2 Jan, 15:04 MST")
	}
	for i := range rows {
		for _, h := range rows[i].Holds {
			rows[i].Stopped = append(rows[i].Stopped, stoppedFlight{h, departs[h.Flight]})
		}
	}
	return err
}

// pressing orders by the day that counts, then by how much is left. What has no day comes after what has one.
func pressing(a, b dueRow) int {
	day := func(r dueRow) string { return cmp.Or(r.By, "9999-12-31") }
	return cmp.Or(cmp.Compare(day(a), day(b)), cmp.Compare(a.share, b.share), cmp.Compare(a.Mark, b.Mark), cmp.Compare(a.What, b.What))
}

func dueRows(list *casefile.DueList, aircraft techlog.ID) []dueRow {
	rows := make([]dueRow, len(list.Items))
	for i := range list.Items {
		item := &list.Items[i]
		row := dueRow{DueItem: *item, Of: aircraft, Mark: list.Registration, By: item.Due.Through}
		if out := item.RunsOut; out != nil && (row.By == "" || out.On < row.By) {
			row.By = out.On
		}
		left := leftOf(item, list.On)
		if item.State == stateDue { // what is used up to the last hour is over, too
			left.share, left.bounded = -1, true
		}
		row.LeftSays, row.share = left.words(), left.share
		row.Serves = item.Says
		if item.State == stateServes { // what is left stands before it
			row.Serves, _, _ = strings.Cut(item.Says, ": ")
		}
		drawn := chart.Left{
			Words: chart.Words{ID: list.Registration + "-" + item.ID, Title: item.What + ": " + cmp.Or(row.LeftSays, item.Says)}, Share: left.share,
			Unknown: item.State != stateServes && item.State != stateDue,
		}
		if item.State != stateDone && (left.bounded || drawn.Unknown) {
			row.Picture = picture(drawn.Draw())
		}
		rows[i] = row
	}
	return rows
}

// remaining is how much is left of an item, by each thing that limits it.
type remaining struct {
	parts   []string
	share   float64 // the least, of an interval: less than 0 once it is over
	bounded bool    // something limits it of which the interval is known, or which is over
}

func (r *remaining) words() string { return strings.Join(r.parts, " and ") }

// leftOf holds what is left of an item against its interval: the time from now to when it would fall due, were it done now.
func leftOf(item *casefile.DueItem, on string) remaining {
	r := remaining{share: 1}
	add := func(left, whole float64, unit string) {
		said := decimal(max(left, -left), 1) + " " + unit
		switch {
		case left < 0:
			said += " over"
			r.share, r.bounded = min(r.share, -1), true
		case whole > 0:
			said += " of " + decimal(whole, 1) + " left"
			r.share, r.bounded = min(r.share, left/whole), true
		default:
			said += " left"
		}
		r.parts = append(r.parts, said)
	}
	if days := item.Left.Days; days != nil {
		whole, _ := daysFrom(on, item.IfDone.Through)
		add(float64(*days), float64(whole), unitOf(float64(*days), "day"))
	}
	if left := item.Left.Hours; left != nil {
		whole := 0.0
		if again := item.IfDone.Hours; again != nil {
			whole = *again
			if item.Meter != sinceLast && item.Due.Hours != nil { // it counts on from what the meter has now
				whole -= *item.Due.Hours - *left
			}
		}
		add(*left, whole, "h")
	}
	if left := item.Left.Cycles; left != nil {
		whole := 0
		if again := item.IfDone.Cycles; again != nil && item.Due.Cycles != nil {
			whole = *again - (*item.Due.Cycles - *left)
		}
		add(float64(*left), float64(whole), unitOf(float64(*left), "cycle"))
	}
	return r
}

// sinceLast is the meter of an item that counts anew each time it is done.
const sinceLast = "since-last"

func unitOf(n float64, one string) string {
	if n == 1 || n == -1 {
		return one
	}
	return one + "s"
}

// daysFrom counts the days from one date to another; false where one of them is none.
func daysFrom(from, to string) (int, bool) {
	a, err := time.Parse(time.DateOnly, from)
	b, errTo := time.Parse(time.DateOnly, to)
	if err != nil || errTo != nil {
		return 0, false
	}
	return int(b.Sub(a).Hours() / 24), true
}

// countedWith says which reading of the time in service was counted with.
func countedWith(list *casefile.DueList, zone *time.Location) string {
	if list.ReadAt == nil {
		return "Nobody has said how much time in service the aircraft has: what is due by hours is counted from nothing that is known."
	}
	words := "Counted with "
	if list.Hours != nil {
		words += decimal(*list.Hours, 2) + " h of time in service"
	} else {
		words += "no time in service"
	}
	words += ", read " + moment(list.ReadAt.In(zone))
	if list.Reading.Source == "book" {
		words += ", entry " + decimal(float64(list.Reading.Entry), 0) + " of the book, by " + list.Reading.By
	} else {
		words += ", from the aircraft's facts"
	}
	return words + "."
}

// fleetDueView is what comes due across the fleet.
type fleetDueView struct {
	Aircraft int
	Overdue  []dueRow
	Coming   []dueRow
	Beyond   int // items that come later than those listed
	Unknown  []unknownOn
	AsOf     time.Time
	More     string
	Later    bool
}

// unknownOn is an aircraft of which something is not known.
type unknownOn struct {
	Of    techlog.ID
	Mark  string
	Items int
	What  []string // the first few
}

// How much of the fleet the page lists.
const (
	dueListed    = 40
	unknownNamed = 3
)

func (p *pages) showFleetDue(v *visit) error {
	fleet, later, more, err := p.fleetOnPage(v, fleetPage)
	if err != nil {
		return err
	}
	view := fleetDueView{Aircraft: len(fleet), AsOf: p.Now(), Later: later, More: more}
	var all dueView
	for i := range fleet {
		list, err := p.Service.Due(v, v.who, fleet[i].ID)
		if err != nil {
			return err
		}
		if i == 0 {
			view.AsOf = view.AsOf.In(zoneNamed(list.Zone))
		}
		all.sort(dueRows(&list, fleet[i].ID))
		if unknown := all.Unknown; len(unknown) > 0 {
			one := unknownOn{Of: fleet[i].ID, Mark: list.Registration, Items: len(unknown)}
			for _, r := range unknown[:min(len(unknown), unknownNamed)] {
				one.What = append(one.What, r.What)
			}
			view.Unknown, all.Unknown = append(view.Unknown, one), nil
		}
	}
	view.Overdue, view.Coming = all.Overdue, all.Coming
	if view.Beyond = len(view.Coming) - dueListed; view.Beyond > 0 {
		view.Coming = view.Coming[:dueListed]
	}
	return p.showIn(v, ok, "fleet-due", frame{Title: "What comes due", Here: "more", Page: &view, Live: renewed})
}
