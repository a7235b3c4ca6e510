package pages

import (
	"cmp"
	"slices"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// kinds of operation in the words of the trade, in the order of the board.
var kindWords = map[string]string{"day-vfr": "Day VFR", "night-vfr": "Night VFR", "day-ifr": "IFR by day", "night-ifr": "IFR by night"}

// boardView is the fleet by kind of operation.
type boardView struct {
	Kinds []string
	Rows  []boardRow
	AsOf  time.Time
	More  string // identifier of the last one, if there are more
	Later bool
}

// boardRow is one aircraft.
type boardRow struct {
	Aircraft techlog.Aircraft
	Open     int
	Blocks   []techlog.Block // that keep it from flying now
	Zone     *time.Location
	Cells    []boardCell
}

// boardCell is what one aircraft may do of one kind of operation.
type boardCell struct {
	Kind    string
	Verdict string
	Why     string
	More    int // findings beside it that hold such flights, or limits where none does
}

func (p *pages) showBoard(v *visit) error {
	view := boardView{AsOf: p.Now()}
	for _, kind := range airworthiness.KindNames() {
		view.Kinds = append(view.Kinds, kindWords[kind])
	}
	fleet, later, more, err := p.fleetOnPage(v)
	if err != nil {
		return err
	}
	view.Later, view.More = later, more
	bases, err := p.bases(v)
	if err != nil {
		return err
	}
	for i, a := range fleet {
		if i == 0 {
			view.AsOf = view.AsOf.In(zoneOf(baseIn(bases, a.Base)))
		}
		status, err := p.status(v, a.ID)
		if err != nil {
			return err
		}
		row := boardRow{Aircraft: a, Open: status.OpenSquawks, Zone: zoneOf(baseIn(bases, a.Base))}
		now := p.Now()
		row.Blocks, err = p.Service.Blocks(v, v.who, hangar.BlockFilter{Aircraft: a.ID, EndsAfter: now, BeginsBefore: now.Add(time.Second)}, hangar.Page{Limit: blocksShown})
		if err != nil {
			return err
		}
		for _, k := range status.Kinds {
			why, more := worst(casefile.Answer{Verdict: k.Verdict, Findings: k.Findings})
			if why == "" {
				more = len(k.Limitations)
			}
			row.Cells = append(row.Cells, boardCell{kindWords[k.Kind], k.Verdict, why, more})
		}
		view.Rows = append(view.Rows, row)
	}
	return p.showIn(v, ok, "board", frame{Title: "Board", Here: "board", Page: &view, Live: renewed})
}

func baseIn(bases []techlog.Base, id techlog.ID) techlog.Base {
	if i := slices.IndexFunc(bases, func(b techlog.Base) bool { return b.ID == id }); i >= 0 {
		return bases[i]
	}
	return techlog.Base{ID: id}
}

// weekView is the coming week's flights.
type weekView struct {
	Days    []weekDay
	Held    int
	Flights int
	Beyond  bool // there are more than the page lists
	Zones   []string
}

// weekDay is one day, by the date at the base where each flight begins.
type weekDay struct {
	Day     time.Time
	Flights []weekFlight
}

// weekFlight is one flight, with its times in the zone in which it has its date.
type weekFlight struct {
	techlog.Flight
	Registration string
	Places       []string // along its legs
	Leaves       time.Time
	Lands        time.Time
	Cites        []string
	Dark         string // how much of it is night
}

// How far the page of the week looks ahead, and how many flights it lists.
const (
	week        = 7 * 24 * time.Hour
	weekFlights = 400
)

func (p *pages) showWeek(v *visit) error {
	now := p.Now()
	flights, err := p.Service.Flights(v, v.who, hangar.FlightFilter{
		State: techlog.Planned, EndsAfter: now, DepartBefore: now.Add(week),
	}, hangar.Page{Limit: weekFlights + 1})
	if err != nil {
		return err
	}
	var view weekView
	if len(flights) > weekFlights {
		flights, view.Beyond = flights[:weekFlights], true
	}
	slices.SortStableFunc(flights, func(a, b techlog.Flight) int { return a.Departs.Compare(b.Departs) })
	marks := map[techlog.ID]string{}
	for _, f := range flights {
		if _, known := marks[f.Aircraft]; !known {
			a, err := p.Service.Aircraft(v, v.who, f.Aircraft)
			if err != nil {
				return err
			}
			marks[f.Aircraft] = a.Registration
		}
		one := p.weekFlight(f)
		one.Registration = marks[f.Aircraft]
		view.add(one)
	}
	return p.showIn(v, ok, "week", frame{Title: "Week", Here: "week", Page: &view, Live: renewed})
}

func (p *pages) weekFlight(f techlog.Flight) weekFlight {
	zone := zoneNamed(f.Zone)
	one := weekFlight{Flight: f, Leaves: f.Departs.In(zone), Lands: f.Arrives.In(zone), Dark: dark(f.Light)}
	for i := range f.Legs {
		if i == 0 {
			one.Places = append(one.Places, placeOf(f.Legs[i].From))
		}
		one.Places = append(one.Places, placeOf(f.Legs[i].To))
	}
	if len(one.Places) == 2 && one.Places[0] == one.Places[1] {
		one.Places = one.Places[:1] // a local flight
	}
	if f.Hold.Holds() {
		for _, row := range f.Hold.Rows {
			if c := p.cites[row]; c != "" && !slices.Contains(one.Cites, c) {
				one.Cites = append(one.Cites, c)
			}
		}
	}
	return one
}

// dark says in words how much of a flight is night.
func dark(l casefile.Light) string {
	is := func(b *bool) bool { return b != nil && *b }
	switch {
	case is(l.Night) && !is(l.Day):
		return "night"
	case is(l.Night):
		return "partly night"
	case is(l.SunsetToSunrise):
		return "partly after sunset or before sunrise"
	default:
		return ""
	}
}

func (w *weekView) add(f weekFlight) {
	w.Flights++
	if f.Hold.Holds() {
		w.Held++
	}
	if zone := f.Leaves.Format("MST"); !slices.Contains(w.Zones, zone) {
		w.Zones = append(w.Zones, zone)
	}
	day := f.Leaves.Format(time.DateOnly)
	i := slices.IndexFunc(w.Days, func(d weekDay) bool { return d.Day.Format(time.DateOnly) == day })
	if i < 0 {
		i = len(w.Days)
		w.Days = append(w.Days, weekDay{Day: f.Leaves})
	}
	w.Days[i].Flights = append(w.Days[i].Flights, f)
	slices.SortStableFunc(w.Days, func(a, b weekDay) int {
		return cmp.Compare(a.Day.Format(time.DateOnly), b.Day.Format(time.DateOnly))
	})
}
