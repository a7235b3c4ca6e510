package pages

import (
	"net/url"
	"slices"
	"strconv"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// undoView is what was done just now without a signature, with the step that takes it back, where the life of a squawk has one.
type undoView struct {
	Done     string // what was done
	Step     techlog.SquawkStep
	Words    string
	Kind     string
	About    string
	Of       string
	Expected string
	None     string // why nothing takes it back
}

// May reports whether there is a step back.
func (u *undoView) May() bool { return u.Step != "" }

// leadsBack is the address after a move: it says what was done and what was so before, so that the page can offer to undo it.
func leadsBack(before *techlog.Squawk, m *hangar.Move) string {
	q := url.Values{"moved": {string(m.Step)}, "version": {strconv.Itoa(before.Version + 1)}}
	switch m.Step {
	case techlog.StepConfirm:
		about := "item:" + before.Item
		if before.Unit != "" {
			about = "unit:" + before.Unit
		}
		if now := m.About; now != nil && (now.Kind != before.Kind || now.Unit != before.Unit || now.Item != before.Item) {
			q.Set("kind", before.Kind)
			q.Set("about", about)
		}
	case techlog.StepReopen:
		if !before.DuplicateOf.IsZero() {
			q.Set("of", before.DuplicateOf.String())
		}
	case techlog.StepExpect:
		if e := before.Expected; e != nil {
			q.Set("expected", e.On)
			q.Set("words", e.Words)
		}
	default: // a duplicate is reopened
	}
	return "/squawks/" + before.ID.String() + "?" + q.Encode() + "#moved"
}

// offerUndo offers to take back what was done just now. Once somebody has changed the squawk again, nothing is offered: what
// would be taken back is no longer the last step.
func (p *pages) offerUndo(v *visit, view *storyView) {
	q := v.URL.Query()
	version, err := strconv.Atoi(q.Get("version"))
	if err != nil || version != view.Squawk.Version || isWrite(v.Request) {
		return
	}
	u := &undoView{}
	switch techlog.SquawkStep(q.Get("moved")) {
	case techlog.StepConfirm:
		u.Done, u.None = "Confirmed", "What it is about can be confirmed anew as long as no work on it is signed."
		if about := q.Get("about"); about != "" {
			u.Step, u.Kind, u.About, u.Words = techlog.StepConfirm, q.Get("kind"), about, "Undone: it is about what was reported."
		}
	case techlog.StepDuplicate:
		u.Done, u.Step, u.Words = "Closed as a duplicate", techlog.StepReopen, "Undone: it is no duplicate."
	case techlog.StepReopen:
		u.Done, u.None = "Reopened", "Nothing takes that back: it is closed again by work that is signed."
		if of := q.Get("of"); of != "" {
			u.Step, u.Of, u.Words = techlog.StepDuplicate, of, "Undone: it is a duplicate after all."
		}
	case techlog.StepExpect:
		u.Done, u.Step, u.Expected, u.Words = "Entered what is expected", techlog.StepExpect, q.Get("expected"), q.Get("words")
		if u.Words == "" {
			u.Words = "Undone: nobody knows when."
		}
	default:
		return
	}
	needs := techlog.ConfirmSquawk
	if u.Step == techlog.StepReopen {
		needs = techlog.ReopenSquawk
	}
	if u.Step != "" && !v.who.May(needs) {
		u.Step = ""
	}
	view.Undo = u
}

// openAct is an act that a squawk's page offers to sign.
type openAct struct {
	hangar.SignableAct
	Form actForm
	May  bool
}

// offerSigning says which acts may be signed about a squawk, by the visitor and by others, and reads what was signed.
func (p *pages) offerSigning(v *visit, view *storyView) error {
	var err error
	if view.Signed, err = signaturesIn(view.Signatures, view.Zone, v.URL.Query().Get("signed")); err != nil {
		return err
	}
	for i := range view.Signed {
		if view.Signed[i].New {
			view.New, view.Released = &view.Signed[i], releasedWords(v)
		}
	}
	if !view.Squawk.Open() {
		return nil
	}
	signable, err := p.Service.SignableOn(v, v.who, view.Squawk.ID, "")
	if err != nil {
		return err
	}
	for _, a := range signable.Acts {
		view.Acts = append(view.Acts, openAct{a, actForms[a.Action], a.Waits == "" && len(a.By()) > 0})
	}
	return nil
}

// Next is the act that comes next, of those that the visitor may sign: what ends the work, before what defers it.
func (s *storyView) Next() string {
	for _, action := range []string{"check-flight", "return-to-service", "defer", "work"} {
		if slices.ContainsFunc(s.Acts, func(a openAct) bool { return a.May && a.Action == action }) {
			return action
		}
	}
	return ""
}

// Waiting reports whether something may be signed only later.
func (s *storyView) Waiting() bool {
	return slices.ContainsFunc(s.Acts, func(a openAct) bool { return a.Waits != "" })
}

// SignatureOf is the signature of an entry of the history; nil if it has none.
func (s *storyView) SignatureOf(id techlog.ID) *signatureView {
	for i := range s.Signed {
		if s.Signed[i].ID == id && !id.IsZero() {
			return &s.Signed[i]
		}
	}
	return nil
}
