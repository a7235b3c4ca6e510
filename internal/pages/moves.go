package pages

import (
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// movesView is what somebody may do with a squawk without signing.
type movesView struct {
	Confirm   bool
	Reopen    bool
	Expect    bool
	Expected  string        // day on which it is expected to be worked off
	Others    []hangar.Work // open squawks of the aircraft that say the same of the same
	Installed []subject
	Parts     []subject
	Other     []subject
	Kind      string
	About     string
	Words     string
	Step      string
	Once      string
	Faults    casefile.Faults
	Stale     bool // somebody has changed the squawk since the form was opened
}

// Any reports whether there is anything to do.
func (m movesView) Any() bool { return m.Confirm || m.Reopen || m.Expect }

// Fault is what is wrong with a field.
func (m movesView) Fault(field string) *casefile.Fault { return faultOf(m.Faults, field) }

// offerMoves says what the visitor may do with a squawk. What the form said stands in it still.
func (p *pages) offerMoves(v *visit, view *storyView, works []hangar.Work) {
	q, m := &view.Squawk, &view.Moves
	m.Confirm = q.State == techlog.Reported && v.who.May(techlog.ConfirmSquawk)
	m.Reopen = q.State != techlog.Reported && v.who.May(techlog.ReopenSquawk)
	m.Expect = q.Open() && v.who.May(techlog.ConfirmSquawk)
	if e := q.Expected; e != nil && m.Step != string(techlog.StepExpect) {
		m.Expected = e.On
	}
	if m.Once == "" {
		m.Once = newOnce()
	}
	if m.Kind == "" {
		m.Kind, m.About = q.Kind, "item:"+q.Item
		if q.Unit != "" {
			m.About = "unit:" + q.Unit
		}
	}
	if !m.Confirm {
		return
	}
	m.Installed, m.Parts, m.Other = p.subjects(&view.Aircraft)
	for _, w := range works {
		o := &w.Squawk
		if o.ID != q.ID && o.Kind == q.Kind && o.Unit == q.Unit && o.Item == q.Item {
			m.Others = append(m.Others, w)
		}
	}
}

// moveSquawk confirms a squawk, closes it as a duplicate, says when it is expected to be worked off, or reopens it. Whoever has not seen its newest version is shown
// that first.
func (p *pages) moveSquawk(v *visit) error {
	id, err := v.named("squawk")
	if err != nil {
		return err
	}
	version, err := strconv.Atoi(v.form.Get("version"))
	if err != nil {
		return &techlog.Error{Kind: kindSyntax, Says: "the form does not say which version of the squawk was seen", Cause: err}
	}
	form := movesView{Step: v.form.Get("step"), Kind: v.form.Get("kind"), About: v.form.Get("about"), Words: v.text("words"), Expected: v.form.Get("expected")}
	before, err := p.Service.Squawk(v, v.who, id)
	if err != nil {
		return err
	}
	m := hangar.Move{Squawk: id, Version: version, Step: techlog.SquawkStep(form.Step), Words: form.Words}
	switch m.Step {
	case techlog.StepConfirm:
		m.About = subjected(form.Kind, form.About)
	case techlog.StepDuplicate:
		m.Of, _ = techlog.ParseID(v.form.Get("of")) // the zero identifier is refused by name
	case techlog.StepExpect:
		m.Expected = form.Expected
	default: // it is about no other
	}
	_, err = kept[techlog.ID](p.Service.MoveSquawk(v, v.who, m, v.once("", nil), keep(func(f hangar.FiledSquawk) techlog.ID { return f.Squawk.ID })))
	kinds := []techlog.Kind{techlog.KindInvalid, techlog.KindStale, techlog.KindConflict, techlog.KindReused}
	if kind := techlog.KindOf(err); slices.Contains(kinds, kind) {
		form.Faults, form.Stale = moveFaults(err), kind == techlog.KindStale
		return p.story(v, problems[kind].status, id, storyView{Moves: form, Once: newOnce()})
	}
	if err != nil {
		return err
	}
	if before.Squawk.Version != version {
		return v.goTo("/squawks/" + id.String() + "#story") // a form that was sent again
	}
	return v.goTo(leadsBack(&before.Squawk, &m))
}

func subjected(kind, about string) *hangar.Subjected {
	s := &hangar.Subjected{Kind: kind}
	if unit, ok := strings.CutPrefix(about, "unit:"); ok {
		s.Unit = unit
	} else {
		s.Item = strings.TrimPrefix(about, "item:")
	}
	return s
}

// moveFaults gives faults the names of the form's fields. What contradicts the record has no field: it stands above.
func moveFaults(err error) casefile.Faults {
	faults := subjectFaults(err)
	for i := range faults {
		if name, ok := strings.CutPrefix(faults[i].Field, "about."); ok && name != "kind" {
			faults[i].Field = "about"
		}
	}
	if len(faults) == 0 && techlog.KindOf(err) != techlog.KindStale {
		faults.Add("step", "record", strings.TrimSuffix(err.Error(), "."), "look at the record as it is now")
	}
	return faults
}
