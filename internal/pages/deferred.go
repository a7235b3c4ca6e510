package pages

import (
	"slices"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// paperRoutes are those of what is printed and hung up: the lists of deferred items, and the code of an aircraft.
func (p *pages) paperRoutes() {
	p.acting("GET /deferred", p.showAllDeferred)
	p.acting("GET /aircraft/{aircraft}/deferred", p.showDeferred)
	p.acting("GET /aircraft/{aircraft}/code", p.showCode)
	p.acting("GET /a", p.goToAircraft)
}

// deferredView is what is deferred and placarded in one aircraft, to brief from.
type deferredView struct {
	hangar.DeferredItems
	Now time.Time
}

// Left counts the whole days to an instant.
func (d *deferredView) Left(until time.Time) int { return daysLeft(d.Now, until) }

func (p *pages) showDeferred(v *visit) error {
	id, err := v.named("aircraft")
	if err != nil {
		return err
	}
	view := deferredView{Now: p.Now()}
	if view.DeferredItems, err = p.Service.DeferredItems(v, v.who, id); err != nil {
		return err
	}
	slices.SortStableFunc(view.Items, func(a, b hangar.DeferredItem) int { return a.Squawk.Deferral.Until.Compare(b.Squawk.Deferral.Until) })
	title := "Deferred and placarded, " + view.Aircraft.Registration
	return p.showIn(v, ok, "deferred", frame{Title: title, Here: "fleet", Page: &view, Live: renewed, About: id.String()})
}

// placarded is one deferral of the fleet.
type placarded struct {
	hangar.Work
	Until time.Time // in the zone of the aircraft's base
	Left  int       // whole days; below zero: it has run out
}

// allDeferredView is what is deferred in the whole fleet, what has run out first.
type allDeferredView struct {
	Items []placarded
	Over  int // that have run out
	Ages  []ageRow
}

func (p *pages) showAllDeferred(v *visit) error {
	works, err := p.Service.WorkList(v, v.who, techlog.ID{})
	if err != nil {
		return err
	}
	bases, err := p.bases(v)
	if err != nil {
		return err
	}
	view := allDeferredView{Ages: deferralAges(works, p.Now())}
	for _, w := range works {
		d := w.Squawk.Deferral
		if w.Squawk.State != techlog.Deferred || d == nil {
			continue
		}
		one := placarded{w, d.Until.In(zoneOf(baseIn(bases, w.Aircraft.Base))), daysLeft(p.Now(), d.Until)}
		if one.Left < 0 {
			view.Over++
		}
		view.Items = append(view.Items, one)
	}
	slices.SortStableFunc(view.Items, func(a, b placarded) int { return a.Until.Compare(b.Until) })
	return p.showIn(v, ok, "all-deferred", frame{Title: "Deferred and placarded", Here: "more", Page: &view, Live: renewed})
}
