package casefile

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"tiedown/internal/airworthiness"
)

// Act is what somebody signs, in the written form. Which fields an action has is a table; a field that its action does
// not have is refused, so that nothing is signed that says nothing.
type Act struct {
	Action      string `json:"action"`
	Certificate string `json:"certificate"` // identifier of the certificate by which it is signed

	Basis                string      `json:"basis,omitempty"`
	Method               string      `json:"method,omitempty"`
	Placard              string      `json:"placard,omitempty"`
	Entry                string      `json:"entry,omitempty"`
	RemovedOn            string      `json:"removed_on,omitempty"`
	ELT                  *RemovedELT `json:"elt,omitempty"`
	InvolvesMaintenance  *bool       `json:"involves_maintenance,omitempty"`
	MaintenanceProcedure *bool       `json:"maintenance_procedure,omitempty"`
	Considered           []string    `json:"considered,omitempty"`
	Until                *time.Time  `json:"until,omitempty"`
	Discovered           string      `json:"discovered,omitempty"`
	ExtendedUntil        string      `json:"extended_until,omitempty"`

	Work         string        `json:"work,omitempty"`
	Result       string        `json:"result,omitempty"`
	Found        string        `json:"found,omitempty"`
	Done         string        `json:"done,omitempty"`
	Data         string        `json:"data,omitempty"`
	Form         string        `json:"form,omitempty"`
	Completed    string        `json:"completed,omitempty"`
	PerformedBy  string        `json:"performed_by,omitempty"`
	PartsUsed    []UsedPart    `json:"parts_used,omitempty"`
	PartsAwaited []AwaitedPart `json:"parts_awaited,omitempty"`

	CheckFlightRequired *bool  `json:"check_flight_required,omitempty"`
	GroundTests         string `json:"ground_tests,omitempty"`

	Inspection     string    `json:"inspection,omitempty"`
	Extent         string    `json:"extent,omitempty"`
	TotalTimeHours *float64  `json:"total_time_hours,omitempty"`
	Airworthy      *bool     `json:"airworthy,omitempty"`
	WholeAircraft  *bool     `json:"whole_aircraft,omitempty"` // of a progressive inspection: with it, all of the aircraft is complete
	VORCheck       *VORCheck `json:"vor_check,omitempty"`
	Items          []string  `json:"items,omitempty"` // of the aircraft's upkeep, that were done with it

	Corrects string `json:"corrects,omitempty"`
	Words    string `json:"words,omitempty"`

	Declared *Declared `json:"declared,omitempty"`
}

// Declared are the facts of the work that only the signer knows. They are part of what is signed; an absent one is not
// known, and nothing unknown is permission.
type Declared struct {
	Part              string `json:"part,omitempty"`
	Paragraph         int    `json:"paragraph,omitempty"` // of 43 appendix A(c)
	WithinLimits      *bool  `json:"within_limits,omitempty"`
	Complex           *bool  `json:"complex,omitempty"`
	ApprovedData      *bool  `json:"approved_data,omitempty"`
	ApprovedProduct   *bool  `json:"approved_product,omitempty"`
	AuthorizedByMaker *bool  `json:"authorized_by_maker,omitempty"`
	InstalledByMaker  *bool  `json:"installed_by_maker,omitempty"`
	LimitationsName   *bool  `json:"limitations_name,omitempty"`
	DidWork           *bool  `json:"did_work,omitempty"`
	Understands       *bool  `json:"understands,omitempty"`
	DoneBefore        *bool  `json:"done_before,omitempty"`
	InCommand         *bool  `json:"in_command,omitempty"`
	Rated             *bool  `json:"rated,omitempty"`
	Equipped          *bool  `json:"equipped,omitempty"`
}

// VORCheck is what 14 CFR 91.171(d) asks to be entered of an operational check of the VOR receivers, beside its day and who
// signs: how they were checked (91.171(b), (c)), where, and the error of the bearing in degrees; of two systems that were
// checked against each other, by how much they differ.
type VORCheck struct {
	Kind         string  `json:"kind"`
	Place        string  `json:"place"`
	ErrorDegrees float64 `json:"error_degrees"`
}

// RemovedELT is what 14 CFR 91.207(f)(10)(i) asks to be entered of a removed emergency locator transmitter.
type RemovedELT struct {
	Make         string `json:"make"`
	Model        string `json:"model"`
	SerialNumber string `json:"serial_number"`
	Reason       string `json:"reason"`
}

// UsedPart is a part that was put in.
type UsedPart struct {
	Part   string `json:"part"`
	Number string `json:"number,omitempty"`
}

// AwaitedPart is a part that the work waits for.
type AwaitedPart struct {
	Part     string `json:"part"`
	Expected string `json:"expected,omitempty"` // YYYY-MM-DD
}

// ByRule and ByMEL are the ways to defer an item: by the rule itself where no minimum equipment list is authorized, or by
// the list.
const (
	ByRule = "without-mel"
	ByMEL  = "mel"
)

// fieldsOf is what an act says: must it, or may it.
type fieldsOf struct{ must, may string }

// actFields is the table of acts and their fields.
var actFields = map[string]fieldsOf{
	"out-of-use": {
		"method placard done completed",
		"removed_on elt entry involves_maintenance maintenance_procedure data performed_by declared",
	},
	"defer":    {"basis method placard entry until", "removed_on considered discovered involves_maintenance declared"},
	"extend":   {"until extended_until data", "declared"},
	"carry-on": {"until found", "inspection considered extended_until declared"},
	"work": {
		"work found",
		"result done data completed performed_by parts_used parts_awaited declared",
	},
	"return-to-service": {"completed check_flight_required", "done data form performed_by ground_tests declared"},
	"check-flight":      {"done completed", "declared"},
	"correct":           {"corrects words", "declared"},
	"inspect":           {"inspection extent completed", "total_time_hours airworthy whole_aircraft vor_check items words data declared"},
}

// words that a field may take.
var actWords = map[string][]string{
	"basis":  {ByRule, ByMEL},
	"method": {"removed", "deactivated"},
	"work":   {"preventive-maintenance", "replace", "repair", "major-repair", "within-limits"},
	"result": {"repaired", "within-limits", "could-not-reproduce"},
	"inspection": {
		"annual-inspection", "hundred-hour-inspection", "condition-inspection", "altimeter-and-static-test", "static-system-test",
		"transponder-test", "elt-inspection", "progressive-inspection", "vor-check",
	},
}

// ActWords lists the words that a field of an act may take: basis, method, work, result, inspection.
func ActWords(field string) []string { return slices.Clone(actWords[field]) }

// Check names every fault of an act that it shows by itself. action is the one that is meant.
func (a *Act) Check() error {
	var bad Faults
	fields, known := actFields[a.Action]
	if !known {
		bad.Add("act.action", "known-action", fmt.Sprintf("%q is nothing that is signed", a.Action), "use one of the actions of the contract")
		return bad.Err()
	}
	must, may := strings.Fields(fields.must), strings.Fields(fields.may)
	given := a.given()
	for _, name := range must {
		if !slices.Contains(given, name) {
			bad.Add("act."+name, "required", "the field is missing", "give "+strings.ReplaceAll(name, "_", " "))
		}
	}
	for _, name := range given {
		if name != "action" && name != "certificate" && !slices.Contains(must, name) && !slices.Contains(may, name) {
			bad.Add("act."+name, "of-this-action", a.Action+" says nothing of it", "leave it out")
		}
	}
	a.checkWords(&bad)
	a.checkDates(&bad)
	a.checkParts(&bad)
	return bad.Err()
}

// given names the fields that the act has.
func (a *Act) given() []string {
	raw, err := json.Marshal(a)
	if err != nil {
		return nil // texts, numbers and instants only: it cannot fail, and if it did every required field were missing
	}
	var fields map[string]json.RawMessage
	if json.Unmarshal(raw, &fields) != nil {
		return nil
	}
	names := make([]string, 0, len(fields))
	for name := range fields {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

func (a *Act) checkWords(bad *Faults) {
	for _, f := range []struct{ field, word string }{
		{"basis", a.Basis}, {"method", a.Method}, {"work", a.Work}, {"result", a.Result}, {"inspection", a.Inspection},
	} {
		if f.word != "" && !slices.Contains(actWords[f.field], f.word) {
			bad.Add("act."+f.field, "known-word", fmt.Sprintf("%q is none of its words", f.word), "use one of "+strings.Join(actWords[f.field], ", "))
		}
	}
	for _, f := range []struct{ field, text string }{
		{"placard", a.Placard},
		{"entry", a.Entry},
		{"found", a.Found},
		{"done", a.Done},
		{"data", a.Data},
		{"extent", a.Extent},
		{"words", a.Words},
		{"form", a.Form},
		{"performed_by", a.PerformedBy},
		{"ground_tests", a.GroundTests},
	} {
		if f.text != "" && strings.TrimSpace(f.text) == "" {
			bad.Add("act."+f.field, "required", "nothing is written", "say it in words, or leave it out")
		}
	}
	a.checkDeclared(bad)
}

func (a *Act) checkDeclared(bad *Faults) {
	d := a.Declared
	if d == nil {
		return
	}
	if d.Part != "" {
		checkWord("act.declared.part", "part", d.Part, bad)
	}
	if d.Paragraph < 0 || d.Paragraph > 31 {
		bad.Add("act.declared.paragraph", "range", "the list of preventive maintenance has 31 paragraphs", "give the paragraph of the work, 1 to 31")
	}
}

func (a *Act) checkDates(bad *Faults) {
	for _, f := range []struct{ field, date string }{
		{"removed_on", a.RemovedOn}, {"discovered", a.Discovered}, {"extended_until", a.ExtendedUntil}, {"completed", a.Completed},
	} {
		compileDate("act."+f.field, f.date, bad)
	}
	if a.TotalTimeHours != nil && *a.TotalTimeHours < 0 {
		bad.Add("act.total_time_hours", "range", "hours are counted from 0", "give the hours as 0 or more")
	}
	if a.Airworthy != nil && !*a.Airworthy && (len(a.Items) > 0 || a.WholeAircraft != nil) {
		bad.Add("act.airworthy", "of-an-approval", "what was not approved for return to service completes nothing", "leave out items and whole_aircraft")
	}
	if (a.WholeAircraft == nil) == (a.Inspection == "progressive-inspection") && !(a.Airworthy != nil && !*a.Airworthy) {
		bad.Add("act.whole_aircraft", "progressive", "only of a progressive inspection is it said whether the whole aircraft is complete with it, and of each",
			"say true or false of a progressive inspection, and leave it out otherwise")
	}
	a.checkVOR(bad)
	if a.Method == "deactivated" && a.RemovedOn != "" {
		bad.Add("act.removed_on", "removed-only", "there is a date of removal, but the item was not removed", "leave the date out")
	}
	if a.Method == "removed" && a.RemovedOn == "" {
		bad.Add("act.removed_on", "required", "the day of the removal is missing", "give the day on which the item was first removed")
	}
	if a.Basis == ByMEL && a.Discovered == "" {
		bad.Add("act.discovered", "required", "the day of discovery is missing", "give the day from which the interval of the MEL runs")
	}
}

func (a *Act) checkVOR(bad *Faults) {
	v := a.VORCheck
	if (v == nil) == (a.Inspection == "vor-check") {
		bad.Add("act.vor_check", "vor-check", "a check of the VOR receivers says how, where and with which error it was made, and nothing else does",
			"give kind, place and error_degrees of a check of the VOR receivers, and leave it out otherwise")
		return
	}
	if v == nil {
		return
	}
	if strings.TrimSpace(v.Place) == "" {
		bad.Add("act.vor_check.place", "required", "it is not said where it was made", "name the place")
	}
	if !(v.ErrorDegrees >= 0 && v.ErrorDegrees <= 180) {
		bad.Add("act.vor_check.error_degrees", "range", "an error is between 0 and 180 degrees, to either side", "give the degrees without a sign")
	}
}

func (a *Act) checkParts(bad *Faults) {
	for i, p := range a.PartsUsed {
		if strings.TrimSpace(p.Part) == "" {
			bad.Add(fmt.Sprintf("act.parts_used[%d].part", i), "required", "the part has no name", "name the part")
		}
	}
	for i, p := range a.PartsAwaited {
		if strings.TrimSpace(p.Part) == "" {
			bad.Add(fmt.Sprintf("act.parts_awaited[%d].part", i), "required", "the part has no name", "name the part")
		}
		compileDate(fmt.Sprintf("act.parts_awaited[%d].expected", i), p.Expected, bad)
	}
	if a.Result != "" && len(a.PartsAwaited) > 0 {
		bad.Add("act.parts_awaited", "not-finished", "work that waits for parts has no result yet", "leave out the result or the parts")
	}
	if a.Result != "" && a.Completed == "" {
		bad.Add("act.completed", "required", "the day of completion is missing", "give the day on which the work was completed")
	}
	if e := a.ELT; e != nil {
		for _, f := range []struct{ field, text string }{{"make", e.Make}, {"model", e.Model}, {"serial_number", e.SerialNumber}, {"reason", e.Reason}} {
			if strings.TrimSpace(f.text) == "" {
				bad.Add("act.elt."+f.field, "required", "the entry of the removal lacks it", "give "+strings.ReplaceAll(f.field, "_", " "))
			}
		}
	}
}

// Person puts what was declared beside what is on record of whoever signs.
func (d *Declared) Person(p *airworthiness.Person) {
	if d == nil {
		return
	}
	p.DidWork, p.Understands, p.DoneBefore = truth(d.DidWork), truth(d.Understands), truth(d.DoneBefore)
	p.InCommand, p.Rated, p.Equipped = truth(d.InCommand), truth(d.Rated), truth(d.Equipped)
}

// WorkOn is the work of an act on an item, as the table of people reads it.
func (a *Act) WorkOn(item string, policy Policy) airworthiness.Work {
	w := airworthiness.Work{Item: item, Policy: policy.Deactivation, InvolvesMaintenance: truth(a.InvolvesMaintenance)}
	if d := a.Declared; d != nil {
		w.Part, w.Number = d.Part, d.Paragraph
		w.WithinLimits, w.Complex, w.ApprovedData = truth(d.WithinLimits), truth(d.Complex), truth(d.ApprovedData)
		w.ApprovedProduct, w.AuthorizedByMaker = truth(d.ApprovedProduct), truth(d.AuthorizedByMaker)
		w.InstalledByMaker, w.LimitationsName = truth(d.InstalledByMaker), truth(d.LimitationsName)
	}
	return w
}
