package pages

import (
	"slices"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// showAhead is a page of a walkaround that has not begun, under the identifier that it will have: its stations, and its
// review. A phone that begins it without network has them at hand by then.
func (p *pages) showAhead(v *visit) error {
	aircraft, err := v.named("aircraft")
	if err != nil {
		return err
	}
	q := v.URL.Query()
	id, valid := techlog.ParseID(q.Get("walkaround"))
	if !valid {
		return techlog.Errorf(techlog.KindNotFound, "the address names no walkaround")
	}
	w, err := p.Service.WalkaroundAhead(v, v.who, hangar.WalkaroundStart{ID: id, Aircraft: aircraft})
	if err != nil {
		return err
	}
	view, err := p.walkView(v, w)
	if err != nil {
		return err
	}
	station := walkaround.Station(q.Get("station"))
	if station == "" {
		return p.reviewOf(v, ok, w, view, nil)
	}
	if !slices.ContainsFunc(view.Stations, func(s stationView) bool { return s.Station == station }) {
		return techlog.Errorf(techlog.KindNotFound, "its checklist has no such station")
	}
	return p.station(v, ok, w, view, station)
}
