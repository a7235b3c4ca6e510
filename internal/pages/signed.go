package pages

import (
	"cmp"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// line is one line of what would be signed, or was, as people read it.
type line struct{ Label, Words string }

// textView is a canonical text as people read it, with the text itself.
type textView struct {
	Lines    []line
	Declared []line
	By       string
	Text     string
	Digest   string
}

// readText reads a canonical text: nothing is shown that does not stand in it.
func readText(text string, digest [32]byte, zone *time.Location) (textView, error) {
	view := textView{Text: text, Digest: hex.EncodeToString(digest[:])}
	act, err := techlog.ActOf(text)
	if err != nil {
		return view, err
	}
	var whole struct {
		Act    map[string]any `json:"act"`
		Signer struct {
			Name, Kind, Number string
		} `json:"signer"`
	}
	if err := json.Unmarshal([]byte(text), &whole); err != nil {
		return view, err
	}
	view.By = whole.Signer.Name + ", " + whole.Signer.Kind + " certificate " + whole.Signer.Number
	for _, a := range slices.Concat(actForms[act.Action].Fields, declarations) {
		value, ok := valueAt(whole.Act, a.Name)
		if !ok {
			continue
		}
		l := line{strings.TrimSuffix(a.Label, ": tick each that you have looked at"), said(a, value, zone)}
		if strings.HasPrefix(a.Name, "declared.") {
			view.Declared = append(view.Declared, l)
		} else {
			view.Lines = append(view.Lines, l)
		}
	}
	return view, nil
}

// valueAt is the value of a field of an act's written form.
func valueAt(act map[string]any, name string) (any, bool) {
	part, rest, nested := strings.Cut(name, ".")
	value, ok := act[part]
	if !nested || !ok {
		return value, ok
	}
	inner, ok := value.(map[string]any)
	if !ok {
		return nil, false
	}
	value, ok = inner[rest]
	return value, ok
}

// said is a value as people read it.
func said(a actField, value any, zone *time.Location) string {
	switch value := value.(type) {
	case bool:
		if value == (a.As != asFalse) {
			return "Yes"
		}
		return "No"
	case string:
		if a.As == asLastDay {
			if at, err := time.Parse(time.RFC3339, value); err == nil {
				return lastDay(at.In(zone))
			}
		}
		return inWords(a.Words, value)
	case float64:
		return strconv.FormatFloat(value, 'f', -1, 64)
	case []any:
		all := make([]string, len(value))
		for i, one := range value {
			all[i] = said(a, one, zone)
		}
		return strings.Join(all, "\n")
	case map[string]any: // a part
		var words []string
		for _, name := range []string{"part", "number", "expected"} {
			if s, ok := value[name].(string); ok {
				words = append(words, s)
			}
		}
		return strings.Join(words, ", ")
	}
	return fmt.Sprint(value)
}

// lastDay is an end as people read it: of one at midnight, the day that it ends with.
func lastDay(end time.Time) string {
	if end.Hour() != 0 || end.Minute() != 0 || end.Second() != 0 {
		return moment(end)
	}
	return end.Add(-time.Second).Format("Mon 2 Jan 2006, to midnight MST")
}

// shownView is what would be signed, with what it takes to sign it.
type shownView struct {
	*desk
	Shown   hangar.Shown
	Text    textView
	Carried []word
	Wrong   string // with the proof
	Moved   bool   // it is another text than was shown before
}

func (p *pages) showActForm(v *visit) error {
	d, err := p.deskOf(v, v.URL.Query())
	if err != nil {
		return err
	}
	return p.actForm(v, ok, d)
}

func (p *pages) actForm(v *visit, status int, d *desk) error {
	proposed, err := p.proposed(v, d)
	if err != nil {
		return err
	}
	d.fill(proposed)
	title := d.Form.Title + ", " + d.Aircraft.Registration
	return p.showIn(v, status, "sign", frame{Title: title, Here: d.here(), Page: d})
}

func (d *desk) here() string {
	if d.Squawked() {
		return "squawks"
	}
	return "fleet"
}

// showWhatIsSigned shows what would be signed, letter by letter, or the form with what is wrong with it.
func (p *pages) showWhatIsSigned(v *visit) error {
	d, err := p.deskOf(v, v.form)
	if err != nil {
		return err
	}
	if v.form.Has("edit") {
		return p.actForm(v, ok, d)
	}
	return p.preview(v, ok, d, shownView{})
}

// preview shows what would be signed now. view says what went wrong before, if anything did.
func (p *pages) preview(v *visit, status int, d *desk, view shownView) error {
	act, err := d.act(v.form)
	if err == nil {
		view.Shown, err = p.Service.Preview(v, v.who, d.toSign(act))
	}
	if err != nil {
		if !d.faulty(err) {
			return err
		}
		return p.actForm(v, statusOf(err), d)
	}
	view.desk, view.Carried = d, carriedOn(v.form)
	if view.Text, err = readText(view.Shown.Text, view.Shown.Digest, d.Zone); err != nil {
		return err
	}
	return p.showIn(v, status, "sign-shown", frame{Title: "What you sign, " + d.Aircraft.Registration, Here: d.here(), Page: &view})
}

// signedHere is what is kept of something that was signed from a page.
type signedHere struct {
	Signature techlog.ID
	Released  int // flights that go now and did not
}

func (p *pages) sign(v *visit) error {
	d, err := p.deskOf(v, v.form)
	if err != nil {
		return err
	}
	digest, okDigest := digestIn(v.form.Get("digest"))
	version, errVersion := strconv.Atoi(v.form.Get("version"))
	if !okDigest || errVersion != nil || version < 1 {
		return techlog.Errorf(kindSyntax, "the form does not say what was shown")
	}
	act, err := d.act(v.form)
	if err != nil {
		if !d.faulty(err) {
			return err
		}
		return p.actForm(v, statusOf(err), d)
	}
	to := d.toSign(act)
	to.Version = version
	made, err := kept[signedHere](p.Service.Sign(v, v.who, hangar.Signing{ToSign: to, Digest: digest, Proof: v.proof()}, v.onceOf(digest),
		keep(func(s hangar.Signed) signedHere { return signedHere{s.Signature.ID, released(s.Changes)} })))
	switch kind := techlog.KindOf(err); {
	case kind == techlog.KindUnproven, kind == techlog.KindRateLimited:
		return p.preview(v, statusOf(err), d, shownView{Wrong: wrongProof(err)})
	case kind == techlog.KindStale:
		return p.preview(v, statusOf(err), d, shownView{Moved: true})
	case err != nil && d.faulty(err):
		return p.actForm(v, statusOf(err), d)
	case err != nil:
		return err
	}
	return v.goTo(d.About + "?" + url.Values{"signed": {made.Signature.String()}, "released": {strconv.Itoa(made.Released)}}.Encode())
}

func wrongProof(err error) string {
	if techlog.KindOf(err) == techlog.KindRateLimited {
		return sentence(err.Error()) + " Nothing was signed."
	}
	return "That does not prove who you are. Nothing was signed: give your password again."
}

// released counts the flights that may go now and might not before.
func released(changes []techlog.HoldChange) int {
	holds := func(verdict string) bool { return techlog.Hold{Verdict: verdict}.Holds() }
	n := 0
	for _, c := range changes {
		if !holds(c.Is) && holds(c.Was) && !c.Blocked {
			n++
		}
	}
	return n
}

// proposed is what a form says before anybody has written anything: what the records know. It signs nothing.
func (p *pages) proposed(v *visit, d *desk) (url.Values, error) {
	q := url.Values{}
	set := func(name, value string) {
		if value != "" {
			q.Set(name, value)
		}
	}
	if len(d.By) > 0 {
		set("certificate", d.By[0].ID.String())
	}
	set("completed", d.Today)
	if d.Action == "inspect" {
		return q, p.proposeInspection(v, d, set)
	}
	what := d.Subject.Item
	if d.Subject.Unit != "" {
		what += " (" + strings.Join(filled(d.Subject.Unit, d.Subject.Place), ", ") + ")"
	}
	switch d.Action {
	case "out-of-use":
		set("method", "deactivated")
		set("placard", "Inoperative")
		set("done", what+": reported as “"+d.Squawk.Words+"” Put out of use and placarded.")
		set("removed_on", d.Removed)
		if d.ELTPlacard != "" {
			set("method", "removed")
			set("placard", d.ELTPlacard)
			set("removed_on", cmp.Or(d.Removed, d.Today))
		}
	case "defer":
		set("method", "deactivated")
		set("placard", "Inoperative")
		set("entry", d.entryOfOutOfUse())
		if d.Basis == casefile.ByMEL {
			set("discovered", d.Squawk.ReportedAt.In(d.Zone).Format(time.DateOnly))
		}
		set("until", d.lastDay())
	case "carry-on":
		set("inspection", d.Said.Get("inspection"))
		set("until", d.lastDay())
	case "extend":
		set("until", "")
	case "work":
		set("found", "Reported: "+d.Squawk.Words)
		set("done", what+": ")
	case "return-to-service":
		if w := d.Work; w != nil {
			set("done", strings.Join(filled(w.Done), "\n"))
			set("data", w.Data)
			q.Set("completed", cmp.Or(w.Completed, d.Today))
			if d.Worker != v.who.Name {
				set("performed_by", cmp.Or(w.PerformedBy, d.Worker))
			} else {
				set("performed_by", w.PerformedBy)
			}
		}
	}
	return q, nil
}

// entryOfOutOfUse names the entry that was signed here, for a deferral to refer to.
func (d *desk) entryOfOutOfUse() string {
	out := d.Squawk.Progress.OutOfUse
	if out == nil {
		return ""
	}
	return "Squawk " + d.Squawk.Label() + ", out of use, signature " + out.Signature.String()
}

// lastDay is the latest day on which a deferral may end, at the aircraft's base; empty if the records set none.
func (d *desk) lastDay() string {
	if len(d.Limits) == 0 {
		return ""
	}
	return d.Limits[0].End.In(d.Zone).Add(-time.Second).Format(time.DateOnly)
}

// Latest is what ends a deferral at the latest, in words.
func (d *desk) Latest() string {
	if len(d.Limits) == 0 {
		return ""
	}
	return sentence("at the latest " + d.lastDay() + ": " + d.Limits[0].By)
}

func filled(words ...string) []string {
	return slices.DeleteFunc(words, func(w string) bool { return strings.TrimSpace(w) == "" })
}

// endOfDay is the end of a civil day in a zone.
func endOfDay(day string, zone *time.Location) (time.Time, error) {
	at, err := time.ParseInLocation(time.DateOnly, day, zone)
	if err != nil {
		return at, err
	}
	return time.Date(at.Year(), at.Month(), at.Day()+1, 0, 0, 0, 0, zone), nil
}

// partsOf reads parts that stand one a line, each with a number or a day after its last comma.
func partsOf(text string, awaited bool) []map[string]string {
	var parts []map[string]string
	more := "number"
	if awaited {
		more = "expected"
	}
	for l := range strings.SplitSeq(text, "\n") {
		if l = strings.TrimSpace(l); l == "" {
			continue
		}
		part := map[string]string{"part": l}
		if i := strings.LastIndex(l, ","); i >= 0 && strings.TrimSpace(l[i+1:]) != "" {
			part["part"], part[more] = strings.TrimSpace(l[:i]), strings.TrimSpace(l[i+1:])
		}
		parts = append(parts, part)
	}
	return parts
}
