package pages

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// item is an entry of the catalog, as a form offers it.
type item struct {
	Key, Name string
	Words     string // by which it is found, in small letters
	Nature    string
}

func catalog(rules *airworthiness.Ruleset) []item {
	rows := rules.Items()
	items := make([]item, len(rows))
	for i, row := range rows {
		items[i] = item{row.Item, row.Name, strings.ToLower(row.Name + " " + strings.Join(row.Synonyms, " ")), row.Nature}
	}
	slices.SortFunc(items, func(a, b item) int { return cmp.Compare(a.Name, b.Name) })
	return items
}

// subject is something that a squawk may be about, as a form offers it.
type subject struct {
	Value string // unit:NAME or item:NAME
	Words string // as it is read
	Found string // other words by which it is found
	Kind  string // of squawk that it commonly is
}

// squawkForm is what the form to file a squawk shows.
type squawkForm struct {
	Aircraft  techlog.Aircraft
	Installed []subject
	Parts     []subject
	Other     []subject
	Once      string
	Kind      string
	About     string
	Words     string
	Faults    casefile.Faults
	Sent      bool // the form was sent before with other words
	Query     string
}

// Fault is what is wrong with a field.
func (f squawkForm) Fault(field string) *casefile.Fault { return faultOf(f.Faults, field) }

func (p *pages) showSquawkForm(v *visit) error {
	a, err := p.aircraftNamed(v)
	if err != nil {
		return err
	}
	if err := v.who.Require(techlog.FileSquawk); err != nil {
		return err
	}
	return p.squawkForm(v, ok, squawkForm{Aircraft: a, Once: newOnce()})
}

func (p *pages) squawkForm(v *visit, status int, f squawkForm) error {
	f.Installed, f.Parts, f.Other = p.subjects(&f.Aircraft)
	return p.showIn(v, status, "squawk-form", frame{Title: "File a squawk, " + f.Aircraft.Registration, Here: "fleet", Page: &f})
}

// subjects are what a squawk of an aircraft may be about: what is installed, parts and conditions, and other equipment.
func (p *pages) subjects(a *techlog.Aircraft) (installed, parts, other []subject) {
	byKey := map[string]item{}
	for _, i := range p.items {
		byKey[i.Key] = i
	}
	for _, u := range a.Configuration.Units {
		i := byKey[u.Item]
		words := cmp.Or(i.Name, u.Item)
		if u.Where != "" {
			words += ", " + u.Where
		}
		installed = append(installed, subject{"unit:" + u.ID, words, i.Words + " " + strings.ToLower(u.ID+" "+u.Where), "inoperative"})
	}
	slices.SortFunc(installed, func(a, b subject) int { return cmp.Compare(a.Words, b.Words) })
	for _, i := range p.items {
		s := subject{"item:" + i.Key, i.Name, i.Words, "condition"}
		if i.Nature == "condition" {
			parts = append(parts, s)
			continue
		}
		other = append(other, s)
	}
	return installed, parts, other
}

// filed is what is kept of a squawk that was filed from a page.
type filed struct {
	Squawk  techlog.ID
	Changes int
}

func (p *pages) fileSquawk(v *visit) error {
	a, err := p.aircraftNamed(v)
	if err != nil {
		return err
	}
	form := squawkForm{Aircraft: a, Kind: v.form.Get("kind"), About: v.form.Get("about"), Words: v.text("words"), Once: v.form.Get("once")}
	photo, err := v.upload("photo")
	if err != nil {
		return err
	}
	report := hangar.SquawkReport{Aircraft: a.ID, Kind: form.Kind, Words: form.Words}
	if unit, ok := strings.CutPrefix(form.About, "unit:"); ok {
		report.Unit = unit
	} else if item, ok := strings.CutPrefix(form.About, "item:"); ok {
		report.Item = item
	}
	made, err := kept[filed](p.Service.FileSquawk(v, v.who, report, v.once("", nil), keep(func(f hangar.FiledSquawk) filed {
		return filed{f.Squawk.ID, len(f.Changes)}
	})))
	if kind := techlog.KindOf(err); kind == techlog.KindInvalid || kind == techlog.KindReused {
		form.Faults = subjectFaults(err)
		if form.Sent = kind == techlog.KindReused; form.Sent {
			form.Once = newOnce()
		}
		return p.squawkForm(v, problems[kind].status, form)
	}
	if err != nil {
		return err
	}
	to := "/squawks/" + made.Squawk.String() + "?filed=yes"
	if len(photo) > 0 {
		if err := p.keepPhoto(v, techlog.PhotoOf{Squawk: made.Squawk}, photo); err != nil {
			trouble := photoTrouble(err)
			if v.queued() && trouble == photoFailed {
				return err // a queue sends it again: the squawk is known by then
			}
			to += "&photo=" + trouble // the squawk stands; its page says that the photo does not
			v.says = append(v.says, "The squawk is on record, its photo is not. "+photoLost(trouble))
		}
	}
	return v.goTo(to)
}

// subjectFaults gives faults the names of the form's fields.
func subjectFaults(err error) casefile.Faults {
	faults := faultsOf(err)
	for i := range faults {
		if faults[i].Field == "unit" || faults[i].Field == "item" {
			faults[i].Field, faults[i].Remedy = "about", "choose it from the list"
		}
		if faults[i].Field == "kind" {
			faults[i].Remedy = "say whether it does not work, or is a condition"
		}
	}
	return faults
}

func (p *pages) keepPhoto(v *visit, of techlog.PhotoOf, raw []byte) error {
	_, err := p.Service.AddPhoto(v, v.who, hangar.Upload{Of: of, Raw: raw}, v.once(" photo", raw), keep(func(f techlog.Photo) techlog.ID { return f.ID }))
	return err
}

// Why a photo was not taken, as an address says it.
func photoTrouble(err error) string {
	if kind := techlog.KindOf(err); kind == techlog.KindInvalid || kind == techlog.KindForbidden {
		return string(kind)
	}
	return photoFailed
}

// photoFailed is when it may be taken if it is sent again.
const photoFailed = "failed"

// storyView is a squawk with its whole story.
type storyView struct {
	hangar.SquawkStory
	Aircraft techlog.Aircraft
	Subject  hangar.Subject
	Zone     *time.Location
	Photos   []techlog.Photo
	Work     *hangar.Work // nil: it is closed
	Verdict  string       // the worst that it does to any kind of operation
	ToDo     []casefile.ToDo
	Rows     []casefile.Finding // that it breaks, each once
	Filed    bool               // just now
	Trouble  string             // why a photo was not taken
	MayNote  bool
	Once     string
	Words    string
	Faults   casefile.Faults
	Moves    movesView

	Acts     []openAct       // that may be signed, or will be
	Signed   []signatureView // oldest first
	New      *signatureView  // signed just now
	Released string          // how many flights that released, in words
	Undo     *undoView       // what was done just now; nil: nothing
}

// Fault is what is wrong with a field.
func (s storyView) Fault(field string) *casefile.Fault { return faultOf(s.Faults, field) }

// Open says whether the squawk is not closed.
func (s storyView) Open() bool { return s.Squawk.Open() }

const photosShown = 50

func (p *pages) showSquawk(v *visit) error {
	id, err := v.named("squawk")
	if err != nil {
		return err
	}
	q := v.URL.Query()
	return p.story(v, ok, id, storyView{Filed: q.Get("filed") != "", Trouble: q.Get("photo"), Once: newOnce()})
}

func (p *pages) story(v *visit, status int, id techlog.ID, view storyView) (err error) {
	if view.SquawkStory, err = p.Service.Squawk(v, v.who, id); err != nil {
		return err
	}
	q := &view.Squawk
	if view.Aircraft, err = p.Service.Aircraft(v, v.who, q.Aircraft); err != nil {
		return err
	}
	base, err := p.Service.Base(v, v.who, view.Aircraft.Base)
	if err != nil {
		return err
	}
	view.Zone, view.Subject = zoneOf(base), p.Service.SubjectOf(q, &view.Aircraft)
	view.MayNote = v.who.May(techlog.AddNote)
	if view.SquawkStory.Photos > 0 {
		if view.Photos, err = p.Service.Photos(v, v.who, hangar.PhotoFilter{Squawk: id}, hangar.Page{Limit: photosShown}); err != nil {
			return err
		}
	}
	var works []hangar.Work
	if q.Open() {
		works, err = p.Service.WorkList(v, v.who, q.Aircraft)
		if err != nil {
			return err
		}
		if i := slices.IndexFunc(works, func(w hangar.Work) bool { return w.Squawk.ID == id }); i >= 0 {
			view.Work = &works[i]
		}
		if err := p.bearing(v, &view); err != nil {
			return err
		}
	}
	p.offerMoves(v, &view, works)
	p.offerUndo(v, &view)
	if err := p.offerSigning(v, &view); err != nil {
		return err
	}
	title := "Squawk " + q.Label() + ", " + view.Aircraft.Registration
	return p.showIn(v, status, "squawk", frame{Title: title, Here: "squawks", Page: &view, Live: announced, About: view.Aircraft.ID.String()})
}

// bearing looks up what a squawk does to the kinds of operation, and what is to be done about it.
func (p *pages) bearing(v *visit, view *storyView) error {
	s, err := p.status(v, view.Squawk.Aircraft)
	if err != nil {
		return err
	}
	worst := airworthiness.Clear
	for _, kind := range s.Kinds {
		for _, f := range kind.Findings {
			if f.Defect != view.Squawk.Label() {
				continue
			}
			if verdict, ok := airworthiness.ParseVerdict(f.Verdict); ok {
				worst = max(worst, verdict)
			}
			for _, t := range f.ToDo {
				view.ToDo = addToDo(view.ToDo, t)
			}
			same := func(r casefile.Finding) bool { return r.Row == f.Row && r.Says == f.Says }
			if !slices.ContainsFunc(view.Rows, same) {
				view.Rows = append(view.Rows, f)
			}
		}
	}
	view.Verdict = worst.String()
	return nil
}

func (p *pages) addNote(v *visit) error {
	id, err := v.named("squawk")
	if err != nil {
		return err
	}
	words := v.text("words")
	_, err = p.Service.AddNote(v, v.who, hangar.Note{Squawk: id, Words: words}, v.once("", nil), keep(func(e techlog.HistoryEntry) int { return e.Number }))
	if kind := techlog.KindOf(err); kind == techlog.KindInvalid || kind == techlog.KindReused {
		faults := faultsOf(err)
		if kind == techlog.KindReused {
			faults.Add("words", "once", "the note was added before, with other words", "look at the story, and add it now if you mean a further one")
		}
		return p.story(v, problems[kind].status, id, storyView{Words: words, Faults: faults, Once: newOnce()})
	}
	if err != nil {
		return err
	}
	return v.goTo("/squawks/" + id.String() + "#story")
}

func (p *pages) addPhoto(v *visit) error {
	id, err := v.named("squawk")
	if err != nil {
		return err
	}
	photo, err := v.upload("photo")
	if err != nil {
		return err
	}
	if len(photo) == 0 {
		faults := casefile.Faults{{Field: "photo", Rule: "required", Says: "no photo was chosen", Remedy: "take one or choose one first"}}
		return p.story(v, problems[techlog.KindInvalid].status, id, storyView{Faults: faults, Once: newOnce()})
	}
	err = p.keepPhoto(v, techlog.PhotoOf{Squawk: id}, photo)
	if techlog.KindOf(err) == techlog.KindInvalid {
		faults := faultsOf(err)
		for i := range faults {
			faults[i].Field = "photo"
		}
		return p.story(v, problems[techlog.KindInvalid].status, id, storyView{Faults: faults, Once: newOnce()})
	}
	if err != nil {
		return err
	}
	return v.goTo("/squawks/" + id.String() + "#photos")
}

// workView is the list of work, by what it frees.
type workView struct {
	Work    []hangar.Work
	Now     time.Time
	Flights int // that are held by a squawk
}

func (p *pages) showWorkList(v *visit) error {
	works, err := p.Service.WorkList(v, v.who, techlog.ID{})
	if err != nil {
		return err
	}
	view := workView{Work: works, Now: p.Now()}
	held := map[techlog.ID]bool{}
	for _, w := range works {
		for i := range w.Holds {
			held[w.Holds[i].ID] = true
		}
	}
	view.Flights = len(held)
	return p.showIn(v, ok, "squawks", frame{Title: "Squawks", Here: "squawks", Page: &view, Live: renewed})
}
