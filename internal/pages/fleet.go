package pages

import (
	"encoding/json"
	"html/template"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// fleetPage is how many aircraft a page lists. What goes beyond is a page of its own, by a link.
const fleetPage = 60

// fleetPageView is the fleet with an answer for each aircraft.
type fleetPageView struct {
	Mine     *mine
	Aircraft []oneAircraft
	More     string // identifier of the last one, if there are more
	Later    bool   // it is not the first page
}

// oneAircraft is one aircraft with the answer for the visitor's flight.
type oneAircraft struct {
	Aircraft techlog.Aircraft
	Base     techlog.Base
	Answer   casefile.Answer
	Why      string // the worst finding, in words
	More     int    // findings beside it that hold the flight
	Blocked  bool   // somebody keeps the aircraft from flying then
	Taken    bool   // another flight is planned with it then
}

// bases are those of the organization.
func (p *pages) bases(v *visit) ([]techlog.Base, error) {
	return everyOne(func(page hangar.Page) ([]techlog.Base, error) { return p.Service.Bases(v, v.who, page) },
		func(b *techlog.Base) techlog.ID { return b.ID })
}

// wholeFleet is every aircraft of the organization.
func (p *pages) wholeFleet(v *visit) ([]techlog.Aircraft, error) {
	return everyOne(func(page hangar.Page) ([]techlog.Aircraft, error) { return p.Service.Fleet(v, v.who, page) },
		func(a *techlog.Aircraft) techlog.ID { return a.ID })
}

// aircraftNamed reads the aircraft that the address names.
func (p *pages) aircraftNamed(v *visit) (techlog.Aircraft, error) {
	id, err := v.named("aircraft")
	if err != nil {
		return techlog.Aircraft{}, err
	}
	return p.Service.Aircraft(v, v.who, id)
}

// fleetOnPage reads the aircraft of the page that is asked for, so many: whether others come before it, and after which one
// there are more; empty where there are none.
func (p *pages) fleetOnPage(v *visit, size int) (fleet []techlog.Aircraft, later bool, more string, err error) {
	page := hangar.Page{Limit: size + 1}
	if id, ok := techlog.ParseID(v.URL.Query().Get("after")); ok {
		page.After, later = id, true
	}
	if fleet, err = p.Service.Fleet(v, v.who, page); len(fleet) > size {
		fleet = fleet[:size]
		more = fleet[size-1].ID.String()
	}
	return fleet, later, more, err
}

func (p *pages) showFleet(v *visit) error {
	bases, err := p.bases(v)
	if err != nil {
		return err
	}
	view := fleetPageView{Mine: readMine(v.URL.Query(), bases)}
	fleet, later, more, err := p.fleetOnPage(v, fleetPage)
	if err != nil {
		return err
	}
	view.Later, view.More = later, more
	for _, a := range fleet {
		view.Mine.checkClock(baseIn(bases, a.Base))
	}
	for _, a := range fleet {
		one := oneAircraft{Aircraft: a, Base: baseIn(bases, a.Base)}
		if len(view.Mine.Faults) == 0 {
			held, err := p.Service.Ask(v, v.who, view.Mine.plan(a, p.Now()))
			if err != nil {
				return err
			}
			one.Answer = *held.Answer()
			one.Why, one.More = worst(one.Answer)
			one.Blocked, one.Taken = len(held.Flight.Hold.Blocks) > 0, len(held.Overlaps) > 0
		}
		view.Aircraft = append(view.Aircraft, one)
	}
	return p.showIn(v, ok, "fleet", frame{Title: "Fleet", Here: "fleet", Query: carried(view.Mine), Page: &view, Live: renewed})
}

// carried is what goes along in the links of a page.
func carried(m *mine) template.URL {
	return template.URL(m.Said.Encode()) //nolint:gosec // it is encoded
}

// worst is what holds a flight in the first place, in a few words, and how much does so beside it.
func worst(a casefile.Answer) (string, int) {
	why, n := "", 0
	for _, f := range a.Findings {
		if !f.Blocks() {
			continue
		}
		if n++; f.Verdict == a.Verdict && why == "" {
			why = says(f)
			if f.Defect != "" {
				why = "Squawk " + f.Defect + ": " + why
			}
		}
	}
	return why, max(0, n-1)
}

// says is a finding in its own words, or in its row's where those of the finding only say that it is still to be done.
func says(f casefile.Finding) string {
	if f.Says == "" || f.Outcome == airworthiness.OutcomeUndone.String() {
		return f.Words
	}
	return f.Says
}

// fromCode leads from what is printed on an aircraft, its registration or its identifier, to its page.
func (p *pages) fromCode(v *visit) error {
	mark := v.PathValue("mark")
	if id, ok := techlog.ParseID(mark); ok {
		return v.goTo("/aircraft/" + id.String())
	}
	fleet, err := p.wholeFleet(v)
	if err != nil {
		return err
	}
	for _, a := range fleet {
		if strings.EqualFold(a.Registration, mark) {
			return v.goTo("/aircraft/" + a.ID.String())
		}
	}
	return techlog.Errorf(techlog.KindNotFound, "no aircraft of the organization has this registration")
}

// aircraftView answers "may I take it?" for one aircraft.
type aircraftView struct {
	Aircraft techlog.Aircraft
	Base     techlog.Base
	Zone     *time.Location
	Mine     *mine
	Told     told
	Notes    []casefile.Note
	Deferred hangar.DeferredItems
	Plan     template.URL // where this flight is planned
}

func (p *pages) showAircraft(v *visit) error {
	a, err := p.aircraftNamed(v)
	if err != nil {
		return err
	}
	id, view := a.ID, aircraftView{Aircraft: a}
	bases, err := p.bases(v)
	if err != nil {
		return err
	}
	view.Mine = readMine(v.URL.Query(), bases)
	view.Base = baseIn(bases, view.Aircraft.Base)
	view.Zone = zoneOf(view.Base)
	view.Mine.checkClock(view.Base)
	if view.Deferred, err = p.Service.DeferredItems(v, v.who, id); err != nil {
		return err
	}
	if len(view.Mine.Faults) == 0 {
		held, err := p.Service.Ask(v, v.who, view.Mine.plan(view.Aircraft, p.Now()))
		if err != nil {
			return err
		}
		view.Told = p.tell(held, view.Zone, &view.Deferred)[0] // it is one leg
		if err := p.hindered(v, &view.Told, held); err != nil {
			return err
		}
		view.Told.Actions, view.Told.Walks = id.String(), true
		view.Told.Assumed, view.Plan = view.Mine.Assumed(), planLink(id, view.Mine)
	}
	status, err := p.status(v, id)
	if err != nil {
		return err
	}
	view.Notes = status.Notes
	return p.showIn(v, ok, "aircraft", frame{
		Title: view.Aircraft.Registration, Here: "fleet", Query: carried(view.Mine), Page: &view, Live: announced, About: id.String(),
	})
}

// status is how an aircraft stands by kind of operation.
func (p *pages) status(v *visit, aircraft techlog.ID) (casefile.Status, error) {
	var s casefile.Status
	body, err := p.Service.Status(v, v.who, aircraft)
	if err != nil {
		return s, err
	}
	return s, json.Unmarshal(body.Body, &s)
}
