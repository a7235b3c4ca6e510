package pages

import (
	"cmp"
	"html/template"
	"net/url"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// kinds of operation in the words of the trade.
var kindWords = map[string]string{"day-vfr": "Day VFR", "night-vfr": "Night VFR", "day-ifr": "IFR by day", "night-ifr": "IFR by night"}

// boardView is the fleet by kind of operation.
type boardView struct {
	Kinds    []string
	Rows     []boardRow
	AsOf     time.Time
	Bases    []techlog.Base
	Base     string // code of the base that is picked; empty: all
	OnlyHeld bool
	Picked   bool // not everything is shown
	Any      bool // there are aircraft at all
	More     template.URL
}

// boardRow is one aircraft.
type boardRow struct {
	Aircraft techlog.Aircraft
	At       string // code of its base
	Open     int
	Blocks   []techlog.Block // that keep it from flying now
	Zone     *time.Location
	Cells    []boardCell
	Stops    []boardStop
	Further  int // that stop it, beside those
}

// boardCell is what one aircraft may do of one kind of operation.
type boardCell struct {
	Kind    string
	Verdict string
	Limits  int
}

// boardStop is something that keeps an aircraft from some kinds of operation.
type boardStop struct {
	Words    string
	Citation string
	Label    string // of the squawk
	Squawk   techlog.ID
	Kinds    []string // that it stops; empty: every one
}

// How much of the board stands on one page, and how much of why.
const (
	boardRows  = 40
	boardStops = 2
)

func (p *pages) showBoard(v *visit) error {
	q, now := v.URL.Query(), p.Now()
	view := boardView{AsOf: now, Base: q.Get("base"), OnlyHeld: q.Get("held") == "yes"}
	view.Picked = view.Base != "" || view.OnlyHeld
	for _, kind := range airworthiness.KindNames() {
		view.Kinds = append(view.Kinds, kindWords[kind])
	}
	fleet, err := p.Service.Schedule(v, v.who, now, now.Add(time.Second))
	if err != nil {
		return err
	}
	view.Bases = basesOf(&fleet)
	view.Any = len(fleet.Aircraft) > 0
	var squawks openSquawks
	after, skipping := q.Get("after"), q.Get("after") != ""
	for i := range fleet.Aircraft {
		a := &fleet.Aircraft[i]
		base := fleet.Bases[a.Aircraft.Base]
		if i == 0 {
			view.AsOf = view.AsOf.In(zoneOf(base))
		}
		if skipping {
			skipping = a.Aircraft.ID.String() != after
			continue
		}
		if view.Base != "" && base.Code != view.Base {
			continue
		}
		row, held, err := p.boardRow(v, a, base, &squawks)
		if err != nil {
			return err
		}
		if view.OnlyHeld && !held {
			continue
		}
		if len(view.Rows) == boardRows {
			view.More = link("/board", url.Values{"base": {view.Base}, "held": {q.Get("held")}, "after": {view.Rows[boardRows-1].Aircraft.ID.String()}})
			break
		}
		view.Rows = append(view.Rows, row)
	}
	return p.showIn(v, ok, "board", frame{Title: "Board", Here: "board", Page: &view, Live: renewed})
}

// boardRow is an aircraft as it stands, and whether anything keeps it from some kind of operation.
func (p *pages) boardRow(v *visit, a *hangar.Scheduled, base techlog.Base, squawks *openSquawks) (boardRow, bool, error) {
	row := boardRow{Aircraft: a.Aircraft, At: base.Code, Zone: zoneOf(base), Blocks: a.Blocks}
	status, err := p.status(v, a.Aircraft.ID)
	if err != nil {
		return row, false, err
	}
	row.Open = status.OpenSquawks
	held := len(a.Blocks) > 0
	for _, k := range status.Kinds {
		held = held || !k.Permits
		cell := boardCell{kindWords[k.Kind], k.Verdict, 0}
		if k.Permits {
			cell.Limits = len(k.Limitations)
		}
		row.Cells = append(row.Cells, cell)
	}
	row.Stops = stopsOf(status.Kinds)
	if len(row.Stops) > boardStops {
		row.Further = len(row.Stops) - boardStops
		row.Stops = row.Stops[:boardStops]
	}
	for i := range row.Stops {
		if s := &row.Stops[i]; s.Label != "" {
			if s.Squawk, err = squawks.find(p, v, a.Aircraft.ID, s.Label); err != nil {
				return row, held, err
			}
		}
	}
	return row, held, nil
}

// stopsOf puts what stops kinds of operation together by what it is about: what stops the most of them comes first.
func stopsOf(kinds []casefile.KindStatus) []boardStop {
	var all []boardStop
	for _, k := range kinds {
		for _, f := range k.Findings {
			if !f.Blocks() {
				continue
			}
			i := slices.IndexFunc(all, func(s boardStop) bool {
				return s.Label == f.Defect && (f.Defect != "" || s.Citation == f.Citation && s.Words == says(f))
			})
			if i < 0 {
				i, all = len(all), append(all, boardStop{Words: says(f), Citation: f.Citation, Label: f.Defect})
			}
			if words := kindWords[k.Kind]; !slices.Contains(all[i].Kinds, words) {
				all[i].Kinds = append(all[i].Kinds, words)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b boardStop) int { return cmp.Compare(len(b.Kinds), len(a.Kinds)) })
	for i := range all {
		if len(all[i].Kinds) == len(kinds) {
			all[i].Kinds = nil
		}
	}
	return all
}

// openSquawks finds squawks by aircraft and label. They are read once they are needed.
type openSquawks struct {
	read bool
	ids  map[techlog.ID]map[string]techlog.ID
}

// squawksMost is how many open squawks of each state are looked through.
const squawksMost = 2000

func (o *openSquawks) find(p *pages, v *visit, aircraft techlog.ID, label string) (techlog.ID, error) {
	if !o.read {
		o.read, o.ids = true, map[techlog.ID]map[string]techlog.ID{}
		for _, state := range []techlog.SquawkState{techlog.Reported, techlog.Deferred} {
			all, err := p.Service.Squawks(v, v.who, hangar.SquawkFilter{State: state}, hangar.Page{Limit: squawksMost})
			if err != nil {
				return techlog.ID{}, err
			}
			for i := range all {
				if o.ids[all[i].Aircraft] == nil {
					o.ids[all[i].Aircraft] = map[string]techlog.ID{}
				}
				o.ids[all[i].Aircraft][all[i].Label()] = all[i].ID
			}
		}
	}
	return o.ids[aircraft][label], nil
}

// basesOf lists the bases of a schedule by their codes.
func basesOf(s *hangar.Schedule) []techlog.Base {
	var all []techlog.Base
	for _, b := range s.Bases {
		all = append(all, b)
	}
	slices.SortFunc(all, func(a, b techlog.Base) int { return strings.Compare(a.Code, b.Code) })
	return all
}

// link is an address with what it says; what says nothing is left out.
func link(path string, q url.Values) template.URL {
	said := url.Values{}
	for name, values := range q {
		if len(values) > 0 && values[0] != "" {
			said[name] = values
		}
	}
	if len(said) == 0 {
		return template.URL(path) //nolint:gosec // it is a constant
	}
	return template.URL(path + "?" + said.Encode()) //nolint:gosec // it is encoded
}
