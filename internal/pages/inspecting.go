package pages

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// deskOfAircraft finds the inspection that the address names.
func (p *pages) deskOfAircraft(v *visit, d *desk) error {
	id, err := v.named("aircraft")
	if err != nil {
		return err
	}
	d.Action, d.Way = "inspect", v.PathValue("inspection")
	if !slices.Contains(casefile.ActWords("inspection"), d.Way) {
		return techlog.Errorf(kindLost, "there is no inspection of that name")
	}
	if d.Signable, err = p.Service.SignableInspections(v, v.who, id, d.Way, d.Said.Get("completed")); err != nil {
		return err
	}
	d.Act = d.Acts[0]
	d.Path, d.About, d.Version = "/aircraft/"+id.String()+"/sign/"+d.Way, "/aircraft/"+id.String()+"/inspections", d.Aircraft.Version
	if record := d.Aircraft.Facts.Upkeep; record != nil {
		for _, i := range record.Items {
			d.Items = append(d.Items, word{i.ID, strings.Join(filled(i.ID, i.What), ": ")})
		}
	}
	return nil
}

// proposeInspection proposes what the entry of an inspection says.
func (p *pages) proposeInspection(v *visit, d *desk, set func(name, value string)) error {
	set("extent", "The whole aircraft.")
	if !ofInspection("airworthy", d.Way) {
		set("extent", inWords("inspection", d.Way)+".")
		return nil
	}
	set("words", foundAirworthy(d.Way))
	hours, err := p.timeInService(v, d.Aircraft)
	set("total_time_hours", hours)
	return err
}

// foundAirworthy is the statement that an aircraft was found airworthy, in the words of 14 CFR 43.11(a)(4), which are those of
// annual and 100-hour inspections (from memory: the table has the row, not its words). Of the others nothing is proposed.
func foundAirworthy(inspection string) string {
	if inspection != "annual-inspection" && inspection != "hundred-hour-inspection" {
		return ""
	}
	name, _ := strings.CutSuffix(inWords("inspection", inspection), " inspection")
	return "I certify that this aircraft has been inspected in accordance with " + articled(strings.ToLower(name)) +
		" inspection and was determined to be in airworthy condition."
}

func articled(name string) string {
	if strings.HasPrefix(name, "a") {
		return "an " + name
	}
	return "a " + name
}

// timeInService is the newest reading of an aircraft's total time in service, in hours; empty if there is none.
func (p *pages) timeInService(v *visit, a techlog.Aircraft) (string, error) {
	book, err := p.Service.Meters(v, v.who, a.ID)
	if err != nil {
		return "", err
	}
	newest := -1.0
	if record := a.Facts.Upkeep; record != nil && record.Hours != nil {
		newest = *record.Hours
	}
	for _, e := range book {
		if e.Meter == walkaround.TimeInService {
			newest = max(newest, e.Hours)
		}
	}
	if newest < 0 {
		return "", nil
	}
	return fmt.Sprintf("%g", newest), nil
}

// inspectionsView is what may be signed about an aircraft itself, and what was.
type inspectionsView struct {
	hangar.Signable
	Own      []inspectionWay // that the visitor may sign
	Others   []inspectionWay
	Signed   []signatureView
	New      *signatureView // signed just now
	Released string
}

// inspectionWay is one kind of inspection, with who may sign it.
type inspectionWay struct {
	hangar.Way
	Name string
}

func (p *pages) showInspections(v *visit) error {
	id, err := v.named("aircraft")
	if err != nil {
		return err
	}
	view := inspectionsView{}
	if view.Signable, err = p.Service.SignableInspections(v, v.who, id, "", ""); err != nil {
		return err
	}
	for _, w := range view.Acts[0].Ways {
		way := inspectionWay{w, inWords("inspection", w.Word)}
		if len(w.By) > 0 {
			view.Own = append(view.Own, way)
		} else {
			view.Others = append(view.Others, way)
		}
	}
	signatures, err := p.Service.Signatures(v, v.who, id)
	if err != nil {
		return err
	}
	if view.Signed, err = signaturesIn(signatures, view.Zone, v.URL.Query().Get("signed")); err != nil {
		return err
	}
	slices.Reverse(view.Signed)
	for i := range view.Signed {
		if view.Signed[i].New {
			view.New, view.Released = &view.Signed[i], releasedWords(v)
		}
	}
	title := "Inspections, " + view.Aircraft.Registration
	return p.showIn(v, ok, "inspections", frame{Title: title, Here: "fleet", Page: &view, Live: announced, About: id.String()})
}

// signatureView is a signature as people read it.
type signatureView struct {
	techlog.Signature
	Title    string
	Text     textView
	At       time.Time // in the zone of the base
	New      bool      // it was made just now
	Corrects string    // title of the entry that it corrects
	Squawk   techlog.ID
}

// signaturesIn reads signatures, oldest first.
func signaturesIn(all []techlog.Signature, zone *time.Location, newest string) ([]signatureView, error) {
	views := make([]signatureView, len(all))
	titles := map[techlog.ID]string{}
	for i := range all {
		s := &all[i]
		text, err := readText(s.Text, s.Digest, zone)
		if err != nil {
			return nil, err
		}
		title := signedTitle(s)
		titles[s.ID] = title
		views[i] = signatureView{Signature: *s, Title: title, Text: text, At: s.At.In(zone), New: s.ID.String() == newest, Corrects: titles[s.Corrects], Squawk: s.Squawk}
	}
	return views, nil
}

// signedTitle is what was signed, in a few words.
func signedTitle(s *techlog.Signature) string {
	act, err := techlog.ActOf(s.Text)
	if err != nil {
		return s.Action
	}
	switch act.Action {
	case "out-of-use":
		return "Out of use: " + act.Method
	case "defer":
		return "Deferred, and determined to be no hazard"
	case "extend":
		return "Deferral extended"
	case "carry-on":
		return "Deferral carried on"
	case "work":
		if act.Result == "" {
			return "Work, not finished"
		}
		return "Work: " + strings.ToLower(inWords("work", act.Work)) + ", " + strings.ToLower(inWords("result", act.Result))
	case "return-to-service":
		return "Returned to service"
	case "check-flight":
		return "Check flight"
	case "correct":
		return "Correction"
	}
	return inWords("inspection", act.Inspection)
}

// releasedWords says how many flights a signature released, as the address has it.
func releasedWords(v *visit) string {
	n := 0
	if _, err := fmt.Sscanf(v.URL.Query().Get("released"), "%d", &n); err != nil || n <= 0 || n > 10_000 {
		return ""
	}
	return plural(n, "planned flight") + " released."
}
