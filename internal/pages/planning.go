package pages

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Steps of the form.
const (
	stepLeg   = "leg"   // asks for one more leg
	stepJudge = "judge" // shows the answer, and keeps nothing
	stepSave  = "save"
)

func (p *pages) planRoutes() {
	p.acting("GET /flights/new", p.showPlan)
	p.acting("POST /flights/new", p.planFlight)
	p.acting("GET /flights/{flight}/change", p.showChange)
	p.acting("POST /flights/{flight}/change", p.changeFlight)
	p.acting("POST /flights/{flight}/move", p.moveFlight)
	p.acting("POST /flights/{flight}/cancel", p.cancelFlight)
	p.acting("POST /flights/{flight}/restore", p.restoreFlight)
	p.acting("POST /flights/{flight}/shown", p.showToPilot)
	p.acting("GET /series/{series}", p.showSeries)
	p.acting("POST /series/{series}/cancel", p.cancelSeries)
	p.acting("POST /series/{series}/restore", p.restoreSeries)
	p.acting("GET /aircraft/{aircraft}/blocks", p.showBlocks)
	p.acting("POST /aircraft/{aircraft}/blocks", p.blockAircraft)
	p.acting("GET /blocks/{block}", p.showBlock)
	p.acting("POST /blocks/{block}", p.changeBlock)
	p.acting("POST /blocks/{block}/cancel", p.cancelBlock)
	p.acting("POST /blocks/{block}/again", p.blockAgain)
}

// showPlan is the form for a new flight. What a visitor has said of a flight is filled in; what was only assumed is not, as
// nobody has said it.
func (p *pages) showPlan(v *visit) error {
	w := planView{values: url.Values{}}
	q := v.URL.Query()
	w.values.Set("aircraft", q.Get("aircraft"))
	w.Legs = []planLeg{{}}
	if err := p.gather(v, &w); err != nil {
		return err
	}
	m := readMine(q, w.Bases)
	w.Assumed = m.Assumed()
	w.fillIn(m, p.Now())
	return p.showForm(v, http.StatusOK, &w)
}

// fillIn writes what a visitor has said of a flight.
func (w *planView) fillIn(m *mine, now time.Time) {
	set := func(field, of string, said string) {
		if m.Said.Has(of) && m.Fault(of) == nil {
			w.values.Set(field, said)
		}
	}
	set("rules", "rules", m.Rules)
	set("persons", "aboard", m.Aboard)
	set("occupants", "aboard", m.Aboard)
	set("altitude_ft", "altitude", m.Altitude)
	set("for_hire", "hire", m.Hire)
	set("over_water", "water", m.Water)
	set("controlled", "controlled", m.Controlled)
	f := m.facts()
	for _, l := range askedLists {
		of := map[string]string{"airspace": "airspace", "navigation": "nav"}[l.Field]
		if of == "" || !m.Said.Has(of) || m.Fault(of) != nil {
			continue
		}
		lists := url.Values{}
		writeFacts(casefile.FlightFacts{Airspace: f.Airspace, Navigation: f.Navigation}, lists)
		w.values[l.Field] = lists[l.Field]
	}
	a := w.aircraft()
	if a == nil {
		return
	}
	base := baseIn(w.Bases, a.Base)
	w.values.Set("from-0", base.Code)
	w.values.Set("to-0", base.Code)
	if m.To != "" && m.Fault("to") == nil {
		w.values.Set("to-0", m.To)
	}
	if m.Fault("at") != nil || m.Fault("hours") != nil {
		return
	}
	departs := now.In(zoneOf(base)).Truncate(time.Minute)
	if m.At != "" {
		w.values.Set("departs-0", m.At)
		departs, _ = time.Parse(atForm, m.At) // it has been checked
	} else if m.Said.Has("at") {
		w.values.Set("departs-0", departs.Format(atForm))
	}
	if m.Said.Has("hours") && w.values.Has("departs-0") {
		w.values.Set("arrives-0", departs.Add(m.length()).Format(atForm))
	}
	w.findZone()
}

func (p *pages) showForm(v *visit, status int, w *planView) error {
	w.Once = newOnce()
	title, back := "Plan a flight", ""
	if w.Changing != nil {
		title, back = "Change a flight", w.Changing.Aircraft.String()
	}
	return p.showIn(v, status, "plan", frame{Title: title, Here: "week", Page: w, About: back})
}

// sent reads the form as it was sent.
func (p *pages) sent(v *visit, w *planView) error {
	w.values = url.Values{}
	for name, said := range v.form {
		w.values[name] = said
	}
	w.countLegs(0)
	return p.gather(v, w)
}

// planFlight asks for a leg more, judges the flight, or plans it: once as it was judged, or again and again.
func (p *pages) planFlight(v *visit) error {
	var w planView
	if err := p.sent(v, &w); err != nil {
		return err
	}
	if v.form.Get("step") == stepLeg {
		w.countLegs(1)
		return p.showForm(v, http.StatusOK, &w)
	}
	plan := w.plan(p.Now())
	repeat := w.repeat()
	if !w.toBeSaved(v) {
		return p.judged(v, &w, plan, repeat)
	}
	if repeat == nil {
		id, err := kept[techlog.ID](p.Service.PlanFlight(v, v.who, plan, v.once("", nil), keep(func(h hangar.HeldFlight) techlog.ID { return h.Flight.ID })))
		return p.planned(v, &w, plan, repeat, err, "/flights/"+id.String()+"?done=planned")
	}
	id, err := kept[techlog.ID](p.Service.PlanSeries(v, v.who, hangar.SeriesPlan{Flight: plan, Repeat: *repeat}, v.once("", nil),
		keep(func(s hangar.PlannedSeries) techlog.ID { return s.Series })))
	return p.planned(v, &w, plan, repeat, err, "/series/"+id.String()+"?done=planned")
}

// toBeSaved reports whether a flight is planned as it was judged. One that is not what was judged is judged first.
func (w *planView) toBeSaved(v *visit) bool {
	if v.form.Get("step") != stepSave || len(w.Faults) > 0 {
		return false
	}
	if seen := v.form.Get("judged"); seen != w.digest() {
		w.Note = "This is not what was judged: here is the answer for the flight as it is now. Nothing is planned yet."
		return false
	}
	return true
}

// judged shows the answer for a flight that is not planned.
func (p *pages) judged(v *visit, w *planView, plan hangar.FlightPlan, repeat *hangar.Repeat) error {
	if said := v.form.Get("zone"); said != "" && w.Zone != nil && said != w.Zone.String() {
		w.Note = strings.TrimSpace("The times are read in " + w.Zone.String() + " now, the zone of " + w.ZoneOf + ". " + w.Note)
	}
	if len(w.Faults) > 0 {
		return p.showForm(v, http.StatusUnprocessableEntity, w)
	}
	held, err := p.Service.Ask(v, v.who, plan)
	var series hangar.PlannedSeries
	if err == nil && repeat != nil {
		series, err = p.Service.AskSeries(v, v.who, hangar.SeriesPlan{Flight: plan, Repeat: *repeat})
	}
	if techlog.KindOf(err) == techlog.KindInvalid || len(planFaults(err)) > 0 {
		w.Faults = planFaults(err)
		return p.showForm(v, http.StatusUnprocessableEntity, w)
	}
	if err != nil {
		return err
	}
	open, err := p.Service.DeferredItems(v, v.who, plan.Aircraft)
	if err != nil {
		return err
	}
	if w.Changing != nil {
		held.Overlaps = slices.DeleteFunc(held.Overlaps, func(id techlog.ID) bool { return id == w.Changing.ID })
	}
	w.Judged = p.tell(held, zoneNamed(held.Flight.Zone), &open)
	for i := range w.Judged {
		if err := p.hindered(v, &w.Judged[i], held); err != nil {
			return err
		}
	}
	for i := range series.Flights {
		w.Dates = append(w.Dates, p.seriesDate(&series.Flights[i]))
	}
	w.Digest = w.digest()
	return p.showForm(v, http.StatusOK, w)
}

// planned leads to what has been planned, or back to the form with what is wrong.
func (p *pages) planned(v *visit, w *planView, plan hangar.FlightPlan, repeat *hangar.Repeat, err error, to string) error {
	switch kind := techlog.KindOf(err); {
	case err == nil:
		return v.goTo(to)
	case kind == techlog.KindReused:
		w.Note = "This form was sent before with other words: what was sent first is on record. Plan it now if you mean a further flight."
		return p.judged(v, w, plan, repeat)
	case kind == techlog.KindInvalid || len(planFaults(err)) > 0:
		w.Faults = planFaults(err)
		return p.showForm(v, http.StatusUnprocessableEntity, w)
	case kind == techlog.KindStale && w.Changing != nil:
		return p.overtaken(v, w)
	}
	return err
}

// changing reads the flight that the form changes.
func (p *pages) changing(v *visit, w *planView) error {
	id, err := v.named("flight")
	if err != nil {
		return err
	}
	held, err := p.Service.Flight(v, v.who, id)
	if err != nil {
		return err
	}
	if held.Flight.State != techlog.Planned {
		return techlog.Errorf(techlog.KindConflict, "the flight has been called off")
	}
	w.Changing, w.Version = &held.Flight, held.Flight.Version
	return nil
}

func (p *pages) showChange(v *visit) error {
	var w planView
	if err := p.changing(v, &w); err != nil {
		return err
	}
	w.write(w.Changing)
	w.countLegs(0)
	if err := p.gather(v, &w); err != nil {
		return err
	}
	w.mark()
	return p.showForm(v, http.StatusOK, &w)
}

// mark finds the registration of the flight's aircraft.
func (w *planView) mark() {
	if i := slices.IndexFunc(w.Fleet, func(a techlog.Aircraft) bool { return a.ID == w.Changing.Aircraft }); i >= 0 {
		w.Mark = w.Fleet[i].Registration
	}
}

// changeFlight judges a flight as it is to become, or changes it. Whoever has not seen its newest version is shown what it
// has become, beside what was written.
func (p *pages) changeFlight(v *visit) error {
	var w planView
	if err := p.changing(v, &w); err != nil {
		return err
	}
	if err := p.sent(v, &w); err != nil {
		return err
	}
	w.mark()
	version, err := strconv.Atoi(v.form.Get("version"))
	if err != nil {
		return &techlog.Error{Kind: kindSyntax, Says: "the form does not say which version of the flight was seen", Cause: err}
	}
	if v.form.Get("step") == stepLeg {
		w.countLegs(1)
		w.Version = version
		return p.showForm(v, http.StatusOK, &w)
	}
	plan := w.plan(p.Now())
	if w.toBeSaved(v) {
		id := w.Changing.ID
		_, err := kept[techlog.ID](p.Service.ChangeFlight(v, v.who, id, version, plan, v.once("", nil), keep(func(h hangar.HeldFlight) techlog.ID { return h.Flight.ID })))
		return p.planned(v, &w, plan, nil, err, "/flights/"+id.String()+"?done=changed")
	}
	if version != w.Changing.Version {
		return p.overtaken(v, &w)
	}
	return p.judged(v, &w, plan, nil)
}

// overtaken shows what a flight has become, with what was written still in the form.
func (p *pages) overtaken(v *visit, w *planView) error {
	if err := p.changing(v, w); err != nil {
		return err
	}
	w.Stale, w.NowSays = true, p.weekFlight(*w.Changing)
	w.mark()
	w.NowSays.Registration = w.Mark
	w.Judged, w.Digest = nil, ""
	return p.showForm(v, http.StatusConflict, w)
}

// repeat reads how a flight is flown again; nil: it is flown once.
func (w *planView) repeat() *hangar.Repeat {
	every := w.values.Get("every")
	if every == "" || w.Changing != nil {
		return nil
	}
	r := &hangar.Repeat{Every: every, Interval: 1, Until: strings.TrimSpace(w.values.Get("until"))}
	if said := strings.TrimSpace(w.values.Get("interval")); said != "" {
		n, err := strconv.Atoi(said)
		if err != nil || n < 1 || n > 1000 {
			w.Faults.Add("interval", "range", strconv.Quote(said)+" is no such number", "give a whole number, from 1")
			n = 1
		}
		r.Interval = n
	}
	for _, said := range w.values["weekdays"] {
		day, err := strconv.Atoi(said)
		if err != nil || day < 0 || day > 6 {
			w.Faults.Add("weekdays", "choice", "it is no weekday", "choose them from the list")
			continue
		}
		r.Weekdays = append(r.Weekdays, time.Weekday(day))
	}
	r.Skip = strings.FieldsFunc(w.values.Get("skip"), func(c rune) bool { return strings.ContainsRune(" ,;\r\n\t", c) })
	return r
}

// Weekdays are those of the form, from Monday.
func (w *planView) Weekdays() []struct{ Value, Words string } {
	var all []struct{ Value, Words string }
	for i := range 7 {
		day := time.Weekday((i + 1) % 7)
		all = append(all, struct{ Value, Words string }{strconv.Itoa(int(day)), day.String()[:3]})
	}
	return all
}
