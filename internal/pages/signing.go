package pages

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// signingRoutes are those of whatever is signed.
func (p *pages) signingRoutes() {
	p.acting("GET /squawks/{squawk}/sign/{act}", p.showActForm)
	p.acting("POST /squawks/{squawk}/sign/{act}", p.showWhatIsSigned)
	p.acting("POST /squawks/{squawk}/sign/{act}/signature", p.sign)
	p.acting("GET /aircraft/{aircraft}/inspections", p.showInspections)
	p.acting("GET /aircraft/{aircraft}/sign/{inspection}", p.showActForm)
	p.acting("POST /aircraft/{aircraft}/sign/{inspection}", p.showWhatIsSigned)
	p.acting("POST /aircraft/{aircraft}/sign/{inspection}/signature", p.sign)
}

// desk is where something is signed: the record and the act, what may be signed there, and what the form says so far.
type desk struct {
	hangar.Signable
	Action   string // of the act
	Way      string // kind of inspection, of the work that is approved, or basis of a deferral
	Path     string // of the form
	About    string // page of the record
	Act      hangar.SignableAct
	By       []techlog.Certificate // of the visitor, by which it may be signed
	Work     *casefile.Act         // the work that was signed last; nil: none
	Worker   string                // who signed it
	form     []actField
	Form     actForm
	Chosen   string  // identifier of the certificate
	Given    []field // on record already
	Fields   []field
	Rare     []field // folded away
	Declared []field
	Rests    []techlog.Reason // rows of the book
	Said     url.Values
	Once     string
	Version  int
	Faults   casefile.Faults
	Top      string           // what is wrong with the whole
	Rows     []techlog.Reason // by which rule
	Items    []word           // of the aircraft's upkeep, that may be done with an inspection
	Passkey  bool             // the visitor has one
}

// field is one field of a form, with what it says.
type field struct {
	actField
	ID      string
	Value   string
	Values  []string
	Choices []word
	Fault   *casefile.Fault
}

// Has reports whether a list has an entry ticked.
func (f field) Has(value string) bool { return slices.Contains(f.Values, value) }

// Fault is what is wrong with a field.
func (d *desk) Fault(field string) *casefile.Fault { return faultOf(d.Faults, field) }

// May reports whether the visitor may sign it now, as far as the records tell.
func (d *desk) May() bool { return d.Act.Waits == "" && len(d.By) > 0 }

// Squawked reports whether it is about a squawk.
func (d *desk) Squawked() bool { return !d.Squawk.ID.IsZero() }

// One reports whether there is one certificate to sign by.
func (d *desk) One() bool { return len(d.By) == 1 }

// InspectionName is the inspection in words.
func (d *desk) InspectionName() string { return inWords("inspection", d.Way) }

// Deferred are the squawks that an inspection has to dispose of; none for a test, which looks at one installation alone.
func (d *desk) Deferred() []hangar.DeferredItem {
	if !ofInspection("airworthy", d.Way) {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(d.Beside), func(o hangar.DeferredItem) bool { return o.Squawk.State != techlog.Deferred })
}

// Wrote is what somebody has written who may not sign it: it is not lost.
func (d *desk) Wrote() []string {
	var written []string
	for _, a := range actForms[d.Action].Fields {
		if said := strings.TrimSpace(d.Said.Get(a.Name)); said != "" && (a.As == asText || a.As == asLine || a.As == asParts) {
			written = append(written, said)
		}
	}
	return written
}

// toSign is what is asked about: the record that the address names.
func (d *desk) toSign(act casefile.Act) hangar.ToSign {
	return hangar.ToSign{Aircraft: d.Aircraft.ID, Squawk: d.Squawk.ID, Act: act}
}

// deskOf finds what the address is about. What somebody has written stands in the form still.
func (p *pages) deskOf(v *visit, said url.Values) (*desk, error) {
	d := &desk{Said: said, Once: said.Get("once")}
	if d.Once == "" {
		d.Once = newOnce()
	}
	var err error
	if v.PathValue("squawk") != "" {
		err = p.deskOfSquawk(v, d)
	} else {
		err = p.deskOfAircraft(v, d)
	}
	if err != nil {
		return nil, err
	}
	ids := d.Act.By()
	if d.Action == "inspect" {
		ids = nil
		if i := slices.IndexFunc(d.Act.Ways, func(w hangar.Way) bool { return w.Word == d.Way }); i >= 0 {
			d.Act.Ways = d.Act.Ways[i : i+1]
			ids = d.Act.Ways[0].By
		}
	}
	d.By = slices.DeleteFunc(slices.Clone(d.Certificates), func(c techlog.Certificate) bool { return !slices.Contains(ids, c.ID) })
	d.Form = actForms[d.Action]
	d.form = formOf(d.Action, d.Way, d.By)
	if d.Squawked() {
		d.form = leftOut(&d.Signable, d.form)
	}
	for _, row := range d.Form.Rows {
		if cite := p.cites[row]; cite != "" {
			d.Rests = append(d.Rests, techlog.Reason{Row: row, Citation: cite})
		}
	}
	keys, err := p.People.Passkeys(v, v.who.Person)
	d.Passkey = len(keys) > 0
	return d, err
}

func (p *pages) deskOfSquawk(v *visit, d *desk) error {
	id, err := v.named("squawk")
	if err != nil {
		return err
	}
	d.Action = v.PathValue("act")
	if _, known := actForms[d.Action]; !known || d.Action == "inspect" {
		return techlog.Errorf(kindLost, "nothing of that name is signed about a squawk")
	}
	if d.Signable, err = p.Service.SignableOn(v, v.who, id, d.Said.Get("inspection")); err != nil {
		return err
	}
	d.Path, d.About, d.Version = "/squawks/"+id.String()+"/sign/"+d.Action, "/squawks/"+id.String(), d.Squawk.Version
	d.Act = hangar.SignableAct{Action: d.Action, Waits: "the squawk is " + string(d.Squawk.State)}
	if i := slices.IndexFunc(d.Acts, func(a hangar.SignableAct) bool { return a.Action == d.Action }); i >= 0 {
		d.Act = d.Acts[i]
	}
	story, err := p.Service.Squawk(v, v.who, id)
	if err != nil {
		return err
	}
	return d.readStory(&story)
}

// readStory finds the work on which an approval rests, and the entry that a correction is of.
func (d *desk) readStory(story *hangar.SquawkStory) error {
	for i := range story.Signatures {
		s := &story.Signatures[i]
		act, err := techlog.ActOf(s.Text)
		if err != nil {
			return err
		}
		if act.Action == "work" {
			d.Work, d.Worker = &act, s.Name
		}
		if d.Action == "correct" && s.ID.String() == d.Said.Get("corrects") {
			d.Act = d.correction(act.Action)
		}
	}
	switch {
	case d.Action == "defer" || d.Action == "carry-on":
		d.Way = d.Basis
	case d.Action == "return-to-service" && d.Work != nil:
		d.Way = d.Work.Work
	}
	return nil
}

// correction is the act of correcting an entry: whoever may sign such an entry may. What the table of people says of it is
// asked when it is shown.
func (d *desk) correction(action string) hangar.SignableAct {
	act := hangar.SignableAct{Action: "correct"}
	if action == "correct" {
		act.Waits = "a correction is not corrected: correct the entry that it corrects once more"
		return act
	}
	way := hangar.Way{}
	for _, c := range d.Certificates {
		way.By = append(way.By, c.ID)
	}
	act.Ways = []hangar.Way{way}
	return act
}

// given is what is on record already, which an act repeats.
func (d *desk) given() map[string]string {
	given := map[string]string{"basis": d.Basis, "corrects": d.Said.Get("corrects")}
	if d.Action == "inspect" {
		given["inspection"] = d.Way
	}
	if out := d.Squawk.Progress.OutOfUse; d.Action == "defer" && out != nil {
		given["method"], given["placard"], given["removed_on"] = out.Method, out.Placard, out.RemovedOn
		given["involves_maintenance"] = yesNo(out.InvolvesMaintenance)
	}
	if of := d.Squawk.Deferral; d.Action == "carry-on" && of != nil {
		given["extended_until"] = of.ExtendedUntil
	}
	return given
}

func yesNo(b *bool) string {
	switch {
	case b == nil:
		return ""
	case *b:
		return "yes"
	}
	return "no"
}

// fill puts into the fields what was written, or what is proposed as long as nobody has written anything.
func (d *desk) fill(proposed url.Values) {
	given, written := d.given(), d.Said.Has("certificate")
	if d.Chosen = d.Said.Get("certificate"); !written {
		d.Chosen = proposed.Get("certificate")
	}
	for _, a := range d.form {
		f := field{actField: a, ID: strings.ReplaceAll(a.Name, ".", "-")}
		said := d.Said
		if !written {
			said = proposed
		}
		f.Values, f.Value = said[a.Name], strings.ReplaceAll(said.Get(a.Name), "\r\n", "\n")
		if value, ok := given[a.Name]; ok {
			if value == "" && a.As != asGiven {
				continue // the record says nothing of it, so neither does the act
			}
			f.As, f.Value = asGiven, value
		}
		f.Choices = d.words(a.Words)
		f.Fault = d.Fault(f.ID)
		if f.As == asGiven && f.Value == "" {
			continue
		}
		switch {
		case strings.HasPrefix(a.Name, "declared."):
			d.Declared = append(d.Declared, f)
		case f.As == asGiven:
			d.Given = append(d.Given, f)
		case a.Rare && f.Fault == nil && (f.Value == "" || f.Value == "unknown"):
			d.Rare = append(d.Rare, f)
		default:
			d.Fields = append(d.Fields, f)
		}
	}
}

// words are those of a list, as a form offers them: of work and inspections those that the visitor may sign.
func (d *desk) words(list string) []word {
	switch list {
	case "beside":
		all := make([]word, 0, len(d.Beside))
		for i := range d.Beside {
			o := &d.Beside[i]
			all = append(all, word{o.Squawk.Label(), o.Squawk.Label() + ", " + o.Item + ", " + string(o.Squawk.State) + ": " + o.Squawk.Words})
		}
		return all
	case "items":
		return d.Items
	case "work":
		return slices.DeleteFunc(slices.Clone(actWords[list]), func(w word) bool {
			i := slices.IndexFunc(d.Act.Ways, func(way hangar.Way) bool { return way.Word == w.Value })
			return i < 0 || len(d.Act.Ways[i].By) == 0
		})
	}
	return actWords[list]
}

// act reads a form into the written form of an act. What is on record already stands as it is there, whatever the form says.
func (d *desk) act(form url.Values) (casefile.Act, error) {
	written := map[string]any{"action": d.Action, "certificate": form.Get("certificate")}
	given := d.given()
	var bad casefile.Faults
	for _, a := range d.form {
		said := form.Get(a.Name)
		if value, ok := given[a.Name]; ok {
			said = value
		}
		value, ok := d.read(a, strings.TrimSpace(strings.ReplaceAll(said, "\r\n", "\n")), form[a.Name], &bad)
		if !ok {
			continue
		}
		into, name := written, a.Name
		if part, rest, nested := strings.Cut(a.Name, "."); nested {
			if into[part] == nil {
				into[part] = map[string]any{}
			}
			into, name = into[part].(map[string]any), rest //nolint:forcetypeassert // it was made above
		}
		into[name] = value
	}
	if d.Action == "work" && written["result"] == nil {
		delete(written, "completed") // it is not finished
	}
	if written["airworthy"] == false && written["words"] == foundAirworthy(d.Way) {
		delete(written, "words") // what was proposed says the contrary
	}
	var act casefile.Act
	raw, err := json.Marshal(written)
	if err == nil {
		err = json.Unmarshal(raw, &act)
	}
	if err != nil {
		return act, &techlog.Error{Kind: kindSyntax, Says: "the form cannot be read", Cause: err}
	}
	return act, bad.Err()
}

// read turns what a field says into its value; false if it says nothing.
func (d *desk) read(a actField, said string, all []string, bad *casefile.Faults) (any, bool) {
	if a.As == asList {
		return all, len(all) > 0
	}
	if said == "" || said == "unknown" && a.As == asYesNo {
		return nil, false
	}
	as := a.As
	if as == asGiven && a.Name == "involves_maintenance" {
		as = asYesNo
	}
	switch as {
	case asYesNo:
		return said == "yes", true
	case asTrue:
		return true, true
	case asFalse:
		return false, true
	case asNumber:
		n, err := strconv.ParseFloat(strings.ReplaceAll(said, ",", ""), 64)
		if err != nil || a.Name == "declared.paragraph" && n != float64(int(n)) {
			bad.Add("act."+a.Name, "number", "that is no number", "write digits, with a point before a fraction")
			return nil, false
		}
		return n, true
	case asLastDay:
		end, err := endOfDay(said, d.Zone)
		if err != nil {
			bad.Add("act."+a.Name, "date", "that is no day", "write it as YYYY-MM-DD")
			return nil, false
		}
		return end, true
	case asParts, asAwaited:
		return partsOf(said, as == asAwaited), true
	}
	return said, true
}

// faulty shows the form again, with what is wrong with it. False: the error is none of the form.
func (d *desk) faulty(err error) bool {
	kinds := []techlog.Kind{
		techlog.KindInvalid, techlog.KindForbidden, techlog.KindConflict, techlog.KindStale, techlog.KindReused, techlog.KindNotFound,
	}
	if !slices.Contains(kinds, techlog.KindOf(err)) {
		return false
	}
	shown := func(name string) bool {
		return slices.ContainsFunc(d.form, func(a actField) bool { return a.Name == name })
	}
	for _, f := range faultsOf(err) {
		name := strings.TrimPrefix(f.Field, "act.")
		name, _, _ = strings.Cut(name, "[")
		if !shown(name) || d.given()[name] != "" {
			d.Top = strings.TrimSuffix(d.Top+" "+sentence(f.Says)+" "+sentence(f.Remedy), " ")
			continue
		}
		f.Field = strings.ReplaceAll(name, ".", "-")
		d.Faults = append(d.Faults, f)
	}
	var e *techlog.Error
	if errors.As(err, &e) {
		d.Top, d.Rows = sentence(e.Says), e.Rows
		for _, missing := range e.Missing {
			if name, ok := declaredOf[strings.SplitN(missing, ":", 2)[0]]; ok && shown(name) {
				d.Faults = append(d.Faults, casefile.Fault{
					Field: strings.ReplaceAll(name, ".", "-"), Rule: "declared", Says: "it is not said", Remedy: "say it if it is so: what is not known is no permission",
				})
			}
		}
	}
	return true
}

// declaredOf names the declaration that settles a condition about people.
var declaredOf = map[string]string{
	"part": "declared.part", "rated-for-part": "declared.part", "listed": "declared.paragraph", "did-work": "declared.did_work",
	"understands": "declared.understands", "done-before": "declared.done_before", "within-limits": "declared.within_limits", "rated": "declared.rated",
	"equipped": "declared.equipped", "approved-data": "declared.approved_data", "approved-product": "declared.approved_product",
	"authorized-by-maker": "declared.authorized_by_maker", "installed-by-maker": "declared.installed_by_maker",
	"limitations-name": "declared.limitations_name", "in-command": "declared.in_command", "involves-maintenance": "involves_maintenance",
}

// onceOf makes a signing that is sent twice act once. The proof is no part of what tells two apart: nobody's password is kept,
// not even as a digest, and whoever mistypes it tries again with the same form.
func (v *visit) onceOf(digest [32]byte) *hangar.Once {
	if !v.isOnce() {
		return nil
	}
	said := sha256.New()
	said.Write([]byte("sign\x00" + v.URL.Path + "\x00"))
	said.Write(digest[:])
	return &hangar.Once{Token: v.who.Token, Key: "page " + v.form.Get("once"), Digest: [32]byte(said.Sum(nil))}
}

// proof is what the visitor proves to be the signer by.
func (v *visit) proof() hangar.Proof {
	if response := v.form.Get("response"); response != "" {
		challenge, _ := techlog.ParseID(v.form.Get("challenge"))
		return hangar.Proof{Passkey: &hangar.PasskeyProof{Challenge: challenge, Response: json.RawMessage(response)}}
	}
	return hangar.Proof{Password: v.form.Get("password")}
}

func digestIn(s string) (digest [32]byte, ok bool) {
	raw, err := hex.DecodeString(s)
	if err != nil || len(raw) != len(digest) {
		return digest, false
	}
	return [32]byte(raw), true
}

// carriedOn are the fields of a form that go along to the next step, hidden.
func carriedOn(form url.Values) []word {
	var all []word
	for _, name := range slices.Sorted(maps.Keys(form)) {
		if slices.Contains([]string{"form_token", "once", "password", "response", "challenge", "digest", "version", "edit", "account"}, name) {
			continue
		}
		for _, value := range form[name] {
			all = append(all, word{name, value})
		}
	}
	return all
}

// statusOf is the status by which a refusal is shown.
func statusOf(err error) int {
	if err == nil {
		return http.StatusOK
	}
	return problems[kindOf(err)].status
}
