package pages

import (
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

func (p *pages) keepingRoutes() {
	p.acting("GET /settings/fleet", p.showKeeping)
	p.acting("POST /settings/fleet", p.enterAircraft)
	p.acting("GET /settings/fleet/{aircraft}", p.showKept)
	p.acting("POST /settings/fleet/{aircraft}", p.changeAircraft)
	p.acting("POST /settings/fleet/{aircraft}/checklist", p.chooseChecklist)
}

// keepingView lists the fleet, or shows one aircraft, to be kept.
type keepingView struct {
	refusal
	Fleet     []keptAircraft
	Aircraft  techlog.Aircraft // that is changed; zero: a new one
	Entry     aircraftEntry
	Bases     []techlog.Base
	Facts     []factChoice
	Made      walkaround.AirframeChecklist
	Templates []walkaround.Template
	Checks    int // of its checklist
	Keeps     bool
	KeepsList bool // the visitor keeps checklists
	Units     int
	Complete  bool // the list of installed units is the whole list
	Done      string
}

// keptAircraft is an aircraft in the list.
type keptAircraft struct {
	techlog.Aircraft
	At string // code of its base
}

// aircraftEntry is an aircraft as somebody writes it in the form.
type aircraftEntry struct {
	Registration, Type, Base string
	Words                    map[string]string // of the facts that are a word, by their names
}

// Word is what is chosen of a fact.
func (e aircraftEntry) Word(name string) string { return e.Words[name] }

// factChoice is a fact that is one of some words.
type factChoice struct {
	Name, Label string
	Words       []string
	Needed      bool
	of          func(*casefile.Facts) *string
}

// factChoices are the facts that say what sort of aircraft it is. On them hangs which rules apply at all.
var factChoices = []factChoice{
	{"basis", "Certification basis", airworthiness.Vocabulary("basis"), true, func(f *casefile.Facts) *string { return &f.Basis }},
	{"category", "Category", airworthiness.Vocabulary("category"), false, func(f *casefile.Facts) *string { return &f.Category }},
	{"certificate", "Airworthiness certificate", airworthiness.Vocabulary("certificate"), false, func(f *casefile.Facts) *string { return &f.Certificate }},
	{"engine", "Engine", airworthiness.Vocabulary("engine"), false, func(f *casefile.Facts) *string { return &f.Engine }},
}

func (p *pages) showKeeping(v *visit) error { return p.keeping(v, keepingView{}) }

func (p *pages) keeping(v *visit, view keepingView) error {
	var err error
	if view.Bases, err = p.bases(v); err != nil {
		return err
	}
	title := view.Aircraft.Registration
	if title == "" {
		title = "Keeping the fleet"
		fleet, err := p.wholeFleet(v)
		if err != nil {
			return err
		}
		for _, a := range fleet {
			view.Fleet = append(view.Fleet, keptAircraft{a, baseIn(view.Bases, a.Base).Code})
		}
	}
	view.Facts = factChoices
	view.Keeps, view.KeepsList = v.who.May(techlog.KeepAircraft), v.who.May(techlog.KeepChecklists)
	return p.showIn(v, view.code(), "keeping", frame{Title: title, Here: "more", Page: view})
}

// aircraft reads an aircraft from the form, on top of what is known of it.
func (v *visit) aircraft(a techlog.Aircraft) (techlog.Aircraft, aircraftEntry) {
	e := aircraftEntry{
		Registration: strings.ToUpper(strings.TrimSpace(v.form.Get("registration"))), Type: strings.TrimSpace(v.form.Get("type")),
		Base: v.form.Get("base"), Words: map[string]string{},
	}
	a.Registration, a.Type = e.Registration, e.Type
	a.Base, _ = techlog.ParseID(e.Base) // the zero identifier is no base's
	for _, f := range factChoices {
		e.Words[f.Name] = v.form.Get(f.Name)
		*f.of(&a.Facts) = e.Words[f.Name]
	}
	return a, e
}

// aircraftField gives the faults of an aircraft the names of the form's fields.
func aircraftField(field string) string { return strings.TrimPrefix(field, "facts.") }

func (p *pages) enterAircraft(v *visit) error {
	a, entry := v.aircraft(techlog.Aircraft{})
	id, err := kept[techlog.ID](p.Service.AddAircraft(v, v.who, a, v.once("", nil), keep(func(a techlog.Aircraft) techlog.ID { return a.ID })))
	if refused, ok := notTaken("enter", err, aircraftField); ok {
		return p.keeping(v, keepingView{refusal: refused, Entry: entry})
	}
	if err != nil {
		return err
	}
	return v.goTo("/settings/fleet/" + id.String() + "?done=entered")
}

func (p *pages) showKept(v *visit) error {
	return p.oneKept(v, keepingView{Done: v.URL.Query().Get("done")})
}

func (p *pages) oneKept(v *visit, view keepingView) error {
	a, err := p.aircraftNamed(v)
	if err != nil {
		return err
	}
	list, err := p.Service.Checklist(v, v.who, a.ID)
	if err != nil {
		return err
	}
	view.Templates, err = everyOne(func(page hangar.Page) ([]walkaround.Template, error) {
		return p.Service.ChecklistTemplates(v, v.who, page)
	},
		func(t *walkaround.Template) techlog.ID { return t.ID })
	if err != nil {
		return err
	}
	view.Aircraft, view.Made, view.Checks = a, list.Made, len(list.Composed.Checks)
	view.Units, view.Complete = len(a.Configuration.Units), a.Configuration.UnitsComplete != nil && *a.Configuration.UnitsComplete
	if view.What != "change" {
		view.Entry = aircraftEntry{a.Registration, a.Type, a.Base.String(), map[string]string{}}
		for _, f := range factChoices {
			view.Entry.Words[f.Name] = *f.of(&a.Facts)
		}
	}
	return p.keeping(v, view)
}

// changeAircraft changes what the form has of an aircraft, and nothing else: every flight of it is judged again.
func (p *pages) changeAircraft(v *visit) error {
	id, err := v.named("aircraft")
	if err != nil {
		return err
	}
	version, err := v.version()
	if err != nil {
		return err
	}
	was, err := p.Service.Aircraft(v, v.who, id)
	if err != nil {
		return err
	}
	a, entry := v.aircraft(was)
	change := hangar.AircraftChange{Aircraft: id, Version: version, Registration: &a.Registration, Type: &a.Type, Base: &a.Base, Facts: &a.Facts}
	_, err = p.Service.ChangeAircraft(v, v.who, change, v.once("", nil), keep(func(a techlog.Aircraft) techlog.ID { return a.ID }))
	if refused, ok := notTaken("change", err, aircraftField); ok {
		return p.oneKept(v, keepingView{refusal: refused, Entry: entry})
	}
	if err != nil {
		return err
	}
	return v.goTo("/settings/fleet/" + id.String() + "?done=changed")
}

// chooseChecklist says of which template an aircraft's checklist is made. What the airframe has otherwise stays where the
// template does, and goes with another one, as it was written against that.
func (p *pages) chooseChecklist(v *visit) error {
	id, err := v.named("aircraft")
	if err != nil {
		return err
	}
	version, err := v.version()
	if err != nil {
		return err
	}
	list, err := p.Service.Checklist(v, v.who, id)
	if err != nil {
		return err
	}
	made := list.Made
	made.Aircraft, made.Version = id, version
	template, _ := techlog.ParseID(v.form.Get("template")) // the zero identifier is no template's
	if template != made.Template {
		made.Template, made.Changes = template, walkaround.Changes{}
	}
	_, err = p.Service.ChangeChecklist(v, v.who, made, v.once("", nil), keep(func(l hangar.AircraftChecklist) int { return l.Made.Version }))
	if refused, ok := notTaken("checklist", err, nil); ok {
		return p.oneKept(v, keepingView{refusal: refused})
	}
	if err != nil {
		return err
	}
	return v.goTo("/settings/fleet/" + id.String() + "?done=checklist")
}
