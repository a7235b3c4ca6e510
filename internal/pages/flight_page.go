package pages

import (
	"net/http"
	"slices"
	"strconv"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/dispatch"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// flightView is one flight with its hold in words, and what may be done about it.
type flightView struct {
	weekFlight
	Zone    *time.Location
	Off     bool // it has been called off
	Over    bool // it has departed
	Told    []told
	Kept    []keptView
	Shown   []techlog.Shown
	Members []techlog.Member // to whom it can have been shown; empty: the visitor says so of oneself
	MayKeep bool
	MayPlan bool
	Once    string

	Outlook *dispatch.Outlook
	Sets    [][]squawkLink // of squawks that have to go
	Stops   []stopView
	Others  []otherView // aircraft that may make it
	Rest    []otherView // and those that may not, or have something else to do
	More    bool

	Done  string // what has just been done
	From  string // registration of the aircraft that it was moved from
	Back  techlog.ID
	Fault *flightFault
}

// flightFault is why something about a flight was not done.
type flightFault struct {
	Title  string
	Says   string
	Faults casefile.Faults
}

// squawkLink names a squawk. The zero identifier: it is not open any more.
type squawkLink struct {
	Label  string
	Squawk techlog.ID
	About  string
	When   *dispatch.Expectation
}

// stopView is what stands in the way of a flight, with how it is released.
type stopView struct {
	By       string
	Squawk   squawkLink
	Words    string
	Citation string
	Legs     []int
	Asks     []string
}

// otherView is another aircraft for a flight.
type otherView struct {
	dispatch.Alternative
	At   string // code of its base
	Free bool
}

// ways say how a condition is released.
var ways = map[string]string{
	dispatch.ByDeferral: "Defer it: do the steps and sign them",
	dispatch.ByRepair:   "Repair it and return it to service",
	dispatch.ByFact:     "Say what is not known",
	dispatch.ByMeeting:  "Meet what is asked",
}

// keptView is a determination that was kept of a flight.
type keptView struct {
	By      string
	At      time.Time
	Verdict string
}

// How many records beside a flight its page shows.
const (
	keptShown   = 50
	shownShown  = 50
	membersMost = 500
)

func (p *pages) showFlight(v *visit) error {
	id, err := v.named("flight")
	if err != nil {
		return err
	}
	return p.flightPage(v, http.StatusOK, id, nil)
}

// flightPage shows a flight, with why something was not done if that is so.
func (p *pages) flightPage(v *visit, status int, id techlog.ID, fault *flightFault) error {
	held, err := p.Service.Flight(v, v.who, id)
	if err != nil {
		return err
	}
	open, err := p.Service.DeferredItems(v, v.who, held.Flight.Aircraft)
	if err != nil {
		return err
	}
	view := flightView{weekFlight: p.weekFlight(held.Flight), Once: newOnce(), Fault: fault, Done: v.URL.Query().Get("done")}
	view.Registration = open.Aircraft.Registration
	view.Zone = view.Leaves.Location()
	view.Off, view.Over = view.State != techlog.Planned, !view.Departs.After(p.Now())
	view.MayPlan = v.who.May(techlog.PlanFlight)
	view.MayKeep = v.who.May(techlog.KeepDetermination) && !view.Off
	if !view.Off {
		view.Told = p.tell(held, view.Zone, &open)
		for i := range view.Told {
			if err := p.hindered(v, &view.Told[i], held); err != nil {
				return err
			}
		}
		if err := p.lookAhead(v, &view, &open); err != nil {
			return err
		}
	}
	if err := p.records(v, &view); err != nil {
		return err
	}
	if from, ok := techlog.ParseID(v.URL.Query().Get("from")); ok && view.Done == "moved" && from != held.Flight.Aircraft {
		if a, err := p.Service.Aircraft(v, v.who, from); err == nil {
			view.From, view.Back = a.Registration, a.ID
		}
	}
	return p.showIn(v, status, "flight", frame{
		Title: "Flight of " + view.Registration, Here: "week", Page: &view, Live: announced, About: view.Aircraft.String(),
	})
}

// records reads what was kept and shown of a flight.
func (p *pages) records(v *visit, view *flightView) error {
	all, err := p.Service.Determinations(v, v.who, view.ID, hangar.Page{Limit: keptShown})
	if err != nil {
		return err
	}
	for _, k := range all {
		view.Kept = append(view.Kept, keptView{k.By, k.At.In(view.Zone), k.Verdict})
	}
	if view.Shown, err = p.Service.Shown(v, v.who, view.ID, hangar.Page{Limit: shownShown}); err != nil {
		return err
	}
	if !view.MayKeep {
		return nil
	}
	members, err := p.Service.Members(v, v.who, hangar.Page{Limit: membersMost})
	if err != nil {
		return err
	}
	view.Members = slices.DeleteFunc(members, func(m techlog.Member) bool { return !m.Until.IsZero() })
	return nil
}

// lookAhead finds what would release a flight, and which other aircraft may make it.
func (p *pages) lookAhead(v *visit, view *flightView, open *hangar.DeferredItems) error {
	outlook, err := p.Service.FlightOutlook(v, v.who, view.ID)
	if err != nil {
		return err
	}
	view.Outlook = &outlook
	links := map[string]squawkLink{}
	for _, list := range [][]hangar.DeferredItem{open.Items, open.NotDeferred} {
		for i := range list {
			q := &list[i].Squawk
			links[q.Label()] = squawkLink{Label: q.Label(), Squawk: q.ID, About: list[i].Item}
		}
	}
	link := func(label string) squawkLink {
		l := links[label]
		l.Label = label
		return l
	}
	if r := outlook.Release; r != nil {
		for _, q := range r.Squawks {
			l := link(q.Squawk)
			l.When = q.Expected
			links[q.Squawk] = l
		}
		for _, set := range r.Sets {
			all := make([]squawkLink, len(set))
			for i, label := range set {
				all[i] = link(label)
			}
			view.Sets = append(view.Sets, all)
		}
		for _, c := range r.Conditions {
			s := stopView{By: ways[c.By], Words: says(c.Finding), Citation: c.Finding.Citation, Legs: c.Legs}
			if c.Finding.Defect != "" {
				s.Squawk = link(c.Finding.Defect)
			}
			for _, m := range c.Finding.Missing {
				s.Asks = append(s.Asks, m.Asks)
			}
			view.Stops = append(view.Stops, s)
		}
	}
	if view.Over {
		return nil
	}
	others, err := p.Service.Alternatives(v, v.who, view.ID)
	if err != nil {
		return err
	}
	bases, err := p.bases(v)
	if err != nil {
		return err
	}
	view.More = others.More
	for _, a := range others.Aircraft {
		base, _ := techlog.ParseID(a.Base)
		o := otherView{Alternative: a, At: baseIn(bases, base).Code, Free: a.Permits && len(a.Busy) == 0}
		if o.Free {
			view.Others = append(view.Others, o)
		} else {
			view.Rest = append(view.Rest, o)
		}
	}
	return nil
}

// keepDetermination keeps what the visitor has been told about a flight, as it is now.
func (p *pages) keepDetermination(v *visit) error {
	id, err := v.named("flight")
	if err != nil {
		return err
	}
	_, err = p.Service.KeepDetermination(v, v.who, id, v.once("", nil), keep(func(k techlog.KeptDetermination) techlog.ID { return k.ID }))
	if err != nil {
		return err
	}
	return v.goTo("/flights/" + id.String() + "#kept")
}

// act does something about a flight, and shows the flight as it is with the reason if it is not done.
func (p *pages) act(v *visit, do func(id techlog.ID, version int) (to string, err error)) error {
	id, err := v.named("flight")
	if err != nil {
		return err
	}
	version, err := strconv.Atoi(v.form.Get("version"))
	if err != nil {
		return &techlog.Error{Kind: kindSyntax, Says: "the form does not say which version of the flight was seen", Cause: err}
	}
	to, err := do(id, version)
	if err == nil {
		return v.goTo(to)
	}
	kind := kindOf(err)
	faults := faultsOf(err)
	if len(faults) > 0 {
		kind = techlog.KindInvalid
	}
	if !slices.Contains([]techlog.Kind{techlog.KindInvalid, techlog.KindStale, techlog.KindConflict, techlog.KindReused}, kind) {
		return err
	}
	fault := &flightFault{Title: problems[kind].title, Faults: faults}
	if len(faults) == 0 {
		fault.Says = sentence(err.Error()) + " " + problems[kind].remedy
	}
	return p.flightPage(v, problems[kind].status, id, fault)
}

// moveFlight gives a flight to another aircraft, as it is otherwise.
func (p *pages) moveFlight(v *visit) error {
	return p.act(v, func(id techlog.ID, version int) (string, error) {
		to, ok := techlog.ParseID(v.form.Get("aircraft"))
		if !ok {
			return "", casefile.Faults{{Field: "aircraft", Rule: "required", Says: "no aircraft is chosen", Remedy: "choose one of the list"}}
		}
		held, err := p.Service.Flight(v, v.who, id)
		if err != nil {
			return "", err
		}
		from, plan := held.Flight.Aircraft, hangar.PlanOf(&held.Flight)
		plan.Aircraft = to
		from, err = kept[techlog.ID](p.Service.ChangeFlight(v, v.who, id, version, plan, v.once("", nil), keep(func(hangar.HeldFlight) techlog.ID { return from })))
		return "/flights/" + id.String() + "?done=moved&from=" + from.String(), err
	})
}

// cancelFlight calls a flight off. Undo puts it back on the plan.
func (p *pages) cancelFlight(v *visit) error {
	return p.act(v, func(id techlog.ID, version int) (string, error) {
		_, err := p.Service.CancelFlight(v, v.who, id, version, v.once("", nil), keep(func(f techlog.Flight) techlog.ID { return f.ID }))
		if series, ok := techlog.ParseID(v.form.Get("series")); ok && err == nil {
			return "/series/" + series.String() + "#" + id.String(), nil
		}
		return "/flights/" + id.String() + "?done=cancelled", err
	})
}

func (p *pages) restoreFlight(v *visit) error {
	return p.act(v, func(id techlog.ID, version int) (string, error) {
		_, err := p.Service.RestoreFlight(v, v.who, id, version, v.once("", nil), keep(func(h hangar.HeldFlight) techlog.ID { return h.Flight.ID }))
		if series, ok := techlog.ParseID(v.form.Get("series")); ok && err == nil {
			return "/series/" + series.String() + "#" + id.String(), nil
		}
		return "/flights/" + id.String() + "?done=restored", err
	})
}

// showToPilot records that whoever is to be the pilot in command was shown what holds the flight or limits it.
func (p *pages) showToPilot(v *visit) error {
	return p.act(v, func(id techlog.ID, version int) (string, error) {
		held, err := p.Service.Flight(v, v.who, id)
		if err != nil {
			return "", err
		}
		if held.Flight.Version != version {
			return "", techlog.Errorf(techlog.KindStale, "the flight was changed meanwhile: show the pilot what it is now")
		}
		person, _ := techlog.ParseID(v.form.Get("person")) // zero: whoever asks
		_, err = p.Service.ShowTo(v, v.who, id, person, v.once("", nil), keep(func(s techlog.Shown) techlog.ID { return s.ID }))
		return "/flights/" + id.String() + "?done=shown#kept", err
	})
}
